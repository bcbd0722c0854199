"""Text to intent: only what may be said now, and only when it matches from end to end.

What is no taught phrase is looked up among the language's `sayings`: other wordings, with fillers
and politeness around them.  Pure (rapidfuzz for suggestions; hearing.types for what the recogniser
is told).
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache

from rapidfuzz import fuzz, process

from handsfree.hearing.types import Grammar
from handsfree.language.intents import (
    Both,
    Command,
    GoTo,
    Intent,
    Maybe,
    Note,
    NotHere,
    Number,
    OtherUnit,
    Remind,
    Respond,
    TakeBackStep,
    Unknown,
)
from handsfree.language.model import PREFIXES, SUFFIXES, Language
from handsfree.language.natural_wordings import sayings_of
from handsfree.language.number_words import number_words
from handsfree.language.readings import Reading, WrongUnit, parse_reading, say_reading
from handsfree.language.words import asks, normalise
from handsfree.units import UNITS

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
    counts: what a saying of another meaning counts as here: a command's id.
    maybe: the same, but it has to be asked about first.
    heard: commands that are listened for, so that they are understood and answered, not done.
    """

    commands: frozenset[str] = frozenset()
    responses: Mapping[str, str] = field(default_factory=dict)
    steps: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    waits: frozenset[str] = frozenset()
    unit: str | None = None
    instead: str | None = None
    counts: Mapping[str, str] = field(default_factory=dict)
    maybe: Mapping[str, str] = field(default_factory=dict)
    heard: frozenset[str] = frozenset()


DECOYS = 7
"""So many wordings of what is only heard to be answered are listened for."""

AFTER_AN_ANSWER = frozenset({"note", "remaining", "status", "time", "slower", "faster", "louder", "softer"})
"""What may follow an answer in one breath: nothing that could take it back, as "wait" might."""

AFTER_DONE = AFTER_AN_ANSWER | {"pause", "repeat", "help", "finish", "detail", "why"}
"""What may follow "done"."""

_GOES_ON = frozenset({"done", "acknowledged", "resume", "next"})
"""What adds nothing to "done": "done, what's next"."""


_REPORTS = frozenset({"done", "yes", "no", "confirm", "deny", "skip", "problem", "take_back", "same",
                      "acknowledged", "resume", "blank", "back"})
"""What settles something, or answers it: no question does."""


