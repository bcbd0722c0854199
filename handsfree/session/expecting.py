"""What may be said follows from the state: fewer phrases, fewer mistakes.

Pure.  May import the engine, the checklist model and the language room.
"""

from __future__ import annotations

from collections.abc import Mapping

from handsfree.checklist.model import Checklist, Step
from handsfree.engine.choosing import status
from handsfree.engine.law import Moment, moment, possible
from handsfree.engine.state import (
    Answer,
    Ask,
    Confirm,
    Correct,
    Deny,
    Done,
    Event,
    Finish,
    GoTo,
    Pause,
    Problem,
    Read,
    Respond,
    Resume,
    Skip,
    State,
    Status,
    TakeBack,
)
from handsfree.language.matcher import Expected
from handsfree.session.manner import COMMANDS as MANNER

EVENTS: Mapping[str, Event] = {
    "done": Done(), "skip": Skip(), "problem": Problem(), "take_back": TakeBack(),
    "pause": Pause(), "resume": Resume(), "finish": Finish(),
    **{name: Ask(name) for name in ("repeat", "detail", "why", "remaining", "help", "status", "next")}}
"""Commands that mean one thing wherever they may be said."""

_ORDERS: Mapping[str, type[Event]] = {
    **{name: type(event) for name, event in EVENTS.items()},
    "go_to": GoTo, "take_back_named": TakeBack}
"""Commands by the event that has to be possible."""

OPERATORS = {"operator_one": 1, "operator_two": 2, "operator_three": 3}
"""Commands that say who works from now on, by a pseudonym; in a pause, where little is said."""

PSEUDONYMS = ("one", "two", "three")
"""As those are written down, in any language."""

LEVEL_LENGTH = "level length"
"""The rig's number that lets an angle be told in inches: see `work.levelling.angle`."""

YES_NO = frozenset({"yes", "no", "confirm", "deny"})
"""Answers to a question; after a readback that guards against a grave hazard "yes" is none: the
confirmation is several words long."""

_YES_NO = {"confirm": "yes", "deny": "no"}

ANSWERED = {"yes": "done", "confirm": "done", "acknowledged": "done", "resume": "done"}
"""What may mean that an ordinary step is done, or only that it was heard: it is asked."""

_ASIDE = frozenset({"time", "note"})
_OWN: Mapping[Moment, frozenset[str]] = {
    **dict.fromkeys((Moment.STEP, Moment.QUESTION, Moment.READING, Moment.WAITING),
                    _ASIDE | MANNER | {"remind"}),
    Moment.HOLD: _ASIDE,  # whose answer has as few phrases beside it as can be
    Moment.CLOSING: frozenset({"time"}), Moment.BLOCKED: frozenset({"time"}),
    Moment.PAUSED: frozenset({"time", "remind", *OPERATORS}),
    Moment.SUSPENDED: frozenset({"time", *OPERATORS})}
"""Commands that the session answers without the engine."""

_DETAILS = frozenset({"detail", "why"})
_UNSAID: Mapping[Moment, frozenset[str]] = {
    Moment.HOLD: frozenset({"next"}),
    Moment.CONFIRM: _DETAILS | {"remaining", "status", "next", "pause", "finish"},
    Moment.WAITING: _DETAILS, Moment.CLOSING: _DETAILS | {"take_back_named", "next"},
    Moment.BLOCKED: _DETAILS | {"next"}, Moment.ALARM: frozenset({"detail", "remaining", "status", "next"}),
    **dict.fromkeys((Moment.PAUSED, Moment.SUSPENDED), _DETAILS | {"repeat", "help", "next"})}
"""What is possible and still not listened for: each phrase makes the others harder to hear."""


def commands(now: Moment) -> frozenset[str]:
    """The commands that the law and our ears allow at this moment."""
    orders = frozenset(name for name, event in _ORDERS.items() if possible(now, event))
    return orders - _UNSAID.get(now, frozenset()) | _OWN.get(now, frozenset())


def expected(checklist: Checklist, state: State) -> Expected:
    """What may be said in this state."""
    now = moment(checklist, state)
    said = commands(now)
    if now is Moment.CLOSED:
        return Expected()  # the session is over
    if now in (Moment.PAUSED, Moment.SUSPENDED):
        return Expected(said)
    if now is Moment.CONFIRM:
        return _confirming(checklist, state, said)
    if now is Moment.ALARM:
        return Expected(said, responses=dict.fromkeys(_rule_responses(checklist, state), "rule"),
                        heard=frozenset({"done", "yes"}))
    steps = _callable(checklist, state)
    if now is Moment.WAITING:
        return Expected(said, steps=steps, waits=_waited_for(checklist, state))
    if now is Moment.CLOSING:
        return Expected(said | YES_NO, steps=steps, counts=_YES_NO)
    if now is Moment.BLOCKED:
        return Expected(said, steps=steps)
    return _at_a_step(checklist, state, now, said, steps)


