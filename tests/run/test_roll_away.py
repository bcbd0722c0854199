"""The chocks taken out of the rules of a copy: the proof shows how the trailer rolls; by voice the
same thing is an alarm."""

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli import main
from handsfree.storage import journal
from handsfree.storage.paths import checklists_folder


def test_without_its_chocks_the_proof_tells_how_the_trailer_rolls_away(tmp_path: Path) -> None:
    copy = tmp_path / "checklists"
    shutil.copytree(checklists_folder(), copy)
    path = copy / "shared" / "rules.yaml"  # the chocks are asked for by the rules about the hitch
    text = path.read_text(encoding="utf-8")
    for old, new in (("when: not chocked or not chocks proved", "when: not chocks proved"),
                     ("while: [truck, coupling]\n    when: not chocked",
                      "while: [truck, coupling]\n    when: not parked")):
        assert text.count(old) == 1, "the rule is not where it was"
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")

    done = CliRunner().invoke(main, ["check", str(copy / "arrive.yaml"), "--rig", "survey-trailer"])
    assert done.exit_code == 1, done.output
    assert "'roll-away'" in done.output and "add 'chocked' to 'needs:'" in done.output
    said = [line.strip() for line in done.output.splitlines() if line.strip().startswith("you: ")]
    assert said[-1] == "you: latch is open"  # not read back: its own words are enough to refuse
    assert "could roll away" in done.output


def test_the_sound_file_raises_the_alarm_before_the_truck_may_leave(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    script = checklists_folder() / "scripts" / "chocks-taken-back.yaml"
    done = CliRunner().invoke(main, [
        "rehearse", "--fast", "--script", str(script), "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    assert "Danger! Nothing would hold the trailer" in done.output
    lines = journal.read(tmp_path / "out" / "journal.jsonl").lines
    back = next(x.n for x in lines if x.what == "reported" and x.of == "take back")
    alarm = next(x for x in lines if x.what == "alarm" and x.n >= back)
    assert alarm.rule == "roll-away"
    held = next(x.n for x in lines if x.what == "reported" and x.of == "resolve")
    gone = next(x.n for x in lines if x.what == "reported" and x.step == "pull-away")
    assert alarm.n < held < gone


def test_the_shipped_checklists_are_proved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    done = CliRunner().invoke(main, ["check", "--again"])
    assert done.exit_code == 0, done.output
    assert "Proved over every order of events" in done.output
