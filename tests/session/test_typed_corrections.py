"""In a session a typed sentence that says what is so corrects the record, once it is confirmed."""

from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.engine.state import Mode
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import load_language
from handsfree.session.conversation import Conversation
from handsfree.testing import MemoryLog

LIST = """\
title: Tiny
facts:
  hitched: {says: truck and trailer are together, otherwise: the trailer stands alone, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are not chocked}
  pressure proved: {says: the water pressure was measured, otherwise: it was not measured}
gear:
  awning: {says: the awning is out, otherwise: the awning is in}
  water hose: {says: the water hose is out, otherwise: the water hose is stowed}
never:
  - {id: roll, when: not hitched and not chocked, because: it would roll, now: Chock it,
     respond: wheels are held, gives: chocked}
steps:
  - {id: mat, do: Lay the mat out.}
  - {id: awning, do: Let the awning out., puts out: awning}
  - {id: hose, do: Lay the hose., puts out: water hose, gives: pressure proved}
  - {id: chock, do: Chock the wheels., respond: chocks set, gives: chocked}
  - {id: pull, do: Pull away., needs: chocked, ends: hitched}
"""


@pytest.fixture
def conversation(tmp_path: Path) -> Conversation:
    path = tmp_path / "tiny.yaml"
    path.write_text(LIST)
    talks = Conversation(load_checklist(path), load_language("en"), MemoryLog())
    talks.begin(frozenset({"hitched"}), 0.0)
    return talks


def typed(conversation: Conversation, words: str, engine: str = "keyboard") -> str:
    said = conversation.hear(Hypothesis(words, 1.0, 1.0, 2.0, engine=engine), 2.0)
    return " ".join(prompt.text for prompt in said)


def test_it_is_read_back_as_the_fact_and_written_once_confirmed(conversation: Conversation) -> None:
    assert typed(conversation, "I rolled the awning out") == "Did you say: the awning is out?"
    assert "awning out" not in conversation.state.facts
    assert "Corrected: the awning is out." in typed(conversation, "that is right")
    assert "awning out" in conversation.state.facts


def test_no_leaves_the_record_as_it_was(conversation: Conversation) -> None:
    typed(conversation, "the hose is out")
    assert "Corrected" not in typed(conversation, "no change it")
    assert "water hose out" not in conversation.state.facts


def test_a_danger_that_it_shows_is_told_at_once(conversation: Conversation) -> None:
    assert typed(conversation, "unhitched") == "Did you say: the trailer stands alone?"
    assert "it would roll" in typed(conversation, "that is right").lower()
    assert conversation.state.mode is Mode.ALARM
    assert "Did you say" not in typed(conversation, "the awning is out")


@pytest.mark.parametrize("words", (
    "is the awning out", "the awning is torn", "roll the awning out", "the awning might be out",
    "the awning is out and the hose is out", "the water pressure was measured"))
def test_what_could_mean_something_else_corrects_nothing(
    words: str, conversation: Conversation
) -> None:
    before = conversation.state.facts
    assert "Did you say" not in typed(conversation, words)
    typed(conversation, "that is right")
    assert conversation.state.facts == before


def test_commands_come_first_and_hearing_is_not_read_this_way(conversation: Conversation) -> None:
    assert "Did you say" not in typed(conversation, "done")
    assert "Did you say" not in typed(conversation, "the awning is out", engine="own")
