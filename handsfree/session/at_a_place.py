"""A conversation at a place that is known: its site questions are asked as one sentence.

No audio and no clock.  May import the conversation, the engine, language and the record's memory.
"Yes" answers each question that it told of by the ordinary event, as the engine comes to it, so that
nothing else can follow from it than from as many answers; "no" asks them one by one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from handsfree.checklist.model import Checklist, Step
from handsfree.engine import changes
from handsfree.engine.choosing import status
from handsfree.engine.state import (
    Answer,
    Ask,
    Confirm,
    Event,
    GoTo,
    Mode,
    Offer,
    Read,
    State,
    Status,
    Unsure,
)
from handsfree.language.model import Language
from handsfree.language.readings import Reading, say_reading
from handsfree.session.conversation import Log
from handsfree.session.on_the_way import OnTheWay
from handsfree.session.wording import Prompt, Wording, sentence
from handsfree.storage.places import Measured, Memory, recallable

HERE_AGAIN = "here again"
"""Key of the prompt that asks whether all is as last time."""

_ASIDE = ("answered yes", "answered no")


def told_of(checklist: Checklist, state: State, remembered: Memory) -> dict[str, bool]:
    """The questions that come up from here on, if each is answered as is remembered, in order."""
    facts, found = state.facts, dict[str, bool]()
    for name, step in recallable(checklist).items():
        if name not in remembered.answers or status(checklist, state, name) is Status.DONE:
            continue
        if step.applicable.holds(facts):
            found[name] = remembered.answers[name]
            facts = changes.answer(step, found[name]).apply(facts)
    return found


def lengths_of(
    checklist: Checklist, state: State, remembered: Memory, told: dict[str, bool]
) -> dict[str, Reading]:
    """The rough numbers of the place that come up from here on, once the questions are answered so."""
    facts = state.facts
    for name, yes in told.items():
        facts = changes.answer(checklist.steps[name], yes).apply(facts)
    return {name: Reading(Fraction(str(one.value)), one.unit)
            for name, one in remembered.lengths.items()
            if (step := checklist.steps.get(name)) and step.rough and step.reading
            and step.reading.unit == one.unit
            and status(checklist, state, name) is not Status.DONE and step.applicable.holds(facts)}


class AtAPlace(OnTheWay):
    """Knows how it was here last time."""

    def __init__(
        self, remembered: Memory, checklist: Checklist, language: Language, log: Log,
        **options: Any,
    ) -> None:
        super().__init__(checklist, language, log, **options)
        self._remembered = remembered
        self._open = True
        """It may still be asked whether all is as last time."""
        self._asking = ""
        """The question at which that was asked, and no answer has come."""
        self._told: dict[str, bool] = {}
        """What it told of then."""
        self._same: dict[str, bool] = {}
        """Answers that were agreed to and whose questions have not come yet."""
        self._lengths: dict[str, Reading] = {}
        """What it told of the rough numbers of the place."""
        self._same_lengths: dict[str, Reading] = {}
        """Those that were agreed to and have not come yet."""
        self._doubted = False

    def begin(self, record: frozenset[str], t: float, **about: Any) -> list[Prompt]:
        """See `Conversation.begin`."""
        return self._recalling(super().begin(record, t, **about), t)

    def take(self, event: Event, t: float, **about: Any) -> list[Prompt]:
        """See `Conversation.take`."""
        if self._asking and self._at(self._asking):
            if isinstance(event, Answer):
                return self._answered(event.yes, t)
            if isinstance(event, Unsure) and isinstance(event.event, Answer):
                return self._not_sure(t)
        if isinstance(event, GoTo) and event.step in self._remembered.answers:
            self._open = False  # it is asked for by name, so it is to be asked
            self._same.pop(event.step, None)
            self._asking = ""
        if isinstance(event, GoTo):
            self._same_lengths.pop(event.step, None)
        prompts = super().take(event, t, **about)
        if self.state.mode is Mode.STEP and self.state.at != self._asking:
            self._asking = ""
        return self._recalling(prompts, t)

    def _at(self, step: str) -> bool:
        return self.state.mode is Mode.STEP and self.state.at == step

    def _answered(self, yes: bool, t: float) -> list[Prompt]:
        """Whether all is as last time."""
        at, self._asking, self._open = self._asking, "", False
        if yes:
            self._same, self._same_lengths = dict(self._told), dict(self._lengths)
            return self._recalling([self.wording.say(f"{HERE_AGAIN}.same")], t)
        super().take(Ask("repeat"), t)
        return [self.wording.say(f"{HERE_AGAIN}.one by one"), self.wording.offer(Offer(at))]

    def _not_sure(self, t: float) -> list[Prompt]:
        """An answer to several questions is not read back: it has to be sure, or they are asked."""
        if self._doubted or self.wary:
            return self._answered(False, t)
        self._doubted = True
        return [self.wording.say("say again", tone="attention")]

    def _recalling(self, prompts: list[Prompt], t: float) -> list[Prompt]:
        """The same, with what is agreed to answered, and the sentence where it is to be asked."""
        while self._same and self._at(self.state.at) and self.state.at in self._same:
            at = self.state.at
            prompts = [prompt for prompt in prompts if not _offers(prompt, at)]
            more = super().take(Answer(self._same.pop(at)), t)
            prompts += [prompt for prompt in more if prompt.key not in _ASIDE]
        while self._at(self.state.at) and self.state.at in self._same_lengths and any(
                _offers(prompt, self.state.at) for prompt in prompts):
            prompts = self._measured(prompts, t)
        at = self.state.at
        if not (self._open and self._at(at) and any(_offers(prompt, at) for prompt in prompts)):
            return prompts
        told = told_of(self.checklist, self.state, self._remembered)
        if at not in told or len(told) < 2:
            return prompts
        self._asking, self._told = at, told
        self._lengths = lengths_of(self.checklist, self.state, self._remembered, told)
        words = recalled(self._remembered, told, self.wording, self.language, self._lengths)
        return [replace(prompt, key=HERE_AGAIN, text=words) if _offers(prompt, at) else prompt
                for prompt in prompts]

    def _measured(self, prompts: list[Prompt], t: float) -> list[Prompt]:
        """A rough number that was agreed to is taken as if it had been said, and judged as ever."""
        at = self.state.at
        value, reading = self._same_lengths.pop(at), self.checklist.steps[at].reading
        assert reading is not None
        prompts = [prompt for prompt in prompts if not _offers(prompt, at)]
        more = super().take(Read(reading.band(float(value.value))), t, reading=value)
        if self.state.mode is Mode.CONFIRM and isinstance(self.state.pending, Read):
            more = super().take(Confirm(), t)
        return [*prompts, *more]


def _offers(prompt: Prompt, step: str) -> bool:
    return prompt.key == "offer" and prompt.about == step


# --- in words -----------------------------------------------------------------------------------

def recalled(
    remembered: Memory, told: dict[str, bool], wording: Wording, language: Language,
    lengths: Mapping[str, Reading] = MappingProxyType({}),
) -> str:
    """The sentence that asks whether all is as last time, and what was found then."""
    steps = wording.checklist.steps
    items = list(_items(remembered, [(steps[name], yes) for name, yes in told.items()], language))
    asked = wording.say(f"{HERE_AGAIN}.asked", place=remembered.place, items=wording.listed(items, 99)).text
    found = [wording.say(f"{HERE_AGAIN}.{key}", **values).text
             for key, values in findings(remembered, wording, language)]
    if lengths:
        measures = wording.listed((f"{steps[name].rough} {say_reading(one, language)}"
                                   for name, one in lengths.items()), 99)
        found.append(measures[:1].upper() + measures[1:])
    return " ".join([asked, *map(sentence, found),
                     wording.say(f"{HERE_AGAIN}.question").text])


def _items(
    remembered: Memory, told: Sequence[tuple[Step, bool]], language: Language
) -> Iterator[str]:
    """How the answers are told; the breaker's amps with the power that they are of."""
    amps = remembered.measured.get(AMPS, ())
    for step, yes in told:
        yield step.recalled[0 if yes else 1]
        if yes and step.id == POWER and amps:
            yield _say(amps[-1], language)


