"""Never rules: every move that can break one, in three rings, and alarms that cannot be ended.

May import the checklist model and this room.  Says where; `wording` says it in words.

Ring 1: forward orders from a rig that nothing is recorded about.  Ring 2: taking back as well;
a rule that becomes true through it is an alarm, not a finding.  Ring 3: one forward move from
any record whatever that breaks no rule, because an owner may correct the record at any time.
Ring 3 is asked first: it needs no exploration, and where it holds the others hold by induction.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from handsfree.checklist.conditions import AnyOf, Condition, given, opposite
from handsfree.checklist.model import Checklist, NeverRule
from handsfree.engine.changes import Kind
from handsfree.proof.paths import reachable
from handsfree.proof.state_space import Node, Space
from handsfree.proof.stay import Move, broken


@dataclass(frozen=True, eq=False)
class Breach:
    """`move`, made in one of `states`, breaks `rule`; `ring` says what it takes to get there."""

    move: Move
    rule: NeverRule
    states: Node
    ring: int = 0


def one_move_breaches(space: Space, moves: Sequence[Move], states: Node) -> Iterator[Breach]:
    """Every (move, rule) such that the move can newly break the rule from `states`.

    What `advance` stops by its backstop alone counts: the interlock has to do it.
    """
    for move in moves:
        space.check()
        here = None
        for rule in space.stay.rules:
            if not rule.when.names() & move.effect.keys():
                continue
            if here is None:
                here = states & space.where(move.guard)
            if here == space.none:
                break
            when = space.where(rule.when)
            found = here & ~when & space.after(move, when)
            if found != space.none:
                yield Breach(move, rule, found)


def misconduct(space: Space, moves: Sequence[Move], states: Node) -> Iterator[Breach]:
    """Every (move, rule about an act) such that the act can be done from `states` all the same."""
    for move in moves:
        if move.kind is not Kind.REPORT:
            continue
        for owner in space.stay.owners(move):
            acts = owner.steps[move.change.subject].acts
            for rule in space.stay.conduct:
                if not rule.during & acts:
                    continue
                found = states & space.where(move.guard) & space.where(rule.when)
                if found != space.none:
                    yield Breach(move, rule, found)
            break


def breaches(space: Space) -> Iterator[Breach]:
    """Every way in which a forward move can break a rule, in the innermost ring that shows it."""
    stay, start = space.stay, space.start()
    sound = sound_records(space)
    for breach in (*one_move_breaches(space, stay.forward, space.fixed),
                   *misconduct(space, stay.forward, space.fixed)):
        for ring, moves in ((1, stay.forward), (2, (*stay.forward, *stay.backward))):
            if reachable(space, moves, start, breach.states):
                yield replace(breach, ring=ring)
                break
        else:
            if breach.states & sound != space.none:
                yield replace(breach, states=breach.states & sound, ring=3)


def unwatched(space: Space) -> Iterator[Breach]:
    """Taking back that breaks a rule which the checklist at hand does not know."""
    stay = space.stay
    moves = (*stay.forward, *stay.backward)
    for breach in one_move_breaches(space, stay.backward, space.fixed):
        unknown = any(breach.rule not in owner.rules for owner in stay.owners(breach.move))
        if unknown and reachable(space, moves, space.start(), breach.states):
            yield replace(breach, ring=2)


def sound_records(space: Space) -> Node:
    """Every record that breaks no rule."""
    states = space.fixed
    for rule in space.stay.rules:
        states = states & ~space.where(rule.when)
    return states


def endless_alarms(space: Space, checklist: Checklist) -> Node:
    """Alarms of the checklist that can be reached and that its immediate actions cannot end."""
    stay = space.stay
    resolves = [move for move in stay.forward
                if move.kind is Kind.RESOLVE and checklist in stay.owners(move)]
    alarm = space.where(broken(checklist))
    endless = alarm & space.fixed & ~space.can_reach(resolves, ~alarm, space.all)
    if not reachable(space, (*stay.forward, *stay.backward), space.start(), endless):
        return space.none
    return endless


def that_stops(rule: NeverRule, move: Move) -> Condition:
    """What `needs` would have to say so that the move cannot break the rule."""
    if rule.during:
        return opposite(rule.when)
    return opposite(given(rule.when, move.effect))


def mend(space: Space, breach: Breach) -> Condition:
    """The smallest interlock that stops the breach and leaves the step possible."""
    whole = that_stops(breach.rule, breach.move)
    if not isinstance(whole, AnyOf):
        return whole
    open_to = sound_records(space) & space.where(breach.move.guard)
    for part in whole.parts:
        stops = breach.states & space.where(part) == space.none
        if stops and open_to & space.where(part) != space.none:
            return part
    return whole
