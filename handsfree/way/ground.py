"""How far it is from place to place, round the trailer, through its door and into the truck.

Pure; standard library only.  Feet: `along` the frame behind the ball or kingpin, `aside` to the
right of the middle.  The shortest path among convex obstacles bends at their corners only (Lozano-
Perez and Wesley 1979), so it is one in the graph of corners and places that see each other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import dist, inf

Point = tuple[float, float]
"""(feet along, feet aside)."""

OUTSIDE, INSIDE, CAB = "outside", "inside", "cab"
"""Rooms that a place can be in."""

CLEARANCE = 1.0
"""Feet that somebody keeps away from walls; our own."""


@dataclass(frozen=True)
class Box:
    """An obstacle: a convex outline, corners in order round it."""

    corners: tuple[Point, ...]

    def blocks(self, a: Point, b: Point) -> bool:
        """Whether the straight way from a to b goes through it (along its edge it may)."""
        low, high = 0.0, 1.0
        middle = (sum(x for x, _ in self.corners) / len(self.corners),
                  sum(y for _, y in self.corners) / len(self.corners))
        for p, q in zip(self.corners, (*self.corners[1:], self.corners[0]), strict=True):
            inner = _side(p, q, middle)
            from_a, from_b = (_side(p, q, point) * (1 if inner > 0 else -1) - 1e-7 for point in (a, b))
            if from_a <= 0 and from_b <= 0:
                return False
            if from_a < 0 or from_b < 0:
                crossing = from_a / (from_a - from_b)
                low, high = (max(low, crossing), high) if from_a < 0 else (low, min(high, crossing))
        return high - low > 1e-6

    def holds(self, point: Point) -> bool:
        """Whether a point lies in it, not at its edge."""
        sides = [_side(p, q, point)
                 for p, q in zip(self.corners, (*self.corners[1:], self.corners[0]), strict=True)]
        return all(side > 1e-9 for side in sides) or all(side < -1e-9 for side in sides)


def _side(p: Point, q: Point, r: Point) -> float:
    return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])


def box(front: float, rear: float, half: float) -> Box:
    """A rectangle about the middle line, with the clearance around it."""
    x, y, z = front - CLEARANCE, rear + CLEARANCE, half + CLEARANCE
    return Box(((x, -z), (y, -z), (y, z), (x, z)))


@dataclass(frozen=True)
class Leg:
    """The way from one place to another: seconds, feet, doors, and where it bends."""

    seconds: float
    feet: float
    doors: int
    """Passages through the trailer's door."""
    points: tuple[tuple[Point, str], ...]
    """Points passed, with their rooms; the first is where it began."""


@dataclass(frozen=True)
class Ground:
    """Places among obstacles.  `rooms` names the room of each place that is not outside; one comes
    into a room by its door only, which is the outside place named in `doors`."""

    places: Mapping[str, Point]
    rooms: Mapping[str, str]
    boxes: tuple[Box, ...]
    doors: Mapping[str, str]
    door_seconds: Mapping[str, float]
    feet_a_second: float

    @cached_property
    def legs(self) -> tuple[tuple[Leg, ...], ...]:
        """Shortest ways by time between all places, in the order of `places` (Floyd 1962)."""
        names = list(self.places)
        points = [(self.places[name], self.rooms.get(name, OUTSIDE)) for name in names]
        points += [(corner, OUTSIDE) for one in self.boxes for corner in one.corners
                   if not any(other.holds(corner) for other in self.boxes)]
        count = len(points)
        best, after = [[inf] * count for _ in points], [[-1] * count for _ in points]
        for i in range(count):
            for j in range(count):
                seconds = self._straight(names, points, i, j)
                if seconds < inf:
                    best[i][j], after[i][j] = seconds, j
        for k in range(count):
            for i in range(count):
                for j in range(count):
                    if best[i][k] + best[k][j] < best[i][j] - 1e-12:
                        best[i][j], after[i][j] = best[i][k] + best[k][j], after[i][k]
        return tuple(tuple(self._leg(points, best, after, i, j) for j in range(len(names)))
                     for i in range(len(names)))

    def _straight(
        self, names: Sequence[str], points: Sequence[tuple[Point, str]], i: int, j: int
    ) -> float:
        """Seconds of the straight way; infinite where there is none."""
        (a, room), (b, other) = points[i], points[j]
        seconds = dist(a, b) / self.feet_a_second
        if room != other:
            inner, outer = (room, j) if other == OUTSIDE else (other, i)
            if OUTSIDE not in (room, other) or outer >= len(names) or (
                    names[outer] != self.doors[inner]):
                return inf
            return seconds + self.door_seconds[inner]
        if room == OUTSIDE and any(one.blocks(a, b) for one in self.boxes):
            return inf
        return seconds

    def _leg(
        self, points: Sequence[tuple[Point, str]], best: Sequence[Sequence[float]],
        after: Sequence[Sequence[int]], i: int, j: int,
    ) -> Leg:
        path = [i]
        while path[-1] != j:
            path.append(after[path[-1]][j])
        passed = tuple(points[k] for k in path)
        steps = list(zip(passed, passed[1:], strict=False))
        return Leg(best[i][j], sum(dist(a, b) for (a, _), (b, _) in steps),
                   sum(1 for (_, room), (_, other) in steps if INSIDE in (room, other) and room != other),
                   passed)

    @cached_property
    def seconds(self) -> tuple[tuple[float, ...], ...]:
        """The times of `legs`, as a matrix."""
        return tuple(tuple(leg.seconds for leg in row) for row in self.legs)


def crossings(points: Sequence[tuple[Point, str]]) -> int:
    """How often a way changes from one side of the trailer to the other, outside."""
    sides = [aside > 0 for (_, aside), room in points if room == OUTSIDE and abs(aside) > CLEARANCE]
    return sum(1 for a, b in zip(sides, sides[1:], strict=False) if a is not b)
