"""Changing the sample rate: the right sound at the right time, however it is cut."""

import numpy as np
import pytest

from handsfree.audio import to_int16
from handsfree.devices.resampling import _HALF, Resampler


def tones(rate: int, seconds: float = 0.5, late: float = 0.0) -> np.ndarray:
    """Three tones within the band of every rate here, as they are `late` seconds earlier."""
    time = np.arange(int(rate * seconds)) / rate - late
    return to_int16(sum(4000 * np.sin(2 * np.pi * f * time) for f in (300, 1100, 3000)))


@pytest.mark.parametrize("source, target", [(48000, 16000), (44100, 16000), (16000, 48000),
                                            (16000, 44100), (8000, 16000), (22050, 16000)])
def test_tones_come_out_as_tones_at_the_stated_lag(source: int, target: int) -> None:
    ours = Resampler(source, target).feed(tones(source))
    exact = tones(target, late=_HALF / min(source, target))
    assert abs(len(ours) - len(exact)) <= 1
    middle = slice(len(exact) // 10, -len(exact) // 10)
    error = (ours[: len(exact)].astype(float) - exact[: len(ours)])[middle]
    assert np.sqrt(np.mean(error**2)) < 12  # 55 dB below the tones


def test_a_tone_above_the_band_is_removed() -> None:
    time = np.arange(24000) / 48000
    sound = to_int16(8000 * np.sin(2 * np.pi * 11000 * time))
    assert np.abs(Resampler(48000, 16000).feed(sound)[200:-200]).max() < 20


@pytest.mark.parametrize("source, target", [(48000, 16000), (44100, 16000), (16000, 44100)])
def test_the_cut_of_the_pieces_makes_no_difference(source: int, target: int) -> None:
    sound = tones(source)
    whole = Resampler(source, target).feed(sound)
    streaming = Resampler(source, target)
    random = np.random.default_rng(3)
    pieces, at = [], 0
    while at < len(sound):
        step = int(random.integers(1, 700))
        pieces.append(streaming.feed(sound[at : at + step]))
        at += step
    assert np.array_equal(np.concatenate(pieces), whole)
