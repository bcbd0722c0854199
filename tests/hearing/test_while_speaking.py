"""A word said into a prompt, at a microphone that hears the prompt as loudly."""

import random
from collections.abc import Iterator

import numpy as np
import pytest

from benchmarks.stops import PLACES, Air, Ear, Place, silent, stopping
from handsfree.audio import FRAME, Samples, level_dbfs, silence, to_int16
from handsfree.hearing.echo import EchoFilter
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.types import Recogniser
from handsfree.language.loader import load_language
from tests.hearing.speech import say

pytest.importorskip("pywebrtc_audio", reason="pywebrtc-audio is not installed")

LINE = ("Look along the left side of the trailer for branches, stones and water bowls, then along"
        " the right side, and wait there until the slide-out has stopped.")
WALL = next(place for place in PLACES if place.echo_db == 0)


@pytest.fixture(scope="module")
def own() -> Iterator[Recogniser]:
    recogniser = open_recogniser("own", "en", None, load_language("en").pronunciations)
    yield recogniser
    recogniser.close()


@pytest.fixture(scope="module")
def prompt() -> Samples:
    return say(LINE)


def test_words_are_heard_in_a_prompt_and_the_prompt_is_not(own: Recogniser, prompt: Samples) -> None:
    said = [(word, say(word, "en-us+m3")) for word in ("stop", "hold on", "wait", "done", "chocks set")]
    found = stopping(own, WALL, said, iter([prompt] * 9), random.Random(1))
    assert set(found.missed) == {"done", "chocks set"}  # none of the words
    assert max(found.after) < 0.5


def test_nobody_speaks(own: Recogniser, prompt: Samples) -> None:
    found = silent(own, WALL, 0.01, iter([prompt] * 9), 1)
    assert not found.false


def test_what_the_program_says_itself_is_no_word(own: Recogniser) -> None:
    """A loudspeaker that the canceller knows nothing of at first, and that says "stop"."""
    played = np.concatenate((silence(0.5), say("stop"), silence(1.0)))
    near = to_int16(Air(Place("new", 0.1, 0.2, 0), 1).echo(played))
    assert list(Ear(own).heard(near, played)) == []


def test_the_filter_takes_out_the_echo_and_leaves_speech(prompt: Samples) -> None:
    echo, word = Air(WALL, 2), say("hold on", "en-us+m3")
    filtered, played = EchoFilter(), np.concatenate([prompt] * 3)
    near = echo.echo(played)
    at = len(near) - len(word) - 4000
    heard = to_int16(near)
    heard[at : at + len(word)] = to_int16(near[at : at + len(word)] + word)
    left = np.concatenate([
        filtered.process(heard[k : k + FRAME], played[k : k + FRAME], learn=k < at)
        for k in range(0, len(near) - FRAME + 1, FRAME)])
    before = slice(at - 16000, at)
    assert level_dbfs(left[before]) < level_dbfs(heard[before]) - 18
    said = slice(at, at + len(word))
    assert level_dbfs(to_int16(left[said].astype(float) - word)) < level_dbfs(word) - 10
