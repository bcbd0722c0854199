"""Sound to log-mel frames, in pieces of any length.

64 mel bands from 80 to 7,600 Hz (HTK's mel scale) of 25 ms windows every 10 ms, as the network
was trained with.  Imports numpy only.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from handsfree.audio import SAMPLE_RATE, Samples

Array = npt.NDArray[np.float32]

HOP, WINDOW, FFT, BANDS = 160, 400, 512, 64
MEAN, SPREAD, FLOOR = -7.0, 4.0, 1e-5


def mel_matrix() -> Array:
    """Triangular filters, shape (FFT // 2 + 1, BANDS)."""
    low, high = (2595 * np.log10(1 + hertz / 700) for hertz in (80.0, 7600.0))
    edges = 700 * (10 ** (np.linspace(low, high, BANDS + 2) / 2595) - 1)
    bins = np.arange(FFT // 2 + 1)[:, None] * SAMPLE_RATE / FFT
    rising = (bins - edges[:-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[2:] - bins) / (edges[2:] - edges[1:-1])
    return np.maximum(np.minimum(rising, falling), 0.0).astype(np.float32)


class Windows:
    """A stream of samples in overlapping windows, one every `HOP`; keeps what the next one needs."""

    def __init__(self, length: int) -> None:
        self._length = length
        self.reset()

    def reset(self) -> None:
        """Forget what was fed."""
        self._rest: Samples = np.zeros(0, dtype=np.int16)

    def feed(self, samples: Samples) -> Array:
        """The windows that these samples complete, shape (windows, length)."""
        held = np.concatenate((self._rest, samples))
        count = max(0, (len(held) - self._length) // HOP + 1)
        self._rest = held[count * HOP :]
        if not count:
            return np.zeros((0, self._length), dtype=np.float32)
        windows = np.lib.stride_tricks.sliding_window_view(held, self._length)
        return windows[: count * HOP : HOP].astype(np.float32)


class LogMel:
    """Samples to standardised log-mel frames."""

    def __init__(self) -> None:
        self._windows = Windows(WINDOW)
        self._matrix = mel_matrix()
        # The periodic Hann window.
        self._window = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(WINDOW) / WINDOW)).astype("f4")

    def reset(self) -> None:
        """Forget what was fed."""
        self._windows.reset()

    def feed(self, samples: Samples) -> Array:
        """The frames that these samples complete, standardised, shape (frames, BANDS)."""
        windows = self._windows.feed(samples)
        spectrum = np.fft.rfft(windows / 32768.0 * self._window, FFT)
        power = spectrum.real**2 + spectrum.imag**2
        heard = np.log(power.astype(np.float32) @ self._matrix + FLOOR)
        return np.asarray((heard - MEAN) / SPREAD, dtype=np.float32)
