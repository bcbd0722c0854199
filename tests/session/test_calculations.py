"""What a step's reading comes to is worked out, told, written down, and judged with its limits."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist, Step
from handsfree.checklist.model import Reading as CheckedReading
from handsfree.checklist.rig_file import load_rig
from handsfree.checklist.sums import SUMS
from handsfree.engine.state import Confirm, GoTo, Read, State, Status, TakeBack
from handsfree.errors import AuthorError
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import language_names, load_language
from handsfree.language.readings import Reading
from handsfree.rehearsal.script import Script
from handsfree.session.calculations import Calculations, Result
from handsfree.session.conversation import Conversation
from handsfree.session.wording import Wording
from handsfree.speaking.normalisation_table import load_normaliser
from handsfree.storage import lines
from handsfree.storage.lines import WorkedOut, to_plain
from handsfree.storage.paths import checklists_folder, find_checklist, find_rig
from handsfree.testing import MemoryLog, Talk, talk
from handsfree.work import cord, power, steps, towing, voltage, water
from handsfree.work.finding import Finding
from handsfree.work.steps import FUNCTIONS
from tests.work.cases import every_finding


@cache
def loaded(name: str, rig_name: str) -> tuple[Checklist, frozenset[str]]:
    rig = load_rig(find_rig(rig_name))
    checklist = load_checklist(find_checklist(name), rig=rig, library=checklists_folder())
    return checklist, checklist.start_facts | rig.has


def walk(rig_name: str, name: str = "arrive", *, record: frozenset[str] = frozenset(),
         **script: object) -> Talk:
    checklist, start = loaded(name, rig_name)
    return talk(checklist, load_language("en"), Script(**script),  # type: ignore[arg-type]
                record=record or start)


def told(rig_name: str, name: str = "arrive", **script: object) -> str:
    return "\n".join(walk(rig_name, name, **script).words_of("program"))


POWER = {"site power": True, "far side": False}
FAR = {"site power": True, "far side": True}


def test_the_table_and_the_functions_go_together() -> None:
    assert set(SUMS) == set(FUNCTIONS)


def test_what_the_table_names_is_declared() -> None:
    """Numbers are limits of the library, facts its facts, earlier readings those of some step."""
    lists = [load_checklist(path) for path in checklists_folder().glob("*.yaml")]
    called = {step.reading.called for c in lists for step in c.steps.values() if step.reading}
    used = {step.sum for c in lists for step in c.steps.values()}
    for name, needs in SUMS.items():
        assert name in used
        assert set(needs.numbers) <= set(lists[0].limits), name
        assert set(needs.earlier) <= called, name
        assert set(needs.facts) <= set().union(*(c.facts for c in lists))


# --- levelling: common practice, no source ------------------------------------------------

def test_a_lean_is_told_in_inches_with_the_ramp_step_that_makes_it() -> None:
    """84 in x tan(3 deg) = 4.402 in (plane trigonometry); ramp steps of 1, 2 1/4 and 3 1/2 in."""
    said = told("survey-trailer", readings={"side-level": ("three degrees", "zero degrees")})
    assert ("Three degrees.\nThe low side has to come up four and a half inches."
            " The best you have gives three and a half inches and leaves zero point six"
            " degrees.") in said


def test_a_step_that_fits_is_named() -> None:
    """84 in x tan(1.5 deg) = 2.2 in."""
    said = told("survey-trailer", readings={"side-level": ("one point five degrees", "zero")})
    assert ("has to come up two and a quarter inches. Step two of your ramps gives two and a quarter"
            " inches and leaves zero degrees.") in said


def test_beyond_the_rigs_limit_the_ramps_are_refused() -> None:
    """84 in x tan(5 deg) = 7.349 in; the limit is three degrees."""
    done = walk("survey-trailer", readings={"side-level": ("five degrees",)},
                at={"spot-leave": ("finish for now",)})
    said = "\n".join(done.words_of("program"))
    assert "would have to come up seven and a quarter inches. That is too far to raise this trailer." in said
    assert "Stay hitched. Say finish for now, and choose another spot." in said
    facts = done.conversation.state.facts
    assert "side settled" not in facts and "hitched" in facts


def test_the_slope_of_a_spot_is_told_before_backing_in() -> None:
    said = told("survey-trailer", "choose-spot",
                readings={"slope": ("four degrees", "one point five degrees")})
    assert "Four degrees.\nThe low side would have to come up" in said
    assert "too far to raise this trailer" in said and "Look for another spot, on foot." in said
    assert "Step two of your ramps" in said


def test_the_tongue_too() -> None:
    """200 in x tan(2 deg) = 6.984 in; the jack has 14 in."""
    said = told("survey-trailer", readings={"fore-level": ("two degrees", "zero degrees")})
    assert "The nose has to come down seven inches." in said


def test_a_jack_that_is_too_short_is_told() -> None:
    """130 in x tan(6 deg) = 13.66 in; the jack has 10 in."""
    said = told("small-single", answers={"nose low": True},
                readings={"fore-level": ("six degrees", "zero degrees")})
    assert ("The nose has to come up thirteen and three quarters inches, and the jack is three and"
            " three quarters inches short.") in said


def test_a_rig_that_was_not_measured_is_told_no_inches() -> None:
    checklist, record = loaded("arrive", "small-single")
    bare = replace(checklist, numbers={**checklist.numbers, "track": 0.0})
    done = talk(bare, load_language("en"), Script(
        readings={"side-level": ("three degrees", "zero degrees")}), record=record)
    assert "come up" not in "\n".join(done.words_of("program"))


# --- power --------------------------------------------------------------------------------

def test_the_breakers_number_is_told_as_what_may_run_for_hours() -> None:
    said = told("survey-trailer", answers=POWER, readings={"supply-amps": ("thirty amps",)})
    assert "For a continuous load, twenty-four amps at most." in said


def test_a_breaker_that_does_not_exist_is_refused_although_within_limits() -> None:
    done = walk("survey-trailer", answers=POWER,
                readings={"supply-amps": ("forty amps", "thirty amps")})
    said = "\n".join(done.words_of("program"))
    assert "Forty amps.\nI do not know that breaker size." in said
    assert "Find a breaker no bigger than your cord." in said
    bands = [line.band for line in done.log.lines
             if line.what == "reading" and line.step == "supply-amps"]
    assert bands == ["stop", "within"]


def test_the_load_sum_counts_what_is_on_by_the_record() -> None:
    """300 W always on + 1,500 W = 15 A on 30 A; 300 + 2,700 W = 25 A is over 24 A for hours."""
    readings = {"supply-amps": ("thirty amps",), "load": ("fifteen hundred watts",)}
    said = told("survey-trailer", answers=POWER, readings=readings)
    assert "All together, that fits, with eleven amps to spare." in said
    said = told("survey-trailer", answers=POWER, readings={
        **readings, "load": ("two thousand seven hundred watts", "five hundred watts")})
    assert "All together, that is twenty-five amps, too much for a continuous load." in said


def test_too_much_for_the_breaker_leads_to_the_remedy() -> None:
    said = told("survey-trailer", answers=POWER, readings={
        "supply-amps": ("twenty amps",), "load": ("three thousand watts", "one thousand watts")})
    assert "All together, that is too much for a breaker of twenty amps.\nSwitch the biggest load off" in said


@pytest.mark.parametrize("lamps, meaning", [
    ((True, False, False), "an open ground"), ((False, True, False), "an open neutral"),
    ((False, False, False), "No lights mean no power"), ((False, True, True), "hot and ground"),
    ((True, False, True), "reversed polarity")])
def test_the_testers_lamps_are_asked_and_told(lamps: tuple[bool, ...], meaning: str) -> None:
    done = walk("survey-trailer", answers={
        **POWER, **dict(zip(("first lamp", "second lamp", "red lamp"), lamps, strict=True))},
        at={"tester-lights": ("there is a problem",)})
    said = "\n".join(done.words_of("program"))
    assert meaning in said and "Do not connect." in said
    assert [line.say.split(".")[0] for line in done.log.lines
            if line.what == "worked out" and line.step == "red lamp"] == ["tester"]


def test_one_high_and_one_low_leg_are_a_loose_neutral_although_each_is_within_limits() -> None:
    done = walk("fifth-wheel", answers=POWER, readings={
        "supply-amps": ("fifty amps",), "leg-one": ("one hundred and eleven volts", "one eighteen"),
        "leg-two": ("one hundred twenty seven volts", "one hundred twenty volts")})
    said = "\n".join(done.words_of("program"))
    assert "One leg is high and one is low: the neutral may be loose." in said
    assert "Switch that outlet's breaker off." in said
    offered = [prompt.about for prompt in done.prompts if prompt.key == "offer"]
    again = offered[offered.index("fault-off"):]
    assert again[:10] == ["fault-off", "tester-move", "second-amps", "breaker-first", "look-over",
                          "tester-in", "test-on", "tester-lights", "leg-one", "leg-two"]
    assert "plugged in" in done.conversation.state.facts


def test_one_leg_that_is_read_close_to_a_limit() -> None:
    said = told("survey-trailer", answers=POWER,
                readings={"outlet-volts": ("one hundred eight point five volts",)})
    assert "eight point five volts.\nThat is close to the limit." in said


@pytest.mark.parametrize(("said", "outcome"), (
    ("one hundred and five volts", "one hundred five volts. That is too low."),
    ("ninety five volts", "ninety-five volts. That is too low."),
    ("one hundred and thirty volts", "one hundred thirty volts. That is too much.")))
def test_a_reading_beyond_the_rigs_limits_has_one_outcome(said: str, outcome: str) -> None:
    """Not 'That is too low. Run little, and watch it. This outlet is not safe.'"""
    talked = told("survey-trailer", answers=POWER, readings={
        "supply-amps": ("thirty amps",), "outlet-volts": (said,) * 3})
    at = talked.lower().index(outcome.lower())
    after = talked[at:at + 300].lower().partition("(heard)")[0]
    assert after.count("too low") + after.count("too much") == 1, after
    for other in ("run little", "watch it", "to connect", "is good", "close to a limit"):
        assert other not in after, after


def test_a_tap_that_is_open_is_told_to_be_shut() -> None:
    said = told("survey-trailer", answers={"site water": True}, readings={
        "pressure": ("eighty five psi", "fifty psi")})
    assert "Keep the tap shut" not in said and "\nShut the tap. Answer: tap is closed." in said


def test_a_tyre_above_the_placard_and_within_the_owners_limits_keeps_its_air() -> None:
    assert set(SUMS["tyres"].numbers) == {"tyre psi low", "tyre psi high"}


def test_an_extension_is_judged_before_it_is_plugged() -> None:
    """10 AWG, 24 A: 50 ft lose 2.976 V; NFPA 70 chapter 9 table 8."""
    done = walk("survey-trailer", answers=FAR, readings={
        "supply-amps": ("thirty amps",), "outlet-volts": ("one hundred and eighteen volts",),
        "extension-feet": ("fifty feet",)})
    said = "\n".join(done.words_of("program"))
    assert "The extension loses three volts. That is fine." in said
    offered = [prompt.about for prompt in done.prompts if prompt.key == "offer"]
    assert offered.index("extension-feet") < offered.index("plug-in")


def test_an_extension_that_would_starve_the_trailer_is_not_used() -> None:
    """10 AWG, 24 A, 200 ft lose 11.9 V: from 112 V that leaves 100, below every edition's range."""
    done = walk("survey-trailer", answers=FAR, readings={
        "supply-amps": ("thirty amps",), "outlet-volts": ("one hundred and twelve volts",),
        "extension-feet": ("two hundred feet",) * 3})
    said = "\n".join(done.words_of("program"))
    assert "The trailer would get only one hundred volts. Do not use that extension." in said
    assert "Leave power off here, or park closer to the pedestal." in said
    assert "plugged in" not in done.conversation.state.facts


