"""Nothing that the library declares can be taken away unnoticed; see `mutation`."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from handsfree.checklist.conditions import parse
from handsfree.proof import tracing
from handsfree.proof.step_checks import judged
from tests.proof.mutation import Mutants, fewer, library, survivors

LIBRARY = library()


def test_the_shipped_library_itself_has_no_finding() -> None:
    """So whatever is found about a mutant is about what was taken away."""
    assert [finding for checklist in LIBRARY for finding in judged(checklist)] == []
    assert tracing.traced(LIBRARY) == []


def test_no_mutant_survives() -> None:
    mutants = list(Mutants(LIBRARY))
    kinds = Counter(mutant.kind for mutant in mutants)
    assert kinds.keys() == {"clause of a rule", "interlock", "lifetime", "motion"}
    assert all(number >= 40 for number in kinds.values())
    assert [mutant.name for mutant in survivors(mutants)] == []


def test_without_hazards_to_hold_them_to_clauses_could_go_unnoticed() -> None:
    """So a mutant can survive, and the test above can fail."""
    bare = [replace(checklist, hazards=()) for checklist in LIBRARY]
    mutants = [mutant for mutant in Mutants(bare) if mutant.kind == "lifetime"]
    assert len(survivors(mutants)) < len(mutants)  # what has no hazard is itself a finding
    blind = [mutant for mutant in Mutants([replace(checklist, rules=(), conduct=(), hazards=())
                                           for checklist in LIBRARY[:1]])
             if mutant.kind == "interlock"]
    assert survivors(blind) == blind


def test_each_literal_is_left_out_once() -> None:
    assert [str(one) for one in fewer(parse("a and (b or not c)"))] == [
        "b or not c", "a and not c", "a and b"]
