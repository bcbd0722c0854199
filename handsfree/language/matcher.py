"""Text to intent: only what may be said now, and only when it matches exactly.

Pure (rapidfuzz for suggestions; hearing.types for what the recogniser is told).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from rapidfuzz import fuzz, process

from handsfree.hearing.types import Grammar
from handsfree.language.intents import (
    Command,
    GoTo,
    Intent,
    Number,
    OtherUnit,
    Remind,
    Respond,
    TakeBackStep,
    Unknown,
)
from handsfree.language.model import PREFIXES, SUFFIXES, Language
from handsfree.language.number_words import number_words
from handsfree.language.readings import Reading, WrongUnit, parse_reading, say_reading
from handsfree.language.units import UNITS
from handsfree.language.words import normalise

REMINDER_MINUTES = (1, 2, 3, 5, 10, 15, 20, 30, 45, 60)
"""Whole numbers of minutes that the recogniser is told of for reminders."""

_SUGGEST_FROM = 70.0
"""Least rapidfuzz ratio (0 to 100) of a suggestion."""



@dataclass(frozen=True, eq=False)
class Expected:
    """What may be said now.

    commands: ids of ``model.COMMANDS``, ``model.PREFIXES`` and ``model.SUFFIXES``.
    responses: response phrase to response id.
    steps: step id to the names it can be called by, for ``go_to`` and ``take_back_named``.
    waits: those of ``steps`` that can be called for before they are due, by name and ``now``.
    unit: unit id of the reading that is due, or None.
    instead: unit id in which it may be told as well, of another quantity, or None.
    """

    commands: frozenset[str] = frozenset()
    responses: Mapping[str, str] = field(default_factory=dict)
    steps: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    waits: frozenset[str] = frozenset()
    unit: str | None = None
    instead: str | None = None


class Matcher:
    """Says what an utterance means in one language."""

    def __init__(self, language: Language) -> None:
        self.language = language

    def grammar(self, expected: Expected) -> Grammar:
        """What the recogniser is told to listen for."""
        numbers: frozenset[str] = frozenset()
        units: frozenset[str] = frozenset()
        if expected.unit is not None:
            numbers = number_words(self.language)
            quantities = {UNITS[unit].quantity for unit in (expected.unit, expected.instead) if unit}
            units = frozenset(
                form for unit, words in self.language.units.items()
                if UNITS[unit].quantity in quantities for form in words.pieces
            )
        return Grammar(self.phrases(expected), numbers, units, self._alike(expected),
                       expected.unit or "")

    def _alike(self, expected: Expected) -> frozenset[frozenset[str]]:
        """Phrases that mean the same, two or more of each."""
        same: dict[Intent, set[str]] = {}
        for phrase, meanings in self._phrases(expected).items():
            if len(meanings) == 1:
                same.setdefault(next(iter(meanings)), set()).add(phrase)
        return frozenset(frozenset(some) for some in same.values() if len(some) > 1)

    def interpret(self, text: str, expected: Expected) -> Intent:
        """The intent of ``text``; ``Unknown`` for all that may not be said now.

        Never raises for any text.
        """
        said = normalise(text)
        meanings = self._phrases(expected).get(said)
        if meanings and len(meanings) == 1:
            return next(iter(meanings))
        if meanings:
            return Unknown(said)
        if "remind" in expected.commands:
            reminder = self._reminder(said)
            if reminder:
                return reminder
        if expected.unit is not None:
            readings = parse_reading(text, self.language, expected.unit)
            if isinstance(readings, WrongUnit):
                other = parse_reading(text, self.language, expected.instead or expected.unit)
                if isinstance(other, WrongUnit):
                    return OtherUnit(readings)
                readings = other
            if readings:
                return Number(readings)
        return Unknown(said, self._nearest(said, expected))

    def phrases(self, expected: Expected) -> frozenset[str]:
        """Every whole phrase that may be said now, in normal form (no readings)."""
        found = set(self._phrases(expected))
        if "remind" in expected.commands:
            for prefix in self.language.commands["remind"]:
                for n in REMINDER_MINUTES:
                    reading = say_reading(Reading(Fraction(n), "minutes"), self.language)
                    found.add(f"{prefix} {normalise(reading)}")
        return frozenset(found)

    def clashes(self, expected: Expected) -> frozenset[str]:
        """Phrases that would mean two things, and so are never understood."""
        return frozenset(p for p, meanings in self._phrases(expected).items() if len(meanings) > 1)

    def _phrases(self, expected: Expected) -> dict[str, set[Intent]]:
        """Phrase to its meanings; more than one where two things share a name."""
        found: dict[str, set[Intent]] = {}
        for phrase, intent in self._each(expected):
            found.setdefault(phrase, set()).add(intent)
        return found

    def _each(self, expected: Expected) -> Iterator[tuple[str, Intent]]:
        for command in expected.commands.difference(PREFIXES, SUFFIXES):
            for phrase in self.language.commands[command]:
                yield phrase, Command(command)
        for phrase, response in expected.responses.items():
            yield normalise(phrase), Respond(response)
        for prefix_id, intent in (("go_to", GoTo), ("take_back_named", TakeBackStep)):
            if prefix_id in expected.commands:
                for prefix in self.language.commands[prefix_id]:
                    for step_id, names in expected.steps.items():
                        for name in names:
                            yield f"{prefix} {normalise(name)}", intent(step_id)
        for step_id in expected.waits:
            for name in expected.steps.get(step_id, ()):
                for suffix in self.language.commands["now"]:
                    yield f"{normalise(name)} {suffix}", GoTo(step_id)

    def _reminder(self, said: str) -> Remind | None:
        for prefix in self.language.commands["remind"]:
            if said.startswith(f"{prefix} "):
                readings = parse_reading(said[len(prefix) :], self.language, "minutes")
                if not isinstance(readings, WrongUnit):
                    good = tuple(r for r in readings if r.value > 0)
                    if good:
                        return Remind(good)
        return None

    def _nearest(self, said: str, expected: Expected) -> str:
        best = process.extractOne(
            said, sorted(self.phrases(expected)), scorer=fuzz.ratio, score_cutoff=_SUGGEST_FROM
        )
        return best[0] if best else ""
