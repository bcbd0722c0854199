"""The order of a checklist that walks least on one rig, and what it comes to.

Pure.  May import the checklist model and this room.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from handsfree.checklist.model import Checklist
from handsfree.way.ordering import Piece, Route, cost_of, improved, least, routed
from handsfree.way.places import Layout
from handsfree.way.precedence import Block, blocks
from handsfree.way.walking import HITCHED, OnFoot, Walk, begins_at, on_foot, route_costs, walk

_TORN = 120.0
"""Seconds that it counts as where what is due comes in the midst of what is done in one go; own."""

_SOON = 10_000
"""States that one further try looks at, at most."""

EXACT, HEURISTIC, AS_WRITTEN = "exact", "heuristic", "as written"


@dataclass(frozen=True)
class Way:
    """An order of a checklist's steps, and the walking before and after."""

    order: tuple[str, ...]
    """`Checklist.order`, permuted."""
    method: str
    """EXACT: no order that keeps the precedences walks less; HEURISTIC: none is known that does,
    see `optimum`; AS_WRITTEN: the list's own."""
    why: str
    """Where it is the list's own: what stood against another."""
    before: OnFoot
    after: OnFoot
    optimum: float
    """Seconds of walking that no order goes below, could one choose when what waits is due; nought
    where that was not found."""


def shortest(
    checklist: Checklist, layout: Layout, record: frozenset[str], most_states: int = 400_000,
) -> Way:
    """The order that walks least from this record on.

    The order found is walked through the engine: should it not come to the same end as the list's
    own, by the same steps, or walk longer once what waits is in it, the list's own is kept.
    """
    today = walk(checklist, record, layout.usually_no)
    before = on_foot(checklist, layout, today)
    plain = walk(checklist, record, layout.usually_no, clock=False)
    steps = [visit.step for visit in plain.visits]

    def as_written(why: str) -> Way:
        return Way(checklist.order, AS_WRITTEN, why, before, before, 0.0)

    if not plain.complete or not today.complete:
        return as_written("the list does not close by itself in a usual stay")
    if len(set(steps)) < len(steps) or not set(steps) <= set(checklist.order):
        return as_written("a step comes twice in it")
    problem = problem_of(checklist, layout, plain)
    found = least(problem.pieces, problem.metrics, problem.start, most_states)
    bound = found.cost if found else 0.0
    candidates = [found.order] if found else []
    own = range(len(problem.pieces))
    if not found or problem.in_time(found.order) > bound + 1e-6:
        candidates = sorted([*candidates, *problem.with_work_to_wait_by()], key=problem.in_time)[:2]
        candidates += [improved(order, problem.pieces, problem.metrics, problem.start,
                                costing=problem.in_time, longest=0 if not found else 2).order
                       for order in (*candidates, own)]
    ways = []
    for order in candidates:
        other = permuted(checklist, _with_the_others(checklist, problem.steps(order)))
        again = walk(other, record, layout.usually_no)
        if _alike(again, today):
            torn = problem.torn([visit.step for visit in again.visits])
            ways.append((torn, on_foot(checklist, layout, again), other.order))
    if not ways:
        return as_written("the order that walks least does not come to the same end")
    _, after, order_found = min(ways, key=lambda one: (one[0], one[1].minutes))
    if after.minutes >= before.minutes - 1e-9:
        return as_written("no order that is known walks less")
    exact = found is not None and after.seconds <= bound + 1e-6
    return Way(order_found, EXACT if exact else HEURISTIC, "", before, after, bound)


def _alike(one: Walk, other: Walk) -> bool:
    """Whether two walks do the same steps, each as often, and come to the same end."""
    return (one.complete and one.facts == other.facts
            and sorted(visit.step for visit in one.visits)
            == sorted(visit.step for visit in other.visits))