POWER, AMPS, VOLTS, PRESSURE = "site power", "supply amps", "outlet volts", "pressure"
"""The library's question and readings that are told of a place."""

_LEVELS = ("side level", "fore before", "fore level")


def findings(
    remembered: Memory, wording: Wording, language: Language
) -> Iterator[tuple[str, dict[str, str]]]:
    """What was found at a place, as templates under 'here again' and their values."""
    steps, measured = wording.checklist.steps, remembered.measured
    if remembered.refused:
        yield "refused", {}
    elif remembered.failed:
        yield "failed", {"names": wording.listed(
            wording.name(steps[name]) for name in remembered.failed if name in steps)}
    if good := [one for one in measured.get(VOLTS, ()) if one.band == "within"]:
        yield f"volts.{part_of_day(good[-1].at)}", {"reading": _say(good[-1], language)}
    if out := [one for one in measured.get(PRESSURE, ()) if one.band == "high"]:
        yield "pressure", {"reading": _say(out[0], language)}
    for name in _LEVELS:
        lean = measured.get(name, ())
        if lean and lean[0].band != "within":
            yield f"slope.{'side' if name == _LEVELS[0] else 'fore'}", {
                "reading": _say(lean[0], language)}


def part_of_day(at: str) -> str:
    """Morning, day, evening or night, by the wall clock of then; '' where it does not say."""
    try:
        hour = datetime.fromisoformat(at).hour
    except ValueError:
        return "day"
    return "night" if hour >= 22 or hour < 5 else "morning" if hour < 10 else (
        "day" if hour < 17 else "evening")


def _say(one: Measured, language: Language) -> str:
    return say_reading(Reading(Fraction(str(one.value)), one.unit), language)