# --- water and drain ----------------------------------------------------------------------

def test_a_regulator_that_does_not_hold_is_told() -> None:
    said = told("tandem-slide", answers={"site water": True},
                readings={"pressure": ("fifty eight psi",)})
    assert "Fifty-eight psi.\nThat is more than the regulator is set for. It is not holding." in said


def test_water_above_the_limit_of_the_manual_is_told_with_it() -> None:
    said = told("small-single", answers={"site water": True}, readings={
        "pressure": ("ninety psi", "forty five psi")})
    assert "Your trailer takes fifty psi at most." in said


def test_the_dose_of_the_fresh_tank() -> None:
    """30 gallons at 50 mg/l from 6 % bleach: 2 x 49.7 ml (molar masses), 3.4 fluid ounces."""
    said = told("survey-trailer", "bring-back", readings={"bleach-strength": ("six percent",)})
    assert ("Three point five fluid ounces of that bleach, or ninety-nine milliliters, in a full"
            " tank. Let it stand four hours.") in said


def test_the_hose_and_its_supports() -> None:
    """14 in less 4 over 20 ft: half an inch a foot; nine supports, each an inch lower."""
    said = told("tandem-slide", answers={"site sewer": True}, readings={
        "inlet-height": ("four inches",), "sewer-feet": ("twenty feet",)})
    assert ("The hose drops ten inches. Set the first support thirteen inches high, each one after that one inch"
            " lower, the last five inches.") in said


