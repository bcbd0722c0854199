"""No permitted step of a shipped checklist breaks a never rule, whatever is on the record.

Checked with decision diagrams: from every record that breaks no rule, reachable or not, every
change by which an operator goes forward leads to a record that breaks none.
"""

from collections.abc import Iterable
from functools import cache

import pytest
from dd.autoref import BDD

from handsfree.checklist.conditions import All, Condition, Literal, literals, parse
from handsfree.checklist.model import Checklist, Step
from handsfree.engine import changes
from handsfree.engine.advance import advance
from handsfree.engine.changes import Change
from handsfree.engine.choosing import broken_rule
from handsfree.engine.state import (
    Alarm,
    Confirm,
    Correct,
    Effect,
    GoTo,
    Mode,
    Refused,
    Respond,
    State,
    Status,
    TakeBack,
)
from handsfree.proof import safety
from handsfree.proof.completion import parts_of
from handsfree.proof.findings import Budget
from handsfree.proof.state_space import Node, Space, open_space
from handsfree.proof.stay import Stay
from tests.checklists.walking import CHECKLISTS, NEAR, Walk, checklist, new_record

STATES = {
    "towing-half-hitched": ("coupler raised and not parked", "coupling unproved and not parked",
        "not cable on and not parked", "not chains on and not parked",
        "not hitched and not parked", "not jack up and not parked",
        "not latch locked and not parked", "not light cord on and not parked",
        "camper off and not parked", "not parked and not tied down",
        "air over hydraulic and not air on and not parked",),
    "roll-away": ("not chocked and coupler raised", "not chocked and coupling unproved",
        "not chocked and not hitched", "not chocked and not latch locked",),
    "nose-drop": ("coupler raised and jack up and not motorhome and not truck camper",
        "jack up and not latch locked and not motorhome and not truck camper",
        "not hitched and jack up and not motorhome and not truck camper",),
    "rolling-held": ("chocked and not parked", "not parked and stabilisers out",
        "not parked and wheel braces out",),
    "rolling-connected": ("cord out and not parked", "not parked and plugged in",
        "not parked and sewer hose out", "not parked and water hose out", "generator out and not parked",),
    "rolling-spread": ("antenna up and not parked", "awning out and not parked",
        "entry step out and not parked", "guy lines out and not parked", "mast up and not parked",
        "not parked and slide extended", "not parked and roof raised",
        "not parked and not roof latched", "not parked and roof props out",
        "bunks out and not parked", "bunk braces out and not parked",),
    "rolling-gas": ("gas open and not parked",),
    "loose-while-out": tuple(f"{out} and not chocked and not truck camper" for out in (
        "awning out", "cord out", "guy lines out", "mast up", "plugged in", "slide extended",
        "stabilisers out", "water hose out", "wheel braces out", "roof raised", "bunks out")),
    "tied-to-the-truck": ("bars on and not hitched and weight bars",
        "brake cable and cable on and not hitched", "chains on and not hitched and safety chains",
        "not hitched and light cord on and not truck camper",
        "not hitched and sway bar and sway bar on",
        "air on and air over hydraulic and not hitched",
        "camper off and light cord on and truck camper", "camper off and tied down and truck camper",),
    "live-plug": ("not breaker off and cord out and not plugged in and not tester in",),
    "untested-outlet": ("not outlet good and plugged in",),
    "unmeasured-water": ("not pressure proved and water hose out",
        "not regulator out and water hose out",),
    "open-drain": ("black open and not hose sealed", "grey open and not hose sealed",),
    "cross-drain": ("black open and grey open",),
    "dry-heater": ("not heater full and heater on",),
    "dry-tank-heat": ("not tank filled and tank heat on",),
    "pump-into-drains": ("drains open and pump on",),
    "rolling-on-the-pin": ("not parked and pin pulled",),
    "camper-drop": ("camper off and jack up and truck camper",),
    "towing-the-car": ("car on and not car freed and not parked",
        "car on and not car joined and not parked",),
    "car-rolls": ("car freed and not car joined",),
}
"""Each combination that alarms, written down a second time: rule -> its clauses."""

