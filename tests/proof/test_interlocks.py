"""Mutation: each interlock of the shipped checklists is dropped in turn."""

from __future__ import annotations

from handsfree.checklist.loader import load_checklist
from handsfree.library import library_folder
from handsfree.proof import Budget, interlocks, safety, telling
from handsfree.proof.interlocks import without
from handsfree.proof.space import open_space
from handsfree.proof.stay import Stay


def test_each_is_missed_by_a_counterexample_or_reported_as_needless() -> None:
    """Every counterexample is replayed through the live engine, which must bear it out."""
    library = library_folder()
    shipped = {path.stem: load_checklist(path, library=library)
               for path in sorted(library.glob("*.yaml"))}
    seen = set()
    protecting = needless = 0
    for one in interlocks(list(shipped.values())):
        if (one.file, one.step, one.part) in seen:
            continue  # a part that several checklists use
        seen.add((one.file, one.step, one.part))
        checklist = shipped[one.checklist]
        space = open_space(
            Stay.of([without(checklist, checklist.steps[one.step], one.part)]), Budget())
        found = [telling.breach(space, breach) for breach in safety.breaches(space)]
        states = {rule.id for rule in checklist.rules}  # rules about acts are supplied, not kept
        found = [finding for finding in found if finding.rule in states]
        assert {finding.rule for finding in found} == set(one.protects), (one.step, str(one.part))
        if one.needless:
            needless += 1
            continue
        protecting += 1
        assert all(f.subject == one.step and len(f.dialogue) >= 3 for f in found)
    assert protecting > 20 and needless > 20
