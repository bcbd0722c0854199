"""The listener: one answer an utterance, however the sound is cut; deafness; time by samples."""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.audio import Samples, silence
from handsfree.hearing.listening import Listener
from handsfree.hearing.pocketsphinx_engine import SphinxRecogniser
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection
from tests.hearing.speech import in_noise, say

GRAMMAR = Grammar(frozenset({"skip this", "what is left", "tell me more", "hold on"}))


@pytest.fixture(scope="module")
def recogniser() -> SphinxRecogniser:
    return SphinxRecogniser()


def listen(recogniser: SphinxRecogniser, sound: Samples, sizes: list[int]) -> list[Heard]:
    """What is heard when the sound comes in pieces of these sizes, over and over."""
    listener = Listener(recogniser)
    listener.expect(GRAMMAR)
    heard, at, turn = [], 0, 0
    while at < len(sound):
        size = sizes[turn % len(sizes)]
        heard.append(listener.feed(sound[at : at + size]))
        at, turn = at + size, turn + 1
    for _ in range(5):  # what else ended in the last piece
        heard.append(listener.feed(silence(0)))
    assert listener.now == pytest.approx(len(sound) / 16000)
    return [one for one in heard if one is not None]


def two_commands() -> Samples:
    return np.concatenate((silence(1), say("what is left"), say("tell me more"), silence(0.5)))


def test_the_cut_of_the_sound_makes_no_difference(recogniser: SphinxRecogniser) -> None:
    sound = in_noise(two_commands(), "wind", 20, 3)
    by_frame = listen(recogniser, sound, [320])
    assert [heard.text for heard in by_frame if isinstance(heard, Hypothesis)] == [
        "what is left", "tell me more"]
    assert listen(recogniser, sound, [1, 77, 4096]) == by_frame
    assert listen(recogniser, sound, [len(sound)]) == by_frame


def test_times_and_level_are_those_of_the_sound(recogniser: SphinxRecogniser) -> None:
    sound = two_commands()
    first, second = listen(recogniser, sound, [320])
    assert first.start == pytest.approx(1.4, abs=0.25)
    assert first.start < first.end < second.start < second.end < len(sound) / 16000
    assert -40 < first.level_dbfs < -10
    assert first.engine == "pocketsphinx"


def test_while_deaf_nothing_is_heard_and_time_goes_on(recogniser: SphinxRecogniser) -> None:
    listener = Listener(recogniser)
    listener.expect(GRAMMAR)
    listener.feed(silence(1))
    listener.mute()
    assert listener.deaf
    assert listener.feed(say("what is left")) is None
    assert not listener.in_speech
    listener.unmute()
    assert listener.feed(silence(1)) is None
    assert listener.now == pytest.approx(2 + len(say("what is left")) / 16000)
    heard = listener.feed(np.concatenate((say("tell me more"), silence(0.5))))
    assert isinstance(heard, Hypothesis)
    assert heard.text == "tell me more"


def test_going_deaf_in_an_utterance_forgets_it(recogniser: SphinxRecogniser) -> None:
    listener = Listener(recogniser)
    listener.expect(GRAMMAR)
    sound = np.concatenate((silence(1), say("what is left"), silence(1)))
    for at in range(0, 16000 + 6400 + 6400, 320):
        listener.feed(sound[at : at + 320])
    assert listener.in_speech
    listener.mute()
    listener.unmute()
    assert not listener.in_speech
    assert listener.feed(silence(2)) is None


def test_flush_closes_what_was_under_way(recogniser: SphinxRecogniser) -> None:
    listener = Listener(recogniser)
    listener.expect(GRAMMAR)
    assert listener.feed(np.concatenate((silence(1), say("what is left")[:-12000]))) is None
    heard = listener.flush()
    assert isinstance(heard, Hypothesis)
    assert heard.text == "what is left"
    assert listener.flush() is None


def test_surroundings_too_loud_to_hear_safely(recogniser: SphinxRecogniser) -> None:
    sound = np.concatenate((silence(2), say("what is left"), silence(1)))
    loud = in_noise(sound, "engine", 3, 2).astype(float)
    floor = np.sqrt(np.mean(loud[:16000] ** 2))
    loud = np.clip(loud * (6000 / floor), -32768, 32767).astype(np.int16)
    heard = listen(recogniser, loud, [320])
    assert heard
    assert all(isinstance(one, Rejection) for one in heard)
    assert heard[0].reason == "too loud"
