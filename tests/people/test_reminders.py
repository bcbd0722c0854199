"""Reminders: spoken once, at a fit moment, and not lost when the machine goes out."""

from fractions import Fraction
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import language_names, load_language
from handsfree.language.matcher import Matcher
from handsfree.session.conversation import Conversation
from handsfree.session.expecting import expected
from handsfree.testing import MemoryLog

LIST = """\
title: Small stay
facts: {chocked: the wheels are chocked}
steps:
  - {id: walk, do: Walk round.}
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked}
  - {id: look, do: Look again.}
"""


@pytest.fixture
def small(tmp_path: Path) -> Checklist:
    path = tmp_path / "small.yaml"
    path.write_text(LIST, encoding="utf-8")
    return load_checklist(path)


@pytest.fixture
def talking(small: Checklist) -> Conversation:
    conversation = Conversation(small, load_language("en"), MemoryLog())
    conversation.begin(small.start_facts, 0.0)
    return conversation


def hear(conversation: Conversation, words: str, t: float) -> str:
    return " | ".join(p.text for p in conversation.hear(Hypothesis(words, 1.0, 0.0, 1.0), t))


def reminded(conversation: Conversation, t: float) -> str:
    return " | ".join(prompt.text for prompt in conversation.remind(t))


def test_it_speaks_up_once_when_the_time_has_come(talking: Conversation) -> None:
    assert hear(talking, "remind me in ten minutes", 5.0) == "In ten minutes."
    assert reminded(talking, 604.9) == ""
    assert reminded(talking, 605.0) == "Your reminder, set at walk. It was for ten minutes."
    assert reminded(talking, 5000.0) == ""


def test_several_come_in_their_order(talking: Conversation) -> None:
    hear(talking, "remind me in ten minutes", 0.0)
    hear(talking, "remind me in two minutes", 60.0)
    assert "two minutes" in reminded(talking, 1000.0)
    assert "ten minutes" in reminded(talking, 1000.0)


def test_never_at_a_hold_point_nor_within_its_readback(talking: Conversation) -> None:
    hear(talking, "remind me in one minute", 0.0)
    hear(talking, "done", 30.0)
    assert talking.state.at == "chock" and reminded(talking, 100.0) == ""
    hear(talking, "chocks set", 110.0)
    assert talking.state.mode is Mode.CONFIRM and reminded(talking, 120.0) == ""
    hear(talking, "that is right", 130.0)
    assert "one minute" in reminded(talking, 131.0)


def test_while_paused_it_can_be_set_and_comes(talking: Conversation) -> None:
    hear(talking, "hold on", 0.0)
    assert hear(talking, "remind me in five minutes", 1.0) == "In five minutes."
    assert "five minutes" in reminded(talking, 301.0)
    assert talking.state.mode is Mode.PAUSED


def test_a_hold_point_takes_no_reminder(small: Checklist, talking: Conversation) -> None:
    hear(talking, "done", 0.0)
    assert "remind" not in expected(small, talking.state).commands
    hear(talking, "remind me in five minutes", 1.0)
    assert len(talking.reminders) == 0


def test_one_that_is_not_due_yet_is_told_at_the_end(talking: Conversation) -> None:
    hear(talking, "remind me in sixty minutes", 0.0)
    for words in ("done", "chocks set", "that is right"):
        hear(talking, words, 10.0)
    last = hear(talking, "done", 20.0)
    assert "Your reminder from walk is not due yet." in last and "complete" in last
    assert len(talking.reminders) == 0


def test_after_a_crash_an_unspoken_one_comes_at_once(
    small: Checklist, talking: Conversation
) -> None:
    hear(talking, "remind me in ten minutes", 0.0)
    hear(talking, "remind me in one minute", 0.0)
    assert "one minute" in reminded(talking, 61.0)
    log = talking._log
    assert isinstance(log, MemoryLog)
    again = Conversation(small, load_language("en"), MemoryLog())
    again.replay(small.start_facts, tuple(log.lines))
    again.resume(0.0)
    assert "ten minutes" in reminded(again, 0.0)
    assert reminded(again, 1e6) == ""


def test_setting_one_changes_no_state(talking: Conversation) -> None:
    before = talking.state
    hear(talking, "remind me in ten minutes", 0.0)
    assert talking.state == before


def test_minutes_need_not_be_whole(talking: Conversation) -> None:
    talking.reminders.add(0.0, Fraction(5, 2), "walk")
    assert reminded(talking, 149.0) == ""
    assert "two point five minutes" in reminded(talking, 150.0)


@pytest.mark.parametrize("code", language_names())
def test_every_language_offers_reminders_that_it_understands(
    code: str, talking: Conversation, small: Checklist
) -> None:
    language = load_language(code)
    matcher = Matcher(language)
    allowed = expected(small, talking.state)
    prefix = language.commands["remind"][0]
    offered = [phrase for phrase in matcher.phrases(allowed) if phrase.startswith(f"{prefix} ")]
    assert len(offered) >= 10
    other = Conversation(small, language, MemoryLog())
    other.begin(small.start_facts, 0.0)
    for phrase in offered:
        prompts = other.hear(Hypothesis(phrase, 1.0, 0.0, 1.0), 0.0)
        assert prompts[0].key == "reminder set", phrase
    assert len(other.reminders) == len(offered)
