"""What rules, standards and research ask of words and order, held against what is shipped."""

from __future__ import annotations

import inspect
import re
from fractions import Fraction
from itertools import pairwise

import pytest

from handsfree.checklist.model import Step
from handsfree.engine.state import (
    Changed,
    Confirm,
    Done,
    Mode,
    Offer,
    Pause,
    Problem,
    Respond,
    Resume,
    Say,
    Unclear,
)
from handsfree.hearing.endpointing import Endpointer
from handsfree.language.loader import language_names, load_language
from handsfree.language.units import convert
from handsfree.session.expecting import expected
from handsfree.speaking.earcons import PATTERNS, Earcon
from tests.checklists.walking import CHECKLISTS, NEAR, Walk, checklist, finish, new_record


def told(step: Step) -> str:
    return " ".join((step.caution, step.do, step.detail, step.why)).lower()


# --- electricity --------------------------------------------------------------------------

@pytest.mark.parametrize("name", ["arrive", "depart", "storm", "store-for-winter", "hitch-up"])
def test_dry_hands_are_said_before_a_plug_is_touched(name: str) -> None:
    """29 CFR 1910.334(a)(5)(i), from memory: hands that plug or unplug must not be wet."""
    order = [checklist(name).steps[step] for step in checklist(name).order]
    warned = next(i for i, step in enumerate(order) if "dry hands" in step.caution.lower())
    plugs = [i for i, step in enumerate(order) if "plugged in" in step.gives | step.ends]
    assert plugs and all(warned <= i for i in plugs)


def test_a_tripped_breaker_is_not_closed_again_before_its_cause_is_looked_for() -> None:
    """29 CFR 1910.334(b)(2), from memory."""
    walk = Walk.start(checklist("arrive", "survey-trailer"), new_record("survey-trailer"))
    walk.to("power-on", NEAR)
    walk.send(Problem())
    assert walk.state.at == "shed-loads"
    walk.to("power-on", NEAR)
    walk.send(Problem())
    assert "breaker off" in walk.state.facts and walk.state.at != "power-on"


# --- water --------------------------------------------------------------------------------

def test_static_pressure_is_read_with_nothing_flowing() -> None:
    """IRC 2021 chapter 29 as explained on a web page: static means no flow."""
    assert "nothing flows" in told(checklist("arrive").steps["pressure"])


@pytest.mark.parametrize("name", CHECKLISTS)
def test_no_hose_is_told_by_its_colour(name: str) -> None:
    """NSF/ANSI/CAN 61 and 372, NSF/ANSI 14, from memory: the mark counts, colour is custom."""
    hoses = " ".join(told(s) for s in checklist(name).steps.values() if "hose" in told(s))
    assert not re.search(r"\b(white|blue|green|orange|brown|grey hose|black hose)\b", hoses)


def test_drinking_and_dirty_water_have_hoses_of_their_own() -> None:
    """IPC 608.15.4.2 and IRC P2902.4.3, from memory: hose bibbs are kept from backflow; here by
    never letting one hose, or one name of it, serve both.
    """
    c = checklist("arrive")
    clean, dirty = ([step for step in c.steps.values() if hose in step.gives | step.ends]
                    for hose in ("water hose out", "sewer hose out"))
    assert clean and dirty and not {s.id for s in clean} & {s.id for s in dirty}
    assert not {n for s in clean for n in s.names} & {n for s in dirty for n in s.names}
    rinse = checklist("dump-station").steps["station-rinse"]
    assert "never for drinking" in rinse.caution


def test_water_freezes_before_the_limit_of_a_freezing_night() -> None:
    """Physical data, from memory: water freezes at 32 F; the limit leaves room for cold corners."""
    assert checklist("freezing-night").limits["inside fahrenheit low"].default > 32


# --- towing -------------------------------------------------------------------------------

def test_ball_and_coupler_are_matched_before_they_meet() -> None:
    """Maryland COMAR 11.13.08.10: the ball's size goes with the class of the trailer."""
    order = checklist("hitch-up").order
    assert "same size" in checklist("hitch-up").steps["sizes"].do
    assert order.index("sizes") < order.index("ball-under")


