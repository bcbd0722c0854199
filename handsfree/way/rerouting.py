"""The way from where an operator stands, once he has left the order: after a skip, or a "go to".

Pure.  May import the checklist model, the engine and this room.  It says which step to take next, and
whoever asks goes there by the ordinary event, so an interlock is asked as ever.
"""

from __future__ import annotations

from dataclasses import replace

from handsfree.checklist.model import Checklist
from handsfree.engine.choosing import permitted, status
from handsfree.engine.state import State, Status
from handsfree.way.ordering import at_once, cost_of
from handsfree.way.places import Layout
from handsfree.way.shortest import problem_of
from handsfree.way.walking import Walk, begins_at

_WORTH = 10.0
"""Seconds that another order has to save; our own."""


class Rerouting:
    """Knows the pieces of a usual stay, and what of them is left."""

    def __init__(self, checklist: Checklist, layout: Layout, record: frozenset[str], usual: Walk) -> None:
        """`record` is what is usually so as the list begins, `usual` the walk from there."""
        self._checklist, self._layout = checklist, layout
        self._problem = problem_of(checklist, layout, usual)
        self._names = list(layout.points)
        self._start = begins_at(record)

    def stands(self, state: State) -> str:
        """The place of what was reported last; where a list is begun, if nothing was."""
        for step in reversed(state.reports):
            if places := self._layout.at(self._checklist.steps[step]):
                return places[-1]
        return self._start

    def next(self, state: State) -> str:
        """The step to take next from where he stands; '' where the list's own choice is as good: in
        the midst of what is done in one go, where nothing is known of what is left, or where something
        hangs on what was left for later: then most of it comes afterwards, in the list's order."""
        own = self._problem.own
        if any(state.at in steps and self._begun(state, steps) for steps in own):
            return ""
        soon, later = self._left(state)
        waiting = frozenset(later)
        if not soon or any(self._problem.pieces[piece].after & waiting for piece in later):
            return ""
        left = [*soon, *later]
        number = {piece: place for place, piece in enumerate(left)}
        first = frozenset(range(len(soon)))
        pieces = [replace(self._problem.pieces[piece], after=frozenset(
            number[before] for before in self._problem.pieces[piece].after if before in number)
            | (first if place >= len(soon) else frozenset())) for place, piece in enumerate(left)]
        metrics, here = self._problem.metrics, self._names.index(self.stands(state))
        found = at_once(pieces, metrics, here)
        if found.cost > cost_of(range(len(pieces)), pieces, metrics, here) - _WORTH:
            return ""
        steps = (step for place in found.order for step in own[left[place]])
        return next((step for step in steps if self._open(state, step)), "")

    def _begun(self, state: State, steps: tuple[str, ...]) -> bool:
        return any(status(self._checklist, state, step) is Status.DONE for step in steps)

    def _open(self, state: State, step: str) -> bool:
        return (status(self._checklist, state, step) is Status.OPEN and step not in state.waits
                and permitted(self._checklist.steps[step], state.facts))

    def _left(self, state: State) -> tuple[list[int], list[int]]:
        """Pieces of which something is to be done, in the list's order: those that can come now, and
        those that cannot, since they, or something that comes before them, were left for later, or
        do not apply yet.  So only such are moved as could change places from the first on."""
        soon: list[int] = []
        later: list[int] = []
        held = set[int]()
        for piece, steps in enumerate(self._problem.own):
            marks = {status(self._checklist, state, step) for step in steps}
            if marks <= {Status.DONE}:
                continue
            comes = any(self._comes(state, step) for step in steps)
            if not comes or self._problem.pieces[piece].after & held or (
                    marks & {Status.SKIPPED, Status.LEFT, Status.FAILED}):
                held.add(piece)
                later += [piece] if comes else []
            else:
                soon.append(piece)
        return soon, later

    def _comes(self, state: State, step: str) -> bool:
        """Whether it applies; what waits comes when it is due, wherever one is then."""
        one = self._checklist.steps[step]
        return one.wait is None and one.only_if.holds(state.facts)
