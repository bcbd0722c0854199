"""Nothing leaves the machine, nobody else reads the record, and what is to be forgotten is."""

import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from handsfree.audio import Samples
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.cli import main
from handsfree.cli.wiring import sound_keeper
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.opening import start_new
from handsfree.storage.journal import Journal
from handsfree.storage.record import latest, lock, rig_folder, session_paths
from handsfree.storage.seal import seal_of
from handsfree.testing import MemoryLog
from tests.faults.parts import Stage
from tests.faults.test_damage import go

NO_NETWORK = Path(__file__).with_name("no_network.py")

TALK = """
from pathlib import Path
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.language.loader import load_language
from handsfree.storage.paths import find_rig, checklists_folder
from handsfree.testing import talk
rig = load_rig(find_rig("survey-trailer"))
for name, turns in (("arrive", 60), ("before-leaving-home", 20)):
    path = checklists_folder() / f"{name}.yaml"
    told = talk(load_checklist(path, rig=rig, library=checklists_folder()), load_language("en"))
    assert told.conversation.over and len(told.turns) > turns, (name, len(told.turns))
"""


def without_network(*arguments: str, data: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(NO_NETWORK), *arguments], capture_output=True, text=True, timeout=240,
        env={**os.environ, "HANDSFREE_DATA": str(data)}, check=False)


@pytest.mark.parametrize("code", [
    "import socket; socket.socket()",
    "import urllib.request; urllib.request.urlopen('http://localhost:9/')",
    "import subprocess, sys; raise SystemExit(abs(subprocess.run([sys.executable, '-c',"
    " 'import socket; socket.socket(socket.AF_UNIX)']).returncode))",
    "import ctypes; ctypes.CDLL(None).socket(2, 1, 0)",
])
def test_the_guard_sees_a_socket_wherever_it_is_opened(tmp_path: Path, code: str) -> None:
    if not NO_NETWORK.exists() or sys.platform != "linux":
        pytest.skip("only Linux's kernel sees native code and other processes")
    assert without_network("-c", code, data=tmp_path).returncode != 0
    assert without_network("-c", "print('quiet')", data=tmp_path).stdout == "quiet\n"


def test_whole_conversations_open_no_socket(tmp_path: Path) -> None:
    done = without_network("-c", TALK, data=tmp_path)
    assert done.returncode == 0, done.stderr


def test_a_rehearsal_with_real_voices_and_a_real_recogniser_opens_no_socket(
    tmp_path: Path
) -> None:
    checklist = tmp_path / "short.yaml"
    checklist.write_text(
        "title: Two things\nfacts:\n  chocked: the wheels are chocked\nsteps:\n"
        "  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked}\n"
        "  - {id: step, do: Put the step out.}\n", encoding="utf-8")
    rig = tmp_path / "rig.yaml"
    rig.write_text("name: Trailer\n", encoding="utf-8")
    done = without_network("-m", "handsfree", "rehearse", str(checklist), "--rig", str(rig),
                           "--fast", "--out", str(tmp_path / "out"), data=tmp_path / "data")
    assert done.returncode == 0, done.stderr
    assert "Two things: complete." in done.stdout
    assert (tmp_path / "out" / "conversation.wav").stat().st_size > 100_000


# --- the owner's eyes only ------------------------------------------------------------------------

def walked(data: Path, checklist: Checklist, language: Language, name: str = "Trailer",
           days: tuple[str, ...] = ("2026-05-01", "2026-06-01", "2026-07-01")) -> Path:
    """A record with sessions on these days, each with a note."""
    folder = rig_folder(data, name)
    for day in days:
        with lock(folder):
            started = start_new(checklist, Rig(name), folder, {})
            go(started, checklist, language, Script())
            path = started.log.path
            _date(path, day)
            sound_keeper(path, "note")(np.ones(1600, dtype=np.int16))
    return folder


def _date(path: Path, day: str) -> None:
    """As if it had been written on another day, by a version that neither summed nor linked."""
    told = re.sub(r', "before": "[0-9a-f]*", "sum": "[0-9a-f]{16}"', "",
                  path.read_text(encoding="utf-8"))
    seal_of(path.parent.parent).unlink()
    path.write_text(re.sub(r'"at": "\d{4}-\d\d-\d\d', f'"at": "{day}', told), encoding="utf-8")


