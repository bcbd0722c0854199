"""A place that is known: what its journals say is told and asked, and nothing rests on it.

A technician's cases: back at the same spot, on another pitch, with a changed trailer, after an
outlet that failed; and an adversary who has written what he likes into the memory.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from handsfree.checklist.conditions import Literal
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist, NeverRule, Origin
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.engine import changes
from handsfree.engine.advance import advance, begin
from handsfree.engine.choosing import permitted
from handsfree.engine.state import (
    Answer,
    Confirm,
    GoTo,
    Mode,
    Pause,
    Respond,
    Resume,
    Skip,
    State,
    Unsure,
)
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.review.applying import good_event
from handsfree.session.at_a_place import HERE_AGAIN, AtAPlace, part_of_day, told_of
from handsfree.session.by_heart import Practised
from handsfree.session.conversation import Conversation
from handsfree.session.manner import Manner
from handsfree.session.opening import go_on, start_new
from handsfree.storage import journal, lines, places
from handsfree.storage.mastery import Known
from handsfree.storage.paths import checklists_folder
from handsfree.storage.places import Measured, Memory, Names, memory, recallable, visits
from handsfree.storage.record import latest, rig_folder, session_paths
from handsfree.testing import MemoryLog, Talk, talk

RIGS = ("small-single", "survey-trailer", "tandem-slide", "fifth-wheel", "metric-caravan")
PLACE = "north meadow"
HERE: Mapping[str, bool] = {"site power": True, "site water": True, "far side": True,
                            "site sewer": True, "sewer far": False, "adapter needed": False}
LENGTHS = ("extension-feet", "inlet-height", "sewer-feet")
"""Numbers that need not be exact."""


def rig_of(name: str) -> Rig:
    return load_rig(checklists_folder() / "rigs" / f"{name}.yaml")


def arrive(rig: Rig) -> Checklist:
    return load_checklist(checklists_folder() / "arrive.yaml", rig=rig, library=checklists_folder())


TANDEM = rig_of("tandem-slide")
ARRIVE = arrive(TANDEM)
ROAD = ARRIVE.start_facts | TANDEM.has
NOBODY = Names()
"""Nothing was said of names."""
USUAL = Script(answers=HERE, readings={
    "supply-amps": ("thirty amps",), "outlet-volts": ("one hundred fifteen volts",),
    "sewer-feet": ("twelve feet",), "extension-feet": ("ten feet",)})


def stay(data: Path, script: Script = USUAL, place: str = PLACE, rig: Rig = TANDEM,
         checklist: Checklist = ARRIVE, record: Names = NOBODY) -> Talk:
    """One arrival on the record in `data`, from the road, with what is remembered of the place."""
    folder = rig_folder(data, rig.name)
    found = memory(visits(data, record), place, checklist, rig.name, rig.has)
    started = start_new(checklist, rig, folder, {"place": place, "rehearsal": False})
    started = replace(started, begin=lambda conversation, t, to: conversation.begin(
        checklist.start_facts | rig.has, t, place=place, rig=rig.name, traits=rig.has,
        known=frozenset(checklist.facts)))
    told = talk(checklist, load_language("en"), script, started=started,
                talking=partial(AtAPlace, found))
    started.log.close()
    return told


def asked(told: Talk) -> list[str]:
    """Questions of the site that were asked by themselves, in order."""
    return [prompt.about for prompt in told.prompts
            if prompt.key == "offer" and prompt.about in HERE]


def sentences(told: Talk) -> list[str]:
    return [prompt.text for prompt in told.prompts if prompt.key == HERE_AGAIN]


def events(path: Path) -> list[tuple[str, object]]:
    return [(line.step, line.event) for line in journal.read(path).lines
            if isinstance(line, lines.Event) and isinstance(line.event, Answer)]


# --- what a technician expects --------------------------------------------------------------------

def test_the_second_time_one_sentence_asks_all_and_yes_answers_by_the_ordinary_events(
    tmp_path: Path
) -> None:
    first, second = stay(tmp_path), stay(tmp_path)
    assert asked(first) == list(HERE) and not sentences(first)
    assert asked(second) == [] and len(sentences(second)) == 1
    assert sentences(second)[0].startswith(
        "Last time at north meadow: power, thirty amps, water, tap and pedestal out of reach, a"
        " sewer inlet, the sewer inlet within reach and no adapter.")
    assert "one hundred fifteen volts" in sentences(second)[0]
    assert sentences(second)[0].endswith(
        "Power extension ten feet, sewer inlet at six inches and sewer hose twelve feet."
        " Same today? Yes or no?")
    one, other = session_paths(rig_folder(tmp_path, TANDEM.name))
    assert [[told for told in events(path) if told[0] in HERE] for path in (one, other)] == (
        [[(q, Answer(yes)) for q, yes in HERE.items()]] * 2)
    assert first.conversation.state.facts == second.conversation.state.facts
    assert len(first.words_of("operator")) - len(second.words_of("operator")) == (
        len(HERE) - 1 + 2 * len(LENGTHS)), "no question and no length is asked by itself"


def test_no_asks_one_by_one(tmp_path: Path) -> None:
    stay(tmp_path)
    other = {**HERE, "far side": False, "site sewer": False}
    told = stay(tmp_path, replace(USUAL, answers=other, as_last_time=False))
    assert len(sentences(told)) == 1 and asked(told) == [q for q in HERE if q != "sewer far"]
    assert "Okay, I will ask one by one." in told.words_of("program")
    assert "far side" not in told.conversation.state.facts
    third = stay(tmp_path, replace(USUAL, answers=other))
    assert "within reach" in sentences(third)[0] and "no sewer inlet" in sentences(third)[0]


def test_another_place_and_a_place_without_a_name_are_asked_as_ever(tmp_path: Path) -> None:
    stay(tmp_path)
    for place in ("south meadow", ""):
        told = stay(tmp_path, place=place)
        assert asked(told) == list(HERE) and not sentences(told)


@pytest.mark.parametrize("rig", [
    replace(TANDEM, name="Another tandem"), replace(TANDEM, has=TANDEM.has | {"surge protector"})],
    ids=["another rig", "the same, changed"])
def test_what_hangs_on_the_rig_is_asked_of_a_changed_one(tmp_path: Path, rig: Rig) -> None:
    stay(tmp_path)
    told = stay(tmp_path, rig=rig, checklist=arrive(rig))
    assert asked(told) == ["far side", "sewer far", "adapter needed"]
    assert "reach" not in sentences(told)[0]
    assert "sewer hose" not in sentences(told)[0]
    offered = {prompt.about for prompt in told.prompts if prompt.key == "offer"}
    assert offered >= set(LENGTHS), "its own hoses are measured"


def test_a_number_that_has_to_be_exact_is_never_taken_from_memory(tmp_path: Path) -> None:
    """Whatever was written into the memory: it is told at most, and asked for as ever."""
    forged = {name: Measured(1.0, step.reading.unit, "within", "")
              for name, step in ARRIVE.steps.items() if step.reading}
    told = talk(ARRIVE, load_language("en"), USUAL, record=ROAD,
                talking=partial(AtAPlace, Memory(PLACE, "x", HERE, lengths=forged)))
    offered = {prompt.about for prompt in told.prompts if prompt.key == "offer"}
    assert offered >= {"side-level", "supply-amps", "outlet-volts", "pressure", "fore-level"}
    assert not offered & set(LENGTHS)


def test_by_heart_what_was_agreed_to_is_read_back_with_the_rest() -> None:
    lengths = {"sewer-feet": Measured(12.0, "feet", "within", "")}
    told = talk(ARRIVE, load_language("en"), replace(USUAL, readings={}), record=ROAD,
                manner=Manner(by_heart=True), talking=partial(
                    Practised, Memory(PLACE, "x", HERE, lengths=lengths),
                    known=Known(frozenset(ARRIVE.steps))))
    assert told.conversation.over
    assert any(prompt.key == "readback together" and "welve feet" in prompt.text
               for prompt in told.prompts)
    assert "sewer-feet" not in {prompt.about for prompt in told.prompts if prompt.key == "offer"}


def test_an_outlet_that_failed_is_told_and_tested_all_the_same(tmp_path: Path) -> None:
    stay(tmp_path, replace(USUAL, readings={**USUAL.readings, "outlet-volts": (
        "ninety volts", "one hundred nineteen volts")}))
    told = stay(tmp_path)
    assert "An outlet failed its test: voltage." in sentences(told)[0]
    assert "one hundred nineteen volts" in sentences(told)[0] and "ninety" not in sentences(told)[0]
    offered = [prompt.about for prompt in told.prompts if prompt.key == "offer"]
    assert {"tester-in", "tester-lights", "outlet-volts", "pressure"} <= set(offered)


def test_power_that_was_left_off_is_told() -> None:
    told = _asking(Memory(PLACE, "x", HERE, refused=True, failed=("outlet-volts",)))
    assert "Power was left off." in told and "An outlet failed" not in told


@pytest.mark.parametrize(("at", "part"), [
    ("2026-11-03T19:10:00-07:00", "in the evening"), ("2026-11-03T06:10:00-07:00", "in the morning"),
    ("2026-11-03T12:10:00-07:00", "in the daytime"), ("2026-11-03T23:10:00-07:00", "at night"),
    ("?", "in the daytime")])
def test_volts_are_told_with_the_part_of_the_day(at: str, part: str) -> None:
    found = Memory(PLACE, at, HERE, {"outlet volts": (Measured(115.0, "volts", "within", at),)})
    assert f"The outlet read one hundred fifteen volts {part}." in _asking(found)
    assert part_of_day(at)


def test_a_tap_that_was_too_strong_and_a_lean_are_told() -> None:
    found = Memory(PLACE, "x", HERE, {
        "pressure": (Measured(100.0, "psi", "high", ""), Measured(45.0, "psi", "within", "")),
        "side level": (Measured(2.5, "degrees", "high", ""), Measured(0.5, "degrees", "within", ""))})
    told = _asking(found)
    assert "one hundred psi" in told or "one hundred pounds" in told
    assert "It leaned two point five degrees side to side." in told


def _asking(found: Memory) -> str:
    conversation = AtAPlace(found, ARRIVE, load_language("en"), MemoryLog())
    prompts = conversation.begin(ROAD | {"parked"}, 0.0)
    while not any(prompt.key == HERE_AGAIN for prompt in prompts):
        prompts = conversation.take(Skip(), 0.0)
    return next(prompt.text for prompt in prompts if prompt.key == HERE_AGAIN)


# --- how it is answered ---------------------------------------------------------------------------

def at_the_sentence(found: Memory | None = None) -> AtAPlace:
    conversation = AtAPlace(found or Memory(PLACE, "x", HERE), ARRIVE, load_language("en"),
                            MemoryLog())
    conversation.begin(ROAD | {"parked"}, 0.0)
    while conversation._asking == "":
        conversation.take(Skip(), 0.0)
    return conversation


def test_an_answer_that_is_not_sure_is_never_taken_for_all_of_them() -> None:
    conversation = at_the_sentence()
    before = conversation.state
    assert [p.key for p in conversation.take(Unsure(Answer(True)), 0.0)] == ["say again"]
    assert conversation.state == before
    prompts = conversation.take(Unsure(Answer(True)), 0.0)
    assert prompts[-1].key == "offer" and prompts[-1].about == "site power"
    assert conversation.state.facts == before.facts
    conversation.take(Answer(False), 0.0)
    assert conversation.state.at == "site water" and "site power" not in conversation.state.facts


def test_in_noise_they_are_asked_one_by_one() -> None:
    conversation = at_the_sentence()
    conversation.wary = True
    assert conversation.take(Unsure(Answer(True)), 0.0)[-1].about == "site power"


def test_after_a_pause_and_on_repeat_it_is_the_sentence_again() -> None:
    conversation = at_the_sentence()
    conversation.take(Pause(), 0.0)
    assert HERE_AGAIN in [prompt.key for prompt in conversation.take(Resume(), 0.0)]
    assert "site water answered" not in conversation.state.facts
    conversation.take(Answer(True), 0.0)
    assert {f"{name} answered" for name in HERE if name != "adapter needed"} <= conversation.state.facts
    assert conversation._same == {"adapter needed": False}, "its question has not come yet"


def test_a_question_that_is_gone_to_is_asked_itself() -> None:
    conversation = at_the_sentence()
    prompts = conversation.take(GoTo("site water"), 0.0)
    assert [prompt.key for prompt in prompts] == ["offer"]
    conversation.take(Answer(False), 0.0)
    assert "site water" not in conversation.state.facts
    assert conversation.state.at == "site power" and not conversation._asking


def test_one_question_alone_is_not_worth_a_sentence() -> None:
    told = AtAPlace(Memory(PLACE, "x", {"site power": True}), ARRIVE, load_language("en"), MemoryLog())
    told.begin(ROAD | {"parked"}, 0.0)
    for _ in range(3):
        told.take(Skip(), 0.0)
    assert not told._asking


# --- nothing of it is evidence --------------------------------------------------------------------

@pytest.mark.parametrize("name", RIGS)
def test_a_forged_memory_satisfies_no_interlock(name: str) -> None:
    """Whatever the memory says of whatever step, in many states: agreeing to it changes what an
    operator's own answers to the site's questions change, and permits nothing that they would not;
    nobody's safety hangs on those."""
    rig = rig_of(name)
    checklist = arrive(rig)
    forged = dict.fromkeys(checklist.steps, True) | dict.fromkeys(checklist.facts, True)
    measured = {step.reading.called: (Measured(118.0, step.reading.unit, "within", ""),)
                for step in checklist.steps.values() if step.reading}
    dice = random.Random(name)
    came = 0
    for _ in range(12):
        some = {step: dice.random() < 0.7 for step in forged}
        conversation = AtAPlace(Memory(PLACE, "x", some, measured), checklist, load_language("en"),
                                MemoryLog())
        loose = {fact for fact in dice.sample(sorted(checklist.facts), 8)
                 if checklist.facts[fact].origin is Origin.STATE}
        conversation.begin(checklist.start_facts | rig.has | {"parked"} | loose, 0.0)
        for _ in range(40):
            if conversation._asking:
                came += 1
                _agrees(conversation, checklist, some)
                break
            _some_event(conversation, checklist, dice)
    assert came > 5


