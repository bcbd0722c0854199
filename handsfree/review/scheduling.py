"""When which step would be taken, by one person or two: the engine, walked with a clock.

Pure.  May import the checklist model, the engine, applying and records.  The steps come in the
order in which the same `advance` (of two people, `together.advance`) offers them, so a schedule
here is one that a session would keep.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from handsfree.checklist.model import BOTH, SIDES, Checklist
from handsfree.engine import together
from handsfree.engine.advance import advance, begin
from handsfree.engine.choosing import permitted, status
from handsfree.engine.state import Event, GoTo, Mode, Resume, State, Status
from handsfree.review.applying import good_event
from handsfree.review.records import Visit

_MOST_VISITS = 2_000
_MOST_EVENTS = 8
"""Answers that one step takes at most: response, confirmation, ..."""


@dataclass(frozen=True)
class Schedule:
    """Visits in order of their begin; times in seconds from the start."""

    visits: tuple[Visit, ...]
    seconds: float
    """Until the last of them ends."""
    complete: bool
    """It came to where the checklist closes, or to where only waiting steps are left."""

    @property
    def steps(self) -> tuple[str, ...]:
        """Every step once, in the order in which they are begun."""
        return tuple(dict.fromkeys(visit.step for visit in self.visits))

    @property
    def ratio(self) -> float:
        """The whole time over the sum of the steps' times; 1 for one person."""
        own = {visit.step: visit.end - visit.begin for visit in self.visits}
        total = sum(own.values())
        return self.seconds / total if total > 0 else 1.0

    @property
    def critical(self) -> tuple[Visit, ...]:
        """The chain of visits that sets the end: each began when the one before it ended."""
        chain: list[Visit] = []
        edge = self.seconds
        left = [visit for visit in self.visits if visit.end > visit.begin]
        while left and edge > 1e-6:
            fit = [visit for visit in left if abs(visit.end - edge) < 1e-6]
            if not fit:
                break
            mine = [visit for visit in fit if chain and visit.who == chain[-1].who]
            step = (mine or fit)[0].step  # of one for both, whoever was awaited
            chain.append(min((visit for visit in fit if visit.step == step),
                             key=lambda visit: visit.begin))
            edge = chain[-1].begin
            left = [visit for visit in left if visit.end <= edge + 1e-6]
        return tuple(reversed(chain))


def schedule(
    checklist: Checklist, start: frozenset[str] | State, seconds: Mapping[str, float], *,
    people: int = 1, answers: Mapping[str, bool] | None = None, order: Sequence[str] = (),
    without: Collection[str] = (), apart: Mapping[tuple[str, str], float] | None = None,
) -> Schedule:
    """Walk the checklist, each step taking its time.

    Args:
        start: what is true of the rig, or the state of a session under way.
        seconds: by step; one that is not named takes no time.
        people: 1 or 2.
        answers: site questions by id; one not named is answered with no.
        order: steps to be taken as early as they are permitted, in this order.
        without: steps that take no time, as if somebody had done them before.
        apart: seconds on foot from one step to another, from '' for where everybody stands at first.
    """
    far = apart or {}
    placed = {step for step, _ in far}
    last = dict.fromkeys(SIDES, "")
    walk = _Pair(checklist, start) if people > 1 else _Single(checklist, start)
    known, given = answers or {}, dict[str, bool]()
    now, visits = 0.0, list[Visit]()
    since: dict[str, tuple[str, float]] = {}
    came: dict[str, float] = {}
    """When each set off for the step at hand."""
    for _ in range(_MOST_VISITS):
        for side in walk.sides:
            _prefer(checklist, walk, side, since, order)
        for side in walk.sides:
            at = walk.state(side).at
            if side not in since or at != since[side][0]:
                came[side] = now
                since[side] = (at, now + far.get((last.get(side, ""), at), 0.0))
        ends = {side: _begins(checklist, since, step, begun)
                + (0.0 if step in without else seconds.get(step, 0.0))
                for side, (step, begun) in since.items()
                if step and _there(checklist, since, side)}
        side = min(ends, key=lambda one: ends[one]) if ends else walk.sides[0]
        step = since[side][0]
        if ends:
            now = max(now, ends[side])
            whose = [one for one in walk.sides if since[one][0] == step]
            begun = _begins(checklist, since, step, since[side][1])
            visits += [Visit(step, came[one] if since[one][1] >= begun else begun, now, "done", one)
                       for one in whose]
        else:
            whose = list(walk.sides)
        if not _finish(checklist, walk, whose, step, known, given):
            break
        for one in whose:
            since.pop(one, None)
            last[one] = step if step in placed else last.get(one, "")
    visits.sort(key=lambda visit: visit.begin)
    return Schedule(tuple(visits), max((visit.end for visit in visits), default=0.0),
                    walk.state(walk.sides[0]).mode in (Mode.CLOSED, Mode.WAITING))


