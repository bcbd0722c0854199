"""Two people at one list: a schedule whose length is as little as is known, drawn.

Pure.  May import the checklist model, the engine's schedule in review, and this room.  Who does what
is the list's own (`role`): so whoever has more to do sets the end, and what is left to choose is the
order, in which neither is to wait for the other or walk further than needed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from itertools import pairwise

from handsfree.checklist.model import BOTH, OUTSIDE, SIDES, Checklist
from handsfree.review.records import Visit
from handsfree.review.scheduling import Schedule, schedule
from handsfree.way.ordering import least
from handsfree.way.places import Layout
from handsfree.way.shortest import Problem, permuted, problem_of
from handsfree.way.walking import HITCHED, Walk, begins_at, seconds_apart, walk

MOST_TRIES = 120
"""Orders that are walked through the engine in all."""

_STATES = 60_000


@dataclass(frozen=True)
class Pair:
    """A schedule of two people; times in seconds, walking included."""

    before: Schedule
    """In the list's order."""
    after: Schedule
    bound: float
    """No schedule is shorter: what one of the two does alone, with the least walking for it."""
    order: tuple[str, ...]
    """`Checklist.order`, permuted, as the two are asked."""


def together(checklist: Checklist, layout: Layout, record: frozenset[str]) -> Pair | None:
    """The best schedule of two that is found, by moving one piece of work after another for as long
    as that helps; None for a list that does not close by itself in a usual stay.

    Pieces are those that one person's way keeps whole, and come after what they come after there.
    Each try is a walk of the engine for two, so nothing is in it that a session would refuse.
    """
    alone = walk(checklist, record, layout.usually_no, clock=False)
    names = [visit.step for visit in alone.visits]
    if not alone.complete or len(set(names)) < len(names) or not set(names) <= set(checklist.order):
        return None
    problem = problem_of(checklist, layout, alone)
    tries = _Tries(checklist, layout, alone, problem)
    own = tuple(range(len(problem.pieces)))
    short = least(problem.pieces, problem.metrics, problem.start, _STATES)
    best = min([own, *([short.order] if short else [])], key=tries.length)
    best = _improved(best, problem, tries)
    return Pair(tries.schedule(own), tries.schedule(best), _bound(checklist, layout, alone, tries.seconds),
                tries.order(best))


class _Tries:
    """Orders of the pieces, each walked once."""

    def __init__(self, checklist: Checklist, layout: Layout, alone: Walk, problem: Problem) -> None:
        self._checklist, self._alone, self._problem = checklist, alone, problem
        self._answers = {name: name not in layout.usually_no for name in checklist.steps}
        self._apart = _apart(checklist, layout, alone)
        self.seconds = _work(checklist, layout, alone)
        self._found: dict[tuple[int, ...], Schedule] = {}

    @property
    def many(self) -> bool:
        return len(self._found) >= MOST_TRIES

    def order(self, order: Sequence[int]) -> tuple[str, ...]:
        """The whole list's order that offers these pieces so; what a usual stay has not comes last."""
        steps = self._problem.steps(order) if tuple(order) != tuple(sorted(order)) else tuple(
            visit.step for visit in self._alone.visits)
        return (*steps, *(name for name in self._checklist.order if name not in set(steps)))

    def schedule(self, order: tuple[int, ...]) -> Schedule:
        if order not in self._found:
            self._found[order] = schedule(
                permuted(self._checklist, self.order(order)), self._alone.start, self.seconds, people=2,
                answers=self._answers, apart=self._apart)
        return self._found[order]

    def length(self, order: tuple[int, ...]) -> float:
        """Seconds; endless where it does not come to the same steps."""
        found = self.schedule(order)
        own = {visit.step for visit in self._alone.visits}
        same = own - set(found.steps) <= {name for name, _ in self._problem.waits.values()}
        return found.seconds if found.complete and same else float("inf")


def _improved(order: tuple[int, ...], problem: Problem, tries: _Tries) -> tuple[int, ...]:
    """Move one piece of the chain that sets the end after another, for as long as that helps."""
    best = order
    while not tries.many:
        length = tries.length(best)
        for other in _moved(best, problem, tries.schedule(best)):
            if tries.many:
                break
            if tries.length(other) < length - 1e-6:
                best = other
                break
        else:
            break
    return best


def _moved(
    order: tuple[int, ...], problem: Problem, found: Schedule
) -> Iterator[tuple[int, ...]]:
    """Orders in which one piece stands elsewhere and nothing before what it comes after: those of
    the chain first, near places before far ones."""
    chain = {visit.step for visit in found.critical}
    places = sorted(range(len(order)), key=lambda k: chain.isdisjoint(problem.own[order[k]]))
    for far in (1, 2, 4, 8, 16):
        for place in places:
            for to in (place - far, place + far):
                rest = [*order[:place], *order[place + 1:]]
                moved = (*rest[:to], order[place], *rest[to:])
                if 0 <= to < len(order) and _keeps(moved, problem):
                    yield moved


def _keeps(order: Sequence[int], problem: Problem) -> bool:
    at = {piece: place for place, piece in enumerate(order)}
    return all(at[first] < at[k] for k, piece in enumerate(problem.pieces) for first in piece.after)


