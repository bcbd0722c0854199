"""`advance`: one event to one state, and what to do about it.  Everything else is an adapter.

Pure: no clock, file, audio or chance.  May import the checklist model and this room.  An event
that is not possible in a state changes nothing and is answered.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from handsfree.checklist.conditions import Literal
from handsfree.checklist.model import Checklist, NeverRule, Step, voided
from handsfree.engine import changes
from handsfree.engine.changes import Change
from handsfree.engine.choosing import (
    awaited,
    broken_rule,
    inner,
    interlock,
    mends,
    must_close,
    next_step,
    open_steps,
    permitted,
    reopened,
    rested_on,
    rule_at_stake,
    rules_about,
    status,
    waiting,
)
from handsfree.engine.state import (
    Alarm,
    Answer,
    Ask,
    Changed,
    Closed,
    Confirm,
    Correct,
    Deny,
    Done,
    Due,
    Effect,
    Event,
    Expired,
    Finish,
    GoTo,
    Mode,
    Offer,
    Pause,
    Problem,
    Read,
    Refused,
    Respond,
    Resume,
    Say,
    Skip,
    State,
    Status,
    TakeBack,
    Unclear,
    Unsure,
    WaitBegins,
)

Outcome = tuple[State, tuple[Effect, ...]]


def begin(checklist: Checklist, record: frozenset[str]) -> Outcome:
    """The first state of a session.

    Args:
        record: everything that is true of the rig now, its traits included.
    """
    change = next(way for way in changes.beginnings(checklist) if way.guard.holds(record))
    facts = change.apply(record)
    statuses = tuple(Status.OPEN for _ in checklist.steps)
    state = State(facts=facts, statuses=statuses)
    opening: tuple[Effect, ...] = (Say("opening"),)
    if facts != record:
        opening = (Changed(facts - record, record - facts), *opening)
    return _settle(checklist, state, opening)


def _grown_old(checklist: Checklist, facts: frozenset[str]) -> frozenset[str]:
    """Evidence that time would end, and that does not count across a pause or a session."""
    return frozenset(
        fact for fact, evidence in checklist.evidence.items()
        if evidence.minutes and changes.expire(checklist, fact).guard.holds(facts))


def advance(checklist: Checklist, state: State, event: Event) -> Outcome:
    """The state after `event`, and the effects in the order in which they are to happen."""
    if isinstance(event, Ask):
        return _ask(checklist, state, event)
    if isinstance(event, Unclear):
        return state, (Say("unclear"),)
    if isinstance(event, Due):
        return _due(checklist, state, event)
    if isinstance(event, Expired):
        return _expired(checklist, state, event)
    if state.mode in (Mode.CLOSED, Mode.SUSPENDED, Mode.PAUSED):
        return _away(checklist, state, event)
    if isinstance(event, Finish):
        return (replace(state, mode=Mode.SUSPENDED, pending=None),
                (Say("suspended", state.at, others=open_steps(checklist, state)),))
    if isinstance(event, Unsure):
        return _unsure(checklist, state, event)
    if state.mode is Mode.CONFIRM:
        return _confirm(checklist, state, event)
    if state.broken:
        return _alarmed(checklist, state, event)
    if isinstance(event, Correct):
        return _correct(checklist, state, event)
    handler = _HANDLERS.get(type(event))
    if handler is None:
        return state, (Say("not now"),)
    return handler(checklist, state, event)


def reconsider(checklist: Checklist, state: State) -> Outcome:
    """Choose anew what comes next: for an operator whose step another has taken or made void."""
    return _settle(checklist, replace(state, at="", pending=None), ())


# --- what is read back -------------------------------------------------------------------------

def _unsure(checklist: Checklist, state: State, event: Unsure) -> Outcome:
    """Ask before an uncertain order is carried out; never for what must be certain."""
    meant = event.event
    if isinstance(meant, (Respond, Confirm, Read, Unsure)) or state.mode is Mode.CONFIRM:
        return state, (Say("say again"),)
    if isinstance(meant, (Ask, Unclear)):
        return advance(checklist, state, meant)
    if state.broken:
        return state, (Say("say again"),)
    return _hold(state, meant)


def _hold(state: State, event: Event) -> Outcome:
    return (replace(state, mode=Mode.CONFIRM, pending=event),
            (Say(_READBACK.get(type(event), "did you say"), state.at),))


_READBACK: dict[type[Event], str] = {Respond: "readback", Read: "readback reading"}


def _confirm(checklist: Checklist, state: State, event: Event) -> Outcome:
    pending = state.pending
    assert pending is not None
    before = replace(state, pending=None, mode=_mode_before(checklist, state))
    if isinstance(event, (Confirm, Deny)) and before.mode in (Mode.CLOSING, Mode.BLOCKED) and (
            next_step(checklist, before)[0]):  # a wait has ended meanwhile
        return _settle(checklist, before, (Say("withdrawn"),))
    if isinstance(event, Confirm):
        if isinstance(pending, Respond):
            if state.broken:
                return _resolve(checklist, before)
            return _report(checklist, before)
        if isinstance(pending, Read):
            if pending.band == "within":
                return _report(checklist, before)
            refusal = _refusal(checklist, before, checklist.steps[before.at])
            return (before, refusal) if refusal else _fail(checklist, before, pending.band)
        return advance(checklist, before, pending)
    if isinstance(event, Deny):
        return before, (Say("withdrawn"), *_repeat(checklist, before))
    if isinstance(event, Pause):
        return _pause(checklist, before, event)
    if type(event) is type(pending) and isinstance(event, (Respond, Read)):
        return _hold(before, event)  # said again, perhaps another value: read back again
    return state, (Say("confirm first"),)


def _mode_before(checklist: Checklist, state: State) -> Mode:
    if state.broken:
        return Mode.ALARM
    if state.at:
        return Mode.STEP
    if _only_time_is_left(checklist, state):
        return Mode.WAITING
    return Mode.BLOCKED if _blocked(checklist, state) else Mode.CLOSING


# --- reports -----------------------------------------------------------------------------------

def _done(checklist: Checklist, state: State, event: Event) -> Outcome:
    if state.mode is Mode.WAITING:
        return state, _repeat(checklist, state)
    if not state.at:
        return state, (Say("not now"),)
    step = checklist.steps[state.at]
    if step.question:
        return state, (Say("answer yes or no", step.id),)
    if step.reading:
        return state, (Say("needs a reading", step.id),)
    if step.hold:
        return state, (Say("needs its response", step.id),)
    return _report(checklist, state)


def _respond(checklist: Checklist, state: State, event: Event) -> Outcome:
    if not state.at or not checklist.steps[state.at].hold:
        return state, (Say("not now"),)
    step = checklist.steps[state.at]
    refusal = _refusal(checklist, state, step)
    if refusal:
        return state, refusal
    return _hold(state, event) if step.readback else _report(checklist, state)


def _read(checklist: Checklist, state: State, event: Event) -> Outcome:
    if not state.at or not checklist.steps[state.at].reading:
        return state, (Say("not now"),)
    refusal = _refusal(checklist, state, checklist.steps[state.at])
    return (state, refusal) if refusal else _hold(state, event)


def _answer(checklist: Checklist, state: State, event: Event) -> Outcome:
    assert isinstance(event, Answer)
    if state.mode is Mode.CLOSING:
        return _close(checklist, state) if event.yes else _keep_open(checklist, state)
    if not state.at or not checklist.steps[state.at].question:
        return state, (Say("not now"),)
    step = checklist.steps[state.at]
    key = "answered yes" if event.yes else "answered no"
    return _commit(checklist, state, step, changes.answer(step, event.yes), Say(key, step.id))


def _report(checklist: Checklist, state: State) -> Outcome:
    """The step at hand is done: if its interlock, and every never rule, allow it."""
    step = checklist.steps[state.at]
    refusal = _refusal(checklist, state, step)
    if refusal:
        return state, refusal
    change = changes.report(step)
    after = change.apply(state.facts)
    rule = broken_rule(checklist, after)
    if rule:  # the interlock let it pass: the rule itself is the backstop
        wrong = tuple(
            Literal(literal.fact, not literal.wanted)
            for literal in _literals_of(rule, after) if literal.fact not in step.gives | step.ends)
        return state, (Refused(step.id, wrong, rule.id, mends(checklist, state, wrong), True),)
    return _commit(checklist, state, step, change, Say("done", step.id))


def _literals_of(rule: NeverRule, facts: frozenset[str]) -> tuple[Literal, ...]:
    return tuple(Literal(name, name in facts) for name in sorted(rule.when.names()))


def _refusal(checklist: Checklist, state: State, step: Step) -> tuple[Effect, ...]:
    """Why the step may not be started or reported now; empty if it may."""
    missing = interlock(checklist, step, state.facts)
    if missing is None:
        return (Say("does not apply", step.id, step.applicable.missing(state.facts)),)
    if not missing:
        return ()
    rule = rule_at_stake(checklist, step, state.facts)
    if rule:  # what the danger hangs on comes first
        missing = tuple(sorted(missing, key=lambda m: m.fact not in rule.when.names()))
    return (Refused(step.id, missing, rule.id if rule else "", mends(checklist, state, missing)),)


def _commit(
    checklist: Checklist, state: State, step: Step, change: Change, word: Say
) -> Outcome:
    """Make the change, mark the step done, and go on."""
    after = change.apply(state.facts)
    statuses = list(state.statuses)
    statuses[checklist.index[step.id]] = Status.DONE
    undone = step.voids & state.facts - after
    if step.id not in checklist.order:  # what a remedy undoes has to be done again
        undone |= step.ends
    here = replace(state, facts=after, statuses=tuple(statuses), at="")
    statuses = list(reopened(checklist, here, undone).statuses)
    waits = state.waits - {step.id}
    effects: tuple[Effect, ...] = (word,)
    for other in checklist.followers.get(step.id, ()):
        statuses[checklist.index[other]] = Status.OPEN
        if checklist.steps[other].applicable.holds(after):
            waits |= {other}
            effects = (*effects, WaitBegins(other))
    reports = tuple(r for r in state.reports if r != step.id) + (step.id,)
    if after != state.facts:
        effects = (Changed(after - state.facts, state.facts - after), *effects)
    moved = replace(state, facts=after, statuses=tuple(statuses), reports=reports, at="",
                    waits=waits)
    return _settle(checklist, moved, effects)


# --- failing -----------------------------------------------------------------------------------

def _problem(checklist: Checklist, state: State, event: Event) -> Outcome:
    if not state.at:
        return state, (Say("not now"),)
    step = checklist.steps[state.at]
    if not checklist.failing(step):
        return state, (Say("no remedy", step.id),)
    refusal = _refusal(checklist, state, step)
    return (state, refusal) if refusal else _fail(checklist, state, "problem")


def _fail(checklist: Checklist, state: State, band: str) -> Outcome:
    """The step at hand has failed: into its remedy, or, too often, give up.

    What a test was to show is withdrawn at once, and whatever rested on it is open again.
    """
    step = checklist.steps[state.at]
    remedy = checklist.failing(step, band == STOP)
    failed = Say(f"failed {band}", step.id)
    state = replace(state, waits=state.waits - {step.id})
    if remedy is None:
        return (_mark(checklist, state, step.id, Status.OPEN),
                (failed, Say("no remedy", step.id)))
    stopped = state.stopped - {step.id} | ({step.id} if band == STOP else frozenset())
    state = replace(state, stopped=stopped, at="")
    tries = state.tries
    if remedy.tries:
        counts = dict(tries)
        counts[step.id] = min(counts.get(step.id, 0) + 1, remedy.tries)
        tries = tuple(sorted(counts.items()))
    state = replace(state, tries=tries)
    gives_up = remedy.tries and dict(tries)[step.id] >= remedy.tries
    change = (changes.give_up if gives_up else changes.fail)(checklist, step, remedy)
    state, effects = _changed_to(checklist, state, change.apply(state.facts))
    effects = (*effects, failed)
    if gives_up:
        state = replace(state, remedies=_without(state.remedies, step.id))
        return _settle(checklist, _mark(checklist, state, step.id, Status.FAILED),
                       (*effects, Say("gives up", step.id, remedy=remedy.id)))
    for name in (*remedy.steps, step.id):
        state = _mark(checklist, state, name, Status.OPEN)
    state = replace(state, remedies=(*_without(state.remedies, step.id), step.id))
    return _settle(checklist, state, (*effects, Say("remedy", step.id, remedy=remedy.id)))


STOP = "stop"
"""Band of a reading of which the sum says do not."""


def _changed_to(checklist: Checklist, state: State, after: frozenset[str]) -> Outcome:
    """The state with these facts; steps whose outcome is gone have to be done again."""
    before = state.facts
    if after == before:
        return state, ()
    state = reopened(checklist, replace(state, facts=after), before - after)
    return state, (Changed(after - before, before - after),)


def _without(remedies: tuple[str, ...], step: str) -> tuple[str, ...]:
    return remedies[:remedies.index(step)] if step in remedies else remedies


def _mark(checklist: Checklist, state: State, step: str, mark: Status) -> State:
    place = checklist.index[step]
    return replace(state, statuses=(*state.statuses[:place], mark, *state.statuses[place + 1:]))


# --- order -------------------------------------------------------------------------------------

def _skip(checklist: Checklist, state: State, event: Event) -> Outcome:
    if state.mode is Mode.WAITING:  # nobody waits any longer
        left = awaited(checklist, state)
        for name in left:
            state = _mark(checklist, state, name, Status.LEFT)
        return _settle(checklist, state, tuple(Say("skipped", name) for name in left[:1]))
    if not state.at:
        return state, (Say("not now"),)
    step = checklist.steps[state.at]
    if step.question:
        return state, (Say("answer yes or no", step.id),)
    before = status(checklist, state, step.id)
    if state.remedies and step.id not in checklist.order:
        state = replace(state, remedies=state.remedies[:-1])  # leave the remedy, not half of it
        again = Status.SKIPPED
    else:
        again = before if before in (Status.DONE, Status.FAILED) else (
            Status.LEFT if before in (Status.SKIPPED, Status.LEFT) else Status.SKIPPED)
    state = replace(_mark(checklist, state, step.id, again), at="")
    return _settle(checklist, state, (Say("skipped", step.id),))


def _go_to(checklist: Checklist, state: State, event: Event) -> Outcome:
    assert isinstance(event, GoTo)
    if event.step not in checklist.steps:
        return state, (Say("not now"),)
    step = checklist.steps[event.step]
    refusal = _refusal(checklist, state, step)
    if refusal:
        return state, refusal
    remedies = state.remedies
    while remedies and step.id not in inner(checklist, replace(state, remedies=remedies)):
        remedies = remedies[:-1]
    early = (Say("early", step.id),) if step.id in state.waits else ()
    return (replace(state, at=step.id, mode=Mode.STEP, remedies=remedies),
            (*early, Offer(step.id)))


def _due(checklist: Checklist, state: State, event: Due) -> Outcome:
    """A wait is over.  Nothing is said where nothing must disturb; the step comes next anyway."""
    if event.step not in state.waits:
        return state, ()
    wanted = event.step in awaited(checklist, state)
    state = replace(state, waits=state.waits - {event.step})
    if not wanted or event.step == state.at:
        return state, ()
    if state.mode in (Mode.WAITING, Mode.BLOCKED):
        return _settle(checklist, state, ())
    at = checklist.steps.get(state.at)
    if state.mode is Mode.PAUSED or state.mode is Mode.STEP and at and not at.hold:
        return state, (Say("due", event.step),)
    return state, ()


def _expired(checklist: Checklist, state: State, event: Expired) -> Outcome:
    """Evidence has grown old: it is said where the step at hand, or a readback, rests on it."""
    if event.fact not in checklist.evidence:
        return state, ()
    change = changes.expire(checklist, event.fact)
    if not change.guard.holds(state.facts):
        return state, ()
    state, effects = _changed_to(checklist, state, change.apply(state.facts))
    rule = broken_rule(checklist, state.facts)
    if (rule.id if rule else "") != state.broken and state.mode is not Mode.CLOSED:
        going_on = _noticed_away if state.mode in (Mode.PAUSED, Mode.SUSPENDED) else _settle
        return going_on(checklist, state, effects)
    if state.mode not in (Mode.STEP, Mode.CONFIRM, Mode.WAITING, Mode.BLOCKED, Mode.CLOSING):
        return state, effects
    told = Say("evidence ended", facts=(Literal(event.fact),))
    if state.broken or state.at and permitted(checklist.steps[state.at], state.facts):
        return state, effects
    if state.at:
        return _settle(checklist, replace(state, at="", pending=None), (*effects, told))
    freed = state.mode is Mode.BLOCKED and not _blocked(checklist, state)
    if state.mode is Mode.CONFIRM or not (freed or next_step(checklist, state)[0]):
        return state, effects
    return _settle(checklist, state, (*effects, told))


def _aged(checklist: Checklist, state: State) -> Outcome:
    """Coming back: what was looked at before does not count any more."""
    old = _grown_old(checklist, state.facts)
    state, effects = _changed_to(checklist, state, state.facts - old)
    missed = tuple(sorted(set(map(Literal, old)) & rested_on(checklist, state), key=str))
    if missed:
        effects += (Say("evidence ended by break", facts=missed),)
    return state, effects


def _pause(checklist: Checklist, state: State, event: Event) -> Outcome:
    return replace(state, mode=Mode.PAUSED), (Say("paused", state.at),)


def _away(checklist: Checklist, state: State, event: Event) -> Outcome:
    """Paused, suspended or closed: only coming back counts."""
    if state.mode is Mode.CLOSED:
        if not isinstance(event, (GoTo, TakeBack)):
            return state, (Say("closed already"),)
        reopened = replace(state, mode=Mode.CLOSING)  # the last report may be the mistaken one
        if broken_rule(checklist, state.facts):  # by what has grown old since
            return _settle(checklist, reopened, ())
        after, effects = _HANDLERS[type(event)](checklist, reopened, event)
        return (state if after is reopened else after), effects
    if isinstance(event, Finish) and state.mode is Mode.PAUSED:
        return (replace(state, mode=Mode.SUSPENDED),
                (Say("suspended", state.at, others=open_steps(checklist, state)),))
    if isinstance(event, Correct):
        return _correct(checklist, state, event)
    if not isinstance(event, Resume):
        return state, (Say("paused still", state.at),)
    state, aged = _aged(checklist, state)
    if state.broken:
        return replace(state, mode=Mode.ALARM), (*aged, Alarm(state.broken))
    if state.at and permitted(checklist.steps[state.at], state.facts):
        return replace(state, mode=Mode.STEP), (*aged, Offer(state.at, "resumed"))
    return _settle(checklist, replace(state, at=""), (*aged, Say("resumed")))


# --- taking back and correcting ----------------------------------------------------------------

def _take_back(checklist: Checklist, state: State, event: Event) -> Outcome:
    assert isinstance(event, TakeBack)
    name = event.step or (state.reports[-1] if state.reports else "")
    if name not in checklist.steps:
        return state, (Say("nothing to take back"),)
    step = checklist.steps[name]
    change = changes.take_back(checklist, step)
    plain = not (step.gives or step.ends)
    if (plain and name not in state.reports) or not change.guard.holds(state.facts):
        return state, (Say("does not stand", name),)
    before, after = state.facts, change.apply(state.facts)
    reports = tuple(r for r in state.reports if r != name)
    state, _ = _changed_to(checklist, state, state.facts - (change.ends - step.gives))
    state = replace(_mark(checklist, state, name, Status.OPEN),
                    facts=after, reports=reports, at="",
                    waits=state.waits.difference(checklist.followers.get(name, ())))
    effects: tuple[Effect, ...] = () if after == before else (
        Changed(after - before, before - after),)
    said = (*(Literal(f) for f in sorted(change.gives)),
            *(Literal(f, False) for f in sorted(step.gives)))
    return _settle(checklist, state, (*effects, Say("taken back", name, said)), first=name)


def _correct(checklist: Checklist, state: State, event: Correct) -> Outcome:
    if event.fact not in changes.correctable(checklist):
        return state, (Say("not now"),)
    if event.value and event.fact in checklist.evidence:
        return state, (Say("look yourself", facts=(Literal(event.fact),)),)
    if (event.fact in state.facts) is event.value:
        return state, (Say("so already", facts=(Literal(event.fact, event.value),)),)
    facts = state.facts | {event.fact} if event.value else state.facts - {event.fact}
    on = frozenset({event.fact}) if event.value else frozenset()
    off = frozenset() if event.value else frozenset({event.fact})
    void = voided(checklist.facts, {event.fact}) - {event.fact}
    state, ended = _changed_to(checklist, replace(state, facts=facts, pending=None), facts - void)
    facts = state.facts
    effects: tuple[Effect, ...] = (
        Changed(on, off), *ended, Say("corrected", facts=(Literal(event.fact, event.value),)))
    if state.mode in (Mode.PAUSED, Mode.SUSPENDED):
        return _noticed_away(checklist, state, effects)
    at = state.at if state.at and permitted(checklist.steps[state.at], facts) else ""
    return _settle(checklist, replace(state, at=""), effects, first=at)


def _noticed_away(checklist: Checklist, state: State, effects: tuple[Effect, ...]) -> Outcome:
    """A danger that comes about while nobody is at work is told now; on coming back, what follows
    is chosen."""
    rule = broken_rule(checklist, state.facts)
    alarm = (Alarm(rule.id),) if rule and rule.id != state.broken else ()
    return replace(state, broken=rule.id if rule else ""), (*effects, *alarm)


def _alarmed(checklist: Checklist, state: State, event: Event) -> Outcome:
    """A never rule is broken: nothing else counts until its danger is over."""
    if isinstance(event, Respond):
        return _hold(state, event)
    return state, (Alarm(state.broken),)


def _resolve(checklist: Checklist, state: State) -> Outcome:
    rule = next(rule for rule in checklist.rules if rule.id == state.broken)
    after = changes.resolve(rule).apply(state.facts)
    effects = (Changed(after - state.facts, state.facts - after), Say("danger over", rule.id))
    return _settle(checklist, replace(state, facts=after, broken=""), effects)


# --- going on ----------------------------------------------------------------------------------

def _settle(
    checklist: Checklist, state: State, effects: tuple[Effect, ...], first: str = ""
) -> Outcome:
    """Choose what comes next, after any change: an alarm, a step, or the end.

    `first` is offered before the usual order, if it is permitted.
    """
    rule = broken_rule(checklist, state.facts)
    if rule:
        state = replace(state, mode=Mode.ALARM, broken=rule.id, at="", pending=None)
        return state, (*effects, Alarm(rule.id))
    state = replace(state, broken="", pending=None)
    if first and permitted(checklist.steps[first], state.facts):
        return replace(state, at=first, mode=Mode.STEP), (*effects, Offer(first))
    state, first, again, words = _after_remedy(checklist, state)
    step, why = (first, again) if first else next_step(checklist, state)
    if step:
        return (replace(state, at=step, mode=Mode.STEP), (*effects, *words, Offer(step, why)))
    return _end(checklist, state, (*effects, *words))


def _after_remedy(
    checklist: Checklist, state: State
) -> tuple[State, str, str, tuple[Effect, ...]]:
    """When a remedy has no step left: try the failed step again, or what it waits for."""
    if not state.remedies:
        return state, "", "", ()
    if next_step(checklist, state)[0] in inner(checklist, state):
        return state, "", "", ()
    failed = checklist.steps[state.remedies[-1]]
    if failed.id in state.waits:  # what it follows was done anew: so it is when it is due
        return replace(state, remedies=state.remedies[:-1]), "", "", ()
    if permitted(failed, state.facts):
        return replace(state, remedies=state.remedies[:-1]), failed.id, "remedied", ()
    if not failed.applicable.holds(state.facts):  # the remedy has done away with it
        return replace(state, remedies=state.remedies[:-1]), "", "", ()
    for step in mends(checklist, state, failed.needs.missing(state.facts)):
        if permitted(checklist.steps[step], state.facts):
            return state, step, "", ()
    return replace(state, remedies=state.remedies[:-1]), "", "", (Say("waits", failed.id),)


def _blocked(checklist: Checklist, state: State) -> bool:
    return bool(must_close(checklist, state)) or not checklist.closes.holds(state.facts)


def _only_time_is_left(checklist: Checklist, state: State) -> bool:
    """Some step is waited for, and nothing keeps the checklist open that would not come of it.

    What else is in the way of closing is told now, not when the wait is over.
    """
    soon = awaited(checklist, state)
    comes = {literal for name in soon for literal in checklist.steps[name].outcome}
    return bool(soon) and comes.issuperset(checklist.closes.missing(state.facts)) and (
        set(soon).issuperset(must_close(checklist, state)))


def _end(checklist: Checklist, state: State, effects: tuple[Effect, ...]) -> Outcome:
    """Nothing is left to offer: close, ask whether to close, or say why it cannot close."""
    state = replace(state, at="", remedies=())
    left = open_steps(checklist, state)
    if _only_time_is_left(checklist, state):
        soon = awaited(checklist, state)
        return (replace(state, mode=Mode.WAITING), (*effects, Say("wait", soon[0], others=soon)))
    if _blocked(checklist, state):
        missing = checklist.closes.missing(state.facts)
        say = Say("cannot close", facts=missing,
                  others=must_close(checklist, state) or mends(checklist, state, missing))
        return replace(state, mode=Mode.BLOCKED), (*effects, say)
    if left:
        return (replace(state, mode=Mode.CLOSING),
                (*effects, Say("close with open steps", others=left)))
    return replace(state, mode=Mode.CLOSED), (*effects, Closed())


def _close(checklist: Checklist, state: State) -> Outcome:
    return (replace(state, mode=Mode.CLOSED), (Closed(open_steps(checklist, state)),))


def _keep_open(checklist: Checklist, state: State) -> Outcome:
    """Do not close: everything left open is offered again."""
    for step in open_steps(checklist, state):
        state = _mark(checklist, state, step, Status.SKIPPED)
    if not next_step(checklist, state)[0] and not awaited(checklist, state):
        return state, (Say("waiting", others=waiting(checklist, state)),)
    return _settle(checklist, state, ())


# --- questions ---------------------------------------------------------------------------------

def _ask(checklist: Checklist, state: State, event: Ask) -> Outcome:
    if event.about == "repeat":
        return state, _repeat(checklist, state)
    if event.about in ("why", "detail") and not state.at:
        return state, _repeat(checklist, state)
    if event.about in ("remaining", "status"):
        return state, (Say(event.about, state.at, others=open_steps(checklist, state)),)
    if event.about == "why":
        rules = rules_about(checklist, checklist.steps[state.at])
        return state, (Say("why", state.at, others=rules),)
    return state, (Say(event.about, state.at),)


def _repeat(checklist: Checklist, state: State) -> tuple[Effect, ...]:
    """Say again what is waited for."""
    if state.mode is Mode.CONFIRM and state.pending is not None:
        return (Say(_READBACK.get(type(state.pending), "did you say"), state.at),)
    if state.broken:
        return (Alarm(state.broken),)
    if state.mode in (Mode.PAUSED, Mode.SUSPENDED):
        return (Say("paused still", state.at),)
    if state.mode is Mode.CLOSED:
        return (Say("closed already"),)
    if state.at:
        return (Offer(state.at, "repeated"),)
    return _end(checklist, state, ())[1]


_HANDLERS: dict[type[Event], Callable[[Checklist, State, Event], Outcome]] = {
    Done: _done,
    Respond: _respond,
    Read: _read,
    Answer: _answer,
    Skip: _skip,
    GoTo: _go_to,
    TakeBack: _take_back,
    Problem: _problem,
    Pause: _pause,
}
