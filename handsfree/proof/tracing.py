"""Traceability both ways: from each hazard to what stands against it, and back.

May import the checklist model and this room.

What the proof shows is that the steps keep the rules.  It cannot show that the rules are enough:
with a clause gone from a rule and from the interlocks alike, all is proved.  Hence double entry.
Hazards say for themselves what has to be forbidden (`Unsafe.when`), in which acts, and what has to
end the evidence; rules, acts and evidence are held to that, clause by clause, in both directions:

- a clause of a rule is *explained* by a way of a hazard that is as general or more so;
- a clause of a hazard is *covered* by a clause of its rule that is as general or more so.

Together the two make them equal, so nothing can be taken away on one side alone.  An interlock is
explained by the never rule that could be broken without it; what a rule about an act supplies is
explained by that rule.  Whoever declares no hazards is asked for none of this.

Traceability of safety requirements in both directions: IEC 61508-3:2010, 7.2 to 7.9; unsafe control
actions to constraints: Leveson and Thomas, STPA Handbook, 2018, chapter 2 (the first from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import product

from handsfree.checklist.conditions import All, AnyOf, Condition, Literal, both, opposite
from handsfree.checklist.model import (
    BOTH,
    INSIDE,
    TIME,
    Act,
    Checklist,
    Evidence,
    Hazard,
    NeverRule,
    Step,
    Unsafe,
)
from handsfree.proof.completion import parts_of
from handsfree.proof.findings import Budget, BudgetSpent, Finding
from handsfree.proof.interlocks import Interlock, breakable, protected
from handsfree.proof.state_space import Space, open_space
from handsfree.proof.stay import Stay

Clause = frozenset[Literal]
"""Literals that are joined by 'and'."""


def traced(
    checklists: Sequence[Checklist], context: Sequence[Checklist] = (),
    budget: Budget | None = None,
) -> list[Finding]:
    """Every broken trace of the checklists that declare hazards, for every rig.

    Args:
        context: further checklists of the same stay, whose steps count but get no findings.
    """
    given = [checklist for checklist in checklists if checklist.hazards]
    if not given:
        return []
    found: list[Finding] = []
    steps = [step for checklist in (*given, *context) for step in checklist.steps.values()]
    upheld, done = _upheld(steps), frozenset().union(*(step.acts for step in steps))
    declared: list[tuple[object, ...]] = []
    for checklist in given:
        shared = (checklist.rules, checklist.conduct, checklist.hazards, checklist.evidence,
                  checklist.acts)
        if shared not in declared:  # most files include the same rules
            declared.append(shared)
            found += [*_rules(checklist), *_hazards(checklist), *_lifetimes(checklist, upheld),
                      *_motions(checklist, done)]
    try:
        space = open_space(Stay.of(given, context), budget or Budget())
        found += _interlocks(space, given)
    except BudgetSpent:
        found.append(Finding("unproved", (
            "what each interlock is for was not worked out within the budget; allow more with"
            " --nodes, or check fewer files at a time."), given[0].file))
    return list({finding.message: finding for finding in reversed(found)}.values())[::-1]


# --- rules and hazards --------------------------------------------------------------------------

@lru_cache(maxsize=1024)
def clauses(condition: Condition) -> frozenset[Clause]:
    """The condition as a disjunction of minimal conjunctions; none contradicts itself."""
    return _minimal(_conjunctions(condition))


def _conjunctions(condition: Condition) -> set[Clause]:
    if isinstance(condition, Literal):
        return {frozenset({condition})}
    if isinstance(condition, AnyOf):
        return {clause for part in condition.parts for clause in _conjunctions(part)}
    assert isinstance(condition, All)
    ways = [_minimal(_conjunctions(part)) for part in condition.parts]
    joined = (frozenset().union(*chosen) for chosen in product(*ways))
    return {clause for clause in joined
            if not any(opposite(literal) in clause for literal in clause)}


def _minimal(found: set[Clause]) -> frozenset[Clause]:
    return frozenset(one for one in found if not any(other < one for other in found))


def spelt(clause: Clause) -> str:
    """The clause as it is written in a file."""
    return str(both(*sorted(clause, key=lambda literal: (literal.fact, literal.wanted))))


def ways_of(rule: NeverRule, hazards: Sequence[Hazard]) -> list[tuple[Hazard, Unsafe]]:
    """The ways of hazards that name the rule."""
    return [(hazard, way) for hazard in hazards for way in hazard.unsafe if way.rule == rule.id]


def _acts(acts: frozenset[str]) -> list[str]:
    """The acts, or one empty name for what is about how things are."""
    return sorted(acts) or [""]


def _covers(when: Condition, acts: frozenset[str], clause: Clause, act: str) -> bool:
    return act in _acts(acts) and any(general <= clause for general in clauses(when))


def _during(act: str) -> str:
    return f", in the act '{act}'" if act else ""


def _rules(checklist: Checklist) -> Iterator[Finding]:
    for rule in checklist.all_rules:
        ways = ways_of(rule, checklist.hazards)
        if not ways:
            yield Finding("unexplained rule", (
                f"no hazard names the never rule '{rule.id}'; add a hazard under 'hazards:', with"
                " who is hurt and by which source, or remove the rule."),
                rule.file, rule.line, rule=rule.id)
            continue
        for act in _acts(rule.during):
            for clause in sorted(clauses(rule.when), key=spelt):
                if not any(_covers(way.when, way.during, clause, act) for _, way in ways):
                    yield Finding("unexplained rule", (
                        f"the never rule '{rule.id}' forbids '{spelt(clause)}'{_during(act)}, and"
                        " no hazard says why; add it to the 'when:' of a hazard that names the"
                        " rule, or take it out of the rule."), rule.file, rule.line, rule=rule.id)


def _hazards(checklist: Checklist) -> Iterator[Finding]:
    rules = {rule.id: rule for rule in checklist.all_rules}
    for hazard in checklist.hazards:
        if not hazard.unsafe:
            yield _open(hazard.file, hazard.line, hazard, (
                f"the hazard '{hazard.id}' names no rule that stands against it; say under"
                " 'unsafe:' how it comes about, and which never rule forbids that."))
        for way in hazard.unsafe:
            rule = rules[way.rule]
            for act in _acts(way.during):
                for clause in sorted(clauses(way.when), key=spelt):
                    if not _covers(rule.when, rule.during, clause, act):
                        yield _open(way.file, way.line, hazard, (
                            f"the hazard '{hazard.id}' comes about by '{spelt(clause)}'"
                            f"{_during(act)}, and the never rule '{rule.id}' does not forbid it;"
                            " widen the rule, or name another one."))
            yield from _unheld(checklist, hazard, way)


def _open(file: str, line: int, hazard: Hazard, message: str) -> Finding:
    return Finding("open hazard", message, file, line, subject=hazard.id)


# --- evidence -----------------------------------------------------------------------------------

def ends_of(evidence: Evidence) -> frozenset[str]:
    """Everything that ends it: `TIME`, acts, facts."""
    return evidence.voids | ({TIME} if evidence.minutes else set())


def _unheld(checklist: Checklist, hazard: Hazard, way: Unsafe) -> Iterator[Finding]:
    """What a hazard says of evidence, and the evidence does not."""
    for fact, end in sorted(way.stale):
        evidence = checklist.evidence.get(fact)
        if evidence is None or end not in ends_of(evidence):
            mend = "minutes:" if end == TIME else f"void by: [{end}]"
            yield _open(way.file, way.line, hazard, (
                f"the hazard '{hazard.id}' wants '{fact}' ended by '{end}', and nothing does so;"
                f" add '{mend}' to its 'evidence:'."))


def _lifetimes(
    checklist: Checklist, upheld: Mapping[str, frozenset[str]]
) -> Iterator[Finding]:
    ways = [way for hazard in checklist.hazards for way in hazard.unsafe]
    for name, evidence in checklist.evidence.items():
        rests = upheld.get(name, frozenset()) | {name}
        hung = {rule.id for rule in checklist.all_rules if rule.when.names() & rests}
        for end in sorted(ends_of(evidence)):
            if not any((name, end) in way.stale and way.rule in hung for way in ways):
                yield Finding("unexplained lifetime", (
                    f"'{name}' is ended by '{end}', and no hazard that hangs on it says why; add"
                    f" 'stale: {{{name}: [{end}]}}' to a way of a hazard, or let the evidence"
                    " last."), checklist.file, subject=name)
        for clause in sorted(clauses(evidence.unless), key=spelt):
            if not _rests(checklist.rules, name, clause):
                yield Finding("unexplained lifetime", (
                    f"'{name}' does not end by time while '{spelt(clause)}', and no never rule"
                    " would be broken if it did; take it out of 'unless:'."),
                    checklist.file, subject=name)


def _upheld(steps: Sequence[Step]) -> dict[str, frozenset[str]]:
    """Fact -> what the steps settle that are done only while it holds, or does not."""
    found: dict[str, frozenset[str]] = {}
    for step in steps:
        changed = step.gives | step.ends
        for name in step.applicable.names() | step.own.names():
            found[name] = found.get(name, frozenset()) | changed
    return found


def _rests(rules: Sequence[NeverRule], fact: str, clause: Clause) -> bool:
    """Whether some rule would be broken by the fact's ending while the clause holds."""
    return any(Literal(fact, False) in one and clause & one
               for rule in rules for one in clauses(rule.when))


