"""Mutation: interlocks of the shipped checklists are dropped in turn, each one in the long run."""

from __future__ import annotations

from dataclasses import replace

from handsfree.checklist.loader import load_checklist
from handsfree.proof import Budget, interlocks, reporting, safety
from handsfree.proof.interlocks import without
from handsfree.proof.state_space import open_space
from handsfree.proof.stay import Stay
from handsfree.storage.paths import checklists_folder
from tests.depth import cases


def test_each_is_missed_by_a_counterexample_or_reported_as_needless() -> None:
    """Every counterexample to a rule about how things are is replayed through the live engine,
    from a record that breaks no rule; rules about what is done are asked of every record."""
    library = checklists_folder()
    shipped = {path.stem: load_checklist(path, library=library)
               for path in sorted(library.glob("*.yaml"))}
    seen = set()
    protecting = needless = 0
    for one in interlocks(list(shipped.values())):
        if (one.file, one.step, one.part) in seen:
            continue  # a part that several checklists use
        seen.add((one.file, one.step, one.part))
        if len(seen) % cases(8, 1):
            continue
        checklist = shipped[one.checklist]
        mutant = without(checklist, checklist.steps[one.step], one.part)
        space = open_space(Stay.of([mutant]), Budget())
        # What the other steps can break they could break before, and that is nothing: see the proof.
        moves = [move for move in space.stay.forward if move.change.subject == one.step]
        about_acts = {each.rule.id for each in safety.misconduct(space, moves, space.fixed)}
        breaches = list(safety.one_move_breaches(space, moves, space.fixed))
        about_things = {each.rule.id for each in breaches}
        assert about_acts | about_things == set(one.protects), (one.step, str(one.part))
        sound = safety.sound_records(space)
        found = [reporting.breach(space, replace(each, states=each.states & sound, ring=3))
                 for each in breaches]
        assert {finding.rule for finding in found} == about_things
        if one.needless:
            needless += 1
            continue
        protecting += 1
        assert all(f.subject == one.step and len(f.dialogue) >= 3 for f in found)
    assert protecting > 20 and needless > 20
