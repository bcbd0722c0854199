"""Noises of a camp site, made from numbers: endless, streamable, the same for the same seed.

May import numpy, this room's filters, ``handsfree.audio`` and ``handsfree.errors``.

A noise is made in blocks of one second that hand their filter states on, so there is no seam and
it does not matter in which pieces it is read.  All kinds come out at about -20 dBFS RMS (the
gusty and the dripping ones move around it); who mixes them sets the level (`handsfree.sound.
mixing`).  They are models for testing, not recordings: shapes are from common acoustical
knowledge, and each function says which.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt

from handsfree.audio import SAMPLE_RATE, Samples, to_int16
from handsfree.errors import InputError
from handsfree.sound.filters import Filter, Kind, butterworth, from_poles

Wave = npt.NDArray[np.float64]
Blocks = Iterator[Wave]

BLOCK = SAMPLE_RATE
"""Samples in one internal block: 1 s."""

LEVEL = 3276.8
"""RMS of every kind, int16 scale: -20 dBFS."""

CREST = 8.0
"""Peaks above this many times `LEVEL` are bent over softly rather than clipped."""


class NoiseStream:
    """One noise without end, read in pieces of any length."""

    def __init__(self, kind: str, seed: int = 0) -> None:
        """Start a noise.

        Args:
            kind: one of `KINDS`.
            seed: same kind and seed, same samples.

        Raises:
            InputError: no such kind.
        """
        if kind not in _MAKERS:
            raise InputError(f"no noise is called “{kind}”; choose {', '.join(KINDS)}.")
        # Each kind draws its own numbers, so that two kinds of one seed have nothing in common.
        rng = np.random.default_rng([seed & 0xFFFFFFFF, zlib.crc32(kind.encode())])
        self._blocks = _MAKERS[kind](rng)
        self._left: Samples = np.zeros(0, dtype=np.int16)

    def read(self, count: int) -> Samples:
        """The next ``count`` samples, shape ``(count,)``."""
        pieces, have = [self._left], len(self._left)
        while have < count:
            block = LEVEL * CREST * np.tanh(next(self._blocks) / CREST)
            pieces.append(to_int16(block))
            have += BLOCK
        joined = np.concatenate(pieces)
        self._left = joined[count:]
        return joined[:count]


def noise(kind: str, seconds: float, seed: int = 0) -> Samples:
    """The first ``seconds`` of a noise: 16 kHz int16 mono, about -20 dBFS RMS.

    Args:
        kind: ``wind``, ``engine``, ``rain``, ``pink`` or ``white``.
        seconds: length.
        seed: same kind and seed, same samples.

    Raises:
        InputError: no such kind.
    """
    return NoiseStream(kind, seed).read(round(seconds * SAMPLE_RATE))


def _butter(order: int, edges: float | tuple[float, float], kind: Kind) -> Filter:
    return Filter(butterworth(order, edges, kind, SAMPLE_RATE), BLOCK)


def _white(rng: np.random.Generator) -> Blocks:
    """Equal power at all frequencies."""
    while True:
        yield rng.standard_normal(BLOCK)


def _pink(rng: np.random.Generator) -> Blocks:
    """Power falls 3 dB an octave: real poles every two octaves, each with a zero one octave up.

    The staircase of flat and -6 dB an octave averages to -3 dB; common filter practice.
    """
    poles = 10.0 * 4.0 ** np.arange(6)
    shift = np.exp(-2 * np.pi * poles / SAMPLE_RATE), np.exp(-4 * np.pi * poles / SAMPLE_RATE)
    colour = Filter(from_poles(shift[1], shift[0]), BLOCK)
    while True:
        yield colour(rng.standard_normal(BLOCK))


class _Drift:
    """A slow random walk around 0 with unit standard deviation, one value a sample."""

    def __init__(self, rng: np.random.Generator, hertz: float) -> None:
        # Drawn at 100 values a second and drawn out: the filter at 16 kHz would be ill-conditioned.
        self._rng = rng
        self._smooth = Filter(butterworth(2, hertz, "lowpass", 100.0), 6000)
        self._last = float(self._coarse(2000)[-1])  # past the filter's start

    def _coarse(self, count: int) -> Wave:
        return self._smooth(self._rng.standard_normal(count))

    def block(self) -> Wave:
        points = np.concatenate([[self._last], self._coarse(100)])
        self._last = float(points[-1])
        at = np.arange(1, BLOCK + 1) / (BLOCK / 100)
        smooth: Wave = np.interp(at, np.arange(101), points)
        return smooth


def _wind(rng: np.random.Generator) -> Blocks:
    """Wind on a microphone: rumble below about 100 Hz, and in gusts a rush up to 700 Hz.

    Turbulence at a microphone falls steeply above some tens of hertz (common knowledge of outdoor
    recording, no source); gusts here last some seconds.
    """
    rumble = _butter(2, (15.0, 90.0), "bandpass")
    rush = _butter(1, (150.0, 700.0), "bandpass")
    gust, flutter = _Drift(rng, 0.15), _Drift(rng, 4.0)
    while True:
        strength = np.exp(0.40 * gust.block() + 0.15 * flutter.block())
        low = rumble(rng.standard_normal(BLOCK)) * strength
        high = rush(rng.standard_normal(BLOCK)) * strength**2
        yield 0.80 * low + 0.20 * high


def _engine(rng: np.random.Generator) -> Blocks:
    """A small four-stroke generator: 30 firings a second, unsteady, with a clatter over it.

    One cylinder at 3,600 turns a minute fires every second turn, thus 30 Hz; its harmonics fall
    with frequency (common knowledge of engines, no source).
    """
    firing, count = 30.0, 50
    number = np.arange(1, count + 1)[:, None]
    phases = rng.uniform(0, 2 * np.pi, (count, 1))
    strengths = rng.uniform(0.5, 1.0, (count, 1)) / (1.0 + (number / 6.0) ** 1.5)
    strengths *= np.sqrt(2.0 / np.sum(strengths**2))  # harmonics together: RMS 1
    clatter = _butter(1, (300.0, 3000.0), "bandpass")
    wander, load = _Drift(rng, 1.0), _Drift(rng, 8.0)
    turned = 0.0
    while True:
        speed = firing * (1.0 + 0.01 * wander.block())
        angle = turned + 2 * np.pi * np.cumsum(speed) / SAMPLE_RATE
        turned = float(angle[-1] % (2 * np.pi))
        tone = np.sum(strengths * np.cos(number * angle + phases), axis=0)
        beat = 1.0 + 0.5 * np.cos(angle)
        rough = clatter(rng.standard_normal(BLOCK)) * beat
        yield (0.87 * tone + 0.43 * rough) * (1.0 + 0.12 * load.block())


def _rain(rng: np.random.Generator) -> Blocks:
    """Rain on a roof: hiss above 1.5 kHz, and some hundred drops a second that each ring shortly.

    Times of drops are a Poisson process and their sizes exponential (common modelling practice).
    """
    hiss = _butter(1, 1500.0, "highpass")
    rings = [_butter(1, (0.85 * hertz, 1.15 * hertz), "bandpass") for hertz in (1800, 3100, 5200)]
    drops_a_second = 300
    while True:
        out = 0.70 * hiss(rng.standard_normal(BLOCK))
        for ring in rings:
            drops = np.zeros(BLOCK)
            where = rng.integers(0, BLOCK, rng.poisson(drops_a_second / len(rings)))
            np.add.at(drops, where, rng.exponential(1.0, len(where)))
            # Mean square of this train is 2 x drops a sample; scaled to unit power a sample.
            out += 0.41 * ring(drops / np.sqrt(2.0 * drops_a_second / len(rings) / BLOCK))
        yield out


_MAKERS: dict[str, Callable[[np.random.Generator], Blocks]] = {
    "wind": _wind,
    "engine": _engine,
    "rain": _rain,
    "pink": _pink,
    "white": _white,
}

KINDS: tuple[str, ...] = tuple(_MAKERS)
"""The kinds there are."""
