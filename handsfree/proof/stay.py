"""The whole stay as one system of changes: every given checklist, in any order, interleaved.

Pure.  May import the checklist model and the table of changes; it adds no guard of its own but
what `advance` does about a broken rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

from handsfree.checklist.conditions import AnyOf, Condition, both, opposite
from handsfree.checklist.model import Checklist, Fact, NeverRule, Origin
from handsfree.checklist.rig_file import Rig
from handsfree.engine import changes
from handsfree.engine.changes import Change, Kind


@dataclass(frozen=True, eq=False)
class Move:
    """A change that an operator can cause while the session of `owner` is the one at hand.

    `guard` is the change's guard and, besides, what `advance` asks of the never rules that the
    owner knows: forward orders and taking back only while none is broken, the immediate action
    only for the first broken one.  `kept` must hold afterwards: `advance` refuses a report that
    breaks a rule (its backstop).
    """

    change: Change
    owner: Checklist
    guard: Condition
    kept: Condition
    failing: bool = False
    """A first failure of the step: no fact changes, but the step is open again."""

    @property
    def kind(self) -> Kind:
        return self.change.kind

    @cached_property
    def key(self) -> tuple[object, ...]:
        """Moves with the same key are one and the same, whatever the owner."""
        change = self.change
        return (change.kind, change.subject, self.guard, self.kept, change.gives, change.ends)

    @cached_property
    def effect(self) -> dict[str, bool]:
        """Fact -> its value afterwards."""
        return {**dict.fromkeys(self.change.ends, False), **dict.fromkeys(self.change.gives, True)}


def broken(checklist: Checklist) -> Condition:
    """Some never rule that the checklist knows is broken."""
    return AnyOf(tuple(rule.when for rule in checklist.rules))


@dataclass(frozen=True)
class Stay:
    """Checklists with a rig's traits; `given` are those that findings are wanted about."""

    checklists: tuple[Checklist, ...]
    given: tuple[Checklist, ...]
    rig: Rig | None = None

    @classmethod
    def of(cls, given: Sequence[Checklist], context: Sequence[Checklist] = (),
           rig: Rig | None = None) -> Stay:
        """A checklist of `context` that `given` has too (by id) is left out."""
        ids = {checklist.id for checklist in given}
        others = tuple(other for other in context if other.id not in ids)
        return cls((*given, *others), tuple(given), rig)

    @cached_property
    def facts(self) -> dict[str, Fact]:
        merged: dict[str, Fact] = {}
        for checklist in self.checklists:
            for name, fact in checklist.facts.items():
                merged.setdefault(name, fact)
        return merged

    @cached_property
    def traits(self) -> dict[str, bool | None]:
        """Trait -> its value; None where the proof is for every rig."""
        return {
            name: None if self.rig is None else name in self.rig.has
            for name, fact in self.facts.items() if fact.origin is Origin.TRAIT}

    @cached_property
    def rules(self) -> tuple[NeverRule, ...]:
        """Every never rule of every checklist, once."""
        return tuple(dict.fromkeys(
            rule for checklist in self.checklists for rule in checklist.rules))

    @cached_property
    def conduct(self) -> tuple[NeverRule, ...]:
        """Every rule about what is done, of every checklist, once."""
        return tuple(dict.fromkeys(
            rule for checklist in self.checklists for rule in checklist.conduct))

    @cached_property
    def start(self) -> frozenset[str]:
        """What is true before the first checklist begins, traits aside."""
        return frozenset(name for name, fact in self.facts.items()
                         if fact.start and fact.origin is not Origin.TRAIT)

    @cached_property
    def forward(self) -> tuple[Move, ...]:
        """What goes forward: begin, report, answer, fail, give up, time, the immediate action."""
        return self._unique(move for checklist in self._longest_first
                            for move in moves_of(checklist)[0])

    @cached_property
    def backward(self) -> tuple[Move, ...]:
        """What takes a report back."""
        return self._unique(move for checklist in self._longest_first
                            for move in moves_of(checklist)[1])

    @cached_property
    def _longest_first(self) -> list[Checklist]:
        """The same order whichever checklists are the given ones: it shapes the diagrams."""
        return sorted(self.checklists, key=lambda one: (-len(one.steps), one.id))

    def owners(self, move: Move) -> tuple[Checklist, ...]:
        """Every checklist in whose session the move can be made."""
        return self._owners.get(move.key, (move.owner,))

    @cached_property
    def _owners(self) -> dict[tuple[object, ...], tuple[Checklist, ...]]:
        found: dict[tuple[object, ...], tuple[Checklist, ...]] = {}
        for checklist in self.checklists:
            for moves in moves_of(checklist):
                for move in moves:
                    found[move.key] = (*found.get(move.key, ()), checklist)
        return found

    @staticmethod
    def _unique(moves: Iterator[Move]) -> tuple[Move, ...]:
        kept: dict[tuple[object, ...], Move] = {}
        for move in moves:
            kept.setdefault(move.key, move)
        return tuple(kept.values())


@lru_cache(maxsize=64)
def moves_of(checklist: Checklist) -> tuple[tuple[Move, ...], tuple[Move, ...]]:
    """A checklist's moves, forward and backward; the same ones for each stay."""
    return tuple(forward(checklist)), tuple(backward(checklist))


def forward(checklist: Checklist) -> Iterator[Move]:
    """Moves of one checklist that go forward."""
    yield from ordered(checklist, changes.orders(checklist))
    earlier: tuple[Condition, ...] = ()
    for rule in checklist.rules:
        change = changes.resolve(rule)
        yield Move(change, checklist, both(change.guard, *earlier), both())
        earlier += (opposite(rule.when),)


def ordered(checklist: Checklist, found: Iterable[Change]) -> Iterator[Move]:
    """These changes as moves of the checklist."""
    well = opposite(broken(checklist))
    for change in found:
        if change.kind in (Kind.BEGIN, Kind.EXPIRE):
            yield Move(change, checklist, change.guard, both())
        else:
            yield Move(change, checklist, both(change.guard, well),
                       well if change.kind is Kind.REPORT else both())


def backward(checklist: Checklist) -> Iterator[Move]:
    """Moves of one checklist that take a report back."""
    well = opposite(broken(checklist))
    for change in changes.takings_back(checklist):
        yield Move(change, checklist, both(change.guard, well), both())
