"""What is typed with a question mark asks: it answers, confirms and reports nothing, in any language."""

import pytest

from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode
from handsfree.hearing.types import Hypothesis
from handsfree.language.intents import Command, NotHere, Respond
from handsfree.language.loader import language_names, load_language
from handsfree.language.matcher import Expected, Matcher
from handsfree.language.model import Language
from handsfree.session.conversation import Conversation
from handsfree.testing import MemoryLog

MARKS = ["?", "\uff1f", " ?", "?!"]
ANSWERS = ("done", "yes", "no", "confirm", "deny", "skip", "problem")


def typed(talk: Conversation, words: str) -> str:
    return " ".join(prompt.text for prompt in talk.hear(
        Hypothesis(words, 1.0, 1.0, 2.0, engine="keyboard"), 2.0))


@pytest.fixture
def talk(small: Checklist, english: Language) -> Conversation:
    """At the hold point of the chocks."""
    made = Conversation(small, english, MemoryLog())
    made.begin(small.start_facts, 0.0)
    typed(made, "no")
    assert made.state.at == "chock"
    return made


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("words", ["chocks set", "the chocks are set", "ok, chocks set",
                                   "chocks set, what's next"])
def test_it_is_no_response(words: str, mark: str, talk: Conversation) -> None:
    assert typed(talk, words + mark) == "I need to hear: chocks set."
    assert talk.state.mode is Mode.STEP and "chocked" not in talk.state.facts


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("words", ["that's right", "that is right", "yes", "done", "chocks set"])
def test_it_confirms_nothing(words: str, mark: str, talk: Conversation) -> None:
    typed(talk, "chocks set")
    assert talk.state.mode is Mode.CONFIRM
    typed(talk, words + mark)
    assert talk.state.mode is Mode.CONFIRM and "chocked" not in talk.state.facts
    typed(talk, "that is right")
    assert "chocked" in talk.state.facts


@pytest.mark.parametrize("mark", MARKS)
def test_it_reports_no_step_and_no_number(mark: str, talk: Conversation) -> None:
    typed(talk, "chocks set"), typed(talk, "that is right")
    for words in ("done", "all done", "ok", "skip this", "there is a problem"):
        assert typed(talk, words + mark) == "Say done, or: there is a problem."
        assert talk.state.at == "pull away" and talk.state.mode is Mode.STEP
    typed(talk, "done")
    assert talk.state.at == "volts"
    assert "reading" in typed(talk, "118" + mark) and talk.state.mode is Mode.STEP


def test_what_only_asks_or_holds_is_taken_as_ever(talk: Conversation) -> None:
    assert "I need" not in typed(talk, "what is left?")
    assert "left" in typed(talk, "what is left\uff1f")
    typed(talk, "hold on?")
    assert talk.state.mode is Mode.PAUSED


@pytest.mark.parametrize("code", language_names())
@pytest.mark.parametrize("mark", ["?", "\uff1f"])
def test_in_every_language(code: str, mark: str) -> None:
    language = load_language(code)
    matcher = Matcher(language)
    here = Expected(frozenset(ANSWERS), counts={}, maybe={})
    for command in ANSWERS:
        for words in language.commands[command]:
            assert matcher.interpret(words, here) == Command(command)
            assert isinstance(matcher.interpret(words + mark, here), NotHere), words + mark
    phrase = {"de": "die Keile sitzen", "ko": "고임목 끝"}.get(code, "chocks set")
    hold = Expected(frozenset({"skip"}), responses={phrase: "chock"})
    assert matcher.interpret(phrase, hold) == Respond("chock")
    assert isinstance(matcher.interpret(phrase + mark, hold), NotHere)
