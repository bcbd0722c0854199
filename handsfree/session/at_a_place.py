"""A conversation at a place that is known: its site questions are asked as one sentence.

No audio and no clock.  May import the conversation, the engine, language and the record's memory.
"Yes" answers each question that it told of by the ordinary event, as the engine comes to it, so that
nothing else can follow from it than from as many answers; "no" asks them one by one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from typing import Any

from handsfree.checklist.model import Checklist, Step
from handsfree.engine import changes
from handsfree.engine.choosing import status
from handsfree.engine.state import Answer, Ask, Event, GoTo, Mode, Offer, State, Status, Unsure
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
            self._same = dict(self._told)
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
        at = self.state.at
        if not (self._open and self._at(at) and any(_offers(prompt, at) for prompt in prompts)):
            return prompts
        told = told_of(self.checklist, self.state, self._remembered)
        if at not in told or len(told) < 2:
            return prompts
        self._asking, self._told = at, told
        words = recalled(self._remembered, told, self.wording, self.language)
        return [replace(prompt, key=HERE_AGAIN, text=words) if _offers(prompt, at) else prompt
                for prompt in prompts]


def _offers(prompt: Prompt, step: str) -> bool:
    return prompt.key == "offer" and prompt.about == step


# --- in words -----------------------------------------------------------------------------------

def recalled(
    remembered: Memory, told: dict[str, bool], wording: Wording, language: Language
) -> str:
    """The sentence that asks whether all is as last time, and what was found then."""
    steps = wording.checklist.steps
    items = list(_items(remembered, [(steps[name], yes) for name, yes in told.items()], language))
    asked = wording.say(f"{HERE_AGAIN}.asked", place=remembered.place, items=wording.listed(items, 99)).text
    found = [wording.say(f"{HERE_AGAIN}.{key}", **values).text
             for key, values in findings(remembered, wording, language)]
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