def test_the_cable_goes_to_the_truck_itself_and_the_chains_are_crossed() -> None:
    """Two dealers' safety pages; two car manuals' extracts: crossed, slack to turn, not dragging."""
    steps = checklist("depart").steps
    assert "never to the chains or the ball mount" in steps["hook-up"].detail
    assert "chains crossed" in told(steps["hook-up"])
    assert "slack" in told(steps["hook-up"]) and "drag" in told(steps["hook-up"])


def test_every_lamp_is_named() -> None:
    """49 CFR 571.108 (FMVSS 108), from memory: tail, stop, turn, plate, side markers, reflectors;
    three identification lamps from 80 inches of width.
    """
    lights = told(checklist("depart").steps["lights"])
    for lamp in ("tail", "stop", "left and right", "plate", "side markers", "reflectors", "three"):
        assert lamp in lights


def test_wheel_nuts_before_the_trip_and_after_the_first_miles() -> None:
    """A trailer maker's safety page and memory; makers differ on the miles, no standard found."""
    assert "nuts" in checklist("before-leaving-home").order
    assert "nuts" in checklist("first-miles").order


def test_the_trailer_is_chocked_by_a_hold_point_before_it_stands_alone() -> None:
    """49 CFR 393.41: chocking blocks hold a parked trailer without parking brakes."""
    assert checklist("arrive").steps["chock"].hold
    assert "chocked" in checklist("arrive").steps["pull-away"].needs.names()


# --- gas ----------------------------------------------------------------------------------

def test_all_three_alarms_are_tested_before_anything_burns() -> None:
    """NFPA 1192, from memory: LP-gas detector (UL 1484), monoxide (UL 2034), smoke (UL 217)."""
    alarms = told(checklist("arrive").steps["alarm-test"])
    assert all(word in alarms for word in ("smoke", "gas", "monoxide"))
    assert "alarms proved" in checklist("arrive").steps["gas-on"].needs.names()


def test_a_leak_means_out_first_no_switch_and_a_call_from_afar() -> None:
    """A safety page for campers: everybody out, no electrical switch, close the cylinder if that
    is safe, call from a distance.
    """
    c = checklist("arrive")
    remedy = c.remedies["gas-leak"]
    assert "Everybody out" in remedy.says and "no switch" in remedy.says
    assert remedy.steps.index("leak-out") == 0
    assert "from there" in c.steps["leak-call"].do
    assert "only if you can do it safely" in c.steps["leak-shut"].do


def test_gas_is_shut_for_the_road_by_a_hold_point() -> None:
    """A trade article: valves closed when travelling; advice, no blanket national rule."""
    assert checklist("depart").steps["gas-off"].hold
    assert "gas open" in checklist("depart").steps["pull-out"].needs.names()


# --- how a checklist is spoken and answered ------------------------------------------------

def test_a_value_is_answered_with_a_value() -> None:
    """Degani & Wiener, NASA CR-177549 (1990), guidelines, from memory: the reply is the status or
    value itself, not "checked".
    """
    walk = Walk.start(checklist("arrive", "survey-trailer"), new_record("survey-trailer"))
    walk.to("side-level", NEAR)
    assert walk.send(Done()) == (Say("needs a reading", "side-level"),)
    assert "done" not in expected(walk.checklist, walk.state).commands


@pytest.mark.parametrize("code", language_names())
def test_the_end_of_a_checklist_is_spoken(code: str) -> None:
    """Degani & Wiener, NASA CR-177549 (1990), from memory: the last item says that it is complete."""
    assert "{title}" in load_language(code).templates["closed"]


