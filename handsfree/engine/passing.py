"""What comes with time, and on coming back: waits end, evidence grows old, records are corrected.

Pure.  May import the checklist model and this room.
"""

from __future__ import annotations

from handsfree.checklist.conditions import Literal
from handsfree.checklist.model import Checklist
from handsfree.engine import changes
from handsfree.engine.choosing import (
    awaited,
    broken_rule,
    next_step,
    permitted,
    reopened,
    rested_on,
)
from handsfree.engine.going_on import Outcome, blocked, brought_about, changed, settle
from handsfree.engine.state import (
    Alarm,
    Correct,
    Due,
    Effect,
    Event,
    Expired,
    Mode,
    Offer,
    Reply,
    Say,
    State,
    replace,
)


def due(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Nothing else was to be done: the step that was waited for comes."""
    state, wanted = _wait_over(checklist, state, event)
    return settle(checklist, state, ()) if wanted else (state, ())


def due_told(checklist: Checklist, state: State, event: Event) -> Outcome:
    """It comes next, and may be told."""
    state, wanted = _wait_over(checklist, state, event)
    return state, (Say(Reply.DUE, wanted),) if wanted else ()


def due_silent(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Nothing must disturb now; it comes next anyway."""
    return _wait_over(checklist, state, event)[0], ()


def _wait_over(checklist: Checklist, state: State, event: Event) -> tuple[State, str]:
    """The state, and the step if that can be done now and is not at hand."""
    assert isinstance(event, Due)
    wanted = event.step in awaited(checklist, state) and event.step != state.at
    return replace(state, waits=state.waits - {event.step}), event.step if wanted else ""


def expired(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Evidence has grown old: it is said where the step at hand, or a readback, rests on it."""
    state, effects = expired_over(checklist, state, event)
    rule = broken_rule(checklist, state.facts)
    if (rule.id if rule else "") != state.broken:
        return settle(checklist, state, effects)
    if not effects or state.broken or (
            state.at and permitted(checklist.steps[state.at], state.facts)):
        return state, effects
    assert isinstance(event, Expired)
    told = (*effects, Say(Reply.EVIDENCE_ENDED, facts=(Literal(event.fact),)))
    if state.at:
        return settle(checklist, state, told)
    freed = state.mode is Mode.BLOCKED and not blocked(checklist, state)
    if state.mode is Mode.CONFIRM or not (freed or next_step(checklist, state)[0]):
        return state, effects
    return settle(checklist, state, told)


def expired_away(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The same while nobody is at work: a danger is told, all else on coming back."""
    return _noticed(checklist, *expired_over(checklist, state, event))


def expired_over(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The same on the record alone."""
    assert isinstance(event, Expired)
    if event.fact not in checklist.evidence:
        return state, ()
    change = changes.expire(checklist, event.fact)
    return brought_about(checklist, state, change) if change.guard.holds(state.facts) else (
        state, ())


def resume(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Back again: the danger that stands, the step at hand, or what comes next."""
    state, aged = _aged(checklist, state)
    if state.broken:
        return replace(state, mode=Mode.ALARM), (*aged, Alarm(state.broken))
    if state.at and permitted(checklist.steps[state.at], state.facts):
        return replace(state, mode=Mode.STEP), (*aged, Offer(state.at, "resumed"))
    return settle(checklist, state, (*aged, Say(Reply.RESUMED)))


def _aged(checklist: Checklist, state: State) -> Outcome:
    """Coming back: what was looked at before does not count any more."""
    change = changes.come_back(checklist, state.facts)
    state, effects = brought_about(checklist, state, change)
    missed = tuple(sorted(
        set(map(Literal, change.ends)) & rested_on(checklist, state), key=str))
    if missed:
        effects += (Say(Reply.ENDED_BY_BREAK, facts=missed),)
    return state, effects


def correct(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The record is wrong about one fact: what comes next is chosen anew."""
    after, effects = _corrected(checklist, state, event)
    if after is state:
        return state, effects
    return settle(checklist, after, effects, first=state.at)


def correct_away(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The same while nobody is at work."""
    return _noticed(checklist, *_corrected(checklist, state, event))


def _corrected(checklist: Checklist, state: State, event: Event) -> Outcome:
    """What only a look can tell is not taken as told."""
    assert isinstance(event, Correct)
    so = (Literal(event.fact, event.value),)
    if event.fact not in changes.correctable(checklist):
        return state, (Say(Reply.NOT_NOW),)
    if event.value and event.fact in checklist.evidence:
        return state, (Say(Reply.LOOK_YOURSELF, facts=so),)
    change = changes.correct(checklist, event.fact, event.value)
    if not change.guard.holds(state.facts):
        return state, (Say(Reply.SO_ALREADY, facts=so),)
    before, after = state.facts, change.apply(state.facts)
    state = replace(state, facts=after)
    void = before - after - {event.fact}
    if void:
        state = reopened(checklist, state, void)
    return state, (*changed(before, after), Say(Reply.CORRECTED, facts=so))


def _noticed(checklist: Checklist, state: State, effects: tuple[Effect, ...]) -> Outcome:
    """A danger that comes about while nobody is at work is told now; on coming back, what follows
    is chosen."""
    rule = broken_rule(checklist, state.facts)
    alarm = (Alarm(rule.id),) if rule and rule.id != state.broken else ()
    return replace(state, broken=rule.id if rule else ""), (*effects, *alarm)
