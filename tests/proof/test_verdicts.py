"""A verdict is remembered by all that decides it, and by nothing less."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.cli import main
from handsfree.storage import verdicts
from handsfree.storage.paths import checklist_names, checklists_folder, find_rig
from tests.proof.written import STAY

ARRIVE = ["arrive"]


def _check(*arguments: object) -> tuple[int, str]:
    done = CliRunner().invoke(main, ["check", *map(str, arguments)])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


@pytest.fixture
def library(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A copy of the library that the program takes for its own."""
    copy = tmp_path / "library"
    shutil.copytree(checklists_folder(), copy)
    for module in ("handsfree.storage.verdicts", "handsfree.cli.check", "handsfree.storage.paths"):
        monkeypatch.setattr(f"{module}.checklists_folder", lambda: copy)
    return copy


@pytest.fixture
def small_library(library: Path) -> Path:
    """One of one list, which is proved soon."""
    shutil.rmtree(library)
    library.mkdir()
    (library / "storm.yaml").write_text(ONE, encoding="utf-8")
    return library


def _own(folder: Path, name: str, text: str) -> Path:
    path = folder / "checklists" / f"{name}.yaml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


# --- what is shipped ----------------------------------------------------------------------------

def test_the_shipped_verdict_is_that_of_a_fresh_proof() -> None:
    """Of the library and the program as they are: else 'handsfree check --ship' was forgotten."""
    shipped = verdicts.remembered(verdicts.ground(), checklist_names())
    assert shipped is not None, "run 'handsfree check --ship' and commit checklists/verdicts.json"
    status, output = _check("--again", "--json")
    fresh = json.loads(output)
    assert status == 0 and fresh["sound"] is True and fresh["remembered"] is False
    assert {name: fresh[name] for name in shipped} == shipped


@pytest.mark.parametrize("name", ["arrive", "depart", "storm"])
def test_the_demo_rig_with_several_slide_outs_is_proved_as_shipped(name: str) -> None:
    """Nobody who tries it is told that it was not."""
    rig, library = load_rig(find_rig("fifth-wheel")), checklists_folder()
    one = load_checklist(library / f"{name}.yaml", rig=rig, library=library)
    assert verdicts.several(rig) and verdicts.unproved(one, rig) == ""
    other = replace(rig, several={"slides": ("front", "rear")})
    assert "--rig" in verdicts.unproved(one, other)


@pytest.mark.parametrize("name", ["dump-station", "storm"])
def test_each_alone_is_proved_as_well_in_its_stay(name: str) -> None:
    """What holds of all together holds of each: nothing is said of one that is not of all."""
    assert _check(name)[1].startswith("Proved before")
    status, output = _check(name, "--again")
    assert status == 0 and output.startswith("Proved over every order of events, for every rig"), output


# --- what decides -------------------------------------------------------------------------------

def test_one_literal_less_and_nothing_is_remembered(library: Path) -> None:
    part = library / "shared" / "rules.yaml"
    whole = part.read_text(encoding="utf-8")
    assert verdicts.remembered(verdicts.ground(), ARRIVE)
    for old, new in ((" and not chocked", ""), ("not chocked", "chocked")):
        assert old in whole
        part.write_text(whole.replace(old, new, 1), encoding="utf-8")
        assert verdicts.remembered(verdicts.ground(), ARRIVE) is None
    part.write_text(whole, encoding="utf-8")
    assert verdicts.remembered(verdicts.ground(), ARRIVE)


def test_ends_of_lines_rigs_and_scripts_decide_nothing(library: Path) -> None:
    part = library / "shared" / "rules.yaml"
    part.write_bytes(part.read_bytes().replace(b"\n", b"\r\n"))
    for folder in ("rigs", "scripts"):
        (library / folder / "another.yaml").write_text("name: Another\n", encoding="utf-8")
    assert verdicts.remembered(verdicts.ground(), ARRIVE)


def test_every_yaml_file_that_can_be_included_decides(library: Path, own_folder: Path) -> None:
    before = verdicts.ground()
    for path in (library / "new.yaml", library / "shared" / "deep" / "new.yaml",
                 own_folder / "checklists" / "new.yaml", own_folder / "common.yaml"):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("title: New\n", encoding="utf-8")
        assert verdicts.ground() != before, path
        path.unlink()
        assert verdicts.ground() == before


def test_the_program_decides(tmp_path: Path) -> None:
    """A copy of its text has its digest; with one character more it has another."""
    package = Path(verdicts.__file__).parents[1]
    copy = tmp_path / "handsfree"
    shutil.copytree(package, copy, ignore=shutil.ignore_patterns("__pycache__"))
    assert verdicts.program(copy) == verdicts.program(package)
    for name in ("proof/safety.py", "engine/changes.py", "checklist/loader.py", "cli/check.py",
                 "language/confusability.py", "languages/en.yaml"):
        path = copy / name
        text = path.read_bytes()
        path.write_bytes(text + b"#")
        verdicts.program.cache_clear()
        assert verdicts.program(copy) != verdicts.program(package), name
        path.write_bytes(text)
    verdicts.program.cache_clear()


