"""A generator, carried or built in, as a technician would have it run at a spot without hook-ups.

Sources, all from memory: US Consumer Product Safety Commission, portable generators (outdoors only, 20 feet from
the building, exhaust away, working carbon monoxide alarms); makers' manuals (never refueled running or hot, no load
as it starts and before it stops, a floating neutral and surge protectors).
"""

from __future__ import annotations

import pytest

from handsfree.engine.choosing import permitted
from handsfree.engine.state import Correct, GoTo, Mode, Refused
from tests.checklists.walking import NEAR, RIGS, Walk, checklist, finish, new_record

PLAIN = "tandem-slide"
BARE = {**NEAR, "site power": False, "site water": False, "site sewer": False}
PORTABLE, BUILT_IN = "portable generator", "built-in generator"


def record(kind: str) -> frozenset[str]:
    return new_record(PLAIN) | {kind}


def arrived(kind: str) -> Walk:
    return finish("arrive", PLAIN, record(kind), BARE)


def in_order(met: list[str], *steps: str) -> bool:
    return [step for step in met if step in steps] == list(steps)


def test_a_portable_one_is_placed_wired_and_started_in_this_order() -> None:
    met = arrived(PORTABLE).met
    assert in_order(met, "alarm-test", "generator-place", "generator-fuel", "generator-cord", "generator-start",
                    "generator-on", "generator-quiet")
    assert "generator-exhaust" not in met


def test_one_that_is_built_in_has_its_exhaust_looked_at_after_slide_and_awning_steps() -> None:
    met = arrived(BUILT_IN).met
    assert in_order(met, "alarm-test", "slide-run-out", "awning-out", "generator-exhaust", "generator-run",
                    "generator-on", "generator-quiet")
    assert not {"generator-place", "generator-cord", "generator-fuel"} & set(met)
    said = checklist("arrive").steps["generator-exhaust"]
    assert "slide" in said.do + said.detail and "awning" in said.do + said.detail


@pytest.mark.parametrize("kind", (PORTABLE, BUILT_IN))
@pytest.mark.parametrize("lost", ("alarms proved", "exhaust clear", "parked"))
def test_it_is_not_started_without_alarms_or_a_look_at_its_exhaust(kind: str, lost: str) -> None:
    start = "generator-start" if kind == PORTABLE else "generator-run"
    walk = Walk.start(checklist("arrive", PLAIN), record(kind)).to(start, BARE)
    step = walk.checklist.steps[start]
    assert permitted(step, walk.state.facts)
    assert not permitted(step, walk.state.facts - {lost})


@pytest.mark.parametrize("fact", ("generator running", "generator hot"))
def test_it_is_neither_filled_nor_stowed_running_or_hot(fact: str) -> None:
    facts = arrived(PORTABLE).state.facts - {"generator running", "generator hot"}
    for name, step in (("arrive", "generator-fuel"), ("depart", "generator-stow")):
        one = checklist(name, PLAIN).steps[step]
        assert permitted(one, facts), step
        assert not permitted(one, facts | {fact}), step


def test_it_cools_before_it_is_stowed_and_is_home_before_the_road() -> None:
    begun = arrived(PORTABLE).state.facts
    assert {"generator out", "generator running"} <= begun
    walk = finish("depart", PLAIN, begun, BARE)
    assert in_order(walk.met, "generator-idle", "generator-stop", "jack-raise", "generator-cool", "generator-stow",
                    "chocks-out", "pull-out"), "it cools while the rest is done"
    built = finish("depart", PLAIN, arrived(BUILT_IN).state.facts, BARE).met
    assert in_order(built, "generator-idle", "generator-shut", "pull-out")
    assert not {"generator-cool", "generator-stow"} & set(built)


def test_nobody_drives_off_with_it_out_or_running() -> None:
    for kind, fact in ((PORTABLE, "generator out"), (PORTABLE, "generator running"), (BUILT_IN, "generator running")):
        walk = Walk.start(checklist("depart", PLAIN), arrived(kind).state.facts).to("pull-out", BARE)
        walk.send(Correct(fact, True))
        if fact == "generator out":
            assert any(isinstance(effect, Refused) for effect in walk.send(GoTo("pull-out")))
            walk.send(Correct("parked", False))
            assert walk.state.mode is Mode.ALARM
        else:
            assert not walk.checklist.closes.holds(walk.state.facts)


def test_with_shore_power_or_a_no_it_stays_where_it_is() -> None:
    with_post = finish("arrive", PLAIN, record(PORTABLE), NEAR).met
    declined = finish("arrive", PLAIN, record(PORTABLE), {**BARE, "run generator": False}).met
    for met in (with_post, declined):
        assert not [step for step in met if step.startswith("generator-")]


