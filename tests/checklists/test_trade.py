"""What a technician of the trade would not have put up with, each tried as they met it.

Every test failed when it was written.  Sources stand beside the checks; what has none says so.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.engine.choosing import permitted
from handsfree.engine.state import GoTo, Mode, Problem, Refused
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.testing import talk
from tests.checklists.walking import NEAR, RIGS, Walk, checklist, finish, new_record

BARE = {**NEAR, "site power": False, "site water": False, "site sewer": False}


def met(name: str, rig_name: str, site: dict[str, bool] = NEAR) -> list[str]:
    return finish(name, rig_name, new_record(rig_name), site).met


def told(name: str, rig_name: str, **script: object) -> str:
    """The program's words, with the answers and readings of a script."""
    done = talk(checklist(name, rig_name), load_language("en"), Script(**script),  # type: ignore[arg-type]
                record=new_record(rig_name))
    return "\n".join(done.words_of("program"))


# --- the cord and the post ------------------------------------------------------------------

SMALL_POST = {"site power": True, "adapter needed": True}


def test_a_fifty_amp_cord_goes_to_a_thirty_amp_post_by_an_adapter() -> None:
    """An outlet of 30 A has one leg, whatever the cord has (NEMA TT-30 and 14-50, from memory)."""
    said = told("arrive", "fifth-wheel", answers=SMALL_POST, readings={
        "supply-amps": ("thirty amps",), "outlet-volts": ("one hundred nineteen volts",),
        "load": ("two thousand watts",)})
    assert "One leg is dead" not in said and "first leg" not in said
    assert "For a continuous load, twenty-four amps at most." in said
    assert said.index("adapter on the cord") < said.index("Plug in at the pedestal")


def test_a_fifty_amp_outlet_has_both_its_legs_read() -> None:
    walk = met("arrive", "fifth-wheel", {**NEAR, "adapter needed": False})
    assert {"leg-one", "leg-two"} <= set(walk) and "outlet-volts" not in walk


@pytest.mark.parametrize(("rig_name", "amps", "good"), (
    ("survey-trailer", "thirty", True), ("survey-trailer", "fifty", False),
    ("small-single", "twenty", True), ("small-single", "thirty", False),
    ("fifth-wheel", "fifty", True), ("survey-trailer", "twenty", True)))
def test_the_weakest_of_post_and_cord_is_the_limit(rig_name: str, amps: str, good: bool) -> None:
    """NFPA 70 240.5(A) (from memory): the breaker protects the cord, so it is not bigger than the
    cord.  Cords of 30, 20 and 50 A."""
    said = told("arrive", rig_name, answers={"site power": True},
                readings={"supply-amps": (f"{amps} amps",) * 3})
    assert ("That is too big. The limit for your cord is" in said) is not good


def test_the_adapter_comes_home() -> None:
    site = {**NEAR, "adapter needed": True}
    record = finish("arrive", "fifth-wheel", new_record("fifth-wheel"), site).state.facts
    assert "adapter out" in record
    walk = finish("depart", "fifth-wheel", record, site)
    assert walk.met.index("unplug") < walk.met.index("adapter-in")
    storm = finish("storm", "fifth-wheel", record, {**site, "thunder near": False})
    assert "adapter out" not in storm.state.facts


def test_another_outlet_may_need_the_adapter_after_all() -> None:
    """The answer is open to change where the second outlet differs from the first."""
    walk = Walk.start(checklist("arrive", "fifth-wheel"), new_record("fifth-wheel"))
    site = {**NEAR, "adapter needed": False}
    walk.to("tester-lights", site).send(Problem())
    walk.to("second-amps", site).send(GoTo("adapter needed"))
    assert walk.state.at == "adapter needed"
    walk.on({**site, "adapter needed": True})
    assert walk.state.mode is Mode.CLOSED
    assert {"plugged in", "adapter out"} <= walk.state.facts


# --- backing in -----------------------------------------------------------------------------

