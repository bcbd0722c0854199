"""Work done by heart: the steps that are reported together, each by its own report.

Pure.  May import the checklist model and this room.  Nothing here changes a state but `advance`:
a report of several steps is their reports, one after the other, each with its interlock.
"""

from __future__ import annotations

from collections.abc import Collection

from handsfree.checklist.model import Checklist, Step
from handsfree.engine.advance import advance
from handsfree.engine.choosing import status
from handsfree.engine.state import (
    Confirm,
    Done,
    Effect,
    Event,
    Mode,
    Offer,
    Read,
    Respond,
    State,
    Status,
    replace,
)


def report_of(step: Step) -> Event:
    """What reports such a step: its response, or that it is done."""
    return Respond() if step.hold else Done()


def reported(
    checklist: Checklist, state: State, event: Event
) -> tuple[State, tuple[Effect, ...]]:
    """The state once the step at hand is reported by `event`, and what that led to; the same state
    where it is not: refused, failed, or an alarm.

    A reading within its limits counts at once: what is read back is confirmed with the others.
    """
    step = state.at
    after, effects = advance(checklist, state, event)
    if isinstance(event, Read) and after.mode is Mode.CONFIRM:
        after, effects = advance(checklist, after, Confirm())
    good = after.mode is Mode.STEP and status(checklist, after, step) is Status.DONE
    return (after, effects) if good else (state, effects)


def ahead(
    checklist: Checklist, state: State, mastered: Collection[str], most: int
) -> tuple[tuple[str, ...], State, Offer | None]:
    """Steps from the one at hand on that may be done by heart, the state once all of them are
    reported, and what is offered there: a step that is answered for itself, and no question of the
    site.

    Args:
        mastered: steps that the operator knows by heart.
        most: how many of them at most.
    """
    found: list[str] = []
    offer: Offer | None = None
    while (state.mode is Mode.STEP and not state.remedies and len(found) < most
           and state.at in mastered and checklist.steps[state.at].by_heart
           and not (offer and offer.again)):
        after, effects = reported(checklist, state, report_of(checklist.steps[state.at]))
        if after is state or checklist.steps[after.at].question:
            break
        found.append(state.at)
        state, offer = after, next(one for one in reversed(effects) if isinstance(one, Offer))
    return tuple(found), state, offer


def may_be_held(checklist: Checklist, step: Step) -> bool:
    """Whether its value may be confirmed together with others: a reading on which no grave hazard
    hangs, and which is no evidence."""
    return bool(step.reading and step.section and not step.readback
                and not step.gives & checklist.evidence.keys())


def as_asked(state: State) -> State:
    """The state in which what was reported together is read back."""
    return replace(state, mode=Mode.CONFIRM, pending=Done())
