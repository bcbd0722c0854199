"""Sets of fact assignments as decision diagrams, and what the moves do to them.

May import dd (CUDD where its wheel has it, else pure Python), the checklist model and this room.
Every change is a guarded assignment: the image of a set is "with the guard, forget what is
assigned, then assign", without a transition relation.  What may be spent is counted in nodes of
diagrams, never in time.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from typing import Any

from handsfree.checklist.conditions import All, Condition, Literal
from handsfree.engine import changes
from handsfree.engine.changes import Kind
from handsfree.proof.findings import Budget, BudgetSpent
from handsfree.proof.stay import Move, Stay

Node = Any
"""A set of fact assignments (a decision diagram of dd)."""

_COMPILED_BYTES, _PURE_BYTES = 48, 600
"""Memory of one node with its share of the tables, roughly: compiled, and in pure Python."""

_ROUNDS, _LARGE_GROUP = 20, 8
"""Of the ordering of facts: how often they move, and the largest group that counts."""

_COLLECT_AT = 50_000
"""Nodes at which the pure diagrams, which do not do so by themselves, drop what is not used."""


@cache
def engine() -> Any:
    """The module of the diagrams, imported when one is wanted.

    It would import networkx for drawing, if that is there: more than twice the time of its own.
    """
    drawing = "networkx" not in sys.modules
    if drawing:
        sys.modules["networkx"] = None  # type: ignore[assignment]
    try:
        return import_module("dd.cudd")
    except ImportError:  # no compiled part on this platform
        return import_module("dd.autoref")
    finally:
        if drawing:
            del sys.modules["networkx"]


@dataclass
class Work:
    """What may still be spent: the nodes of all diagrams that operations come to.

    The same on every machine and in both forms of the library, since a set has one diagram.
    """

    left: int

    def spend(self, node: Node) -> Node:
        """The node, paid for.

        Raises:
            BudgetSpent: there is not enough left.
        """
        self.left -= len(node)
        if self.left < 0:
            raise BudgetSpent("work")
        return node


class Space:
    """The fact assignments of one stay; `extra` names further variables (bookkeeping bits)."""

    def __init__(self, stay: Stay, budget: Budget, work: Work, extra: Sequence[str] = ()) -> None:
        self.stay, self.budget, self.work = stay, budget, work
        self.bdd = engine().BDD()
        self.bdd.configure(reordering=False)
        self.compiled = engine().__name__ == "dd.cudd"
        if self.compiled:
            self.bdd.configure(max_memory=budget.bytes)
        self.names = (*_near_each_other(stay), *extra)
        self.bdd.declare(*self.names)
        self.largest = 0
        self._checks, self._collect_at = 0, _COLLECT_AT
        self._nodes: dict[int, tuple[Condition, Node]] = {}
        self._starts: dict[tuple[str, ...], Node] = {}
        self._moves: dict[Move, tuple[Node, Node]] = {}
        self.fixed = self.cube({trait: value for trait, value in stay.traits.items()
                                if value is not None})

    def another(self, extra: Sequence[str]) -> Space:
        """A space for the same stay with further variables; its sets are its own."""
        return Space(self.stay, self.budget, self.work, extra)

    # --- sets ----------------------------------------------------------------------------------

    @property
    def none(self) -> Node:
        return self.bdd.false

    @property
    def all(self) -> Node:
        return self.bdd.true

    def cube(self, values: dict[str, bool]) -> Node:
        """All assignments that agree with `values`."""
        node = self.bdd.true
        for name, value in values.items():
            var = self.bdd.var(name)
            node = node & (var if value else ~var)
        return node

    def where(self, condition: Condition) -> Node:
        """All assignments in which the condition holds."""
        known = self._nodes.get(id(condition))
        if known is not None:
            return known[1]
        if isinstance(condition, Literal):
            var = self.bdd.var(condition.fact)
            node = var if condition.wanted else ~var
        elif isinstance(condition, All):
            node = self.bdd.true
            for part in reversed(condition.parts):  # the never rules, which guards share, come last
                node = node & self.where(part)
        else:
            node = self.bdd.false
            for part in condition.parts:  # type: ignore[attr-defined]
                node = node | self.where(part)
        self._nodes[id(condition)] = (condition, node)  # holds the condition, so ids stay apart
        return node

    def start(self, bits: Sequence[str] = ()) -> Node:
        """Where a stay can start: nothing recorded yet, any (or the fixed) rig, one begun."""
        key = tuple(bits)
        if key not in self._starts:
            self._starts[key] = self._start(key)
        return self._starts[key]

    def _start(self, bits: tuple[str, ...]) -> Node:
        stay = self.stay
        nothing = {name: name in stay.start for name in stay.facts if name not in stay.traits}
        nothing |= dict.fromkeys(bits, False)
        states = self.none
        for checklist in stay.checklists:
            forgotten = dict.fromkeys(changes.begin(checklist).ends, False)
            states = states | self.cube({**nothing, **forgotten})
        return states & self.fixed

    def like_start(self) -> frozenset[str]:
        """What is true before anything is recorded, on the (fixed or plainest) rig."""
        return self.stay.start | {name for name, has in self.stay.traits.items() if has}

    # --- moves ---------------------------------------------------------------------------------

    def _parts(self, move: Move) -> tuple[Node, Node]:
        """(assignments in which the move is possible and kept, assignments that it makes)."""
        known = self._moves.get(move)
        if known is None:
            kept = self.where(move.kept)
            guard = self.where(move.guard) & self.after(move, kept)
            known = self._moves[move] = (guard, self.cube(move.effect))
        return known

    def possible(self, move: Move) -> Node:
        """Where the move is possible and `advance` lets it pass."""
        return self._parts(move)[0]

    def image(self, move: Move, states: Node) -> Node:
        """Where the move leads from `states`."""
        guard, made = self._parts(move)
        here = (engine().and_exists(states, guard, list(move.effect)) if self.compiled
                else self.bdd.exist(list(move.effect), states & guard))
        return self.work.spend(here & made)

    def preimage(self, move: Move, states: Node) -> Node:
        """From where the move leads into `states`."""
        return self.work.spend(self._parts(move)[0] & self.after(move, states))

    def after(self, move: Move, states: Node) -> Node:
        """Where the move's effect alone, whatever its guard, leads into `states`."""
        return self.bdd.let(move.effect, states) if move.effect else states

    # --- exploration ---------------------------------------------------------------------------

    def reach(self, moves: Sequence[Move], start: Node) -> Node:
        """Everything that the moves lead to from `start`, in no particular order."""
        reached = start
        quiet = 0
        while quiet < len(moves):
            for move in moves:
                self.check()
                grown = reached | self.image(move, reached)
                quiet = 0 if grown != reached else quiet + 1
                reached = grown
                if quiet >= len(moves):
                    break
        return reached

    def can_reach(self, moves: Sequence[Move], goal: Node, within: Node,
                  meet: Node | None = None, cover: Node | None = None) -> Node:
        """The states of `within` from which the moves can lead to `goal`, staying in `within`.

        Stops early once a state of `meet`, or every state of `cover`, is among them.
        """
        found = goal & within

        def enough() -> bool:
            return bool(found == within or meet is not None and found & meet != self.none
                        or cover is not None and cover <= found)

        grows = not enough()
        while grows:
            grows = False
            for move in self._touching(moves, found):
                self.check()
                grown = found | (self.preimage(move, found) & within)
                if grown != found:
                    found, grows = grown, True
                    if enough():
                        return found
        return found

    def _touching(self, moves: Sequence[Move], states: Node) -> list[Move]:
        """Without the moves that change nothing which decides about `states`: they lead there
        from nowhere else.  The last come first, since the search goes backwards."""
        deciding = self.bdd.support(states)
        return [move for move in reversed(moves) if not deciding.isdisjoint(move.effect)]

    def before(self, moves: Sequence[Move], states: Node) -> Node:
        """States from which one of the moves leads into `states`, some of these among them."""
        found = self.none
        for move in self._touching(moves, states):
            self.check()
            found = found | self.preimage(move, states)
        return found

    def check(self) -> None:
        """Raise `BudgetSpent` when the diagrams have grown too large.

        Between two checks the compiled diagrams' own limit holds.
        """
        if self.compiled:
            self._checks += 1
            if self._checks % 1000 == 1:  # counting nodes takes milliseconds
                self._weigh(_COMPILED_BYTES)
        elif len(self.bdd) > self._collect_at:
            self.bdd.collect_garbage()
            self._collect_at = max(_COLLECT_AT, 2 * len(self.bdd))
            self._weigh(_PURE_BYTES)

    def _weigh(self, each: int) -> None:
        self.largest = max(self.largest, len(self.bdd))
        if self.largest * each > self.budget.bytes:
            raise BudgetSpent("memory")

    # --- single states -------------------------------------------------------------------------

    def simplest(self, states: Node, like: frozenset[str]) -> dict[str, bool]:
        """One assignment out of `states`, as near to `like` as a greedy choice gets."""
        values: dict[str, bool] = {}
        for name in self.names:
            var = self.bdd.var(name)
            wanted = var if name in like else ~var
            if states & wanted != self.none:
                states, values[name] = states & wanted, name in like
            else:
                states, values[name] = states & ~wanted, name not in like
        return values

    def count(self, states: Node, over: Sequence[str] | None = None) -> int:
        """How many assignments of the variables (all, unless `over` says which) are in `states`."""
        names = self.names if over is None else over
        levels = {name: place for place, name in
                  enumerate(sorted(names, key=self.bdd.level_of_var))}
        memo: dict[int, int] = {}
        bottom = len(names)

        def level(node: Node) -> int:
            return bottom if node.var is None else levels[node.var]

        def size(node: Node, positive: bool) -> int:
            """Assignments of the variables from the node's level down."""
            if node.var is None:
                return int(positive)
            place = level(node)
            key = int(node)
            if key not in memo:
                total = 0
                for child in (node.low, node.high):
                    regular = ~child if child.negated else child
                    part = size(regular, True)
                    part <<= level(child) - place - 1
                    if child.negated:
                        part = (1 << (bottom - place - 1)) - part
                    total += part
                memo[key] = total
            return memo[key] if positive else (1 << (bottom - place)) - memo[key]

        regular = ~states if states.negated else states
        return size(regular, not states.negated) << level(states)


