"""What each interlock is for: the never rules that could be broken without it.

May import the checklist model and this room.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from handsfree.checklist.conditions import Condition, both
from handsfree.checklist.model import Checklist, Step
from handsfree.checklist.rig_file import Rig
from handsfree.engine import changes
from handsfree.proof import safety
from handsfree.proof.completion import parts_of
from handsfree.proof.findings import Budget
from handsfree.proof.state_space import Space, open_space
from handsfree.proof.stay import Move, Stay, ordered


@dataclass(frozen=True)
class Interlock:
    """One part of a step's `needs`; `protects` are the ids of the rules that hang on it alone."""

    checklist: str
    step: str
    part: Condition
    protects: tuple[str, ...]
    file: str = ""
    line: int = 0
    supplied: bool = False
    """Rules about what the step does ask for it anyway."""

    @property
    def needless(self) -> bool:
        """No never rule hangs on it: it only keeps an order, or says again what others say."""
        return not self.protects


def without(checklist: Checklist, step: Step, part: Condition) -> Checklist:
    """The checklist with one part taken out of a step's `needs`."""
    kept = both(*(other for other in parts_of(step.needs) if other != part))
    steps = {**checklist.steps, step.id: replace(step, needs=kept)}
    return replace(checklist, steps=steps, digest=f"{checklist.digest} without {part}")


def each_interlock(checklist: Checklist) -> Iterator[tuple[Step, Condition]]:
    """Every part of every step's `needs`."""
    for step in checklist.steps.values():
        for part in parts_of(step.needs):
            if part.names():
                yield step, part


def interlocks(
    checklists: Sequence[Checklist], rig: Rig | None = None, budget: Budget | None = None
) -> list[Interlock]:
    """Each interlock and what it protects, asked of every record that breaks no rule."""
    space = open_space(Stay.of(checklists, (), rig), budget or Budget())
    found: list[Interlock] = []
    for checklist in checklists:
        for step, part in each_interlock(checklist):
            found.append(Interlock(
                checklist.id, step.id, part, protected(space, checklist, step, part),
                step.file or checklist.file, step.line))
    return found


def protected(
    space: Space, checklist: Checklist, step: Step, part: Condition
) -> tuple[str, ...]:
    """Ids of the never rules that could be broken if the step did not need the part."""
    moves = _moves(checklist, without(checklist, step, part).steps[step.id])
    return tuple(dict.fromkeys(breach.rule.id for breach in (
        *safety.one_move_breaches(space, moves, space.fixed),
        *safety.misconduct(space, moves, space.fixed))))


def breakable(space: Space, checklist: Checklist, step: Step) -> tuple[str, ...]:
    """Ids of the never rules about how things are that could be broken by the step as given."""
    return tuple(dict.fromkeys(breach.rule.id for breach in safety.one_move_breaches(
        space, _moves(checklist, step), space.fixed)))


def _moves(checklist: Checklist, step: Step) -> list[Move]:
    """What the step can bring about, were it as given."""
    alone = replace(checklist, steps={step.id: step})
    return list(ordered(alone, (change for change in changes.of_step(alone, step)
                                if change.subject == step.id)))