class Matcher:
    """Says what an utterance means in one language."""

    def __init__(self, language: Language) -> None:
        self.language = language
        self.sayings = sayings_of(language)

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
            units |= set(self.sayings.number_leads)
        heard = {phrase for command in expected.heard
                 for phrase in self.language.commands[command][:DECOYS]} - self._quiet(expected)
        heard |= {way for phrase in expected.responses for way in self.sayings.denied(phrase)}
        return Grammar(self.phrases(expected) | heard, numbers, units, self._alike(expected),
                       expected.unit or "", frozenset(expected.responses),
                       self._names(expected), means=self._means(expected))

    def _means(self, expected: Expected) -> Callable[[str], Hashable]:
        """What a sentence comes to at a moment, None for nothing; each is looked at once."""
        @lru_cache(maxsize=512)
        def means(text: str) -> Hashable:
            intent = self.interpret(text, expected)
            return None if isinstance(intent, Unknown) else intent

        return means

    @staticmethod
    def _names(expected: Expected) -> frozenset[str]:
        """What can be gone to, or taken back, by its name."""
        may = {"go_to", "take_back_named"} & expected.commands
        return frozenset(name for some in expected.steps.values() for name in some) if may else frozenset()

    def _alike(self, expected: Expected) -> frozenset[frozenset[str]]:
        """Phrases that mean the same, two or more of each."""
        same: dict[Intent, set[str]] = {}
        for phrase, meaning in self._phrases(expected).items():
            if meaning is not None:
                same.setdefault(meaning, set()).add(phrase)
        return frozenset(frozenset(some) for some in same.values() if len(some) > 1)

    def interpret(self, text: str, expected: Expected) -> Intent:
        """The intent of ``text``; ``Unknown`` for all that may not be said now.  With a question mark
        in it, which can only be written, it answers and reports nothing.

        Never raises for any text.
        """
        intent = self._meant(text, expected)
        if not asks(text):
            return intent
        one = intent.first if isinstance(intent, Both) else intent
        if isinstance(one, (Respond, Number)):
            return NotHere("respond")
        if isinstance(one, (TakeBackStep, Maybe)):
            return NotHere("done")
        return NotHere(one.id) if isinstance(one, Command) and one.id in _REPORTS else intent

    def _meant(self, text: str, expected: Expected) -> Intent:
        said = normalise(text)
        phrases = self._phrases(expected)
        if said in phrases:
            return phrases[said] or Unknown(said)
        if "remind" in expected.commands:
            reminder = self._reminder(said)
            if reminder:
                return reminder
        if expected.unit is not None and not (
                "no" in expected.commands and said in self.sayings.like_no):
            readings = parse_reading(text, self.language, expected.unit)
            if isinstance(readings, WrongUnit):
                other = parse_reading(text, self.language, expected.instead or expected.unit)
                if isinstance(other, WrongUnit):
                    return OtherUnit(readings)
                readings = other
            if readings:
                return Number(readings)
        return self._everyday(text, expected) or Unknown(said, self._nearest(said, expected))

    def _everyday(self, text: str, expected: Expected) -> Intent | None:
        """What is said in words of its own; None where it means nothing that is known."""
        words = self.sayings.plain(text)
        if expected.unit and "no" in expected.commands and " ".join(words) in self.sayings.like_no:
            return Command("no")  # a lone "oh" is no value that is said again
        for phrase, response in expected.responses.items():
            if self.sayings.responds(words, phrase):
                return Respond(response)
        for phrase in expected.responses:
            if words and set(words) < set(self.sayings.plain(phrase)):
                return NotHere("respond")  # a part of it
            if normalise(text) in self.sayings.denied(phrase):
                return NotHere("respond")
        meanings = self.sayings.means(words)
        here = [name for name in meanings if name in expected.commands]
        if here and here[0] in AFTER_AN_ANSWER | {"next"} and "yes" in expected.commands:
            both = self._in_one_breath(words, expected)
            if isinstance(both, Both) or both == Command("yes"):
                return both  # "yes, and make a note": this yes is no filler
        if here and here[0] != "problem":  # "one eighteen flat" is no puncture
            return Command(here[0])
        if reading := self._told_around(words, expected):
            return reading
        if here:
            return Command(here[0])
        if counted := [expected.counts[name] for name in meanings if name in expected.counts]:
            return Command(counted[0])
        if asked := [expected.maybe[name] for name in meanings if name in expected.maybe]:
            return Maybe(asked[0])
        return (self._named(words, expected) or self._in_one_breath(words, expected)
                or (NotHere(meanings[0]) if meanings else None))

    def _told_around(self, words: tuple[str, ...], expected: Expected) -> Number | None:
        """A reading with words around it."""
        if expected.unit is None:
            return None
        if self.sayings.is_zero(words, expected.unit):
            return Number((Reading(Fraction(0), expected.unit),))
        for inner in self.sayings.around_a_number(words):
            for unit in (expected.unit, expected.instead):
                readings = parse_reading(" ".join(inner), self.language, unit) if unit else ()
                if readings and not isinstance(readings, WrongUnit):
                    return Number(readings)
        return None

    def _named(self, words: tuple[str, ...], expected: Expected) -> Intent | None:
        """An order with a step's name, or a number of minutes, in it."""
        names: dict[tuple[str, ...], set[str]] = {}
        for step, some in expected.steps.items():
            for name in some:
                names.setdefault(self.sayings.plain(name), set()).add(step)
        for kind, middle in self.sayings.named(words):
            steps = names.get(middle, set())
            if kind in expected.commands and kind != "remind" and len(steps) == 1:
                return (GoTo if kind == "go_to" else TakeBackStep)(*steps)
            if kind == "remind" and kind in expected.commands:
                readings = parse_reading(" ".join(middle), self.language, "minutes")
                if not isinstance(readings, WrongUnit):
                    good = tuple(r for r in readings if r.value > 0)
                    if good:
                        return Remind(good)
        return None

    def _in_one_breath(self, words: tuple[str, ...], expected: Expected) -> Intent | None:
        """ "Done, and make a note ..."; a note with its words."""
        for first, rest in self.sayings.in_one_breath(words):
            before = self.sayings.means(first)
            if before and (twice := [name for name in self.sayings.means(rest) if name in before]):
                here = [name for name in twice if name in expected.commands]
                return Command(here[0]) if here else NotHere(twice[0])
            if (own := self._reported(first, before, expected)) is not None:
                if both := self._and_then(own, rest, expected):
                    return both
            elif "done" in before and self.sayings.means(rest):
                return NotHere("done")
        return self._note(words, expected)

    def _reported(
        self, first: tuple[str, ...], meanings: tuple[str, ...], expected: Expected
    ) -> Command | Respond | Number | None:
        """What is answered here by the first of two things that are said in one breath; by the same law
        as if it were all."""
        for phrase, response in expected.responses.items():
            if self.sayings.responds(first, phrase):
                return Respond(response)
        for name in ("done", "yes", "no", "confirm"):
            if name in meanings and name in expected.commands:
                return Command(name)
        return self._told_around(first, expected)

    def _and_then(
        self, own: Command | Respond | Number, rest: tuple[str, ...], expected: Expected
    ) -> Intent | None:
        """With the second of them: something that goes on anyway, an order, a note, a reminder.

        Behind the answer of a hold point there may be no filler that could belong to it ("chocks set I
        think, what's next").
        """
        if isinstance(own, Respond) and self.sayings.edged(rest):
            return None
        meanings = self.sayings.means(rest)
        if _GOES_ON.intersection(meanings):
            done = isinstance(own, Number) and " ".join(rest) in self.language.commands["done"]
            return None if done else own
        if own == Command("confirm"):
            return None
        may = AFTER_DONE if own == Command("done") else AFTER_AN_ANSWER
        for name in meanings:
            if name in may & expected.commands:
                return Both(own, Command(name))
        reminder = self._named(rest, replace(expected, steps={}))
        then = reminder if isinstance(reminder, Remind) else self._note(rest, expected)
        return Both(own, then) if then else None

    def _note(self, words: tuple[str, ...], expected: Expected) -> Note | None:
        if "note" not in expected.commands:
            return None
        for first, rest in self.sayings.in_one_breath(words):
            if len(rest) > 1 and "note" in self.sayings.means(first):
                return Note(" ".join(self.sayings.without_opener(rest)))
        return None

    def phrases(self, expected: Expected) -> frozenset[str]:
        """Every whole phrase that may be said now, in normal form (no readings)."""
        found = set(self._phrases(expected)) - self._quiet(expected)
        if "remind" in expected.commands:
            for prefix in self.language.commands["remind"]:
                for n in REMINDER_MINUTES:
                    reading = say_reading(Reading(Fraction(n), "minutes"), self.language)
                    found.add(f"{prefix} {normalise(reading)}")
        return frozenset(found)

    def _quiet(self, expected: Expected) -> frozenset[str]:
        """Taught words that are understood but not listened for at such a moment."""
        found: frozenset[str] = frozenset()
        for where, here in (("number", expected.unit is not None), ("yes", "yes" in expected.commands)):
            found |= self.sayings.quiet.get(where, frozenset()) if here else frozenset()
        return found

    def _phrases(self, expected: Expected) -> dict[str, Intent | None]:
        """Phrase to its meaning; to None where two things share a name."""
        found: dict[str, Intent | None] = {}
        for part in self._parts(expected):
            _join(found, part)
        return found

    def _parts(self, expected: Expected) -> Iterator[Mapping[str, Intent | None]]:
        """The same piece by piece, each of which is made once."""
        yield _of_commands(self.language, expected.commands)
        for phrase, response in expected.responses.items():
            yield _of_response(self.language, phrase, response)
        for prefix in ("go_to", "take_back_named"):
            if prefix in expected.commands:
                for step, names in expected.steps.items():
                    yield _of_name(self.language, prefix, step, names)
        for step in expected.waits:
            yield _of_name(self.language, "now", step, expected.steps.get(step, ()))

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


