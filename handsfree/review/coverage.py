"""How much of a stretch of time is covered by intervals, and whose it is.

Pure.  May import numpy.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Interval = tuple[float, float]
Array = NDArray[np.float64]


class Cover:
    """How much of [0, x] a set of intervals covers, for any x."""

    def __init__(self, intervals: list[Interval]) -> None:
        """`intervals` as `merged` gives them."""
        edges = np.array(intervals, float).reshape(-1)
        self._edges = np.concatenate([[-np.inf], edges])
        lengths = np.diff(edges)
        lengths[1::2] = 0.0  # what lies between two intervals
        self._sums = np.concatenate([[0.0, 0.0], np.cumsum(lengths)])[:len(self._edges)]
        self._inside = np.arange(len(self._edges)) % 2 == 1

    def _until(self, x: Array) -> Array:
        place = np.searchsorted(self._edges, x, side="right") - 1
        inside = self._inside[place]
        return self._sums[place] + np.where(inside, x - np.where(inside, self._edges[place], x), 0)

    def between(self, begin: Array, end: Array) -> Array:
        """Covered seconds of intervals."""
        return self._until(end) - self._until(begin)


def merged(intervals: list[Interval]) -> list[Interval]:
    """The same without overlaps, in order."""
    found: list[Interval] = []
    for begin, end in sorted(intervals):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        elif end > begin:
            found.append((begin, end))
    return found
