"""What the screen shows at one moment, as plain values: from the conversation, not from sound.

Pure.  May import the checklist model, the engine's state, language, the session's wording.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handsfree.checklist.conditions import Literal
from handsfree.checklist.model import Checklist, Origin, Reading, Step, Travel
from handsfree.engine.choosing import open_steps, status
from handsfree.engine.state import Mode, State, Status
from handsfree.language.labels import Labels
from handsfree.language.model import PREFIXES, Language
from handsfree.session.expecting import expected, on_this_rig
from handsfree.session.wording import Wording

FIRST = ("done", "yes", "no", "confirm", "deny", "repeat", "skip", "detail", "why", "problem",
         "take_back", "remaining", "pause", "resume", "finish", "help")
"""Commands in the order in which they are worth showing; the others are found by 'help'."""

_BANNERS = {Mode.CONFIRM: "confirm", Mode.PAUSED: "paused", Mode.CLOSING: "closing",
            Mode.WAITING: "waiting", Mode.BLOCKED: "blocked", Mode.ALARM: "alarm", Mode.SUSPENDED: "finished",
            Mode.CLOSED: "finished"}


_UNDISTURBED = frozenset({"hold", "confirm", "alarm", "note"})
"""Kinds of moment in which nothing else is shown that might draw the eye."""


@dataclass(frozen=True)
class FactLine:
    """One fact that matters, in words; `wrong` when it stands in the way of the step at hand."""

    words: str
    so: bool
    wrong: bool = False


@dataclass(frozen=True)
class View:
    """Everything but sound: who is asked for what, and how things stand."""

    title: str
    rig: str
    banner: str
    kind: str
    """Key of the banner: step, hold, reading, question, confirm, alarm …"""
    place: str
    text: str
    """What to read from afar."""
    caution: str
    limits: str
    answer: str
    """The one response that counts now, or ''."""
    commands: tuple[str, ...]
    facts: tuple[FactLine, ...]
    done: int
    open: int
    skipped: int
    waits: str = ""
    """Steps that are due later, with the minutes still to go."""


class Viewer:
    """Looks at one checklist's states for one rig."""

    def __init__(
        self, checklist: Checklist, rig: str, language: Language, labels: Labels,
        has: Iterable[str] = (),
    ) -> None:
        """`rig` is the rig's name and `has` its traits."""
        self._checklist = checklist
        self._rig = rig
        self._language = language
        self._labels = labels
        self._wording = Wording(checklist, language)
        self._facts = facts_that_matter(checklist, frozenset(has))

    def view(
        self, state: State, spoken: str, waiting: Sequence[tuple[str, float]] = (),
        noting: bool = False,
    ) -> View:
        """The view of a state.

        Args:
            spoken: the last prompt.
            waiting: steps that are due later, with the minutes still to go.
            noting: the next utterance is a note.
        """
        c = self._checklist
        step = c.steps.get(state.at)
        kind = "note" if noting else _BANNERS.get(state.mode) or (step.kind if step else "step")
        rule = next((rule for rule in c.rules if rule.id == state.broken), None)
        at_step = state.mode is Mode.STEP and step is not None and not noting
        text = step.do if at_step and step else rule.now if rule and kind == "alarm" else spoken
        waits = [self._labels("in time", name=self._wording.name(c.steps[name]),
                              minutes=str(max(1, math.ceil(left)))) for name, left in waiting
                 if kind not in _UNDISTURBED]
        allowed = expected(c, state)
        commands = frozenset() if noting else allowed.commands
        if kind == "waiting" and waits:
            text, commands = waits.pop(0), commands - {"done"}
        answer = next(iter(allowed.responses), "") if (
            state.mode is not Mode.CONFIRM and not noting) else ""
        statuses = [status(c, state, name) for name in c.order]
        return View(
            title=c.title, rig=self._rig, banner=self._labels(kind), kind=kind,
            place=step.place if at_step and step else "", text=text or c.title,
            caution=step.caution if at_step and step else "",
            limits=self._limits(step.reading) if at_step and step and step.reading else "",
            answer=answer, commands=self._commands(commands),
            facts=tuple(self._fact(name, state, step if at_step else None)
                        for name in self._facts),
            done=statuses.count(Status.DONE), open=len(open_steps(c, state)),
            skipped=statuses.count(Status.SKIPPED), waits=" · ".join(waits))

    def _commands(self, ids: Iterable[str]) -> tuple[str, ...]:
        now = set(ids) - set(PREFIXES)
        if {"no", "deny"} <= now and "yes" not in now:  # the longer answers are the ones that count
            now.discard("no")
        return tuple(self._language.commands[name][0] for name in FIRST if name in now)

    def _fact(self, name: str, state: State, step: Step | None) -> FactLine:
        so = name in state.facts
        wrong = step is not None and any(
            literal.fact == name for literal in step.needs.missing(state.facts))
        return FactLine(self._wording.clause(Literal(name, so)), so, wrong)

    def _limits(self, reading: Reading) -> str:
        known = self._language.units.get(reading.unit)
        unit = self._labels.noun(
            (known.many if known else reading.unit).replace("{}", "").strip())
        number = self._labels.number
        if reading.low is not None and reading.high is not None:
            return self._labels("between", low=number(reading.low), high=number(reading.high),
                                unit=unit)
        if reading.low is not None:
            return self._labels("at least", low=number(reading.low), unit=unit)
        if reading.high is None:
            return unit
        return self._labels("at most", high=number(reading.high), unit=unit)


def facts_that_matter(checklist: Checklist, has: frozenset[str]) -> tuple[str, ...]:
    """Facts that the never rules hang on, the most mentioned first; then what the road asks.

    Only facts that a step of this checklist changes, or that start true: what never changes is
    no news.  The order does not change in a session, so that the eye finds its place again.
    """
    changed = frozenset().union(*(
        step.gives | step.ends for step in checklist.steps.values()
        if on_this_rig(checklist, step, has)))
    weight: dict[str, int] = {}
    for rule in checklist.rules:
        for name in rule.when.names():
            weight[name] = weight.get(name, 0) + 2
    for fact in checklist.facts.values():
        if fact.travel is not Travel.EITHER:
            weight[fact.name] = weight.get(fact.name, 0) + 1
    order = {name: place for place, name in enumerate(checklist.facts)}
    wanted = [name for name in weight
              if checklist.facts[name].origin in (Origin.STATE, Origin.GEAR) and name in changed]
    return tuple(sorted(wanted, key=lambda name: (-weight[name], order[name])))
