"""What the library declares, taken away piece by piece: `python -m tests.proof.mutation`.

    python -m tests.proof.mutation [--sample 60] [--seed 1]

One mutant for each literal of each never rule, each part that a step asks for under `needs`, each
end of each piece of evidence (its minutes, what makes it void, its `unless`), and each motion or
exposure that a step declares.  A mutant is killed by a counterexample of the proof (only the moves
that it touches are proved again) or by a finding on judging or tracing; else it survives.
Mutation analysis: DeMillo, Lipton, Sayward, "Hints on test data selection", Computer 11 (4), 1978.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from handsfree.checklist.conditions import NEVER, Condition, Literal, both, opposite
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import (
    GOING_INSIDE,
    INSIDE,
    Checklist,
    Evidence,
    NeverRule,
    Step,
    voided,
)
from handsfree.proof import safety, step_checks, tracing
from handsfree.proof.completion import parts_of
from handsfree.proof.findings import Budget
from handsfree.proof.state_space import Space, open_space
from handsfree.proof.stay import Move, Stay, forward
from handsfree.storage.paths import checklists_folder


@dataclass(frozen=True)
class Mutant:
    """`kills` gives what finds it, each in a few words."""

    kind: str
    name: str
    kills: Callable[[], list[str]]


def library() -> list[Checklist]:
    folder = checklists_folder()
    return [load_checklist(path, library=folder) for path in sorted(folder.glob("*.yaml"))]


class Mutants:
    """All mutants of a library."""

    def __init__(self, checklists: Sequence[Checklist]) -> None:
        self.checklists = list(checklists)
        self.space: Space = open_space(Stay.of(self.checklists, ()), Budget())
        self.done = frozenset().union(*(step.acts for c in self.checklists
                                        for step in c.steps.values()))
        self.upheld = tracing._upheld([step for c in self.checklists for step in c.steps.values()])

    def __iter__(self) -> Iterator[Mutant]:
        seen: set[tuple[object, ...]] = set()

        def new(*key: object) -> bool:
            fresh = key not in seen
            seen.add(key)
            return fresh

        for checklist in self.checklists:
            for rule in checklist.all_rules:
                for number, less in enumerate(fewer(rule.when)):
                    if new("rule", rule.id, rule.file, rule.line, number):
                        yield self._rule(checklist, rule, less)
            for step in checklist.steps.values():
                for part in parts_of(step.own):
                    if part.names() and new("part", step.file, step.id, part):
                        yield self._part(checklist, step, part)
                for act in sorted(step.acts):
                    by_role = act == INSIDE and step.role == INSIDE
                    if not by_role and new("act", step.file, step.id, act):
                        yield self._act(checklist, step, act)
            for fact, evidence in checklist.evidence.items():
                for what, less_long in longer(evidence):
                    if new("evidence", fact, what, evidence):
                        yield self._evidence(checklist, fact, what, less_long)

    # --- one of each kind -----------------------------------------------------------------------

    def _rule(self, checklist: Checklist, rule: NeverRule, when: Condition) -> Mutant:
        def kills() -> list[str]:
            weaker = replace(rule, when=when)
            changed = replace(
                checklist, rules=tuple(weaker if one is rule else one for one in checklist.rules),
                conduct=tuple(weaker if one is rule else one for one in checklist.conduct))
            return [finding.kind for finding in (*tracing._rules(changed),
                                                 *tracing._hazards(changed))]
        return Mutant("clause of a rule", f"{rule.id}: {when}", kills)

    def _part(self, checklist: Checklist, step: Step, part: Condition) -> Mutant:
        def kills() -> list[str]:
            own = both(*(other for other in parts_of(step.own) if other != part))
            return self._broken_by(checklist, rebuilt(checklist, step, own=own))
        return Mutant("interlock", f"{checklist.id}, {step.id}: {part}", kills)

    def _act(self, checklist: Checklist, step: Step, act: str) -> Mutant:
        def kills() -> list[str]:
            bare = rebuilt(checklist, step, acts=step.acts - {act})
            found = [finding.kind for finding in step_checks._undeclared(checklist, bare)]
            if not any(act in other.acts for c in self.checklists for other in c.steps.values()
                       if (other.file, other.id) != (step.file, step.id)):
                found += [finding.kind for finding in tracing._motions(
                    checklist, self.done - {act})]
            return found or self._broken_by(checklist, bare)
        return Mutant("motion", f"{checklist.id}, {step.id}: {act}", kills)

    def _evidence(self, checklist: Checklist, fact: str, what: str, longer: Evidence) -> Mutant:
        def kills() -> list[str]:
            facts = {**checklist.facts, fact: replace(checklist.facts[fact], evidence=longer)}
            changed = replace(checklist, facts=facts, digest=f"{checklist.digest} {what}")
            found = [finding.kind for hazard in changed.hazards for way in hazard.unsafe
                     for finding in tracing._unheld(changed, hazard, way)]
            found += [finding.kind for finding in tracing._lifetimes(changed, self.upheld)]
            if found:
                return found
            moves = [move for move in forward(replace(changed, steps={}, remedies={}))
                     if move.change.subject == fact]
            return self._broken(moves)
        return Mutant("lifetime", f"{fact}: {what}", kills)

    # --- proving again what is touched ------------------------------------------------------------

    def _broken_by(self, checklist: Checklist, step: Step) -> list[str]:
        alone = replace(checklist, steps={step.id: step}, remedies=dict(checklist.remedies))
        return self._broken([move for move in forward(alone)
                             if move.change.subject == step.id])

    def _broken(self, moves: list[Move]) -> list[str]:
        return [f"breaks {breach.rule.id}" for breach in
                safety.one_move_breaches(self.space, moves, safety.sound_records(self.space))]


def rebuilt(checklist: Checklist, step: Step, *, own: Condition | None = None,
            acts: frozenset[str] | None = None) -> Step:
    """The step as the loader would have made it with another `needs` or other acts."""
    own = step.own if own is None else own
    acts = step.acts if acts is None else acts
    guards = (opposite(rule.when) for rule in checklist.conduct if rule.during & acts)
    happens = acts | step.gives | step.ends
    if INSIDE in (step.role, step.place):
        happens |= {GOING_INSIDE}
    return replace(step, own=own, acts=acts, needs=both(own, step.after, *guards),
                   voids=voided(checklist.facts, happens) - step.gives)


def fewer(condition: Condition) -> Iterator[Condition]:
    """The condition with one literal left out, for each of them."""
    if isinstance(condition, Literal):
        return
    kind = type(condition)
    parts: tuple[Condition, ...] = condition.parts  # type: ignore[attr-defined]
    for place, part in enumerate(parts):
        rest = (*parts[:place], *parts[place + 1:])
        if isinstance(part, Literal):
            yield rest[0] if len(rest) == 1 else kind(rest)  # type: ignore[call-arg]
        for less in fewer(part):
            yield kind((*parts[:place], less, *parts[place + 1:]))  # type: ignore[call-arg]


def longer(evidence: Evidence) -> Iterator[tuple[str, Evidence]]:
    """Each way in which one end of the evidence is gone."""
    if evidence.minutes:
        yield "no minutes", replace(evidence, minutes=0.0)
    for end in sorted(evidence.voids):
        yield f"not void by {end}", replace(evidence, voids=evidence.voids - {end})
    if evidence.unless != NEVER:
        yield "no unless", replace(evidence, unless=NEVER)


def survivors(mutants: Sequence[Mutant]) -> list[Mutant]:
    """Those that nothing finds."""
    return [mutant for mutant in mutants if not mutant.kills()]


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.proof.mutation",
                                     description=__doc__.splitlines()[0])
    parser.add_argument("--sample", type=int, default=0, help="so many only, 0 for all")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    mutants = list(Mutants(library()))
    if asked.sample:
        mutants = random.Random(asked.seed).sample(mutants, asked.sample)
    kinds, by = Counter(mutant.kind for mutant in mutants), Counter[str]()
    left = []
    for mutant in mutants:
        found = mutant.kills()
        by.update({word.split()[0] if word.startswith("breaks") else word for word in found})
        if not found:
            left.append(mutant)
    for kind, number in sorted(kinds.items()):
        alive = sum(mutant.kind == kind for mutant in left)
        print(f"{number:>5} of kind '{kind}', {alive} of them found by nothing")
    for word, number in by.most_common():
        print(f"{number:>5} found by: {'a counterexample' if word == 'breaks' else word}")
    for mutant in left:
        print(f"SURVIVES  {mutant.kind}: {mutant.name}")
    sys.exit(bool(left))


if __name__ == "__main__":
    main()
