"""How much of a stretch of time is covered by intervals in layers, and which layer has it.

Pure.  May import numpy.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Interval = tuple[float, float]
Array = NDArray[np.float64]


def covered(layers: Sequence[Sequence[Interval]], begins: Array, ends: Array) -> Array:
    """(stretches, layers) seconds of each stretch that a layer or one before it covers.

    Args:
        layers: intervals in any order, which may overlap; no instant is below 0.
        begins: (stretches,) and `ends`: seconds.
    """
    counts = [len(layer) for layer in layers]
    edges = np.array([edge for layer in layers for interval in layer for edge in interval], float)
    order = np.argsort(edges, kind="stable")
    at = np.concatenate([[0.0], edges[order]])
    opened = np.zeros((len(at), len(layers)), "i4")  # so many intervals of each layer, from that edge on
    opened[np.arange(1, len(at)), np.repeat(np.arange(len(layers)), counts).repeat(2)[order]] = (
        1 - 2 * (order % 2))
    inside = np.logical_or.accumulate(np.cumsum(opened, axis=0) > 0, axis=1)
    sums = np.zeros((len(at), len(layers)))
    np.cumsum(inside[:-1] * np.diff(at)[:, None], axis=0, out=sums[1:])

    def until(x: Array) -> Array:
        place = np.searchsorted(at, x, side="right") - 1
        return np.asarray(sums[place] + inside[place] * (x - at[place])[:, None])

    return until(ends) - until(begins)
