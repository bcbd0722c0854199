"""How much of a stretch of time is covered by intervals, and whose it is.

Pure.  Imports nothing of the program.
"""

from __future__ import annotations

from bisect import bisect_right

Interval = tuple[float, float]


class Cover:
    """How much of [0, x] a set of intervals covers, for any x."""

    def __init__(self, intervals: list[Interval]) -> None:
        self._edges: list[float] = []
        self._sums: list[float] = []
        self._inside: list[bool] = []
        total = 0.0
        for begin, end in _merged(intervals):
            self._edges += [begin, end]
            self._sums += [total, total + end - begin]
            self._inside += [True, False]
            total += end - begin

    def _until(self, x: float) -> float:
        place = bisect_right(self._edges, x) - 1
        if place < 0:
            return 0.0
        return self._sums[place] + (x - self._edges[place] if self._inside[place] else 0.0)

    def between(self, begin: float, end: float) -> float:
        """Covered seconds of an interval."""
        return self._until(end) - self._until(begin)


def _merged(intervals: list[Interval]) -> list[Interval]:
    merged: list[Interval] = []
    for begin, end in sorted(intervals):
        if merged and begin <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        elif end > begin:
            merged.append((begin, end))
    return merged


def shares(
    begin: float, end: float, away: Cover, paused: Cover, spoken: Cover, waiting: Cover
) -> tuple[float, float, float, float]:
    """Active, paused, spoken and waiting seconds of an interval: disjoint by construction."""
    gone, p, s, w = (cover.between(begin, end) for cover in (away, paused, spoken, waiting))
    return max(0.0, end - begin - w), p - gone, s - p, w - s
