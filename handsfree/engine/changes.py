"""Every way in which facts can change, as data: guard, what becomes true, what becomes false.

Pure.  May import the checklist model.  `advance` and the prover both read this table, so that
what is proved is what runs; whoever wants another way for a fact to change adds it here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum
from itertools import product

from handsfree.checklist.conditions import (
    ALWAYS,
    NEVER,
    All,
    Condition,
    Literal,
    both,
    given,
    opposite,
)
from handsfree.checklist.model import (
    Checklist,
    NeverRule,
    Origin,
    Remedy,
    Step,
    answered_fact,
    voided,
)

Facts = frozenset[str]


class Kind(Enum):
    """What the operator did to bring the change about."""

    BEGIN = "begin"
    REPORT = "report"
    FAIL = "fail"
    YES = "yes"
    NO = "no"
    GIVE_UP = "give up"
    TAKE_BACK = "take back"
    RESOLVE = "resolve"
    EXPIRE = "expire"
    CORRECT = "correct"


@dataclass(frozen=True)
class Change:
    """One transition over facts; `subject` is the id of the step, remedy, rule or checklist."""

    kind: Kind
    subject: str
    guard: Condition
    gives: Facts = frozenset()
    ends: Facts = frozenset()

    def apply(self, facts: Facts) -> Facts:
        """The facts afterwards (the guard is the caller's business)."""
        return (facts - self.ends) | self.gives


def report(step: Step) -> Change:
    """The step is done (for a reading: and within its limits)."""
    return Change(Kind.REPORT, step.id, both(step.applicable, step.needs), step.gives,
                  step.ends | step.voids)


def fail(checklist: Checklist, step: Step, remedy: Remedy) -> Change:
    """The step's answer is no: what it was to show is withdrawn, what its failure shows is so."""
    shown = frozenset(fact for fact in step.gives if fact in checklist.evidence)
    return Change(Kind.FAIL, step.id, both(step.applicable, step.needs), remedy.shows,
                  remedy.denies | shown)


def expire(checklist: Checklist, fact: str) -> Change:
    """Evidence has grown old: it may at any time, unless something rests on it by then."""
    evidence = checklist.evidence[fact]
    return Change(Kind.EXPIRE, fact, both(Literal(fact), opposite(evidence.unless)),
                  ends=frozenset({fact}))


def come_back(checklist: Checklist, facts: Facts) -> Change:
    """What time would end does not count across a break: all that may have grown old by then."""
    old = frozenset(fact for fact, evidence in checklist.evidence.items()
                    if evidence.minutes and expire(checklist, fact).guard.holds(facts))
    return Change(Kind.EXPIRE, checklist.id, ALWAYS, ends=old)


def correct(checklist: Checklist, fact: str, so: bool) -> Change:
    """The record was wrong about a fact: what hangs on it has to be looked at again."""
    own, void = frozenset({fact}), voided(checklist.facts, {fact}) - {fact}
    return Change(Kind.CORRECT, fact, Literal(fact, not so), gives=own if so else frozenset(),
                  ends=void if so else void | own)


def answer(step: Step, yes: bool) -> Change:
    """A site question is answered; it may be answered again later."""
    answered = answered_fact(step.id)
    gives = frozenset({step.id, answered}) if yes else frozenset({answered})
    ends = frozenset() if yes else frozenset({step.id})
    return Change(Kind.YES if yes else Kind.NO, step.id, both(step.applicable, step.needs),
                  gives, ends)


def give_up(checklist: Checklist, step: Step, remedy: Remedy) -> Change:
    """The step has failed as often as its remedy allows: it fails once more, and what follows
    from giving up is so at once."""
    failed = fail(checklist, step, remedy)
    return Change(Kind.GIVE_UP, step.id, failed.guard,
                  failed.gives - remedy.ends | remedy.gives,
                  (failed.ends | remedy.ends) - remedy.gives)


def take_back(checklist: Checklist, step: Step) -> Change:
    """What the step brought about is not so after all: its inverse, while its outcome stands.

    A slip of the tongue brings no look, test or reading back; what it changes makes others void.
    What moved, or was not moved after all, makes nothing void a second time: so no verdict against
    a spot ends by taking a report back.
    """
    if step.question:
        answered = answered_fact(step.id)
        return Change(Kind.TAKE_BACK, step.id, Literal(answered),
                      ends=frozenset({step.id, answered}))
    stands = All(tuple(Literal(fact) for fact in sorted(step.gives))
                 + tuple(Literal(fact, False) for fact in sorted(step.ends)))
    void = voided(checklist.facts, step.gives | step.ends) - step.ends
    return Change(Kind.TAKE_BACK, step.id, stands, gives=step.ends.difference(checklist.evidence),
                  ends=step.gives | void)


def begin(checklist: Checklist) -> Change:
    """A checklist begins: fresh facts and its own site answers are forgotten."""
    forgotten = {fact.name for fact in checklist.facts.values() if fact.fresh}
    for step in checklist.steps.values():
        if step.question:
            forgotten |= {step.id, answered_fact(step.id)}
    return Change(Kind.BEGIN, checklist.id, ALWAYS, ends=frozenset(forgotten))


def beginnings(checklist: Checklist) -> Iterator[Change]:
    """The ways in which it begins, of which one is possible at a time: what time would end, and
    what nothing that lasts rests on, does not count across a session.  What is lasting does; whoever
    begins leaves it out of the record when it is too old."""
    begun = begin(checklist)
    aged: dict[Condition, set[str]] = {}
    for fact, evidence in checklist.evidence.items():
        if evidence.minutes and not evidence.lasting:
            lasts = given(evidence.unless, dict.fromkeys(begun.ends, False))
            aged.setdefault(lasts, set()).add(fact)
    for kept in product((True, False), repeat=len(aged)):
        guards = [lasts if keeps else opposite(lasts)
                  for lasts, keeps in zip(aged, kept, strict=True)]
        old = (facts for facts, keeps in zip(aged.values(), kept, strict=True) if not keeps)
        if NEVER not in guards:
            yield replace(begun, guard=both(*guards), ends=begun.ends.union(*old))


def resolve(rule: NeverRule) -> Change:
    """The immediate action after a broken never rule has been taken."""
    return Change(Kind.RESOLVE, rule.id, rule.when, rule.gives, rule.ends)


def orders(checklist: Checklist) -> Iterator[Change]:
    """Every change that goes forward, by the operator or by time (not take back, resolve, correct)."""
    yield from beginnings(checklist)
    for step in checklist.steps.values():
        yield from of_step(checklist, step)
    for fact in checklist.evidence:
        yield expire(checklist, fact)


def of_step(checklist: Checklist, step: Step) -> Iterator[Change]:
    """What the operator's answers at a step can change."""
    if step.question:
        yield answer(step, True)
        yield answer(step, False)
    else:
        yield report(step)
    for name in dict.fromkeys(name for name in (step.remedy, step.stop) if name):
        remedy = checklist.remedies[name]
        if remedy.tries != 1:  # else the first failure is the last
            yield fail(checklist, step, remedy)
        if remedy.tries:
            yield give_up(checklist, step, remedy)


def takings_back(checklist: Checklist) -> Iterator[Change]:
    """Every change by which an earlier report is undone."""
    for step in checklist.steps.values():
        if step.gives or step.ends:
            yield take_back(checklist, step)


def correctable(checklist: Checklist) -> frozenset[str]:
    """Facts that the operator may declare different on the rig's record."""
    return frozenset(
        fact.name for fact in checklist.facts.values()
        if fact.origin in (Origin.STATE, Origin.GEAR, Origin.SITE))
