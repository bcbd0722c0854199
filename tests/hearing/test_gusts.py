"""A recorded storm goes on after the word: the answer does not wait for the gust to be over, and
a gust in which nobody spoke gets none.  Frames of sound are counted, no clock."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.gate import bare
from benchmarks.recordings import without_end
from handsfree.audio import FRAME, SAMPLE_RATE, Samples, silence, to_int16
from handsfree.hearing.endpointing import Endpointer
from handsfree.hearing.listening import Listener
from handsfree.hearing.own import OwnRecogniser
from handsfree.hearing.types import Grammar, Heard, Hypothesis
from handsfree.language.loader import load_language
from handsfree.sound.mixing import gain_for_snr
from handsfree.testing import ScriptedRecogniser
from tests.hearing.speech import in_noise, say
from tests.recordings import recordings

WORDS = ("area is clear", "say again", "what is left", "tell me more")
VOICES = ("en-us", "en-us+f2", "en-gb-scotland+m4")
APART = 4.0
"""Seconds from the start of one word to that of the next."""

SOON = 60
"""Frames (1.2 s) after the end of a word within which it is answered: half a second of silence, a
quarter for what the networks hear late, and a quarter in which they hear at once."""


@pytest.fixture(scope="module")
def own() -> OwnRecogniser:
    return OwnRecogniser(None, load_language("en").pronunciations)


def stream(noise: str, snr: float, count: int) -> tuple[Samples, list[tuple[str, float, float]]]:
    """Words in a recorded noise without a break, and where each starts and ends, in seconds."""
    pull = without_end(recordings("outdoors") / f"{noise}.flac")
    level = float(np.sqrt(np.mean(pull(30 * SAMPLE_RATE).astype(float) ** 2)))
    length, pieces, places = round(APART * SAMPLE_RATE), [], []
    for number in range(count):
        text = WORDS[number % len(WORDS)]
        word = bare(say(text, VOICES[number % len(VOICES)]))
        under = pull(length).astype(float) * 1500 / level
        at = SAMPLE_RATE
        under[at : at + len(word)] += word / gain_for_snr(
            word, to_int16(under[at : at + len(word)]), snr)
        pieces.append(to_int16(under))
        start = number * APART + 1.0
        places.append((text, start, start + len(word) / SAMPLE_RATE))
    return np.concatenate(pieces), places


def answers(own: OwnRecogniser, sound: Samples) -> list[tuple[Heard, float]]:
    """What is heard, and when it is told, in seconds of sound."""
    listener, told = Listener(own), []
    listener.expect(Grammar(frozenset({*WORDS, "hold on", "chocks set", "done"})))
    for at in range(0, len(sound) - FRAME + 1, FRAME):
        heard = listener.feed(sound[at : at + FRAME])
        while heard is not None:
            told.append((heard, listener.now))
            heard = listener.feed(silence(0))
    return told


def test_a_word_in_a_storm_is_answered_soon_after_its_end(own: OwnRecogniser) -> None:
    sound, places = stream("storm", 10, 12)
    told = answers(own, sound)
    late = []
    for text, start, end in places:
        frames = [round((when - end) * SAMPLE_RATE / FRAME) for heard, when in told
                  if isinstance(heard, Hypothesis) and heard.text == text
                  and start - 0.3 < heard.end and heard.start < end]
        if not frames or min(frames) > SOON:
            late.append((text, start, frames))
    assert not late


def test_a_gust_in_which_nobody_spoke_asks_nothing_again(own: OwnRecogniser) -> None:
    """"Noise" is written down and never answered (`Conversation.hear`)."""
    pull = without_end(recordings("outdoors") / "storm.flac")
    sound = pull(60 * SAMPLE_RATE).astype(float)
    told = answers(own, to_int16(sound * 1500 / np.sqrt(np.mean(sound**2))))
    asked = [heard for heard, _ in told if getattr(heard, "reason", "") != "noise"]
    assert told and len(asked) <= len(told) // 4, asked


def always(probability: float) -> Endpointer:
    """A speech gate that finds everything equally likely to be speech."""
    return Endpointer(lambda chunk: probability)


def in_wind(text: str, before: float, after: float) -> tuple[Samples, float]:
    """A word in made wind at 15 dB, and where it ends, in seconds."""
    word = bare(say(text))
    sound = np.concatenate((silence(before), word, silence(after)))
    return in_noise(sound, "wind", 15, 4), before + len(word) / SAMPLE_RATE


@pytest.mark.parametrize("before", [0.8, 7.6])
def test_a_gate_that_stays_open_does_not_hold_the_answer_back(
    own: OwnRecogniser, before: float
) -> None:
    """Nor does it swallow a word at whose end it has been open for longer than an utterance may."""
    sound, end = in_wind("what is left", before, 3.0)
    listener = Listener(own, always(0.9))
    listener.expect(Grammar(frozenset(WORDS)))
    heard = None
    for at in range(0, len(sound) - FRAME + 1, FRAME):
        heard = listener.feed(sound[at : at + FRAME])
        if heard is not None:
            break
    assert isinstance(heard, Hypothesis) and heard.text == "what is left"
    assert (listener.now - end) * SAMPLE_RATE / FRAME <= SOON
    assert heard.start < end < heard.end + 0.3


def test_a_suspicion_opens_only_for_who_can_tell_whether_anybody_spoke(own: OwnRecogniser) -> None:
    sound, _ = in_wind("what is left", 1.0, 1.0)
    for recogniser, hears in ((own, True), (ScriptedRecogniser([]), False)):
        listener = Listener(recogniser, Endpointer(
            lambda chunk: 0.25 if np.abs(chunk).max() > 3000 else 0.0))
        listener.expect(Grammar(frozenset(WORDS)))
        heard = listener.feed(sound) or listener.flush()
        assert isinstance(heard, Hypothesis) is hears


def test_a_pause_between_two_words_of_a_reading_is_no_end(own: OwnRecogniser) -> None:
    first, second = bare(say("one hundred and")), bare(say("eighteen volts"))
    sound = np.concatenate((silence(1.0), first, silence(0.3), second, silence(1.0)))
    numbers = frozenset("one two eighteen eighty hundred and".split())
    listener = Listener(own, always(0.9))
    listener.expect(Grammar(frozenset(WORDS), numbers, frozenset({"volts"})))
    heard = listener.feed(in_noise(sound, "wind", 20, 4)) or listener.flush()
    assert isinstance(heard, Hypothesis) and heard.text == "one hundred and eighteen volts"
