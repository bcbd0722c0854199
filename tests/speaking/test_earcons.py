"""Each tone is told from every other by its pitch alone and by its rhythm alone."""

from itertools import combinations, pairwise

import numpy as np
import pytest

from handsfree.audio import SAMPLE_RATE, Samples, level_dbfs, seconds
from handsfree.speaking.earcons import CEILING, Earcon, earcon

PAIRS = list(combinations(Earcon, 2))


def pulses(sound: Samples) -> list[tuple[int, int]]:
    """First and last sample of each sounding part, from the sound itself."""
    power = np.convolve(np.abs(sound.astype(float)), np.ones(80) / 80, "same")
    on = np.concatenate([[False], power > 0.1 * power.max(), [False]])
    edges = np.flatnonzero(np.diff(on.astype(int)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def pitches(sound: Samples) -> list[float]:
    """Strongest frequency of each pulse, in Hz."""
    found = []
    for start, end in pulses(sound):
        shape = np.abs(np.fft.rfft(sound[start:end] * np.hanning(end - start), 2**16))
        found.append(float(np.argmax(shape)) * SAMPLE_RATE / 2**16)
    return found


def rhythm(sound: Samples) -> list[float]:
    """Seconds of each pulse and pause in turn."""
    edges = [edge for pulse in pulses(sound) for edge in pulse]
    return [(b - a) / SAMPLE_RATE for a, b in pairwise(edges)]


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_pitch_tells_them_apart(one: Earcon, other: Earcon) -> None:
    """The first notes, or the course of the notes, differ by two semitones or more."""

    def course(kind: Earcon) -> np.ndarray:
        heard = pitches(earcon(kind))
        return 12 * np.log2(np.array([heard[0], heard[-1]]))

    assert np.max(np.abs(course(one) - course(other))) > 2.0


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_rhythm_tells_them_apart(one: Earcon, other: Earcon) -> None:
    """Another number of pulses, or one of the times half as long again."""
    first, second = rhythm(earcon(one)), rhythm(earcon(other))
    if len(first) == len(second):
        ratios = [max(a / b, b / a) for a, b in zip(first, second, strict=True)]
        assert max(ratios) > 1.5


@pytest.mark.parametrize("kind", Earcon)
def test_pitches_stay_where_ears_and_small_loudspeakers_hear(kind: Earcon) -> None:
    heard = pitches(earcon(kind))
    assert 300 <= min(heard)
    assert max(heard) <= 2000


@pytest.mark.parametrize("kind", Earcon)
def test_short_deterministic_and_without_clicks(kind: Earcon) -> None:
    sound = earcon(kind)
    assert seconds(sound) <= 1.0
    assert np.array_equal(sound, earcon(kind))
    assert abs(int(sound[0])) < 50
    assert abs(int(sound[-1])) < 50


@pytest.mark.parametrize("kind", Earcon)
def test_gain_follows_and_never_clips(kind: Earcon) -> None:
    plain = level_dbfs(earcon(kind))
    assert level_dbfs(earcon(kind, 6)) - plain == pytest.approx(6, abs=0.1)
    assert level_dbfs(earcon(kind, -20)) - plain == pytest.approx(-20, abs=0.3)
    assert np.max(np.abs(earcon(kind, 60).astype(int))) <= CEILING * 32768 + 1


def test_heard_is_the_shortest_and_alarm_the_longest() -> None:
    lengths = {kind: seconds(earcon(kind)) for kind in Earcon}
    assert min(lengths, key=lengths.__getitem__) is Earcon.HEARD
    assert max(lengths, key=lengths.__getitem__) is Earcon.ALARM