def _agrees(conversation: AtAPlace, checklist: Checklist, some: Mapping[str, bool]) -> None:
    before: State = conversation.state
    told = told_of(checklist, before, conversation._remembered)
    assert set(told) <= set(HERE)
    conversation.take(Answer(True), 0.0)
    after, plain = conversation.state, before
    while plain.at in told and plain.mode is Mode.STEP:
        plain, _ = advance(checklist, plain, Answer(some[plain.at]))
    assert after == plain
    spoken_of = {*told, *(f"{name} answered" for name in told)}
    assert (after.facts ^ before.facts) <= spoken_of
    for step in checklist.steps.values():
        assert not step.own.names() & spoken_of, step.id
        for rule in checklist.all_rules:
            assert not rule.when.names() & spoken_of
        guards = replace(step, only_if=step.only_if, needs=step.own)
        if permitted(guards, after.facts) and not permitted(guards, before.facts):
            assert step.own.holds(before.facts)  # it only came to apply


def _some_event(conversation: AtAPlace, checklist: Checklist, dice: random.Random) -> None:
    state = conversation.state
    event = Respond() if state.mode is Mode.ALARM else Confirm() if (
        state.mode is Mode.CONFIRM) else dice.choice((Skip(), good_event(checklist, state, {}, {})))
    conversation.take(event or Skip(), 0.0)