@pytest.mark.parametrize("name", ("arrive", "choose-spot"))
def test_a_friction_sway_bar_comes_off_before_backing(name: str) -> None:
    """Makers' manuals of friction sway bars (from memory): off before backing, or it bends."""
    walk = met(name, "small-single")
    assert walk.index("sway-bar-back") < walk.index("back-in")
    assert "sway-bar-back" not in met(name, "tandem-slide")
    here = checklist(name, "small-single")
    ready = new_record("small-single") | {"area clear", "trailer empty"}
    assert not permitted(here.steps["back-in"], ready)
    assert permitted(here.steps["back-in"], ready - {"sway bar on"})


# --- levelling ------------------------------------------------------------------------------

def test_outside_nobody_is_told_to_lay_a_level_on_the_floor_inside() -> None:
    step = checklist("arrive").steps["side-level"]
    assert step.role == "outside" and "on the floor" not in step.detail
    assert "frame" in step.detail


@pytest.mark.parametrize(("low", "told_so", "not_so"), (
    (True, "The nose has to come up seven inches.", "come down"),
    (False, "The nose has to come down seven inches.", "come up seven")))
def test_front_to_back_has_a_direction(low: bool, told_so: str, not_so: str) -> None:
    """200 in x tan(2 deg) = 6.984 in (plane trigonometry)."""
    said = told("arrive", "survey-trailer", answers={"nose low": low},
                readings={"fore-level": ("two degrees", "zero degrees")})
    after = said[said.index("Two degrees.\nThe nose"):]
    assert told_so in after and not_so not in after.partition("Jack the nose")[0]


def test_a_high_nose_is_no_shortness_of_the_jack() -> None:
    """130 in x tan(6 deg) = 13.66 in; the jack's 10 in are upwards."""
    high, low = (told("arrive", "small-single", answers={"nose low": low}, readings={
        "fore-level": ("six degrees", "zero degrees")}) for low in (False, True))
    assert "short" not in high and "Do not run the jack that far." not in high
    assert "three and three quarters inches short" in low
    assert "Do not run the jack that far." in low
    assert "hitch up again" not in low.lower()


def test_what_the_jack_lacks_is_known_before_the_truck_leaves() -> None:
    """Six degrees over 130 in need 13.66 in, and the jack has 10: 3.66 in more under its pad."""
    walk = met("arrive", "small-single")
    assert walk.index("nose low") < walk.index("fore-before") < walk.index("jack-pad")
    assert walk.index("jack-pad") < walk.index("pull-away")
    said = told("arrive", "small-single", answers={"nose low": True}, readings={
        "fore-before": ("six degrees",), "fore-level": ("zero degrees",)})
    assert "three and three quarters inches more under the jack" in said
    said = told("arrive", "small-single", answers={"nose low": True}, readings={
        "fore-before": ("four degrees",), "fore-level": ("zero degrees",)})
    assert "more under the jack" not in said


# --- the order of things at a site ------------------------------------------------------------

@pytest.mark.parametrize("rig_name", RIGS)
def test_room_and_reach_are_looked_at_while_the_rig_can_still_move(rig_name: str) -> None:
    """Common practice, no source: after unhitching neither can be mended."""
    walk = met("arrive", rig_name)
    apart = min(walk.index(name) for name in (
        "side-level", "light-cord-off", "camper-cord-off", "jacks-run") if name in walk)
    asked = ["site power", "site water", "far side"]
    if "waste tanks" in new_record(rig_name):
        asked += ["site sewer", "sewer far"]
    if "slide-out" in new_record(rig_name):
        spaces = [name for name in checklist("arrive", rig_name).order if name.endswith("slide-space")]
        assert spaces
        asked += spaces
    assert [name for name in asked if walk.index(name) > apart] == []


