"""What can be said to be different on a rig, and how it is told back.

Pure.  May import the checklist model, engine changes, the language room, `expecting`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from handsfree.checklist.model import Checklist
from handsfree.engine import changes
from handsfree.language.statements import Clauses
from handsfree.session.expecting import on_this_rig


def tellable(
    lists: Iterable[Checklist], traits: frozenset[str], possible: frozenset[str] = frozenset()
) -> dict[str, Clauses]:
    """What can be said to be different on a rig with these traits, with the clauses that tell it.

    Every fact that a step or a question of it is about, so that of a rig without a sewer hose "the
    hose" means the water hose.  What one checklist has for other rigs only, such as the sewer hose
    at arrival, is not taken from another that is about nothing else; but what is `possible` with
    these traits is, as the chocks, which the dump station's list has for other rigs only.
    """
    found: dict[str, Clauses] = {}
    foreign: set[str] = set()
    for checklist in lists:
        here, elsewhere = set[str](), set[str]()
        for step in checklist.steps.values():
            about = step.gives | step.ends | ({step.id} if step.question else set())
            if step.remedy:
                remedy = checklist.remedies[step.remedy]
                about = about | remedy.gives | remedy.ends
            (here if on_this_rig(checklist, step, traits) else elsewhere).update(about)
        foreign |= elsewhere - here
        for name in here & changes.correctable(checklist):
            fact = checklist.facts[name]
            found[name] = Clauses(fact.says, fact.otherwise)
    return {name: told for name, told in found.items() if name not in foreign - possible}


def told_back(so: Mapping[str, bool], clauses: Mapping[str, Clauses]) -> str:
    """What was understood, in the record's own words: "the awning is in; the step is in"."""
    return "; ".join(clauses[fact].of(yes) for fact, yes in so.items())
