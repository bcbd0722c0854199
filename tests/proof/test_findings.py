"""Each kind of finding: what is said, where it points, and the dialogue that leads there."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks.proof_scaling import generated
from handsfree.checklist.rig_file import Rig
from handsfree.proof import Budget, Finding, Report, prove
from tests.proof.written import STAY, written


def _only(report: Report) -> Finding:
    assert len(report.findings) == 1, [str(finding) for finding in report.findings]
    return report.findings[0]


def _said(finding: Finding, who: str = "you") -> list[str]:
    return [line.text for line in finding.dialogue if line.who == who]


def test_a_sound_file_is_proved_and_counted(tmp_path: Path) -> None:
    report = prove([written(tmp_path)])
    assert report.sound and not report.findings
    assert report.records == 36  # of 64 combinations of facts
    assert report.reachable
    assert (report.steps, report.facts, report.rules) == (10, 6, 2)
    assert report.orders["stay"].exact


def test_a_missing_interlock_gives_the_shortest_dialogue_and_the_mend(tmp_path: Path) -> None:
    finding = _only(prove([written(tmp_path, ("    needs: [chocked]\n", ""))]))
    assert (finding.kind, finding.rule, finding.ring) == ("never rule", "roll-away", 1)
    assert "add 'chocked' to 'needs:' of the step 'pull-away'" in finding.message
    assert finding.line == STAY.splitlines().index("  - id: pull-away") + 1
    assert finding.file == str(tmp_path / "stay.yaml")
    assert _said(finding) == ["start stay", "go to pull away", "done"]
    assert "Pull the truck forward." in _said(finding, "it")[-1]
    assert finding.dialogue[-1].text == (
        "no interlock stops this: the trailer is not coupled and the wheels are not chocked:"
        " nothing holds the trailer")


def test_a_breach_that_takes_a_report_back(tmp_path: Path) -> None:
    """The hose is on when the step is done, but not once its report is taken back."""
    finding = _only(prove([written(
        tmp_path, ("needs: [hose out], gives", "needs: [hose laid], gives"),
        ("  tap open: {says", "  hose laid: {says: the hose was laid}\n  tap open: {says"),
        ("puts out: [hose]}", "puts out: [hose]}\n"
         "  - {id: lay, do: Lay the hose., needs: [hose out], gives: [hose laid]}"),
        ("brings back: [hose]}", "brings back: [hose], ends: [hose laid]}"))]))
    assert (finding.kind, finding.rule, finding.ring) == ("never rule", "burst", 2)
    assert any(text.startswith("take back ") for text in _said(finding))


def test_a_breach_that_takes_a_corrected_record(tmp_path: Path) -> None:
    """Steps alone keep the helper fact true to the hose; a corrected record need not."""
    finding = _only(prove([written(
        tmp_path, ("needs: [hose out], gives", "needs: [hose laid], gives"),
        ("  tap open: {says", "  hose laid: {says: the hose was laid}\n  tap open: {says"),
        ("puts out: [hose]}", "puts out: [hose], gives: [hose laid]}"),
        ("brings back: [hose]}", "brings back: [hose], ends: [hose laid]}"))]))
    assert (finding.kind, finding.rule, finding.ring) == ("never rule", "burst", 3)
    assert finding.dialogue[0].who == "note" and "the hose was laid" in finding.dialogue[0].text
    assert "once the record was corrected" in finding.message


def test_a_rule_that_is_broken_at_the_start(tmp_path: Path) -> None:
    report = prove([written(tmp_path, ("hitched: {start: true, ", "hitched: {"))])
    first = report.findings[0]
    assert first.kind == "never rule" and "before anything is done" in first.message


def test_an_answer_that_breaks_a_rule(tmp_path: Path) -> None:
    report = prove([written(
        tmp_path, ("when: tap open and not hose out", "when: tap open and not water here"))])
    subjects = {(finding.subject, finding.rule) for finding in report.findings}
    assert ("water here", "burst") in subjects
    text = next(str(f) for f in report.findings if f.subject == "water here")
    assert "answering 'water here' with no" in text and "'only if:' of the question" in text


def test_giving_up_that_breaks_a_rule(tmp_path: Path) -> None:
    report = prove([written(
        tmp_path, ("Leave the water off., ends: [tap open]", "Go on., gives: [tap open]"),
        ("needs: [hose out], gives: [tap open]", "gives: [tap open], needs: [chocked]"))])
    finding = next(f for f in report.findings if f.message.startswith("giving up"))
    assert finding.rule == "burst" and sum("problem" in text for text in _said(finding)) == 2


def test_an_alarm_that_cannot_be_ended(tmp_path: Path) -> None:
    """The immediate action mends one of the two ways in which the rule can be broken."""
    report = prove([written(
        tmp_path, ("when: tap open and not hose out",
                   "when: (chocked and hose out) or (tap open and not chocked and not hose out)"))])
    finding = next(f for f in report.findings if f.kind == "alarm")
    assert finding.rule == "burst" and "stay broken" in finding.message
    assert any(text.startswith("take back ") for text in _said(finding))


def test_a_step_that_nothing_leads_to(tmp_path: Path) -> None:
    finding = _only(prove([written(tmp_path, (
        "closes when", "  - {id: lost, do: Never done., only if: hitched and not hitched}\n"
        "closes when"))]))
    assert (finding.kind, finding.subject) == ("unreachable", "lost")


def test_an_interlock_that_nothing_meets(tmp_path: Path) -> None:
    finding = _only(prove([written(
        tmp_path, ("  tap open: {says", "  key in: {says: the key is in}\n  tap open: {says"),
        ("needs: [hitched], ends: [chocked]", "needs: [hitched], ends: [chocked]}\n"
         "  - {id: horn, do: Sound the horn., needs: [key in]"))]))
    assert (finding.kind, finding.subject) == ("unsatisfiable", "horn")
    assert "which no step gives; add 'gives: [key in]'" in finding.message


def test_gear_that_cannot_come_back_and_a_list_that_cannot_close(tmp_path: Path) -> None:
    report = prove([written(
        tmp_path,
        ("needs: [not tap open], brings back", "needs: [not tap open, hitched], brings back"),
        ("needs: [chocked, not hitched],", "needs: [chocked, not hitched, not hose out],"))])
    kinds = {finding.kind: finding for finding in report.findings}
    assert set(kinds) == {"gear", "dead end"}
    end = kinds["dead end"]
    assert _said(end) and end.dialogue[-1].who == "note"


def test_a_step_that_must_be_done_and_no_longer_can(tmp_path: Path) -> None:
    report = prove([written(
        tmp_path, ("  tap open: {says", "  sealed: {says: the box is sealed}\n  tap open: {says"),
        ("closes when", "  - {id: pack, do: Pack the box., needs: [not sealed], must: yes}\n"
         "  - {id: seal, do: Seal the box., gives: [sealed]}\ncloses when"))])
    finding = _only(report)
    assert (finding.kind, finding.subject) == ("dead end", "pack")
    assert "must not close without 'pack'" in finding.message
    assert _said(finding)[-2:] == ["go to seal", "done"]


def test_a_fact_that_nothing_mentions(tmp_path: Path) -> None:
    finding = _only(prove([written(
        tmp_path, ("  tap open: {says", "  idle: {says: it is idle}\n  tap open: {says"))]))
    assert (finding.kind, finding.subject) == ("unused", "idle")
    assert finding.line == STAY.splitlines().index(
        next(line for line in STAY.splitlines() if "tap open: {says" in line)) + 1


def test_a_remedy_that_leads_into_itself(tmp_path: Path) -> None:
    report = prove([written(tmp_path, (
        "needs: not tap open}", "needs: not tap open, if it fails: leak}"))])
    assert "remedy loop" in {finding.kind for finding in report.findings}


def test_a_checklist_that_does_not_know_the_rule(tmp_path: Path) -> None:
    """Taking back in it would break the rule of the other without an alarm."""
    whole = written(tmp_path)
    start = STAY.index("  - id: roll-away")
    end = STAY.index("  - id: burst")
    blind = written(tmp_path, (STAY[start:end], ""), name="blind")
    report = prove([whole, blind])
    found = {finding.kind: finding for finding in report.findings}
    assert "unwatched" in found and "'blind' does not know" in found["unwatched"].message


def test_two_checklists_that_disagree(tmp_path: Path) -> None:
    other = written(tmp_path, ("  tap open: {says", "  tap open: {start: true, says"), name="other")
    kinds = {finding.kind for finding in prove([written(tmp_path), other]).findings}
    assert "disagreement" in kinds


def test_two_checklists_share_one_stay(tmp_path: Path) -> None:
    """What one puts out the other brings back; alone the first has a finding."""
    in_line = next(line for line in STAY.splitlines(True) if "hose-in" in line)
    arrive = written(tmp_path, (in_line, ""), ("closes when: ready to travel\n", ""), name="come")
    leave = written(tmp_path, name="go")
    assert {f.kind for f in prove([arrive]).findings} == {"gear"}
    assert prove([arrive, leave]).sound
    assert prove([arrive], context=[leave]).sound


def test_a_rig_that_is_known_narrows_the_proof(tmp_path: Path) -> None:
    """A step that this rig has no use for is no finding; for every rig it can be reached."""
    checklist = written(
        tmp_path, ("never:", "traits:\n  pump: {says: it has a pump, ask: Has it a pump}\nnever:"),
        ("closes when", "  - {id: prime, do: Prime the pump., only if: pump}\ncloses when"))
    every = prove([checklist])
    plain = prove([checklist], Rig("plain"))
    assert every.sound and plain.sound
    assert every.records == 2 * plain.records


@pytest.mark.parametrize("budget, what", [
    (Budget(work=0), "more than 0 million nodes of diagrams"),
    (Budget(bytes=1000), "more than 0 MB")])
def test_nothing_counts_as_proved_when_the_budget_is_spent(budget: Budget, what: str) -> None:
    report = prove([generated(40)], budget=budget, count=False)
    assert not report.sound
    assert any(f.kind == "unproved" and what in f.message for f in report.findings)


def test_what_a_proof_costs_is_the_same_each_time_and_everywhere(tmp_path: Path) -> None:
    """Counted in nodes of diagrams: just enough is enough, one less is not."""
    whole = prove([generated(40)], count=False)
    assert whole.sound and whole.work > 0
    assert prove([generated(40)], count=False).work == whole.work
    assert prove([generated(40)], budget=Budget(work=whole.work), count=False).sound
    short = prove([generated(40)], budget=Budget(work=whole.work - 1), count=False)
    assert [finding.kind for finding in short.findings] == ["unproved"]


def test_findings_from_elsewhere_are_taken_in(tmp_path: Path) -> None:
    mine = Finding("alike", "two responses sound alike; change one.")
    assert prove([written(tmp_path)], extra=lambda _: [mine]).findings == (mine,)
