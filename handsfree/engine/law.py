"""What is possible at each moment, and what it does: one table, Moment x Event, as data.

Pure.  May import the checklist model and this room.  `advance` obeys it, `session.expecting` takes
from it what may be said, and docs/law.md draws it (`python -m tests.engine.law`).
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

from handsfree.checklist.model import Checklist
from handsfree.engine.state import (
    Answer,
    Ask,
    Confirm,
    Correct,
    Deny,
    Done,
    Due,
    Event,
    Expired,
    Finish,
    GoTo,
    Mode,
    Pause,
    Problem,
    Read,
    Reply,
    Respond,
    Resume,
    Skip,
    State,
    TakeBack,
    Unclear,
    Unsure,
)


class Moment(Enum):
    """What the next word is about: the mode, and in STEP what kind of step is at hand."""

    STEP = "an ordinary step"
    QUESTION = "a question"
    READING = "a reading"
    HOLD = "a hold point"
    CONFIRM = "a readback"
    WAITING = "waiting"
    CLOSING = "asked to close"
    BLOCKED = "must not close"
    ALARM = "an alarm"
    PAUSED = "paused"
    SUSPENDED = "finished for now"
    CLOSED = "closed"


class Does(Enum):
    """What an event does where it is possible."""

    TELL = "answers a question"
    MISHEARD = "says that it was not caught"
    DUE = "the step that was waited for comes"
    DUE_TOLD = "says that a wait is over"
    DUE_SILENT = "ends a wait without a word"
    EXPIRE = "ends a look that is too old"
    EXPIRE_AWAY = "ends a look that is too old, for when work goes on"
    EXPIRE_OVER = "ends a look that is too old, on the record alone"
    REPORT = "the step is done"
    RESPOND = "reads the response back"
    READ = "reads the value back"
    ANSWER = "answers the question"
    FAIL = "begins the remedy"
    SKIP = "leaves the step for later"
    LEAVE = "waits no longer"
    REPEAT = "says again what is waited for"
    GO_TO = "takes the step named"
    TAKE_BACK = "undoes a report"
    CORRECT = "corrects the record"
    CORRECT_AWAY = "corrects the record, for when work goes on"
    PAUSE = "holds"
    FINISH = "finishes for now"
    RESUME = "goes on"
    ASK_BACK = "asks before it is done"
    ONLY_TELL = "answers a question; else has it said again"
    ANEW = "reads back what is said now"
    CARRY_OUT = "does what was read back"
    WITHDRAW = "drops what was read back"
    CLOSE = "closes, or offers what is open"
    REOPEN = "opens the checklist again"
    SAFE = "reads back that the danger is over"
    WARN = "says the danger again"


Cell = Does | Reply
"""What the event does, or why it is not possible."""

_ANYWHERE: Mapping[type[Event], Cell] = {
    Ask: Does.TELL, Unclear: Does.MISHEARD, Due: Does.DUE_SILENT, Expired: Does.EXPIRE}

_AT_WORK: Mapping[type[Event], Cell] = {
    **_ANYWHERE, GoTo: Does.GO_TO, TakeBack: Does.TAKE_BACK, Correct: Does.CORRECT,
    Pause: Does.PAUSE, Finish: Does.FINISH, Unsure: Does.ASK_BACK}

_AT_A_STEP: Mapping[type[Event], Cell] = {
    **_AT_WORK, Skip: Does.SKIP, Problem: Does.FAIL, Due: Does.DUE_TOLD}

_AWAY: Mapping[type[Event], Cell] = {
    **_ANYWHERE, Resume: Does.RESUME, Correct: Does.CORRECT_AWAY, Expired: Does.EXPIRE_AWAY}

LAW: Mapping[Moment, Mapping[type[Event], Cell]] = {
    Moment.STEP: {**_AT_A_STEP, Done: Does.REPORT},
    Moment.QUESTION: {**_AT_A_STEP, Answer: Does.ANSWER, Done: Reply.NEEDS_YES_OR_NO,
                      Skip: Reply.NEEDS_YES_OR_NO, Problem: Reply.NO_REMEDY},
    Moment.READING: {**_AT_A_STEP, Read: Does.READ, Done: Reply.NEEDS_READING},
    Moment.HOLD: {**_AT_A_STEP, Respond: Does.RESPOND, Done: Reply.NEEDS_RESPONSE,
                  Due: Does.DUE_SILENT},
    Moment.CONFIRM: {**_ANYWHERE, Confirm: Does.CARRY_OUT, Deny: Does.WITHDRAW,
                     Respond: Does.ANEW, Read: Does.ANEW, Pause: Does.PAUSE,
                     Finish: Does.FINISH, Unsure: Reply.SAY_AGAIN},
    Moment.WAITING: {**_AT_WORK, Done: Does.REPEAT, Skip: Does.LEAVE, Due: Does.DUE},
    Moment.CLOSING: {**_AT_WORK, Answer: Does.CLOSE},
    Moment.BLOCKED: {**_AT_WORK, Due: Does.DUE},
    Moment.ALARM: {**_ANYWHERE, Respond: Does.SAFE, Finish: Does.FINISH,
                   Unsure: Does.ONLY_TELL},
    Moment.PAUSED: {**_AWAY, Finish: Does.FINISH, Due: Does.DUE_TOLD},
    Moment.SUSPENDED: {**_AWAY},
    Moment.CLOSED: {**_ANYWHERE, GoTo: Does.REOPEN, TakeBack: Does.REOPEN,
                    Expired: Does.EXPIRE_OVER},
}

OTHERWISE: Mapping[Moment, Cell] = {
    **dict.fromkeys(Moment, Reply.NOT_NOW), Moment.CONFIRM: Reply.CONFIRM_FIRST,
    Moment.ALARM: Does.WARN, Moment.PAUSED: Reply.PAUSED_STILL,
    Moment.SUSPENDED: Reply.PAUSED_STILL, Moment.CLOSED: Reply.CLOSED_ALREADY}
"""The answer to every event that a moment does not name."""

MUST_BE_CERTAIN = (Respond, Confirm, Read, Unsure)
"""What has to be heard for certain: it is never asked about, but said again."""

NEXT: Mapping[Mode, str] = {
    Mode.ALARM: "a never rule is broken", Mode.STEP: "a step can be done",
    Mode.WAITING: "only time is left", Mode.BLOCKED: "it must not close",
    Mode.CLOSING: "steps are open", Mode.CLOSED: "all is done"}
"""What may come next, and when; the first of them that is so (`going_on.settle`)."""

LEADS: Mapping[Does, tuple[Mode, ...]] = {
    **dict.fromkeys(Does, tuple(NEXT)),
    **dict.fromkeys((Does.TELL, Does.MISHEARD, Does.REPEAT, Does.WARN, Does.ONLY_TELL, Does.DUE_TOLD,
                     Does.DUE_SILENT, Does.EXPIRE_AWAY, Does.EXPIRE_OVER, Does.CORRECT_AWAY), ()),
    **dict.fromkeys((Does.READ, Does.ASK_BACK, Does.ANEW, Does.SAFE), (Mode.CONFIRM,)),
    Does.RESPOND: (*NEXT, Mode.CONFIRM), Does.GO_TO: (Mode.STEP,), Does.PAUSE: (Mode.PAUSED,),
    Does.FINISH: (Mode.SUSPENDED,), Does.CARRY_OUT: (*NEXT, Mode.PAUSED, Mode.SUSPENDED)}
"""The modes to which it may lead; it may also leave everything as it is."""


def moment(checklist: Checklist, state: State) -> Moment:
    """What the next word is about."""
    if state.mode is not Mode.STEP:
        return Moment[state.mode.name]
    if not state.at:  # a record that no list has been begun on
        return Moment.STEP
    return Moment[checklist.steps[state.at].kind.upper()]


def cell(now: Moment, event: type[Event]) -> Cell:
    """What such an event does now, or the answer to it."""
    return LAW[now].get(event, OTHERWISE[now])


def possible(now: Moment, event: type[Event]) -> bool:
    """Whether such an event may do something now."""
    return isinstance(LAW[now].get(event), Does)