def permuted(checklist: Checklist, order: Sequence[str]) -> Checklist:
    """The same checklist with its steps offered in this order.

    Its digest is another, so that a session begun in one order is not gone on with in another.

    Raises:
        ValueError: these are not its steps.
    """
    if sorted(order) != sorted(checklist.order):
        raise ValueError("an order has to have each step of the checklist once")
    told = "\n".join([checklist.digest, *order])
    return checklist if tuple(order) == checklist.order else replace(
        checklist, order=tuple(order), digest=hashlib.sha256(told.encode()).hexdigest())


@dataclass(frozen=True)
class Problem:
    """A walk as pieces to be put in order."""

    pieces: tuple[Piece, ...]
    ways: tuple[Mapping[Route, tuple[str, ...]], ...]
    """Of each piece: its routes, and the order of steps that each is for."""
    own: tuple[tuple[str, ...], ...]
    """Of each piece: its steps in the list's order."""
    metrics: tuple[Sequence[Sequence[float]], ...]
    start: int
    single: Mapping[str, Piece]
    """Each step by itself."""
    minutes: Mapping[str, float]
    waits: Mapping[str, tuple[str, float]]
    """Step: what waits for it, and how long."""

    def steps(self, order: Sequence[int]) -> tuple[str, ...]:
        """The steps of an order, without those that wait."""
        routes = routed(order, self.pieces, self.metrics, self.start)
        waiting = {name for name, _ in self.waits.values()}
        return tuple(step for k, route in zip(order, routes, strict=True)
                     for step in self.ways[k].get(route, self.own[k]) if step not in waiting)

    def in_time(self, order: Sequence[int]) -> float:
        """Seconds of walking and of mere waiting, where what waits comes after the step at hand
        when it is due: as `walking.walk` has it, but without the engine, so that many orders can
        be tried."""
        steps, now, waited = [], 0.0, 0.0
        due: dict[str, float] = {}
        ready: list[str] = []
        for step in self.steps(order):
            steps += [step, *ready]
            now += self.minutes[step] + sum(self.minutes[name] for name in ready)
            if step in self.waits:
                name, minutes = self.waits[step]
                due[name] = now + minutes
            ready = [name for name in due if due[name] <= now]
            due = {name: moment for name, moment in due.items() if moment > now}
        for name in (*ready, *sorted(due, key=lambda name: due[name])):
            waited += max(0.0, due.get(name, now) - now)
            now = max(now, due.get(name, now))
            steps.append(name)
        return cost_of(range(len(steps)), [self.single[step] for step in steps], self.metrics,
                       self.start) + 60 * waited + _TORN * self.torn(steps)

    def with_work_to_wait_by(self) -> Iterator[tuple[int, ...]]:
        """Orders of least cost in which one further piece comes after a step that is waited for, so
        that it is due at another moment; those that are soon found."""
        of = {step: k for k, own in enumerate(self.own) for step in own}
        for first in {of[step] for step in self.waits}:
            before = self._all_before(first)
            for k, piece in enumerate(self.pieces):
                if k != first and first not in piece.after and k not in before:
                    held = replace(piece, after=piece.after | {first})
                    found = least([*self.pieces[:k], held, *self.pieces[k + 1:]], self.metrics,
                                  self.start, _SOON)
                    if found:
                        yield found.order

    def _all_before(self, then: int) -> set[int]:
        """The pieces that have to come before this one."""
        found, todo = set[int](), [then]
        while todo:
            new = self.pieces[todo.pop()].after - found
            found |= new
            todo += new
        return found

    def torn(self, steps: Sequence[str]) -> int:
        """How often what is due comes in the midst of what is done in one go, with gloves on say."""
        piece = {step: k for k, own in enumerate(self.own) for step in own}
        waiting = {name for name, _ in self.waits.values()}
        return sum(1 for a, b, c in zip(steps, steps[1:], steps[2:], strict=False)
                   if b in waiting and piece[a] == piece[c])


