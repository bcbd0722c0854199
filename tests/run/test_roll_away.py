"""One interlock taken out of a copy: the proof shows how the trailer rolls; the sound file refuses
that very order aloud."""

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli import main
from handsfree.library import library_folder
from handsfree.session import journal


def test_without_its_chocks_the_proof_tells_how_the_trailer_rolls_away(tmp_path: Path) -> None:
    copy = tmp_path / "checklists"
    shutil.copytree(library_folder(), copy)
    path = copy / "shared" / "standing.yaml"
    text = path.read_text(encoding="utf-8")
    start = text.index("- id: pull-away")
    where = text.index("        - chocked\n", start)
    assert where - start < 400, "the interlock is not where it was"
    path.write_text(text[:where] + text[where + len("        - chocked\n"):], encoding="utf-8")

    done = CliRunner().invoke(main, ["check", str(copy / "arrive.yaml"), "--rig", "survey-trailer"])
    assert done.exit_code == 1, done.output
    assert "'roll-away'" in done.output and "add 'chocked' to 'needs:'" in done.output
    said = [line.strip() for line in done.output.splitlines() if line.strip().startswith("you: ")]
    assert said[0] == "you: start arrive"
    assert said[-4:] == ["you: take back chocks", "you: go to pull away", "you: truck is away",
                         "you: that is right"]
    assert "could roll away" in done.output


def test_the_same_order_is_refused_aloud_by_the_sound_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    script = library_folder() / "scripts" / "chocks-taken-back.yaml"
    done = CliRunner().invoke(main, [
        "rehearse", "--fast", "--script", str(script), "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    assert "Stop. Pull away must wait: the wheels are not chocked." in done.output
    lines = journal.read(tmp_path / "out" / "journal.jsonl").lines
    back = next(x["n"] for x in lines if x["what"] == "reported" and x["kind"] == "take back")
    refused = next(x for x in lines if x["what"] == "refused" and x["n"] > back)
    assert refused["step"] == "pull-away" and refused["missing"] == ["chocked"]
    gone = next(x["n"] for x in lines if x["what"] == "reported" and x["step"] == "pull-away")
    again = [x["n"] for x in lines if x["what"] == "reported" and x["step"] == "chock"
             and x["kind"] == "report"]
    assert refused["n"] < again[-1] < gone


def test_the_shipped_checklists_are_proved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    done = CliRunner().invoke(main, ["check", "--again"])
    assert done.exit_code == 0, done.output
    assert "Proved over every order of events" in done.output