def test_a_proof_for_one_rig_is_not_one_for_another() -> None:
    rig = load_rig(find_rig("small-single"))
    other = Rig("other", rig.has - {min(rig.has)}, limits=rig.limits)
    assert len({verdicts.ground(), verdicts.ground(rig=rig), verdicts.ground(rig=other)}) == 3
    assert _check("storm", "--rig", "small-single")[1].startswith("Proved over")
    assert _check("storm", "--rig", "small-single")[1].startswith("Proved before")


# --- what is not used ---------------------------------------------------------------------------

@pytest.mark.parametrize("damage", [
    lambda text: text.replace('"rules": ', '"rules": 1'),
    lambda text: text.replace('"sound": true', '"sound": false'),
    lambda text: text.replace('"seal": "', '"seal": "0'),
    lambda text: text[:-20], lambda text: "[]", lambda text: "",
    lambda text: '{"verdicts": [7, {}, null]}',
])
def test_a_damaged_entry_is_proved_anew(small_library: Path, damage) -> None:
    assert _check("--ship")[0] == 0 and _check("storm")[1].startswith("Proved before")
    kept = small_library / verdicts.FILE
    text = kept.read_text(encoding="utf-8")
    assert damage(text) != text
    kept.write_text(damage(text), encoding="utf-8")
    assert verdicts.remembered(verdicts.ground(), ["storm"]) is None
    assert _check("storm")[1].startswith("Proved over")


def test_an_entry_moved_to_another_ground_is_not_used(library: Path) -> None:
    """The verdict of a sound library does not do for one with an interlock less."""
    kept = library / verdicts.FILE
    old = verdicts.ground()
    part = library / "shared" / "rules.yaml"
    part.write_text(part.read_text(encoding="utf-8").replace(" and not chocked", "", 1),
                    encoding="utf-8")
    moved = kept.read_text(encoding="utf-8").replace(old, verdicts.ground())
    kept.write_text(moved, encoding="utf-8")
    assert verdicts.remembered(verdicts.ground(), ARRIVE) is None


# --- an owner's ---------------------------------------------------------------------------------

ONE = """\
title: One
facts:
  lid open: {says: the lid is open, otherwise: the lid is shut}
  fire lit: {says: the fire is lit, otherwise: the fire is out}
never:
  - id: flames
    when: lid open and fire lit
    because: flames leap out
    now: Shut the lid.
    respond: lid is shut
    ends: [lid open]
steps:
  - {id: lift, do: Lift the lid., needs: not fire lit, gives: [lid open], respond: lid is up}
  - {id: shut, do: Shut the lid., ends: [lid open], respond: all closed again}
closes when: not lid open
"""
OTHER = """\
title: Other
facts:
  lid open: {says: the lid is open, otherwise: the lid is shut}
  fire lit: {says: the fire is lit, otherwise: the fire is out}
steps:
  - {id: light, do: Light the fire., gives: [fire lit]}
  - {id: douse, do: Put the fire out., needs: not lid open, ends: [fire lit]}
closes when: not fire lit
"""


def test_two_own_files_that_break_a_rule_only_together(small_library: Path, own_folder: Path) -> None:
    """Each is sound; both are of the stay that 'run' walks through, and so is what they do."""
    one, other = _own(own_folder, "one", ONE), _own(own_folder, "other", OTHER)
    for path in (one, other):
        assert _check(path, "--alone")[0] == 0
    for arguments in ((), ("one",), ("other",)):
        status, output = _check(*arguments)
        assert status == 1 and "breaks the never rule 'flames'" in output, output
    other.write_text(OTHER.replace("gives: [fire lit]", "needs: not lid open, gives: [fire lit]"),
                     encoding="utf-8")
    output = _check("one")[1]
    assert "breaks the never rule" not in output
    assert "unwatched: " in output  # 'other' had better know the rule


def test_checked_is_what_run_finds_by_name(own_folder: Path) -> None:
    """One's own 'storm' stands before the one that comes with the program."""
    _own(own_folder, "storm", STAY.replace("site?,", "site,").replace(
        "    needs: [chocked]\n", "", 1))
    status, output = _check("storm")
    assert status == 1 and "storm.yaml" in output and "roll-away" in output


def test_a_file_that_ones_own_stands_before_is_proved_by_itself(own_folder: Path) -> None:
    """The shipped 'storm', named by its path, says nothing about one's own."""
    _own(own_folder, "storm", STAY.replace("site?,", "site,").replace(
        "    needs: [chocked]\n", "", 1))
    assert _check(checklists_folder() / "storm.yaml")[0] == 0
    assert _check("storm")[0] == 1


