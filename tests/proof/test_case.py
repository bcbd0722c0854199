"""The safety case: everything that is declared and proved stands in it, and nothing gets out."""

from __future__ import annotations

import re
import stat
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.cli import main
from handsfree.proof import Report, case, prove, tracing
from handsfree.proof.case import TITLE, safety_case
from handsfree.proof.document import (
    WIDTH,
    Heading,
    Items,
    Para,
    Ref,
    Table,
    as_html,
    as_text,
)
from handsfree.proof.findings import BudgetSpent, Finding
from handsfree.storage.paths import checklists_folder
from tests.proof.traceable import traceable

NASTY = "<script>alert('x')</script> & \"quoted\" \x1b[31m"


class _Page(HTMLParser):
    """Tags with their attributes, and the words between them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def values(self, name: str) -> list[str]:
        return [str(attrs[name]) for _, attrs in self.tags if name in attrs]


def _run(*arguments: object) -> tuple[int, str]:
    done = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def _case(checklist: Checklist, rig: Rig | None = None) -> str:
    """The text, with each paragraph on one line."""
    text = as_text(TITLE, safety_case([checklist], prove([checklist], rig), rig))
    return " ".join(text.split())


def test_a_case_says_what_is_declared_what_enforces_it_and_what_is_left(tmp_path: Path) -> None:
    said = _case(traceable(tmp_path))
    for part in (
        "The trailer rolls over somebody.", "Source: common practice, no source.",
        "How: too late What is done or left undone: The look is old.",
        "while slide: not path clear; 'path clear' is ended by slide, time",
        "Never while slide: not path clear or not chocked. Reason: it crushes somebody.",
        "Step: run-out Words: Run the slide out. Does: slide",
        "Step: pull-away Words: Pull forward. Needs: chocked In: stay",
        "If it happens anyway, an alarm says: Chock the wheels.",
        "Lasts: 10 minutes", "Lasts: 60 minutes, and on while: plugged",
        "Left to the person: Firm ground.", "Sound. No order of events",
        "ISO 12100:2010", "ISO 14118:2017", "ISO 14119:2013", "29 CFR 1910.147", "49 CFR 393",
        "Open ends --------- None.",
    ):
        assert part in said, part


def test_what_is_grave_is_read_back_and_the_rest_is_not(tmp_path: Path) -> None:
    """Chocks and the look are; plugging in, whose hazard is not called grave here, is not."""
    checklist = traceable(tmp_path)
    assert {name for name, step in checklist.steps.items() if step.readback} == {"chock", "look"}
    said = _case(checklist)
    assert "Step: chock Answer: 'chocks set' Enough: read back Settles: chocked" in said
    assert "Step: plug-in Answer: 'plugged in' Enough: its own words Settles: plugged" in said


def test_only_what_takes_the_danger_away_is_read_back(tmp_path: Path) -> None:
    """`pull-away` makes part of a grave rule true: a slip there claims no safety."""
    steps = traceable(tmp_path).steps
    assert steps["chock"].readback and not steps["pull-away"].readback


def test_findings_stand_among_the_open_ends(tmp_path: Path) -> None:
    checklist = traceable(tmp_path, ("needs: [chocked], ends", "ends"))
    said = _case(checklist)
    assert "Not sound: 1 finding" in said
    assert "Kind: never rule Finding:" in said and "Shown by: you: start stay" in said


def test_a_rig_leaves_out_what_it_has_not(tmp_path: Path) -> None:
    checklist = traceable(
        tmp_path, ("  - {id: unplug", "  - {id: mast, do: Look up., only if: mast,"
                   " respond: sky is free}\n  - {id: unplug"),
        ("motions:", "traits:\n  mast: {says: it has a mast, ask: A mast}\nmotions:"),
        ("when: not path clear or not chocked", "when: not path clear or not chocked or mast"),
        ("while: [slide],\n         when: not chocked}",
         "while: [slide],\n         when: not chocked or mast}"))
    assert "not path clear or not chocked or mast" in _case(checklist)
    without = _case(checklist, Rig("Small one"))
    assert "Never while slide: not path clear or not chocked. Reason" in without
    assert "Rig: Small one" in without


def test_a_case_without_hazards_says_that_it_shows_nothing(tmp_path: Path) -> None:
    path = tmp_path / "bare.yaml"
    path.write_text("title: Bare\nsteps:\n  - {id: look, do: Look round.}\n", encoding="utf-8")
    said = _case(load_checklist(path))
    assert "No hazards are declared, so nothing here can be traced to one." in said
    assert "Open ends --------- No hazards are declared." in said


# --- the page -----------------------------------------------------------------------------------

def test_the_page_escapes_everything_and_fetches_nothing(tmp_path: Path) -> None:
    bad = NASTY.replace('"', "'").replace("\x1b", "")
    checklist = traceable(
        tmp_path, ("The trailer rolls over somebody.", f'"{bad}"'),
        ("makers' manuals", f'"{bad}"'), ("Firm ground.", f'"{bad}"'),
        ("it crushes somebody", f'"{bad}"'), ("The look is old.", f'"{bad}"'),
        ("do: Plug in.", f'do: "{bad}"'), ("title: Slide and chocks", f'title: "{bad}"'))
    blocks = safety_case([checklist], prove([checklist]), Rig(NASTY))
    page = as_html(TITLE, blocks)
    found = _Page(page)
    tags = {tag for tag, _ in found.tags}
    assert not tags & {"script", "img", "link", "iframe", "object", "svg", "form"}
    assert "alert('x')" in "".join(found.words)
    assert "default-src 'none'" in page and "http://" not in page and "https://" not in page
    assert not re.search(r"url\(|@import", page)
    assert not [name for _, attrs in found.tags for name in attrs if name.startswith("on")]


def test_every_reference_leads_somewhere_and_no_anchor_stands_twice(tmp_path: Path) -> None:
    checklist = traceable(tmp_path)
    found = _Page(as_html(TITLE, safety_case([checklist], prove([checklist]))))
    anchors = found.values("id")
    assert len(anchors) == len(set(anchors))
    assert {href.removeprefix("#") for href in found.values("href")} <= set(anchors)
    assert all(href.startswith("#") for href in found.values("href"))


def test_blocks_as_text_keep_the_width_and_steer_no_terminal() -> None:
    blocks = [Heading(2, NASTY, "a b"), Para((NASTY * 4, Ref("a b", "there"))),
              Items((NASTY * 4,)), Table(("One", "Two"), ((NASTY * 3, Ref("x", NASTY)),))]
    text = as_text(NASTY, blocks)
    assert "\x1b" not in text
    assert max(len(line) for line in text.splitlines()[2:]) <= WIDTH
    page = as_html(NASTY, blocks)
    assert "<script" not in page
    assert 'id="a_20_b"' in page and 'href="#a_20_b"' in page


# --- the command --------------------------------------------------------------------------------

@pytest.mark.parametrize("suffix, starts", [(".html", "<!DOCTYPE html>"), (".txt", TITLE)])
def test_the_command_writes_it_for_the_owner_alone(
    tmp_path: Path, suffix: str, starts: str
) -> None:
    traceable(tmp_path)
    target = tmp_path / f"case{suffix}"
    status, output = _run("check", tmp_path / "stay.yaml", "--alone", "--case", target)
    assert status == 0, output
    assert target.read_text(encoding="utf-8").startswith(starts)
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    again = tmp_path / f"again{suffix}"
    _run("check", tmp_path / "stay.yaml", "--alone", "--case", again)
    assert again.read_bytes() == target.read_bytes()


def test_a_broken_trace_is_a_finding_of_check_and_is_written_down(tmp_path: Path) -> None:
    traceable(tmp_path, ("{minutes: 10, void by: [slide]}", "{void by: [slide]}"))
    target = tmp_path / "case.txt"
    status, output = _run("check", tmp_path / "stay.yaml", "--alone", "--case", target)
    assert status == 1
    assert "open hazard: " in output and "'path clear' ended by 'time'" in output
    said = " ".join(target.read_text(encoding="utf-8").split())
    assert "Hazard: crushed Severity: grave Never rules: blind State: open" in said


@pytest.mark.parametrize("name", ["case.pdf", "case"])
def test_another_kind_of_file_is_status_2_before_anything_is_proved(
    tmp_path: Path, name: str
) -> None:
    status, output = _run("check", "--case", tmp_path / name)
    assert status == 2
    assert "end its name in .html or .txt" in " ".join(output.split())


def test_a_list_of_interlocks_is_no_case(tmp_path: Path) -> None:
    status, output = _run("check", "--interlocks", "--case", tmp_path / "case.txt")
    assert status == 2
    assert "leave one of --interlocks and --case away" in " ".join(output.split())


def test_a_budget_that_is_spent_is_told_not_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def spent(*_: object) -> tuple[str, ...]:
        raise BudgetSpent("work")

    for module in (case, tracing):
        monkeypatch.setattr(module, "protected", spent)
    checklist = traceable(tmp_path)
    said = " ".join(as_text(TITLE, safety_case([checklist], Report(("stay",)))).split())
    assert "were not worked out: the budget was spent" in said
    assert "No interlock has to guard it" not in said
    assert [finding.kind for finding in tracing.traced([checklist])] == ["unproved"]


def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    traceable(tmp_path)
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    status, output = _run("check", tmp_path / "stay.yaml", "--alone", "--case",
                          tmp_path / "taken" / "case.html")
    assert status == 4
    assert "cannot be written" in " ".join(output.split())


# --- the library --------------------------------------------------------------------------------

def test_the_library_s_case_covers_each_hazard_and_each_grave_danger_is_read_back() -> None:
    """The proof itself is another test's; here the document is held to the files."""
    folder = checklists_folder()
    library = [load_checklist(path, library=folder) for path in sorted(folder.glob("*.yaml"))]
    report = Report(tuple(one.id for one in library), findings=())
    said = " ".join(as_text(TITLE, safety_case(library, report)).split())
    for hazard in library[0].hazards:
        assert f"Hazard: {hazard.id} Severity: {'grave' if hazard.grave else 'other'}" in said
        assert f"Source: {hazard.source}." in said
    for rule in library[0].all_rules:
        assert f"Never rules: {rule.id}" in said or f", {rule.id}" in said
    assert "State: open" not in said
    assert "Enough: a bare 'done'" not in said


def test_what_is_open_is_told_of_the_hazard_whose_rule_it_is(tmp_path: Path) -> None:
    checklist = traceable(tmp_path)
    report = Report(("stay",), findings=(Finding("never rule", "It can.", rule="roll-away"),))
    said = " ".join(as_text(TITLE, safety_case([checklist], report)).split())
    assert "Hazard: rolls Severity: grave Never rules: roll-away, blind State: open" in said
    assert "Hazard: shock Severity: other Never rules: untested State: covered" in said