def test_the_place_is_said_on_pausing_and_the_item_again_on_resuming() -> None:
    """Transport Canada, multi-crew SOP 1.9: "Holding at ..."; Altmann & Trafton 2004: picking up
    after an interruption takes twice the time of the next action; Trafton et al. 2003: a word
    about the place before the interruption helps.
    """
    walk = Walk.start(checklist("arrive", "survey-trailer"), new_record("survey-trailer"))
    walk.to("chock", NEAR)
    assert walk.send(Pause()) == (Say("paused", "chock"),)
    assert load_language("en").templates["paused"].startswith("Holding at {name}")
    assert not expected(walk.checklist, walk.state).responses  # no answer counts meanwhile
    effects = walk.send(Resume())  # what grew old in the break is on record, nothing is said of it
    assert [one for one in effects if not isinstance(one, Changed)] == [Offer("chock", "resumed")]


def test_silence_or_noise_never_releases_a_hold_point() -> None:
    """Quality practice of nuclear work (NQA-1 family), from memory: work stops until the named
    check is released.
    """
    walk = Walk.start(checklist("arrive", "survey-trailer"), new_record("survey-trailer"))
    walk.to("chock", NEAR)
    before = walk.state
    for event in (Unclear(), Unclear("noise"), Done()):
        walk.send(event)
        assert walk.state == before
    walk.send(Respond())
    assert walk.state.mode is Mode.CONFIRM and "chocked" not in walk.state.facts
    walk.send(Confirm())
    assert "chocked" in walk.state.facts


def test_twelve_words_at_the_pace_of_radiotelephony() -> None:
    """ICAO Annex 10 volume II, 5.2.1.5.3, from memory: at most 100 words a minute: 7.2 s."""
    longest = max(len(s.do.split()) for name in CHECKLISTS for s in checklist(name).steps.values())
    assert longest * 60 / 100 <= 7.2


def test_the_end_of_speech_is_waited_for_longer_than_people_do() -> None:
    """Stivers et al. 2009, PNAS 106:10587: turns follow after 0.2 s; languages differ by 0.25 s."""
    trailing = inspect.signature(Endpointer).parameters["trailing"].default
    assert trailing > 0.208 + 0.250


def test_danger_sounds_lie_where_they_are_heard() -> None:
    """ISO 7731:2003, from memory: 300 to 3,000 Hz; NUREG-0700 rev. 2, 1.3.11: a band between 200
    and 5,000 Hz.  Neither is about spoken words.
    """
    for kind in (Earcon.ALARM, Earcon.REFUSED, Earcon.HOLD_POINT):
        assert all(300 <= pulse.hertz <= 3000 for pulse in PATTERNS[kind])
    assert any(one.hertz != other.hertz for one, other in pairwise(PATTERNS[Earcon.ALARM]))


def test_wind_in_the_units_of_the_weather_service() -> None:
    """WMO empirical relation, from memory: v = 0.836 B^1.5 m/s; Beaufort 6 is 27.5 mph."""
    six = Fraction(round(0.836 * 6**1.5, 2))
    assert float(six) == pytest.approx(12.29, abs=0.005)
    assert float(convert(six, "metres_per_second", "miles_per_hour")) == pytest.approx(27.5, abs=0.05)


# --- common practice, no source ------------------------------------------------------------

def test_common_practice_of_levelling_and_steadying() -> None:
    """Common practice, no source: a ramp from an inch up; the tongue jack on about four pieces, the
    less it is run out the steadier; stabilisers take up play and never lift; water not above 50 to
    60 psi unless the manual says otherwise.
    """
    c = checklist("arrive")
    assert "from an inch up" in told(c.steps["ramp-lay"])
    assert "four" in told(c.steps["jack-pad"]) and "steadier" in told(c.steps["jack-pad"])
    assert "take up play. they never lift" in told(c.steps["stabilisers-down"])
    assert c.limits["water psi high"].default == 60


def test_level_before_the_fridge_runs() -> None:
    """Two trade articles: an absorption fridge runs level when parked."""
    met = finish("arrive", "tandem-slide", new_record("tandem-slide"), NEAR).met
    assert met.index("side-level") < met.index("fridge-start")
    assert met.index("fore-level") < met.index("fridge-start")
