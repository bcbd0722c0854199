"""Ways round obstacles, against networkx on a fine grid and by hand."""

from __future__ import annotations

import math
from functools import cache

import networkx
import pytest

from handsfree.checklist.rig_file import load_rig
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.way.ground import INSIDE, OUTSIDE, Ground, Point, box, crossings
from handsfree.way.places import Layout, load_layout

RIGS = ("small-single", "survey-trailer", "tandem-slide", "fifth-wheel")
_GRID = 0.5


@cache
def layout(rig: str) -> Layout:
    return load_layout(checklists_folder(), load_rig(find_rig(rig)))


def test_round_a_wall_by_hand() -> None:
    """Half width 4 and a clearance of 1: corners at 5; from (10, -5) round the rear at 21 to (10, 5)."""
    ground = Ground({"a": (10, -5), "b": (10, 5), "c": (25, 0)}, {}, (box(0, 20, 4),), {}, {}, 2.0)
    legs = ground.legs
    assert legs[0][1].feet == pytest.approx(11 + 10 + 11)
    assert legs[0][1].seconds == pytest.approx(16)
    assert legs[0][2].feet == pytest.approx(11 + math.hypot(4, 5))
    assert [point for point, _ in legs[0][1].points][1:-1] == [(21, -5), (21, 5)]


def test_one_comes_in_by_the_door_only_and_it_is_counted() -> None:
    ground = Ground({"door": (10, 6), "in": (10, 0), "left": (10, -6)}, {"in": INSIDE},
                    (box(0, 20, 4),), {INSIDE: "door"}, {INSIDE: 5.0}, 1.0)
    way = ground.legs[1][2]
    assert way.doors == 1
    assert way.feet == pytest.approx(6 + ground.legs[0][2].feet)
    assert way.seconds == pytest.approx(way.feet + 5)
    assert ground.legs[1][1].doors == 0


def test_crossings_are_changes_of_side_outside() -> None:
    points: list[tuple[Point, str]] = [
        ((0, 6), OUTSIDE), ((0, 0.5), OUTSIDE), ((0, -6), OUTSIDE), ((3, -6), OUTSIDE),
        ((3, 2), INSIDE), ((9, 7), OUTSIDE)]
    assert crossings(points) == 2


@pytest.mark.parametrize("rig", RIGS)
@pytest.mark.parametrize("hitched", [False, True])
def test_no_way_is_longer_or_much_shorter_than_on_a_grid(rig: str, hitched: bool) -> None:
    """Along eight neighbours a way is at most 1.083 times as long as the straight one (1 over
    cos 22.5 degrees), and never shorter, but for where places are moved onto the grid."""
    ground = layout(rig).grounds[hitched]
    names = list(ground.places)
    outside = [name for name in names if ground.rooms.get(name, OUTSIDE) == OUTSIDE]
    xs, ys = range(-100, 90), range(-30, 31)
    free = {(i, j) for i in xs for j in ys
            if not any(one.holds((i * _GRID, j * _GRID)) for one in ground.boxes)}
    grid = networkx.Graph()
    for i, j in free:
        for di, dj in ((1, 0), (0, 1), (1, 1), (1, -1)):
            a, b = (i * _GRID, j * _GRID), ((i + di) * _GRID, (j + dj) * _GRID)
            if (i + di, j + dj) in free and not any(one.blocks(a, b) for one in ground.boxes):
                grid.add_edge((i, j), (i + di, j + dj), weight=math.dist(a, b))
    for name in ("post", "coupler", "step"):
        lengths = networkx.single_source_dijkstra_path_length(grid, nearest(ground.places[name], free))
        for other in outside:
            exact = ground.legs[names.index(name)][names.index(other)].feet
            by_grid = lengths[nearest(ground.places[other], free)]
            assert by_grid / 1.083 - 3 * _GRID <= exact <= by_grid + 3 * _GRID, (name, other)


def nearest(point: Point, free: set[tuple[int, int]]) -> tuple[int, int]:
    return min(free, key=lambda spot: math.dist((spot[0] * _GRID, spot[1] * _GRID), point))


@pytest.mark.parametrize("rig", RIGS)
def test_nobody_climbs_over_the_tongue_of_a_hitched_trailer(rig: str) -> None:
    apart, hitched = (ground.legs for ground in layout(rig).grounds)
    names = list(layout(rig).points)
    coupler, across = names.index("coupler"), names.index("right front")
    assert hitched[coupler][across].feet > apart[coupler][across].feet + 20


@pytest.mark.parametrize("rig", RIGS)
@pytest.mark.parametrize("hitched", [False, True])
def test_ways_obey_the_triangle_inequality(rig: str, hitched: bool) -> None:
    seconds = layout(rig).grounds[hitched].seconds
    for a, row in enumerate(seconds):
        for b, ab in enumerate(row):
            assert all(ab <= row[c] + seconds[c][b] + 1e-9 for c in range(len(row))), (a, b)
