"""`handsfree way`, and a session in the order that walks least."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from benchmarks.pace import row, way
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.cli import main, wiring
from handsfree.session.opening import _place_lost
from handsfree.storage import verdicts, ways
from handsfree.storage.lines import Begun
from handsfree.storage.paths import checklists_folder, find_checklist, find_rig


@pytest.fixture(autouse=True)
def data(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def own_rig(data: Path, more: str) -> str:
    """The small rig as an owner's, with further lines."""
    text = (checklists_folder() / "rigs" / "small-single.yaml").read_text("utf-8")
    (data / "rigs").mkdir(parents=True, exist_ok=True)
    (data / "rigs" / "mine.yaml").write_text(text.replace("Small single-axle", "My") + more, "utf-8")
    return "mine"


def begun(checklist: Checklist) -> Begun:
    """The first line of a session of it."""
    return Begun(checklist.id, checklist.title, checklist.digest, "en", frozenset(), ())


def test_it_tells_and_draws(tmp_path: Path) -> None:
    svg = tmp_path / "way.svg"
    told = CliRunner().invoke(main, ["way", "depart", "--rig", "small-single", "--svg", str(svg)])
    assert told.exit_code == 0, told.output
    assert "as written: " in told.output and "shortest: " in told.output and "passages" in told.output
    assert svg.read_text("utf-8").startswith("<svg")


@pytest.mark.parametrize("arguments, told", [
    (["way", "depart", "--rig", "small-single", "--svg", "/nowhere/way.svg"], "there is no folder"),
    (["way", "deprt", "--rig", "small-single"], "did you mean 'depart'?"),
])
def test_a_mistake_is_one_sentence(arguments: list[str], told: str) -> None:
    found = CliRunner().invoke(main, arguments)
    assert found.exit_code == 2
    assert told in found.output and "Traceback" not in found.output


def test_a_place_in_the_wall_is_named_by_file_and_line(data: Path) -> None:
    rig = own_rig(data, "places:\n  tap: [9, 1]\n")
    found = CliRunner().invoke(main, ["way", "arrive", "--rig", rig])
    lines = (data / "rigs" / "mine.yaml").read_text("utf-8").splitlines()
    assert found.exit_code == 2
    assert f"mine.yaml, line {lines.index('  tap: [9, 1]') + 1}: 'tap' would be in the trailer" in found.output


def test_by_default_the_list_keeps_its_order(data: Path) -> None:
    made = wiring.plan("depart", own_rig(data, ""), data)
    assert made.checklist.order == wiring.plan("depart", "small-single", data).checklist.order
    assert not (data / ways.FILE).exists()


def test_the_rig_file_or_an_option_asks_for_the_shortest(data: Path) -> None:
    written = wiring.plan("depart", "small-single", data).checklist
    by_option = wiring.plan("depart", "small-single", data, shortest=True).checklist
    by_file = wiring.plan("depart", own_rig(data, "order: shortest\n"), data).checklist
    assert by_option.order == by_file.order != written.order
    assert (data / ways.FILE).exists()
    assert _place_lost(by_option, None, begun(written)) == "edited"  # begun anew
    assert _place_lost(by_option, None, begun(by_file)) == ""
    rig = load_rig(data / "rigs" / "mine.yaml")
    assert verdicts.unproved(by_file, rig) == verdicts.unproved(written, rig)


def test_a_list_given_by_its_path_keeps_its_own_order(data: Path, tmp_path: Path) -> None:
    own = tmp_path / "elsewhere" / "wheels.yaml"
    own.parent.mkdir()
    own.write_text("title: Wheels\nsteps:\n  - {id: look, do: Look., place: rear}\n", "utf-8")
    made = wiring.plan(str(own), "small-single", data, shortest=True)
    assert made.checklist.order == ("look",)
    assert find_checklist(str(own)) == own
    assert not (data / ways.FILE).exists()


def test_the_bench_tells_both() -> None:
    found = way(load_rig(find_rig("small-single")), "depart")
    cells = [cell.strip() for cell in row("small-single", "depart", *found).strip("|").split("|")]
    assert cells[:2] == ["small-single", "depart"]
    assert int(cells[3]) < int(cells[2]) and float(cells[9]) < float(cells[8])
    assert cells[12] == "exact"
