"""A technician's cases for the rigs that are no plain trailer: what has to be refused on each.

Each case first: with all else in order the step can be gone to; then with the one thing amiss it
cannot.  Sources: owner's manuals of pop-ups, truck campers, tow bars and towed cars (practice that
they share; no single edition was at hand), 49 CFR 575.103 on the truck camper's load (from memory).
"""

from __future__ import annotations

import pytest

from handsfree.engine.advance import advance
from handsfree.engine.state import Alarm, Correct, Refused
from tests.hazards.test_reported import accepted, at, loaded, record, refusal

POP_UP, CAMPER, HOME = "pop-up", "truck-camper", "motorhome"


def refused(name: str, step: str, good: frozenset[str], amiss: tuple[str, ...], rig: str) -> Refused:
    """The refusal once the facts of `amiss` are turned over, none of them being so before."""
    assert accepted(name, step, good, rig), f"{step} cannot be done even when all is well"
    found = refusal(name, step, good ^ {*amiss}, rig)
    assert found is not None, f"{step} is accepted with {amiss}"
    return found


# --- the pop-up --------------------------------------------------------------------------------

PITCHED = ("parked", "chocked", "side settled", "fore settled", "stabilisers out")
FOLDED = record(*PITCHED, "roof clear", rig=POP_UP, without=("roof latched",))
LIFTED = record(*PITCHED, "roof raised", "roof clear", rig=POP_UP, without=("roof latched",))
LIVED_IN = LIFTED | {"roof props out", "bunks out", "bunk braces out"}


@pytest.mark.parametrize("amiss", [
    ("roof clear",),        # somebody under it, or at its posts
    ("chocked",), ("parked",),
    ("bunks out",), ("bunk braces out",), ("roof props out",),
    ("roof latched",),      # against its latches the lift breaks
])
def test_the_roof_goes_up_only_when_nobody_is_near_and_nothing_holds_it(amiss) -> None:
    refused("arrive", "roof-up", FOLDED, amiss, POP_UP)


@pytest.mark.parametrize("amiss", [
    ("roof clear",), ("chocked",), ("bunks out",), ("bunk braces out",), ("roof props out",)])
def test_the_roof_comes_down_only_when_nobody_is_under_it_and_no_brace_is_in(amiss) -> None:
    refused("depart", "roof-down", LIFTED, amiss, POP_UP)


def test_a_look_at_the_roof_is_good_for_one_run() -> None:
    """Somebody may have crept in since."""
    checklist = loaded("arrive", POP_UP)
    assert "roof clear" in checklist.steps["roof-up"].voids
    assert "roof clear" in loaded("depart", POP_UP).steps["roof-down"].voids


def test_nobody_goes_in_under_a_roof_without_its_props() -> None:
    for name, step in (("evening", "alarm-test"), ("depart", "vents-shut"), ("storm", "shut-all")):
        calm = LIVED_IN | {"thunder near answered"}
        refused(name, step, calm, ("roof props out",), POP_UP)
        refused(name, step, calm, ("bunk braces out",), POP_UP)


def test_nothing_burns_under_a_folded_roof() -> None:
    """Canvas, and no air."""
    open_gas = record(*PITCHED, "gas open", "gas smelt", "alarms proved", rig=POP_UP)
    up = open_gas | {"roof raised", "roof props out"}
    assert accepted("bring-back", "burners", up, POP_UP)
    assert not accepted("bring-back", "burners", open_gas, POP_UP)


READY = ("parked", "lights checked", "tyres checked", "walked round", "hitch looked over", "area clear",
         "trailer empty")


@pytest.mark.parametrize("amiss", ["roof raised", "bunks out", "bunk braces out", "roof latched",
                                   "roof props out"])
def test_the_pop_up_drives_off_folded_and_latched_only(amiss: str) -> None:
    refused("depart", "pull-out", record(*READY, rig=POP_UP), (amiss,), POP_UP)


@pytest.mark.parametrize("amiss, broken", [("roof raised", "rolling-spread"), ("bunks out", "rolling-spread")])
def test_driving_with_the_roof_up_is_called_out(amiss: str, broken: str) -> None:
    facts = record(*READY, amiss, "chocked", rig=POP_UP, without=("roof latched",))
    _, effects = advance(loaded("depart", POP_UP), at("depart", "tyre-low", facts - {"chocked"}, POP_UP),
                         Correct("parked", False))
    assert Alarm(broken) in effects


# --- the truck camper --------------------------------------------------------------------------

UNTIED = record("parked", "stay loaded answered", "area clear", "trailer empty", "jack pad out", rig=CAMPER,
                without=("tied down", "light cord on"))
ON_LEGS = UNTIED - {"jack up"}
OFF = ON_LEGS | {"camper off"}


@pytest.mark.parametrize("amiss", [
    ("tied down",),                       # the jacks would tear out the tie-downs
    ("area clear",), ("trailer empty",),  # somebody under it, or in it
    ("parked",), ("spot refused",)])
def test_the_camper_is_lifted_untied_held_and_empty_only(amiss) -> None:
    refused("arrive", "legs-down", UNTIED, amiss, CAMPER)