def test_a_hose_that_runs_uphill_is_not_laid() -> None:
    checklist, record = loaded("arrive", "tandem-slide")
    low = replace(checklist, numbers={**checklist.numbers, "outlet height": 10.0})
    done = talk(low, load_language("en"), Script(answers={"site sewer": True}, readings={
        "inlet-height": ("twelve inches",), "sewer-feet": ("ten feet", "ten feet")}), record=record)
    assert "That runs uphill. Leave the valves shut." in "\n".join(done.words_of("program"))
    assert "sewer hose out" not in done.conversation.state.facts


# --- towing -------------------------------------------------------------------------------

TICKET = {
    "steer-alone": ("three thousand pounds",), "drive-alone": ("two thousand eight hundred",),
    "steer-hitched": ("two thousand seven hundred pounds",),
    "drive-hitched": ("three thousand nine hundred pounds",),
    "trailer-hitched": ("five thousand six hundred pounds",),
    "steer-with-bars": ("two thousand nine hundred pounds",),
    "drive-with-bars": ("three thousand six hundred pounds",),
    "trailer-with-bars": ("five thousand seven hundred pounds",)}


def test_three_weighings_spoken_one_after_the_other() -> None:
    """Differences of weighings: gross 12,200 - 5,800, tongue 6,600 - 5,800 lb."""
    said = told("tandem-slide", "before-leaving-home", answers={"scale ticket": True},
                readings=TICKET)
    weighs = ("The trailer weighs six thousand four hundred pounds, with eight hundred pounds on"
              " the hitch, twelve point five percent. All within the ratings I have.")
    assert said.count(weighs) == 2  # without bars, and with them
    assert "seven hundred pounds to spare on each axle" in said


