"""Whole stays of every rig, record carried over: each checklist closes, with its own steps only."""

import random

import pytest

from handsfree.checklist.model import Origin, Travel
from handsfree.engine.choosing import permitted
from handsfree.engine.state import Answer, Event, GoTo, Mode, Problem, Read, Skip
from tests.checklists.walking import (
    CHECKLISTS,
    NEAR,
    POWER_AND_WATER,
    RIGS,
    SITES,
    Walk,
    checklist,
    finish,
    new_record,
    right_answer,
)

STAY = ("choose-spot", "arrive", "generator", "evening", "freezing-night", "storm", "arrive", "dump-station",
        "pack-inside", "depart", "first-miles", "road-stop", "arrive")
YEAR = ("before-leaving-home", *STAY, "depart", "store-for-winter", "bring-back",
        "before-leaving-home", "hitch-up", "road-stop", "arrive")


def not_ready(name: str, rig_name: str, facts: frozenset[str]) -> set[str]:
    return {
        fact.name for fact in checklist(name, rig_name).facts.values()
        if fact.travel is not Travel.EITHER
        and (fact.name in facts) is not (fact.travel is Travel.MUST)}


def test_the_year_has_every_checklist() -> None:
    assert set(YEAR) == set(CHECKLISTS)


@pytest.mark.parametrize("site", SITES)
@pytest.mark.parametrize("rig_name", RIGS)
def test_every_checklist_closes_with_nothing_open_over_a_year(rig_name: str, site: str) -> None:
    record = new_record(rig_name)
    for name in YEAR:
        record = finish(name, rig_name, record, SITES[site]).state.facts
        if name in ("depart", "hitch-up", "road-stop", "first-miles"):
            assert not_ready(name, rig_name, record) == set()


POP_UPS = ("roof-up", "roof-down", "bunks")
NO_TRAILERS = (*POP_UPS, "camper-cord", "ties-", "car-", "jacks-run")
TRAILERS_OWN = ("camper-cord", "ties-", "legs-", "truck-out", "car-", "jacks-run")
HITCH = ("chains", "latch-", "ball", "bars-", "sway", "coupler-", "lift-test", "lift-clear", "pull-away",
         "hook-up", "jack-down", "jack-raise", "tongue", "jaws", "pin-in", "controller", "truck-tyres")
NOT_OURS = {
    # id parts of steps that a rig has nothing for
    "small-single": (*NO_TRAILERS, "slide", "cable", "bars-", "brace", "mast", "guys", "antenna", "awning",
                     "sewer", "black", "grey", "heater", "tank-heat", "fridge-st", "jaws", "pin-in",
                     "filter", "pin-weight", "station-hose", "trip", "blue", "mains", "guard", "-loaded"),
    "tandem-slide": (*NO_TRAILERS, "jaws", "pin-in", "pin-height", "tug", "sway", "mast", "guys", "crank", "sky",
                     "pull-out-under", "pin-weight", "trip", "blue", "mains", "guard", "-loaded"),
    "fifth-wheel": (*NO_TRAILERS, "chains", "latch", "ball", "bars-", "sway", "coupler-", "lift-test",
                    "lift-clear", "pull-away", "mast", "guys", "antenna", "crank", "tongue", "trip", "blue", "mains",
                    "-loaded"),
    "metric-caravan": (*NO_TRAILERS, "chains", "slide", "bars-", "sway", "brace", "mast", "guys", "antenna", "sewer",
                       "black", "grey", "jaws", "pin-in", "filter", "tank-heat", "leg-",
                       "supply-amps", "controller", "pin-pull",
                       "outlet-volts", "guard"),
    "pop-up": (*TRAILERS_OWN, "slide", "cable-test", "pin-pull", "controller", "generator-exhaust", "bars-", "brace-",
               "braces-in", "mast", "guys", "antenna", "awning", "sewer", "black", "grey", "heater", "jaws", "pin-in",
               "filter", "pin-weight", "thunder-in"),
    "truck-camper": (*HITCH, *POP_UPS, "slide", "chock", "stabilisers", "car-", "jacks-run",
                     "thunder-truck"),
    "motorhome": (*HITCH, *POP_UPS, "stabilisers", "camper-cord", "ties-", "legs-", "truck-out",
                  "thunder-truck"),
    "survey-trailer": (*NO_TRAILERS, "bars-", "sway", "jaws", "pin-in", "pin-height", "tug", "antenna", "awning",
                       "sewer", "black", "grey", "heater", "gas", "fridge-st", "pull-out-under", "trip", "blue",
                       "mains"),
}


@pytest.mark.parametrize("rig_name", RIGS)
def test_nobody_hears_a_step_of_another_rig(rig_name: str) -> None:
    record, heard = new_record(rig_name), set[str]()
    for name in YEAR:
        walk = finish(name, rig_name, record, SITES["full, far side"])
        record = walk.state.facts
        heard |= set(walk.met)
    assert {step for step in heard for part in NOT_OURS[rig_name] if part in step} == set()
    others = set().union(*(NOT_OURS[other] for other in RIGS if other != rig_name))
    assert any(part in step for step in heard for part in others)  # the check above can fail


