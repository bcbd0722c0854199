"""Asks where one is: one of the places that are known, or a new one, by voice.

No audio and no clock.  May import the checklist model, the engine, language, conversation and
wording.  A new place has no name that a recogniser of closed phrases could hear: it gets a number,
and its name when there is a keyboard again (`handsfree place rename`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import count
from typing import Any

from handsfree.checklist.conditions import ALWAYS, Condition, Literal, both
from handsfree.checklist.model import Checklist, Fact, Origin, Step, answered_fact
from handsfree.engine.state import Answer, Event, Mode, Unsure
from handsfree.hearing.early_finalisation import FIRM
from handsfree.hearing.types import Grammar, Heard, Hypothesis, normal
from handsfree.language.confusability import (
    REPORT_TOO_ALIKE,
    Pronunciations,
    confusability,
    unpronounced,
)
from handsfree.language.model import Language
from handsfree.language.verbalising import say_number
from handsfree.language.words import asks
from handsfree.session.conversation import Conversation, Log
from handsfree.session.wording import Prompt, Wording
from handsfree.storage.record import same_name

AGAIN, NEW, WHICH = "here again", "new place", "which place"
"""Ids of the questions: at the one place that is known?  A new one?  Which of several?"""

READ_OUT = 4
"""So many names are read out; every one can be said."""


def which_place(places: Sequence[str], language: Language) -> Checklist:
    """The questions as a checklist.

    Args:
        places: those that are known, the latest first.
    """
    say = Wording(Checklist("where", "", {}, {}, ()), language).say
    facts: dict[str, Fact] = {}
    steps: dict[str, Step] = {}

    def ask(name: str, text: str, only_if: Condition = ALWAYS) -> None:
        facts[name] = Fact(name, Origin.SITE, says=name)
        facts[answered_fact(name)] = Fact(answered_fact(name), Origin.ANSWERED, says=name)
        steps[name] = Step(name, text, only_if=only_if, question=True, readback=False,
                           gives=frozenset({name}))

    if len(places) > 1:
        more = [say("where.more", count=str(len(places) - READ_OUT)).text] if (
            len(places) > READ_OUT) else []
        ask(WHICH, say("where.which", places=", ".join([*places[:READ_OUT], *more]),
                       new=say("where.say new").text, skip=language.commands["skip"][0]).text)
    else:
        if places:
            ask(AGAIN, say("where.here", place=places[0]).text)
        ask(NEW, say("where.is new").text, both(
            Literal(AGAIN, False), Literal(answered_fact(AGAIN))) if places else ALWAYS)
    return Checklist("where", say("where.title").text, facts, steps, tuple(steps),
                     language=language.code)


def numbered(places: Sequence[str], language: Language) -> str:
    """The name of a new place until it has one of its own: 'place three'."""
    taken = {same_name(name) for name in places}
    template = language.templates["where.numbered"]
    names = (template.format(number=say_number(Fraction(number), language)) for number in count(1))
    return next(name for name in names if same_name(name) not in taken)


def as_said(name: str, language: Language) -> str:
    """A name as a recogniser is told of it: numbers in words."""
    return normal(re.sub(r"\d{1,6}", lambda found: f" {say_number(Fraction(found[0]), language)} ",
                         name))


def phrases(places: Sequence[str], language: Language) -> dict[str, str]:
    """What may be said of where one is: phrase to the place; '' for a new one."""
    said = {normal(language.templates["where.say new"]): ""}
    for name in places:
        said[as_said(name, language)] = name
        said[normal(language.templates["where.at"].format(place=as_said(name, language)))] = name
    return {phrase: name for phrase, name in said.items() if phrase}


def alike(
    name: str, others: Sequence[str], language: Language, pronunciations: Pronunciations
) -> list[str]:
    """Names, and words that may be said beside them, that this name could be taken for.

    Words without a pronunciation are compared by their letters alone.
    """
    said = as_said(name, language)
    beside = {as_said(other, language): other for other in others} | {
        normal(words[0]): words[0] for words in language.commands.values()} | {
        normal(language.templates["where.say new"]): language.templates["where.say new"]}
    return [other for phrase, other in beside.items() if phrase == said or not unpronounced(
        [phrase, said], pronunciations) and confusability(phrase, said, pronunciations) >= REPORT_TOO_ALIKE]


class WhichPlace(Conversation):
    """Hears the names of places; each is read back before it counts."""

    def __init__(
        self, places: Sequence[str], checklist: Checklist, language: Language, log: Log,
        **options: Any,
    ) -> None:
        """`checklist` is what `which_place` made of the places."""
        super().__init__(checklist, language, log, **options)
        self._places = tuple(places)
        self._phrases = phrases(places, language)
        self._new = numbered(places, language)
        self._chosen = ""

    @property
    def place(self) -> str:
        """Where it is; '' where that was not said."""
        facts = self.state.facts
        return (self._chosen if WHICH in facts else self._places[0] if AGAIN in facts
                else self._new if NEW in facts else "")

    @property
    def _choosing(self) -> bool:
        return self.state.at == WHICH and self.state.mode is Mode.STEP

    def grammar(self) -> Grammar:
        """See `Conversation.grammar`."""
        found = super().grammar()
        return replace(found, phrases=found.phrases | {
            *self._phrases, *self.language.commands["skip"]}) if self._choosing else found

    def finalisation_delay(self, text: str) -> float:
        """See `Conversation.finalisation_delay`."""
        return FIRM if self._choosing and text in self._phrases else super().finalisation_delay(text)

    def hear(self, heard: Heard, t: float) -> list[Prompt]:
        """One utterance."""
        if not (self._choosing and isinstance(heard, Hypothesis) and not asks(heard.text)
                and heard.confidence >= self.bands.unsure):
            return super().hear(heard, t)
        said = normal(heard.text)
        if said in self._phrases:
            self._heard(heard, t, "asked")
            self._chosen = self._phrases[said] or self._new
            words = self.wording.say("where.here" if self._phrases[said] else "where.named",
                                     place=self._chosen).text
            return [replace(prompt, text=words) if prompt.key == "did you say" else prompt
                    for prompt in self.take(Unsure(Answer(True)), t, said=said)]
        if said in self.language.commands["skip"]:
            self._heard(heard, t, "asked")
            return self.take(Answer(False), t)
        return super().hear(heard, t)

    def begin(self, record: frozenset[str], t: float, **about: Any) -> list[Prompt]:
        """See `Conversation.begin`."""
        return [self._told(prompt) for prompt in super().begin(record, t, **about)
                if prompt.key != "opening"]

    def take(self, event: Event, t: float, **about: Any) -> list[Prompt]:
        """See `Conversation.take`; a yes to the names says which is none of them."""
        if self._choosing and event == Answer(True) and not self._chosen:
            return [self._told(self.wording.say("say again", tone="attention"))]
        return [self._told(prompt) for prompt in super().take(event, t, **about)]

    def _told(self, prompt: Prompt) -> Prompt:
        """Questions as they are; of the answers only the place."""
        if prompt.key == "offer":
            hint = "" if prompt.about != WHICH else self.wording.say("hint.question").text
            return replace(prompt, text=prompt.text.removesuffix(hint).strip()) if hint else prompt
        if prompt.key == "answered yes":
            return replace(prompt, text=self.wording.say("where.noted", place=self.place).text)
        if prompt.key == "answered no":
            return replace(prompt, text="")
        if prompt.key == "closed":
            words = "" if self.place else self.wording.say("where.none").text
            return replace(prompt, text=words, tone="" if words else "heard")
        return prompt
