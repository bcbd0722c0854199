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
from handsfree.proof.space import Node, Space
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
        self.towards = [move for move in self.moves if move.kind in _TOWARDS]
        self.sound = sound_records(space)

    def undoing_nothing(self, checklist: Checklist) -> list[Move]:
        """Those by which the work goes on, but for any that opens a wanted step again."""
        return [move for move in self.towards if not (
            checklist.id in self.owners[move.change] and _reopened(checklist, move.change))]

    @cached_property
    def onward(self) -> list[Move]:
        """The same, whichever the checklist."""
        undoing = {move for checklist in self.space.stay.given
                   for move in set(self.towards).difference(self.undoing_nothing(checklist))}
        return [move for move in self.towards if move not in undoing]

    @cached_property
    def hub(self) -> Node:
        """Where going onward leads from every record that breaks no rule: to the closing that
        asks the most, or it is not known."""
        closings = [checklist.closes for checklist in self.space.stay.checklists]
        goal = self.space.where(max(closings, key=lambda closes: len(closes.names())))
        return goal if self._leads(goal, self.sound) else self.space.all

    def always(self, goal: Node, rigs: Node) -> bool:
        """Whether going onward leads to the goal from every record of these rigs (a condition
        over traits alone) that breaks no rule: on from the hub is enough."""
        return self._leads(goal, self.sound & rigs & self.hub)

    def _leads(self, goal: Node, states: Node) -> bool:
        return bool(states <= self.space.can_reach(
            self.onward, goal, self.space.all, cover=states))

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
        if safely and reachable(space, safely.moves, start, asked):
            continue
        applies = calm & space.where(step.applicable)
        permitted = applies & space.where(step.needs)
        if reachable(space, moves, start, permitted):
            continue
        changing = [name for name in space.names if name not in stay.traits]
        if space.fixed != space.all and (
                space.bdd.exist(changing, permitted) & space.fixed == space.none):
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

    Reports do not expire: so if from every state `closes` can be reached, and each wanted step
    can be done or can no longer come to apply, then doing the wanted steps one after the other
    and going on to where `closes` holds closes the checklist.  This is quick, and enough when it
    succeeds; when it does not (or some rule can be broken), a bit for each wanted step decides
    exactly.
    """
    if safely and (_closes_by_parts(safely, checklist, everywhere=True)
                   or _closes_in_turn(safely, checklist)
                   or _closes_by_parts(safely, checklist, everywhere=False)):
        return None
    return _closes_exactly(space, checklist)


def _closes_by_parts(safely: Safely, checklist: Checklist, everywhere: bool) -> bool:
    """Asked of every record that breaks no rule; or of those that can be reached, where need be."""
    space, stay = safely.space, safely.space.stay
    onward = safely.undoing_nothing(checklist)
    moves = (*stay.forward, *stay.backward)

    def lost(goal: Node, states: Node) -> Node:
        states = safely.sound & states
        return states & ~space.can_reach(onward, goal, space.all, cover=states)

    closes = space.where(checklist.closes)
    if not safely.always(closes, space.all) and (everywhere or reachable(
            space, moves, space.start(), lost(closes, space.all))):
        return False
    changing = [name for name in space.names if name not in stay.traits]
    for step in wanted(checklist):
        if not step.must:
            continue  # a question is in the way only while it can be answered
        done = space.none
        for move in onward:
            if (move.change.subject == step.id and checklist.id in safely.owners[move.change]
                    and move.kind in (Kind.REPORT, Kind.YES, Kind.NO)):
                done = done | space.possible(move)
        presses = space.where(_presses(step))
        rigs = space.bdd.exist(changing, presses)
        if safely.always(done, rigs):
            continue
        if everywhere:
            return False
        stuck = lost(done, rigs)
        stuck = stuck & space.can_reach(onward, presses, space.all, cover=stuck)
        if reachable(space, moves, space.start(), stuck):
            return False
    return True


def _closes_in_turn(safely: Safely, checklist: Checklist) -> bool:
    """Whether from every record that breaks no rule the wanted steps can be done one after the
    other, none of them opened again by what comes later, and then the checklist closed.

    Steps that others open again come after those; the last of them need not be done if in the end
    they are not in the way.  Such an order closes the checklist, so a yes is sound; a no is none.
    """
    musts = [step for step in wanted(checklist) if step.must]
    opened = {name for step in musts for move in _own(safely, checklist, step)
              for name in _reopened(checklist, move.change)}
    order: list[Step] = []
    while left := [step for step in musts if step not in order]:
        free = [step for step in left if not any(
            step.id in _reopened(checklist, move.change)
            for other in left if other is not step for move in _own(safely, checklist, other))]
        order.append((free or left)[0])
    again = [step for step in order if step.id in opened]
    return any(_in_this_turn(safely, checklist, [step for step in order if step not in idle], idle)
               for idle in (again[len(again) - many:] for many in range(len(again) + 1)))


def _own(safely: Safely, checklist: Checklist, step: Step) -> list[Move]:
    """Ways of doing the step in the checklist's session."""
    return [move for move in safely.towards
            if move.change.subject == step.id and checklist.id in safely.owners[move.change]
            and move.kind in (Kind.REPORT, Kind.YES, Kind.NO)]


def _in_this_turn(
    safely: Safely, checklist: Checklist, order: Sequence[Step], idle: Sequence[Step]
) -> bool:
    """Backwards: what closes, then from where the last step leads there, then the one before."""
    space = safely.space
    questions = {step.id for step in wanted(checklist) if not step.must}
    changing = [name for name in space.names if name not in space.stay.traits]

    def keeping(steps: Sequence[Step]) -> list[Move]:
        kept = questions | {step.id for step in steps}
        return [move for move in safely.towards if not (
            checklist.id in safely.owners[move.change]
            and _reopened(checklist, move.change) & kept)]

    goal = space.where(checklist.closes)
    for step in idle:
        goal = goal & ~space.where(_presses(step))
    goal = space.can_reach(keeping(order), goal, space.all)
    for place in reversed(range(len(order))):
        step, onward = order[place], keeping(order[:place])
        without = goal & ~space.bdd.exist(changing, space.where(_presses(step)))  # other rigs
        doing = space.none
        for move in _own(safely, checklist, step):
            if move in onward:
                doing = doing | space.preimage(move, goal)
        goal = space.can_reach(onward, doing | without, space.all,
                               cover=None if place else safely.sound)
    return bool(safely.sound <= goal)


# --- exactly, with a bit for each wanted step ---------------------------------------------------

def _bit(step: str) -> str:
    return f"{step} is done"


def _reopened(checklist: Checklist, change: Change) -> frozenset[str]:
    """Wanted steps that the change opens again: by undoing them as a remedy, by ending the
    evidence that they gave, by failing, or by what they wait for having been done anew."""
    if change.kind in (Kind.FAIL, Kind.EXPIRE):
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
    elif change.kind in (Kind.TAKE_BACK, Kind.GIVE_UP):
        off = bits & {change.subject}
    elif change.kind in (Kind.FAIL, Kind.EXPIRE):
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
        if safely and (safely.always(~out, space.all) or safely.sound & out <= space.can_reach(
                safely.towards, ~out, space.all, cover=safely.sound & out)):
            continue
        lost = sound_records(space) & out & ~space.can_reach(stay.forward, ~out, space.all)
        if reachable(space, (*stay.forward, *stay.backward), space.start(), lost):
            yield name, lost