def test_a_light_tongue_leads_to_all_weighings_anew() -> None:
    done = walk("tandem-slide", "before-leaving-home", answers={"scale ticket": True}, readings={
        **TICKET, "drive-hitched": ("three thousand four hundred pounds",) * 2,
        "steer-hitched": ("two thousand eight hundred pounds",) * 2})
    said = "\n".join(done.words_of("program"))
    assert "with only six point seven percent on the hitch. It may sway." in said
    offered = [prompt.about for prompt in done.prompts if prompt.key == "offer"]
    after = offered[offered.index("shift-weigh") + 1:]
    assert after[:5] == ["steer-alone", "drive-alone", "steer-hitched", "drive-hitched",
                         "trailer-hitched"]


def test_the_share_on_the_hitch_is_told_in_pounds_and_axles() -> None:
    """768 of 6,400 lb are 12 %; (6,400 - 768) / 2 = 2,816 lb an axle of 3,500."""
    said = told("tandem-slide", "before-leaving-home", readings={
        "trailer-weight": ("six thousand four hundred pounds",),
        "tongue-weight": ("seven hundred sixty eight pounds",)})
    assert "That is twelve percent of the trailer's weight on the hitch." in said
    assert "with six hundred eighty-four pounds to spare on each axle" in said


def test_a_hitch_that_carries_too_much_fails_although_the_share_is_usual() -> None:
    checklist, record = loaded("before-leaving-home", "tandem-slide")
    weak = replace(checklist, numbers={**checklist.numbers, "hitch rating": 500.0})
    done = talk(weak, load_language("en"), Script(readings={
        "trailer-weight": ("six thousand four hundred pounds",),
        "tongue-weight": ("seven hundred sixty eight pounds",) * 4}), record=record)
    said = "\n".join(done.words_of("program"))
    assert "over the hitch's rating. Do not tow it like that.\n" in said
    assert "Do not tow it like that. See a dealer." in said