# --- what moves and what exposes ----------------------------------------------------------------

def _motions(checklist: Checklist, done: frozenset[str]) -> Iterator[Finding]:
    told = {act for rule in checklist.conduct for act in rule.during}
    for act in checklist.acts.values():
        what = "motion" if act.motion else "exposure"
        if act.name not in told:
            yield Finding("idle motion", (
                f"no never rule speaks of the {what} '{act.name}'; add one with"
                f" 'while: [{act.name}]', or remove it."), checklist.file, subject=act.name)
        if act.name not in done:
            yield Finding("idle motion", (
                f"no step does the {what} '{act.name}'; declare it where it happens, or remove"
                " it."), checklist.file, subject=act.name)


def _told(space: Space, checklist: Checklist, step: Step) -> Iterator[Finding]:
    for name in sorted(step.acts):
        act = checklist.acts[name]
        if not (_by_role(step, act) or act.words and re.search(act.words, step.do, re.I)
                or _missed(space, checklist, step, name)):
            yield Finding("unspoken motion", (
                f"'{step.id}' declares '{name}', and whoever hears '{step.do}' is not told; say it"
                f" in 'do:', or add how it is said to the 'words:' of '{name}'."),
                step.file, step.line, subject=step.id)
    if any(checklist.acts[name].powered for name in step.acts) and not (
            step.role == BOTH and step.caution):
        yield Finding("unguarded motion", (
            f"something moves by its own power at '{step.id}', and "
            + ("nobody is warned; add 'caution:', or 'clear:' to the motion." if not step.caution
               else "one operator alone can start it; add 'together: yes' to the motion.")),
            step.file, step.line, subject=step.id)