def test_an_owners_verdict_is_remembered_until_something_changes(own_folder: Path) -> None:
    mine = _own(own_folder, "one", ONE)
    assert _check("one")[1].startswith("Proved over")
    assert _check("one")[1].startswith("Proved before")
    assert json.loads(_check("one", "--json")[1])["remembered"] is True
    assert _check("one", "--again")[1].startswith("Proved over")
    mine.write_text(ONE.replace("Lift the lid.", "Take the lid off."), encoding="utf-8")
    assert _check("one")[1].startswith("Proved over")
    mine.write_text(ONE.replace("needs: not fire lit, ", ""), encoding="utf-8")
    for _ in range(2):  # findings are found again, not remembered
        status, output = _check("one")
        assert status == 1 and "never rule: " in output


def test_a_file_elsewhere_is_remembered_with_all_that_it_includes(tmp_path: Path) -> None:
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    common = folder / "common.yaml"
    facts, _, rest = ONE.partition("never:")
    common.write_text(facts.replace("title: One\n", ""), encoding="utf-8")
    path = folder / "mine.yaml"
    path.write_text("title: One\ninclude: common.yaml\nnever:" + rest, encoding="utf-8")
    assert _check(path)[1].startswith("Proved over")
    assert _check(path)[1].startswith("Proved before")
    common.write_text(common.read_text(encoding="utf-8") + "# a word\n", encoding="utf-8")
    assert _check(path)[1].startswith("Proved over")


def test_a_folder_that_cannot_be_written_costs_the_memory_only(own_folder: Path) -> None:
    (own_folder / verdicts.FILE).mkdir()
    _own(own_folder, "one", ONE)
    status, output = _check("one")
    assert status == 0 and "Proved over" in output and "Not remembered: " in output


# --- before it runs -----------------------------------------------------------------------------

def test_what_was_not_proved_since_it_changed_is_told(
    small_library: Path, own_folder: Path, tmp_path: Path
) -> None:
    rig = Rig("Any", frozenset())
    assert _check("--ship")[0] == 0
    shipped = load_checklist(small_library / "storm.yaml", library=small_library)
    assert verdicts.unproved(shipped, rig) == ""
    path = _own(own_folder, "one", ONE)
    assert "'one' was not proved since it changed" in verdicts.unproved(load_checklist(path), rig)
    assert verdicts.unproved(shipped, rig) != ""  # one belongs to its stay, and is not proved
    assert _check()[0] == 0
    assert verdicts.unproved(load_checklist(path), rig) == ""
    assert verdicts.unproved(shipped, rig) == ""
    path.write_text(ONE.replace("Lift the lid.", "Take the lid off."), encoding="utf-8")
    assert "'handsfree check one'" in verdicts.unproved(load_checklist(path), rig)
    elsewhere = tmp_path / "two.yaml"
    elsewhere.write_text(ONE, encoding="utf-8")
    assert f"'handsfree check {elsewhere}'" in verdicts.unproved(load_checklist(elsewhere), rig)
    path.unlink()
    assert _check(elsewhere)[0] == 0
    assert verdicts.unproved(load_checklist(elsewhere), rig) == ""


def test_run_and_rehearse_tell_it_in_one_line(own_folder: Path, tmp_path: Path) -> None:
    _own(own_folder, "one", ONE)
    told = "'one' was not proved since it changed"
    done = CliRunner().invoke(main, ["rehearse", "one", "--fast", "--out", str(tmp_path / "out")])
    assert done.output.count(told) == 1, done.output
    done = CliRunner().invoke(main, ["run", "one", "--rig", "small-single", "--speaker", "none such"])
    assert done.output.count(told) == 1, done.output


# --- shipping -----------------------------------------------------------------------------------

def test_shipping_writes_what_is_then_remembered(small_library: Path) -> None:
    shutil.copytree(checklists_folder() / "rigs", small_library / "rigs")
    status, output = _check("--ship")
    assert status == 0 and "Written: " in output
    assert _check()[1].startswith("Proved before")


def test_shipping_is_for_the_whole_library_and_nothing_else(own_folder: Path) -> None:
    assert _check("storm", "--ship")[0] == 2
    _own(own_folder, "one", ONE)
    status, output = _check("--ship")
    assert status == 2 and "let HANDSFREE_DATA name another folder" in output


def test_a_file_whose_name_is_no_text_is_no_traceback(own_folder: Path) -> None:
    """A name in an old encoding, as a memory stick may bring it."""
    folder = own_folder / "checklists"
    folder.mkdir()
    Path(os.fsdecode(os.fsencode(folder) + b"/caf\xe9.yaml")).write_text(
        "title: Mine\nsteps:\n  - {id: mat, do: Put the mat out.}\n", encoding="utf-8")
    assert verdicts.ground()
    code, said = _check("arrive")
    assert code == 0, said
