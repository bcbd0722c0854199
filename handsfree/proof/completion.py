"""Whether everything can be finished: steps reached, checklists closed, gear brought back.

May import the checklist model and this room.  Taking back and beginning again do not count as a
way out: they undo reports, not what was done.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from handsfree.checklist.conditions import ALWAYS, All, Condition, Literal, both
from handsfree.checklist.model import Checklist, Origin, Step
from handsfree.engine.changes import Change, Kind
from handsfree.proof.paths import reachable
from handsfree.proof.safety import sound_records
from handsfree.proof.state_space import Node, Space
from handsfree.proof.stay import Move, backward, broken, forward


def parts_of(condition: Condition) -> tuple[Condition, ...]:
    """The interlocks that a condition joins by 'and'."""
    if isinstance(condition, All):
        return tuple(part for whole in condition.parts for part in parts_of(whole))
    return (condition,)


# --- of records that break no rule --------------------------------------------------------------

_TOWARDS = (Kind.REPORT, Kind.YES, Kind.NO, Kind.GIVE_UP)
"""Moves by which the work goes on; what happens of itself, or undoes, is no way to an end."""


class Safely:
    """The forward moves of a stay in which none can break a rule; see `prove`'s reasons.

    Among records that break no rule, none leads to one that does, so what `advance` asks of the
    rules is met and left out: the diagrams are then about the few facts that a question turns on.
    """

    def __init__(self, space: Space) -> None:
        self.space = space
        owners: dict[Change, set[str]] = {}
        first: dict[Change, Move] = {}
        for move in space.stay.forward:
            change = move.change
            if change.kind is not Kind.RESOLVE:
                first.setdefault(change, replace(move, guard=change.guard, kept=ALWAYS))
                owners.setdefault(change, set()).update(
                    one.id for one in space.stay.owners(move))
        self.moves = list(first.values())
        self.owners = owners
        must = {step.id for checklist in space.stay.checklists for step in wanted(checklist)}
        self.towards = [move for move in self.moves if move.kind in _TOWARDS and not (
            move.kind is Kind.GIVE_UP and move.change.subject in must)]
        self.sound = sound_records(space)

    def reopened(self, checklist: Checklist, move: Move) -> frozenset[str]:
        """Wanted steps of the checklist that the move opens again."""
        if checklist.id not in self.owners[move.change]:
            return frozenset()
        return _reopened(checklist, move.change)

    @cached_property
    def hub(self) -> Node:
        """Where the work leads from every record that breaks no rule: to the closing that asks
        the most, or it is not known."""
        closings = [checklist.closes for checklist in self.space.stay.checklists]
        goal = self.space.where(max(closings, key=lambda closes: len(closes.names())))
        return self.space.all if self.lost(self.towards, goal, self.space.all) else goal

    def always(self, goal: Node, rigs: Node) -> bool:
        """Whether the work leads to the goal from every record of these rigs (a condition over
        traits alone) that breaks no rule: on from the hub is enough."""
        return self.lost(self.towards, goal, rigs & self.hub) is None

    def lost(self, moves: Sequence[Move], goal: Node, states: Node) -> Node | None:
        """Those of the states that break no rule from which the moves do not lead to the goal."""
        states = self.sound & states
        lost = states & ~self.space.can_reach(moves, goal, self.space.all, cover=states)
        return None if lost == self.space.none else lost


def never_permitted(
    space: Space, checklist: Checklist, met: frozenset[str], safely: Safely | None
) -> Iterator[tuple[Step, Condition | None]]:
    """Steps that no order of events permits, and the interlock that alone is to blame (if any).

    `met` are those that walks got to, as "checklist/step"; `safely` where no rule can be broken.
    With a fixed rig, steps that this rig has no use for are left out.
    """
    stay, start = space.stay, space.start()
    moves = (*stay.forward, *stay.backward)
    calm = ~space.where(broken(checklist))
    for step in checklist.steps.values():
        space.check()
        if f"{checklist.id}/{step.id}" in met:
            continue
        asked = space.where(step.applicable) & space.where(step.needs)
        if space.fixed != space.all and asked & space.fixed == space.none:
            continue  # nothing to look for, however long
        if safely and reachable(space, safely.moves, start, asked):
            continue
        applies = calm & space.where(step.applicable)
        permitted = applies & space.where(step.needs)
        if reachable(space, moves, start, permitted):
            continue
        blame = None
        if reachable(space, moves, start, applies):
            blame = next((part for part in parts_of(step.needs) if not reachable(
                space, moves, start, applies & space.where(part))), None)
        yield step, blame


@dataclass(frozen=True, eq=False)
class Stuck:
    """From `states` the checklist cannot be closed; `step` can no longer be done (if it is one)."""

    states: Node
    step: Step | None
    space: Space
    moves: Sequence[Move]
    start: Node


def wanted(checklist: Checklist) -> tuple[Step, ...]:
    """Steps of the order without which the checklist does not close while they apply.

    Site questions count: they cannot be skipped.
    """
    steps = (checklist.steps[name] for name in checklist.order)
    return tuple(step for step in steps if step.must or step.question)


def _presses(step: Step) -> Condition:
    """While this holds and the step is not done, the checklist does not close.

    A question is only in the way while it can be asked.
    """
    return step.applicable if step.must else both(step.applicable, step.needs)


def dead_end(space: Space, checklist: Checklist, safely: Safely | None) -> Stuck | None:
    """Where the checklist can no longer be closed, if anywhere.

    First it is asked whether doing one wanted step after the other closes it; see `prove`'s
    reasons.  This is quick, and enough when it succeeds; when it does not (or some rule can be
    broken), a bit for each wanted step decides exactly.
    """
    if safely and _Parts(safely, checklist).close():
        return None
    return _closes_exactly(space, checklist)


class _Parts:
    """Whether the early wanted steps can be done from wherever, then the late ones at the closing.

    Late are the steps that something opens again by which the work goes on.  They are done where
    the checklist could close but for them, by what leaves that so and opens nothing again.  Asked
    of every record that breaks no rule; of those that can be reached where need be.
    """

    def __init__(self, safely: Safely, checklist: Checklist) -> None:
        self.safely, self.checklist, self.space = safely, checklist, safely.space
        self.closes = safely.sound & self.space.where(checklist.closes)
        reopening = {move: safely.reopened(checklist, move) for move in safely.towards}
        self.late = frozenset().union(*reopening.values())
        self.keeping = [move for move in safely.towards
                        if not reopening[move] and self.late and self.stays(move)]

    def close(self) -> bool:
        """Questions are in the way only while they can be answered; once is enough, if it is."""
        if any(self.checklist.steps[name].question for name in self.late):
            return False
        must = [step for step in wanted(self.checklist) if step.must]
        closes = self.safely.always(self.closes, self.space.all) or not self.comes(
            self.safely.lost(self.safely.towards, self.closes, self.space.all))
        return closes and all(
            self.once_early(step) if step.id in self.late else self.early(step) for step in must)

    def stays(self, move: Move) -> bool:
        """Whether the move leads from where the checklist could close to nowhere else."""
        if self.checklist.closes.names().isdisjoint(move.effect):
            return True
        return bool(self.closes & self.space.possible(move)
                    <= self.space.after(move, self.closes))

    def doing(self, step: Step, moves: Sequence[Move]) -> Node:
        """Where one of the moves does the step."""
        done = self.space.none
        for move in moves:
            if (move.change.subject == step.id and move.kind is not Kind.GIVE_UP
                    and self.checklist.id in self.safely.owners[move.change]):
                done = done | self.space.possible(move)
        return done

    def early(self, step: Step) -> bool:
        """Whether the step can be done from wherever it presses, or may come to."""
        moves, rigs = self.safely.towards, self.rigs(step)
        done = self.doing(step, moves)
        return self.safely.always(done, rigs) or not self.comes(
            self.pressing(step, moves, done, rigs))

    def once_early(self, step: Step) -> bool:
        """The same, of a late step, from where the checklist could close on."""
        done = self.doing(step, self.keeping)
        return not self.comes(self.pressing(step, self.keeping, done, self.closes))

    def pressing(self, step: Step, moves: Sequence[Move], done: Node, states: Node) -> Node | None:
        """Those of the states from which the moves lead to where the step presses, and not to
        where it can be done."""
        stuck = self.safely.lost(moves, done, states)
        if stuck is None:
            return None
        presses = self.space.where(_presses(step))
        return stuck & self.space.can_reach(moves, presses, self.space.all, cover=stuck)

    def rigs(self, step: Step) -> Node:
        """The rigs on which the step may press, as a condition over traits alone."""
        space = self.space
        changing = [name for name in space.names if name not in space.stay.traits]
        return space.bdd.exist(changing, space.where(_presses(step)))

    def comes(self, states: Node | None) -> bool:
        """Whether some order of events leads to one of the states."""
        stay, space = self.space.stay, self.space
        return states is not None and reachable(
            space, (*stay.forward, *stay.backward), space.start(), states)


# --- exactly, with a bit for each wanted step ---------------------------------------------------

def _bit(step: str) -> str:
    return f"{step} is done"


def _reopened(checklist: Checklist, change: Change) -> frozenset[str]:
    """Wanted steps that the change opens again: by undoing them as a remedy, by ending the
    evidence that they gave, by failing, or by what they wait for having been done anew."""
    if change.kind in (Kind.FAIL, Kind.GIVE_UP, Kind.EXPIRE):
        return frozenset(step.id for step in wanted(checklist) if step.gives & change.ends)
    if change.kind not in (Kind.REPORT, Kind.YES, Kind.NO):
        return frozenset()
    undone = change.ends
    if change.subject in checklist.order:
        undone = undone & checklist.evidence.keys()
    return frozenset(
        step.id for step in wanted(checklist)
        if step.gives & undone and step.id != change.subject
        or step.wait and step.wait.after == change.subject)


def _with_bits(checklist: Checklist, move: Move) -> Move:
    """The move, made in a session of the checklist, with what it does to the bits."""
    change = move.change
    bits = {step.id for step in wanted(checklist)}
    on: set[str] = set()
    off: set[str] = set()
    if change.kind is Kind.BEGIN:
        off = bits
    elif change.kind in (Kind.REPORT, Kind.YES, Kind.NO):
        on = bits & {change.subject}
        off = set(_reopened(checklist, change))
    elif change.kind is Kind.TAKE_BACK:
        off = bits & {change.subject}
    elif change.kind in (Kind.FAIL, Kind.GIVE_UP, Kind.EXPIRE):
        off = set(_reopened(checklist, change)) | bits & {change.subject}
    return replace(move, change=replace(
        change, gives=change.gives | set(map(_bit, on)), ends=change.ends | set(map(_bit, off))))


def _failing(checklist: Checklist) -> Iterator[Move]:
    """A first failure changes no fact, but opens the step again."""
    for move in forward(checklist):
        step = checklist.steps.get(move.change.subject)
        if (move.kind is Kind.REPORT and step and step in wanted(checklist)
                and step.reading and checklist.failing(step) is None):
            change = Change(Kind.GIVE_UP, step.id, move.change.guard,
                            ends=frozenset({_bit(step.id)}))
            yield Move(change, checklist, move.guard, ALWAYS, failing=True)


def _closes_exactly(known: Space, checklist: Checklist) -> Stuck | None:
    stay, steps = known.stay, wanted(checklist)
    bits = [_bit(step.id) for step in steps]
    space = known.another(bits)
    others = [move for other in stay.checklists if other is not checklist
              for move in (*forward(other), *backward(other))]
    own = [_with_bits(checklist, move) for move in (*forward(checklist), *backward(checklist))]
    moves = [*own, *others, *_failing(checklist)]
    start = space.start(bits)
    goal = space.where(checklist.closes) & ~space.where(broken(checklist))
    for step in steps:
        goal = goal & (space.where(Literal(_bit(step.id))) | ~space.where(_presses(step)))
    onward = [move for move in moves
              if move.kind not in (Kind.BEGIN, Kind.TAKE_BACK) and not move.failing]
    stuck = sound_records(space) & ~space.can_reach(onward, goal, space.all)
    if not reachable(space, moves, start, stuck):
        return None
    for step in steps:
        doing = space.none
        for move in own:
            if move.change.subject == step.id and move.kind is Kind.REPORT:
                doing = doing | space.possible(move)
        lost = stuck & ~space.where(Literal(_bit(step.id))) & space.where(step.applicable)
        lost = lost & ~space.can_reach(onward, doing, space.all)
        if step.must and reachable(space, moves, start, lost):
            return Stuck(lost, step, space, moves, start)
    return Stuck(stuck, None, space, moves, start)


# --- gear ---------------------------------------------------------------------------------------

def lost_gear(
    space: Space, checklist: Checklist, safely: Safely | None
) -> Iterator[tuple[str, Node]]:
    """Gear (as a fact) that the checklist puts out, and where it can no longer come back."""
    stay = space.stay
    put_out = frozenset().union(*(move.change.gives for move in forward(checklist)))
    for name in sorted(put_out):
        if checklist.facts[name].origin is not Origin.GEAR:
            continue
        out = space.where(Literal(name))
        if safely and safely.always(~out, space.all):
            continue
        lost = sound_records(space) & out & ~space.can_reach(stay.forward, ~out, space.all)
        if reachable(space, (*stay.forward, *stay.backward), space.start(), lost):
            yield name, lost