def test_a_question_that_somebodys_safety_hangs_on_is_never_recalled() -> None:
    guarded = NeverRule("r", Literal("far side"), because="It hurts.", now="Stop.", respond="stopped")
    assert "far side" in recallable(ARRIVE)
    assert "far side" not in recallable(replace(ARRIVE, rules=(*ARRIVE.rules, guarded)))
    step = replace(ARRIVE.steps["plug-in"], own=Literal("site power"))
    assert "site power" not in recallable(
        replace(ARRIVE, steps={**ARRIVE.steps, "plug-in": step}))
    assert set(recallable(ARRIVE)) == set(HERE)
    evidence = set(ARRIVE.evidence)
    for name, step in recallable(ARRIVE).items():
        for yes in (True, False):
            change = changes.answer(step, yes)
            assert not (change.gives | change.ends) & evidence, name


# --- from the record, and only from it ------------------------------------------------------------

def test_a_damaged_journal_says_nothing(tmp_path: Path) -> None:
    stay(tmp_path)
    (path,) = session_paths(rig_folder(tmp_path, TANDEM.name))
    raw = path.read_bytes().replace(b'"event": "answer", "yes": true', b'"event": "answer", "yes": false')
    raw = raw if raw != path.read_bytes() else raw.replace(b"site water", b"site watar", 1)
    path.write_bytes(raw)
    found = memory(visits(tmp_path, Names()), PLACE, ARRIVE, TANDEM.name, TANDEM.has)
    assert not found.answers and not found.measured


