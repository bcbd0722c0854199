"""What an owner ran into who tried the program: sentences typed at a hold point and at a question."""

from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import language_names, load_language
from handsfree.language.model import Language
from handsfree.language.statements import Clauses, ordered, understand
from handsfree.session.conversation import Conversation
from handsfree.session.reprompts import TONE, reprompt
from handsfree.testing import MemoryLog
from tests.session.test_typed_corrections import LIST


def typed(talk: Conversation, words: str) -> str:
    return " ".join(prompt.text for prompt in talk.hear(
        Hypothesis(words, 1.0, 1.0, 2.0, engine="keyboard"), 2.0))


@pytest.fixture
def asked(small: Checklist, english: Language) -> Conversation:
    """At the question whether there is water."""
    talk = Conversation(small, english, MemoryLog())
    talk.begin(small.start_facts, 0.0)
    return talk


@pytest.fixture
def chocks(tmp_path: Path) -> Conversation:
    """At the hold point of the chocks, in the list of the typed corrections."""
    path = tmp_path / "tiny.yaml"
    path.write_text(LIST)
    talk = Conversation(load_checklist(path), load_language("en"), MemoryLog())
    talk.begin(frozenset({"hitched"}), 0.0)
    typed(talk, "go to chock")
    assert talk.state.at == "chock"
    return talk


@pytest.mark.parametrize("words", ["the wheels are chocked", "I chocked the wheels"])
def test_a_hold_point_is_not_passed_as_a_correction(words: str, chocks: Conversation) -> None:
    assert typed(chocks, words) == "I need to hear: chocks set."
    typed(chocks, "that is right")
    assert "chocked" not in chocks.state.facts and chocks.state.at == "chock"
    assert typed(chocks, "the awning is out") == "Did you say: the awning is out?"


def test_nor_an_ordinary_step_that_a_never_rule_hangs_on(chocks: Conversation) -> None:
    typed(chocks, "chocks set"), typed(chocks, "that is right"), typed(chocks, "go to pull")
    assert chocks.state.at == "pull"
    assert typed(chocks, "the trailer is unhitched") == "Say done, or: there is a problem."
    assert "hitched" in chocks.state.facts
    assert "not chocked" in typed(chocks, "the wheels are not chocked")


def test_what_is_missing_at_a_hold_point_is_no_step_to_go_past(chocks: Conversation) -> None:
    told = typed(chocks, "I can't find the chocks")
    assert "Do not go on without it." in told and "It would roll." in told
    assert "hold on" in told and "finish for now" in told
    assert "leave it alone" not in told and chocks.state.mode is Mode.STEP


def test_a_question_is_asked_again_from_the_second_time_on(asked: Conversation) -> None:
    said = [typed(asked, "done") for _ in range(5)]
    assert said[0] == "Please answer yes or no."
    assert all(one.startswith(said[0]) and "Is there water?" in one for one in said[1:])


@pytest.mark.parametrize("reading", [True, False])
def test_who_types_is_told_another_way_each_time(reading: bool) -> None:
    ways = [reprompt(n, reading=reading, keys=True, typed=True) for n in range(1, 31)]
    assert ways[0] == "unclear" and TONE not in ways and ways.count("unclear") == 1
    assert all(a != b for a, b in zip(ways, ways[1:], strict=False))
    assert "hard words" in ways and not {"hard to hear", "hard keys"} & set(ways)


@pytest.mark.parametrize("code", language_names())
def test_the_new_sentences_are_there_in_every_language(code: str) -> None:
    templates = load_language(code).templates
    assert templates["hard words"] and templates["no remedy hold"]


@pytest.mark.parametrize(("order", "at"), [
    ("unhitch now", "chock"), ("drop the trailer", "chock"), ("please uncouple the trailer", "chock"),
    ("roll the awning out", "awning"), ("chock the wheels", "chock"), ("go to uncouple", "chock")])
