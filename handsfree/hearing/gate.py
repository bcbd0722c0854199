"""Speech or not, every 32 ms: a small network of our own that forgets within seconds.

Log-mel frames, each band held against its own mean of the last seconds, go through causal
convolutions in time that see 2.8 s at most; so nothing that was heard long ago can make it deaf,
as a recurrent state does that drifts in steady noise.  Made by `recipes/gate.py`, which tells on
what it was trained.  Imports numpy and this room's layers.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.errors import InputError
from handsfree.storage.paths import models_folder

CHUNK = 512
"""Samples that are looked at together: 32 ms."""

HOP, WINDOW, BANDS = 256, 512, 32
FLOOR = 1e-6
"""Power below which a band counts as silent, samples at full scale 1."""

MEMORY = 94
"""Chunks (3 s) over which a band's mean fades."""

DILATIONS = (1, 2, 4, 8, 1, 2, 4)
"""Chunks between the taps of each block."""

TAPS = 5

Array = npt.NDArray[np.float32]


def mel_matrix() -> Array:
    """Triangular filters, (WINDOW // 2 + 1, BANDS), 100 to 7,400 Hz, on the scale 2595 log10(1 +
    f / 700) (O'Shaughnessy, 1987, from memory)."""
    low, high = (2595 * np.log10(1 + f / 700) for f in (100.0, 7400.0))
    edges = 700 * (10 ** (np.linspace(low, high, BANDS + 2) / 2595) - 1)
    bins = np.arange(WINDOW // 2 + 1)[:, None] * SAMPLE_RATE / WINDOW
    rising = (bins - edges[:-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[2:] - bins) / (edges[2:] - edges[1:-1])
    return np.maximum(np.minimum(rising, falling), 0).astype(np.float32)


class Gate:
    """A speech detector with the sound of the last seconds in it.

    path: npz of `recipes/gate.py`; the shipped one when None.  Raises InputError when it is none.
    """

    def __init__(self, path: Path | None = None) -> None:
        path = path or models_folder() / "gate.npz"
        try:
            with np.load(path) as packed:
                w: dict[str, Any] = {n: packed[n].astype(np.float32) for n in packed.files}
            self._enter, self._head = (w["enter.weight"], w["enter.bias"]), (
                w["head.weight"], float(w["head.bias"][0]))
            self._norm = w["norm.weight"], w["norm.bias"]
            self._blocks = [
                tuple(w[f"blocks.{at}.{part}"] for part in (
                    "taps", "bias", "norm.weight", "norm.bias", "into.weight", "into.bias",
                    "out.weight", "out.bias"))
                for at in range(len(DILATIONS))]
        except (OSError, ValueError, KeyError) as error:
            raise InputError(
                f"{path} is not a speech gate of this program ({error}); reinstall the package."
            ) from error
        self._mel = mel_matrix()
        self._places = np.arange(WINDOW) + np.array([[0], [HOP]])
        self._window = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(WINDOW) / WINDOW)).astype("f4")
        self.reset()

    def reset(self) -> None:
        """Forget everything heard."""
        self._mean = np.zeros(BANDS, dtype=np.float32)
        self._heard = 0
        self.rest()

    def rest(self) -> None:
        """Sound was left out here: forget what was heard, but for the noise in each band."""
        width = len(self._enter[1])
        self._before = np.zeros(HOP, dtype=np.float32)
        self._kept = [np.zeros(((TAPS - 1) * far + 1, width), np.float32) for far in DILATIONS]

    def __call__(self, chunk: Samples) -> float:
        """Probability that the `CHUNK` samples hold speech, 0 to 1."""
        x = self._features(chunk.astype(np.float32) / 32768.0) @ self._enter[0] + self._enter[1]
        for far, kept, block in zip(DILATIONS, self._kept, self._blocks, strict=True):
            taps, bias, gain, shift, into, into_bias, out, out_bias = block
            kept[:-1] = kept[1:]
            kept[-1] = x
            mixed = np.add.reduce(kept[::far] * taps) + bias
            inner = _normed(mixed, gain, shift) @ into + into_bias
            x = x + np.maximum(inner, 0) @ out + out_bias
        logit = float(_normed(x, *self._norm) @ self._head[0]) + self._head[1]
        return 1.0 / (1.0 + float(np.exp(-max(-30.0, min(30.0, logit)))))

    def _features(self, sound: Array) -> Array:
        """Two frames against the mean, and the mean's own shape: (3 BANDS,)."""
        joined = np.concatenate((self._before, sound))
        self._before = sound[-HOP:]
        frames = joined[self._places] * self._window
        spectrum = np.fft.rfft(frames)
        power = (spectrum.real**2 + spectrum.imag**2).astype(np.float32)
        mel = np.log(power @ self._mel + FLOOR)
        now = (mel[0] + mel[1]) * np.float32(0.5)
        mean = self._mean if self._heard else now
        told = np.concatenate((
            np.minimum(np.maximum((mel - mean) / 2, -3), 5).ravel(),
            (mean - np.add.reduce(mean) / BANDS) / 3))
        self._heard += 1
        self._mean = mean + (now - mean) / min(self._heard, MEMORY)
        return told


def _normed(x: Array, gain: Array, shift: Array) -> Array:
    """Mean 0 and deviation 1, then scaled and moved."""
    centred = x - np.add.reduce(x) / x.size  # the plain calls cost as much as the work
    scale = 1.0 / math.sqrt(float(centred @ centred) / x.size + 1e-5)
    return np.asarray(centred * np.float32(scale) * gain + shift)
