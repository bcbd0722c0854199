"""When a step fails: its remedy, the step again, or a safe end."""

import pytest

from handsfree.engine.choosing import permitted
from handsfree.engine.state import (
    Confirm,
    Event,
    GoTo,
    Mode,
    Problem,
    Read,
    Refused,
    Skip,
    Status,
)
from tests.checklists.walking import FULL, NEAR, RIGS, Walk, checklist, finish, new_record
from tests.engine.telling import told

RIG = "survey-trailer"


def arriving(step: str, rig_name: str = RIG) -> Walk:
    return Walk.start(checklist("arrive", rig_name), new_record(rig_name)).to(step, NEAR)


def fails(walk: Walk, event: Event) -> None:
    walk.send(event)
    if walk.state.mode is Mode.CONFIRM:
        walk.send(Confirm())


def says(walk: Walk) -> list[str]:
    return told(walk.effects)


def after(walk: Walk, step: str) -> list[str]:
    """The steps met after the first time that `step` was."""
    return walk.met[walk.met.index(step) + 1:]


def test_low_volts_lead_to_the_second_outlet_with_its_breaker_off_first() -> None:
    walk = arriving("outlet-volts")
    fails(walk, Read("low"))
    walk.to("plug-in", NEAR)
    assert after(walk, "outlet-volts") == [
        "fault-off", "tester-move", "second-amps", "breaker-first", "look-over", "tester-in",
        "test-on", "tester-lights", "outlet-volts", "test-off", "tester-out", "lay-cord", "plug-in"]
    walk.on(NEAR)
    assert walk.state.mode is Mode.CLOSED
    assert walk.untroubled


def test_a_fault_pattern_leads_there_too() -> None:
    walk = arriving("tester-lights")
    fails(walk, Problem())
    walk.to("outlet-volts", NEAR)
    assert after(walk, "tester-lights") == [
        "first lamp", "second lamp", "red lamp", "fault-off", "tester-move", "second-amps",
        "breaker-first", "look-over", "tester-in", "test-on", "tester-lights", "outlet-volts"]


def test_two_bad_outlets_end_with_nothing_connected() -> None:
    walk = arriving("outlet-volts")
    fails(walk, Read("low"))
    walk.to("outlet-volts", NEAR)
    fails(walk, Read("high"))
    assert "give up" in says(walk)
    walk.on(NEAR)
    assert not {"plug-in", "lay-cord", "power-on"} & set(walk.met)
    assert not {"tester in", "plugged in", "outlet good", "on trial"} & walk.state.facts
    assert "breaker off" in walk.state.facts
    assert finish("depart", RIG, walk.state.facts, NEAR).state.mode is Mode.CLOSED


def test_a_remedy_left_half_way_still_cannot_plug_in() -> None:
    walk = arriving("outlet-volts")
    fails(walk, Read("low"))
    walk.send(Skip())  # does not switch the bad outlet off
    for _ in range(60):
        assert "plugged in" not in walk.state.facts
        if walk.state.mode is not Mode.STEP:
            break
        walk.send(Skip())


def test_water_above_the_rigs_limit_is_turned_down_and_read_again() -> None:
    walk = arriving("pressure")
    fails(walk, Read("high"))
    walk.to("hose-on", NEAR)
    assert after(walk, "pressure")[:5] == [
        "tap-down", "turn-down", "tap-test", "pressure", "tap-rest"]


def test_three_pressures_too_high_end_with_the_tap_shut() -> None:
    walk = arriving("pressure")
    for _ in range(3):
        walk.to("pressure", NEAR)
        fails(walk, Read("high"))
    walk.on(NEAR)
    assert not {"water hose out", "tap open"} & walk.state.facts
    assert walk.state.mode is Mode.CLOSED


@pytest.mark.parametrize("leaks", (1, 2, 3))
def test_a_leak_is_seated_again_with_the_tap_shut(leaks: int) -> None:
    walk = arriving("joints")
    for _ in range(leaks):
        walk.to("joints", NEAR)
        fails(walk, Problem())
    walk.on(NEAR)
    assert walk.state.mode is Mode.CLOSED
    assert walk.met.count("washer") == min(leaks, 2)
    assert ("tap open" in walk.state.facts) is (leaks < 3)


def test_ramps_are_laid_without_chocks_and_checked_before_the_truck_leaves() -> None:
    walk = arriving("side-level")
    fails(walk, Read("high"))
    walk.to("ramp-check", NEAR)
    assert after(walk, "side-level") == [
        "ramp-reach", "ramp-lay", "ramp-clear", "ramp-climb", "side-level", "ramp-check"]
    record = walk.on(NEAR).state.facts
    assert "ramps out" in record
    met = finish("depart", RIG, record, NEAR).met
    assert met.index("pull-out") < met.index("ramps-in")