def test_no_room_for_the_slide_out_moves_the_rig_over() -> None:
    walk = Walk.start(checklist("arrive", "tandem-slide"), new_record("tandem-slide"))
    walk.to("slide-space", NEAR).send(Problem())
    walk.to("room-move", NEAR)
    assert {"area clear", "trailer empty", "hitched"} <= walk.state.facts
    walk.to("slide-space", NEAR).on(NEAR)
    assert walk.state.mode is Mode.CLOSED and walk.untroubled


@pytest.mark.parametrize("rig_name", ("tandem-slide", "fifth-wheel"))
def test_the_water_heater_is_lit_after_the_gas_is_on(rig_name: str) -> None:
    """Without hook-ups nothing else feeds it."""
    for site in (NEAR, {**BARE}):
        walk = met("arrive", rig_name, site)
        assert walk.index("gas-smell") < walk.index("heater-on")
        assert walk.index("heater-fill") < walk.index("heater-on")


def test_a_water_heater_without_gas_and_power_is_left_alone() -> None:
    walk = Walk.start(checklist("arrive", "tandem-slide"), new_record("tandem-slide"))
    for _ in range(3):
        walk.to("alarm-test", BARE).send(Problem())
        if "gas refused" in walk.state.facts:
            break
    walk.on(BARE)
    assert "gas refused" in walk.state.facts and "heater-on" not in walk.met


# --- batteries, nuts, the hitch ----------------------------------------------------------------

@pytest.mark.parametrize(("has", "volts", "good"), (
    (False, "twelve point two", True), (False, "twelve point one", False),
    (True, "twelve point nine", True), (True, "twelve point eight", False),
    (True, "twelve point two", False)))
def test_the_house_battery_is_read_by_its_chemistry(has: bool, volts: str, good: bool) -> None:
    """Makers' tables (from memory): lead-acid half full at 12.2 V; four lithium iron phosphate
    cells a fifth full at 12.9."""
    step = "house-battery-lithium" if has else "house-battery"
    record = new_record("small-single") | ({"lithium battery"} if has else set())
    done = talk(checklist("before-leaving-home", "small-single"), load_language("en"),
                Script(readings={step: (f"{volts} volts", "thirteen volts")}), record=record)
    said = "\n".join(done.words_of("program"))
    assert f"{volts} volts" in said.lower()
    assert ("That battery is low." in said) is not good


def test_a_wheel_nut_is_judged_by_what_a_click_wrench_shows() -> None:
    """A click wrench shows no figure: a nut that turns before the click was loose."""
    step = checklist("before-leaving-home").steps["nuts"]
    assert step.reading is None and "click" in step.do + step.detail
    walk = Walk.start(checklist("before-leaving-home", "small-single"), new_record("small-single"))
    walk.to("nuts", NEAR).send(Problem())
    assert walk.state.at == "nuts-turn" and "unfit" in walk.state.facts


@pytest.mark.parametrize(("rig_name", "words"), (
    ("fifth-wheel", "one hundred forty foot pounds to one hundred sixty foot pounds"),
    ("survey-trailer", "")))
def test_the_nuts_torque_is_told_only_where_the_rig_file_has_it(rig_name: str, words: str) -> None:
    said = told("before-leaving-home", rig_name)
    assert ("foot pounds" in said) is bool(words) and words in said
    assert "complete." in said, "the rehearsal's own weights are within the limits"
    assert "manual's figure" in checklist("before-leaving-home", rig_name).steps["nuts"].detail


@pytest.mark.parametrize(("pounds", "outcome"), (
    ("six hundred thirty nine", "too light"), ("six hundred forty", ""),
    ("nine hundred sixty", ""), ("nine hundred sixty one", "a lot")))
def test_the_tongue_is_read_in_pounds_as_its_scale_shows_it(pounds: str, outcome: str) -> None:
    """10 to 15 % (common practice) of the 6,400 lb that were read out just before."""
    said = told("before-leaving-home", "tandem-slide", readings={
        "trailer-weight": ("six thousand four hundred pounds",),
        "tongue-weight": (f"{pounds} pounds", "eight hundred pounds")})
    assert ("Move cargo, or leave some home." in said) is bool(outcome)
    assert outcome in said


