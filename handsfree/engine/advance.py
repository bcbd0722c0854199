"""`advance`: one event to one state, and what to do about it.  Everything else is an adapter.

Pure: no clock, file, audio or chance.  May import the checklist model and this room.  What is
possible when, and what it does, stands in `law`; an event that is not possible changes nothing and
is answered.
"""

from __future__ import annotations

from collections.abc import Mapping

from handsfree.checklist.model import Checklist
from handsfree.engine import changes, passing, reports
from handsfree.engine.changes import Kind
from handsfree.engine.choosing import (
    awaited,
    broken_rule,
    following,
    next_step,
    open_steps,
    rules_about,
)
from handsfree.engine.going_on import Outcome, changed, end, ending, marked, settle
from handsfree.engine.law import MUST_BE_CERTAIN, Does, cell, moment
from handsfree.engine.reports import Handler, read_back
from handsfree.engine.state import (
    Alarm,
    Answer,
    Ask,
    Closed,
    Effect,
    Event,
    Mode,
    Offer,
    Paused,
    Read,
    ReadBack,
    Reply,
    Reported,
    Respond,
    Say,
    State,
    Status,
    Suspended,
    Unclear,
    Unsure,
    replace,
)


def begin(checklist: Checklist, record: frozenset[str]) -> Outcome:
    """The first state of a session.

    Args:
        record: everything that is true of the rig now, its traits included.
    """
    change = next(way for way in changes.beginnings(checklist) if way.guard.holds(record))
    facts = change.apply(record)
    state = State(facts=facts, statuses=tuple(Status.OPEN for _ in checklist.steps))
    return settle(checklist, state, (*changed(record, facts), Say(Reply.OPENING)))


