"""Two things in one breath: the first is judged as if it were all, the second done when it counts."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode
from handsfree.hearing.types import Hypothesis
from handsfree.language.model import Language
from handsfree.session.conversation import Conversation
from handsfree.testing import MemoryLog
from tests.session.wordings import outcome, sentences


@pytest.mark.parametrize(("moment", "words", "meaning"), [
    ("step", "done, what's next", "done"),
    ("step", "done, next", "done"),
    ("step", "done, and make a note the jack squeaks", "done + note: the jack squeaks"),
    ("step", "done, remind me in ten minutes", "done + remind 10"),
    ("step", "done, louder please", "done + louder"),
    ("step", "done, how long have we got", "done + time"),
    ("step", "done, what comes next", "done"),
    ("hold chocks set", "chocks set, what's next", "respond"),
    ("hold chocks set", "okay, chocks are set, next", "respond"),
    ("hold chocks set", "done, what's next", "wanted"),
    ("hold chocks set", "yes, and make a note", "note"),
    ("hold chocks set", "chocks set I think, what's next", "nothing"),
    ("hold chocks set", "chocks set, what's next I guess", "nothing"),
    ("hold chocks set", "chocks set, hold on", "nothing"),
    ("hold chocks set", "chocks set, not really", "nothing"),
    ("hold chocks set", "are the chocks set, what's next", "nothing"),
    ("hold chocks set", "make a note, chocks set", "note: chocks set"),
    ("hold chocks set", "what's next, chocks set", "nothing"),
    ("reading volts", "one eighteen, next", "= 118"),
    ("reading volts", "it says one eighteen, and make a note", "= 118"),
    ("question", "yes, what's next", "yes"),
    ("question", "yes, and make a note", "yes + note"),
    ("question", "no, and make a note the post leans", "no + note: the post leans"),
    ("confirm grave", "that's right, next", "confirm"),
    ("confirm grave", "yes, next", "wanted"),
])
def test_the_first_is_judged_as_if_it_were_all(moment: str, words: str, meaning: str) -> None:
    assert outcome(words, moment) == meaning


@pytest.mark.parametrize("words", [
    "what's next", "what is next", "what comes next", "okay, what's next", "what now", "and what's the next one",
    "can we go on to the next one", "could you give me the next step", "may I move on to the next",
    "what do I do next", "what do we do next", "what have we got next", "what is the next step"])
@pytest.mark.parametrize("moment", ["step", "remedy", "reading volts", "question", "hold chocks set"])
def test_a_question_for_what_comes_next_is_never_done(moment: str, words: str) -> None:
    """Somebody who asks what comes after the walk-around has not said that he has walked around."""
    assert outcome(words, moment) in ("next", "wanted", "repeat"), moment
    assert moment != "step" or outcome(words, moment) == "next"


@pytest.mark.parametrize("second", [
    "what's next", "make a note", "make a note the left one is worn", "how long have we got"])
@pytest.mark.parametrize("moment", ["hold chocks set", "hold gas is shut", "hold breaker is off"])
def test_a_hold_point_takes_no_more_than_it_takes_alone(moment: str, second: str) -> None:
    """Whatever it does not take as the answer alone is not taken with a second thing behind it."""
    own = [one for one in (*sentences("taught"), *sentences("held-out"))
           if one.moment == moment] + sentences("taught")[::9]
    assert any(outcome(one.words, moment) == "respond" for one in own)
    for one in own:
        if outcome(one.words, moment) != "respond":
            assert "respond" not in outcome(f"{one.words}, {second}", moment), one


def answered(small: Checklist, english: Language, *words: str) -> tuple[Conversation, list[str]]:
    talk = Conversation(small, english, MemoryLog())
    talk.begin(small.start_facts, 0.0)
    told: list[str] = []
    for one in words:
        told += [prompt.text for prompt in talk.hear(Hypothesis(one, 1.0, 0.0, 0.0), 0.0)]
    return talk, told


def notes(talk: Conversation) -> list[tuple[str, str]]:
    log = talk._log
    assert isinstance(log, MemoryLog)
    return [(line.step, line.text) for line in log.lines if line.what == "note"]


def test_a_note_with_the_answer_of_a_hold_point_is_kept_once_that_is_confirmed(
    small: Checklist, english: Language
) -> None:
    words = ("no", "chocks set, make a note the left one is worn")
    talk, _ = answered(small, english, *words)
    assert talk.state.mode is Mode.CONFIRM and not notes(talk)
    at = talk.state.at
    talk, told = answered(small, english, *words, "say again", "that is right")
    assert notes(talk) == [(at, "the left one is worn")] and talk.state.at != at
    assert any("Saved" in one for one in told)
    talk, _ = answered(small, english, *words, "no change it", "chocks set", "that is right")
    assert not notes(talk), "what was taken back took its note with it"


TWO_STEPS = """\
title: Boxes
steps:
  - {id: look, do: Look into each box.}
  - {id: shut, do: Shut the boxes.}