# --- already mended: both sides of each -----------------------------------------------------------

def test_the_tug_uses_the_truck_alone_and_the_trailers_brakes_come_later() -> None:
    camped = finish("arrive", "fifth-wheel", new_record("fifth-wheel"), NEAR).state.facts
    walk = finish("hitch-up", "fifth-wheel", camped, NEAR).met
    assert walk.index("tug-test") < walk.index("hook-up-bed") < walk.index("cable-test")
    tug = checklist("hitch-up").steps["tug-test"]
    assert "brake" not in (tug.do + tug.detail).lower() and "chocks" in tug.do


def test_thunder_that_comes_up_in_the_middle_of_the_storm_list_is_taken_in() -> None:
    """Nobody goes out while thunder is heard, also when it came after the question."""
    record = finish("arrive", "tandem-slide", new_record("tandem-slide"), NEAR).state.facts
    walk = Walk.start(checklist("storm", "tandem-slide"), record)
    walk.to("awning-storm", {**NEAR, "thunder near": False})
    walk.send(GoTo("thunder near"))
    walk.on({**NEAR, "thunder near": True}, until=lambda s: s.at != "thunder near")
    assert walk.state.at == "thunder-in" and not walk.of(Refused)
    walk.on({**NEAR, "thunder near": True})
    assert "awning out" in walk.state.facts


# --- steps that were missing ---------------------------------------------------------------------

def camped(rig_name: str, *more: str, site: dict[str, bool] = NEAR) -> frozenset[str]:
    return finish("arrive", rig_name, new_record(rig_name) | set(more), site).state.facts


def in_order(met: list[str], *steps: str) -> bool:
    return sorted(steps, key=met.index) == list(steps)


def test_the_coupler_lock_goes_on_when_the_truck_is_away_and_off_before_hitching() -> None:
    """Common practice, no source."""
    walk = finish("arrive", "tandem-slide", new_record("tandem-slide") | {"coupler lock"}, NEAR)
    assert in_order(walk.met, "pull-away", "lock-on") and "coupler lock out" in walk.state.facts
    back = finish("depart", "tandem-slide", walk.state.facts, NEAR)
    assert in_order(back.met, "lock-off", "ball-under")
    assert "coupler lock out" not in back.state.facts
    assert "lock-on" not in met("arrive", "tandem-slide")


def test_the_jacks_height_is_marked_at_unhitching_and_gone_back_to_at_hitching() -> None:
    """Common practice, no source: the height at which the coupler came off is the one to go to."""
    assert in_order(met("arrive", "tandem-slide"), "lift-clear", "jack-mark", "pull-away")
    assert "mark" in checklist("depart").steps["coupler-height"].detail


@pytest.mark.parametrize("name", ("depart", "hitch-up"))
def test_the_brake_controller_is_looked_at_before_the_road(name: str) -> None:
    """Makers' manuals of brake controllers, from memory: it shows that a trailer is on."""
    walk = finish(name, "tandem-slide", camped("tandem-slide"), NEAR).met
    assert in_order(walk, "lights", "controller", "pull-out")
    unbraked = finish(name, "small-single", camped("small-single"), NEAR).met
    assert "controller" not in unbraked
    assert "gain" in checklist(name).steps["controller"].detail


@pytest.mark.parametrize("name", ("depart", "hitch-up", "before-leaving-home"))
def test_the_trucks_tyres_and_the_monitors_go_with_the_trailers_tyres(name: str) -> None:
    """49 CFR 571.110, the placard in the truck's door (from memory)."""
    walk = finish(name, "tandem-slide", camped("tandem-slide", "tyre monitors"), NEAR).met
    assert in_order(walk, "tyre-low", "truck-tyres") and "tyre-monitors" in walk
    assert "tyre-monitors" not in finish(name, "tandem-slide", camped("tandem-slide"), NEAR).met