def test_chocks_come_out_before_ramps_go_under_and_must_be_set_again() -> None:
    walk = arriving("side-level")
    walk.send(Skip())
    walk.to("chock", NEAR)
    walk.on(NEAR, until=lambda s: "chocked" in s.facts)
    walk.send(GoTo("side-level"))
    fails(walk, Read("high"))
    walk.to("chocks-away", NEAR)
    walk.to("ramp-lay", NEAR)
    assert "chocked" not in walk.state.facts
    walk.on(NEAR)
    assert "chocked" in walk.state.facts
    assert walk.untroubled


def test_a_latch_that_does_not_hold_is_seated_and_proved_again() -> None:
    record = finish("arrive", RIG, new_record(RIG), NEAR).state.facts
    walk = Walk.start(checklist("depart", RIG), record).to("lift-test", NEAR)
    fails(walk, Problem())
    walk.to("hook-up", NEAR)
    assert after(walk, "lift-test") == [
        "latch-off", "seat-again", "latch-close", "lift-test", "hook-up"]


def test_a_latch_that_never_holds_keeps_the_chocks_in_and_the_checklist_open() -> None:
    record = finish("arrive", RIG, new_record(RIG), NEAR).state.facts
    walk = Walk.start(checklist("depart", RIG), record)
    for _ in range(3):
        walk.to("lift-test", NEAR)
        fails(walk, Problem())
    walk.on(NEAR)
    assert walk.state.mode is Mode.BLOCKED
    assert {"chocked", "parked"} <= walk.state.facts


def test_smell_of_gas_sends_everybody_out_and_gas_stays_off() -> None:
    walk = arriving("gas-smell", "tandem-slide")
    fails(walk, Problem())
    walk.to("leak-wait", NEAR)
    assert after(walk, "gas-smell") == ["leak-out", "leak-call", "leak-shut", "leak-wait"]
    walk.on(NEAR)
    assert "gas open" not in walk.state.facts
    assert not {"gas-on", "fridge-start"} & set(after(walk, "leak-wait"))


def test_silent_alarms_keep_the_gas_shut() -> None:
    walk = arriving("alarm-test", "small-single")
    for _ in range(2):
        walk.to("alarm-test", NEAR)
        fails(walk, Problem())
    walk.on(NEAR)
    assert "gas open" not in walk.state.facts
    assert "gas-on" not in walk.met


def test_a_tyre_off_its_placard_keeps_the_departure_open() -> None:
    record = finish("arrive", RIG, new_record(RIG), FULL).state.facts
    walk = Walk.start(checklist("depart", RIG), record)
    for _ in range(4):
        walk.to("tyre-low", FULL)
        fails(walk, Read("low"))
    walk.on(FULL)
    assert walk.state.mode is Mode.BLOCKED
    assert walk.state.statuses[walk.checklist.index["tyre-low"]] is Status.FAILED


def test_skipped_guy_lines_are_reminded_of_and_hold_the_arrival_open() -> None:
    walk = arriving("guys-on")
    walk.send(Skip())
    walk.to("guys-on", NEAR)
    assert walk.met[-1] == "guys-on" and walk.met.count("guys-on") == 2
    walk.send(Skip())
    assert walk.state.mode is Mode.BLOCKED


def test_too_much_wind_brings_the_slide_in() -> None:
    record = finish("arrive", "tandem-slide", new_record("tandem-slide"), NEAR).state.facts
    site = {**NEAR, "thunder near": False}
    walk = Walk.start(checklist("storm", "tandem-slide"), record).to("wind-read", site)
    fails(walk, Read("high"))
    walk.on(site)
    assert walk.state.mode is Mode.CLOSED
    assert after(walk, "wind-read")[:5] == [
        "gust-floor", "gust-beside", "gust-unlock", "gust-in", "gust-lock"]
    assert "waits" not in says(walk)  # with the slide-out in, no wind has to be read
    assert not {"slide extended", "slide free", "plugged in", "cord out"} & walk.state.facts


@pytest.mark.parametrize("rig_name", RIGS)
def test_in_thunder_nobody_is_sent_outside_or_told_to_hold_metal(rig_name: str) -> None:
    record = finish("arrive", rig_name, new_record(rig_name), NEAR).state.facts
    site = {**NEAR, "thunder near": True}
    walk = finish("storm", rig_name, record, site)
    steps = walk.checklist.steps
    assert [step for step in walk.met if steps[step].role == "outside"] == []
    assert "antenna-storm" not in walk.met
    shelter = {"thunder-truck", "stay-truck"} if rig_name == "pop-up" else {  # canvas is none
        "thunder-in", "stay-in", "thunder-over"}
    assert shelter <= set(walk.met)


def test_in_thunder_a_slide_out_is_looked_at_from_a_window() -> None:
    record = finish("arrive", "tandem-slide", new_record("tandem-slide"), NEAR).state.facts
    site = {**NEAR, "thunder near": True}
    walk = Walk.start(checklist("storm", "tandem-slide"), record).to("wind-read", site)
    fails(walk, Read("high"))
    walk.on(site)
    assert after(walk, "wind-read")[:5] == [
        "gust-floor", "gust-window", "gust-unlock", "gust-in", "gust-lock"]
    assert "slide extended" not in walk.state.facts