class _Single:
    """One person."""

    sides: tuple[str, ...] = ("",)

    def __init__(self, checklist: Checklist, start: frozenset[str] | State) -> None:
        self._checklist = checklist
        self._state = start if isinstance(start, State) else begin(checklist, start)[0]
        if self._state.mode in (Mode.PAUSED, Mode.SUSPENDED):
            self.take("", Resume())

    def state(self, side: str) -> State:
        return self._state

    def view(self, side: str) -> Checklist:
        return self._checklist

    def take(self, side: str, event: Event) -> bool:
        """Whether it changed anything."""
        before = self._state
        self._state, _ = advance(self._checklist, before, event)
        return self._state != before


class _Pair:
    """Two people, outside and inside."""

    sides: tuple[str, ...] = SIDES

    def __init__(self, checklist: Checklist, start: frozenset[str] | State) -> None:
        self._checklist = checklist
        if isinstance(start, State):
            if start.mode in (Mode.PAUSED, Mode.SUSPENDED):
                start, _ = advance(checklist, start, Resume())
            self._both, _ = together.joined(checklist, start)
        else:
            self._both, _ = together.begin(checklist, start)

    def state(self, side: str) -> State:
        return self._both.of(side)

    def view(self, side: str) -> Checklist:
        return together.seen_from(self._checklist, side)

    def take(self, side: str, event: Event) -> bool:
        """Whether it changed anything."""
        before = self._both
        self._both, _ = together.advance(self._checklist, before, side, event)
        return self._both != before


_Walk = _Single | _Pair


def _both(checklist: Checklist, step: str) -> bool:
    return step in checklist.steps and checklist.steps[step].role == BOTH


def _there(checklist: Checklist, since: Mapping[str, tuple[str, float]], side: str) -> bool:
    """Whether the side's step can go on: one for both needs both."""
    step = since[side][0]
    return len(since) < 2 or not _both(checklist, step) or all(
        at == step for at, _ in since.values())


def _begins(
    checklist: Checklist, since: Mapping[str, tuple[str, float]], step: str, begun: float
) -> float:
    """When the work on a step begins: on one for both, when the later one is there."""
    if not _both(checklist, step):
        return begun
    return max(when for at, when in since.values() if at == step)


def _finish(
    checklist: Checklist, walk: _Walk, whose: Sequence[str], step: str,
    known: Mapping[str, bool], given: dict[str, bool],
) -> bool:
    """All goes well with the step; whether anything changed."""
    moved = False
    for side in whose:
        for _ in range(_MOST_EVENTS):
            state = walk.state(side)
            if step and state.at != step:
                break
            event = good_event(walk.view(side), state, known, given)
            if event is None or not walk.take(side, event):
                break
            moved = True
    return moved


def _prefer(
    checklist: Checklist, walk: _Walk, side: str, since: Mapping[str, tuple[str, float]],
    order: Sequence[str],
) -> None:
    """Go to the first step of the wanted order that this side may take now."""
    state = walk.state(side)
    if not order or not state.at or since.get(side, ("", 0.0))[0] == state.at or state.remedies:
        return
    taken = {at for one, (at, _) in since.items() if one != side}
    for step in order:
        if (step in walk.view(side).offers and step not in taken and step not in state.waits
                and status(checklist, state, step) is Status.OPEN
                and permitted(checklist.steps[step], state.facts)):
            if step != state.at:
                walk.take(side, GoTo(step))
            return
