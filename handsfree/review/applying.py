"""Which steps will apply: a walk through the engine on which every step goes well.

Pure.  May import the checklist model, the engine and records.  It asks the same `advance` that a
session runs, so that a step counts here exactly when it would be offered there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from handsfree.checklist.model import Checklist, Step
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import Answer, Confirm, Done, Event, Mode, Read, Respond, State
from handsfree.review.records import PlanStep

_MOST_EVENTS = 5_000


@dataclass(frozen=True)
class Applying:
    """The plan of a checklist, and the answers to site questions that it rests on."""

    plan: tuple[PlanStep, ...]
    """In the checklist's order; `applies` is whether the walk came to the step."""
    answers: Mapping[str, bool]
    complete: bool
    """False if the walk got stuck before the checklist could close."""


def applying(
    checklist: Checklist, record: frozenset[str], answers: Mapping[str, bool] | None = None
) -> Applying:
    """The steps that a session begun now would offer.

    Args:
        record: everything that is true of the rig now, its traits included.
        answers: site questions by id; one that is not named is answered as on record if it was
            ever answered yes, and with no otherwise.
    """
    known = dict(answers or {})
    given: dict[str, bool] = {}
    done: set[str] = set()
    state, _ = begin(checklist, record)
    for _ in range(_MOST_EVENTS):
        if state.mode is Mode.CLOSED or state.mode is Mode.BLOCKED or state.broken:
            break
        event = _good(checklist, state, known, record, given)
        if event is None:
            break
        if state.at:
            done.add(state.at)
        after, _ = advance(checklist, state, event)
        if after == state:
            break
        state = after
    plan = tuple(
        PlanStep(name, *checklist.steps[name].minutes, name in done) for name in checklist.order)
    return Applying(plan, given, state.mode is Mode.CLOSED)


def _good(
    checklist: Checklist, state: State, known: Mapping[str, bool], record: frozenset[str],
    given: dict[str, bool],
) -> Event | None:
    """What an operator for whom all goes well says now."""
    if state.mode is Mode.CONFIRM:
        return Confirm()
    if state.mode is Mode.CLOSING:
        return Answer(True)
    if not state.at:
        return None
    step: Step = checklist.steps[state.at]
    if step.question:
        given[step.id] = known.get(step.id, step.id in record)
        return Answer(given[step.id])
    if step.reading:
        return Read("within")
    return Respond() if step.hold else Done()