def test_an_answer_that_was_taken_back_is_not_remembered(tmp_path: Path) -> None:
    stay(tmp_path, replace(USUAL, at={"far side": ("take it back",)}))
    found = memory(visits(tmp_path, Names()), PLACE, ARRIVE, TANDEM.name, TANDEM.has)
    assert found.answers == HERE  # the last word counts
    path = session_paths(rig_folder(tmp_path, TANDEM.name))[0]
    told = journal.read(path).lines
    assert "take back" in [line.of for line in told if isinstance(line, lines.Reported)]


def test_names_change_without_a_change_to_the_record(tmp_path: Path) -> None:
    stay(tmp_path, place="place one")
    names = Names().renamed("place one", PLACE)
    assert places.known(names, visits(tmp_path, names)) == [PLACE]
    assert sentences(stay(tmp_path, record=names))
    again = names.renamed(PLACE, "the meadow")
    assert places.known(again, visits(tmp_path, again)) == ["the meadow"]
    dropped = replace(again, dropped=frozenset(v.key for v in visits(tmp_path, again)))
    assert visits(tmp_path, dropped) == []


def test_names_are_kept_and_a_damaged_file_is_named(tmp_path: Path) -> None:
    names = Names(("a place",), {"old": "new"}, frozenset({"rig/0001-arrive"}))
    places.keep_names(tmp_path, names)
    assert places.load_names(tmp_path) == names
    for damage in ('{"places": 3}', "[]", "{", '{"places": [], "also called": [], "forgotten": []}'):
        (tmp_path / places.FILE).write_text(damage)
        with pytest.raises(places.InputError, match=r"places\.json is damaged; delete it"):
            places.load_names(tmp_path)


