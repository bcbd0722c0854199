"""A frozen speech embedding in numpy, in pieces: what the second network listens through.

Google's speech embedding, trained on much human speech (Lin, Kilgour, Roblek and Sharifi, 2020),
Apache-2.0; `recipes/extract.py` takes it out of its ONNX files.  It was made to be called on
windows of 76 mel frames; as nothing in it pads in time, it runs here once over the stream, and its
last pool at every frame.  Imports numpy only.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from handsfree.audio import Samples
from handsfree.errors import InputError
from handsfree.hearing.own.features import Array, Windows

WINDOW = 512
FLOOR = 30.0
"""Power below which a mel band counts as silent, samples at int16 scale."""

BANDS = 32
STRIDE = 4
"""Mel frames to one output frame: 40 ms."""

_BEFORE = 72
"""Mel frames of silence that stand before the first, so that the first output comes at once."""

_IN_TIME = frozenset((0, 2, 4, 6, 8, 10, 12, 14, 16, 18))
_POOLS = {2: (2, 2), 6: (1, 2), 10: (2, 2), 14: (1, 2)}
_TAKEN = (10, 14, 18)


class SpeechMel:
    """Samples to the embedding's mel frames."""

    def __init__(self, window: Array, mel: Array) -> None:
        self._windows = Windows(WINDOW)
        self._window, self._mel = window.astype(np.float32), mel.astype(np.float32)

    def reset(self) -> None:
        """Forget what was fed."""
        self._windows.reset()

    def feed(self, samples: Samples) -> Array:
        """The frames that these samples complete, shape (frames, BANDS)."""
        spectrum = np.fft.rfft(self._windows.feed(samples) * self._window, WINDOW)
        power = (spectrum.real**2 + spectrum.imag**2).astype(np.float32)
        return np.asarray(np.log10(power @ self._mel + FLOOR) + 2.0, dtype=np.float32)


def _pooled(x: Array, times: int, bands: int) -> Array:
    """Greatest of `times` by `bands` neighbours; x is (time, band, channel)."""
    time, band, channel = x.shape
    blocks = x.reshape(time // times, times, band // bands, bands, channel)
    return np.asarray(blocks.max(axis=(1, 3)))


class Embedding:
    """Sound to 768 values every 40 ms: the ends of four of the embedding's stages.

    path: npz of `recipes/extract.py`.  Raises InputError when it is none.
    """

    def __init__(self, path: Path) -> None:
        try:
            with np.load(path) as packed:
                self._mel = SpeechMel(packed["window"], packed["mel"])
                self._weights = [packed[f"{n}.weight"].astype(np.float32) for n in range(20)]
                self._biases = [packed[f"{n}.bias"].astype(np.float32) for n in range(20)]
        except (OSError, ValueError, KeyError) as error:
            raise InputError(
                f"{path} is not a model of this program ({error}); reinstall the package."
            ) from error
        quiet = np.full((_BEFORE, BANDS), math.log10(FLOOR) + 2.0, dtype=np.float32)
        # What each convolution in time keeps; nothing at first, then what silence leaves.
        self._kept: dict[int, Array] = {}
        self._embed(quiet)
        self._silent = dict(self._kept)
        self.reset()

    @property
    def fixed(self) -> tuple[object, ...]:
        """What no utterance changes."""
        return self._weights, self._biases, self._silent

    def reset(self) -> None:
        """Forget the utterance before."""
        self._mel.reset()
        self._kept = dict(self._silent)
        self._frames: Array = np.zeros((0, BANDS), dtype=np.float32)

    def feed(self, samples: Samples) -> Array:
        """The output frames that these samples complete, shape (frames, 768)."""
        frames = np.concatenate((self._frames, self._mel.feed(samples)))
        count = len(frames) // STRIDE * STRIDE
        self._frames = frames[count:]
        if not count:
            return np.zeros((0, 768), dtype=np.float32)
        return self._embed(frames[:count])

    def _joined(self, layer: int, x: Array, context: int) -> Array:
        """x behind what was kept for this layer; keeps its own last frames."""
        if layer in self._kept:
            x = np.concatenate((self._kept[layer], x))
        self._kept[layer] = x[len(x) - context :]
        return x

    def _embed(self, mel: Array) -> Array:
        x = mel[:, :, None]
        taken: list[Array] = []
        for layer in range(19):
            taps = [x]
            if layer in _IN_TIME:
                x = self._joined(layer, x, 2)
                taps = [x[t : len(x) - 2 + t] for t in range(3)]
            if layer not in _IN_TIME or layer == 0:
                edged = [np.pad(tap, ((0, 0), (1, 1), (0, 0))) for tap in taps]
                taps = [tap[:, b : tap.shape[1] - 2 + b] for tap in edged for b in range(3)]
            x = np.concatenate(taps, -1) @ self._weights[layer] + self._biases[layer]
            x = np.maximum(np.maximum(x, 0.2 * x), -0.4)
            if layer in _POOLS:
                x = _pooled(x, *_POOLS[layer])
            if layer in _TAKEN:
                taken.append(x.reshape(len(x), -1))
        # The last pool and convolution, for every frame and not for every second one.
        x = self._joined(19, x.max(axis=1), 1)
        x = self._joined(20, np.maximum(x[:-1], x[1:]), 4)
        x = np.concatenate([x[t : len(x) - 4 + t] for t in (0, 2, 4)], -1)
        taken.append(x @ self._weights[19] + self._biases[19])
        count = min(len(part) for part in taken)
        return np.concatenate([part[len(part) - count :] for part in taken], -1)
