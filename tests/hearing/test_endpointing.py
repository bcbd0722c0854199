"""Where speech starts and ends, in quiet and in noise, on real synthetic speech."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import FRAME, Samples, silence, to_int16
from handsfree.hearing.endpointing import Endpointer, SpeechDetector, silero
from handsfree.hearing.gate import CHUNK, Gate
from handsfree.sound.mixing import gain_for_snr
from handsfree.sound.noise import NoiseStream
from tests.hearing.speech import in_noise, noise, say

COUNT = """\
import os
import numpy
from handsfree.hearing.gate import Gate
Gate()(numpy.zeros(512, numpy.int16))
print(len(os.listdir("/proc/self/task")))
"""

WORDS = ("done", "skip this", "what is left", "chocks set", "why", "there is a problem")


def spoken() -> tuple[Samples, list[tuple[float, float]]]:
    """Commands 1.5 s and more apart, and where each starts and ends, in seconds."""
    pieces, places, at = [silence(2.0)], [], 2.0
    for number, text in enumerate(WORDS):
        sound = say(text, ("en-us", "en-us+f2", "en-gb-scotland+m4")[number % 3])
        loud = np.flatnonzero(np.abs(sound) > np.abs(sound).max() / 30)
        sound = sound[loud[0] : loud[-1] + 1]
        places.append((at, at + len(sound) / 16000))
        pieces += [sound, silence(1.5)]
        at += len(sound) / 16000 + 1.5
    return np.concatenate(pieces), places


def utterances(endpointer: Endpointer, sound: Samples) -> list[tuple[float, float, Samples]]:
    """Start, end of speech and sound of each."""
    found, pieces = [], []
    for at in range(0, len(sound) - FRAME + 1, FRAME):
        piece = endpointer.process(sound[at : at + FRAME])
        if piece is not None:
            pieces.append(piece)
            if not endpointer.in_speech:
                found.append((endpointer.speech_start, endpointer.speech_end,
                              np.concatenate(pieces)))
                pieces = []
                endpointer.reset()
    return found


@pytest.mark.parametrize("kind, snr", [("", 99), ("wind", 10), ("engine", 10), ("pink", 10),
                                       ("wind", 5), ("engine", 5)])
def test_every_command_is_found_whole(kind: str, snr: int) -> None:
    clean, places = spoken()
    sound = in_noise(clean, kind, snr, 7) if kind else clean
    found = utterances(Endpointer(), sound)
    assert len(found) <= len(places) + 1  # a gust may open once; the recogniser refuses it
    for first, last in places:
        (start, end, piece), = (one for one in found if one[0] < last and one[1] > first)
        assert first - 0.5 < start <= first + 0.06
        assert last - 0.12 < end < last + 0.6
        # What is handed out is the sound from the start on, unchanged.
        at = round(start * 16000)
        assert np.array_equal(piece, sound[at : at + len(piece)])


@pytest.mark.parametrize("kind", ["wind", "engine", "pink", "white"])
def test_noise_alone_opens_nothing(kind: str) -> None:
    assert not utterances(Endpointer(), to_int16(noise(kind, 30, 5) * 1000))


def hits(detector: SpeechDetector, voice: str, words: tuple[str, ...], seconds: float) -> list[bool]:
    """A word every 9.4 s in one engine that goes on at 5 dB: whether each opened, and was no
    shorter than an utterance may be."""
    sounds = []
    for text in words:
        sound = say(text, voice)
        loud = np.flatnonzero(np.abs(sound) > np.abs(sound).max() / 30)
        sounds.append(sound[loud[0] : loud[-1] + 1])
    engine, endpointer, gain, heard = NoiseStream("engine", 3), Endpointer(detector), 0.0, []
    for number in range(int(seconds / 9.4)):
        word = sounds[number % len(sounds)]
        sound, under = np.zeros(int(9.4 * 16000)), engine.read(int(9.4 * 16000))
        sound[80000 : 80000 + len(word)] = word
        gain = gain or gain_for_snr(word, under[80000 : 80000 + len(word)], 5)
        ends = [end for _, end, _ in utterances(endpointer, to_int16(sound + gain * under))
                if endpointer.refusal is None]
        heard.append(any(abs(end - number * 9.4 - 5 - len(word) / 16000) < 0.8 for end in ends))
    return heard


def test_the_gate_does_not_go_deaf_in_an_engine() -> None:
    """As a microphone near a generator hears it: minutes of noise, a word now and then."""
    assert all(hits(Gate(), "en-us+klatt2", ("done",), 113))


def test_the_gate_before_went_deaf_there() -> None:
    """So the check above can fail."""
    heard = hits(silero(), "en-us+klatt2", ("done",), 113)
    assert heard[0] and not all(heard[-4:])


def test_short_words_and_readings_are_not_dropped_in_an_engine() -> None:
    words = ("done", "area is clear", "zero point five degrees")
    for voice in ("en-us+f2", "en-us+klatt2", "en-gb-scotland+m4"):
        assert all(hits(Gate(), voice, words, 60)), voice


def test_the_gate_forgets_what_was_long_ago() -> None:
    """After half a minute of other noise it says the same as one that never heard it."""
    old, new = Gate(), Gate()
    before = to_int16(noise("wind", 40, 3) * 3000)
    after = to_int16(noise("pink", 30, 4) * 300)
    chunks = [before[at : at + CHUNK] for at in range(0, len(before) - CHUNK, CHUNK)]
    for chunk in chunks:
        old(chunk)
    for at in range(0, len(after) - CHUNK, CHUNK):
        told = old(after[at : at + CHUNK]), new(after[at : at + CHUNK])
    assert told[0] == pytest.approx(told[1], abs=0.02)


def test_the_floor_follows_the_noise() -> None:
    endpointer = Endpointer()
    utterances(endpointer, to_int16(noise("engine", 4) * 100))
    quiet = endpointer.floor_dbfs
    utterances(endpointer, to_int16(noise("engine", 4) * 1000))
    assert quiet == pytest.approx(-50.3, abs=1.5)
    assert endpointer.floor_dbfs - quiet == pytest.approx(20, abs=1.5)


@pytest.mark.parametrize("nobody, before", [(True, 0.26), (False, 0.1)])
def test_a_clatter_in_which_nobody_spoke_does_not_swallow_the_start_of_the_next_word(
    nobody: bool, before: float
) -> None:
    """"Three quarters of an inch" began a tenth of a second before the gate shut after a clatter."""
    told = iter([0.0] * 40 + [0.9] * 10 + [0.0] * 19 + [0.9] * 20)
    endpointer, opened = Endpointer(lambda chunk: next(told)), []
    sound = np.arange(88 * CHUNK, dtype=np.int16)
    was = False
    for at in range(0, len(sound) - FRAME + 1, FRAME):
        piece = endpointer.process(sound[at : at + FRAME])
        if endpointer.in_speech and not was:
            opened.append(endpointer.now - len(piece) / 16000)
            assert np.array_equal(piece, sound[at + FRAME - len(piece) : at + FRAME])
        was = endpointer.in_speech
        if piece is not None and not was:
            endpointer.reset(nobody=nobody)
    assert opened == pytest.approx([40 * 0.032 - 0.26, 69 * 0.032 - before], abs=0.04)


def test_trailing_silence_is_as_long_as_asked() -> None:
    sound = np.concatenate((silence(1), say("what is left"), silence(1.5)))
    for trailing in (0.3, 0.9):
        endpointer = Endpointer(trailing=trailing)
        (_, end, piece), = utterances(endpointer, sound)
        waited = endpointer.speech_start + len(piece) / 16000 - end
        assert waited == pytest.approx(trailing, abs=0.03)


def test_speech_without_end_is_cut_off_once() -> None:
    talk = np.concatenate([say("and then the other one went over the hill")[6400:-16000]] * 3)
    endpointer, refused = Endpointer(longest=2.0), []
    sound = np.concatenate((silence(1), talk, silence(1.5)))
    for at in range(0, len(sound) - FRAME + 1, FRAME):
        if endpointer.process(sound[at : at + FRAME]) is not None and not endpointer.in_speech:
            refused.append(endpointer.refusal)
            endpointer.reset()
    assert refused[0] == "too long"
    assert len(refused) <= 2  # a pause within the talk may start a last one


def test_the_speech_gate_keeps_to_one_thread() -> None:
    """Several only wait for each other at such sizes: ten times the time of one."""
    if not Path("/proc/self/task").is_dir():
        pytest.skip("this system does not list a process's threads under /proc")
    counted = subprocess.run(
        [sys.executable, "-c", COUNT], capture_output=True, text=True, check=True,
        env={name: value for name, value in os.environ.items() if not name.startswith("OMP_")})
    assert int(counted.stdout) == 1