def _join(found: dict[str, Intent | None], more: Mapping[str, Intent | None]) -> None:
    """Add phrases; one that is there with another meaning has none from then on."""
    if found.keys().isdisjoint(more):
        found.update(more)
        return
    for phrase, meaning in more.items():
        found[phrase] = meaning if found.get(phrase, meaning) == meaning else None


def _joined(pairs: Iterable[tuple[str, Intent]]) -> Mapping[str, Intent | None]:
    found: dict[str, Intent | None] = {}
    for phrase, meaning in pairs:
        _join(found, {phrase: meaning})
    return found


@lru_cache(maxsize=256)
def _of_commands(language: Language, commands: frozenset[str]) -> Mapping[str, Intent | None]:
    """Their wordings, and those of "done" and a command in one breath."""
    alone = ((phrase, Command(command)) for command in commands.difference(PREFIXES, SUFFIXES)
             for phrase in language.commands[command])
    breath = ((phrase, Both(Command("done"), Command(command)))
              for command, phrases in sayings_of(language).breath.items()
              if {"done", command} <= commands for phrase in phrases)
    return _joined((*alone, *breath))


@lru_cache(maxsize=1024)
def _of_response(language: Language, phrase: str, response: str) -> Mapping[str, Intent | None]:
    return dict.fromkeys(sayings_of(language).ways(phrase), Respond(response))


@lru_cache(maxsize=4096)
def _of_name(
    language: Language, order: str, step: str, names: tuple[str, ...]
) -> Mapping[str, Intent | None]:
    """A step's names with the words of an order before them, or of "now" behind."""
    form = "{1} {0}" if order in SUFFIXES else "{0} {1}"
    meant = (TakeBackStep if order == "take_back_named" else GoTo)(step)
    return {form.format(words, normalise(name)): meant
            for words in language.commands[order] for name in names}
