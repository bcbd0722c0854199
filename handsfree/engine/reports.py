"""What the operator says of steps: done, read, answered, failed, skipped, gone to, taken back.

Pure.  May import the checklist model and this room.  The guard of every report is `refusal`, and
every change of facts is one of `changes`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

from handsfree.checklist.conditions import Literal
from handsfree.checklist.model import Checklist, Step
from handsfree.engine import changes
from handsfree.engine.changes import Change, Kind
from handsfree.engine.choosing import (
    awaited,
    broken_rule,
    inner,
    interlock,
    mends,
    reopened,
    rule_at_stake,
    status,
)
from handsfree.engine.going_on import Outcome, brought_about, changed, marked, settle
from handsfree.engine.state import (
    Answer,
    Effect,
    Event,
    Failed,
    GoTo,
    Mode,
    Offer,
    Read,
    ReadBack,
    Refused,
    RemedyBegins,
    Reply,
    Reported,
    Say,
    Skipped,
    State,
    Status,
    TakeBack,
    WaitBegins,
    replace,
)

STOP = "stop"
"""Band of a reading of which the sum says do not."""


def refusal(checklist: Checklist, state: State, step: Step) -> tuple[Effect, ...]:
    """Why the step may not be started or reported now; empty if it may."""
    missing = interlock(checklist, step, state.facts)
    if missing is None:
        return (Say(Reply.DOES_NOT_APPLY, step.id, step.applicable.missing(state.facts)),)
    if not missing:
        return ()
    rule = rule_at_stake(checklist, step, state.facts)
    if rule:  # what the danger hangs on comes first
        missing = tuple(sorted(missing, key=lambda m: m.fact not in rule.when.names()))
    return (Refused(step.id, missing, rule.id if rule else "", mends(checklist, state, missing)),)


Handler = Callable[[Checklist, State, Event], Outcome]


def _unless_refused(
    then: Handler, checklist: Checklist, state: State, event: Event
) -> Outcome:
    """`then`, where nothing forbids the step at hand."""
    why = refusal(checklist, state, checklist.steps[state.at])
    return (state, why) if why else then(checklist, state, event)


def read_back(checklist: Checklist, state: State, event: Event) -> Outcome:
    """What was heard counts once it is confirmed."""
    return (replace(state, mode=Mode.CONFIRM, pending=event), (ReadBack(event, state.at),))


def done(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The step at hand is done: if its interlock, and every never rule, allow it."""
    return _unless_refused(_done, checklist, state, event)


def _done(checklist: Checklist, state: State, event: Event) -> Outcome:
    step = checklist.steps[state.at]
    change = changes.report(step)
    after = change.apply(state.facts)
    rule = broken_rule(checklist, after)
    if rule:  # the interlock let it pass: the rule itself is the backstop
        wrong = tuple(Literal(name, name not in after) for name in sorted(rule.when.names())
                      if name not in step.gives | step.ends)
        return state, (Refused(step.id, wrong, rule.id, mends(checklist, state, wrong), True),)
    return _commit(checklist, state, step, change)


