"""Phrases that may be said at one moment, mean different things and sound too alike.

May import rapidfuzz, the checklist model, the language room, the session's `expecting`, this room.

Every kind of moment is looked at: each step and its readback, remedies, paused, closing, blocked,
waiting, each alarm and its readback (`moments`).  Thresholds and the published confusions that they
rest on are in `language.confusability`; where one of the two phrases changes the record, they have to be
ten times further apart.  Two numbers are not held against each other: thirteen is like thirty
whatever is done, and every reading is read back.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from rapidfuzz.distance import Levenshtein
from rapidfuzz.process import cdist

from handsfree.checklist.model import Checklist, Origin, Step
from handsfree.language.confusability import (
    REPORT_TOO_ALIKE,
    TOO_ALIKE,
    Pronunciations,
    confusability_of,
    sounds,
)
from handsfree.language.intents import Both, Command, Intent, Number, Respond, Unknown
from handsfree.language.matcher import Expected, Matcher
from handsfree.language.model import COMMANDS, Language
from handsfree.language.natural_wordings import sayings_of
from handsfree.language.number_words import number_words
from handsfree.language.numbers import parse_number
from handsfree.language.words import normalise
from handsfree.proof.findings import Finding
from handsfree.proof.moments import moments
from handsfree.session.expecting import expected

REPORTS = frozenset({"done", "skip", "take_back", "finish", "yes", "no", "confirm", "deny"})
"""Commands that change the record, or are the answer on which it changes."""

_CHEAPEST = 0.7
"""Least cost of one sound in place of another in `language.confusability`: bounds the edits."""

_LONGEST = 4
"""So many edits more than that bound are never worth it: sounds left out cost twice as much."""


@dataclass(frozen=True)
class Near:
    """Two phrases that sound near, at or above the threshold for reports."""

    one: str
    other: str
    confusability: float
    number: bool = False
    """One of them is a number word: only where a reading is due."""


def vocabulary(checklist: Checklist, language: Language) -> frozenset[str]:
    """Every phrase that may be said anywhere in the checklist; of readings, single words."""
    found = {phrase for command in COMMANDS for phrase in language.commands[command]}
    ways = sayings_of(language).ways
    found |= {phrase for some in sayings_of(language).breath.values() for phrase in some}
    for step in checklist.steps.values():
        found |= _reports(step, ways)
        for name in map(normalise, step.spoken_names):
            for prefix in ("go_to", "take_back_named"):
                found |= {f"{start} {name}" for start in language.commands[prefix]}
            if step.wait:
                found |= {f"{name} {end}" for end in language.commands["now"]}
    found |= {way for rule in checklist.rules for words in rule.responses for way in ways(words)}
    numbers = {word for word in number_words(language) if parse_number(word, language)}
    return frozenset(found | numbers) - {""}


def _reports(step: Step, ways: Callable[[str], Iterable[str]]) -> set[str]:
    return {way for words in step.responses for way in ways(words)} - {""}


def near(
    checklists: Iterable[Checklist], language: Language, pronunciations: Pronunciations
) -> list[Near]:
    """Pairs of all their phrases that sound so near that a moment has to be looked for."""
    checklists = list(checklists)
    phrases = sorted(frozenset().union(*(vocabulary(one, language) for one in checklists)))
    reports = {normalise(phrase) for command in REPORTS for phrase in language.commands[command]}
    said = sayings_of(language).ways
    reports |= {way for one in checklists for rule in one.rules
                for words in rule.responses for way in said(words)}
    reports |= {r for one in checklists for step in one.steps.values() for r in _reports(step, said)}
    ways = {phrase: sounds(phrase, pronunciations) for phrase in phrases}
    every = _coded(ways)
    few = [pair for pair in every if pair[0] in reports]
    found: dict[tuple[str, str], float] = {}
    for some, limit in ((every, TOO_ALIKE), (few, REPORT_TOO_ALIKE)):
        for one, other in _within(some, every, limit):
            if (one, other) not in found:
                found[one, other] = confusability_of(ways[one], ways[other])
    numbers = number_words(language)
    return [Near(one, other, value, bool({one, other} & numbers))
            for (one, other), value in sorted(found.items())
            if value >= (REPORT_TOO_ALIKE if {one, other} & reports else TOO_ALIKE)
            and not {one, other} <= numbers and not _same_command(one, other, language)]


def _coded(ways: dict[str, list[tuple[str, ...]]]) -> list[tuple[str, str]]:
    """(phrase, its sounds with a character each), once for each way to say it."""
    known = sorted({sound for some in ways.values() for way in some for sound in way})
    signs = {sound: chr(33 + place) for place, sound in enumerate(known)}
    return [(phrase, "".join([signs[sound] for sound in way]))
            for phrase, some in ways.items() for way in some]


def _within(
    some: list[tuple[str, str]], every: list[tuple[str, str]], limit: float
) -> Iterator[tuple[str, str]]:
    """Pairs of phrases whose sounds are so few edits apart that the limit may be reached."""
    most = min(int(-math.log(limit) / _CHEAPEST), _LONGEST)
    ours, theirs = _by_length(some), _by_length(every)
    for length, here in ours.items():
        there = [pair for other, pairs in theirs.items() if abs(other - length) <= most
                 for pair in pairs]
        edits = cdist([code for _, code in here], [code for _, code in there],
                      scorer=Levenshtein.distance, score_cutoff=most, dtype=np.uint8)
        for at, to in np.argwhere(edits <= most):
            one, other = sorted((here[at][0], there[to][0]))
            if one != other:
                yield one, other


def _by_length(pairs: list[tuple[str, str]]) -> dict[int, list[tuple[str, str]]]:
    found: dict[int, list[tuple[str, str]]] = {}
    for pair in pairs:
        found.setdefault(len(pair[1]), []).append(pair)
    return found


def alike(
    checklist: Checklist, language: Language, found: Iterable[Near]
) -> Iterator[Finding]:
    """Those of the near pairs that may be said at one moment and mean different things."""
    commands = {phrase: command for command in COMMANDS for phrase in language.commands[command]}
    for step in checklist.steps.values():
        for words in {normalise(words) for words in step.responses} & commands.keys():
            yield Finding("alike", f"the response '{words}' sounds like the command of the"
                          " same words; choose other words for it.", step.file, step.line,
                          subject=step.id)
    here = vocabulary(checklist, language)
    open_pairs = [pair for pair in found if pair.one in here and pair.other in here]
    matcher, numbers = Matcher(language), number_words(language)
    for traits in _rigs(checklist) if open_pairs else ():
        for moment in moments(checklist, traits):
            at = checklist.steps.get(moment.step)
            some = [pair for pair in open_pairs if not pair.number or at and at.reading]
            if not some:
                continue
            expects = expected(checklist, moment.state)
            some = [pair for pair in some if expects.commands.issuperset(
                commands[text] for text in (pair.one, pair.other) if text in commands)]
            phrases = matcher.phrases(expects) if some else frozenset()
            for pair in some:  # what is no phrase of the moment means nothing, but for a number
                if ({pair.one, pair.other} - numbers <= phrases
                        and _clash(pair, expects, matcher)):
                    open_pairs.remove(pair)
                    yield _finding(checklist, pair, moment.kind, moment.step)


def _same_command(one: str, other: str, language: Language) -> bool:
    return any(one in phrases and other in phrases for phrases in language.commands.values())


def _clash(pair: Near, expects: Expected, matcher: Matcher) -> bool:
    one, other = (matcher.interpret(text, expects) for text in (pair.one, pair.other))
    if isinstance(one, Unknown) or isinstance(other, Unknown) or one == other:
        return False
    if isinstance(one, Number) and isinstance(other, Number):
        return False
    changes = any(_reporting(intent) for intent in (one, other)
                  if not ("no" in expects.commands and expects.unit and _denies(intent)))
    return pair.confusability >= (REPORT_TOO_ALIKE if changes else TOO_ALIKE)


def _denies(intent: Intent) -> bool:
    """After a reading was read back, a no only has it read out once more."""
    return isinstance(intent, Command) and intent.id in ("no", "deny")


def _reporting(intent: Intent) -> bool:
    return isinstance(intent, (Respond, Both)) or (
        isinstance(intent, Command) and intent.id in REPORTS)


def _rigs(checklist: Checklist) -> tuple[frozenset[str], frozenset[str]]:
    """A rig with every trait and one with none: each step that can be called is on one of them,
    but for one that wants some traits and not others."""
    traits = (fact.name for fact in checklist.facts.values() if fact.origin is Origin.TRAIT)
    return frozenset(traits), frozenset()


def _finding(checklist: Checklist, pair: Near, kind: str, name: str) -> Finding:
    step = checklist.steps.get(name)
    where = f"at '{name}' ({kind})" if step else f"while {kind}"
    message = (f"'{pair.one}' and '{pair.other}' mean different things {where} and sound alike"
               f" ({pair.confusability:.2f}); choose other words for one of them.")
    return Finding("alike", message, step.file if step else checklist.file,
                   step.line if step else 0, subject=name)
