"""Before any checklist it is settled how the trailer stands: truly, and with few questions."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.checklist.called import called
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist, Origin
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.hearing.types import Heard, Hypothesis, Rejection
from handsfree.language.loader import language_names, load_language
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.opening import start_new
from handsfree.session.settling import unsettled
from handsfree.session.state_questions import (
    CAMP,
    ROAD,
    open_facts,
    settled_by,
    state_facts,
    state_questions,
)
from handsfree.storage import lines
from handsfree.storage.paths import checklists_folder
from handsfree.storage.record import latest, record_for
from handsfree.storage.seal import seal_of
from handsfree.testing import talk
from tests.session.standing import CORE, Looking, answered, closed, told_how_it_stands

LIB = checklists_folder()
RIGS = tuple(sorted(path.stem for path in (LIB / "rigs").glob("*.yaml")))


@cache
def rig_of(name: str) -> Rig:
    return load_rig(LIB / "rigs" / f"{name}.yaml")


@cache
def loaded(checklist: str, rig: str) -> Checklist:
    return load_checklist(LIB / f"{checklist}.yaml", rig=rig_of(rig), library=LIB)


CAMP_FACTS = frozenset(
    literal.fact for group in CORE.groups for literal in group.camp if literal.wanted)
"""Everything set up, on a rig that has everything."""


def at_camp(rig: str) -> frozenset[str]:
    checklist = loaded("evening", rig)
    out = {one for name in CAMP_FACTS for one in checklist.several.get(name, (name,))}
    return closed(out, checklist, rig_of(rig))


def test_the_file_speaks_of_facts_that_there_are_and_of_all_that_the_road_asks_about() -> None:
    checklist = loaded("evening", "tandem-slide")
    assert CORE.names <= set(checklist.facts)
    everything = Rig("all", frozenset(
        name for name, fact in checklist.facts.items() if fact.origin is Origin.TRAIT)
        - {"fifth wheel"})
    electric = Rig("all, electric brakes",  # only one of the four
                   everything.has - {"overrun brake", "surge brake", "air over hydraulic"})
    trailer = Rig("all of a trailer", electric.has - {"motorhome", "truck camper"})
    assert {fact for rig in (everything, electric, trailer) for fact in state_facts(CORE, checklist, rig)} == {
        name for name, fact in checklist.facts.items()
        if fact.origin in (Origin.STATE, Origin.GEAR) and not fact.fresh
        and (fact.evidence is None or name in CORE.names)}
    for name, where in CORE.of_rig.items():
        assert all(checklist.facts[trait].origin is Origin.TRAIT for trait in where.names()), name


@settings(max_examples=60, deadline=None)
@given(rig=st.sampled_from(RIGS), data=st.data())
def test_whoever_answers_truthfully_has_a_true_record(rig: str, data: st.DataObject) -> None:
    checklist, trailer = loaded("evening", rig), rig_of(rig)
    facts = state_facts(CORE, checklist, trailer)
    base = data.draw(st.sampled_from([frozenset(), at_camp(rig), checklist.start_facts]))
    flipped = data.draw(st.sets(st.sampled_from(sorted(facts)), max_size=6))
    world = closed(base ^ flipped, checklist, trailer)
    questions = state_questions(CORE, checklist, trailer, load_language("en"), frozenset(facts),
                               checklist.start_facts)
    yes, _ = answered(questions, world)
    so = settled_by(CORE, checklist, trailer, questions, yes, frozenset(facts),
                    checklist.start_facts - set(facts))
    assert {name for name in so if so[name]} == world & set(facts)
    assert set(so) == set(facts)


@pytest.mark.parametrize("rig", RIGS)
def test_a_yes_to_all_set_up_leaves_nothing_that_can_be_so_unasked(rig: str) -> None:
    """A pin in the surge coupler was in no list of what is so at camp: it counted as out, and was never taken
    out before the road."""
    checklist, trailer = loaded("evening", rig), rig_of(rig)
    facts = frozenset(state_facts(CORE, checklist, trailer))
    questions = state_questions(CORE, checklist, trailer, load_language("en"), facts, checklist.start_facts)
    base = at_camp(rig)
    for fact in sorted(facts):
        world = closed(base ^ {fact}, checklist, trailer)
        so = settled_by(CORE, checklist, trailer, questions, answered(questions, world)[0], facts,
                        checklist.start_facts - facts)
        assert {name for name in so if so[name]} == world & facts, fact


@pytest.mark.parametrize(("rig", "road", "camp"), [
    ("small-single", 7, 8), ("survey-trailer", 7, 8), ("tandem-slide", 8, 9),
    ("fifth-wheel", 8, 9)])
def test_there_are_few_questions(rig: str, road: int, camp: int) -> None:
    checklist, trailer = loaded("evening", rig), rig_of(rig)
    facts = frozenset(state_facts(CORE, checklist, trailer))
    questions = state_questions(CORE, checklist, trailer, load_language("en"), facts,
                               checklist.start_facts)
    assert answered(questions, closed(checklist.start_facts, checklist, trailer))[1] <= road
    assert answered(questions, at_camp(rig))[1] <= camp
    assert len(facts) > 30


@pytest.mark.parametrize("rig", RIGS)
def test_all_as_for_the_road_and_all_set_up_are_read_out_item_by_item(
    tmp_path: Path, rig: str
) -> None:
    english, checklist, trailer = load_language("en"), loaded("evening", rig), rig_of(rig)
    for words, world in (("ready for the road", closed(checklist.start_facts, checklist, trailer)),
                         ("all set up", at_camp(rig))):
        asked = unsettled(CORE, checklist, trailer, english, tmp_path)
        assert asked
        looking = Looking(asked, english, world, [words])
        assert looking.prompts[0].text.startswith(
            f"Your trailer. I do not know how the {checklist.calls.get('trailer', 'trailer')} ")
        heard = [prompt.text for prompt in looking.prompts]
        looking.say(words)
        assert looking.prompts[0].text == f"{words.capitalize()}. Noted."
        looking.words = []
        while not looking.conversation.over:
            heard += [prompt.text for prompt in looking.prompts]
            looking.say(looking._own())
        read = " ".join(heard).lower()
        so = settled_by(CORE, checklist, trailer, asked.questions, looking.conversation.state.facts,
                        asked.open, asked.known)
        assert {name for name in so if so[name]} == world & set(so)
        for group in CORE.of(checklist.several).groups:
            literals = group.road if "road" in words else group.camp
            if "road" in words and group.road_says:
                assert called(group.road_says, checklist.calls) in read or not {
                    one.fact for one in literals} & set(so)
                continue
            for literal in literals:
                fact = checklist.facts[literal.fact]
                if literal.fact in so:
                    assert (fact.says if literal.wanted else fact.otherwise) in read, literal
        assert "answer: that is right. or: no change it." in read


def test_a_short_yes_to_a_list_is_asked_about_and_a_single_answer_is_read_back(
    tmp_path: Path
) -> None:
    english, checklist, trailer = load_language("en"), loaded("evening", "small-single"), rig_of("small-single")
    asked = unsettled(CORE, checklist, trailer, english, tmp_path)
    assert asked
    looking = Looking(asked, english, at_camp("small-single"))
    looking.say("all set up")
    looking.say("yes")
    assert looking.prompts[-1].text == "Did you say: yes?"
    looking.say("no change it")
    looking.say("no change it")  # the first list is not so
    looking.run()
    told = Looking(asked, english, at_camp("small-single"))
    told.say("no")
    assert told.conversation.state.at == CAMP
    told.say("all set up")
    assert told.conversation.state.at == "hitch and standing set up"
    told = Looking(asked, english, at_camp("small-single"))
    for words in ("ask me", *["no change it"] * 10):
        told.say(words)
        if told.conversation.state.at == "hitched":
            break
    while told.conversation.state.at != "hitched":
        told.say("no change it")
    told.say("no")
    assert told.prompts[0].text == "The trailer stands alone. Noted."
    told.say("take it back")
    assert "Truck and trailer are together" in told.prompts[-1].text


@pytest.mark.parametrize("code", language_names())
def test_the_three_phrases_and_the_questions_are_there_in_every_language(
    tmp_path: Path, code: str
) -> None:
    language = load_language(code)
    checklist = replace(loaded("evening", "small-single"), language=code)
    world = at_camp("small-single")
    for key in ("say camp", "say ask", "say road"):
        asked = unsettled(CORE, checklist, rig_of("small-single"), language, tmp_path)
        assert asked
        looking = Looking(asked, language, world, [language.templates[f"first.{key}"]])
        yes = looking.run()
        if key != "say road":
            so = settled_by(CORE, checklist, rig_of("small-single"), asked.questions, yes, asked.open,
                            asked.known)
            assert {name for name in so if so[name]} == world & set(so)


# --- when it is asked ---------------------------------------------------------------------------

def walked(folder: Path, name: str, rig: Rig, checklist: Checklist, english: Language,
           script: Script | None = None):  # type: ignore[no-untyped-def]
    started = start_new(checklist, rig, folder, {})
    told = talk(checklist, english, script or Script(), started=started)
    started.log.close()
    return told


@pytest.mark.parametrize("rig", RIGS)
def test_a_newcomer_at_camp_begins_with_the_evening_and_departs_with_everything_in(
    tmp_path: Path, rig: str
) -> None:
    english, trailer = load_language("en"), rig_of(rig)
    world = at_camp(rig)
    told_how_it_stands(loaded("evening", rig), trailer, english, tmp_path, world)
    evening = walked(tmp_path, "evening", trailer, loaded("evening", rig), english)
    assert evening.conversation.over
    depart = loaded("depart", rig)
    assert unsettled(CORE, depart, trailer, english, tmp_path) is None
    told = walked(tmp_path, "depart", trailer, depart, english)
    offered = [prompt.about for prompt in told.prompts if prompt.key == "offer"]
    stands = {"motorhome": {"chocks-out", "jacks-up"}, "truck-camper": {"camper-down", "ties-on"}}
    assert {"unplug", "cord-in", "hose-off", "regulator-off", "step-in"} | stands.get(
        rig, {"chocks-out", "jack-raise"}) <= set(offered)
    assert bool({"hook-up", "hook-up-plain"} & set(offered)) is (
        not trailer.has & {"fifth wheel", "overrun brake", "motorhome", "truck camper"})
    assert ("lockout-out" in offered) is ("lockout pin" in trailer.has)
    assert ("hand-brake-off" in offered) is ("overrun brake" in trailer.has)
    out = [name for name in told.conversation.state.facts
           if depart.facts[name].origin is Origin.GEAR]
    assert out == [] and depart.closes.holds(told.conversation.state.facts)


def test_one_slide_that_becomes_three_and_one_again_is_asked_about_each_time(tmp_path: Path) -> None:
    """What was settled of the one says nothing of the others, nor, months later, of itself."""
    english, whole = load_language("en"), rig_of("fifth-wheel")
    one = replace(whole, several={})
    three = replace(whole, several={"slides": ("bedroom", "kitchen", "rear")})
    for rig, out in ((one, "slide extended"), (three, "kitchen slide extended"), (one, "slide extended")):
        checklist = load_checklist(LIB / "arrive.yaml", rig=rig, library=LIB)
        slides = set(checklist.several["slide extended"])
        asked = unsettled(CORE, checklist, rig, english, tmp_path)
        assert asked and slides <= asked.open
        so = told_how_it_stands(checklist, rig, english, tmp_path, frozenset({"hitched", "parked", out}))
        assert so
        found = latest(tmp_path)
        assert found and slides <= found.settled and found.facts & slides == {out}
        assert unsettled(CORE, checklist, rig, english, tmp_path) is None


def test_what_a_rig_is_given_in_mid_stay_is_asked_about_and_offered_on_leaving(
    tmp_path: Path
) -> None:
    english, checklist = load_language("en"), loaded("arrive", "small-single")
    plain = Rig("Mine", frozenset({"stabiliser jacks"}))
    walked(tmp_path, "arrive", plain, checklist, english, Script())
    assert unsettled(CORE, checklist, plain, english, tmp_path) is None
    more = Rig("Mine", plain.has | {"safety chains", "brake cable", "weight bars"})
    depart = load_checklist(LIB / "depart.yaml", rig=more, library=LIB)
    asked = unsettled(CORE, depart, more, english, tmp_path)
    assert asked and asked.open == {"chains on", "cable on", "bars on", "pin pulled"}
    assert "it has safety chains" in asked.why
    facts = latest(tmp_path).facts  # type: ignore[union-attr]
    assert told_how_it_stands(depart, more, english, tmp_path, facts - asked.open) == 0, (
        "the trailer stands alone, so that none of them can be on")
    told = walked(tmp_path, "depart", more, depart, english)
    offered = [prompt.about for prompt in told.prompts if prompt.key == "offer"]
    assert {"hook-up", "bars-load"} <= set(offered)
    assert unsettled(CORE, depart, more, english, tmp_path) is None


def test_a_correction_in_between_does_not_hide_that_the_rig_has_changed(tmp_path: Path) -> None:
    from handsfree.storage.corrections import correct

    english, checklist = load_language("en"), loaded("arrive", "small-single")
    plain = Rig("Mine")
    walked(tmp_path, "arrive", plain, checklist, english, Script())
    more = Rig("Mine", frozenset({"safety chains"}))
    last = latest(tmp_path)
    correct(tmp_path, (checklist,), last, record_for(checklist, more, last), "Mine",
            {"entry step out": False})
    asked = unsettled(CORE, checklist, more, english, tmp_path)
    assert asked and asked.open == {"chains on"}


def test_a_record_that_cannot_be_believed_is_asked_for_as_a_whole(tmp_path: Path) -> None:
    english, checklist, trailer = load_language("en"), loaded("arrive", "small-single"), rig_of("small-single")
    walked(tmp_path, "arrive", trailer, checklist, english, Script())
    path = latest(tmp_path).path  # type: ignore[union-attr]
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*lines[:5], *lines[6:]]))
    asked = unsettled(CORE, checklist, trailer, english, tmp_path)
    assert asked and asked.open == set(state_facts(CORE, checklist, trailer))
    assert "damaged" in asked.why
    world = at_camp("small-single")
    told_how_it_stands(checklist, trailer, english, tmp_path, world)
    found = latest(tmp_path)
    assert found and not found.faults and world <= found.facts
    assert unsettled(CORE, checklist, trailer, english, tmp_path) is None


def test_one_correction_before_everything_does_not_make_the_questions_more(
    tmp_path: Path
) -> None:
    from handsfree.storage.corrections import correct

    english, checklist, trailer = load_language("en"), loaded("arrive", "small-single"), rig_of("small-single")
    correct(tmp_path, (checklist,), None, record_for(checklist, trailer, None), trailer.name,
            {"entry step out": True})
    asked = unsettled(CORE, checklist, trailer, english, tmp_path)
    assert asked and asked.open == set(state_facts(CORE, checklist, trailer)) - {"entry step out"}
    yes, count = answered(asked.questions, at_camp("small-single"))
    assert count <= 8
    so = settled_by(CORE, checklist, trailer, asked.questions, yes, asked.open, asked.known)
    assert {name for name in so if so[name]} == at_camp("small-single") & asked.open


def test_what_is_settled_is_never_on_record_without_how(tmp_path: Path) -> None:
    """The power goes while it is written: all of it is there, or none."""
    english, checklist, trailer = load_language("en"), loaded("arrive", "small-single"), rig_of("small-single")
    world = at_camp("small-single")
    told_how_it_stands(checklist, trailer, english, tmp_path, world)
    path = latest(tmp_path).path  # type: ignore[union-attr]
    whole = path.read_bytes()
    assert whole.count(b"\n") == 1
    seal_of(tmp_path).write_bytes(b" " * 1024)  # as it is before it was sealed
    for length in range(0, len(whole), 97):
        path.write_bytes(whole[:length])
        asked = unsettled(CORE, checklist, trailer, english, tmp_path)
        assert asked and asked.open == set(state_facts(CORE, checklist, trailer))
    path.write_bytes(whole)
    assert unsettled(CORE, checklist, trailer, english, tmp_path) is None


def test_facts_that_are_new_to_the_record_are_asked(tmp_path: Path) -> None:
    english, checklist, trailer = load_language("en"), loaded("arrive", "small-single"), rig_of("small-single")
    without = replace(checklist, facts={
        name: fact for name, fact in checklist.facts.items() if name != "markers out"})
    told_how_it_stands(without, trailer, english, tmp_path, at_camp("small-single"))
    assert open_facts(CORE, checklist, trailer, latest(tmp_path)) == {"markers out"}


def test_the_questions_that_settle_all_are_not_asked_for_a_few(tmp_path: Path) -> None:
    english, checklist, trailer = load_language("en"), loaded("arrive", "small-single"), rig_of("small-single")
    ids = {question.id for question in state_questions(
        CORE, checklist, trailer, english, frozenset({"markers out"}), frozenset())}
    assert ids == {"markers out"} and not ids & {ROAD, CAMP}


@pytest.mark.parametrize("heard", [
    Hypothesis("okay that's right", 0.99, 0.0, 1.0, own_words=True),
    Rejection("unclear", 0.0, 1.0, written="okay that's right", sure=1.0)])
def test_a_yes_in_words_of_ones_own_puts_no_list_on_record(tmp_path: Path, heard: Heard) -> None:
    """By ear, "okay that's not right" is near it; a whole list would be taken for so."""
    english, checklist, trailer = load_language("en"), loaded("evening", "small-single"), rig_of("small-single")
    asked = unsettled(CORE, checklist, trailer, english, tmp_path)
    assert asked
    looking = Looking(asked, english, at_camp("small-single"))
    looking.say("all set up")
    at, before = looking.conversation.state.at, looking.conversation.state.facts
    prompts = looking.conversation.hear(heard, 60.0)
    assert prompts[-1].text == "Did you say: okay that's right?"
    assert looking.conversation.state.facts == before
    line = [line for line in looking.log.lines if isinstance(line, lines.Heard)][-1]
    assert line.verdict == "asked" and "okay that's right" in (line.text, line.written)
    looking.conversation.hear(Hypothesis("that is right", 0.99, 61.0, 62.0), 62.0)
    assert looking.conversation.state.at != at
