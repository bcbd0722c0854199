"""Shortest orders of moves, by breadth-first layers backwards from where they should lead.

May import this room only.  Backwards, because what can lead to one condition is a far simpler
set than all that can be reached.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.proof.state_space import Node, Space
from handsfree.proof.stay import Move

Facts = frozenset[str]


@dataclass(frozen=True)
class Path:
    """`facts[0]` is true at the start (traits included), `facts[i]` after `moves[i - 1]`."""

    moves: tuple[Move, ...]
    facts: tuple[Facts, ...]

    def then(self, move: Move) -> Path:
        """One move longer."""
        return Path((*self.moves, move), (*self.facts, move.change.apply(self.facts[-1])))


def reachable(space: Space, moves: Sequence[Move], start: Node, goal: Node) -> bool:
    """Whether the moves can lead from `start` into `goal`."""
    if goal == space.none:
        return False
    return bool(space.can_reach(moves, goal, space.all, meet=start) & start != space.none)


def shortest(space: Space, moves: Sequence[Move], start: Node, goal: Node) -> Path | None:
    """The shortest order that leads from `start` into `goal`; None when no order does."""
    layers = [goal]
    seen = goal
    while layers[-1] & start == space.none:
        if layers[-1] == space.none:
            return None
        found = space.before(moves, layers[-1])
        layers.append(found & ~seen)
        seen = seen | found
    values = space.simplest(layers[-1] & start, space.like_start())
    path = Path((), (_true(values),))
    for layer in reversed(layers[:-1]):
        here = space.cube(values)
        ways = [move for move in moves if space.image(move, here) & layer != space.none]
        path = path.then(min(ways, key=lambda move: _effort(space, move, path)))
        values = {name: name in path.facts[-1] for name in space.names}
    return path


def somewhere(space: Space, states: Node) -> Path:
    """The path of no moves to the state that is most like a start."""
    return Path((), (_true(space.simplest(states, space.like_start())),))


def _effort(space: Space, move: Move, path: Path) -> tuple[int, int]:
    """Stay with one checklist; rather do something than answer, give up or begin again."""
    owners = {owner.id for owner in space.stay.owners(move)}
    before = {owner.id for owner in space.stay.owners(path.moves[-1])} if path.moves else owners
    kind = move.kind.value
    return (0 if owners & before else 1,
            _LIKED.index(kind) if kind in _LIKED else len(_LIKED))


_LIKED = ("report", "no", "yes", "begin", "take back", "resolve", "fail", "give up", "expire")
"""Kinds of move; others are liked least."""


def _true(values: dict[str, bool]) -> Facts:
    return frozenset(name for name, value in values.items() if value)