def test_a_tyre_far_under_its_placard() -> None:
    """65 psi x 0.75 = 48.75: FMVSS 138 (from memory), borrowed."""
    said = told("tandem-slide", "before-leaving-home", readings={
        "tyre-low": ("forty eight psi", "sixty six psi")})
    assert "That is at least a quarter under the placard. Do not drive on it." in said


# --- daylight -----------------------------------------------------------------------------

def test_the_dark_is_told_for_a_place_that_was_read_out() -> None:
    """Minutes from `astral` for 40 N, 105 W; see tests/outside/test_daylight.py."""
    clock = datetime.fromisoformat("2026-10-04T16:00-06:00")
    said = told("survey-trailer", "choose-spot", clock=clock, answers={"coordinates read": True},
                readings={"latitude": ("forty degrees",),
                          "longitude": ("minus one hundred and five degrees",)})
    assert "It will be dark in three hours and five minutes.\nAt least an hour of daylight left?" in said


def test_without_a_clock_or_a_place_nothing_is_told_of_the_dark() -> None:
    clock = datetime.fromisoformat("2026-10-04T16:00-06:00")
    assert "dark in" not in told("survey-trailer", "choose-spot", clock=clock)
    assert "dark in" not in told("small-single", "choose-spot")


def test_work_that_would_end_in_the_dark() -> None:
    checklist, record = loaded("arrive", "survey-trailer")
    here = replace(checklist, numbers={**checklist.numbers, "latitude": 40.0, "longitude": -105.0})
    done = talk(here, load_language("en"), Script(
        clock=datetime.fromisoformat("2026-10-04T18:30-06:00")), record=record)
    first = done.words_of("program")[:3]
    assert first[1].startswith("It will be dark in thirty-") and "would finish in the dark" in first[1]
    assert first[2].startswith("Walk the spot.")


# --- the record ---------------------------------------------------------------------------

def conversing(name: str, rig_name: str) -> Conversation:
    checklist, record = loaded(name, rig_name)
    conversation = Conversation(checklist, load_language("en"), MemoryLog())
    conversation.begin(record | {"parked", "chocked"}, 0.0)
    return conversation


def reads(conversation: Conversation, step: str, value: int, unit: str) -> list[str]:
    conversation.take(GoTo(step), 1.0)
    reading = Reading(Fraction(value), unit)
    band = conversation.checklist.steps[step].reading.band(float(value))  # type: ignore[union-attr]
    conversation.take(Read(band), 2.0, reading=reading)
    return [prompt.text for prompt in conversation.take(Confirm(), 3.0)]


