"""Noise suppression: less noise, the speech still there."""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.audio import silence, to_int16
from handsfree.hearing.noise_reduction import clean
from tests.hearing.speech import in_noise, say


@pytest.mark.parametrize("kind", ["engine", "pink", "white"])
def test_noise_around_speech_is_lowered_and_speech_is_not(kind: str) -> None:
    speech = say("what is left")
    noisy = in_noise(speech, kind, 10, 4)
    cleaned = clean(noisy)
    assert len(cleaned) == len(noisy)
    edge = slice(-8000, None)
    before, after = (np.std(s[edge].astype(float)) for s in (noisy, cleaned))
    assert after < before / 3  # 9.5 dB
    wanted = speech.astype(float)
    assert cleaned.astype(float) @ wanted / (wanted @ wanted) > 0.7  # how much of it is left
    assert np.corrcoef(cleaned, speech)[0, 1] > np.corrcoef(noisy, speech)[0, 1]


def test_the_same_sound_is_cleaned_the_same_way() -> None:
    assert np.array_equal(clean(say("done")), clean(say("done")))


@pytest.mark.parametrize("length", [0, 1, 511, 512, 513, 2000, 5000])
def test_any_length_will_do(length: int) -> None:
    sound = to_int16(np.random.default_rng(1).normal(0, 500, length))
    assert len(clean(sound)) == length


def test_digital_silence_stays_quiet() -> None:
    assert np.abs(clean(silence(1))).max() <= 1