def _at_a_step(
    checklist: Checklist, state: State, now: Moment, said: frozenset[str],
    steps: dict[str, tuple[str, ...]],
) -> Expected:
    step = checklist.steps[state.at]
    counts: dict[str, str] = {}
    maybe = {"back": "take_back"}
    if now is Moment.QUESTION:
        said |= YES_NO
        counts = {**_YES_NO}
    elif now is Moment.READING:
        counts = {"blank": "problem"}
        said |= {"same"} if step.rough else set()
    elif now is Moment.STEP:
        maybe |= ANSWERED
        if step.tests:  # it asks, so a yes is its answer
            counts = {"yes": "done", "confirm": "done"}
    if step.tests and not step.reading and checklist.failing(step):
        said |= {"no"}
        counts |= {"deny": "no"}
    return Expected(
        said, responses=dict.fromkeys(step.responses, step.id), steps=steps,
        waits=frozenset() if now is Moment.HOLD else _waited_for(checklist, state),
        unit=step.reading.unit if step.reading else None, instead=_instead(checklist, step),
        counts=counts, maybe=maybe,
        heard=frozenset() if now is Moment.STEP else frozenset({"done", "yes"}) - said)


def _instead(checklist: Checklist, step: Step) -> str | None:
    """An angle may be told as inches of a spirit level whose length is known."""
    angle = step.reading is not None and step.reading.unit == "degrees"
    return "inches" if angle and checklist.numbers.get(LEVEL_LENGTH, 0.0) > 0 else None


_LIKELY: Mapping[Moment, tuple[Event, ...]] = {
    Moment.CONFIRM: (Confirm(), Deny()), Moment.ALARM: (Respond(),), Moment.PAUSED: (Resume(),),
    **dict.fromkeys((Moment.CLOSING, Moment.QUESTION), (Answer(True), Answer(False))),
    Moment.HOLD: (Respond(), Skip()), Moment.STEP: (Done(), Skip())}


def likely(checklist: Checklist, state: State) -> tuple[Event, ...]:
    """The events that are most likely next, so that the answers to them can be made ready."""
    return _LIKELY.get(moment(checklist, state), ())


def _confirming(checklist: Checklist, state: State, said: frozenset[str]) -> Expected:
    """After a readback: the confirmation, its opposite, or the same thing said again.

    A plain yes counts where no grave hazard hangs on what is read back; no always does.
    """
    said |= {"confirm", "deny", "no"}
    counts = {}
    if plain_yes(checklist, state):
        said |= {"yes"}
        if isinstance(state.pending, Done):
            counts = {"done": "confirm"}
    responses: dict[str, str] = {}
    unit, instead = None, None
    step = checklist.steps.get(state.at)
    if isinstance(state.pending, Read) and step and step.reading:
        unit, instead = step.reading.unit, _instead(checklist, step)
    elif isinstance(state.pending, Respond):
        responses = dict.fromkeys(_rule_responses(checklist, state) if state.broken
                                  else checklist.steps[state.at].responses, "again")
    return Expected(said, responses=responses, unit=unit, instead=instead,
                    counts=counts, heard=frozenset({"yes", "done"}) - said)


def plain_yes(checklist: Checklist, state: State) -> bool:
    """Whether "yes" is enough for what is read back: a gust could be taken for it, so it is not for
    the response of a hold point, for a reading or an answer that guards against a grave hazard, or
    for a correction of the record."""
    if isinstance(state.pending, (Respond, Correct)) or state.broken:
        return False
    step = checklist.steps.get(state.at)
    return not (isinstance(state.pending, (Read, Answer)) and step and step.readback)


def _rule_responses(checklist: Checklist, state: State) -> tuple[str, ...]:
    return next(rule.responses for rule in checklist.rules if rule.id == state.broken)


def _callable(checklist: Checklist, state: State) -> dict[str, tuple[str, ...]]:
    """Steps that can be named now: all that this rig has, so that an order that must be refused
    is heard and refused.  A remedy's own steps can be named while it is under way.
    """
    inner = {
        name for failed in state.remedies
        if (remedy := checklist.failing(checklist.steps[failed], failed in state.stopped))
        for name in remedy.steps}
    named = {*checklist.order, *inner, *state.reports}
    return {name: step.spoken_names for name, step in checklist.steps.items()
            if name in named and on_this_rig(checklist, step, state.facts)}


def _waited_for(checklist: Checklist, state: State) -> frozenset[str]:
    """Open steps whose wait is running or over: they can be called for by name."""
    return frozenset(
        name for name in checklist.order
        if (wait := checklist.steps[name].wait) and name != state.at
        and status(checklist, state, name) is not Status.DONE
        and status(checklist, state, wait.after) is Status.DONE
        and checklist.steps[name].applicable.holds(state.facts))


def on_this_rig(checklist: Checklist, step: Step, traits: frozenset[str]) -> bool:
    """Whether the rig has what the step is about (traits do not change in a session)."""
    return checklist.traits_wanted[step.id].holds(traits)
