"""The order of a checklist that walks least on one rig, and what it comes to.

Pure.  May import the checklist model and this room.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from handsfree.checklist.model import Checklist
from handsfree.way.ordering import Piece, Route, improved, least, routed
from handsfree.way.places import Layout
from handsfree.way.precedence import Block, blocks
from handsfree.way.walking import HITCHED, OnFoot, Walk, begins_at, on_foot, route_costs, walk

EXACT, HEURISTIC, AS_WRITTEN = "exact", "heuristic", "as written"


@dataclass(frozen=True)
class Way:
    """An order of a checklist's steps, and the walking before and after."""

    order: tuple[str, ...]
    """`Checklist.order`, permuted."""
    method: str
    """EXACT: no order that keeps the precedences walks less, what waits apart; HEURISTIC: none is
    known that does; AS_WRITTEN: the list's own."""
    why: str
    """Where it is the list's own: what stood against another."""
    before: OnFoot
    after: OnFoot
    optimum: float
    """Seconds of the order itself, without what waits; nought where nothing was optimised."""


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
    order, optimum, exact = _optimised(checklist, layout, plain, most_states)
    other = permuted(checklist, _with_the_others(checklist, order))
    again = walk(other, record, layout.usually_no)
    if not _alike(again, today):
        return as_written("the order that walks least does not come to the same end")
    after = on_foot(checklist, layout, again)
    if after.minutes >= before.minutes - 1e-9:
        return as_written("no order that is known walks less")
    return Way(other.order, EXACT if exact else HEURISTIC, "", before, after, optimum)


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


def _optimised(
    checklist: Checklist, layout: Layout, plain: Walk, most_states: int
) -> tuple[tuple[str, ...], float, bool]:
    """The walked steps in the order found, its seconds, and whether it is the least."""
    hitched = {visit.step: HITCHED in visit.before for visit in plain.visits}
    parts = blocks(checklist, layout, plain)
    ways = [_ways(checklist, layout, part, hitched[part.orders[0][0]]) for part in parts]
    pieces = [Piece(tuple(way), part.after, int(hitched[part.orders[0][0]]))
              for part, way in zip(parts, ways, strict=True)]
    metrics = [ground.seconds for ground in layout.grounds]
    start = list(layout.points).index(begins_at(plain.start))
    found = least(pieces, metrics, start, most_states) or improved(
        range(len(pieces)), pieces, metrics, start)
    routes = routed(found.order, pieces, metrics, start)
    order = [step for k, route in zip(found.order, routes, strict=True)
             for step in ways[k].get(route, parts[k].orders[0])]
    return tuple(order), found.cost, found.exact


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