def _apart(checklist: Checklist, layout: Layout, alone: Walk) -> dict[tuple[str, str], float]:
    """Seconds on foot from step to step, and, from '', from where both stand at first."""
    names = list(layout.points)
    hitched = {visit.step: HITCHED in visit.before for visit in alone.visits}
    start = names.index(begins_at(alone.start))
    found = seconds_apart(checklist, layout, alone.start)
    for step, so in hitched.items():
        if places := layout.at(checklist.steps[step]):
            found["", step] = layout.grounds[so].seconds[start][names.index(places[0])]
    return found


def _work(checklist: Checklist, layout: Layout, alone: Walk) -> dict[str, float]:
    """Likely seconds of each step, with the walking from the first of its places to the last."""
    names = list(layout.points)
    hitched = {visit.step: HITCHED in visit.before for visit in alone.visits}
    return {name: 60 * step.minutes[1] + sum(
        layout.grounds[hitched.get(name, False)].seconds[names.index(a)][names.index(b)]
        for a, b in pairwise(layout.at(step))) for name, step in checklist.steps.items()}


def _bound(
    checklist: Checklist, layout: Layout, alone: Walk, seconds: Mapping[str, float]
) -> float:
    """What the one who has more to do does, one step after another, with the least walking."""
    longest = 0.0
    for side in SIDES:
        mine = tuple(visit for visit in alone.visits
                     if (checklist.steps[visit.step].role or OUTSIDE) in (side, BOTH))
        mine = tuple(visit for visit in mine if not checklist.steps[visit.step].wait)
        problem = problem_of(checklist, layout, replace(alone, visits=mine))
        walked = least(problem.pieces, problem.metrics, problem.start, _STATES)
        work = sum(60 * checklist.steps[visit.step].minutes[1] for visit in mine)
        longest = max(longest, work + (walked.cost if walked else 0.0))
    return longest


# --- in words, and drawn ---------------------------------------------------------------------------

def in_words(pair: Pair) -> Iterator[str]:
    """How long it takes the two, and who does what when."""
    yield f"as written: {pair.before.seconds / 60:.1f} min"
    more = 100 * (pair.after.seconds / pair.bound - 1) if pair.bound else 0.0
    yield (f"best found: {pair.after.seconds / 60:.1f} min; no schedule of two takes less than"
           f" {pair.bound / 60:.1f} min, this one {more:.0f} % more")
    for side in SIDES:
        mine = [visit for visit in pair.after.visits if visit.who == side]
        busy = sum(visit.end - visit.begin for visit in mine)
        yield f"{side}: {busy / 60:.1f} min of work and walking"
        for visit in mine:
            yield f"  {visit.begin / 60:5.1f} to {visit.end / 60:5.1f}  {visit.step}"


_ROW, _MINUTE, _NAMES = 15.0, 16.0, 150.0
_COLOURS = {SIDES[0]: "#0072B2", SIDES[1]: "#D55E00"}


def drawn(pair: Pair, title: str) -> str:
    """An SVG document: time runs to the right, a row a step; the chain that sets the end is dark."""
    visits = [visit for visit in pair.after.visits if visit.end > visit.begin]
    steps = list(dict.fromkeys(visit.step for visit in visits))
    chain = {visit.step for visit in pair.after.critical}
    width = _NAMES + pair.after.seconds / 60 * _MINUTE + 40
    height = 70 + _ROW * len(steps) + 20
    told = (f"{pair.after.seconds / 60:.1f} min for two, as written {pair.before.seconds / 60:.1f};"
            f" outside blue, inside orange; what sets the end is dark.")
    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}"'
             f' viewBox="0 0 {width:.0f} {height:.0f}" role="img">',
             f"<title>{escape(title)}</title>", f"<desc>{escape(told)}</desc>",
             "<style>text{font:11px sans-serif;fill:#222}.t{font-size:17px;font-weight:bold}"
             "line{stroke:#ccc}</style>", '<rect width="100%" height="100%" fill="#fff"/>',
             f'<text class="t" x="16" y="24">{escape(title)}</text>',
             f'<text x="16" y="42">{escape(told)}</text>']
    for minute in range(0, int(pair.after.seconds / 60) + 1, 5):
        x = _NAMES + minute * _MINUTE
        parts.append(f'<line x1="{x:.0f}" y1="60" x2="{x:.0f}" y2="{height - 20:.0f}"/>'
                     f'<text x="{x:.0f}" y="{height - 6:.0f}" text-anchor="middle">{minute}</text>')
    parts += [_bar(visit, steps.index(visit.step), visit.step in chain) for visit in visits]
    parts += [f'<text x="{_NAMES - 6:.0f}" y="{70 + row * _ROW:.0f}" text-anchor="end">{escape(step)}</text>'
              for row, step in enumerate(steps)]
    return "\n".join([*parts, "</svg>", ""])


def _bar(visit: Visit, row: int, dark: bool) -> str:
    x = _NAMES + visit.begin / 60 * _MINUTE
    wide = max(1.5, (visit.end - visit.begin) / 60 * _MINUTE)
    half = SIDES.index(visit.who) * 5  # of one for both each has half the row
    return (f'<rect x="{x:.1f}" y="{60 + row * _ROW + half:.1f}" width="{wide:.1f}" height="6"'
            f' fill="{_COLOURS[visit.who]}" fill-opacity="{1 if dark else 0.45}">'
            f"<title>{escape(f'{visit.step}, {visit.who}')}</title></rect>")