DEEDS = {
    "moving-people": ("bed, camper, rig", "not area clear", "not trailer empty",),
    "moving-held": ("rig", "chocked", "stabilisers out", "wheel braces out",),
    "moving-connected": ("levelling, reading the level, rig, unchocking", "cord out", "plugged in",
        "sewer hose out", "water hose out", "generator out",),
    "generator-unguarded": ("starting the generator", "not alarms proved", "not exhaust clear", "not parked",),
    "generator-hot": ("filling the generator, stowing the generator", "generator hot", "generator running",),
    "moving-spread": ("levelling, reading the level, rig, unchocking", "antenna up", "awning out",
        "entry step out", "guy lines out", "mast up", "slide extended", "stabilisers out",
        "wheel braces out", "roof raised", "not roof latched", "roof props out", "bunks out",
        "bunk braces out",),
    "moving-gas": ("levelling, rig, unchocking", "gas open",),
    "moving-half-hitched": ("levelling, rig, unchocking", "coupler raised", "coupling unproved",
        "not cable on", "not chains on", "not hitched", "not jack up", "not latch locked",
        "not light cord on", "air over hydraulic and not air on", "camper off", "not tied down",),
    "backing-with-bar": ("backing", "sway bar and sway bar on",),
    "leaving-unready": ("leaving", "not bars on", "not lights checked", "not sway bar on",
        "not tyres checked", "not walked round", "not hitch looked over and not motorhome",
        "lockout in and surge brake", "air over hydraulic and not air built",
        "car on and not car braked and towed car",
        "car on and not car tried and towed car",),
    "levelling-rolling": ("levelling", "not parked",),
    "levelling-refused": ("levelling, unhitching, unloading", "spot refused",),
    "unhitching-loose": ("unhitching", "not chocked", "not chocks proved",),
    "unhitching-leaning": ("unhitching", "not lean accepted and not side settled",
        "ramps out and not ramps proved",),
    "truck-loose": ("coupling, truck", "not chocked",),
    "pulling-coupled": ("truck leaving", "latch locked", "not coupler raised and not fifth wheel",),
    "nose-short": ("nose setting", "jack short",),
    "nose-loose": ("nose", "not chocked", "slide extended", "stabilisers out",),
    "slide-blind": ("slide", "not inside clear", "not outside clear",),
    "slide-loose": ("slide", "not chocked and not truck camper", "not parked",),
    "slide-uneven": ("slide leaving", "not fore settled and not nose left",
        "not lean accepted and not side settled",),
    "stabilisers-early": ("stabilisers", "not chocked", "not fore settled and not nose left",),
    "mast-blind": ("mast", "not sky clear",),
    "mast-loose": ("mast", "not chocked and not truck camper", "not parked",),
    "reaching-out": ("antenna, awning, step", "not parked",),
    "awning-loose": ("awning", "not chocked and not truck camper",),
    "riding-along": ("inside", "not chocked and not hitched", "not parked",),
    "handling-live": ("handling the plug", "not breaker off",),
    "plugging-damaged": ("plugging in", "not inspected", "outlet refused",),
    "joint-under-pressure": ("water joint", "not pressure relieved and water hose out", "tap open",),
    "joint-with-sewage": ("sewer joint", "black open", "grey open", "not valves checked",),
    "draining-unsealed": ("opening a dump valve", "not hose sealed",),
    "gas-unguarded": ("opening gas", "not alarms proved", "not parked",),
    "refuelling-with-gas": ("refuelling", "gas open",),
    "leaving-unfit": ("leaving", "pin pulled", "unfit",),
    "mast-unguyed": ("unguying", "mast up",),
    "moving-the-car": ("rig", "car on and not car freed", "car on and not car joined",),
    "backing-with-car": ("backing", "car on and towed car",),
    "car-unheld": ("unhooking", "car freed", "not parked",),
    "camper-tied": ("camper", "tied down",),
    "camper-loose": ("camper", "not parked",),
    "bed-blocked": ("bed", "jack up and truck camper", "light cord on and truck camper",
        "tied down and truck camper",),
    "roof-blind": ("roof", "not roof clear",),
    "roof-held": ("roof", "not roof raised and roof latched", "roof props out", "bunks out",
        "bunk braces out",),
    "roof-loose": ("roof", "not chocked and not truck camper", "not parked",),
    "under-roof": ("inside", "not roof props out and roof raised",),
    "bunk-unbraced": ("inside", "bunks out and not bunk braces out",),
    "burning-folded": ("burning gas", "not roof raised and pop-up roof",),
    "burning-unsniffed": ("burning gas", "gas open and gas refused", "gas open and not gas smelt",),
}
"""Each circumstance in which something is not done: rule -> acts, then its clauses."""


