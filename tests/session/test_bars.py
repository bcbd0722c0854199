"""A single word where nothing hangs on it, and a word said again: at real moments of the lists."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.state import Answer, Confirm, Done, Event, Mode, Respond, State, Unsure
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.loader import load_language
from handsfree.language.matcher import Matcher
from handsfree.proof.moments import Moment, moments
from handsfree.session.bars import AGAIN, AT_EASE, at_ease
from handsfree.session.conversation import Conversation
from handsfree.session.understanding import Bands, understand
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.testing import MemoryLog

RIG = load_rig(find_rig("survey-trailer"))
LISTS = sorted(path.stem for path in checklists_folder().glob("*.yaml"))


def checklist(name: str) -> Checklist:
    return load_checklist(checklists_folder() / f"{name}.yaml", rig=RIG, library=checklists_folder())


def at(name: str, step: str, kind: str = "") -> tuple[Checklist, State]:
    some = checklist(name)
    return some, next(m.state for m in moments(some, RIG.has) if m.step == step
                      and (m.kind == kind if kind else m.kind != "confirm"))


def heard(words: str, sure: float) -> Hypothesis:
    return Hypothesis(words, sure, 0.0, 1.0)


def event(some: Checklist, state: State, words: str, sure: float, bands: Bands | None = None,
          wary: bool = False) -> Event | None:
    return understand(heard(words, sure), some, state, Matcher(load_language("en")),
                      bands or Bands(), wary).event


def eased(some: Checklist) -> Iterator[Moment]:
    for one in moments(some, RIG.has):
        if any(at_ease(event, some, one.state) for event in (Done(), Answer(True), Respond(), Confirm())):
            yield one


@pytest.mark.parametrize("name", LISTS)
def test_only_where_no_hazard_of_the_files_speaks_of_what_changes(name: str) -> None:
    some = checklist(name)
    for one in eased(some):
        step = some.steps[one.step]
        assert one.kind in ("step", "question"), one
        changed = step.gives | step.ends | ({step.id} if step.question else set())
        for hazard in some.hazards:
            for way in hazard.unsafe:
                assert changed.isdisjoint(way.when.names()), (one.step, hazard.id)
        for rule in some.all_rules:
            assert changed.isdisjoint(rule.when.names()), (one.step, rule.id)
        assert not (step.hold or step.reading or step.do.endswith("?") and not step.question)
        assert step.acts <= {"inside"}, one.step


def test_done_needs_less_where_you_put_on_gloves_than_where_you_look_or_handle_a_plug() -> None:
    assert event(*at("arrive", "gloves-on"), "done", 0.90) == Done()
    assert event(*at("arrive", "gloves-on"), "done", 0.89) == Unsure(Done())
    assert event(*at("arrive", "gloves-on"), "finished", 0.94) == Unsure(Done())
    for step in ("look-round", "guard-on", "back-in", "slide-space"):
        assert event(*at("arrive", step), "done", 0.94) == Unsure(Done()), step
        assert event(*at("arrive", step), "done", 0.95) == Done(), step


def test_yes_and_no_need_less_to_what_a_place_is_remembered_by_and_not_to_thunder() -> None:
    assert event(*at("arrive", "site power"), "no", 0.80) == Answer(False)
    assert event(*at("arrive", "site power"), "yes", 0.85) == Answer(True)
    assert event(*at("arrive", "site power"), "no", 0.79) == Unsure(Answer(False))
    assert event(*at("storm", "thunder near"), "no", 0.94) == Unsure(Answer(False))


def test_not_while_it_is_loud_nor_at_a_remedy_nor_for_a_voice_that_was_taken_wrongly() -> None:
    some, state = at("arrive", "gloves-on")
    assert event(some, state, "done", 0.94, wary=True) == Unsure(Done())
    assert event(some, replace(state, remedies=("chocks-push",)), "done", 0.94) == Unsure(Done())
    assert event(some, state, "done", 0.94, Bands(certain=0.85)) == Unsure(Done())
    assert event(some, state, "done", 0.90, Bands(certain=0.65)) == Done()


def test_another_language_keeps_its_bars() -> None:
    """The figures are of English words by the recogniser for English."""
    assert set(AT_EASE) == {"en"}


# --- said again --------------------------------------------------------------------------------

def talk(small: Checklist) -> Conversation:
    made = Conversation(small, load_language("en"), MemoryLog())
    made.begin(small.start_facts, 0.0)
    for words in ("no", "chocks set", "that is right", "that is done", "one hundred ten", "that is right"):
        made.hear(heard(words, 0.99), 0.0)
    assert made.state.at == "mat"
    return made


@pytest.mark.parametrize(("tries", "taken"), [
    ([("done", 0.8), ("done", 0.8)], True),  # 0.96 together
    ([("done", 0.8), ("yes", 0.8)], True),
    ([("done", 0.7), ("done", 0.7)], False),  # 0.91
    ([("done", 0.7), ("done", 0.7), ("done", 0.6)], True),  # 0.964
    ([("done", 0.6), ("done", 0.6)], False),
    ([("done", 0.8), ("no", 0.8)], False),
])
def test_a_word_said_again_counts_together_with_the_first_time(
    small: Checklist, tries: list[tuple[str, float]], taken: bool
) -> None:
    """Before, two times 0.94 were a question and "say again", and so on for ever."""
    made = talk(small)
    for at_, (words, sure) in enumerate(tries):
        made.hear(heard(words, sure), 10.0 + 5 * at_)
    assert (made.state.at != "mat") == taken


def test_what_was_heard_long_ago_or_in_too_much_noise_counts_for_nothing(small: Checklist) -> None:
    late = talk(small)
    late.hear(heard("done", 0.8), 10.0)
    late.hear(heard("done", 0.8), 10.1 + AGAIN)
    assert late.state.at == "mat" and late.state.mode is Mode.CONFIRM
    loud = talk(small)
    loud.wary = True
    loud.hear(heard("done", 0.9), 10.0)
    loud.hear(heard("done", 0.9), 12.0)
    assert loud.state.at == "mat"


def test_a_denied_guess_lends_the_next_one_nothing(small: Checklist) -> None:
    made = talk(small)
    made.hear(heard("done", 0.8), 10.0)
    made.hear(heard("no", 0.9), 12.0)
    made.hear(heard("done", 0.8), 14.0)
    assert made.state.mode is Mode.CONFIRM
    made.hear(Rejection("unclear", 0.0, 1.0, "done", 0.4), 16.0)
    assert made.state.mode is Mode.CONFIRM and made.state.at == "mat"


def test_nothing_adds_up_at_a_readback_that_guards_somebody(small: Checklist) -> None:
    made = Conversation(small, load_language("en"), MemoryLog())
    made.begin(small.start_facts, 0.0)
    made.hear(heard("no", 0.99), 0.0)
    made.hear(heard("chocks set", 0.9), 1.0)
    assert made.state.pending == Respond()
    for turn in range(4):
        made.hear(heard("that is right", 0.79), 2.0 + turn)
        made.hear(heard("yes", 0.94), 2.5 + turn)
    assert made.state.pending == Respond()