def test_what_was_told_stands_in_the_events_own_line() -> None:
    conversation = conversing("before-leaving-home", "tandem-slide")
    conversation.state = replace(conversation.state, facts=conversation.state.facts | {
        "scale ticket answered"})
    reads(conversation, "trailer-weight", 6400, "pounds")
    reads(conversation, "tongue-weight", 768, "pounds")
    line = [x for x in conversation._log.lines  # type: ignore[attr-defined]
            if x.what == "event" and x.event == Confirm()][-1]
    worked = [then for then in line.then if isinstance(then, WorkedOut)]
    assert [(then.sum, then.say) for then in worked] == [
        ("tongue", "tongue.good"), ("tongue", "axles.good")]
    assert worked[0].values["share_percent"] == 12


def test_a_replay_remembers_the_readings_and_leads_to_the_same_state() -> None:
    first = conversing("before-leaving-home", "tandem-slide")
    for step, value in (("steer-alone", 3000), ("drive-alone", 2800), ("steer-hitched", 2700)):
        first.state = replace(first.state, facts=first.state.facts | {
            "scale ticket", "scale ticket answered"})
        reads(first, step, value, "pounds")
    again = Conversation(first.checklist, first.language, MemoryLog())
    again.remember(tuple(first._log.lines))  # type: ignore[attr-defined]
    again.state = first.state
    for conversation in (first, again):
        reads(conversation, "drive-hitched", 3900, "pounds")
        said = reads(conversation, "trailer-hitched", 5600, "pounds")
        assert any("eight hundred pounds on the hitch" in text for text in said)


def test_a_reading_that_was_taken_back_counts_no_more() -> None:
    conversation = conversing("arrive", "tandem-slide")
    conversation.state = replace(conversation.state, facts=conversation.state.facts | {
        "site sewer", "site sewer answered"})
    reads(conversation, "inlet-height", 4, "inches")
    assert any("ten inches" in text for text in reads(conversation, "sewer-feet", 20, "feet"))
    conversation.take(TakeBack("inlet-height"), 4.0)
    assert any("fourteen inches" in text for text in reads(conversation, "sewer-feet", 20, "feet"))


def test_a_sum_never_makes_good_a_reading_that_is_out_of_its_limits() -> None:
    conversation = conversing("arrive", "survey-trailer")
    for band in ("low", "high"):
        event = conversation.working_out.judged(Read(band), Fraction(30), conversation.state)
        assert event.band in (band, "stop")


# --- authors ------------------------------------------------------------------------------

@pytest.mark.parametrize("step, said", [
    ("{id: a, do: Look., sum: lift side}", "no reading"),
    ("{id: a, do: Look., sum: lift sid}", "lift sid"),
    ("{id: a, do: Look., sum: lift side, reading: {of: volts, at most: 3}}", "works on a reading in"),
    ("{id: a, do: Look., sum: dusk, reading: {of: volts, at most: 3}}", "works on no reading"),
])
def test_a_sum_that_cannot_be_done_is_refused_by_line(tmp_path: Path, step: str, said: str) -> None:
    path = tmp_path / "x.yaml"
    path.write_text(f"title: T\nsteps:\n  - {step}\n")
    with pytest.raises(AuthorError, match=said) as caught:
        load_checklist(path)
    assert ":3" in str(caught.value) or "line 3" in str(caught.value)


@pytest.mark.parametrize("code", language_names())
def test_every_language_can_tell_every_finding_that_the_work_room_gives(code: str) -> None:
    """Keys by reading the sources of the functions that steps use."""
    import handsfree.work as room

    templates = load_language(code).templates
    keys = set()
    for name in ("levelling", "power", "cord", "voltage", "water", "sewer", "ticket", "tyres",
                 "daylight", "battery", "gas", "sun", "generator", "fuel"):
        source = (Path(room.__file__).parent / f"{name}.py").read_text(encoding="utf-8")
        keys |= set(re.findall(r'"((?:level|fridge|power|cord|volts|loaded|water|tank|sewer|ticket|tyres|dusk'
                               r'|battery|gas|sun|generator|range)'
                               r'\.[a-z.-]+)"', source))
    unused = {"level.fore.beyond", "level.side.untold", "level.fore.down.missing", "water.setting", "water.weight",
              "cord.breaker", "battery.good", "battery.low", "battery.empty", "gas.left", "gas.over",
              # Of what was not asked for by voice: how long it has to last, how cold it is.
              "battery.short", "battery.cold", "sun.short", "gas.short", "gas.cold", "tank.short",
              "generator.short", "range.short",
              "volts.same-leg", "volts.between", "tyres.hot", "tyres.low-hot"}
    missing = {key for key in keys - unused if f"sums.{key}" not in templates}
    assert missing == set()


