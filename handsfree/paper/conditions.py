"""Conditions as a rig's paper says them: traits are settled, what goes without saying is left out.

Pure.  May import the checklist model and the session's wording.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from handsfree.checklist.conditions import ALWAYS, NEVER, All, AnyOf, Condition, Literal
from handsfree.checklist.model import Checklist, Origin, Step

Say = Callable[[Literal], str]
"""A literal as a clause."""


@dataclass(frozen=True)
class OneRig:
    """What decides conditions for one rig: the traits it `has`, and what `can_be` of its facts.

    `can_be` holds (fact, true or false).  No chains, no question whether the chains are off.
    """

    has: frozenset[str]
    can_be: frozenset[tuple[str, bool]]

    def settles(self, literal: Literal, checklist: Checklist) -> Condition:
        """`ALWAYS` or `NEVER` where the rig decides the literal, else the literal.

        Answers to site questions count as given: the reader of a paper has them before them.
        """
        origin = checklist.facts[literal.fact].origin
        if origin is Origin.TRAIT:
            return ALWAYS if literal.holds(self.has) else NEVER
        if origin is Origin.ANSWERED or (literal.fact, not literal.wanted) not in self.can_be:
            return ALWAYS
        return literal if (literal.fact, literal.wanted) in self.can_be else NEVER


def one_rig(has: frozenset[str], checklists: Iterable[Checklist]) -> OneRig:
    """The rig as all these checklists know it.

    A fact can be what it starts as, and whatever a step makes of it that the rig can come to.
    """
    checklists = tuple(checklists)
    can_be = frozenset(
        (fact.name, fact.start) for c in checklists for fact in c.facts.values())
    while True:
        rig = OneRig(has, can_be)
        for c in checklists:
            for step in c.steps.values():
                if for_rig(All((step.applicable, step.needs)), c, rig) != NEVER:
                    can_be |= {(fact, True) for fact in step.gives}
                    can_be |= {(fact, False) for fact in step.ends}
                    can_be |= {(fact, False) for fact in step.voids}
                    for name in (step.remedy, step.stop):
                        if name:
                            remedy = c.remedies[name]
                            can_be |= {(fact, True) for fact in remedy.gives | remedy.shows}
                            can_be |= {(fact, False) for fact in remedy.ends | remedy.denies}
        if can_be == rig.can_be:
            return rig


def for_rig(condition: Condition, checklist: Checklist, rig: OneRig) -> Condition:
    """The condition with what the rig decides put in; `ALWAYS` and `NEVER` where that is all."""
    if isinstance(condition, Literal):
        return rig.settles(condition, checklist)
    assert isinstance(condition, (All, AnyOf))
    parts = [for_rig(part, checklist, rig) for part in condition.parts]
    if isinstance(condition, All):
        if NEVER in parts:
            return NEVER
        kept = tuple(part for part in parts if part != ALWAYS)
        return kept[0] if len(kept) == 1 else All(kept)
    if ALWAYS in parts:
        return ALWAYS
    kept = tuple(part for part in parts if part != NEVER)
    return kept[0] if len(kept) == 1 else AnyOf(kept)


def circumstances(step: Step, checklist: Checklist, rig: OneRig) -> Condition:
    """What of `only_if` the reader has to look at.

    Left out is what only says how far the work has come: the boxes show that.  Kept are answers
    to site questions, gear that is out, and facts that this checklist itself does not change.
    """
    changed = frozenset().union(*(
        checklist.steps[name].gives | checklist.steps[name].ends for name in checklist.order))

    def matters(literal: Literal) -> bool:
        fact = checklist.facts[literal.fact]
        if literal.fact in step.gives | step.ends:
            return False
        if fact.origin is Origin.SITE:
            return True
        if fact.origin is Origin.GEAR:
            return literal.wanted
        return literal.wanted and literal.fact not in changed

    return _kept(for_rig(step.only_if, checklist, rig), matters)


def _kept(condition: Condition, matters: Callable[[Literal], bool]) -> Condition:
    if isinstance(condition, Literal):
        return condition if matters(condition) else ALWAYS
    assert isinstance(condition, (All, AnyOf))
    parts = [_kept(part, matters) for part in condition.parts]
    if isinstance(condition, AnyOf):  # half an alternative would be false
        return condition if parts == list(condition.parts) else ALWAYS
    kept = tuple(part for part in parts if part != ALWAYS)
    return kept[0] if len(kept) == 1 else All(kept)


@dataclass(frozen=True)
class Joining:
    """How parts become one clause.  Each text has its fields: {one} and {other}, or {facts}."""

    both: str
    either: str
    any_of: str
    """An alternative among conditions that must all hold, so that nobody mistakes its reach."""


def in_words(condition: Condition, say: Say, joining: Joining) -> str:
    """The condition as one clause."""
    if isinstance(condition, Literal):
        return say(condition)
    assert isinstance(condition, (All, AnyOf))
    # Plain clauses first, alternatives last: "parked, and any of these: …".
    ordered = sorted(condition.parts, key=lambda part: not isinstance(part, Literal))
    parts = [in_words(part, say, joining) for part in ordered]
    shape = joining.both
    if isinstance(condition, AnyOf):
        shape = joining.either
    else:
        parts = [joining.any_of.format(facts=words) if isinstance(part, AnyOf) else words
                 for part, words in zip(ordered, parts, strict=True)]
    words = parts[0] if parts else ""
    for part in parts[1:]:
        words = shape.format(one=words, other=part)
    return words
