"""What can be seen in the files without exploring: unused facts, remedy loops, disagreements.

May import the checklist model and this room.
"""

from __future__ import annotations

from collections.abc import Iterator

from handsfree.checklist.model import Checklist, Origin, answered_fact
from handsfree.proof.declarations import declared
from handsfree.proof.findings import Finding
from handsfree.proof.stay import Stay


def mentioned(checklist: Checklist) -> frozenset[str]:
    """Every fact that a step, a question, a rule, a remedy or the closing speaks of."""
    names = set(checklist.closes.names())
    for step in checklist.steps.values():
        names |= step.needs.names() | step.only_if.names() | step.gives | step.ends
        if step.question:
            names |= {step.id, answered_fact(step.id)}
    for rule in checklist.all_rules:
        names |= rule.when.names() | rule.gives | rule.ends
        names |= step.acts
    for remedy in checklist.remedies.values():
        names |= remedy.gives | remedy.ends | remedy.shows | remedy.denies
    for evidence in checklist.evidence.values():
        names |= evidence.voids | evidence.unless.names()
    return frozenset(names)


def unused(stay: Stay) -> Iterator[Finding]:
    """Facts of a file's own that no checklist of the stay mentions.

    A question that is asked but whose answer decides nothing is asked in vain.
    """
    used = frozenset().union(*map(mentioned, stay.checklists))
    decides = frozenset().union(*(
        step.needs.names() | step.only_if.names()
        for checklist in stay.checklists for step in checklist.steps.values()),
        *(rule.when.names() for rule in (*stay.rules, *stay.conduct)),
        *(checklist.closes.names() for checklist in stay.checklists))
    for checklist in stay.given:
        for name, line in declared(checklist).items():
            fact = checklist.facts.get(name)
            if fact is None or fact.origin is Origin.ANSWERED:
                continue
            if name not in used:
                yield Finding("unused", f"'{name}' is declared but nothing mentions it; "
                              "use it in a step or a never rule, or remove it.",
                              checklist.file, line, subject=name)
            elif fact.origin is Origin.SITE and name not in decides:
                yield Finding("unused", f"'{name}' is asked, but its answer decides nothing; "
                              "use it in 'only if:' or 'needs:', or do not ask.",
                              checklist.file, line, subject=name)


def remedy_loops(checklist: Checklist) -> Iterator[Finding]:
    """Remedies one of whose steps, when it fails, leads back into them."""
    for name in checklist.remedies:
        seen: set[str] = set()
        ahead = [name]
        while ahead:
            for step_id in checklist.remedies[ahead.pop()].steps:
                step = checklist.steps[step_id]
                for inner in (step.remedy, step.stop):
                    if inner == name:
                        yield Finding(
                            "remedy loop", f"when '{step.id}' fails, the remedy '{name}' begins"
                            " again inside itself; give the step another remedy, or none.",
                            step.file or checklist.file, step.line, subject=step.id)
                    elif inner and inner not in seen:
                        seen.add(inner)
                        ahead.append(inner)


def disagreements(stay: Stay) -> Iterator[Finding]:
    """Facts that two checklists of the stay declare differently."""
    for checklist in stay.checklists:
        for name, fact in checklist.facts.items():
            first = stay.facts[name]
            if (first.origin, first.start) != (fact.origin, fact.start):
                one = next(c for c in stay.checklists if c.facts.get(name) is first)
                yield Finding(
                    "disagreement", f"'{name}' is declared here otherwise than in {one.file} "
                    "(kind or start value); include one common file in both.",
                    checklist.file, declared(checklist).get(name, 0), subject=name)