def spoken_findings() -> list[Finding]:
    """One finding for each sentence that a step can tell, where the work room's own cases have it."""
    return [*every_finding(), power.judge_supply(30), power.judge_supply(40),
            power.judge_supply(50, parts={"cord": 30}),
            power.judge_supply(50, parts={"main": 30}), power.judge_supply(7, mains=True),
            replace(power.judge_total(4000, power.SUPPLIES[30]), say="power.over-main"),
            *(cord.mains_drop(2.5 if feet else 1.5, feet or 60, 10, breaker_a=16) for feet in (0, 60, 90)),
            *(voltage.judge_loaded(volts, 120) for volts in (119, 110, 100, 130)),
            towing.set_torque(90, 120), towing.set_torque(90, 90),
            towing.clearance(11.5), towing.length(24), towing.length(24, 19),
            towing.without_brakes(1400), towing.without_brakes(2600),
            power.judge_total(6000, power.SUPPLIES[50]),
            water.judge_gauge(58, setting_psi=50, limit_psi=60),
            *steps.side(steps.Given(2.0, {"track": 84.0}))]


@pytest.mark.parametrize("code", language_names())
def test_every_sentence_of_a_sum_is_filled_and_can_be_read_aloud(code: str) -> None:
    """As the voice gets it: no digit, no abbreviation, no brace is left; and all were tried."""
    language, aloud = load_language(code), load_normaliser(code)
    checklist, _ = loaded("arrive", "survey-trailer")
    wording, working = Wording(checklist, language), Calculations(checklist, language)
    tried = set()
    for finding in spoken_findings():
        if f"sums.{finding.say}" not in language.templates:
            continue
        tried.add(f"sums.{finding.say}")
        said = aloud.say(working.prompt(Result("a", "b", finding), wording).text)
        assert said and not re.search(r"[\d{}_]", said), (finding.say, said)
        assert len(said.split()) <= 40, (finding.say, said)
        if code == "en":
            assert not re.search(r"[^A-Za-z.,:;?!' -]|\b(psi|LP|CO|RV)\b", said), said
    keys = {key for key in language.templates if key.startswith("sums.")
            and not key.startswith(("sums.words.", "sums.region."))}
    assert keys - tried == set()


def test_a_battery_without_site_power_is_told_with_its_hours() -> None:
    """100 Ah of lead-acid at 400 W (33.3 A): 0.5 x 20 x (5 / 33.3)^1.3 = 0.85 h."""
    said = told("tandem-slide", answers={"site power": False}, readings={
        "battery": ("twelve point six volts",)})
    assert ("Within limits.\nA full battery runs what is always on for about one hour, down to"
            " fifty percent.") in said


def test_gas_in_a_freezing_night_is_told_in_days() -> None:
    """30 lb half full: 15 x 21,548 / (30,000 x 24 x 33 / 65) = 0.88 days; 18 percent left would boil off
    too little."""
    said = told("tandem-slide", "freezing-night", record=loaded("freezing-night", "tandem-slide")[1] | {
        "parked", "chocked", "gas open"}, answers={"pipes heated": True},
        readings={"gas-left": ("fifty percent",)})
    assert "Within limits.\nAt freezing, with the furnace running, that lasts one day." in said


