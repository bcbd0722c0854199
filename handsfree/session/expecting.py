"""What may be said follows from the state: fewer phrases, fewer mistakes.

Pure.  May import the engine, the checklist model and the language room.
"""

from __future__ import annotations

from handsfree.checklist.conditions import All
from handsfree.checklist.model import Checklist, Origin, Step
from handsfree.engine.choosing import status
from handsfree.engine.state import (
    Answer,
    Confirm,
    Correct,
    Deny,
    Done,
    Event,
    Mode,
    Read,
    Resume,
    Skip,
    State,
    Status,
)
from handsfree.engine.state import Respond as RespondEvent
from handsfree.language.matcher import Expected
from handsfree.session.manner import COMMANDS as MANNER

ANYWHERE = frozenset({"repeat", "help", "time", "remaining", "status", "finish"})
"""Commands that may be said at any time before the end."""

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

AT_A_STEP = ANYWHERE | {
    "skip", "detail", "why", "problem", "take_back", "take_back_named", "pause", "note", "go_to"}
"""Commands that may be said while a challenge waits; 'done' besides, at an ordinary step."""


def expected(checklist: Checklist, state: State) -> Expected:
    """What may be said in this state."""
    if state.mode is Mode.CLOSED:
        return Expected()
    if state.mode in (Mode.PAUSED, Mode.SUSPENDED):
        paused = {"resume", "finish", "remaining", "status", "time", *OPERATORS}
        return Expected(commands=frozenset(
            paused | {"remind"} if state.mode is Mode.PAUSED else paused))
    if state.mode is Mode.CONFIRM:
        return _confirming(checklist, state)
    if state.mode is Mode.ALARM:
        return Expected(commands=frozenset({"repeat", "help", "why", "finish"}),
                        responses={_rule_response(checklist, state): "rule"},
                        heard=frozenset({"done", "yes"}))
    if state.mode is Mode.WAITING:
        return Expected(
            commands=ANYWHERE | MANNER | {"done", "skip", "go_to", "take_back", "take_back_named",
                                          "pause", "note", "remind"},
            steps=_callable(checklist, state), waits=_waited_for(checklist, state))
    if state.mode is Mode.CLOSING:
        return Expected(commands=ANYWHERE | YES_NO | {"go_to", "take_back", "pause"},
                        steps=_callable(checklist, state), counts=_YES_NO)
    if state.mode is Mode.BLOCKED:
        return Expected(commands=ANYWHERE | {"go_to", "take_back", "take_back_named", "pause"},
                        steps=_callable(checklist, state))
    return _at_a_step(checklist, state, checklist.steps[state.at])


def _at_a_step(checklist: Checklist, state: State, step: Step) -> Expected:
    commands = set(AT_A_STEP)
    counts: dict[str, str] = {}
    maybe = {"back": "take_back"}
    if step.question:
        commands |= YES_NO
        commands -= {"skip", "problem"}
        counts = {**_YES_NO}
    elif not step.reading and not step.hold:
        commands.add("done")
        maybe |= ANSWERED
        if step.tests:  # it asks, so a yes is its answer
            counts = {"yes": "done", "confirm": "done"}
    if step.tests and not step.reading and checklist.failing(step):
        commands.add("no")
        counts |= {"deny": "no"}
    if step.reading:
        counts = {"blank": "problem"}
    if not step.hold:  # whose answer has as few phrases beside it as can be
        commands |= MANNER | {"remind"}
    return Expected(
        commands=frozenset(commands),
        responses={step.respond: step.id} if step.hold else {},
        steps=_callable(checklist, state),
        waits=frozenset() if step.hold else _waited_for(checklist, state),
        unit=step.reading.unit if step.reading else None,
        instead=_instead(checklist, step),
        counts=counts, maybe=maybe,
        heard=frozenset({"done", "yes"}) - commands if step.hold or step.reading or step.question
        else frozenset(),
    )


def _instead(checklist: Checklist, step: Step) -> str | None:
    """An angle may be told as inches of a spirit level whose length is known."""
    angle = step.reading is not None and step.reading.unit == "degrees"
    return "inches" if angle and checklist.numbers.get(LEVEL_LENGTH, 0.0) > 0 else None


def likely(checklist: Checklist, state: State) -> tuple[Event, ...]:
    """The events that are most likely next, so that the answers to them can be made ready."""
    if state.mode is Mode.CONFIRM:
        return Confirm(), Deny()
    if state.mode is Mode.ALARM:
        return (RespondEvent(),)
    if state.mode is Mode.CLOSING:
        return Answer(True), Answer(False)
    if state.mode is Mode.PAUSED:
        return (Resume(),)
    step = checklist.steps.get(state.at)
    if state.mode is not Mode.STEP or step is None or step.reading:
        return ()
    if step.question:
        return Answer(True), Answer(False)
    return (RespondEvent(), Skip()) if step.hold else (Done(), Skip())


def _confirming(checklist: Checklist, state: State) -> Expected:
    """After a readback: the confirmation, its opposite, or the same thing said again.

    A plain yes counts where no grave hazard hangs on what is read back; no always does.
    """
    commands = {"confirm", "deny", "repeat", "help", "no"}
    counts = {}
    if plain_yes(checklist, state):
        commands.add("yes")
        if isinstance(state.pending, Done):
            counts = {"done": "confirm"}
    responses, unit, instead = {}, None, None
    step = checklist.steps.get(state.at)
    if isinstance(state.pending, Read) and step and step.reading:
        unit, instead = step.reading.unit, _instead(checklist, step)
    elif isinstance(state.pending, RespondEvent):
        phrase = _rule_response(checklist, state) if state.broken else step.respond if step else ""
        responses = {phrase: "again"}
    return Expected(commands=frozenset(commands), responses=responses, unit=unit, instead=instead,
                    counts=counts, heard=frozenset({"yes", "done"}) - commands)


def plain_yes(checklist: Checklist, state: State) -> bool:
    """Whether "yes" is enough for what is read back: a gust could be taken for it, so it is not for
    the response of a hold point, for a reading or an answer that guards against a grave hazard, or
    for a correction of the record."""
    if isinstance(state.pending, (RespondEvent, Correct)) or state.broken:
        return False
    step = checklist.steps.get(state.at)
    return not (isinstance(state.pending, (Read, Answer)) and step and step.readback)


def _rule_response(checklist: Checklist, state: State) -> str:
    return next(rule.respond for rule in checklist.rules if rule.id == state.broken)


def _callable(checklist: Checklist, state: State) -> dict[str, tuple[str, ...]]:
    """Steps that can be named now: all that this rig has, so that an order that must be refused
    is heard and refused.  A remedy's own steps can be named while it is under way.
    """
    inner = {
        name for failed in state.remedies
        if (remedy := checklist.failing(checklist.steps[failed], failed in state.stopped))
        for name in remedy.steps}
    return {
        name: spoken_names(step) for name, step in checklist.steps.items()
        if (name in checklist.order or name in inner or name in state.reports)
        and on_this_rig(checklist, step, state.facts)}


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
    parts = step.only_if.parts if isinstance(step.only_if, All) else (step.only_if,)
    return all(
        part.holds(traits) for part in parts
        if all(checklist.facts[name].origin is Origin.TRAIT for name in part.names()))


def spoken_names(step: Step) -> tuple[str, ...]:
    """What a step can be called by; the first is what the program calls it."""
    return tuple(dict.fromkeys((*step.names, step.id.replace("-", " "))))
