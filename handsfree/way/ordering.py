"""A sequential ordering problem: the order of pieces of work that costs least to walk.

Pure; standard library only.  The exact solver is a shortest path over the ideals of the precedence
order (dynamic programming after Held and Karp 1962, restricted to sets that are closed downwards),
with one reduction: what can be done where one stands, at no cost, is done at once.  Since ways
obey the triangle inequality, no completion gets longer by that.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf

Matrix = Sequence[Sequence[float]]
"""Cost from place to place."""


@dataclass(frozen=True)
class Route:
    """One way to do a piece: where it begins and ends, and what it costs in between, which is no
    less than the way from there to there."""

    enter: int
    leave: int
    cost: float = 0.0


@dataclass(frozen=True)
class Piece:
    """Work that is done in one go, after others; `metric` says by which matrix one comes to it."""

    routes: tuple[Route, ...]
    """None for what is done wherever one stands."""
    after: frozenset[int] = frozenset()
    metric: int = 0

    def free_at(self, place: int) -> bool:
        """Whether it can be done at this place without a step."""
        return not self.routes or any(route.enter == route.leave == place and route.cost == 0
                   for route in self.routes)


@dataclass(frozen=True)
class Found:
    """An order of the pieces and its cost; `exact` where no order costs less."""

    order: tuple[int, ...]
    cost: float
    exact: bool


def least(
    pieces: Sequence[Piece], metrics: Sequence[Matrix], start: int, most_states: int = 400_000,
) -> Found | None:
    """The order of least cost; None where more than so many states would have to be looked at.

    Args:
        metrics: costs from place to place, which obey the triangle inequality.
        start: the place where one stands at first.
    """
    needs, settled = _settling(pieces, start)
    whole = (1 << len(pieces)) - 1
    done, took = settled(0, start)
    came: dict[tuple[int, int], tuple[tuple[int, int] | None, tuple[int, ...]]] = {
        (done, start): (None, took)}
    costs = {(done, start): 0.0}
    heap = [(0.0, 0, done, start)]
    closed: set[tuple[int, int]] = set()
    pushed = 0
    while heap:
        cost, _, done, place = heapq.heappop(heap)
        state = (done, place)
        if state in closed:
            continue
        closed.add(state)
        if done == whole:
            return Found(_traced(came, state), cost, True)
        if len(closed) > most_states:
            return None
        for k, piece in enumerate(pieces):
            if done >> k & 1 or needs[k] & done != needs[k]:
                continue
            for route in piece.routes:  # those that have none were free
                after, more = settled(done | 1 << k, route.leave)
                there = (after, route.leave)
                total = cost + metrics[piece.metric][place][route.enter] + route.cost
                if total < costs.get(there, inf) - 1e-9:
                    costs[there] = total
                    came[there] = (state, (k, *more))
                    pushed += 1
                    heapq.heappush(heap, (total, pushed, *there))
    raise ValueError("the precedences have a cycle")


def _settling(
    pieces: Sequence[Piece], start: int
) -> tuple[list[int], Callable[[int, int], tuple[int, tuple[int, ...]]]]:
    """What each piece comes after, as bits; and what else is done at a place at no cost."""
    needs = [sum(1 << k for k in piece.after) for piece in pieces]
    free = {place: [(k, 1 << k, needs[k]) for k, piece in enumerate(pieces) if piece.free_at(place)]
            for place in {start, *(route.leave for piece in pieces for route in piece.routes)}}

    def settled(done: int, place: int) -> tuple[int, tuple[int, ...]]:
        """With all that can be done here at no cost; the lowest numbers, as today, come first."""
        took: list[int] = []
        before = -1
        while before != done:  # one may set another free that stands before it
            before = done
            for k, bit, need in free[place]:
                if not done & bit and need & done == need:
                    took.append(k)
                    done |= bit
        return done, tuple(took)

    return needs, settled


def at_once(
    pieces: Sequence[Piece], metrics: Sequence[Matrix], start: int, most_states: int = 250,
) -> Found:
    """A short order, found in no more than so many states: of the sets with as many pieces only the
    cheapest are gone on from (a beam search; Lowerre 1976).  `exact` where none was left out.

    Raises:
        ValueError: the precedences have a cycle.
    """
    needs, settled = _settling(pieces, start)
    width = max(1, most_states // max(1, len(pieces)))
    done, took = settled(0, start)
    layers: list[dict[tuple[int, int], tuple[float, tuple[int, ...]]]] = [
        {} for _ in range(len(pieces) + 1)]
    layers[done.bit_count()][done, start] = (0.0, took)
    exact = True
    for layer in layers[:-1]:
        best = heapq.nsmallest(width, layer.items(), key=lambda one: one[1][0])
        exact &= len(best) == len(layer)
        for (done, place), (cost, order) in best:
            for k, piece in enumerate(pieces):
                if done >> k & 1 or needs[k] & done != needs[k]:
                    continue
                ways = metrics[piece.metric][place]
                for route in piece.routes:
                    after, more = settled(done | 1 << k, route.leave)
                    total = cost + ways[route.enter] + route.cost
                    there = layers[after.bit_count()]
                    known = there.get((after, route.leave))
                    if known is None or total < known[0] - 1e-9:
                        there[after, route.leave] = (total, (*order, k, *more))
    if not layers[-1]:
        raise ValueError("the precedences have a cycle")
    cost, order = min(layers[-1].values())
    return Found(order, cost, exact)


def _traced(
    came: dict[tuple[int, int], tuple[tuple[int, int] | None, tuple[int, ...]]],
    state: tuple[int, int],
) -> tuple[int, ...]:
    parts: list[tuple[int, ...]] = []
    here: tuple[int, int] | None = state
    while here is not None:
        here, took = came[here]
        parts.append(took)
    return tuple(k for part in reversed(parts) for k in part)


def cost_of(
    order: Sequence[int], pieces: Sequence[Piece], metrics: Sequence[Matrix], start: int,
) -> float:
    """What an order costs if each piece takes the route that suits the whole best."""
    return _best(order, pieces, metrics, start)[0]


def routed(
    order: Sequence[int], pieces: Sequence[Piece], metrics: Sequence[Matrix], start: int,
) -> tuple[Route, ...]:
    """The route that each piece takes in this order."""
    return _best(order, pieces, metrics, start)[1]


def _best(
    order: Sequence[int], pieces: Sequence[Piece], metrics: Sequence[Matrix], start: int,
) -> tuple[float, tuple[Route, ...]]:
    reached: dict[int, tuple[float, tuple[Route, ...]]] = {start: (0.0, ())}
    for k in order:
        metric = metrics[pieces[k].metric]
        after: dict[int, tuple[float, tuple[Route, ...]]] = {}
        for place, (cost, taken) in reached.items():
            for route in pieces[k].routes or (Route(place, place),):
                total = cost + metric[place][route.enter] + route.cost
                if route.leave not in after or total < after[route.leave][0]:
                    after[route.leave] = (total, (*taken, route))
        reached = after
    return min(reached.values(), key=lambda one: one[0])


def improved(
    order: Sequence[int], pieces: Sequence[Piece], metrics: Sequence[Matrix], start: int, *,
    costing: Callable[[Sequence[int]], float] | None = None, longest: int = 0,
) -> Found:
    """A permitted order made shorter by moving runs of pieces, as long as that helps (or-opt).

    Never worse than the order that it begins with; not proved to be the least.

    Args:
        costing: what an order costs; without it `cost_of`.
        longest: pieces in a run that is moved; nought: any number.
    """
    def plain(some: Sequence[int]) -> float:
        return cost_of(some, pieces, metrics, start)

    costs = costing or plain
    best = list(order)
    cost = costs(best)
    better = True
    while better:
        better = False
        for begin in range(len(best)):
            last = min(len(best), begin + longest) if longest else len(best)
            for end in range(begin + 1, last + 1):
                found = _moved(best, begin, end, pieces, costs, cost)
                if found:
                    best, cost, better = *found, True
                    break
    return Found(tuple(best), cost, False)


def _moved(
    order: list[int], begin: int, end: int, pieces: Sequence[Piece],
    costs: Callable[[Sequence[int]], float], cost: float,
) -> tuple[list[int], float] | None:
    """The order with this run earlier, to where it costs least; None where nothing is won.

    To move a run back is to move those after it forth, so one direction is enough.
    """
    run = order[begin:end]
    wanted = frozenset[int]().union(*(pieces[k].after for k in run))
    found = None
    for place in range(begin - 1, -1, -1):
        if order[place] in wanted:
            break
        other = [*order[:place], *run, *order[place:begin], *order[end:]]
        total = costs(other)
        if total < cost - 1e-9:
            found, cost = other, total
    return (found, cost) if found else None
