"""PocketSphinx: commands heard, everything else refused, in quiet and in noise."""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.audio import Samples, silence, to_int16
from handsfree.errors import InputError
from handsfree.hearing.listening import Listener
from handsfree.hearing.pocketsphinx_engine import SphinxRecogniser, jsgf
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection
from tests.hearing.speech import in_noise, noise, say

COMMANDS = ("skip this", "say again", "tell me more", "there is a problem", "take that back",
            "what is left", "hold on", "carry on", "make a note", "help me", "finish for now",
            "chocks set", "coupler locked", "go to water", "done", "why")
OTHERS = ("the weather is nice today", "where did you put the keys", "hand me that wrench please",
          "my hands are freezing", "no way that can't be right", "thanks", "chocolate",
          "bring the lantern", "turn the radio down", "I will be back in a minute")
VOICES = ("en-us", "en-us+f2", "en-gb-scotland+m4", "en-us+m6")
GRAMMAR = Grammar(frozenset(COMMANDS))


@pytest.fixture(scope="module")
def recogniser() -> SphinxRecogniser:
    return SphinxRecogniser({"chocks": ["CH AA K S"]})


def hear(recogniser: SphinxRecogniser, sound: Samples, grammar: Grammar = GRAMMAR) -> Heard | None:
    listener = Listener(recogniser)
    listener.expect(grammar)
    return listener.feed(np.concatenate((silence(1), sound)))


def said(heard: Heard | None, least: float = 0.0) -> str:
    return heard.text if isinstance(heard, Hypothesis) and heard.confidence >= least else ""


def test_commands_are_heard_in_quiet(recogniser: SphinxRecogniser) -> None:
    heard = {text: said(hear(recogniser, say(text, VOICES[n % 4])))
             for n, text in enumerate(COMMANDS)}
    wrong = {text: what for text, what in heard.items() if what != text}
    assert len(wrong) <= 1, wrong


@pytest.mark.parametrize("kind", ["wind", "engine"])
def test_commands_are_mostly_heard_in_noise(recogniser: SphinxRecogniser, kind: str) -> None:
    """The noise is there before the word, and goes on after it."""
    heard = []
    for n, text in enumerate(COMMANDS):
        word = np.concatenate((silence(1), say(text, VOICES[n % 4]), silence(1)))
        heard.append(said(hear(recogniser, in_noise(word, kind, 15, n))) == text)
    assert sum(heard) >= 12, heard


def test_other_sentences_are_mostly_refused(recogniser: SphinxRecogniser) -> None:
    heard = {text: hear(recogniser, say(text, VOICES[n % 4])) for n, text in enumerate(OTHERS)}
    certain = {text: said(one, 0.8) for text, one in heard.items() if said(one, 0.8)}
    taken = {text: said(one) for text, one in heard.items() if said(one)}
    assert not certain
    assert len(taken) <= 2, taken


@pytest.mark.parametrize("kind", ["wind", "engine", "pink", "white"])
def test_noise_handed_to_it_is_refused(recogniser: SphinxRecogniser, kind: str) -> None:
    """Past the endpointer, which would not have opened."""
    recogniser.expect(GRAMMAR)
    sound = to_int16(noise(kind, 10, 8) * 1500)
    for at in range(5):
        recogniser.begin()
        recogniser.feed(sound[at * 25_000 : at * 25_000 + 20_000])
        heard = recogniser.finish()
        assert isinstance(heard, Rejection) or heard.confidence < 0.45, heard


def test_what_may_be_said_decides_what_is_heard(recogniser: SphinxRecogniser) -> None:
    sound = say("carry on")
    assert said(hear(recogniser, sound)) == "carry on"
    without = hear(recogniser, sound, Grammar(frozenset({"take that back", "chocks set"})))
    assert not said(without)
    nothing = hear(recogniser, sound, Grammar())
    assert isinstance(nothing, Rejection)
    assert nothing.reason == "unclear"


def test_readings(recogniser: SphinxRecogniser) -> None:
    grammar = Grammar(
        frozenset({"say again", "skip this"}),
        frozenset({"one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
                   "eighteen", "twenty", "thirty", "forty", "fifty", "hundred", "and", "point"}),
        frozenset({"volts", "p s i"}))
    for text in ("one eighteen volts", "fifty five", "one hundred and twenty volts"):
        heard = hear(recogniser, say(text), grammar)
        assert said(heard) == text, heard
    assert said(hear(recogniser, say("say again"), grammar)) == "say again"


def test_the_runner_up_is_told(recogniser: SphinxRecogniser) -> None:
    heard = hear(recogniser, say("hold on"))
    assert isinstance(heard, Hypothesis)
    assert heard.alternatives
    assert heard.alternatives[0][0] in set(COMMANDS) - {"hold on"}
    assert heard.alternatives[0][1] < heard.confidence


def test_words_that_no_dictionary_has_are_asked_of_the_synthesiser() -> None:
    plain = SphinxRecogniser()
    grammar = Grammar(frozenset({"jackstands snug", "chocks set", "say again"}))
    assert said(hear(plain, say("jackstands snug"), grammar)) == "jackstands snug"
    assert said(hear(plain, say("chocks set"), grammar)) == "chocks set"


def test_a_pronunciation_that_is_none() -> None:
    with pytest.raises(InputError, match="'CH AX K S' of 'chocks' has the sound 'AX'"):
        SphinxRecogniser({"chocks": "CH AX K S"})


def test_the_grammar_as_written_for_the_decoder() -> None:
    text = jsgf(Grammar(frozenset({"done"}), frozenset({"one", "two"}), frozenset({"volts"})))
    assert "public <said> = done | <number> | <number> <unit> | <unit> <number>;" in text
    assert "<number> = (one | two)+;" in text
