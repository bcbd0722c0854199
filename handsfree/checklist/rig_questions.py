"""What has to be asked before a checklist can serve a rig that nothing is known of.

Pure.  May import conditions, the model and sums.  Only what the checklist uses is asked: the rig's
traits, the numbers that its readings are judged by, and those that its sums need.  How the trailer
stands is asked by `session/state_questions.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from handsfree.checklist.conditions import ALWAYS, AnyOf, Condition, Literal, both
from handsfree.checklist.model import Checklist, Limit, Origin
from handsfree.checklist.sums import SUMS

SUMS_TOO = "sums too"
"""A question of our own: numbers for sums as well?"""


@dataclass(frozen=True)
class Question:
    """Yes or no, or with a `limit` a number; asked while `only_if` holds of the answers so far.

    `id` is the trait that yes makes so, the limit, or one of ours.
    """

    id: str
    text: str
    only_if: Condition = ALWAYS
    limit: Limit | None = None
    likely: bool = False
    """The answer that is offered to yes or no."""


@dataclass(frozen=True)
class Answers:
    """What was answered: `yes` are the ids of questions, `numbers` those that were given."""

    yes: frozenset[str] = frozenset()
    numbers: Mapping[str, float] = field(default_factory=dict)
    several: Mapping[str, Sequence[str]] = field(default_factory=dict)
    """Kind: the names of what the rig has of it, where that is more than one."""
    batteries: Mapping[str, str] = field(default_factory=dict)
    """Bank: what it is, as a rig file has it."""


def rig_questions(
    checklists: Sequence[Checklist], words: Callable[..., str]
) -> Iterator[Question]:
    """Traits and numbers.

    Args:
        words: our own questions, by key.
    """
    traits: dict[str, str] = {}
    judged: dict[str, tuple[Limit, list[Condition]]] = {}
    summed: dict[str, tuple[Limit, list[Condition]]] = {}
    for checklist in checklists:
        used = _names_used(checklist)
        traits |= {fact.name: fact.ask for fact in checklist.facts.values()
                   if fact.origin is Origin.TRAIT and fact.name in used}
        for step in checklist.steps.values():
            where = checklist.traits_wanted[step.id]
            bounds = step.reading.limits if step.reading else ()
            numbers = SUMS[step.sum].numbers if step.sum else ()
            for table, names in ((judged, bounds), (summed, numbers)):
                for name in names:
                    if name in checklist.limits:
                        table.setdefault(name, (checklist.limits[name], []))[1].append(where)
    for name, ask in traits.items():
        yield Question(name, ask)
    for limit, places in judged.values():
        yield _number(limit, AnyOf(tuple(dict.fromkeys(places))))
    rest = [pair for name, pair in summed.items() if name not in judged]
    if rest:
        yield Question(SUMS_TOO, words(SUMS_TOO))
    for limit, places in rest:
        yield _number(limit, both(Literal(SUMS_TOO), AnyOf(tuple(dict.fromkeys(places)))))


def _number(limit: Limit, where: Condition) -> Question:
    return Question(limit.name, limit.ask or limit.name, both(limit.only_if, where), limit)


def _names_used(checklist: Checklist) -> frozenset[str]:
    """Every fact that a condition or a sum of the checklist mentions."""
    conditions = [checklist.closes, *(rule.when for rule in checklist.rules)]
    sums: set[str] = set()
    for step in checklist.steps.values():
        conditions += [step.only_if, step.needs]
        if step.sum:
            sums |= set(SUMS[step.sum].facts)
            limits = (checklist.limits.get(name) for name in SUMS[step.sum].numbers)
            conditions += [limit.only_if for limit in limits if limit]
    return frozenset(sums).union(*(condition.names() for condition in conditions))
