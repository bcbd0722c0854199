"""The acoustic network in numpy: log-mel frames in, log-probabilities of phones out, in pieces.

Causal: two convolutions in time and frequency (one output every 30 ms), then blocks of depthwise
convolution, layer norm and a two-layer perceptron.  `recipes/net.py` is the same network for
training.  Imports numpy only; weights are stored as int8 with one scale an output.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from handsfree.errors import InputError
from handsfree.hearing.own.features import BANDS, Array

STRIDE = 3
"""Mel frames to one output frame."""

FRAME_SECONDS = 0.03
"""Seconds from one output frame to the next."""


def _gelu(x: Array) -> Array:
    """x times the normal distribution's cumulative, by its logistic approximation."""
    inner = np.minimum(-1.5957691216 * (x + 0.044715 * x * x * x), 60.0)
    return np.asarray(x / (1.0 + np.exp(inner)), dtype=np.float32)


def _norm(x: Array, gain: Array, shift: Array) -> Array:
    centred = x - x.mean(axis=-1, keepdims=True)
    spread = np.sqrt((centred**2).mean(axis=-1, keepdims=True) + 1e-5)
    return np.asarray(centred / spread * gain + shift, dtype=np.float32)


class Network:
    """Weights, and the state of the utterance under way.

    path: the npz file that `recipes/export.py` writes.  Raises InputError when it is none.
    """

    def __init__(self, path: Path) -> None:
        try:
            with np.load(path) as packed:
                w = {name: packed[name] for name in packed.files}
            self.phones: tuple[str, ...] = tuple(str(p) for p in w.pop("phones"))
            w = {
                name: value.astype(np.float32) * w[name + "#"].astype(np.float32)
                if value.dtype == np.int8 else value.astype(np.float32)
                for name, value in w.items() if not name.endswith("#")
            }  # fmt: skip
            self._w: dict[str, Array] = w
            self._depth = 1 + max(int(n.split(".")[1]) for n in w if n.startswith("blocks."))
        except (OSError, ValueError, KeyError) as error:
            raise InputError(
                f"{path} is not a model of this program ({error}); reinstall the package."
            ) from error
        self._dilation = [2 if at % 3 == 2 else 1 for at in range(self._depth)]
        self.reset()

    def reset(self) -> None:
        """Forget the utterance before."""
        width = self._w["norm.weight"].shape[0]
        self._mel: Array = np.zeros((0, BANDS), dtype=np.float32)
        self._before: Array = np.zeros((2, BANDS), dtype=np.float32)
        kernel = self._w["blocks.0.depthwise.weight"].shape[0]
        self._kept: list[Array] = [
            np.zeros(((kernel - 1) * d, width), dtype=np.float32) for d in self._dilation
        ]

    def feed(self, mel: Array) -> Array:
        """Log-probabilities, shape (frames, 1 + phones), of the output frames now complete."""
        mel = np.concatenate((self._mel, mel))
        count = len(mel) // STRIDE
        self._mel = mel[count * STRIDE :]
        w = self._w
        if not count:
            return np.zeros((0, len(self.phones) + 1), dtype=np.float32)
        joined = np.concatenate((self._before, mel[: count * STRIDE]))
        self._before = joined[-2:]
        # First convolution: 3 x 3, every second band.
        edged = np.pad(joined, ((0, 0), (1, 1)))
        steps, half = count * STRIDE, BANDS // 2
        patches = np.stack(
            [edged[t : t + steps, f : f + 2 * half : 2] for t in range(3) for f in range(3)], -1)
        x = _gelu(patches @ w["first.weight"] + w["first.bias"])  # (steps, half, 32)
        # Second: 3 x 3, every second band, every third frame; frames do not overlap.
        x = np.pad(x.reshape(count, STRIDE, half, -1), ((0, 0), (0, 0), (1, 1), (0, 0)))
        pieces = [x[:, t, f : f + half : 2] for t in range(3) for f in range(3)]
        x = _gelu(np.concatenate(pieces, -1) @ w["second.weight"] + w["second.bias"])
        x = x.reshape(count, -1) @ w["enter.weight"] + w["enter.bias"]
        for at in range(self._depth):
            x = self._block(at, np.asarray(x, dtype=np.float32))
        scores = _norm(x, w["norm.weight"], w["norm.bias"]) @ w["head.weight"] + w["head.bias"]
        scores = scores - scores.max(axis=-1, keepdims=True)
        return np.asarray(
            scores - np.log(np.exp(scores).sum(axis=-1, keepdims=True)), dtype=np.float32)

    def _block(self, at: int, x: Array) -> Array:
        w, name, far = self._w, f"blocks.{at}.", self._dilation[at]
        joined = np.concatenate((self._kept[at], x))
        self._kept[at] = joined[len(joined) - len(self._kept[at]) :]
        kernel = w[name + "depthwise.weight"]
        mixed = w[name + "depthwise.bias"] + sum(
            kernel[k] * joined[k * far : k * far + len(x)] for k in range(len(kernel)))
        inner = _norm(mixed, w[name + "norm.weight"], w[name + "norm.bias"])
        inner = _gelu(inner @ w[name + "into.weight"] + w[name + "into.bias"])
        inner = inner @ w[name + "out.weight"] + w[name + "out.bias"]
        return np.asarray(x + w[name + "scale"] * inner, dtype=np.float32)