class Records:
    """All records of a checklist that break no never rule."""

    def __init__(self, c: Checklist) -> None:
        self.c, self.bdd = c, BDD()
        self.bdd.declare(*(self._name(fact) for fact in c.facts))
        self.broken = {rule.id: self._where(rule.when) for rule in c.rules}
        self.sound = self.bdd.true
        for where in self.broken.values():
            self.sound &= ~where

    @staticmethod
    def _name(fact: str) -> str:
        return "f_" + "".join(ch if ch.isalnum() else "_" for ch in fact)

    def _where(self, condition: Condition):  # type: ignore[no-untyped-def]
        if isinstance(condition, Literal):
            var = self.bdd.var(self._name(condition.fact))
            return var if condition.wanted else ~var
        parts = [self._where(part) for part in condition.parts]  # type: ignore[attr-defined]
        total = self.bdd.true if isinstance(condition, All) else self.bdd.false
        for part in parts:
            total = total & part if isinstance(condition, All) else total | part
        return total

    def breaks(self, change: Change) -> set[str]:
        """Ids of the rules that the change can break; one that speaks of nothing that it changes
        stays as it was, unbroken."""
        before = self.sound & self._where(change.guard)
        changed = change.gives | change.ends
        after = {self._name(fact): fact in change.gives for fact in changed}
        return {rule.id for rule in self.c.rules if rule.when.names() & changed
                and before & self.bdd.let(after, self.broken[rule.id]) != self.bdd.false}


@pytest.mark.parametrize("name", CHECKLISTS)
def test_no_permitted_step_breaks_a_rule(name: str) -> None:
    c = checklist(name)
    assert {rule.id for rule in c.rules} == STATES.keys()
    assert {rule.id for rule in c.conduct} == DEEDS.keys()
    records = Records(c)
    assert records.sound != records.bdd.false
    assert {ch.subject: found for ch in changes.orders(c) if (found := records.breaks(ch))} == {}


def _literals(clauses: Iterable[str]) -> dict[str, bool]:
    return {one.fact: one.wanted for clause in clauses for one in literals(parse(clause))}


def _facts(values: dict[str, bool]) -> frozenset[str]:
    return frozenset(name for name, true in values.items() if true)


@pytest.mark.parametrize(("rule", "clause"), [
    (rule, clause) for rule, clauses in STATES.items() for clause in clauses])
def test_each_clause_alarms_and_each_of_its_literals_counts(rule: str, clause: str) -> None:
    """With every other clause of the rule not so; its last literal is said as a correction."""
    c = checklist("arrive")
    whole = next(one for one in c.rules if one.id == rule)
    harmless = {fact: not wanted for fact, wanted in _literals(STATES[rule]).items()}
    assert not whole.when.holds(_facts(harmless))
    broken = harmless | _literals([clause])
    assert whole.when.holds(_facts(broken))
    for fact in _literals([clause]):
        assert not whole.when.holds(_facts(broken | {fact: not broken[fact]})), fact
        if fact not in changes.correctable(c) or fact in c.evidence and broken[fact]:
            continue
        before = State(_facts(broken | {fact: not broken[fact]}),
                       tuple(Status.OPEN for _ in c.steps), at=c.order[0])
        if broken_rule(c, before.facts):
            continue  # in this record another rule is broken already
        _, effects = advance(c, before, Correct(fact, broken[fact]))
        assert any(isinstance(effect, Alarm) for effect in effects)


@cache
def _space() -> Space:
    return open_space(Stay.of([checklist(name) for name in CHECKLISTS]), Budget())


def _steps() -> dict[tuple[str, str], tuple[Checklist, Step]]:
    """Every step of the library once."""
    found: dict[tuple[str, str], tuple[Checklist, Step]] = {}
    for name in CHECKLISTS:
        for step in checklist(name).steps.values():
            found.setdefault((step.file, step.id), (checklist(name), step))
    return found


