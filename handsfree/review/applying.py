"""Which steps will apply: a walk through the engine on which every step goes well.

Steps that wait for the clock are left out: nobody is held up by them, and forecasts end where
only they are left.

Pure.  May import the checklist model, the engine and records.  It asks the same `advance` that a
session runs, so that a step counts here exactly when it would be offered there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from handsfree.checklist.model import Checklist, answered_fact
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import (
    Answer,
    Confirm,
    Done,
    Event,
    Mode,
    Read,
    Respond,
    Resume,
    State,
)
from handsfree.review.records import PlanStep
from handsfree.review.statistics import pert

_MOST_EVENTS = 5_000


@dataclass(frozen=True)
class Applying:
    """The plan of a checklist, and the answers to site questions that it rests on."""

    plan: tuple[PlanStep, ...]
    """In the checklist's order; `applies` is whether the walk came to the step."""
    answers: Mapping[str, bool]
    start: frozenset[str]
    """What was true of the rig when the walk began."""
    complete: bool
    """The walk came to where the checklist closes, or to where only waiting steps are left."""

    @property
    def minutes(self) -> float:
        """Expected minutes of the steps that apply."""
        return sum(pert(p.least, p.likely, p.most)[0] for p in self.plan if p.applies)


def applying(
    checklist: Checklist, record: frozenset[str], answers: Mapping[str, bool] | None = None
) -> Applying:
    """The steps that a session begun now would offer.

    Args:
        record: everything that is true of the rig now, its traits included.
        answers: site questions by id.  One that is not named is answered as it was last time;
            if it never was, in the way that takes longer, so that nobody starts too late.
    """
    known = dict(answers or {})
    while True:
        walked = _walk(checklist, record, known)
        open_question = next((q for q in walked.answers if q not in known), None)
        if open_question is None:
            return walked
        if answered_fact(open_question) in record:
            known[open_question] = open_question in record
            continue
        ways = [_walk(checklist, record, {**known, open_question: way}) for way in (True, False)]
        known[open_question] = ways[0].minutes > ways[1].minutes


def after_walking(
    checklist: Checklist, record: frozenset[str], answers: Mapping[str, bool] | None = None
) -> frozenset[str]:
    """What is true of the rig once the checklist was walked and every step went well."""
    known = applying(checklist, record, answers).answers
    state, _ = _go_on(checklist, begin(checklist, record)[0], known, {})
    return state.facts


def remaining(
    checklist: Checklist, state: State, answers: Mapping[str, bool] | None = None
) -> tuple[str, ...]:
    """The steps that a session in this state would still offer, if every one goes well.

    Args:
        answers: site questions that are still open, by id; one not named is taken as no.
    """
    if state.mode in (Mode.PAUSED, Mode.SUSPENDED):
        state, _ = advance(checklist, state, Resume())
    _, done = _go_on(checklist, state, answers or {}, {})
    return tuple(name for name in checklist.steps if name in done)


def _walk(
    checklist: Checklist, record: frozenset[str], known: Mapping[str, bool]
) -> Applying:
    """One walk; a question that is not `known` is answered with no."""
    given: dict[str, bool] = {}
    state, done = _go_on(checklist, begin(checklist, record)[0], known, given)
    plan = tuple(
        PlanStep(name, *checklist.steps[name].minutes, name in done) for name in checklist.order)
    return Applying(plan, given, record, state.mode in (Mode.CLOSED, Mode.WAITING))


def _go_on(
    checklist: Checklist, state: State, known: Mapping[str, bool], given: dict[str, bool]
) -> tuple[State, set[str]]:
    """To the end, or to where it is stuck: the last state, and the steps that were offered."""
    done: set[str] = set()
    for _ in range(_MOST_EVENTS):
        event = good_event(checklist, state, known, given)
        if event is None:
            break
        if state.at:
            done.add(state.at)
        after, _ = advance(checklist, state, event)
        if after == state:
            break
        state = after
    return state, done


def good_event(
    checklist: Checklist, state: State, known: Mapping[str, bool], given: dict[str, bool]
) -> Event | None:
    """What an operator for whom all goes well says now; None at the end, or where it is stuck."""
    if state.mode is Mode.CONFIRM:
        return Confirm()
    if state.mode is Mode.CLOSING:
        return Answer(True)
    if state.mode is not Mode.STEP or not state.at or state.broken:
        return None
    step = checklist.steps[state.at]
    if step.question:
        given[step.id] = known.get(step.id, False)
        return Answer(given[step.id])
    if step.reading:
        return Read("within")
    return Respond() if step.hold else Done()