def test_an_order_in_plain_words_is_to_go_to_its_step(order: str, at: str, chocks: Conversation) -> None:
    """Refused with the reason, or offered; never done, and never asked about as if it were so."""
    before = chocks.state.facts
    told = typed(chocks, order)
    assert "Did you say" not in told and "catch" not in told
    assert ("Stop. Pull must wait: the wheels are not chocked. It would roll." in told) is (
        "unhitch" in order or "drop" in order or "uncouple" in order)
    assert chocks.state.facts == before and chocks.state.at == at


@pytest.mark.parametrize("words", ["pull away", "go to pull away", "drive off", "now pull out"])
@pytest.mark.parametrize("name", ["drive off", "pull away"])
def test_however_it_is_called_it_is_the_step_that_pulls_away(words: str, name: str, tmp_path: Path) -> None:
    path = tmp_path / "tiny.yaml"
    path.write_text(LIST.replace("id: pull,", f"id: pull, names: [{name}],"))
    talk = Conversation(load_checklist(path), load_language("en"), MemoryLog())
    talk.begin(frozenset({"hitched"}), 0.0)
    assert "must wait: the wheels are not chocked" in typed(talk, words)
    assert "hitched" in talk.state.facts


def test_an_order_is_no_statement_of_what_is_so() -> None:
    clauses = {"gas open": Clauses("the gas is open", "the gas is shut")}
    for order in ("open the gas", "please open the gas now", "turn the gas on"):
        assert not understand(order, clauses).facts, order
        assert ordered(order, clauses).facts == {"gas open": True}
    for so in ("opened the gas", "I opened the gas", "gas open", "the gas is open"):
        assert understand(so, clauses).facts == {"gas open": True} and not ordered(so, clauses).facts


def test_what_a_list_only_counts_is_told_when_it_is_asked_for(tmp_path: Path) -> None:
    steps = [f"step {word}" for word in ("red blue green brown white black pink gray gold silver amber lime "
                                         "coral olive plum").split()]
    path = tmp_path / "long.yaml"
    path.write_text("title: Long\nsteps:\n" + "".join(
        f"  - {{id: {name.replace(' ', '-')}, do: Do the {name}., names: [{name}]}}\n" for name in steps))
    talk = Conversation(load_checklist(path), load_language("en"), MemoryLog())
    talk.begin(frozenset(), 0.0)
    told = [typed(talk, "what is left"), typed(talk, "the rest"), typed(talk, "tell me more")]
    assert "and 12 more" in told[0] and told[1].startswith("Also: step brown") and "and 5 more" in told[1]
    assert all(any(name in one for one in told) for name in steps), told
    assert told[2].count("step") == 5 and "more" not in told[2]
    assert "That is all I have on step red" in typed(talk, "tell me more")
    assert "and" in typed(talk, "help") and typed(talk, "tell me more").startswith("Also: ")
    typed(talk, "help"), typed(talk, "where are we")
    assert "Also" not in typed(talk, "tell me more"), "the step's detail, as ever"


def test_how_long_the_gas_lasts_is_no_question_about_the_time(asked: Conversation) -> None:
    for words in ("how long does the gas last", "how long will the generator run"):
        assert "so far" not in typed(asked, words), words
    for words in ("how long does this take", "how long will it take", "how much longer will this take",
                  "how long have we been at it", "how long will we need"):
        assert "so far" in typed(asked, words), words


def test_the_breakaway_pin_is_told_as_people_tell_it() -> None:
    clauses = {"pin pulled": Clauses("the brake cable's pin is pulled for its test", "the brake cable's pin is in"),
               "cable on": Clauses("the brake cable is on", "the brake cable is off")}
    for words in ("the brake cable's pin is out", "the brake cable's pin is not in", "I pulled the breakaway pin",
                  "the brake cable's pin is pulled", "the breakaway pin is out"):
        assert understand(words, clauses).facts == {"pin pulled": True}, words
    for words in ("the breakaway pin is back in", "the brake cable's pin is in", "I put the breakaway pin in"):
        assert understand(words, clauses).facts == {"pin pulled": False}, words
    for words in ("the pin is in", "pin in", "the latch pin is in"):  # that may be the latch's
        assert not understand(words, clauses).facts, words
    assert understand("the brake cable is on", clauses).facts == {"cable on": True}
