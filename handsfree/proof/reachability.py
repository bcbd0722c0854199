"""Steps that some order of events leads to, shown by walking there with single sets of facts.

May import the checklist model, the table of changes and this room.  A walk makes moves of the
table only, and none that breaks a never rule, so whatever it is permitted on the way can be
reached: a witness, at a thousandth of the cost of all states.  What no walk comes upon is left to
the diagrams.  Facts are bits of a number here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from random import Random

from handsfree.checklist.conditions import All, Condition, Literal
from handsfree.engine import changes
from handsfree.engine.changes import Kind
from handsfree.proof.stay import Move, Stay

_WALKS, _ROUNDS = 200, 3
_IN_VAIN = 60
"""So many walks after another that come upon nothing new are the last."""

_MADE = {Kind.REPORT: 1.0, Kind.YES: 1.0, Kind.NO: 1.0, Kind.BEGIN: 0.3, Kind.GIVE_UP: 0.03,
         Kind.FAIL: 0.03}
"""Moves that a walk makes, and how often where it could.  Any choice would do for a witness;
with this one the walks come upon 682 of the library's 693 steps.  Time is left out: what it ends
is looked at again as soon as a walk comes by, and a walk is over before anything grows old."""

_SKIPPED = (0.0, 0.1, 0.3, 0.5)
"""How many of the moves a walk leaves out."""


@dataclass(frozen=True)
class _Test:
    """A condition over bits: these as wanted, and of each of the choices at least one."""

    bits: int
    wanted: int
    choices: tuple[tuple[_Test, ...], ...]

    def holds(self, facts: int) -> bool:
        return facts & self.bits == self.wanted and (not self.choices or all(
            any(part.holds(facts) for part in choice) for choice in self.choices))


@dataclass(frozen=True)
class _Stride:
    """A move over bits; `breaks` are the never rules that it may break."""

    kind: Kind
    guard: _Test
    kept: int
    given: int
    breaks: tuple[_Test, ...]
    steps: tuple[str, ...]


def walked(stay: Stay) -> frozenset[str]:
    """Steps of the given checklists that the walks were permitted, as "checklist/step".

    The same steps each time.
    """
    return _Walks(stay).met()


class _Walks:
    def __init__(self, stay: Stay) -> None:
        self.stay = stay
        self.bit = {name: 1 << place for place, name in enumerate(stay.facts)}

    def met(self) -> frozenset[str]:
        """Half the walks go on from where another had come upon something new; two of three go in
        the order of the files."""
        random = Random(0)
        ahead = {f"{given.id}/{step}" for given in self.stay.given for step in given.steps}
        met: set[str] = set()
        onward: list[int] = []
        in_vain = 0
        for _ in range(_WALKS):
            facts = random.choice(onward) if onward and random.random() < 0.5 else (
                self.start(random))
            if any(rule.holds(facts) for rule in self.rules):
                continue
            order = self.strides if random.random() < 0.7 else (
                random.sample(self.strides, len(self.strides)))
            skipped, known = random.choice(_SKIPPED), len(met)
            for _ in range(_ROUNDS):
                before = len(met)
                facts = self.round([one for one in order if random.random() >= skipped],
                                   facts, met, random)
                if len(met) > before:
                    onward.append(facts)
            in_vain = 0 if len(met) > known else in_vain + 1
            if ahead <= met or in_vain == _IN_VAIN:
                break
        return frozenset(met)

    def round(self, order: list[_Stride], facts: int, met: set[str], random: Random) -> int:
        """The facts after each stride of the order, where it was possible."""
        for stride in order:
            if not stride.guard.holds(facts):
                continue
            met.update(stride.steps)
            often = _MADE[stride.kind]
            if often < 1.0 and random.random() >= often:
                continue
            after = facts & stride.kept | stride.given
            if not any(rule.holds(after) for rule in stride.breaks):
                facts = after
        return facts

    def start(self, random: Random) -> int:
        """Nothing recorded, one checklist begun, on a rig of any kind (or the fixed one)."""
        stay = self.stay
        has = [name for name, value in stay.traits.items()
               if value or value is None and random.random() < 0.5]
        begun = changes.begin(random.choice(stay.checklists))
        return self.bits({*(stay.start - begun.ends), *has})

    @cached_property
    def rules(self) -> list[_Test]:
        return [self.test(rule.when) for rule in self.stay.rules]

    @cached_property
    def strides(self) -> list[_Stride]:
        return [self.stride(move) for move in self.stay.forward if move.kind in _MADE]

    def stride(self, move: Move) -> _Stride:
        change = move.change
        breaks = (test for rule, test in zip(self.stay.rules, self.rules, strict=True)
                  if rule.when.names() & move.effect.keys())
        steps = () if change.kind is Kind.BEGIN else tuple(
            f"{owner.id}/{change.subject}" for owner in self.stay.owners(move)
            if owner in self.stay.given)
        return _Stride(change.kind, self.test(change.guard), ~self.bits(change.ends),
                       self.bits(change.gives), tuple(breaks), steps)

    def bits(self, names: Sequence[str] | set[str] | frozenset[str]) -> int:
        return sum(self.bit[name] for name in names)

    def test(self, *conditions: Condition) -> _Test:
        """The conditions, joined by 'and'."""
        true, false = 0, 0
        choices: list[tuple[_Test, ...]] = []
        for part in _parts(conditions):
            if isinstance(part, Literal):
                if part.wanted:
                    true |= self.bit[part.fact]
                else:
                    false |= self.bit[part.fact]
            else:
                choices.append(tuple(map(self.test, part.parts)))  # type: ignore[attr-defined]
        if true & false:
            choices.append(())  # one that cannot be met
        return _Test(true | false, true, tuple(choices))


def _parts(conditions: Sequence[Condition]) -> Iterator[Condition]:
    for condition in conditions:
        if isinstance(condition, All):
            yield from _parts(condition.parts)
        else:
            yield condition