@pytest.mark.parametrize("step", ("hubs", "hitch-look", "tyre-look", "nuts"))
def test_what_fails_on_the_road_stays_unfit_until_it_is_said_to_be_mended(step: str) -> None:
    walk = Walk.start(checklist("first-miles", RIG), new_record(RIG)).to(step, NEAR)
    fails(walk, Problem())
    assert "unfit" in walk.state.facts
    walk.to("fit-again", NEAR).send(Problem())
    assert "unfit" in walk.state.facts
    walk.send(GoTo("pull-out"))
    assert walk.of(Refused)
    walk.to("fit-again", NEAR).on(NEAR)
    assert walk.state.mode is Mode.CLOSED
    assert "unfit" not in walk.state.facts


def test_cold_pipes_are_drained_only_with_the_pump_off() -> None:
    rig_name = "tandem-slide"
    dry = {**NEAR, "site water": False, "pipes heated": False}
    record = finish("arrive", rig_name, new_record(rig_name), dry).state.facts
    assert "pump on" in record
    walk = Walk.start(checklist("freezing-night", rig_name), record).to("pump-rest", dry)
    walk.send(GoTo("low-points"))
    assert walk.of(Refused)[0].rule == "pump-into-drains"  # type: ignore[attr-defined]
    walk.on(dry)
    assert walk.state.mode is Mode.CLOSED
    assert "drains open" in walk.state.facts and "pump on" not in walk.state.facts
    again = finish("arrive", rig_name, walk.state.facts, dry)
    assert again.met.index("pipes-shut") < again.met.index("pump-start")


@pytest.mark.parametrize("rig_name", ("tandem-slide", "metric-caravan"))
def test_nobody_is_sent_to_the_pump_while_somebody_opens_the_drains(rig_name: str) -> None:
    """The one inside would start it while the other opens them: the tank runs out on the ground."""
    dry = {**NEAR, "site water": False, "pipes heated": False}
    record = finish("arrive", rig_name, new_record(rig_name), dry).state.facts
    walk = Walk.start(checklist("freezing-night", rig_name), record).to("low-points", dry)
    walk.send(Skip())  # as it stands for the one inside while the other is still at it
    walk.on(dry, until=lambda s: s.at == "low-points")
    assert "pump-night" not in walk.met and "pump on" not in walk.state.facts
    walk.to("low-points", dry).on(dry)
    assert walk.state.mode is Mode.CLOSED and "pump-night" not in walk.met


def test_the_pump_runs_through_a_freezing_night_in_heated_pipes() -> None:
    warm = {**NEAR, "pipes heated": True}
    record = finish("arrive", "tandem-slide", new_record("tandem-slide"), warm).state.facts
    walk = Walk.start(checklist("freezing-night", "tandem-slide"), record).on(warm)
    assert walk.state.mode is Mode.CLOSED and "pump on" in walk.state.facts


def test_a_freezing_night_does_not_close_over_an_open_valve() -> None:
    rig_name = "tandem-slide"
    record = finish("arrive", rig_name, new_record(rig_name), NEAR).state.facts
    walk = Walk.start(checklist("freezing-night", rig_name), record).to("black-push", NEAR)
    walk.send(Skip())
    walk.to("black-push", NEAR).send(Skip())
    walk.on(NEAR, until=lambda s: s.at == "black-push")
    assert walk.state.mode is not Mode.CLOSED


@pytest.mark.parametrize("step", ("fridge-start", "heater-on"))
def test_nothing_burns_gas_before_somebody_has_sniffed_for_it(step: str) -> None:
    walk = arriving("gas-smell", "tandem-slide")
    c, facts = walk.checklist, walk.state.facts
    facts = (facts - {"fridge on", "heater on"}) | {"side settled", "heater full", "parked"}
    assert "gas smelt" not in facts
    assert not permitted(c.steps[step], facts)
    assert permitted(c.steps[step], facts | {"gas smelt"})
    assert not permitted(c.steps[step], facts | {"gas smelt", "gas refused"})


def test_the_brake_pin_is_tried_with_cord_and_chocks_out_and_the_lights_after_it() -> None:
    record = finish("arrive", RIG, new_record(RIG), NEAR).state.facts
    met = finish("hitch-up", RIG, record, NEAR).met
    order = ["lift-test", "chocks-out", "pin-pull", "pin-clear", "cable-test", "pin-back",
             "lights", "pull-out"]
    assert sorted(order, key=met.index) == order


def test_nobody_drives_off_with_the_pin_pulled_or_brakes_that_did_not_come_on() -> None:
    record = finish("arrive", RIG, new_record(RIG), NEAR).state.facts
    walk = Walk.start(checklist("hitch-up", RIG), record).to("cable-test", NEAR)
    fails(walk, Problem())
    assert {"unfit", "pin pulled"} <= walk.state.facts
    pull_out = walk.checklist.steps["pull-out"]
    walk.to("fit-again", NEAR)
    assert {"unfit"} == walk.state.facts & {"unfit", "pin pulled"}
    assert not permitted(pull_out, walk.state.facts | {"walked round"})