def test_values_are_told_in_the_words_of_their_units() -> None:
    language, aloud = load_language("en"), load_normaliser("en")
    checklist, _ = loaded("arrive", "small-single")
    wording, working = Wording(checklist, language), Calculations(checklist, language)

    def told_of(finding: Finding) -> str:
        return aloud.say(working.prompt(Result("a", "b", finding), wording).text)

    assert told_of(water.judge_pressure(56, limit_psi=55)) == (
        "That is too high. Your trailer takes fifty-five P S I at most.")
    assert told_of(power.judge_supply(50)) == (
        "For a continuous load, forty amps at most. That is code in the United States.")
    assert told_of(steps.side(steps.Given(0.55, {"track": 84.0}))[0]).endswith(
        "three quarters of an inch.")


ENGLISH = load_language("en")


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.sampled_from(sorted(SUMS)), st.data())
def test_no_number_of_a_rig_or_a_reading_stops_a_sum(name: str, data: st.DataObject) -> None:
    """Whatever stands in a rig file or is read out: findings that can be told, or none."""
    checklist, record = loaded("before-leaving-home", "tandem-slide")
    number = st.one_of(st.just(0.0), st.floats(-1e3, 1e5), st.floats(-1e9, 1e9))
    needs = SUMS[name]
    step = Step("a", "Do.", sum=name, question=not needs.unit,
                reading=CheckedReading(needs.unit, -1e9, 1e9, "a") if needs.unit else None)
    odd = replace(checklist, steps={**checklist.steps, "a": step}, numbers={
        **checklist.numbers, **{key: data.draw(number) for key in needs.numbers}})
    language = ENGLISH
    wording, working = Wording(odd, language), Calculations(odd, language, lambda: data.draw(
        st.datetimes(timezones=st.just(UTC), min_value=datetime(1950, 1, 1),
                     max_value=datetime(2090, 1, 1))))
    working._readings.update({key: data.draw(number) for key in needs.earlier})
    state = State(frozenset(needs.facts) | record, tuple(Status.OPEN for _ in odd.steps), at="a")
    value = data.draw(number)
    line = lines.Reading("a", "", value, "high") if needs.unit else lines.Reported("a", "yes")
    for result in working.results([line], state):
        assert working.prompt(result, wording).text
        json.dumps(to_plain(result.line()), allow_nan=False)
    if needs.unit:
        assert working.judged(Read("within"), Fraction(value), state).band in ("within", "stop")


def at_the_level(length: float) -> Conversation:
    checklist, start = loaded("arrive", "tandem-slide")
    numbers = {**checklist.numbers, "level length": length}
    conversation = Conversation(replace(checklist, numbers=numbers), load_language("en"),
                                MemoryLog())
    conversation.begin(start, 0.0, known=frozenset())
    for words in ("done", "area is clear", "that is right", "done", "truck is parked",
                  "that is right", "no", "no", "no", "done"):
        conversation.hear(Hypothesis(words, 1.0, 0.0, 1.0), 1.0)
    assert conversation.state.at == "side-level"
    return conversation


def test_an_angle_may_be_told_in_inches_of_a_level_whose_length_is_known() -> None:
    """One inch over two feet is 2.4 degrees (its arc tangent), half an inch 1.2."""
    conversation = at_the_level(24.0)
    assert {"inch", "inches", "degrees"} <= conversation.grammar().units
    for words, degrees in (("one inch", "two point four"), ("half an inch", "one point two"),
                           ("two degrees", "two degrees")):
        said = conversation.hear(Hypothesis(words, 1.0, 0.0, 1.0), 1.0)
        assert degrees in said[0].text.lower(), (words, said)
        conversation.hear(Hypothesis("no change it", 1.0, 0.0, 1.0), 1.0)
    conversation.hear(Hypothesis("one inch", 1.0, 0.0, 1.0), 1.0)
    said = conversation.hear(Hypothesis("that is right", 1.0, 0.0, 1.0), 1.0)
    assert "inches" in " ".join(prompt.text for prompt in said), "the lift that it takes"


def test_without_the_length_of_the_level_inches_are_no_angle() -> None:
    conversation = at_the_level(0.0)
    assert "inches" not in conversation.grammar().units
    said = conversation.hear(Hypothesis("one inch", 1.0, 0.0, 1.0), 1.0)
    assert "degrees" in said[0].text and conversation.state.pending is None
