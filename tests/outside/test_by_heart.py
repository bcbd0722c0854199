"""What may be done by heart, held to the hazards by a reading of the files that shares no code.

Degani and Wiener (NASA CR-177549, 1990) and FAA AC 120-71B (from memory) leave to "do, then verify"
what is set up from memory and checked as a whole, and keep for challenge and response what kills.
Which is which is said by `hazards.yaml` here: `grave`.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from itertools import permutations

import pytest

from handsfree.checklist.model import Checklist
from handsfree.engine import by_heart
from handsfree.engine.state import Mode, Refused, State, Status
from tests.outside.adversary import (
    LIBRARY,
    RIGS,
    Session,
    Tally,
    load_has,
    shipped,
    usual,
    world,
)
from tests.outside.world import Disagreement, World, names_in, tree, yes

LISTS = ("arrive", "depart")
WHOLE = 7


@cache
def grave() -> tuple[frozenset[str], frozenset[str]]:
    """Facts that a grave hazard speaks of, and the never rules that forbid it."""
    facts: set[str] = set()
    rules: set[str] = set()
    for hazard in tree(LIBRARY / "shared/hazards.yaml")["hazards"].values():
        for way in hazard["unsafe"] if yes(hazard.get("grave")) else []:
            rules.add(str(way["rule"]))
            facts |= names_in(" ".join(str(way["when"]).split())) | set(way.get("stale") or {})
    return frozenset(facts), frozenset(rules)


@cache
def moving() -> frozenset[str]:
    """What moves by its own power, or takes two."""
    acts = tree(LIBRARY / "shared/rules.yaml")["motions"]
    return frozenset(name for name, act in acts.items()
                     if yes(act.get("powered")) or yes(act.get("together")))


def unfit(name: str, judge: World) -> list[str]:
    """Why a step must not be reported together with others; nothing if it may."""
    deed = judge.deeds[name]
    changes = deed.gives | deed.ends
    for failing in (deed.fails, deed.stops):
        if failing:
            changes |= failing.shows | failing.denies | failing.gives | failing.ends
    return [*sorted(changes & grave()[0]), *sorted(deed.gives & judge.looks.keys()),
            *sorted(deed.acts & moving()), *(["a question"] if deed.question else [])]


def check_steps(checklist: Checklist, judge: World) -> int:
    found = [step for step in checklist.steps.values() if step.by_heart]
    for step in found:
        if why := unfit(step.id, judge):
            raise Disagreement(f"'{step.id}' is done by heart, against {why}")
        if step.reading:
            raise Disagreement(f"'{step.id}' is a number, and not asked for")
        if step.do.endswith("?"):
            raise Disagreement(f"'{step.id}' can come out as no, and nobody asks it")
    return len(found)


@pytest.mark.parametrize("rig", RIGS)
def test_nothing_that_kills_and_no_look_is_done_by_heart(rig: str) -> None:
    assert sum(check_steps(shipped(name, rig), world(name, rig)) for name in LISTS) > 40


@pytest.mark.parametrize("step", ["plug-in", "chock", "lay-cord", "gas-on", "valves-shut", "skin-test",
                                  "slide-run-out", "alarm-test", "far side"])
def test_a_step_that_must_not_be_would_be_found(step: str) -> None:
    checklist = shipped("arrive", "tandem-slide")
    steps = {**checklist.steps, step: replace(checklist.steps[step], by_heart=True)}
    with pytest.raises(Disagreement):
        check_steps(replace(checklist, steps=steps), world("arrive", "tandem-slide"))


def hurts(judge: World, facts: set[str], acts: set[str]) -> list[str]:
    """Never rules of a grave hazard that are broken with these facts, while this is done."""
    return [rule.name for rule in judge.rules if rule.name in grave()[1]
            and (not rule.acts or rule.acts & acts) and rule.holds(facts)]


def done_in_any_order(judge: World, steps: tuple[str, ...], chance: random.Random) -> int:
    """The hands of somebody who works by heart follow no order of ours: what is broken then?"""
    orders = list(permutations(steps)) if len(steps) < 4 else [
        tuple(chance.sample(steps, len(steps))) for _ in range(6)]
    before = set(hurts(judge, judge.facts, set()))
    for order in orders:
        facts = set(judge.facts)
        for name in order:
            deed = judge.deeds[name]
            for now in (facts, (facts - deed.ends) | deed.gives):
                if broken := set(hurts(judge, now, deed.acts)) - before:
                    raise Disagreement(f"{order}: at '{name}' {sorted(broken)}")
            facts = (facts - deed.ends) | deed.gives
    return len(orders)


def report(session: Session, steps: tuple[str, ...]) -> None:
    """The group's report: each step's own, through `advance`, judged after each."""
    for name in steps:
        assert session.one.at == name, "each is offered before it is reported"
        done = session.tally.counts["done"]
        session.send("outside", by_heart.report_of(session.checklist.steps[name]))
        assert session.tally.counts["done"] == done + 1, "nothing of a group is left out"


def one_walk(rig: str, name: str, chance: random.Random, tally: Tally) -> int:
    """A walk that reports all it can together; how many groups there were."""
    checklist = shipped(name, rig)
    session = Session(checklist, world(name, rig), load_has(rig) | checklist.start_facts, False, tally)
    groups = 0
    for _ in range(90):
        state: State = session.one
        if state.mode in (Mode.CLOSED, Mode.SUSPENDED):
            break
        steps, after, _ = by_heart.ahead(checklist, state, checklist.steps, WHOLE)
        if steps and chance.random() < 0.8:
            done_in_any_order(session.world, steps, chance)
            report(session, steps)
            assert session.one == after, "what was worked out ahead is what comes of the reports"
            groups += 1
        else:
            session.send("outside", usual(checklist, state, chance))
        if chance.random() < 0.05:
            session.time_passes(chance.choice((5.0, 30.0, 90.0)))
    return groups


@pytest.mark.parametrize("rig", ["tandem-slide", "fifth-wheel"])
def test_in_every_order_of_the_work_and_of_the_reports_no_grave_rule_is_broken(rig: str) -> None:
    chance, tally = random.Random(rig), Tally()
    groups = sum(one_walk(rig, name, chance, tally) for name in LISTS for _ in range(8))
    assert groups > 20 and tally.counts["done"] > 150


def test_a_group_that_could_kill_would_be_found() -> None:
    """Breaker on and plug in, by heart: whoever changes the two round handles a live plug."""
    judge = world("arrive", "tandem-slide")
    judge.begin(load_has("tandem-slide") | {
        "parked", "chocked", "cord out", "breaker off", "outlet good", "inspected"})
    judge.facts |= {"site power", "site power answered", "outlet good", "inspected"}
    with pytest.raises(Disagreement, match="plug-in"):
        done_in_any_order(judge, ("plug-in", "power-on"), random.Random(1))


def test_a_group_stops_at_the_first_refusal() -> None:
    """Its steps are no order of their own: an interlock that no longer holds refuses one of them."""
    checklist = shipped("arrive", "tandem-slide")
    state = State(load_has("tandem-slide") | {
        "site water", "site water answered", "far side answered"},
        tuple(Status.OPEN for _ in checklist.steps), at="hose-on")
    after, effects = by_heart.reported(
        checklist, state, by_heart.report_of(checklist.steps["hose-on"]))
    assert after is state and [type(effect) for effect in effects] == [Refused]
    assert by_heart.ahead(checklist, state, checklist.steps, WHOLE) == ((), state, None)
