"""The three acoustic networks in numpy: sound in, log-probabilities of phones out.

The first two are causal and take sound in pieces: two convolutions in time and frequency over
log-mel frames (one output every 30 ms), and a frozen speech embedding (every 40 ms).  The third
hears a whole utterance through Whisper's encoder (every 20 ms).  All end in blocks of depthwise
convolution, layer norm and a two-layer perceptron.  `recipes/net.py`, `second.py` and `third.py` are
the same for training.  Imports numpy only; weights are stored as int8 with one scale an output.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from handsfree.audio import Samples
from handsfree.hearing.own.embedding import Embedding
from handsfree.hearing.own.features import BANDS, Array
from handsfree.hearing.own.layers import gelu, layer_norm, stored
from handsfree.hearing.own.whisper import Encoder, under_noise

STRIDE = 3
"""Mel frames to one output frame."""

FRAME_SECONDS = 0.03
"""Seconds from one output frame to the next."""

SECOND_FRAME_SECONDS = 0.04
"""The same for the second network."""


def _opened(path: Path) -> tuple[tuple[str, ...], dict[str, Array]]:
    """Names of the phones, and the weights.  Raises InputError when it is no model."""
    w = stored(path, ("phones", "head.weight", "enter.weight", "blocks.0.depthwise.weight"))
    return tuple(str(p) for p in w.pop("phones")), w


class _Blocks:
    """The blocks and the output layer that both networks end in, and their state."""

    def __init__(self, w: dict[str, Array]) -> None:
        self._w = w
        self._depth = 1 + max(int(n.split(".")[1]) for n in w if n.startswith("blocks."))
        self._dilation = [2 if at % 3 == 2 else 1 for at in range(self._depth)]
        self.reset()

    def reset(self) -> None:
        """Forget the utterance before."""
        width = self._w["norm.weight"].shape[0]
        kernel = self._w["blocks.0.depthwise.weight"].shape[0]
        self._kept: list[Array] = [
            np.zeros(((kernel - 1) * d, width), dtype=np.float32) for d in self._dilation
        ]

    def feed(self, x: Array) -> Array:
        """Log-probabilities, shape (frames, 1 + phones), of frames of shape (frames, width)."""
        w = self._w
        for at in range(self._depth):
            x = self._block(at, np.asarray(x, dtype=np.float32))
        scores = layer_norm(x, w["norm.weight"], w["norm.bias"]) @ w["head.weight"] + w["head.bias"]
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
        inner = layer_norm(mixed, w[name + "norm.weight"], w[name + "norm.bias"])
        inner = gelu(inner @ w[name + "into.weight"] + w[name + "into.bias"])
        inner = inner @ w[name + "out.weight"] + w[name + "out.bias"]
        return np.asarray(x + w[name + "scale"] * inner, dtype=np.float32)


class Network:
    """Weights, and the state of the utterance under way.

    path: the npz file that `recipes/export.py` writes.  Raises InputError when it is none.
    """

    def __init__(self, path: Path) -> None:
        self.phones, self._w = _opened(path)
        self._blocks = _Blocks(self._w)
        self.reset()

    @property
    def fixed(self) -> tuple[object, ...]:
        """What no utterance changes."""
        return (self._w,)

    def reset(self) -> None:
        """Forget the utterance before."""
        self._mel: Array = np.zeros((0, BANDS), dtype=np.float32)
        self._before: Array = np.zeros((2, BANDS), dtype=np.float32)
        self._blocks.reset()

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
        x = gelu(patches @ w["first.weight"] + w["first.bias"])  # (steps, half, 32)
        # Second: 3 x 3, every second band, every third frame; frames do not overlap.
        x = np.pad(x.reshape(count, STRIDE, half, -1), ((0, 0), (0, 0), (1, 1), (0, 0)))
        pieces = [x[:, t, f : f + half : 2] for t in range(3) for f in range(3)]
        x = gelu(np.concatenate(pieces, -1) @ w["second.weight"] + w["second.bias"])
        x = x.reshape(count, -1) @ w["enter.weight"] + w["enter.bias"]
        return self._blocks.feed(np.asarray(x, dtype=np.float32))


class EmbeddingHead:
    """The second network: the frozen speech embedding, and on it blocks of the same kind.

    path: npz of `recipes/export.py`; embedding: that of `recipes/extract.py`.  Raises InputError
    when one is none.
    """

    def __init__(self, path: Path, embedding: Path) -> None:
        self.phones, self._w = _opened(path)
        self._embedding = Embedding(embedding)
        self._blocks = _Blocks(self._w)
        sizes = [len(self._w[f"norms.{at}.weight"]) for at in range(4)]
        self._cuts = [int(cut) for cut in np.cumsum(sizes)[:-1]]

    @property
    def fixed(self) -> tuple[object, ...]:
        """What no utterance changes."""
        return self._w, *self._embedding.fixed

    def reset(self) -> None:
        """Forget the utterance before."""
        self._embedding.reset()
        self._blocks.reset()

    def feed(self, samples: Samples) -> Array:
        """Log-probabilities, shape (frames, 1 + phones), every 40 ms."""
        parts = np.split(self._embedding.feed(samples), self._cuts, axis=-1)
        return self._blocks.feed(_entered(self._w, parts))


class WhisperHead:
    """The third network: Whisper's encoder, and on its layers blocks of the same kind.

    path: npz of `recipes/export.py`; encoder: that of `recipes/extract_whisper.py`.  Raises
    InputError when one is none.
    """

    def __init__(self, path: Path, encoder: Path) -> None:
        self.phones, self._w = _opened(path)
        self._encoder = Encoder(encoder)
        self._blocks = _Blocks(self._w)

    def __call__(self, samples: Samples) -> tuple[Array, Array]:
        """Of a whole utterance, every 20 ms: log-probabilities, (frames, 1 + phones), and what
        the encoder's last layer made of it, (frames, width), for the decoder."""
        self._blocks.reset()
        layers = self._encoder(under_noise(samples))
        return self._blocks.feed(_entered(self._w, layers)), layers[-1]


def _entered(w: dict[str, Array], parts: list[Array]) -> Array:
    """What the blocks get of the outputs of frozen layers."""
    normed = [layer_norm(part, w[f"norms.{at}.weight"], w[f"norms.{at}.bias"])
              for at, part in enumerate(parts)]
    return np.concatenate(normed, -1) @ w["enter.weight"] + w["enter.bias"]
