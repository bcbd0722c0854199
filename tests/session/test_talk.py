"""Whole conversations in words: every effect is spoken as the operator should hear it."""

from dataclasses import replace

import pytest

from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.session.understanding import Bands, understand
from handsfree.storage.lines import Refused
from handsfree.testing import MemoryLog, Talk, talk


def said(told: Talk) -> str:
    return "\n".join(told.words_of("program"))


def test_everything_as_usual_closes_and_says_so(small: Checklist, english: Language) -> None:
    told = talk(small, english)
    assert told.conversation.state.mode is Mode.CLOSED
    assert told.words_of("program")[-1] == "Small stay: complete. Rest well."
    assert "hose" not in told.conversation.state.facts


def test_a_refusal_says_what_is_missing_why_and_what_comes_first(
    small: Checklist, english: Language
) -> None:
    told = talk(small, english, Script(at={"chock": ("go to pull away",)}))
    assert ("Stop. Pull away must wait: the wheels are not chocked."
            " Nothing would hold the trailer. First, chocks.") in said(told)
    assert [line for line in told.log.lines if line.what == "refused"] == [
        Refused("pull away", "roll", ("chocked",), False, n=5, t=1.0)]


def test_a_reading_is_read_back_judged_and_remedied(small: Checklist, english: Language) -> None:
    told = talk(small, english, Script(
        readings={"volts": ("one hundred four volts", "one eighteen")}))
    words = said(told)
    assert "One hundred four volts. Is that right?" in words
    assert "One hundred four volts.\nThat outlet is bad." in words
    assert "One hundred eighteen volts. Within limits." in words
    readings = [line for line in told.log.lines if line.what == "reading"]
    assert [(line.value, line.unit, line.band) for line in readings] == [
        (104.0, "volts", "low"), (118.0, "volts", "within")]


def test_a_reading_in_another_unit_of_the_wrong_kind_is_not_taken(
    small: Checklist, english: Language
) -> None:
    told = talk(small, english, Script(readings={"volts": ("fifty psi",)}))
    assert "I need it in volts." in said(told)
    assert not [line for line in told.log.lines if line.what == "reading"]


def test_a_caution_is_spoken_whenever_its_step_is(small: Checklist, english: Language) -> None:
    told = talk(small, english, Script(at={"pull away": ("say again", "why")}))
    offers = [prompt.text for prompt in told.prompts if prompt.key == "offer"
              and prompt.about == "pull away"]
    assert offers == ["Nobody between truck and trailer. Pull the truck away."] * 2


def test_pausing_names_the_place_and_resuming_reads_the_step_again(
    small: Checklist, english: Language
) -> None:
    told = talk(small, english, Script(at={"chock": ("hold on",)}))
    words = told.words_of("program")
    assert "Holding at chocks. Say carry on when you are back." in words
    assert "We were at chocks. Chock both wheels. Answer: chocks set." in words


def test_taking_back_the_chocks_after_pulling_away_is_an_alarm(
    small: Checklist, english: Language
) -> None:
    told = talk(small, english, Script(at={"volts": ("take back chocks",)}))
    words = said(told)
    assert ("Danger! Nothing would hold the trailer. Keep clear and chock the wheels."
            " When that is done, answer: wheels are chocked.") in words
    assert "Wheels are chocked. Noted. Carrying on." in words
    assert told.conversation.state.mode is Mode.CLOSED


def test_what_stays_open_is_spoken_at_the_end_and_on_the_record(
    small: Checklist, english: Language
) -> None:
    told = talk(small, english, Script(at={"mat": ("skip", "skip")}))
    assert told.words_of("program")[-1] == "Small stay is finished. Not done: mat."
    assert told.log.lines[-1].what == "closed" and told.log.lines[-1].open == ("mat",)


def test_questions_about_the_session_change_nothing(small: Checklist, english: Language) -> None:
    asked = ("what is left", "where are we", "help", "how much time", "tell me more", "why",
             "say again", "which rule applies")
    told = talk(small, english, Script(at={"chock": asked}))
    plain = talk(small, english)
    assert told.conversation.state == plain.conversation.state
    words = said(told)
    assert "5 left" in words or "left: " in words.lower()
    assert "That is all I have on chocks." in words
    assert "zero minutes so far" in words.lower()


def test_the_time_tells_what_is_still_to_come(small: Checklist, english: Language) -> None:
    conversation = Conversation(small, english, MemoryLog(), elapsed=lambda: 125.0,
                                left=lambda state: (40, "10:50", ()))
    conversation.begin(small.start_facts, 0.0)
    (prompt,) = conversation.hear(Hypothesis("how much time", 1.0, 0, 0), 1.0)
    assert prompt.text == ("Two minutes so far. About forty minutes to go, done at about 10:50.")


@pytest.mark.parametrize("code", ["en", "de", "ko"])
def test_what_the_time_rests_on_is_said_once(small: Checklist, code: str) -> None:
    remarks = [("time left apart", {"planned": "9", "usual": "24"}),
               ("time left slower", {"stays": "5", "percent": "40"}),
               ("time left faster", {"stays": "5", "percent": "30"}),
               ("time left operator", {}), ("time left rig", {})]
    conversation = Conversation(small, load_language(code), MemoryLog(),
                                left=lambda state: (40, "10:50", remarks))
    conversation.begin(small.start_facts, 0.0)
    words = load_language(code).commands["time"][0]
    told, *more = conversation.hear(Hypothesis(words, 1.0, 0, 0), 1.0)
    assert len(more) == 5 and all(prompt.text for prompt in more)
    assert "9" in more[0].text and "24" in more[0].text and "40" in more[1].text
    again = conversation.hear(Hypothesis(words, 1.0, 0, 0), 2.0)
    assert [prompt.text for prompt in again] == [told.text]


def test_no_sentence_is_left_with_a_hole(small: Checklist, english: Language) -> None:
    told = talk(small, english, Script(
        at={"chock": ("go to pull away", "why", "hold on", "skip"), "volts": ("problem",),
            "mat": ("skip", "take it back", "skip", "skip")}))
    for words in told.words_of("program"):
        if words == "(heard)":
            continue
        assert "  " not in words and "{" not in words and " ." not in words and ": ." not in words
        assert words[0].isupper() or words[0].isdigit()
        assert words[-1] in ".?!:", words


@pytest.mark.parametrize(("at", "words", "enough", "below"), [
    ("mat", "skip", 0.95, "asked"), ("mat", "skip this", 0.80, "asked"),
    ("mat", "pause", 0.95, "asked"), ("mat", "hold on", 0.80, "asked"),
    ("mat", "slower", 0.95, "rejected"), ("volts", "ninety", 0.80, "asked"),
    ("volts", "ninety volts", 0.80, "asked"),
])
def test_a_single_word_needs_more_confidence_unless_it_is_read_back(
    small: Checklist, english: Language, at: str, words: str, enough: float, below: str
) -> None:
    talk = Conversation(small, english, MemoryLog())
    talk.begin(small.start_facts, 0.0)
    state = replace(talk.state, mode=Mode.STEP, at=at)

    def verdict(sure: float) -> str:
        heard = Hypothesis(words, sure, 0, 0)
        return understand(heard, small, state, talk.matcher, Bands()).verdict

    assert verdict(enough) == "accepted"
    assert verdict(enough - 0.01) == below
