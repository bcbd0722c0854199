"""Streaming change of the sample rate, for sound cards that do not do ours.

May import numpy and ``handsfree.audio``.
"""

from __future__ import annotations

from math import gcd

import numpy as np

from handsfree.audio import Samples, to_int16

_HALF = 16
"""Half length of the filter, in periods of the lower of the two rates."""


class Resampler:
    """Mono sound of one rate in, the same sound at another rate out, piece by piece.

    The cut of the pieces makes no difference to what comes out.  The output lags by `_HALF`
    periods of the lower rate (1 ms at 16 kHz).
    """

    def __init__(self, source: int, target: int) -> None:
        """Rates in samples a second."""
        common = gcd(source, target)
        self._up, self._down = target // common, source // common
        slower = max(self._up, self._down)
        # One low-pass at the common multiple of both rates; each output sample takes every
        # `up`-th of its taps, starting at its own phase.
        half = _HALF * slower
        taps = np.sinc(0.94 / slower * np.arange(-half, half + 1)) * np.kaiser(2 * half + 1, 8.0)
        taps *= self._up / taps.sum()
        self._length = -(-len(taps) // self._up)
        padded = np.zeros(self._length * self._up)
        padded[: len(taps)] = taps
        self._phases = padded.reshape(self._length, self._up).T[:, ::-1].copy()
        self._held = np.zeros(self._length - 1)
        self._next = 0  # position of the next output sample in `_held`, in steps of 1/up

    def feed(self, samples: Samples) -> Samples:
        """All output samples that can be made now."""
        if self._up == self._down:
            return samples
        sound = np.concatenate((self._held, samples.astype(np.float64)))
        count = len(sound) - self._length + 1
        total = max(0, -(-(count * self._up - self._next) // self._down))
        at = self._next + self._down * np.arange(total)
        first, phase = at // self._up, at % self._up
        windows = np.lib.stride_tricks.sliding_window_view(sound, self._length)
        out = np.einsum("ij,ij->i", windows[first], self._phases[phase]) if total else np.zeros(0)
        self._next += self._down * total - self._up * count
        self._held = sound[count:]
        return to_int16(out)
