"""Our few lines of filtering and resampling against scipy.signal, which the program runs without."""

import numpy as np
import pytest
from scipy import signal

from handsfree.audio import SAMPLE_RATE
from handsfree.sound.filters import Filter, butterworth, from_poles, low_pass, resample, smoothed


def white(count: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal(count)


@pytest.mark.parametrize("order, edges, kind", [
    (2, (15.0, 90.0), "bandpass"), (1, (150.0, 700.0), "bandpass"), (1, 1500.0, "highpass"),
    (1, (4420.0, 5980.0), "bandpass"), (3, 2000.0, "lowpass")])
def test_a_butterworth_filter_block_by_block(
    order: int, edges: float | tuple[float, float], kind: str
) -> None:
    sound = white(5 * SAMPLE_RATE)
    sections = signal.butter(order, edges, kind, fs=SAMPLE_RATE, output="sos")
    theirs = signal.sosfilt(sections, sound)
    ours = Filter(butterworth(order, edges, kind, SAMPLE_RATE), SAMPLE_RATE)
    got = np.concatenate([ours(sound[at:at + SAMPLE_RATE])
                          for at in range(0, len(sound), SAMPLE_RATE)])
    impulse = signal.sosfilt(sections, np.eye(1, 4 * SAMPLE_RATE)[0])
    assert np.allclose(got * np.sqrt(np.sum(impulse ** 2)), theirs, atol=1e-11)


@pytest.mark.parametrize("hertz", [0.15, 1.0, 4.0, 8.0])
def test_a_slow_low_pass_at_a_hundred_a_second(hertz: float) -> None:
    sound = white(3000)
    sections = signal.butter(2, hertz, fs=100.0, output="sos")
    impulse = signal.sosfilt(sections, np.eye(1, 10_000)[0])
    ours = Filter(butterworth(2, hertz, "lowpass", 100.0), 6000)
    got = np.concatenate([ours(sound[:2000]), ours(sound[2000:2100]), ours(sound[2100:])])
    assert np.allclose(got * np.sqrt(np.sum(impulse ** 2)), signal.sosfilt(sections, sound),
                       atol=1e-11)


def test_poles_and_zeros() -> None:
    zeros, poles = np.array([0.5, 0.9]), np.array([0.7, 0.99])
    sound = white(4 * SAMPLE_RATE)
    b, a = signal.zpk2tf(zeros, poles, 1.0)
    ours = Filter(from_poles(zeros, poles), SAMPLE_RATE)
    got = np.concatenate([ours(half) for half in np.split(sound, 2)])
    impulse = signal.lfilter(b, a, np.eye(1, SAMPLE_RATE)[0])
    assert np.allclose(got * np.sqrt(np.sum(impulse ** 2)), signal.lfilter(b, a, sound), atol=1e-10)


@pytest.mark.parametrize("count", [1, 17, 16_000, 100_003])
def test_the_smoothed_envelope(count: int) -> None:
    keep = np.exp(-1.0 / 480)
    sound = np.abs(white(count))
    once = signal.lfilter([1.0 - keep], [1.0, -keep], sound)
    assert np.allclose(smoothed(sound, keep), signal.lfilter([1.0 - keep], [1.0, -keep], once),
                       atol=1e-12)


def test_the_low_pass_of_a_window() -> None:
    theirs = signal.firwin(2 * 160 + 1, 0.94 / 10, window=("kaiser", 8.0))
    assert np.allclose(low_pass(160, 0.94 / 10, 8.0), theirs, atol=1e-14)


@pytest.mark.parametrize("up, down", [(2, 1), (1, 3), (320, 441), (640, 441), (160, 441), (2, 3)])
@pytest.mark.parametrize("count", [1, 50, 1000, 70_001])
def test_resampling(up: int, down: int, count: int) -> None:
    sound = white(count)
    assert np.allclose(resample(sound, up, down), signal.resample_poly(sound, up, down), atol=1e-12)
