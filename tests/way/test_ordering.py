"""The solver against brute force and against networkx, on small problems of chance."""

from __future__ import annotations

import math
import random
from itertools import permutations, product

import networkx
import pytest

from handsfree.way.ordering import Piece, Route, cost_of, improved, least


def problem(rng: random.Random, n: int, most_places: int = 9) -> tuple[list[Piece], list[list[list[float]]], int]:
    """Pieces on points of a plane, two metrics (the second half of the pieces, which comes after a
    barrier, walks by the other one), precedences by chance; today's order is 0, 1, 2, ..."""
    places = rng.randint(3, most_places)
    metrics = []
    for _ in range(2):
        points = [(rng.random() * 30, rng.random() * 10) for _ in range(places)]
        metrics.append([[math.dist(a, b) for b in points] for a in points])
    barrier = rng.choice([None, n // 2])
    pieces = []
    for number in range(n):
        after = {k for k in range(number) if rng.random() < 0.25}
        late = barrier is not None and number > barrier
        if barrier is not None and number >= barrier:
            after |= set(range(barrier)) if number == barrier else {barrier}
        ways = []
        for _ in range(rng.choice([1, 1, 2])):
            enter, leave = rng.randrange(places), rng.randrange(places)
            ways.append(Route(enter, leave, metrics[late][enter][leave] + rng.choice([0.0, 2.0])))
        if rng.random() < 0.5:
            here = rng.randrange(places)
            ways = [Route(here, here, 0.0)]
        pieces.append(Piece(tuple(ways), frozenset(after), int(late)))
    return pieces, metrics, rng.randrange(places)


def by_brute_force(pieces: list[Piece], metrics: list[list[list[float]]], start: int) -> float:
    """Every permitted order with every choice of routes."""
    best = math.inf
    for order in permutations(range(len(pieces))):
        if any(not pieces[k].after <= set(order[:place]) for place, k in enumerate(order)):
            continue
        for routes in product(*(pieces[k].routes for k in order)):
            at, total = start, 0.0
            for k, route in zip(order, routes, strict=True):
                total += metrics[pieces[k].metric][at][route.enter] + route.cost
                at = route.leave
            best = min(best, total)
    return best


def by_networkx(pieces: list[Piece], metrics: list[list[list[float]]], start: int) -> float:
    """A shortest path in the graph of all sets of pieces, written out whole."""
    graph = networkx.DiGraph()
    begin = (frozenset[int](), start)
    todo, seen = [begin], {begin}
    while todo:
        done, at = state = todo.pop()
        for k, piece in enumerate(pieces):
            if k in done or not piece.after <= done:
                continue
            for route in piece.routes:
                other = (done | {k}, route.leave)
                weight = metrics[piece.metric][at][route.enter] + route.cost
                if not graph.has_edge(state, other) or graph[state][other]["weight"] > weight:
                    graph.add_edge(state, other, weight=weight)
                if other not in seen:
                    seen.add(other)
                    todo.append(other)
    lengths = networkx.single_source_dijkstra_path_length(graph, begin)
    return min(length for (done, _), length in lengths.items() if len(done) == len(pieces))


@pytest.mark.parametrize("seed", range(60))
def test_no_order_is_shorter_by_brute_force(seed: int) -> None:
    pieces, metrics, start = problem(random.Random(seed), 6)
    found = least(pieces, metrics, start)
    assert found is not None
    assert found.cost == pytest.approx(by_brute_force(pieces, metrics, start))
    assert cost_of(found.order, pieces, metrics, start) == pytest.approx(found.cost)


@pytest.mark.parametrize("seed", range(25))
def test_no_order_is_shorter_by_networkx(seed: int) -> None:
    pieces, metrics, start = problem(random.Random(1000 + seed), 10, most_places=5)
    found = least(pieces, metrics, start)
    assert found is not None
    assert found.cost == pytest.approx(by_networkx(pieces, metrics, start))


@pytest.mark.parametrize("seed", range(40))
def test_the_heuristic_keeps_the_precedences_and_is_never_worse_than_today(seed: int) -> None:
    pieces, metrics, start = problem(random.Random(2000 + seed), 14)
    exact = least(pieces, metrics, start)
    today = tuple(range(len(pieces)))
    found = improved(today, pieces, metrics, start)
    assert exact is not None
    assert sorted(found.order) == list(today)
    for place, k in enumerate(found.order):
        assert pieces[k].after <= set(found.order[:place])
    assert exact.cost - 1e-6 <= found.cost <= cost_of(today, pieces, metrics, start) + 1e-6


def test_it_gives_up_where_there_are_too_many_states() -> None:
    rng = random.Random(5)
    pieces = [Piece((Route(k, k, 0.0),), frozenset(), 0) for k in range(12)]
    points = [(rng.random(), rng.random()) for _ in pieces]
    metric = [[math.dist(a, b) for b in points] for a in points]
    assert least(pieces, [metric], 0, most_states=500) is None
    assert least(pieces, [metric], 0) is not None