@pytest.mark.parametrize("rule", DEEDS)
def test_no_step_does_what_the_circumstances_forbid(rule: str) -> None:
    """By the table above, whatever is on the record; and each such step can be done at all."""
    space = _space()
    acts, *clauses = DEEDS[rule]
    for act in acts.split(", "):
        doing = [step for _, step in _steps().values() if act in step.acts]
        assert doing, act
        for step in doing:
            possible = space.where(step.applicable) & space.where(step.needs)
            assert possible != space.none, step.id
            for clause in clauses:
                assert possible & space.where(parse(clause)) == space.none, (step.id, clause)


def test_each_part_of_each_interlock_refuses_with_everything_else_satisfied() -> None:
    """The step is refused for that part alone, and accepted once it is so as well."""
    space, tried = _space(), 0
    sound = safety.sound_records(space)
    for c, step in _steps().values():
        if step.question:
            continue
        parts = [part for part in parts_of(step.needs) if part.names()]
        for part in parts:
            rest = space.where(step.applicable)
            for other in parts:
                if other != part:
                    rest = rest & space.where(other)
            amiss = rest & ~space.where(part)
            if amiss == space.none:
                continue  # the other parts ask for as much
            amiss = amiss & sound if amiss & sound != space.none else amiss
            well = rest & space.where(part) & sound
            assert well != space.none, (step.id, str(part))
            refused, effects = _going_to(c, step, _chosen(space, amiss))
            assert refused.at != step.id, (step.id, str(part))
            why = next(effect for effect in effects if isinstance(effect, Refused))
            assert {literal.fact for literal in why.missing} <= part.names(), (step.id, str(part))
            assert _going_to(c, step, _chosen(space, well))[0].at == step.id, (step.id, str(part))
            tried += 1
    assert tried > 500


def _chosen(space: Space, states: Node) -> frozenset[str]:
    return _facts(space.simplest(states, space.like_start()))


def _going_to(c: Checklist, step: Step, facts: frozenset[str]) -> tuple[State, tuple[Effect, ...]]:
    elsewhere = next(one for one in c.order if one != step.id)
    return advance(c, State(facts, tuple(Status.OPEN for _ in c.steps), at=elsewhere),
                   GoTo(step.id))


@pytest.mark.parametrize("name", CHECKLISTS)
def test_immediate_actions_lead_out_of_every_alarm(name: str) -> None:
    """Each rule alone and each pair: taking the actions in turn ends where no rule is broken."""
    c = checklist(name)
    literals = {rule.id: _one_way(rule.when) for rule in c.rules}
    for one in c.rules:
        for other in c.rules:
            facts = set(c.start_facts)
            for wanted in (*literals[one.id], *literals[other.id]):
                facts = facts | {wanted.fact} if wanted.wanted else facts - {wanted.fact}
            for _ in range(len(c.rules) + 1):
                broken = [rule for rule in c.rules if rule.when.holds(facts)]
                if not broken:
                    break
                facts = set(changes.resolve(broken[0]).apply(frozenset(facts)))
            assert not broken, (one.id, other.id)


def _one_way(condition: Condition) -> tuple[Literal, ...]:
    """Literals that make the condition true."""
    if isinstance(condition, Literal):
        return (condition,)
    parts = condition.parts  # type: ignore[attr-defined]
    chosen = parts if isinstance(condition, All) else parts[:1]
    return tuple(literal for part in chosen for literal in _one_way(part))


def test_pulling_away_before_chocking_is_refused_with_its_reason() -> None:
    walk = Walk.start(checklist("arrive", "survey-trailer"), new_record("survey-trailer"))
    walk.to("chock", NEAR).send(GoTo("pull-away"))
    refused = walk.of(Refused)[0]
    assert isinstance(refused, Refused)
    assert refused.rule == "unhitching-loose"
    assert refused.missing[0] == Literal("chocked")
    assert refused.mends[0] == "chock"
    assert not refused.backstop
    assert walk.state.at == "chock"


def test_chocks_that_were_not_set_after_all_raise_the_alarm_and_hold_everything() -> None:
    walk = Walk.start(checklist("arrive", "tandem-slide"), new_record("tandem-slide"))
    walk.to("fore-level", NEAR).send(TakeBack("chock"))
    assert list(walk.of(Alarm)) == [Alarm("roll-away")]
    assert walk.state.mode is Mode.ALARM
    walk.send(GoTo("fore-level"))
    assert walk.state.mode is Mode.ALARM
    walk.send(Respond())
    walk.send(Confirm())
    assert walk.state.mode is Mode.STEP
    assert "chocked" in walk.state.facts