@pytest.mark.parametrize("name", ("depart", "dump-station"))
def test_the_drained_tank_is_treated_and_the_rest_of_the_grey_water_rinses(name: str) -> None:
    """Common practice, no source."""
    walk = finish(name, "tandem-slide", camped("tandem-slide"), NEAR).met
    assert in_order(walk, "black-push", "grey-pull", "sewer-hose-in", "tank-treat")
    arrived = met("arrive", "tandem-slide")
    assert in_order(arrived, "valves-shut", "cap-off", "lay-sewer-hose", "seal", "valves-stay")
    assert "rins" in told_of("arrive", "valves-stay")
    here = checklist("arrive", "tandem-slide")
    assert not permitted(here.steps["cap-off"], camped("tandem-slide") - {"valves checked"})


def told_of(name: str, step: str) -> str:
    one = checklist(name).steps[step]
    return f"{one.do} {one.detail} {one.caution}".lower()


@pytest.mark.parametrize(("gusts", "leave"), (("fifty seven", False), ("fifty eight", True)))
def test_the_trailer_is_left_before_gusts_that_warnings_are_given_for(
    gusts: str, leave: bool
) -> None:
    """US National Weather Service, high wind and severe thunderstorm warnings: gusts of 58 miles an
    hour and more (from memory)."""
    c = checklist("storm", "small-single")
    done = talk(c, load_language("en"), Script(readings={
        "gusts-read": (f"{gusts} miles per hour", "twenty miles per hour")}),
        record=new_record("small-single") | {"parked", "chocked"})
    said = "\n".join(done.words_of("program"))
    assert ("Leave for a solid building" in said) is leave


def test_the_trailers_skin_is_tried_before_anybody_touches_it() -> None:
    """Common practice, no source: a pen that shows voltage without contact, tried on something live
    first.  A skin that is live: power off, and the outlet is turned down."""
    with_pen = new_record("tandem-slide") | {"voltage pen"}
    walk = Walk.start(checklist("arrive", "tandem-slide"), with_pen).to("skin-test", NEAR)
    assert in_order(walk.met, "power-on", "skin-test")
    walk.send(Problem())
    assert walk.state.at == "skin-off"
    walk.on(NEAR)
    assert walk.state.mode is Mode.CLOSED and walk.untroubled
    assert "plugged in" not in walk.state.facts and "breaker off" in walk.state.facts
    assert walk.met.count("plug-in") == 1, "that outlet is not tried again"
    assert "skin-test" not in met("arrive", "tandem-slide")


@pytest.mark.parametrize("name", ("choose-spot", "before-leaving-home"))
@pytest.mark.parametrize(("own", "other", "words"), (
    (24.0, 0.0, "It is twenty-four feet long."),
    (24.0, 19.0, "It is twenty-four feet long, forty-three feet with both."),
    (0.0, 19.0, "")))
def test_the_length_is_told_where_a_spot_or_a_route_is_chosen(name: str, own: float, other: float, words: str) -> None:
    """Sites are let by length, and states and ferries limit it."""
    c = checklist(name, "survey-trailer")
    c = replace(c, numbers={**c.numbers, "rig length": own, "other length": other})
    said = "\n".join(talk(c, load_language("en"), Script(), record=new_record("survey-trailer")).words_of("program"))
    assert words in said and ("feet long" in said) is bool(words)


@pytest.mark.parametrize("name", ("depart", "hitch-up"))
def test_the_rigs_height_is_told_before_it_drives(name: str) -> None:
    walk = finish(name, "tandem-slide", camped("tandem-slide"), NEAR).met
    assert in_order(walk, "height", "pull-out")
    c = checklist(name, "tandem-slide")
    c = replace(c, numbers={**c.numbers, "rig height": 11.5})
    done = talk(c, load_language("en"), Script(), record=camped("tandem-slide"))
    assert "The rig stands eleven and a half feet high." in "\n".join(done.words_of("program"))