def test_files_and_folders_are_the_owners_alone(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    os.umask(0o022)
    data = tmp_path / "data"
    folder = walked(data, small, english, days=("2026-05-01",))
    path = session_paths(folder)[0]
    path.write_bytes(path.read_bytes().replace(b"Done", b"D\0ne", 1)[:-3])
    Journal(path).close()
    found = {file.suffix for file in data.rglob("*") if file.is_file()}
    assert {".jsonl", ".torn", ".damaged", ".wav"} <= found
    for file in [data, *data.rglob("*")]:
        assert file.stat().st_mode & 0o077 == 0, file


def test_sound_is_kept_only_when_it_was_asked_for(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    loud = np.tile(np.array([900, -900], dtype=np.int16), 160)

    def stage() -> Stage:
        found = Stage(small, english, MemoryLog(), pause=2.0, mute_until=20)
        found.room.sound = lambda t: loud if t % 5 < 1 else loud // 100
        found.detector = lambda chunk: float(np.abs(chunk).mean() > 100)
        return found

    stage().play()
    assert list(tmp_path.iterdir()) == []
    kept: list[Samples] = []
    keep = sound_keeper(tmp_path / "000001-small.jsonl", "said")
    asked = stage()

    def keep_both(sound: Samples) -> str:
        kept.append(sound)
        return keep(sound)

    asked.play(keep_utterance=keep_both)
    assert len(kept) >= 3 and len(list(tmp_path.glob("000001-small-said-*.wav"))) == len(kept)
    assert all(np.abs(sound).max() > 800 for sound in kept)  # it is what was said
    lines = [line for line in asked.log.lines if line.what == "audio"]
    assert [line.file for line in lines] == [f"000001-small-said-{n + 1}.wav"
                                               for n in range(len(kept))]


# --- forgetting -----------------------------------------------------------------------------------

def forget(data: Path, *arguments: str) -> Result:
    return CliRunner(env={"HANDSFREE_DATA": str(data)}).invoke(main, ["forget", *arguments])


def test_forgetting_by_date_keeps_the_session_that_the_record_stands_on(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    folder = walked(tmp_path, small, english)
    facts = latest(folder).facts  # type: ignore[union-attr]
    result = forget(tmp_path, "--before", "2026-06-15", "--yes")
    assert result.exit_code == 0 and "2 sessions (4 files)" in result.output
    assert [path.name for path in session_paths(folder)] == ["000003-small.jsonl"]
    assert sorted(path.name for path in (folder / "sessions").iterdir()) == [
        "000003-small-note-1.wav", "000003-small.jsonl"]
    result = forget(tmp_path, "--before", "2027-01-01", "--yes")
    assert "the record of the rig stands on it" in result.output
    assert latest(folder).facts == facts  # type: ignore[union-attr]


def test_forgetting_all_leaves_rig_files_and_says_so(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    folder = walked(tmp_path, small, english)
    other = walked(tmp_path, small, english, name="Other")
    (tmp_path / "rigs" / "mine.yaml").write_text("name: Trailer\n", encoding="utf-8")
    (tmp_path / "prompts").mkdir()
    (tmp_path / "prompts" / "a.wav").write_text("x")
    result = forget(tmp_path, "--all", "--rig", "mine", "--yes")
    assert session_paths(folder) == [] and len(session_paths(other)) == 3
    assert (tmp_path / "prompts").is_dir() and "mine.yaml" in result.output
    result = forget(tmp_path, "--all", "--yes")
    assert "6 sessions" not in result.output and "3 sessions" in result.output
    rest = sorted(path.name for path in tmp_path.rglob("*") if path.is_file())
    assert set(rest) == {"mine.yaml", "in-use"}
    assert f"Left: {tmp_path / 'rigs' / 'mine.yaml'}" in result.output


def test_forgetting_all_takes_answers_that_were_not_all_given_with_it(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    half = [tmp_path / "rigs" / name / "how-it-stands.draft" for name in ("mine", "never-out")]
    walked(tmp_path, small, english)
    for file in half:
        file.parent.mkdir(exist_ok=True)
        file.write_text('{"questions": "", "answers": {"chocked": true}}', encoding="utf-8")
    assert forget(tmp_path, "--all", "--yes").exit_code == 0
    assert not any(file.exists() for file in half)


def test_forgetting_asks_first_and_not_while_a_session_runs(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    folder = walked(tmp_path, small, english, days=("2026-05-01",))
    result = CliRunner(env={"HANDSFREE_DATA": str(tmp_path)}).invoke(
        main, ["forget", "--all"], input="n\n")
    assert result.exit_code == 1 and len(session_paths(folder)) == 1
    with lock(folder):
        result = forget(tmp_path, "--all", "--yes")
    assert result.exit_code == 4 and "another session is running" in result.output
    assert len(session_paths(folder)) == 1


def test_forgetting_follows_no_link_out_of_the_data_folder(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    elsewhere = walked(tmp_path / "elsewhere", small, english, days=("2026-05-01",))
    data = tmp_path / "data"
    (data / "rigs").mkdir(parents=True)
    (data / "rigs" / "trailer").symlink_to(elsewhere)
    (data / "prompts").symlink_to(tmp_path / "elsewhere")
    result = forget(data, "--all", "--yes")
    assert result.exit_code == 0 and "nothing to forget" in result.output
    assert len(session_paths(elsewhere)) == 1


@pytest.mark.parametrize("arguments", [[], ["--all", "--before", "2026-01-01"],
                                       ["--all", "--rig", "nobody's"]])
def test_what_cannot_be_meant_is_one_sentence(tmp_path: Path, arguments: list[str]) -> None:
    result = forget(tmp_path, *arguments)
    assert result.exit_code == 2 and result.output.count("\n") == 1