def test_at_night_it_is_off() -> None:
    """Whoever sleeps hears neither an alarm far off nor the exhaust that turns with the wind."""
    for kind in (PORTABLE, BUILT_IN):
        walk = finish("evening", PLAIN, arrived(kind).state.facts, BARE)
        assert ("generator-stop" if kind == PORTABLE else "generator-shut") in walk.met
        assert "generator running" not in walk.state.facts


def test_a_floating_neutral_is_told_where_a_protector_would_refuse() -> None:
    said = checklist("arrive").steps["generator-on"].detail.lower()
    assert "neutral" in said and "bond" in said and "manual" in said


@pytest.mark.parametrize("rig", [rig for rig in RIGS if not {PORTABLE, BUILT_IN} & new_record(rig)])
def test_a_rig_without_one_hears_nothing_new(rig: str) -> None:
    walk = Walk.start(checklist("arrive", rig), new_record(rig)).on(BARE)
    assert not [step for step in walk.met if step.startswith("generator") or step == "run generator"]


# --- on a later day, in a storm, in frost ---------------------------------------------------------

@pytest.mark.parametrize("kind", (PORTABLE, BUILT_IN))
def test_on_a_later_day_it_is_started_and_stopped_by_a_list_of_its_own(kind: str) -> None:
    """The night has put it off; the alarms of the day before do not count for ever."""
    night = finish("evening", PLAIN, arrived(kind).state.facts, BARE).state.facts
    assert "generator running" not in night
    morning = finish("generator", PLAIN, night - {"alarms proved", "exhaust clear"}, BARE)
    first = "generator-look" if kind == PORTABLE else "generator-exhaust"
    start = "generator-start" if kind == PORTABLE else "generator-run"
    assert in_order(morning.met, "run generator", "alarm-test", first, start, "generator-on", "generator-quiet")
    assert "generator running" in morning.state.facts and "generator-place" not in morning.met
    stopped = finish("generator", PLAIN, morning.state.facts, {**BARE, "run generator": False})
    assert "generator running" not in stopped.state.facts
    assert in_order(stopped.met, "generator-idle", "generator-stop" if kind == PORTABLE else "generator-shut")
    assert not {"alarm-test", "generator-fuel", "generator-start", "generator-run"} & set(stopped.met)


def test_it_is_filled_again_only_when_it_is_cold() -> None:
    again = finish("generator", PLAIN, arrived(PORTABLE).state.facts, BARE)
    assert in_order(again.met, "generator-idle", "generator-stop", "run generator", "generator-look", "generator-cool",
                    "generator-fuel", "generator-cord", "generator-start")
    walk = Walk.start(checklist("generator", PLAIN), arrived(PORTABLE).state.facts).to("generator-cool", BARE)
    assert not permitted(walk.checklist.steps["generator-fuel"], walk.state.facts)


@pytest.mark.parametrize("lost", ("alarms proved", "exhaust clear"))
@pytest.mark.parametrize("kind", (PORTABLE, BUILT_IN))
def test_on_a_later_day_nothing_of_yesterdays_looks_counts(kind: str, lost: str) -> None:
    night = finish("evening", PLAIN, arrived(kind).state.facts, BARE).state.facts
    start = "generator-start" if kind == PORTABLE else "generator-run"
    walk = Walk.start(checklist("generator", PLAIN), night).to(start, BARE)
    assert permitted(walk.checklist.steps[start], walk.state.facts)
    assert not permitted(walk.checklist.steps[start], walk.state.facts - {lost})


def test_on_shore_power_it_is_not_asked_for() -> None:
    here = finish("arrive", PLAIN, record(BUILT_IN), NEAR).state.facts
    assert "plugged in" in here
    assert not [step for step in finish("generator", PLAIN, here, NEAR).met if "generator" in step]


@pytest.mark.parametrize("kind", (PORTABLE, BUILT_IN))
def test_before_a_storm_and_for_a_freezing_night_it_is_shut_off(kind: str) -> None:
    for name, answers in (("storm", {**BARE, "thunder near": False}), ("freezing-night", BARE)):
        walk = finish(name, PLAIN, arrived(kind).state.facts, answers)
        assert ("generator-stop" if kind == PORTABLE else "generator-shut") in walk.met, name
        assert "generator running" not in walk.state.facts, name


def test_in_thunder_one_that_stands_outside_is_left_alone() -> None:
    """Nobody goes out while thunder is heard; one that is built in is shut off from inside."""
    thunder = {**BARE, "thunder near": True}
    out = finish("storm", PLAIN, arrived(PORTABLE).state.facts, thunder)
    assert not [step for step in out.met if step.startswith("generator-")]
    built = finish("storm", PLAIN, arrived(BUILT_IN).state.facts, thunder)
    assert "generator-thunder" in built.met and "generator running" not in built.state.facts
    assert checklist("storm").steps["generator-thunder"].role == "inside"
