"""A checklist walked through the engine by somebody for whom all goes well, and what he walks.

Pure.  May import the checklist model, the engine, review's answers of the one for whom all goes
well, and this room.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations
from math import inf

from handsfree.checklist.model import Checklist
from handsfree.engine import changes
from handsfree.engine.advance import advance, begin
from handsfree.engine.changes import Change
from handsfree.engine.state import Due, Effect, Mode, Refused, State, WaitBegins
from handsfree.review.applying import good_event
from handsfree.way.ground import Leg, crossings
from handsfree.way.ordering import Route
from handsfree.way.places import Layout

_MOST_EVENTS = 2_000
HITCHED, PARKED = "hitched", "parked"
"""Facts of the library that say where truck and trailer stand."""


@dataclass(frozen=True)
class Visit:
    """A step that was offered and done: how it changed the facts, and what was so before."""

    step: str
    change: Change
    before: frozenset[str]


@dataclass(frozen=True)
class Walk:
    """A whole session; `complete` where it closed by itself and nothing was refused."""

    start: frozenset[str]
    visits: tuple[Visit, ...]
    facts: frozenset[str]
    complete: bool
    waited: float
    """Minutes in which there was nothing to do but wait."""


def walk(
    checklist: Checklist, record: frozenset[str], usually_no: frozenset[str], *, clock: bool = True,
) -> Walk:
    """Every step done, every reading within its limits, every question answered as usual.

    Args:
        clock: work takes its likely minutes, and what waits is due in time; else it is due last.
    """
    state, effects = begin(checklist, record)
    visits: list[Visit] = []
    due: dict[str, float] = {}
    now = waited = 0.0
    troubled = False
    answers = {name: name not in usually_no for name in checklist.steps}
    for _ in range(_MOST_EVENTS):
        if state.mode is Mode.WAITING and state.waits:
            first = min(state.waits, key=lambda name: due.get(name, now))
            waited += max(0.0, due.get(first, now) - now)
            now = max(now, due.get(first, now))
            state, effects = advance(checklist, state, Due(first))
            continue
        event = good_event(checklist, state, answers, {})
        if event is None:
            break
        at, before = state.at, state
        state, effects = advance(checklist, state, event)
        if state == before:
            break
        troubled |= any(isinstance(effect, Refused) for effect in effects)
        if at and before.mode is not Mode.CLOSING and at in state.reports and (
                state.mode is not Mode.CONFIRM):
            visits.append(Visit(at, _change(checklist, at, answers[at]), before.facts))
            now += checklist.steps[at].minutes[1]
            due |= _begun(checklist, effects, now)
            state = _told(checklist, state, due, now) if clock else state
    return Walk(record, tuple(visits), state.facts, state.mode is Mode.CLOSED and not troubled, waited)


def _change(checklist: Checklist, name: str, yes: bool) -> Change:
    step = checklist.steps[name]
    return changes.answer(step, yes) if step.question else changes.report(step)


def _begun(checklist: Checklist, effects: Sequence[Effect], now: float) -> dict[str, float]:
    """When the waits that begin now are over."""
    waits = {effect.step: checklist.steps[effect.step].wait for effect in effects
             if isinstance(effect, WaitBegins)}
    return {name: now + wait.minutes for name, wait in waits.items() if wait}


def _told(checklist: Checklist, state: State, due: Mapping[str, float], now: float) -> State:
    """The state once it was told of each wait that is over."""
    for name in sorted(state.waits):
        if due.get(name, inf) <= now:
            state, _ = advance(checklist, state, Due(name))
    return state


# --- on foot ------------------------------------------------------------------------------------

Stop = tuple[str, str]
"""(step, place)."""


@dataclass(frozen=True)
class OnFoot:
    """What a walk comes to."""

    seconds: float
    """Of walking, doors and getting into the truck."""
    feet: float
    crossings: int
    """From one side of the trailer to the other, outside."""
    doors: int
    """Passages through its door; in and out are two."""
    waited: float
    """Minutes of mere waiting."""
    stops: tuple[Stop, ...]
    legs: tuple[tuple[bool, Leg], ...]
    """How one came to each stop; whether the truck was hitched."""

    @property
    def minutes(self) -> float:
        """Walking and waiting."""
        return self.seconds / 60 + self.waited


def begins_at(record: frozenset[str]) -> str:
    """Where somebody stands as a checklist begins: in the truck on the road, else at the door."""
    return "cab" if HITCHED in record and PARKED not in record else "door"


def rounds(layout: Layout, checklist: Checklist, step: str) -> tuple[tuple[str, ...], ...]:
    """The sequences of places in which a step can be done."""
    return tuple(permutations(layout.at(checklist.steps[step])))


def on_foot(checklist: Checklist, layout: Layout, walked: Walk) -> OnFoot:
    """The way of a walk, each step begun at the end that suits the whole best."""
    names = list(layout.points)
    reached: dict[str, tuple[float, tuple[Stop, ...], tuple[tuple[bool, Leg], ...]]] = {
        begins_at(walked.start): (0.0, (), ())}
    for visit in walked.visits:
        hitched = HITCHED in visit.before
        legs = layout.grounds[hitched].legs
        after: dict[str, tuple[float, tuple[Stop, ...], tuple[tuple[bool, Leg], ...]]] = {}
        for places in rounds(layout, checklist, visit.step):
            for here, (seconds, stops, taken) in reached.items():
                way = [legs[names.index(a)][names.index(b)] for a, b in pairwise((here, *places))]
                total = seconds + sum(leg.seconds for leg in way)
                end = places[-1] if places else here
                if end not in after or total < after[end][0] - 1e-9:
                    after[end] = (total, (*stops, *((visit.step, place) for place in places or (here,))),
                                  (*taken, *((hitched, leg) for leg in way)))
        reached = after
    seconds, stops, taken = min(reached.values(), key=lambda one: one[0])
    passed = [point for _, leg in taken for point in leg.points]
    return OnFoot(seconds, sum(leg.feet for _, leg in taken), crossings(passed),
                  sum(leg.doors for _, leg in taken), walked.waited, stops, taken)


def seconds_apart(
    checklist: Checklist, layout: Layout, record: frozenset[str],
) -> dict[tuple[str, str], float]:
    """Seconds on foot from where one step ends to where another begins, for every pair of steps.

    Truck and trailer stand as they do when the second comes in a usual stay.  Steps that can be
    answered anywhere are in no pair; a step of several places is done in the order listed.
    """
    names = list(layout.points)
    hitched = {visit.step: HITCHED in visit.before
               for visit in walk(checklist, record, layout.usually_no, clock=False).visits}
    places = {name: [names.index(place) for place in at]
              for name, step in checklist.steps.items() if (at := layout.at(step))}
    return {(one, other): layout.grounds[hitched.get(other, False)].seconds[a[-1]][b[0]]
            for one, a in places.items() for other, b in places.items()}


def route_costs(
    checklist: Checklist, layout: Layout, steps: Sequence[str], hitched: bool,
) -> tuple[Route, ...]:
    """The ways in which steps can be done one after another, by where one begins and ends."""
    names = list(layout.points)
    seconds = layout.grounds[hitched].seconds
    found: dict[tuple[int, int], float] = {}
    for step in steps:
        for_step: dict[tuple[int, int], float] = {}
        for places in rounds(layout, checklist, step):
            stops = [names.index(place) for place in places]
            if stops:
                cost = sum(seconds[a][b] for a, b in pairwise(stops))
                ends = (stops[0], stops[-1])
                for_step[ends] = min(cost, for_step.get(ends, inf))
        if found and for_step:
            joined: dict[tuple[int, int], float] = {}
            for (enter, a), cost in found.items():
                for (b, leave), more in for_step.items():
                    total = cost + seconds[a][b] + more
                    joined[enter, leave] = min(total, joined.get((enter, leave), inf))
            found = joined
        else:
            found = found or for_step
    return tuple(Route(enter, leave, cost) for (enter, leave), cost in found.items())

