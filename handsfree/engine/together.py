"""Two operators, inside and outside, who share one checklist: `advance` for each of their events.

Pure.  May import the checklist model and this room.  Facts and where each step stands are common;
the step at hand, a readback and a remedy are each operator's own.  An interlock is checked again
whenever something is reported, whoever reports, and nothing else changes facts: so every order of
two operators' events is one that the proof has explored.

A step for both is done when both have answered it while both were at it.  Who has nothing to do
waits; the checklist ends for both at once.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cache

from handsfree.checklist.model import BOTH, SIDES, Checklist
from handsfree.engine.advance import advance as advance_one
from handsfree.engine.advance import begin as begin_one
from handsfree.engine.changes import Kind
from handsfree.engine.choosing import awaited, next_step, permitted, status
from handsfree.engine.going_on import settle
from handsfree.engine.state import (
    Alarm,
    AskToClose,
    CannotClose,
    Closed,
    Effect,
    Event,
    GoTo,
    Mode,
    Offer,
    Reply,
    Reported,
    Say,
    State,
    Status,
    replace,
)

Told = tuple[str, Effect]
"""Whom an effect is for."""

_ENDINGS = (AskToClose, CannotClose, Closed)
_ENDED = (Mode.CLOSING, Mode.BLOCKED, Mode.CLOSED)


@dataclass(frozen=True)
class Together:
    """Both operators' states, parallel to `SIDES`: alike in facts, statuses, tries, waits, alarm.

    `answered` are the sides that have answered the step for both at which both are.
    """

    states: tuple[State, State]
    answered: frozenset[str] = frozenset()

    def of(self, side: str) -> State:
        """One operator's state."""
        return self.states[SIDES.index(side)]


def partner(side: str) -> str:
    """The other one."""
    return SIDES[1 - SIDES.index(side)]


@cache
def seen_from(checklist: Checklist, side: str) -> Checklist:
    """The same checklist, of which only this side's steps are offered."""
    return dataclasses.replace(checklist, side=side)


def begin(checklist: Checklist, record: frozenset[str]) -> tuple[Together, tuple[Told, ...]]:
    """Both at the start of a session; see `advance.begin`."""
    lead, second = SIDES
    mine, effects = begin_one(seen_from(checklist, lead), record)
    both, told = _join(checklist, mine, effects)
    return both, ((second, Say(Reply.OPENING)), *told)


def joined(checklist: Checklist, state: State) -> tuple[Together, tuple[Told, ...]]:
    """Both, from one operator's state (that of a session rebuilt from a damaged journal)."""
    return _join(checklist, *settle(seen_from(checklist, SIDES[0]), state, ()))


def _join(
    checklist: Checklist, mine: State, effects: tuple[Effect, ...]
) -> tuple[Together, tuple[Told, ...]]:
    second = SIDES[1]
    other, told = settle(seen_from(checklist, second), replace(mine, reports=()), ())
    return _together(checklist, SIDES[0], _Side(mine, effects, True), _Side(other, told, True))


def advance(
    checklist: Checklist, both: Together, side: str, event: Event
) -> tuple[Together, tuple[Told, ...]]:
    """One operator's event: both states after it, and what each is told, in order."""
    mine, other = both.of(side), both.of(partner(side))
    if isinstance(event, GoTo) and event.step == other.at and not _for_both(checklist, event.step):
        return both, ((side, Say(Reply.PARTNER_HAS_IT, event.step)),)
    after, effects = advance_one(seen_from(checklist, side), mine, event)
    if after.mode is Mode.SUSPENDED and mine.mode is not Mode.SUSPENDED:  # finished for now
        over = replace(other, mode=Mode.SUSPENDED, pending=None)
        return Together(_pair(side, after, over)), tuple((s, e) for s in SIDES for e in effects)
    if _for_both(checklist, mine.at) and _answered(effects, mine.at):
        here = other.at == mine.at
        if not here or partner(side) not in both.answered:
            states = _pair(side, replace(mine, mode=Mode.STEP, pending=None), other)
            if here:
                return (Together(states, both.answered | {side}),
                        ((side, Say(Reply.PARTNER_TO_ANSWER, mine.at)),))
            return Together(states), ((side, Say(Reply.PARTNER_NEEDED, mine.at)),)
    there, told = _brought_along(checklist, partner(side), after, other)
    now, told_all = _together(
        checklist, side, _Side(after, effects, after.at != mine.at, isinstance(event, GoTo)),
        _Side(there, told, there.at != other.at))
    unmoved = (now.of(side).at, now.of(partner(side)).at) == (mine.at, other.at)
    if unmoved and after.facts == mine.facts:
        now = dataclasses.replace(now, answered=both.answered)
    return now, told_all


@dataclass
class _Side:
    """One operator's outcome while both are being brought together."""

    state: State
    effects: tuple[Effect, ...]
    came: bool
    """Whether the step at hand is another than before."""
    ordered: bool = False
    """Whether it was gone to by name."""


def _pair(side: str, mine: State, other: State) -> tuple[State, State]:
    return (mine, other) if side == SIDES[0] else (other, mine)


def _for_both(checklist: Checklist, step: str) -> bool:
    return step in checklist.steps and checklist.steps[step].role == BOTH


