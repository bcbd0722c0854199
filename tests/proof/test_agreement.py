"""The prover agrees with an exhaustive walk of the live engine on random small checklists."""

from __future__ import annotations

from collections import Counter

import hypothesis
from hypothesis import HealthCheck, given, settings

from handsfree.checklist.model import Checklist
from handsfree.proof import Report, prove
from handsfree.proof.stay import Stay
from handsfree.proof.walks import walked
from tests.proof import explicit
from tests.proof.small import checklists

_RELAXED = settings(
    deadline=None, derandomize=True, database=None,
    phases=[hypothesis.Phase.generate],  # shrinking walks thousands of large graphs
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])


def _breaches(report: Report, *rings: int) -> set[explicit.Breach]:
    return {(finding.subject, finding.rule) for finding in report.findings
            if finding.kind == "never rule" and finding.ring in rings}


def _agree(checklist: Checklist, orders: explicit.Orders, most: int) -> Report:
    report = prove([checklist])
    everything = explicit.walk(checklist, orders, most=most)
    hypothesis.assume(everything is not None)
    assert everything is not None
    forward = explicit.by_forward_orders(everything)
    all_of_them = range(len(everything.states))
    with_back = everything.broken(all_of_them, taking_back=True)
    kinds = {finding.kind for finding in report.findings}

    assert _breaches(report, 1) == everything.broken(forward, taking_back=False)
    assert _breaches(report, 1, 2) == with_back
    assert (_breaches(report, 1, 2, 3)
            == with_back | explicit.breaches_from_records(checklist))
    assert ("alarm" in kinds) == explicit.endless_alarms(checklist, everything)
    assert ({f.subject for f in report.findings if f.kind in ("unreachable", "unsatisfiable")}
            == explicit.never_at(checklist, everything))
    assert not {f"{checklist.id}/{step}" for step in explicit.never_at(checklist, everything)} & (
        walked(Stay.of([checklist])))
    assert ("dead end" in kinds) == explicit.dead_end(everything)
    assert ({f.subject for f in report.findings if f.kind == "gear"}
            == explicit.lost_gear(checklist, everything))
    assert report.reachable == len({state.facts for state in everything.states})
    return report


def test_agrees_with_a_walk_of_the_engine() -> None:
    """Breaches by step and rule and ring, alarms, steps, dead ends, gear, and the state count."""
    seen: Counter[str] = Counter()

    @settings(_RELAXED, max_examples=500)
    @given(checklists())
    def agree(checklist: Checklist) -> None:
        report = _agree(checklist, explicit.short_orders, most=400)
        seen.update({finding.kind for finding in report.findings} or {"sound"})
        seen.update({f"ring {finding.ring}" for finding in report.findings if finding.ring})
        seen["waits"] += any(step.wait for step in checklist.steps.values())
        seen["all"] += 1

    agree()
    assert seen["all"] >= 500 and seen["waits"] >= 100
    for kind in ("sound", "never rule", "ring 1", "ring 2", "ring 3", "alarm", "unreachable",
                 "unsatisfiable", "dead end", "gear"):
        assert seen[kind] >= 10, seen


@settings(_RELAXED, max_examples=40)
@given(checklists(most_steps=3))
def test_agrees_when_every_event_is_tried_in_every_state(checklist: Checklist) -> None:
    """Pauses, withdrawn readbacks, uncertain and misheard words change nothing of it."""
    _agree(checklist, explicit.every_event, most=700)
