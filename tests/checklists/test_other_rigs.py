"""Pop-up, truck camper, motorhome: what a technician of the trade would hear in the lists as wrong.

Read off the lists as each rig hears them; which step is whose, and why, stands beside each check
(common practice, no source, where nothing else is named).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.model import Remedy, Step
from handsfree.cli import main
from handsfree.cli.stand_by import _Settings
from handsfree.engine.state import GoTo, Mode, Problem, Refused, Skip
from handsfree.language.loader import load_language
from handsfree.session.interview import interview
from handsfree.session.settling import unsettled
from handsfree.session.state_questions_file import load_state_questions
from handsfree.session.wording import Wording, of_its_rig
from handsfree.standby.answering import Answers
from handsfree.standby.phrases import load_words
from tests.checklists.test_stay import YEAR
from tests.checklists.walking import (
    LIBRARY,
    NEAR,
    RIGS,
    Walk,
    checklist,
    finish,
    new_record,
    right_answer,
)
from tests.checklists.walking import rig as load

SPOKEN = ("do", "detail", "why", "caution", "respond")


def year(rig: str) -> Iterator[Walk]:
    record = new_record(rig)
    for name in YEAR:
        walk = finish(name, rig, record, NEAR)
        record = walk.state.facts
        yield walk


def heard(rig: str) -> Iterator[tuple[str, str]]:
    """Step (or remedy) and sentence, of all that is said over a year, and of what follows a no."""
    for walk in year(rig):
        c = walk.checklist
        for name in walk.met:
            step = c.steps[name]
            yield from ((name, getattr(step, key)) for key in SPOKEN)
            yield from said_after(c.remedies.get(step.remedy), c.steps, walk.state.facts)
            yield from said_after(c.remedies.get(step.stop), c.steps, walk.state.facts)


def said_after(
    remedy: Remedy | None, steps: Mapping[str, Step], facts: frozenset[str]
) -> Iterator[tuple[str, str]]:
    if remedy is None:
        return
    yield remedy.id, remedy.says
    yield remedy.id, remedy.gives_up
    for name in remedy.steps:
        if all(steps[name].only_if.holds(facts | {extra}) is False for extra in ("", "car on", "parked")):
            continue
        yield from ((name, getattr(steps[name], key)) for key in SPOKEN)


NOT_SAID = {
    # A motorhome has neither hitch nor truck nor stabilisers that are cranked; a camper no hitch.
    "motorhome": r"\b(trailer|truck|stabili[sz]er|kingpin|tongue|coupler|unhitch\w*|stay hitched|landing legs)\b",
    "truck-camper": r"\b(trailer|kingpin|tongue|coupler|unhitch\w*|stay hitched|landing legs|chocks? (out|in|the))\b",
    "pop-up": r"\b(motor ?home|kingpin|toilet lid|shower door)\b",
}


@pytest.mark.parametrize("rig", NOT_SAID)
def test_nobody_is_told_of_what_the_rig_does_not_have(rig: str) -> None:
    wrong = {(name, text) for name, text in heard(rig) if re.search(NOT_SAID[rig], text, re.IGNORECASE)}
    assert wrong == set()


def test_no_sentence_has_two_motor_homes_in_it() -> None:
    """One word stands for truck and trailer: a sentence with both makes no sense any more."""
    twice = {(name, sentence) for name, text in heard("motorhome")
             for sentence in re.split(r"[.?!]", text) if sentence.lower().count("motor home") > 1}
    assert twice == set()


@pytest.mark.parametrize("rig", [rig for rig in RIGS if rig != "small-single"])
def test_a_rig_with_a_brake_cable_is_told_to_clip_it(rig: str) -> None:
    has = checklist("depart", rig).start_facts | new_record(rig)
    told = " ".join(text for name, text in heard(rig) if name.startswith("hook-up"))
    assert (re.search("(brake|breakaway) cable", told, re.IGNORECASE) is not None) == ("brake cable" in has)


@pytest.mark.parametrize("rig", ["small-single"])
def test_a_rig_without_a_brake_cable_is_not_told_to_clip_one(rig: str) -> None:
    told = " ".join(text for name, text in heard(rig) if name.startswith("hook-up"))
    assert "hain" in told and "cable" not in told


def test_a_motorhome_in_a_storm_has_its_chocks_looked_at_and_no_stabilisers() -> None:
    record = finish("arrive", "motorhome", new_record("motorhome"), NEAR).state.facts
    walk = finish("storm", "motorhome", record, {**NEAR, "thunder near": False})
    told = [walk.checklist.steps[name].do for name in walk.met]
    assert any("hock" in do for do in told) and not any("tabiliser" in do for do in told)


def test_nobody_is_sent_back_into_canvas_while_thunder_is_heard() -> None:
    """Tents and canvas keep no lightning off (advice of weather services, from memory)."""
    record = finish("arrive", "pop-up", new_record("pop-up"), NEAR).state.facts
    walk = finish("storm", "pop-up", record, {**NEAR, "thunder near": True})
    places = [walk.checklist.steps[name].place for name in walk.met[walk.met.index("thunder-truck"):]]
    assert "inside" not in places
    calm = Walk.start(checklist("storm", "pop-up"), record).to("shut-all", {**NEAR, "thunder near": False})
    assert calm.state.at == "shut-all"


def test_nobody_is_sent_into_a_folded_trailer() -> None:
    """There is no way in under a roof that is down (makers' manuals of pop-up trailers)."""
    record = new_record("pop-up")
    for name in YEAR[:YEAR.index("store-for-winter")]:  # to store it, it is opened by hand (not yet in its list)
        c = checklist(name, "pop-up")
        walk = Walk.start(c, record)
        for _ in range(400):
            if walk.state.mode not in (Mode.STEP, Mode.CONFIRM, Mode.WAITING):
                break
            if walk.state.mode is Mode.STEP and c.steps[walk.state.at].place == "inside":
                assert "roof raised" in walk.state.facts, (name, walk.state.at)
            walk.send(right_answer(c, walk.state, NEAR))
        assert walk.state.mode is Mode.CLOSED, (name, walk.effects[-1])
        record = walk.state.facts


def test_a_pop_up_that_was_brought_back_is_folded_again() -> None:
    record = new_record("pop-up")
    for name in (*YEAR[:YEAR.index("bring-back") + 1],):
        record = finish(name, "pop-up", record, NEAR).state.facts
    assert {"roof raised", "bunks out", "roof props out"} & record == set() and "roof latched" in record


def test_each_move_with_the_car_has_one_look_and_the_lights_are_tried_once() -> None:
    record = finish("arrive", "motorhome", new_record("motorhome"), NEAR).state.facts
    met = finish("depart", "motorhome", record, NEAR).met
    assert met.count("car-clear") == met.count("car-line") == met.count("lights") == 1
    assert met.index("car-join") < met.index("lights")
    alone = finish("depart", "motorhome", record, {**NEAR, "car along": False}).met
    assert "lights-alone" in alone and "car-line" not in alone


def test_bad_ground_keeps_the_camper_on_its_truck() -> None:
    walk = Walk.start(checklist("arrive", "truck-camper"), new_record("truck-camper"))
    walk.to("legs-ground", NEAR).send(Problem())
    remedy = walk.checklist.remedies[walk.checklist.steps["legs-ground"].remedy]
    words = remedy.says + " ".join(walk.checklist.steps[one].do for one in remedy.steps)
    assert "on the truck" in words and "nhitch" not in words


@pytest.mark.parametrize("rig, look", [
    ("truck-camper", "ties-look"), ("motorhome", "car-look-over"), ("pop-up", "hitch-look")])
def test_nobody_leaves_a_stop_without_a_look_at_what_holds_the_rig(rig: str, look: str) -> None:
    """Tie-downs and pins work loose: 49 CFR 392.9(b), cargo looked at again within the first 50 miles
    and at each stop, as a model (from memory); makers' manuals of tie-downs and tow bars."""
    record = finish("arrive", rig, new_record(rig), NEAR).state.facts
    record = finish("depart", rig, record, NEAR).state.facts
    walk = Walk.start(checklist("road-stop", rig), record).to(look, NEAR)
    walk.send(Skip())
    walk.on(NEAR, until=lambda state: state.at == look)
    walk.send(GoTo("pull-out"))
    assert walk.of(Refused) and "parked" in walk.state.facts


@pytest.mark.parametrize("name", ["first-miles", "road-stop"])
@pytest.mark.parametrize("rig", RIGS)
def test_whoever_stopped_on_the_way_can_go_on_by_this_list_alone(rig: str, name: str) -> None:
    """Whatever was looked at, tried or read before, it is long ago."""
    record = finish("arrive", rig, new_record(rig), NEAR).state.facts
    record = finish("depart", rig, record, NEAR).state.facts
    old = record - checklist("arrive", rig).evidence.keys()
    assert "parked" not in finish(name, rig, old, NEAR).state.facts


def test_a_camper_in_store_stands_on_its_own() -> None:
    """Its tyres are the truck's, and the truck has gone."""
    record = finish("arrive", "truck-camper", new_record("truck-camper"), NEAR).state.facts
    record = finish("depart", "truck-camper", record, NEAR).state.facts
    walk = finish("store-for-winter", "truck-camper", record, NEAR)
    met = [walk.checklist.steps[name].do for name in walk.met]
    assert not any("yres" in do for do in met) and any("stands" in do for do in met)
    assert "service" not in finish("bring-back", "truck-camper", walk.state.facts, NEAR).met


@pytest.mark.parametrize("rig", ["motorhome", "truck-camper"])
def test_the_programs_own_sentences_know_that_it_is_no_trailer(rig: str, tmp_path: Path) -> None:
    """What is asked of a newcomer, said standing by, and of a sum; the words of the lists are above."""
    c, language = checklist("arrive", rig), load_language("en")
    its = {"motorhome": "motor home", "truck-camper": "camper"}[rig]
    asked = unsettled(load_state_questions(LIBRARY), c, load(rig), language, tmp_path)
    assert asked is not None
    told = interview(asked.questions, (), of_its_rig(language, c), asked.why)
    texts = [told.says, told.title, told.closing, *(step.do for step in told.steps.values()),
             Wording(c, language).say("sums.water.limit", limit_psi="60 psi").text]
    known = _Settings(tmp_path, rig, "", language, load_words("en"), ()).known()
    answers = Answers(known, language, load_words("en"), "hello")
    texts += [answers.say(key).text for key in ("never told", "not this rig")]
    wrong = [text for text in texts if "trailer" in text.lower()]
    assert wrong == [] and any(its in text for text in texts)


@pytest.mark.parametrize(("rig", "foreign"), [
    ("tandem-slide", ("camper", "roof", "sway bar", "the car")), ("small-single", ("camper", "roof", "cable")),
    ("motorhome", ("coupling", "chains", "roof")), ("truck-camper", ("coupling", "chains", "the car"))])
def test_a_rig_is_shown_nothing_that_it_has_not(
    rig: str, foreign: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    shown = CliRunner().invoke(main, ["rig", "--rig", rig]).output.lower()
    listed = [line for line in shown.splitlines() if line.startswith(("fact", "gear", "site"))]
    assert listed and not [line for line in listed if any(word in line for word in foreign)], shown
