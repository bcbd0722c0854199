"""`handsfree rig`: danger leads, an unbelieved record says so, two rigs never share a record."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import Rig
from handsfree.cli import main
from handsfree.cli.wiring import plan
from handsfree.errors import InputError
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.session.opening import start_new
from handsfree.storage.paths import checklists_folder, find_checklist
from handsfree.storage.record import rig_folder, session_paths
from handsfree.testing import talk


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    (tmp_path / "rigs").mkdir()
    (tmp_path / "rigs" / "mine.yaml").write_text("name: Mine\n", encoding="utf-8")
    return tmp_path


def rig(*words: str) -> Result:
    return CliRunner().invoke(main, ["rig", *words])


def arrived(data: Path) -> Path:
    mine = Rig("Mine")
    checklist = load_checklist(find_checklist("arrive"), rig=mine, library=checklists_folder())
    folder = rig_folder(data, "Mine")
    started = start_new(checklist, mine, folder, {})
    told = talk(checklist, load_language("en"), Script(), started=started)
    assert "hitched" not in told.conversation.state.facts
    started.log.close()
    return folder


def test_a_danger_leads_the_listing(data: Path) -> None:
    arrived(data)
    assert "DANGER" not in rig().output
    assert rig("set", "chocked", "no").exit_code == 1
    shown = rig().output.splitlines()
    assert shown[0] == "Mine" and shown[1].startswith(
        "DANGER: nothing would hold the trailer, and it could roll away.")


def test_a_record_that_cannot_be_believed_says_so_before_it_is_shown(data: Path) -> None:
    path = session_paths(arrived(data))[0]
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*lines[:9], *lines[10:]]))
    assert "This record cannot be believed: 000001-arrive.jsonl, line 10: something is missing" in (
        " ".join(rig().output.split()))


def test_two_files_of_one_name_are_refused(data: Path) -> None:
    (data / "rigs" / "other.yaml").write_text("name: MINE\n", encoding="utf-8")
    with pytest.raises(InputError, match="they would share one record"):
        plan("arrive", "mine", data)
    assert rig("--rig", "mine").exit_code == 2
    assert "choose another title" in str(rig("new", "mine").output)


def test_names_in_another_script_make_files_and_records_of_their_own(data: Path) -> None:
    for title in ("Прицеп", "가나다"):
        done = CliRunner().invoke(main, ["rig", "new", title], input="\n" * 200)
        assert done.exit_code == 0, done.output
    assert len(list((data / "rigs").glob("*.yaml"))) == 3


def test_chocks_can_be_corrected_on_a_rig_without_waste_tanks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One list has a chocking step for rigs with tanks only; that says nothing of the chocks."""
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    done = CliRunner().invoke(
        main, ["rig", "--rig", "small-single", "change", "--yes", "the wheels are chocked"])
    assert "Recorded: the wheels are chocked" in done.output, done.output
