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
    Paused,
    Problem,
    Reply,
    Respond,
    Resume,
    Say,
    Unclear,
)
from handsfree.hearing.endpointing import Endpointer
from handsfree.language.loader import language_names, load_language
from handsfree.language.matcher import Matcher
from handsfree.session.expecting import expected
from handsfree.session.finalisation_delay import finalisation_delay
from handsfree.speaking.earcons import PATTERNS, Earcon
from handsfree.units import convert
from handsfree.work.levelling import Risers, level_side, steady_ratio
from handsfree.work.water import CODE_LIMIT_PSI
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
    """IRC (2021) P2903.3.1, from memory: the pressure is static, which means no flow."""
    assert "no water running" in told(checklist("arrive").steps["pressure"])


@pytest.mark.parametrize("name", CHECKLISTS)
def test_no_hose_is_told_by_its_colour(name: str) -> None:
    """NSF/ANSI/CAN 61 and 372, NSF/ANSI 14, from memory: the mark counts, colour is custom."""
    hoses = " ".join(told(s) for s in checklist(name).steps.values() if "hose" in told(s))
    assert not re.search(r"\b(white|blue|green|orange|brown|gr[ae]y hose|black hose)\b", hoses)


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
    assert "Never use that hose for drinking water" in rinse.caution


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
    """Common practice, no source that binds; 49 CFR 393.70(d) asks for slack to turn and no dragging,
    as a model (from memory)."""
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
    """Common practice, no source: makers differ on the miles, and no standard was found."""
    assert "nuts" in checklist("before-leaving-home").order
    assert "nuts" in checklist("first-miles").order


def test_the_trailer_is_chocked_by_a_hold_point_before_it_stands_alone() -> None:
    """49 CFR 393.41(a), as a model: it asks chocks of commercial trailers only, of a few kinds that have
    no parking brakes.  That a camper is chocked is common practice."""
    assert checklist("arrive").steps["chock"].hold
    assert "chocked" in checklist("arrive").steps["pull-away"].needs.names()


# --- gas ----------------------------------------------------------------------------------

def test_all_three_alarms_are_tested_before_anything_burns() -> None:
    """NFPA 1192, from memory: LP-gas detector (UL 1484), monoxide (UL 2034), smoke (UL 217)."""
    alarms = told(checklist("arrive").steps["alarm-test"])
    assert all(word in alarms for word in ("smoke", "gas", "monoxide"))
    assert "alarms proved" in checklist("arrive").steps["gas-on"].needs.names()


def test_a_leak_means_out_first_no_switch_and_a_call_from_afar() -> None:
    """Common practice of gas suppliers, no source that binds: everybody out, no electrical switch,
    close the cylinder if that is safe, call from a distance.
    """
    c = checklist("arrive")
    remedy = c.remedies["gas-leak"]
    assert "Everybody out" in remedy.says and "no switch" in remedy.says
    assert remedy.steps.index("leak-out") == 0
    assert "from there" in c.steps["leak-call"].do
    assert "only if you can do it safely" in c.steps["leak-shut"].do


def test_gas_is_shut_for_the_road_by_a_hold_point() -> None:
    """Common practice, no source: valves shut when travelling; no blanket national rule was found."""
    assert checklist("depart").steps["gas-off"].hold
    assert "gas open" in checklist("depart").steps["pull-out"].needs.names()


# --- how a checklist is spoken and answered ------------------------------------------------

def test_a_value_is_answered_with_a_value() -> None:
    """Degani & Wiener, NASA CR-177549 (1990), guidelines, from memory: the reply is the status or
    value itself, not "checked".
    """
    walk = Walk.start(checklist("arrive", "survey-trailer"), new_record("survey-trailer"))
    walk.to("side-level", NEAR)
    assert walk.send(Done()) == (Say(Reply.NEEDS_READING, "side-level"),)
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
    assert walk.send(Pause()) == (Paused("chock"),)
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


def test_a_challenge_has_twelve_words_at_most() -> None:
    """A limit of our own, no source: what one holds in mind with busy hands."""
    told = [len(s.do.split()) for name in CHECKLISTS for s in checklist(name).steps.values()]
    assert max(told) <= 12
    assert max(told) >= 11, "the limit is used, so that it can be broken"


