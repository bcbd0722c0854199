"""What is wrong with a checklist as something spoken: too long, too alike, twice negated.

May import the checklist model, the language room, the session's `expecting`, and this room.

Rules, and what they rest on:

- A challenge has at most 12 words: seven seconds at the 100 words a minute that ICAO Annex 10
  volume II, 5.2.1.5.3 (from memory) allows; checklists are to be short and chunked (Degani and
  Wiener, NASA CR-177549, 1990, guidelines, from memory).
- No two challenges that one rig can hear in a checklist begin with the same three words: items
  that look alike are skipped or doubled (same source).
- No two negations in one clause: each slows understanding and invites the opposite (Wason 1959,
  Quarterly Journal of Experimental Psychology 11, from memory).
- A value that is to be read has a limit, so that the answer is a value and not "checked" (Degani
  and Wiener, as above).
- A hold point's response is unlike everything else that may be said there: likeness of sounds
  below the threshold that `language.likeness` takes from published confusions.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from itertools import combinations

from handsfree.checklist.model import Checklist, Origin, Step
from handsfree.language.likeness import TOO_ALIKE, likeness, unpronounced
from handsfree.language.model import Language
from handsfree.language.words import normalise
from handsfree.proof.findings import Finding
from handsfree.session.expecting import AT_A_STEP, on_this_rig, spoken_names

MOST_WORDS = 12
_FIRST_WORDS = 3

Pronunciations = Mapping[str, tuple[str, ...]]
Pronouncer = Callable[[frozenset[str]], Pronunciations]
"""Gives the pronunciations of words; a word that it does not know may be left out."""

_NEGATION = re.compile(
    r"\b(not|no|none|never|nothing|nobody|nowhere|neither|nor|without|cannot|\w+n't)\b", re.I)
_CLAUSES = re.compile(r"[.,;:?!]|\band\b|\bor\b|\bbut\b", re.I)
_READ = re.compile(r"\bread\b", re.I)


def spoken(language: Language, pronounce: Pronouncer) -> Callable[[Checklist], list[Finding]]:
    """Finds everything about a checklist's spoken text; what was compared once is remembered."""
    alike = cache(lambda one, other: _likeness(one, other, pronounce))

    def findings(checklist: Checklist) -> list[Finding]:
        return list(_findings(checklist, language, alike))

    return findings


def _likeness(one: str, other: str, pronounce: Pronouncer) -> float:
    """0 where a word has no known pronunciation."""
    sounds = pronounce(frozenset(one.split()) | frozenset(other.split()))
    return 0.0 if unpronounced([one, other], sounds) else likeness(one, other, sounds)


def _findings(
    checklist: Checklist, language: Language, alike: Callable[[str, str], float]
) -> Iterator[Finding]:
    """The English rules for English only."""
    for step in checklist.steps.values():
        yield from _length(step)
        if checklist.language == "en":
            yield from _negations(step)
            yield from _unread(step)
    yield from _beginnings(checklist)
    if checklist.language == "en":
        yield from _alike(checklist, language, alike)


def _finding(kind: str, step: Step, message: str) -> Finding:
    return Finding(kind, message, step.file, step.line, subject=step.id)


def _length(step: Step) -> Iterator[Finding]:
    words = len(step.do.split())
    if words > MOST_WORDS:
        yield _finding("too long", step, (
            f"the challenge of '{step.id}' has {words} words, more than the {MOST_WORDS} that are"
            " held in memory while hands work; move the rest to 'detail:'."))


def _negations(step: Step) -> Iterator[Finding]:
    for clause in _CLAUSES.split(step.do):
        found = _NEGATION.findall(clause)
        if len(found) > 1:
            yield _finding("double negative", step, (
                f"the challenge of '{step.id}' says '{found[0]}' and '{found[1]}' in one clause;"
                " say what should be so instead."))


def _unread(step: Step) -> Iterator[Finding]:
    if _READ.search(step.do) and step.reading is None and not step.question:
        yield _finding("no limit", step, (
            f"'{step.id}' asks to read a value but has no limits to judge it by; add 'reading:'"
            " with its unit and limits, or ask for something to look at."))


def _beginnings(checklist: Checklist) -> Iterator[Finding]:
    begun: dict[tuple[str, ...], list[Step]] = {}
    for step in checklist.steps.values():
        first = tuple(normalise(step.do).split()[:_FIRST_WORDS])
        for other in begun.get(first, ()):
            if len(first) == _FIRST_WORDS and step.do != other.do and _together(
                    checklist, step, other):
                yield _finding("start alike", step, (
                    f"the challenges of '{other.id}' and '{step.id}' begin with the same words,"
                    f" '{' '.join(first)}'; begin one of them otherwise."))
        begun.setdefault(first, []).append(step)


def _together(checklist: Checklist, one: Step, other: Step) -> bool:
    """Whether one rig can have both steps, as far as single traits tell."""
    traits = [fact.name for fact in checklist.facts.values() if fact.origin is Origin.TRAIT]
    relevant = [name for name in traits
                if name in one.only_if.names() | other.only_if.names()]
    for size in range(len(relevant) + 1):
        for has in combinations(relevant, size):
            if on_this_rig(checklist, one, frozenset(has)) and on_this_rig(
                    checklist, other, frozenset(has)):
                return True
    return False


def sayable(checklist: Checklist, language: Language) -> frozenset[str]:
    """Every word of the phrases that are compared."""
    phrases = _commands(language) | _names(checklist, language) | {
        normalise(step.respond) for step in checklist.steps.values()}
    return frozenset(word for phrase in phrases for word in phrase.split())


def _commands(language: Language) -> set[str]:
    return {phrase for command in AT_A_STEP | {"confirm", "deny"}
            for phrase in language.commands.get(command, ())}


def _names(checklist: Checklist, language: Language) -> set[str]:
    return {f"{language.commands['go_to'][0]} {normalise(name)}"
            for step in checklist.steps.values() for name in spoken_names(step)}


def _alike(
    checklist: Checklist, language: Language, alike: Callable[[str, str], float]
) -> Iterator[Finding]:
    others = sorted(_commands(language) | _names(checklist, language))
    for step in checklist.steps.values():
        response = normalise(step.respond)
        for other in others if response else ():
            found = alike(response, other)
            if found >= TOO_ALIKE:
                yield _finding("alike", step, (
                    f"the response '{response}' sounds like '{other}' ({found:.2f}, the limit is"
                    f" {TOO_ALIKE:.2f}); choose other words for one of them."))