def _answered(effects: tuple[Effect, ...], step: str) -> bool:
    """Whether the effects say that this step was done, or its question answered."""
    return any(Reported(step, kind) in effects for kind in (Kind.REPORT, Kind.YES, Kind.NO))


def _brought_along(
    checklist: Checklist, side: str, partner_now: State, before: State
) -> tuple[State, tuple[Effect, ...]]:
    """An operator's state after what the partner did, and what they are told of it."""
    view = seen_from(checklist, side)
    now = replace(before, facts=partner_now.facts, statuses=partner_now.statuses,
                  tries=partner_now.tries, waits=partner_now.waits)
    if partner_now.broken and partner_now.broken != before.broken:
        now = replace(now, mode=Mode.ALARM, broken=partner_now.broken, at="", pending=None)
        return now, (Alarm(now.broken),)
    if before.broken and not partner_now.broken:
        now, effects = settle(view, now, ())
        return now, (Reported(before.broken, Kind.RESOLVE), *effects)
    if now.broken:  # the danger stands, and so does a readback of its answer
        return now, ()
    if now.mode in (Mode.PAUSED, Mode.SUSPENDED):
        return now, ()  # on coming back, what follows is chosen
    if now.at and not _stands(checklist, before, now):
        after, effects = settle(view, now, ())
        done = status(checklist, now, now.at) is Status.DONE
        word = Reported(now.at, Kind.REPORT) if done else Say(Reply.STEP_GONE, now.at)
        return after, (word, *effects)
    if not now.at and (next_step(view, now)[0] or now.mode in _ENDED and awaited(view, now)):
        return settle(view, now, ())
    return now, ()


def _stands(checklist: Checklist, before: State, now: State) -> bool:
    """Whether an operator's step at hand is still theirs to do."""
    return (permitted(checklist.steps[now.at], now.facts)
            and status(checklist, before, now.at) is status(checklist, now, now.at))


def _together(
    checklist: Checklist, side: str, mine: _Side, other: _Side
) -> tuple[Together, tuple[Told, ...]]:
    """Have the two meet at steps for both, wait for one another, and end at once."""
    _meet(checklist, mine, other)
    if _idle(mine.state) and _idle(other.state):
        ending = _ending(mine.effects)
        other.state = replace(other.state, mode=mine.state.mode)
        mine.effects = (*_unended(mine.effects), *ending)
        other.effects = (*_unended(other.effects), *ending)
    else:
        for one, two in ((mine, other), (other, mine)):
            if _idle(one.state):
                waits = (Say(Reply.PARTNER_BUSY, two.state.at),) if _ending(one.effects) else ()
                one.state = replace(one.state, mode=Mode.BLOCKED)
                one.effects = (*_unended(one.effects), *waits)
    return (Together(_pair(side, mine.state, other.state)),
            (*((side, effect) for effect in mine.effects),
             *((partner(side), effect) for effect in other.effects)))


def _meet(checklist: Checklist, mine: _Side, other: _Side) -> None:
    """At a step for both: called there, made to wait there, or told that both are there."""
    if _calls(checklist, other.state) and mine.state.mode is Mode.STEP and mine.came:
        if _for_both(checklist, mine.state.at):  # the later word counts, and no readback begun alone
            other.state = replace(other.state, at=mine.state.at, mode=Mode.STEP, pending=None)
        elif not mine.ordered and not mine.state.remedies:
            mine.state = replace(mine.state, at=other.state.at)
    elif (_calls(checklist, mine.state) and other.state.mode is Mode.STEP and other.came
          and not other.state.remedies):
        other.state = replace(other.state, at=mine.state.at)
    met = (_for_both(checklist, mine.state.at) and mine.state.at == other.state.at
           and (mine.came or other.came))
    for one, two in ((mine, other), (other, mine)):
        at = one.state.at
        if met:
            one.effects = _instead(one.effects, Offer(at))
        elif _for_both(checklist, at) and two.state.at != at and _offers(one.effects):
            one.effects = _instead(one.effects, Say(Reply.PARTNER_NEEDED, at))


def _calls(checklist: Checklist, state: State) -> bool:
    """Whether this operator is at a step for both that can be done now."""
    return (_for_both(checklist, state.at) and state.mode in (Mode.STEP, Mode.CONFIRM)
            and permitted(checklist.steps[state.at], state.facts))


def _offers(effects: tuple[Effect, ...]) -> bool:
    return any(isinstance(effect, Offer) for effect in effects)


def _instead(effects: tuple[Effect, ...], last: Effect) -> tuple[Effect, ...]:
    """The same, but with `last` for the offer."""
    return (*(effect for effect in effects if not isinstance(effect, Offer)), last)


def _idle(state: State) -> bool:
    """Whether there is nothing to do on this side."""
    return not state.at and state.mode in _ENDED


def _ending(effects: tuple[Effect, ...]) -> tuple[Effect, ...]:
    return tuple(effect for effect in effects if isinstance(effect, _ENDINGS))


def _unended(effects: tuple[Effect, ...]) -> tuple[Effect, ...]:
    return tuple(effect for effect in effects if not isinstance(effect, _ENDINGS))
