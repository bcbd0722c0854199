"""What the networks are made of, in numpy: stored weights, layer norm, attention, an activation.

Imports numpy only.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from handsfree.errors import InputError
from handsfree.hearing.own.features import Array


def gelu(x: Array) -> Array:
    """x times the normal distribution's cumulative, by its logistic approximation."""
    inner = np.minimum(-1.5957691216 * (x + 0.044715 * x * x * x), 60.0)
    return np.asarray(x / (1.0 + np.exp(inner)), dtype=np.float32)


def layer_norm(x: Array, gain: Array, shift: Array) -> Array:
    """x with mean 0 and deviation 1 along its last axis, then scaled and moved."""
    centred = x - x.mean(axis=-1, keepdims=True)
    spread = np.sqrt((centred**2).mean(axis=-1, keepdims=True) + 1e-5)
    return np.asarray(centred / spread * gain + shift, dtype=np.float32)


def stored(path: Path, needed: Iterable[str]) -> dict[str, Any]:
    """Arrays of an npz by name, numbers as float32; int8 weights times their scales, which are
    stored under the name with "#", and left as they are if there is none.

    Raises InputError when it cannot be read or lacks one that is needed.
    """
    try:
        with np.load(path) as packed:
            found = {name: packed[name] for name in packed.files}
        missing = set(needed) - set(found)
        if missing:
            raise KeyError(min(missing))
        return {name: _whole(value, found.get(f"{name}#")) for name, value in found.items()
                if not name.endswith("#")}
    except (OSError, ValueError, KeyError) as error:
        raise InputError(
            f"{path} is not a model of this program ({error}); reinstall the package."
        ) from error


def _whole(value: npt.NDArray[Any], scale: npt.NDArray[Any] | None) -> npt.NDArray[Any]:
    if value.dtype.kind not in "fi" or (value.dtype == np.int8 and scale is None):
        return value
    wide = value.astype(np.float32)
    return wide if scale is None else wide * scale.astype(np.float32)


class Transformer:
    """What Whisper's encoder and decoder have in common: weights, linear maps, norms, attention.

    path: npz of `recipes/extract_whisper.py`.  Raises InputError when it is none or lacks one of
    the arrays that are needed.
    """

    def __init__(self, path: Path, needed: Iterable[str]) -> None:
        self._w = stored(path, (*needed, "0.heard.weight", "heads"))
        self._heads = int(self._w["heads"])
        self._depth = 1 + max(int(n.split(".")[0]) for n in self._w if n[0].isdigit())

    def _normed(self, x: Array, name: str) -> Array:
        return layer_norm(x, self._w[f"{name}.weight"], self._w[f"{name}.bias"])

    def _linear(self, x: Array, name: str) -> Array:
        return np.asarray(x @ self._w[f"{name}.weight"] + self._w[f"{name}.bias"])

    def _attended(
        self, asks: Array, keys: Array, values: Array, hidden: Array | None = None
    ) -> Array:
        """What each row of `asks` finds in `values` by `keys`, its heads side by side.

        hidden: 0 where a row may look and minus infinity where not, shape (asks, keys).
        """
        asks, keys, values = (part.reshape(len(part), self._heads, -1).transpose(1, 0, 2)
                              for part in (asks, keys, values))  # fmt: skip
        confusability = asks @ keys.transpose(0, 2, 1) / np.float32(math.sqrt(asks.shape[-1]))
        if hidden is not None:
            confusability = confusability + hidden
        confusability = np.exp(confusability - confusability.max(axis=-1, keepdims=True))
        found = (confusability / confusability.sum(axis=-1, keepdims=True)) @ values
        return np.asarray(found.transpose(1, 0, 2).reshape(asks.shape[1], -1))