@pytest.mark.parametrize("rig_name", RIGS)
def test_arriving_again_asks_only_for_what_is_missing(rig_name: str) -> None:
    record = finish("arrive", rig_name, new_record(rig_name), NEAR).state.facts
    again = finish("arrive", rig_name, record, NEAR)
    puts_out = [step for step in again.met
                for fact in checklist("arrive", rig_name).steps[step].gives
                if checklist("arrive", rig_name).facts[fact].origin is Origin.GEAR]
    assert puts_out == []
    assert not {"pull-away", "pull-out-under", "back-in"} & set(again.met)


@pytest.mark.parametrize("rig_name", RIGS)
def test_departure_asks_for_what_was_used_and_for_nothing_else(rig_name: str) -> None:
    near, far = (
        finish("depart", rig_name,
               finish("arrive", rig_name, new_record(rig_name), site).state.facts, site).met
        for site in (NEAR, SITES["full, far side"]))
    extensions = {"power-extension-in", "hose-extension-in"}
    assert not extensions & set(near)
    assert extensions <= set(far)
    bare = finish("depart", rig_name, finish(
        "arrive", rig_name, new_record(rig_name), SITES["nothing"]).state.facts, {}).met
    assert not {"unplug", "cord-in", "hose-off", "regulator-off", "sewer-hose-in"} & set(bare)


def test_the_crank_and_an_extension_hose_must_come_back_days_later() -> None:
    """Left out on purpose at arrival, skipped at departure: it does not close."""
    far = SITES["full, far side"]
    here = Walk.start(checklist("arrive", "survey-trailer"), new_record("survey-trailer"))
    here.on(far, until=lambda s: s.at == "crank-in")
    here.send(Skip())
    here.on(far, until=lambda s: s.at == "crank-in")  # offered once more
    here.send(Skip())
    here.on(far)
    assert here.state.mode is Mode.CLOSING
    here.send(Answer(True))
    assert {"crank out", "hose extension out"} <= here.state.facts

    later = Walk.start(checklist("depart", "survey-trailer"), here.state.facts)
    for _ in range(300):
        if later.state.at in ("crank-stow", "hose-extension-in"):
            later.send(Skip())
        elif later.state.mode in (Mode.STEP, Mode.CONFIRM):
            later.send(right_answer(later.checklist, later.state, far))
        else:
            break
    assert later.state.mode is Mode.BLOCKED
    for step in ("hose-extension-in", "crank-stow"):
        later.send(GoTo(step))
        later.on(far)
    assert later.state.mode is Mode.CLOSED
    assert not_ready("depart", "survey-trailer", later.state.facts) == set()


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("rig_name", RIGS)
def test_from_any_muddle_a_stay_can_still_be_ended(rig_name: str, seed: int) -> None:
    """Steps in any permitted order, skipped, failed and reported; then departure closes."""
    chance = random.Random(f"{rig_name} {seed}")
    site = chance.choice(list(SITES.values()))
    record = new_record(rig_name)
    for name in ("arrive", chance.choice(("freezing-night", "storm", "evening"))):
        record = _muddle(name, rig_name, record, site, chance)
    end = Walk.start(checklist("depart", rig_name), record).on(site)
    assert end.state.mode is Mode.CLOSED, (end.state.mode, end.effects[-1])
    assert not_ready("depart", rig_name, end.state.facts) == set()


def _muddle(
    name: str, rig_name: str, record: frozenset[str], site: dict[str, bool], chance: random.Random
) -> frozenset[str]:
    walk = Walk.start(checklist(name, rig_name), record)
    c = walk.checklist
    for _ in range(200):
        state = walk.state
        if state.mode not in (Mode.STEP, Mode.CONFIRM):
            break
        event: Event = right_answer(c, state, site)
        if state.mode is Mode.STEP and chance.random() < 0.4:
            open_now = [s for s in c.steps if permitted(c.steps[s], state.facts)]
            event = chance.choice((Skip(), Problem(), GoTo(chance.choice(open_now))))
            if c.steps[state.at].reading and chance.random() < 0.5:
                event = Read(chance.choice(("low", "high")))
        walk.send(event)
        assert walk.untroubled
    return walk.state.facts


def test_two_sites_of_one_rig_differ() -> None:
    met = {site: tuple(finish("arrive", "tandem-slide", new_record("tandem-slide"), a).met)
           for site, a in SITES.items()}
    assert len(set(met.values())) == len(SITES)
    assert set(POWER_AND_WATER) <= {"stay hitched", "stay loaded", "adapter needed", "far side", "sewer far",
                                    "site sewer"}
