"""Linear filters and a change of the sample rate, in numpy alone.

May import numpy.  `scipy.signal` does all of this, and is 140 MB of every installation; the
program needs so little of it that it runs without.  `tests/outside/test_filters.py` holds each
function to scipy's.

A filter is its frequency response: sound is filtered by multiplying spectra.  A recursive filter's
impulse response never ends, but falls below what a double can hold; so much of the past (`memory`)
is kept that this is exact to rounding.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

Wave: TypeAlias = npt.NDArray[np.float64]
"""Sound of shape ``(n,)``, any scale."""

Spectrum: TypeAlias = npt.NDArray[np.complex128]

Response: TypeAlias = Callable[[Wave], Spectrum]
"""Gain and phase at angular frequencies from 0 to pi, radians a sample."""

Kind: TypeAlias = Literal["lowpass", "highpass", "bandpass"]

_AT_ONCE = 65_536
"""Samples that are resampled at once."""


def butterworth(
    order: int, edges: float | tuple[float, float], kind: Kind, rate: float
) -> Response:
    """A Butterworth filter by the bilinear transform, edges prewarped.

    Args:
        order: of the low-pass that it is made of; a band-pass has twice as many poles.
        edges: -3 dB in hertz, two for a band-pass.
        rate: samples a second.
    """
    poles = np.exp(1j * np.pi * (2 * np.arange(1, order + 1) + order - 1) / (2 * order))
    low, high = edges if isinstance(edges, tuple) else (edges, edges)
    first, last = np.tan(np.pi * low / rate), np.tan(np.pi * high / rate)

    def response(omega: Wave) -> Spectrum:
        at = np.tan(np.clip(omega, 1e-12, np.pi - 1e-12) / 2)
        prototype = {
            "lowpass": lambda: at / first, "highpass": lambda: -first / at,
            "bandpass": lambda: (at ** 2 - first * last) / ((last - first) * at)}[kind]()
        gain: Spectrum = np.prod(1.0 / (1j * prototype[:, None] - poles), axis=1)
        return gain

    return response


def from_poles(zeros: Wave, poles: Wave) -> Response:
    """The filter with these real zeros and poles, all inside the unit circle."""
    def response(omega: Wave) -> Spectrum:
        z = np.exp(1j * omega)[:, None]
        gain: Spectrum = np.prod((z - zeros) / (z - poles), axis=1)
        return gain

    return response


class Filter:
    """A filter that goes on where the last block ended.

    response: of the filter.  memory: samples after which its impulse response is nothing.
    rms_out: RMS for unit white noise in; the filter is scaled to give it.
    """

    def __init__(self, response: Response, memory: int, rms_out: float = 1.0) -> None:
        self._response = response
        self._past: Wave = np.zeros(memory)
        impulse = np.fft.irfft(self._spectrum(2 * memory), 2 * memory)
        self._gain = rms_out / float(np.sqrt(np.sum(impulse ** 2)))
        self._known: dict[int, Spectrum] = {}

    def __call__(self, wave: Wave) -> Wave:
        """The next block, as long as what is given."""
        joined = np.concatenate((self._past, wave))
        size = len(joined)
        if size not in self._known:
            self._known[size] = self._gain * self._spectrum(size)
        self._past = joined[len(wave):]
        out: Wave = np.fft.irfft(np.fft.rfft(joined) * self._known[size], size)[-len(wave):]
        return out

    def _spectrum(self, size: int) -> Spectrum:
        return self._response(2 * np.pi * np.arange(size // 2 + 1) / size)


def smoothed(wave: Wave, keep: float) -> Wave:
    """Twice through ``y[n] = (1 - keep) x[n] + keep y[n - 1]``, from rest; shape as given."""
    memory = int(np.ceil(-45.0 / np.log(keep)))  # there both stages together are below 1e-17
    size = 1 << (len(wave) + memory).bit_length()
    turn = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    gain = ((1.0 - keep) / (1.0 - keep * turn)) ** 2
    out: Wave = np.fft.irfft(np.fft.rfft(wave, size) * gain, size)[: len(wave)]
    return out


def low_pass(half: int, cutoff: float, beta: float) -> Wave:
    """Taps of a low-pass with a Kaiser window, shape ``(2 * half + 1,)``, sum 1.

    Args:
        half: taps on each side of the middle one.
        cutoff: -6 dB, as a part of half the sample rate.
        beta: of the window.
    """
    taps = np.sinc(cutoff * np.arange(-half, half + 1)) * np.kaiser(2 * half + 1, beta)
    whole: Wave = taps / taps.sum()
    return whole


def resample(wave: Wave, up: int, down: int) -> Wave:
    """The same sound at ``up / down`` times the sample rate, without delay.

    The low-pass has ten zeros on each side and a Kaiser window with beta 5, as scipy's
    `resample_poly` by default; it leaves speech below 7 kHz alone.

    Args:
        wave: shape ``(n,)``.
        up, down: whole numbers without a common factor.

    Returns:
        Shape ``(ceil(n * up / down),)``.
    """
    half = 10 * max(up, down)
    length = -(-(2 * half + 1) // up)
    taps = np.zeros(length * up)
    taps[: 2 * half + 1] = low_pass(half, 1.0 / max(up, down), 5.0) * up
    phases = taps.reshape(length, up).T[:, ::-1].copy()  # each output takes every up-th tap
    padded = np.concatenate((np.zeros(length - 1), wave, np.zeros(length)))
    windows = np.lib.stride_tricks.sliding_window_view(padded, length)
    out = np.zeros(-(-len(wave) * up // down))
    for start in range(0, len(out), _AT_ONCE):
        place = np.arange(start, min(start + _AT_ONCE, len(out))) * down + half
        out[start : start + len(place)] = np.einsum(
            "ij,ij->i", windows[place // up], phases[place % up])
    return out