@pytest.mark.parametrize("amiss", [
    ("tied down",), ("light cord on",), ("jack up",), ("area clear",), ("trailer empty",)])
def test_the_truck_leaves_a_camper_that_stands_free_only(amiss) -> None:
    refused("arrive", "truck-out", ON_LEGS, amiss, CAMPER)


@pytest.mark.parametrize("amiss", [("tied down",), ("jack up",), ("area clear",), ("trailer empty",)])
def test_the_truck_comes_back_under_a_camper_that_stands_high_and_empty_only(amiss) -> None:
    refused("depart", "truck-under", OFF, amiss, CAMPER)


def test_legs_do_not_come_up_with_the_truck_away() -> None:
    refused("depart", "camper-down", ON_LEGS, ("camper off",), CAMPER)
    _, effects = advance(loaded("arrive", CAMPER), at("arrive", "fore-level", OFF, CAMPER),
                         Correct("jack up", True))
    assert any(isinstance(effect, Alarm) for effect in effects)


@pytest.mark.parametrize("amiss", ["tied down", "light cord on", "jack up", "camper off"])
def test_the_camper_drives_off_tied_down_with_its_legs_up_only(amiss: str) -> None:
    refused("depart", "pull-out", record(*READY, rig=CAMPER), (amiss,), CAMPER)


def test_a_camper_is_never_chocked_and_nothing_waits_for_chocks() -> None:
    steps = {step for name in ("arrive", "depart") for step in loaded(name, CAMPER).order
             if loaded(name, CAMPER).steps[step].only_if.holds(record("parked", rig=CAMPER))
             and "chocked" in loaded(name, CAMPER).steps[step].gives}
    assert steps == set()
    facts = record("parked", "awning out", "cord out", "breaker off", rig=CAMPER)
    assert not [rule.id for rule in loaded("arrive", CAMPER).rules if rule.when.holds(facts)]


# --- the motorhome and its car -----------------------------------------------------------------

HOOKED = record(*READY, "car braked", "car tried", rig=HOME)


def test_never_back_up_with_the_car_on_the_tow_bar() -> None:
    facts = record("area clear", "trailer empty", rig=HOME)
    assert not accepted("arrive", "back-in", facts, HOME)
    assert accepted("arrive", "back-in", facts - {"car on", "car joined", "car freed"}, HOME)


@pytest.mark.parametrize("amiss", [
    ("car freed",),    # its gearbox still in park, its brake on
    ("car joined",),   # a pin, a cable, the breakaway or the cord is off
    ("car braked",),   # its brakes were not tried
    ("car tried",),    # nobody saw the arms lock and its wheels turn
    ("lights checked",), ("walked round",)])
def test_the_car_is_towed_joined_freed_and_braked_only(amiss) -> None:
    refused("depart", "pull-out", HOOKED, amiss, HOME)


@pytest.mark.parametrize("amiss", [("car freed",), ("car joined",)])
def test_towing_the_car_like_that_is_called_out(amiss) -> None:
    facts = HOOKED ^ {*amiss}
    _, effects = advance(loaded("depart", HOME), at("depart", "tyre-low", facts, HOME),
                         Correct("parked", False))
    assert any(isinstance(effect, Alarm) for effect in effects)


def test_the_car_is_held_before_it_comes_off_the_bar() -> None:
    facts = record("parked", rig=HOME)
    for step in ("car-cables-off", "car-off"):
        ready = facts - {"car freed"} - ({"car joined"} if step == "car-off" else set())
        refused("arrive", step, ready, ("car freed",), HOME)
        refused("arrive", step, ready, ("parked",), HOME)


def test_the_car_rolls_free_only_once_it_is_joined() -> None:
    facts = record("parked", rig=HOME, without=("car freed",))
    refused("depart", "car-free", facts, ("car joined",), HOME)


def test_trying_another_cars_brakes_does_not_count_after_it_was_unhooked() -> None:
    assert "car braked" in loaded("arrive", HOME).steps["car-off"].voids


@pytest.mark.parametrize("amiss", [("chocked",), ("slide extended",), ("stabilisers out",)])
def test_the_levelling_jacks_run_under_a_chocked_motorhome_only(amiss) -> None:
    """With the rear wheels off the ground its parking brake holds nothing."""
    refused("arrive", "jacks-run", record("parked", "chocked", "jack pad out", rig=HOME), amiss, HOME)


@pytest.mark.parametrize("amiss", ["jack up", "chocked", "slide extended", "plugged in", "awning out"])
def test_the_motorhome_drives_off_with_everything_in_only(amiss: str) -> None:
    good = HOOKED | {"outlet good", "breaker off"}
    refused("depart", "pull-out", good, (amiss,), HOME)


def test_a_motorhome_hears_of_no_hitch() -> None:
    heard = {step.id for name in ("arrive", "depart", "hitch-up")
             for step in loaded(name, HOME).steps.values()
             if step.applicable.holds(record("parked", rig=HOME) | {"stay hitched answered"})}
    assert not heard & {"jack-down", "light-cord-off", "latch-open", "pull-away", "hook-up",
                        "lift-test", "jack-raise", "controller"}