def _missed(space: Space, checklist: Checklist, step: Step, act: str) -> bool:
    """Whether some never rule could be broken if the step did not declare the act."""
    bare = replace(step, acts=step.acts - {act})
    return bool(breakable(space, checklist, replace(
        bare, needs=both(step.own, supplied(checklist, bare)))))


def _by_role(step: Step, act: Act) -> bool:
    """Every step inside exposes somebody there, whatever it says."""
    return act.name == INSIDE and step.role == INSIDE


# --- interlocks ---------------------------------------------------------------------------------

def supplied(checklist: Checklist, step: Step) -> Condition:
    """What rules about its acts add to the interlock of a step."""
    return both(*(opposite(rule.when) for rule in checklist.conduct if rule.during & step.acts))


def own_interlocks(space: Space, checklists: Sequence[Checklist]) -> list[Interlock]:
    """Each part of `needs` that a file asks for itself, and the rules that hang on it alone."""
    found: dict[tuple[str, str, Condition], Interlock] = {}
    for checklist in checklists:
        for step in checklist.steps.values():
            others = space.where(supplied(checklist, step))
            for part in parts_of(step.own):
                key = (step.file, step.id, part)
                if not part.names() or key in found:
                    continue
                anyway = others & ~space.where(part) == space.none
                rules = () if anyway else protected(space, checklist, step, part)
                found[key] = Interlock(checklist.id, step.id, part, rules, step.file, step.line,
                                       supplied=anyway)
    return list(found.values())


def _interlocks(space: Space, checklists: Sequence[Checklist]) -> Iterator[Finding]:
    """What takes a look at whether a rule could be broken."""
    for checklist in checklists:
        for step in checklist.steps.values():
            yield from _told(space, checklist, step)
    for one in own_interlocks(space, checklists):
        if one.needless:
            yield _unexplained(one)


def _unexplained(one: Interlock) -> Finding:
    if one.supplied:
        message = (f"a never rule about what '{one.step}' does asks for '{one.part}' anyway; take"
                   " it out of 'needs:'.")
    else:
        message = (f"no never rule hangs on '{one.part}', which '{one.step}' needs; move it to"
                   " 'only if:', or write the rule that it serves, with its hazard.")
    return Finding("unexplained interlock", message, one.file, one.line, subject=one.step)