def open_space(stay: Stay, budget: Budget) -> Space:
    """The space of a stay, with the whole budget before it."""
    return Space(stay, budget, Work(budget.work))


def _near_each_other(stay: Stay) -> list[str]:
    """The facts in an order that keeps diagrams small: those of one guard, effect or rule together.

    FORCE (Aloul, Markov and Sakallah, "FORCE: a fast and easy-to-implement variable-ordering
    heuristic", GLSVLSI 2003): from the order in which the steps mention them, each fact goes to the
    mean place of the groups that it is in, again and again; the order of the least span counts.
    """
    order, groups = _mentioned(stay), _groups(stay)
    best = (_span(order, groups), order)
    for _ in range(_ROUNDS):
        at = {name: place for place, name in enumerate(order)}
        pulls: dict[str, list[float]] = {name: [] for name in order}
        for group in groups:
            middle = sum(at[name] for name in group) / len(group)
            for name in group:
                pulls[name].append(middle)
        order = sorted(order, key=lambda name: (
            sum(pulls[name]) / len(pulls[name]) if pulls[name] else at[name], at[name]))
        best = min(best, (_span(order, groups), order), key=lambda found: found[0])
    return best[1]


def _span(order: Sequence[str], groups: Sequence[Sequence[str]]) -> int:
    at = {name: place for place, name in enumerate(order)}
    return sum(max(map(at.__getitem__, group)) - min(map(at.__getitem__, group)) for group in groups)


def _mentioned(stay: Stay) -> list[str]:
    """Facts in the order in which the steps mention them."""
    names: dict[str, None] = {}
    for move in _steps(stay):
        for name in (*sorted(move.change.guard.names()), *sorted(move.effect)):
            names.setdefault(name)
    for name in stay.facts:
        names.setdefault(name)
    return list(names)


def _groups(stay: Stay) -> list[tuple[str, ...]]:
    """Facts that stand together; large groups say nothing of who belongs together."""
    found = {tuple(sorted(move.change.guard.names() | move.effect.keys())) for move in _steps(stay)}
    found |= {tuple(sorted(rule.when.names())) for rule in stay.rules}
    return sorted(group for group in found if 1 < len(group) <= _LARGE_GROUP)


def _steps(stay: Stay) -> list[Move]:
    return [move for move in (*stay.forward, *stay.backward) if move.change.kind is not Kind.BEGIN]