def advance(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The state after `event`, and the effects in the order in which they are to happen."""
    does = cell(moment(checklist, state), type(event))
    if isinstance(does, Does):
        return _HANDLERS[does](checklist, state, event)
    return state, (Say(does, state.at if does in _NAMES_THE_STEP else ""),)


_NAMES_THE_STEP = (Reply.NEEDS_YES_OR_NO, Reply.NEEDS_READING, Reply.NEEDS_RESPONSE,
                   Reply.NO_REMEDY, Reply.PAUSED_STILL)


# --- what is read back -------------------------------------------------------------------------

def _ask_back(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Ask before an uncertain order is carried out; never for what must be certain."""
    assert isinstance(event, Unsure)
    if isinstance(event.event, (Ask, Unclear, *MUST_BE_CERTAIN)):
        return _only_tell(checklist, state, event)
    return read_back(checklist, state, event.event)


def _only_tell(checklist: Checklist, state: State, event: Event) -> Outcome:
    """A question that changes nothing is answered all the same."""
    assert isinstance(event, Unsure)
    if isinstance(event.event, (Ask, Unclear)):
        return advance(checklist, state, event.event)
    return state, (Say(Reply.SAY_AGAIN),)


def _before(checklist: Checklist, state: State) -> State:
    """The state without what was read back."""
    if state.broken:
        mode = Mode.ALARM
    elif state.at:
        mode = Mode.STEP
    else:
        mode = ending(checklist, state)
        mode = Mode.CLOSING if mode is Mode.CLOSED else mode  # as was asked before
    return replace(state, pending=None, mode=mode)


def _overtaken(checklist: Checklist, before: State) -> bool:
    """Whether there is something to do now where there was not: a wait has ended meanwhile."""
    return before.mode in (Mode.CLOSING, Mode.BLOCKED) and bool(next_step(checklist, before)[0])


def _carry_out(checklist: Checklist, state: State, event: Event) -> Outcome:
    before, pending = _before(checklist, state), state.pending
    assert pending is not None
    if _overtaken(checklist, before):
        return settle(checklist, before, (Say(Reply.WITHDRAWN),))
    if isinstance(pending, Respond):
        return (_safe if state.broken else reports.done)(checklist, before, pending)
    if isinstance(pending, Read):
        within = pending.band == "within"
        return (reports.done if within else reports.problem)(checklist, before, pending)
    return advance(checklist, before, pending)


def _withdraw(checklist: Checklist, state: State, event: Event) -> Outcome:
    before = _before(checklist, state)
    if _overtaken(checklist, before):
        return settle(checklist, before, (Say(Reply.WITHDRAWN),))
    return before, (Say(Reply.WITHDRAWN), *_repeat(checklist, before))


def _anew(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Said again, perhaps another value: read back again."""
    if type(event) is not type(state.pending):
        return state, (Say(Reply.CONFIRM_FIRST),)
    return read_back(checklist, _before(checklist, state), event)


def _safe(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The immediate action after a broken never rule has been taken."""
    rule = next(rule for rule in checklist.rules if rule.id == state.broken)
    after = changes.resolve(rule).apply(state.facts)
    return settle(checklist, replace(state, facts=after),
                  (*changed(state.facts, after), Reported(rule.id, Kind.RESOLVE)))


# --- pausing, finishing, closing ---------------------------------------------------------------

def _pause(checklist: Checklist, state: State, event: Event) -> Outcome:
    return replace(state, mode=Mode.PAUSED, pending=None), (Paused(state.at),)


def _finish(checklist: Checklist, state: State, event: Event) -> Outcome:
    return (replace(state, mode=Mode.SUSPENDED, pending=None),
            (Suspended(state.at, open_steps(checklist, state)),))


def _close(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Close with open steps; or not, and everything left open is offered again."""
    assert isinstance(event, Answer)
    left = open_steps(checklist, state)
    if event.yes:
        return replace(state, mode=Mode.CLOSED), (Closed(left),)
    state = marked(checklist, state, left, Status.SKIPPED)
    if not next_step(checklist, state)[0] and not awaited(checklist, state):
        return state, (Say(Reply.WAITING, others=left),)
    return settle(checklist, state, ())


def _reopen(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The last report may be the mistaken one."""
    again = replace(state, mode=Mode.CLOSING)
    if broken_rule(checklist, state.facts):  # by what has grown old since
        return settle(checklist, again, ())
    after, effects = advance(checklist, again, event)
    return (state if after is again else after), effects


# --- questions ---------------------------------------------------------------------------------

_OPEN_TOO = (Reply.REMAINING, Reply.STATUS)
_ANSWERS: Mapping[str, Reply] = {reply.value: reply for reply in (
    *_OPEN_TOO, Reply.NEXT, Reply.WHY, Reply.DETAIL, Reply.HELP)}


def _ask(checklist: Checklist, state: State, event: Event) -> Outcome:
    assert isinstance(event, Ask)
    reply = _ANSWERS.get(event.about)
    if reply is None or reply in (Reply.NEXT, Reply.WHY, Reply.DETAIL) and not state.at:
        return state, _repeat(checklist, state)
    others = open_steps(checklist, state) if reply in _OPEN_TOO else ()
    if reply is Reply.NEXT:
        others = following(checklist, state)
    if reply is Reply.WHY:
        others = rules_about(checklist, checklist.steps[state.at])
    return state, (Say(reply, state.at, others=others),)


def _repeat(checklist: Checklist, state: State) -> tuple[Effect, ...]:
    """Say again what is waited for."""
    if state.pending is not None:
        return (ReadBack(state.pending, state.at),)
    if state.broken:
        return (Alarm(state.broken),)
    if state.mode in (Mode.PAUSED, Mode.SUSPENDED):
        return (Say(Reply.PAUSED_STILL, state.at),)
    if state.mode is Mode.CLOSED:
        return (Say(Reply.CLOSED_ALREADY),)
    if state.at:
        return (Offer(state.at, "repeated"),)
    return end(checklist, state, ())[1]


_HANDLERS: Mapping[Does, Handler] = {
    Does.TELL: _ask,
    Does.MISHEARD: lambda checklist, state, event: (state, (Say(Reply.UNCLEAR),)),
    Does.DUE: passing.due,
    Does.DUE_TOLD: passing.due_told,
    Does.DUE_SILENT: passing.due_silent,
    Does.EXPIRE: passing.expired,
    Does.EXPIRE_AWAY: passing.expired_away,
    Does.EXPIRE_OVER: passing.expired_over,
    Does.REPORT: reports.done,
    Does.RESPOND: reports.respond,
    Does.READ: reports.read,
    Does.ANSWER: reports.answer,
    Does.FAIL: reports.problem,
    Does.SKIP: reports.skip,
    Does.LEAVE: reports.leave,
    Does.REPEAT: lambda checklist, state, event: (state, _repeat(checklist, state)),
    Does.GO_TO: reports.go_to,
    Does.TAKE_BACK: reports.take_back,
    Does.CORRECT: passing.correct,
    Does.CORRECT_AWAY: passing.correct_away,
    Does.PAUSE: _pause,
    Does.FINISH: _finish,
    Does.RESUME: passing.resume,
    Does.ASK_BACK: _ask_back,
    Does.ONLY_TELL: _only_tell,
    Does.ANEW: _anew,
    Does.CARRY_OUT: _carry_out,
    Does.WITHDRAW: _withdraw,
    Does.CLOSE: _close,
    Does.REOPEN: _reopen,
    Does.SAFE: read_back,
    Does.WARN: lambda checklist, state, event: (state, (Alarm(state.broken),)),
}
