"""What is said at which moment: every wording of the commands, responses and readings.

May import the checklists, the engine's states, what may be said at them, and the language.
"""

from __future__ import annotations

import random
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.state import Ask, Confirm, Respond, State, Unclear
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection, normal
from handsfree.language.matcher import Matcher
from handsfree.language.model import COMMANDS, Language
from handsfree.language.readings import WrongUnit, parse_reading
from handsfree.proof.moments import moments
from handsfree.session.expecting import expected
from handsfree.session.understanding import Bands, Meaning, needed, understand
from handsfree.storage.paths import checklists_folder, find_rig

CHECKLISTS = ("arrive", "depart")
RIG = "survey-trailer"

READINGS = (
    "one hundred and eighteen volts", "one eighteen volts", "ninety seven volts", "one eighteen",
    "volts one two one", "one hundred and nine point five", "fifty five psi", "five five psi",
    "sixty psi", "forty eight", "two and a half degrees", "one point five degrees",
    "minus two degrees", "three quarters of an inch", "a quarter inch", "seven inches",
    "two and a quarter inches", "half an inch", "thirty amps", "twelve feet", "eighty percent",
    "sixty four", "one oh eight", "niner", "zero degrees",
)
"""Readings as people say them; one is used where a shipped step asks for its quantity."""


@dataclass(frozen=True, eq=False)
class Moment:
    """A moment of a shipped checklist, and what may be said at it."""

    kind: str
    checklist: Checklist
    state: State
    matcher: Matcher

    @cached_property
    def grammar(self) -> Grammar:
        """What is listened for at it."""
        return self.matcher.grammar(expected(self.checklist, self.state))

    def means(self, heard: Heard) -> Hashable:
        """What was heard comes to, were it certain; None for nothing at all."""
        if not isinstance(heard, Hypothesis):
            return None
        return self.meaning(heard.text)

    def needs(self, heard: Heard) -> float:
        """The confidence with which what was heard is acted on here."""
        if not isinstance(heard, Hypothesis):
            return Bands().certain
        meant = self._meant(heard.text)
        return needed(heard.text, meant, self.checklist, self.state, Bands(),
                      self.matcher.language.code)

    def meaning(self, text: str) -> Hashable:
        """What a text comes to here; None for nothing."""
        meant = self._meant(text)
        if isinstance(meant.event, Unclear):
            return None
        values = tuple(reading.value for reading in meant.readings)
        # Every wording of a question to the program is as good as another.
        event = meant.event.about if isinstance(meant.event, Ask) else repr(meant.event)
        return (event if meant.event else "", meant.own, values, meant.other_unit)

    def counts(self, text: str) -> bool:
        """Whether it does something here, and is not only answered by what is wanted."""
        return self._meant(text).own != "wanted"

    def written(self, heard: Rejection) -> Meaning:
        """What comes of words that are no phrase here, and were written down freely."""
        return understand(heard, self.checklist, self.state, self.matcher, Bands())

    def settles(self, heard: Hypothesis) -> bool:
        """Whether it answers the hold point or alarm at hand, or confirms what was read back, were it
        certain."""
        sure = replace(heard, confidence=1.0)
        meant = understand(sure, self.checklist, self.state, self.matcher, Bands())
        return isinstance(meant.event, (Respond, Confirm))

    def _meant(self, text: str) -> Meaning:
        sure = Hypothesis(text, 1.0, 0.0, 0.0)
        return understand(sure, self.checklist, self.state, self.matcher, Bands())


@lru_cache(maxsize=64)
def shipped_moments(
    language: Language, names: tuple[str, ...] = CHECKLISTS
) -> tuple[Moment, ...]:
    """Of these checklists with the survey trailer: of arriving and departing, when left out."""
    matcher, found = Matcher(language), []
    rig = load_rig(find_rig(RIG))
    for name in names:
        checklist = load_checklist(
            checklists_folder() / f"{name}.yaml", rig=rig, library=checklists_folder())
        for one in moments(checklist, rig.has):
            found.append(Moment(one.kind, checklist, one.state, matcher))
    return tuple(found)


def responses(found: Sequence[Moment]) -> dict[str, Moment]:
    """The response of each hold point, and where it is said."""
    return {normal(moment.checklist.steps[moment.state.at].respond): moment
            for moment in found if moment.kind.endswith("hold")}


def commands(found: Sequence[Moment], language: Language, rng: random.Random) -> dict[str, Moment]:
    """Every wording of every command, and a moment at which it may be said."""
    placed = {}
    for command, wordings in language.commands.items():
        if command not in COMMANDS:
            continue
        for phrase in map(normal, wordings):
            where = [moment for moment in found if phrase in moment.grammar.phrases]
            rng.shuffle(where)
            counts = next((moment for moment in where if moment.counts(phrase)), None)
            if counts:
                placed[phrase] = counts
    return placed


def readings(found: Sequence[Moment], language: Language) -> dict[str, Moment]:
    """Each of `READINGS` with a step that asks for such a thing."""
    due = [moment for moment in found if moment.kind.endswith("reading")]
    placed = {}
    for text in READINGS:
        for moment in due:
            reading = moment.checklist.steps[moment.state.at].reading
            assert reading is not None
            meant = parse_reading(text, language, reading.unit)
            if meant and not isinstance(meant, WrongUnit):
                placed[text] = moment
                break
    return placed