"""


def test_what_comes_next_is_told_without_this_step_being_reported(
    english: Language, tmp_path: Path
) -> None:
    path = tmp_path / "boxes.yaml"
    path.write_text(TWO_STEPS)
    talk, told = answered(load_checklist(path), english, "what's next", "done", "what's next")
    assert told[:1] == ["We are still at look. After that: shut."], told
    assert told[-1:] == ["We are still at shut. Nothing comes after that."], told
    assert talk.state.at == "shut"


@pytest.mark.parametrize("spoken", [False, True])
def test_a_note_with_the_last_done_of_a_list_is_kept(
    spoken: bool, english: Language, tmp_path: Path
) -> None:
    """The technician shuts the last box and says in one breath that a hinge is loose: who comes next
    would not know, if the list closed over it."""
    path = tmp_path / "boxes.yaml"
    path.write_text(TWO_STEPS)
    talk, told = answered(load_checklist(path), english, "done", *(
        ["done, make a note"] if spoken else ["done, make a note the hinge is loose"]))
    if spoken:
        assert talk.noting and talk.state.mode is Mode.STEP, told
        talk.noted(9.0, "note.flac", "the hinge is loose")
    assert notes(talk) == [("shut", "the hinge is loose")], told
    assert talk.state.mode is Mode.CLOSED


THREE_STEPS = """title: Small
steps:
  - {id: mat, do: Put the mat out.}
  - {id: lamp, do: Light the lamp.}
  - {id: door, do: Close the door.}
"""


def test_a_note_that_is_called_off_leaves_no_step_unsaid(english: Language, tmp_path: Path) -> None:
    """A key ends the note: it answers nothing of which nothing was said yet, and no challenge comes
    a step too late."""
    path = tmp_path / "small.yaml"
    path.write_text(THREE_STEPS)
    talk, _ = answered(load_checklist(path), english, "done, make a note")
    assert talk.noting and talk.state.at == "lamp"
    assert [prompt.text for prompt in talk.typed("done", 2.0) if prompt.text] == ["Light the lamp."]
    assert not talk.noting and talk.state.at == "lamp"
    assert not talk.typed("done", 3.0)  # now it is a report like any other
    talk.hear(Hypothesis("make a note", 1.0, 4.0, 4.0), 4.0)
    assert [prompt.text for prompt in talk.noted(5.0, "note.flac")] == ["Saved."]


def test_stop_instead_of_a_note_pauses_and_what_was_held_back_comes_after(
    english: Language, tmp_path: Path
) -> None:
    path = tmp_path / "small.yaml"
    path.write_text(THREE_STEPS)
    talk, _ = answered(load_checklist(path), english, "done, make a note")
    talk.stopped(Hypothesis("stop", 1.0, 2.0, 2.0), 2.0)
    assert talk.state.mode is Mode.PAUSED and not talk.noting
    told = talk.hear(Hypothesis("carry on", 1.0, 3.0, 3.0), 3.0)
    assert "Light the lamp." in told[-1].text
