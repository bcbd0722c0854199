"""What is wrong with a checklist's wording as something spoken: too long, twice negated …

May import the checklist model, the language room, the session's `expecting`, and this room.

Rules, and what they rest on:

- A challenge has at most 12 words: a limit of our own, without a source; checklists are to be short and
  chunked (Degani and Wiener, NASA CR-177549, 1990, guidelines, from memory).
- No two challenges that one rig can hear in a checklist begin with the same three words: items
  that look alike are skipped or doubled (same source).
- No two negations in one clause: each slows understanding and invites the opposite (Wason 1959,
  Quarterly Journal of Experimental Psychology 11, from memory).
- A value that is to be read has a limit, so that the answer is a value and not "checked" (Degani
  and Wiener, as above).
- No two phrases that mean different things and may be said at one moment sound alike; see `confusability`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations

from handsfree.checklist.model import Checklist, Origin, Step
from handsfree.language.words import normalise
from handsfree.proof.findings import Finding
from handsfree.session.expecting import on_this_rig

MOST_WORDS = 12
_FIRST_WORDS = 3

_NEGATION = re.compile(
    r"\b(not|no|none|never|nothing|nobody|nowhere|neither|nor|without|cannot|\w+n't)\b", re.IGNORECASE)
_CLAUSES = re.compile(r"[.,;:?!]|\band\b|\bor\b|\bbut\b", re.IGNORECASE)
_READ = re.compile(r"\bread\b", re.IGNORECASE)


def spoken(checklist: Checklist) -> Iterator[Finding]:
    """Everything about a checklist's own wording; the English rules for English only."""
    for step in checklist.steps.values():
        yield from _length(step)
        if checklist.language == "en":
            yield from _negations(step)
            yield from _unread(step)
    yield from _beginnings(checklist)


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