def respond(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The hold point's own response: read back where a slip could hurt somebody."""
    counts = read_back if checklist.steps[state.at].readback else _done
    return _unless_refused(counts, checklist, state, event)


def read(checklist: Checklist, state: State, event: Event) -> Outcome:
    """A reading is read back, if the step may be done."""
    return _unless_refused(read_back, checklist, state, event)


def answer(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Yes or no to the question at hand."""
    assert isinstance(event, Answer)
    step = checklist.steps[state.at]
    return _commit(checklist, state, step, changes.answer(step, event.yes))


def _commit(checklist: Checklist, state: State, step: Step, change: Change) -> Outcome:
    """Make the change, mark the step done, and go on."""
    after = change.apply(state.facts)
    # what a remedy undoes has to be done again
    undone: frozenset[str] = frozenset() if step.id in checklist.order else step.ends
    moved = marked(checklist, replace(state, facts=after, at=""), (step.id,), Status.DONE)
    moved = reopened(checklist, moved, undone)
    followers = checklist.followers.get(step.id, ())
    due = tuple(other for other in followers if checklist.steps[other].applicable.holds(after))
    moved = replace(
        marked(checklist, moved, followers, Status.OPEN),
        reports=(*(report for report in state.reports if report != step.id), step.id),
        waits=state.waits - {step.id} | {*due})
    return settle(checklist, moved, (*changed(state.facts, after), Reported(step.id, change.kind),
                                     *map(WaitBegins, due)))


# --- failing -----------------------------------------------------------------------------------

def problem(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The step at hand cannot be done as it should, or its reading is not as it should be."""
    step = checklist.steps[state.at]
    if not isinstance(event, Read) and not checklist.failing(step):
        return state, (Say(Reply.NO_REMEDY, step.id),)
    return _unless_refused(_fall_short, checklist, state, event)


def _fall_short(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Into the step's remedy, or, too often, give up.

    What a test was to show is withdrawn at once, and whatever rested on it is open again.
    """
    step = checklist.steps[state.at]
    band = event.band if isinstance(event, Read) else "problem"
    failed = Failed(step.id, band)
    remedy = checklist.failing(step, band == STOP)
    state = replace(state, waits=state.waits - {step.id})
    if remedy is None:
        return (marked(checklist, state, (step.id,), Status.OPEN),
                (failed, Say(Reply.NO_REMEDY, step.id)))
    tries = dict(state.tries)
    if remedy.tries:
        tries[step.id] = min(tries.get(step.id, 0) + 1, remedy.tries)
    gives_up = remedy.tries and tries[step.id] >= remedy.tries
    outer = state.remedies[:state.remedies.index(step.id)] if step.id in state.remedies else (
        state.remedies)
    state = replace(
        state, at="", tries=tuple(sorted(tries.items())),
        stopped=state.stopped - {step.id} | ({step.id} if band == STOP else frozenset()),
        remedies=outer if gives_up else (*outer, step.id))
    if gives_up:
        state = marked(checklist, state, (step.id,), Status.FAILED)
        change = changes.give_up(checklist, step, remedy)
        told: Effect = Reported(step.id, Kind.GIVE_UP, remedy=remedy.id)
    else:
        state = marked(checklist, state, (*remedy.steps, step.id), Status.OPEN)
        change = changes.fail(checklist, step, remedy)
        told = RemedyBegins(step.id, remedy.id)
    state, effects = brought_about(checklist, state, change)
    return settle(checklist, state, (*effects, failed, told))


# --- order -------------------------------------------------------------------------------------

def leave(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Nobody waits any longer."""
    left = awaited(checklist, state)
    return settle(checklist, marked(checklist, state, left, Status.LEFT),
                  tuple(map(Skipped, left[:1])))


_SKIPPED = {Status.OPEN: Status.SKIPPED, Status.SKIPPED: Status.LEFT}
"""Where a step stands once it is skipped; one that is done, has failed or is left stays so."""


def skip(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The step at hand comes later; a remedy is left as a whole, not half of it."""
    step = state.at
    before = status(checklist, state, step)
    if state.remedies and step not in checklist.order:
        state = replace(state, remedies=state.remedies[:-1])
        after = Status.SKIPPED
    else:
        after = _SKIPPED.get(before, before)
    return settle(checklist, marked(checklist, state, (step,), after), (Skipped(step),))


def go_to(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The step named comes next, if it may."""
    assert isinstance(event, GoTo)
    if event.step not in checklist.steps:
        return state, (Say(Reply.NOT_NOW),)
    step = checklist.steps[event.step]
    why = refusal(checklist, state, step)
    if why:
        return state, why
    remedies = state.remedies
    while remedies and step.id not in inner(checklist, replace(state, remedies=remedies)):
        remedies = remedies[:-1]
    early = (Say(Reply.EARLY, step.id),) if step.id in state.waits else ()
    return (replace(state, at=step.id, mode=Mode.STEP, remedies=remedies),
            (*early, Offer(step.id)))


def take_back(checklist: Checklist, state: State, event: Event) -> Outcome:
    """A report was a mistake: the last one, or the named step's."""
    assert isinstance(event, TakeBack)
    name = event.step or (state.reports[-1] if state.reports else "")
    if name not in checklist.steps:
        return state, (Say(Reply.NOTHING_TO_TAKE_BACK),)
    step = checklist.steps[name]
    change = changes.take_back(checklist, step)
    plain = not (step.gives or step.ends)
    if (plain and name not in state.reports) or not change.guard.holds(state.facts):
        return state, (Say(Reply.DOES_NOT_STAND, name),)
    before, after = state.facts, change.apply(state.facts)
    state, _ = brought_about(checklist, state, dataclasses.replace(
        change, gives=frozenset(), ends=change.ends - step.gives))  # what else it makes void
    state = replace(marked(checklist, state, (name,), Status.OPEN), facts=after,
                    reports=tuple(report for report in state.reports if report != name),
                    waits=state.waits.difference(checklist.followers.get(name, ())))
    now = (*(Literal(fact) for fact in sorted(change.gives)),
           *(Literal(fact, False) for fact in sorted(step.gives)))
    return settle(checklist, state,
                  (*changed(before, after), Reported(name, change.kind, now)), first=name)
