"""What comes next, after any change: an alarm, a step, the end or a wait.

Pure.  May import the checklist model and this room.
"""

from __future__ import annotations

from collections.abc import Iterable

from handsfree.checklist.model import Checklist
from handsfree.engine.changes import Change
from handsfree.engine.choosing import (
    awaited,
    broken_rule,
    inner,
    mends,
    must_close,
    next_step,
    open_steps,
    permitted,
    reopened,
)
from handsfree.engine.state import (
    Alarm,
    AskToClose,
    CannotClose,
    Changed,
    Closed,
    Effect,
    Mode,
    Offer,
    Reply,
    Say,
    State,
    Status,
    Waiting,
    replace,
)

Outcome = tuple[State, tuple[Effect, ...]]


def changed(before: frozenset[str], after: frozenset[str]) -> tuple[Effect, ...]:
    """For the record, if it has changed."""
    return (Changed(after - before, before - after),) if after != before else ()


def brought_about(checklist: Checklist, state: State, change: Change) -> Outcome:
    """The state after a change; steps whose outcome is gone have to be done again."""
    before, after = state.facts, change.apply(state.facts)
    if after == before:
        return state, ()
    state = reopened(checklist, replace(state, facts=after), before - after)
    return state, changed(before, after)


def marked(checklist: Checklist, state: State, steps: Iterable[str], mark: Status) -> State:
    """These steps stand so from now on."""
    statuses = list(state.statuses)
    for step in steps:
        statuses[checklist.index[step]] = mark
    return replace(state, statuses=tuple(statuses))


def settle(
    checklist: Checklist, state: State, effects: tuple[Effect, ...], first: str = ""
) -> Outcome:
    """Choose what comes next.  `first` is offered before the usual order, if it is permitted.

    The mode, the step at hand, a readback and a danger that the state still tells of are replaced.
    """
    rule = broken_rule(checklist, state.facts)
    if rule:
        state = replace(state, mode=Mode.ALARM, broken=rule.id, at="", pending=None)
        return state, (*effects, Alarm(rule.id))
    state = replace(state, broken="", pending=None)
    if first and permitted(checklist.steps[first], state.facts):
        return replace(state, at=first, mode=Mode.STEP), (*effects, Offer(first))
    state, offer, words = _after_remedy(checklist, state)
    if offer is None:
        step, why = next_step(checklist, state)
        offer = Offer(step, why) if step else None
    if offer:
        return replace(state, at=offer.step, mode=Mode.STEP), (*effects, *words, offer)
    return end(checklist, state, (*effects, *words))


def _after_remedy(
    checklist: Checklist, state: State
) -> tuple[State, Offer | None, tuple[Effect, ...]]:
    """When a remedy has no step left: try the failed step again, or what it waits for."""
    if not state.remedies or next_step(checklist, state)[0] in inner(checklist, state):
        return state, None, ()
    failed = checklist.steps[state.remedies[-1]]
    left = replace(state, remedies=state.remedies[:-1])
    if failed.id in state.waits:  # what it follows was done anew: so it is when it is due
        return left, None, ()
    if permitted(failed, state.facts):
        return left, Offer(failed.id, "remedied"), ()
    if not failed.applicable.holds(state.facts):  # the remedy has done away with it
        return left, None, ()
    for step in mends(checklist, state, failed.needs.missing(state.facts)):
        if permitted(checklist.steps[step], state.facts):
            return state, Offer(step), ()
    return left, None, (Say(Reply.HAS_TO_WAIT, failed.id),)


def blocked(checklist: Checklist, state: State) -> bool:
    """Whether it must not close."""
    return bool(must_close(checklist, state)) or not checklist.closes.holds(state.facts)


def _only_time_is_left(checklist: Checklist, state: State) -> bool:
    """Some step is waited for, and nothing keeps the checklist open that would not come of it.

    What else is in the way of closing is told now, not when the wait is over.
    """
    soon = awaited(checklist, state)
    comes = {literal for name in soon for literal in checklist.steps[name].outcome}
    return bool(soon) and comes.issuperset(checklist.closes.missing(state.facts)) and (
        set(soon).issuperset(must_close(checklist, state)))


def ending(checklist: Checklist, state: State) -> Mode:
    """What it comes to when no step can be offered."""
    if _only_time_is_left(checklist, state):
        return Mode.WAITING
    if blocked(checklist, state):
        return Mode.BLOCKED
    return Mode.CLOSING if open_steps(checklist, state) else Mode.CLOSED


def end(checklist: Checklist, state: State, effects: tuple[Effect, ...]) -> Outcome:
    """Nothing is left to offer: close, ask whether to close, or say why it cannot close."""
    state = replace(state, at="", remedies=())
    mode = ending(checklist, state)
    if mode is Mode.WAITING:
        told: Effect = Waiting(awaited(checklist, state))
    elif mode is Mode.BLOCKED:
        missing = checklist.closes.missing(state.facts)
        told = CannotClose(
            missing, must_close(checklist, state) or mends(checklist, state, missing))
    elif mode is Mode.CLOSING:
        told = AskToClose(open_steps(checklist, state))
    else:
        told = Closed()
    return replace(state, mode=mode), (*effects, told)
