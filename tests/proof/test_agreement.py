"""The prover agrees with an exhaustive walk of the live engine on random small checklists."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import hypothesis
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from handsfree.checklist.model import Checklist
from handsfree.proof import Report, completion, prove, prover, reporting
from handsfree.proof.reachability import walked
from handsfree.proof.stay import Stay
from tests.depth import cases
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
    everything = explicit.walk(checklist, orders, most=most)
    hypothesis.assume(everything is not None)
    assert everything is not None
    report = prove([checklist])
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
    met = len({state.facts for state in everything.states})
    if any(remedy.tries > 1 and remedy.shows | remedy.denies
           for remedy in checklist.remedies.values()):
        assert report.reachable >= met  # the proof forgets how often a step has failed
    else:
        assert report.reachable == met
    return report


def test_agrees_with_a_walk_of_the_engine() -> None:
    """Breaches by step and rule and ring, alarms, steps, dead ends, gear, and the state count."""
    seen: Counter[str] = Counter()

    @settings(_RELAXED, max_examples=cases(150, 500))
    @given(checklists())
    def agree(checklist: Checklist) -> None:
        report = _agree(checklist, explicit.short_orders, most=400)
        seen.update({finding.kind for finding in report.findings} or {"sound"})
        seen.update({f"ring {finding.ring}" for finding in report.findings if finding.ring})
        seen["waits"] += any(step.wait for step in checklist.steps.values())
        seen["all"] += 1

    agree()
    assert seen["all"] >= cases(150, 500) and seen["waits"] >= cases(30, 100)
    for kind in ("sound", "never rule", "ring 1", "ring 2", "ring 3", "alarm", "unreachable",
                 "unsatisfiable", "dead end", "gear"):
        assert seen[kind] >= cases(3, 10), seen


def test_agrees_when_looks_end_and_things_move() -> None:
    """Time as an event, evidence that a change makes void, rules about acts, remedies that withdraw
    what was so."""
    seen: Counter[str] = Counter()

    @settings(_RELAXED, max_examples=cases(100, 300))
    @given(checklists(looks=True))
    def agree(checklist: Checklist) -> None:
        findings = _agree(checklist, explicit.short_orders, most=400).findings
        broken = [finding for finding in findings if finding.kind == "never rule"]
        seen["by an act"] += any(finding.rule == "no m" for finding in broken)
        seen["by time"] += any(finding.subject in checklist.evidence for finding in broken)
        seen["of a remedy"] += any(finding.subject in ("s0", "i") for finding in broken
                                   if checklist.remedies)
        seen["sound"] += not findings
        seen["dead end"] += any(finding.kind == "dead end" for finding in findings)
        seen["all"] += 1

    agree()
    assert seen["all"] >= cases(100, 300)
    for kind in ("by an act", "by time", "of a remedy", "sound", "dead end"):
        assert seen[kind] >= cases(2, 5), seen


@settings(_RELAXED, max_examples=40)
@given(checklists(most_steps=3))
def test_agrees_when_every_event_is_tried_in_every_state(checklist: Checklist) -> None:
    """Pauses, withdrawn readbacks, uncertain and misheard words change nothing of it."""
    _agree(checklist, explicit.every_event, most=700)


def _half(whole: Checklist, name: str, order: tuple[str, ...]) -> Checklist:
    """The checklist with some of its steps, and those of its remedies, but none that waits."""
    inner = tuple(step for step in whole.steps if step not in whole.order)
    steps = {step: replace(whole.steps[step], wait=None) for step in (*order, *inner)}
    return replace(whole, id=name, steps=steps, order=order)


def test_what_is_quick_says_what_is_exact() -> None:
    """Of two checklists that share the steps of one, both or one of them asked about: with what
    is used where no rule can be broken (`Safely`, walks), and without."""
    seen: Counter[str] = Counter()

    @settings(_RELAXED, max_examples=cases(250, 800))
    @given(checklists(), st.booleans())
    def agree(whole: Checklist, alone: bool) -> None:
        one, other = (_half(whole, name, whole.order[place::2])
                      for place, name in enumerate(("one", "other")))
        asked, context = ([one], [other]) if alone else ([one, other], [])
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(reporting, "replay", lambda *_, **__: ())  # the verdicts are compared
            quick = prove(asked, context=context, count=False)
            patched.setattr(completion, "Safely", lambda space: None)
            patched.setattr(prover, "walked", lambda stay: frozenset())
            exact = prove(asked, context=context, count=False)
        assert ([(f.kind, f.subject, f.file) for f in quick.findings]
                == [(f.kind, f.subject, f.file) for f in exact.findings])
        if not any(f.kind in ("never rule", "unwatched", "alarm") for f in exact.findings):
            seen["safe"] += 1
            seen.update({finding.kind for finding in exact.findings} or {"sound"})

    agree()
    for kind in ("safe", "sound", "dead end", "unsatisfiable", "gear"):
        assert seen[kind] >= cases(2, 5), seen
    assert seen["safe"] >= cases(13, 40), seen