def test_what_settles_a_fact_waits_longer_than_people_take_turns() -> None:
    """Stivers et al. 2009, PNAS 106:10587: the next one begins 0.208 s after the end of a turn, in
    the mean of ten languages, which lie within 0.25 s of it (figures from memory).  A hold point's
    confirmation waits longer than that mean; what may go on, longer than the slowest language's.
    """
    walk = Walk.start(checklist("arrive", "survey-trailer"), new_record("survey-trailer"))
    walk.to("chock", NEAR).send(Respond())
    assert walk.state.mode is Mode.CONFIRM
    matcher = Matcher(load_language("en"))
    assert finalisation_delay("that is right", walk.checklist, walk.state, matcher) > 0.208
    whole = inspect.signature(Endpointer).parameters["trailing"].default
    assert whole > 0.208 + 0.250
    walk.send(Confirm())
    assert finalisation_delay("say again", walk.checklist, walk.state, matcher) < 0.208  # nothing hangs on it


def test_danger_sounds_lie_where_they_are_heard() -> None:
    """ISO 7731:2003, from memory and to be checked: 500 to 2,500 Hz (300 to 3,000 in the edition of
    1986), and the pitch changes; NUREG-0700 rev. 2, 1.3.11: a band between 200 and 5,000 Hz.
    Neither is about spoken words.  The alarm is the one sound that tells of danger.
    """
    assert all(500 <= pulse.hertz <= 2500 for pulse in PATTERNS[Earcon.ALARM])
    assert any(one.hertz != other.hertz for one, other in pairwise(PATTERNS[Earcon.ALARM]))
    assert all(200 <= pulse.hertz <= 5000 for kind in Earcon for pulse in PATTERNS[kind])


def test_wind_in_the_units_of_the_weather_service() -> None:
    """WMO empirical relation, from memory: v = 0.836 B^1.5 m/s; Beaufort 6 is 27.5 mph."""
    six = Fraction(round(0.836 * 6**1.5, 2))
    assert float(six) == pytest.approx(12.29, abs=0.005)
    assert float(convert(six, "metres_per_second", "miles_per_hour")) == pytest.approx(27.5, abs=0.05)


# --- common practice, no source ------------------------------------------------------------

def test_loose_pieces_are_for_less_than_the_owners_lowest_ramp_step() -> None:
    """From the heights of the owner's own set: a step that fits comes first, from its height up.
    On a track of 84 in (plane trigonometry) 0.6 degrees need 0.88 in, 0.9 degrees 1.32 in."""
    assert "less than your lowest ramp step" in told(checklist("arrive").steps["ramp-lay"])
    for lowest, lean, steps in ((1.3, 0.6, False), (1.3, 0.9, True), (0.6, 0.6, True)):
        found = level_side(lean, "left", 84, Risers((lowest, 4.0), 0.25, 8))
        assert bool(found.step) is steps, (lowest, lean)


@pytest.mark.parametrize("grip", (0.3, 0.5, 0.8))
def test_a_pile_as_high_as_it_is_wide_slides_before_it_tips(grip: float) -> None:
    """Statics, as moments about the pile's edge; friction 0.5 of wood or plastic on wood, from
    memory.  What is told is the ratio at that friction: no higher than wide."""
    width, load = 10.0, 500.0
    for height, tips_first in ((0.99 * steady_ratio(grip) * width, False),
                               (1.01 * steady_ratio(grip) * width, True)):
        push = grip * load  # the most that the pile takes before it slides
        about_the_edge = push * height - load * width / 2
        assert (about_the_edge > 0) is tips_first
    assert steady_ratio() == pytest.approx(1)
    for step in ("jack-pad", "ramp-lay"):
        assert re.search("no( stack)? higher than it is wide", told(checklist("arrive").steps[step]))


def test_stabilisers_take_up_play_and_never_lift() -> None:
    """Makers' manuals of stabilising jacks, from memory: for steadying; the rating is printed on the
    jack, and the trailer's weight is for its axles.  Said wherever they are touched."""
    assert "take out wobble. never lift with them" in told(checklist("arrive").steps["stabilisers-down"])
    no = checklist("evening").failing(checklist("evening").steps["jacks-look"])
    assert no is not None and "never lift" in no.says.lower()


def test_water_pressure_goes_by_the_rigs_own_figure() -> None:
    """The manual's or the placard's figure stands in the rig file; 60 psi where there is none is
    common practice, no source; above both stands UPC 608.2 (2015), 80 psi."""
    c = checklist("arrive")
    assert c.limits["water psi high"].default == 60 < CODE_LIMIT_PSI
    assert c.steps["pressure"].reading.limits == ("water psi high",)  # type: ignore[union-attr]
    own = checklist("arrive", "small-single").steps["pressure"].reading
    assert own is not None and own.band(50) == "within" and own.band(51) == "high"


def test_level_before_the_fridge_runs() -> None:
    """Makers' manuals of absorption refrigerators, from memory: level when parked."""
    met = finish("arrive", "tandem-slide", new_record("tandem-slide"), NEAR).met
    assert met.index("side-level") < met.index("fridge-start")
    assert met.index("fore-level") < met.index("fridge-start")