def test_where_it_stands_is_known_until_it_is_on_the_road(tmp_path: Path) -> None:
    stay(tmp_path)
    folder = rig_folder(tmp_path, TANDEM.name)
    last = latest(folder)
    assert last is not None
    assert places.stands_at(folder, last.facts, last.known, Names()) == PLACE
    assert places.stands_at(folder, ROAD, last.known, Names()) == ""
    assert places.stands_at(folder, last.facts, frozenset(), Names()) == ""
    gone = Names(dropped=frozenset({places.key_of(session_paths(folder)[0])}))
    assert places.stands_at(folder, last.facts, last.known, gone) == ""


def test_a_session_that_is_gone_on_with_knows_it_still(tmp_path: Path) -> None:
    stay(tmp_path)
    stay(tmp_path, replace(USUAL, at={"markers-out": ("finish for now",),
                                      "look-round": ("finish for now",)}))
    folder = rig_folder(tmp_path, TANDEM.name)
    started = go_on(ARRIVE, folder, 1, TANDEM, {})
    found = memory(visits(tmp_path, Names()), PLACE, ARRIVE, TANDEM.name, TANDEM.has)
    told = talk(ARRIVE, load_language("en"), USUAL, started=started, talking=partial(AtAPlace, found))
    started.log.close()
    assert sentences(told) and asked(told) == []


def test_a_plain_conversation_is_as_it_was(english: Language) -> None:
    plain = talk(ARRIVE, english, USUAL, record=ROAD)
    known = talk(ARRIVE, english, USUAL, record=ROAD, talking=partial(AtAPlace, Memory("")))
    assert plain.turns == known.turns
    assert type(plain.conversation) is Conversation and begin(ARRIVE, ROAD)