def problem_of(checklist: Checklist, layout: Layout, plain: Walk) -> Problem:
    hitched = {visit.step: HITCHED in visit.before for visit in plain.visits}
    parts = blocks(checklist, layout, plain)
    ways = tuple(_ways(checklist, layout, part, hitched[part.orders[0][0]]) for part in parts)
    waits = {step.wait.after: (name, step.wait.minutes) for name, step in checklist.steps.items()
             if step.wait and name in hitched}
    return Problem(
        tuple(Piece(tuple(way), part.after, int(hitched[part.orders[0][0]]))
              for part, way in zip(parts, ways, strict=True)),
        ways, tuple(part.orders[0] for part in parts),
        tuple(ground.seconds for ground in layout.grounds),
        list(layout.points).index(begins_at(plain.start)),
        {name: Piece(route_costs(checklist, layout, (name,), so), metric=int(so))
         for name, so in hitched.items()},
        {name: checklist.steps[name].minutes[1] for name in hitched}, waits)


def _ways(
    checklist: Checklist, layout: Layout, part: Block, hitched: bool
) -> dict[Route, tuple[str, ...]]:
    """How a block can be done: the cheapest by where it begins and ends, each with its order."""
    found: dict[tuple[int, int], tuple[Route, tuple[str, ...]]] = {}
    for order in part.orders:
        for route in route_costs(checklist, layout, order, hitched):
            ends = (route.enter, route.leave)
            if ends not in found or route.cost < found[ends][0].cost - 1e-9:
                found[ends] = (route, order)
    return dict(found.values())


# --- steps that a usual stay has not --------------------------------------------------------------

def _with_the_others(checklist: Checklist, order: Sequence[str]) -> tuple[str, ...]:
    """The whole checklist's order: what this walk did not come to stays with its neighbours.

    A step that waits follows the one that it waits for.  One that brings about what the next walked
    step asks for stays before that, any other behind the walked step before it.
    """
    walked = set(order)
    ahead: dict[str, list[str]] = {}
    behind: dict[str, list[str]] = {}
    run: list[str] = []
    last = ""
    for name in (*checklist.order, ""):
        if name and name not in walked:
            run.append(name)
            continue
        feeding = _feeding(checklist, run, name) if name else set[str]()
        for other in run:
            wait = checklist.steps[other].wait
            if wait and wait.after in walked:
                behind.setdefault(wait.after, []).append(other)
            elif other in feeding or not last:
                ahead.setdefault(name, []).append(other)
            else:
                behind.setdefault(last, []).append(other)
        run, last = [], name
    return tuple(one for name in order
                 for one in (*ahead.get(name, ()), name, *behind.get(name, ())))


def _feeding(checklist: Checklist, run: Sequence[str], following: str) -> set[str]:
    """The steps of a run that bring about what the step after it, or one that feeds it, asks for."""
    wanted = _asked(checklist, following)
    found: set[str] = set()
    for name in reversed(run):
        step = checklist.steps[name]
        made = step.gives | step.ends | ({f"{name} answered", name} if step.question else set())
        if made & wanted:
            found.add(name)
            wanted = wanted | _asked(checklist, name)
    return found


def _asked(checklist: Checklist, name: str) -> frozenset[str]:
    step = checklist.steps[name]
    return step.applicable.names() | step.needs.names()


def usual_record(
    checklist: Checklist, traits: frozenset[str], layout: Layout, before: Mapping[str, Checklist],
) -> frozenset[str]:
    """What is usually so as a checklist begins: on the road, or set up once `arrive` was walked;
    whichever lets it come to more of its steps.

    Args:
        before: checklists by id, of which 'arrive' is looked for.
    """
    road = checklist.start_facts | traits
    starts = [road]
    arrive = before.get("arrive")
    if arrive is not None and arrive.id != checklist.id:
        set_up = walk(arrive, arrive.start_facts | traits, layout.usually_no).facts
        starts.append(set_up | {fact for fact in checklist.start_facts if fact not in arrive.facts})
    walks = {start: walk(checklist, start, layout.usually_no) for start in starts}
    return max(starts, key=lambda start: (walks[start].complete, len(walks[start].visits)))
