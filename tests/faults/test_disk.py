"""A disk that is full, write-protected, gone: said aloud, gone on in memory, caught up in order."""

import errno
import os
import resource
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.engine.state import Mode
from handsfree.errors import StorageError
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.session.deferred_journal import DeferredJournal
from handsfree.session.opening import start_new
from handsfree.storage import journal
from handsfree.storage.journal import Journal, read
from handsfree.storage.lines import Line, Overflow, Unknown
from handsfree.storage.record import latest
from tests.faults.parts import Stage

SCRIPT = Script(at={"chock": ("say again", "go to pull away", "say again", "say again"),
                    "mat": ("say again", "take back chocks", "say again")},
                answers={"water here": True})


class FaultyOs:
    """The module `os` as the journal sees it, with a disk that fails as told."""

    def __init__(self) -> None:
        self.number = 0
        """errno of every write, sync and opening; 0 while the disk works."""
        self.bytes_left = 0
        """So many bytes are taken before it fails."""

    def __getattr__(self, name: str) -> Any:
        return getattr(os, name)

    def _fail(self) -> None:
        if self.number:
            raise OSError(self.number, os.strerror(self.number))

    def open(self, path: Path, flags: int, mode: int = 0o777) -> int:
        if self.number != errno.ENOSPC:
            self._fail()
        return os.open(path, flags, mode)

    def write(self, file: int, raw: bytes) -> int:
        if self.number and self.bytes_left:
            taken, self.bytes_left = raw[:self.bytes_left], 0
            return os.write(file, taken)
        self._fail()
        return os.write(file, raw)

    def fsync(self, file: int) -> None:
        self._fail()
        os.fsync(file)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> FaultyOs:
    faulty = FaultyOs()
    monkeypatch.setattr(journal, "os", faulty)
    return faulty


def replayed(path: Path, checklist: Checklist, language: Language) -> Conversation:
    lines = read(path).lines
    again = Conversation(checklist, language, _Nowhere())
    again.replay(lines[0].record, lines)
    return again


class _Nowhere:
    def write(self, line: Line, t: float, who: str = "") -> None: ...


def break_at(disk: FaultyOs, number: int, left: int = 0) -> Any:
    def happen() -> None:
        disk.number, disk.bytes_left = number, left
    return happen


@pytest.mark.parametrize(("number", "reason"), [
    (errno.ENOSPC, "the disk is full"), (errno.EROFS, "the disk is write-protected"),
    (errno.EACCES, "I am not allowed to"), (errno.EIO, "it is not responding")])
@pytest.mark.parametrize("left", [0, 30])
def test_the_session_goes_on_in_memory_and_everything_is_written_in_the_end(
    tmp_path: Path, small: Checklist, english: Language, disk: FaultyOs, number: int,
    reason: str, left: int,
) -> None:
    log = Journal(tmp_path / "a.jsonl")
    stage = Stage(small, english, log, SCRIPT, pause=1.5)
    stage.log = DeferredJournal(log, stage.troubles)
    on_disk: list[int] = []
    stage.happenings = {
        2.0: break_at(disk, number, left),
        5.0: lambda: on_disk.append(len(read(log.path).lines)),
        9.0: lambda: on_disk.append(len(read(log.path).lines)),
        10.0: break_at(disk, 0)}
    conversation = stage.play()
    stage.log.close()
    assert conversation.state.mode is Mode.CLOSED
    keys = stage.keys_of()
    assert keys.count("lost.record") == 1 and keys.count("back.record") == 1
    lost = next(prompt for _, prompt in stage.prompts if prompt.key == "lost.record")
    assert reason in lost.text and lost.tone
    hold = [i for i, (_, p) in enumerate(stage.prompts) if p.hold]
    without = range(keys.index("lost.record"), keys.index("back.record"))
    warned = [keys[i - 1] == "not stored" for i in hold if i in without]
    assert warned and all(warned)
    assert not [i for i in hold if i > without.stop and keys[i - 1] == "not stored"]
    assert on_disk[0] == on_disk[1]  # really nothing went there
    found = read(log.path)
    assert not found.damaged and not found.torn
    numbers = [line.n for line in found.lines]
    assert sorted(set(numbers)) == list(range(1, max(numbers) + 1)) and numbers == sorted(numbers)
    assert replayed(log.path, small, english).state == conversation.state


def test_a_disk_that_is_full_from_the_start_holds_nothing_up(
    tmp_path: Path, small: Checklist, english: Language, disk: FaultyOs
) -> None:
    folder = tmp_path / "rig"
    started = start_new(small, Rig("trailer"), folder, {})
    stage = Stage(small, english, started.log, pause=1.0)
    stage.log = DeferredJournal(started.log, stage.troubles)
    disk.number = errno.ENOSPC
    conversation = stage.play(lambda of: started.begin(of, 0.0, stage.log))
    assert conversation.state.mode is Mode.CLOSED and not read(started.log.path).lines
    assert stage.keys_of()[0] == "lost.record"
    disk.number = 0
    stage.log.close()
    assert replayed(started.log.path, small, english).state == conversation.state
    assert latest(folder).ended  # type: ignore[union-attr]


def test_a_failed_sync_is_not_believed_afterwards(tmp_path: Path, disk: FaultyOs) -> None:
    """After EIO the kernel may call lost pages clean: all since the last sync is written again."""
    log = Journal(tmp_path / "a.jsonl")
    log.write(Unknown("one"), 0.0)
    log.write(Overflow(), 0.0)
    disk.number = errno.EIO
    with pytest.raises(StorageError):
        log.write(Unknown("three"), 0.0)
    raw = (tmp_path / "a.jsonl").read_bytes()
    (tmp_path / "a.jsonl").write_bytes(raw + b"\0" * 40)  # what a disk may do
    disk.number = 0
    log.write(Unknown("four"), 0.0)
    log.close()
    found = read(tmp_path / "a.jsonl")
    assert [line.what for line in found.lines] == ["one", "overflow", "three", "four"]
    assert not found.damaged and not found.torn


def test_a_file_that_is_gone_is_not_made_anew_without_its_beginning(
    tmp_path: Path, disk: FaultyOs
) -> None:
    path = tmp_path / "a.jsonl"
    log = Journal(path)
    log.write(Unknown("one"), 0.0)
    disk.number = errno.EIO
    with pytest.raises(StorageError):
        log.write(Unknown("two"), 0.0)
    disk.number = 0
    path.rename(tmp_path / "away")
    with pytest.raises(StorageError):
        log.catch_up()
    assert not path.exists() and log.waiting == 1
    (tmp_path / "away").rename(path)
    log.catch_up()
    assert log.waiting == 0 and len(read(path).lines) == 2
    log.close()


@pytest.fixture
def little_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 kB."""
    folder = tmp_path / "little"
    folder.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)],
                          capture_output=True, check=False)
    if done.returncode:
        pytest.skip("file systems cannot be mounted here")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


def test_a_real_disk_fills_up_and_is_freed(
    little_disk: Path, small: Checklist, english: Language
) -> None:
    log = Journal(little_disk / "a.jsonl")
    stage = Stage(small, english, log, SCRIPT, pause=1.5)
    stage.log = DeferredJournal(log, stage.troubles)
    ballast = little_disk / "ballast"

    def fill() -> None:
        with open(ballast, "wb", buffering=0) as file:
            with pytest.raises(OSError, match="No space"):
                while True:
                    file.write(b"x" * 512)

    stage.happenings = {2.0: fill, 10.0: ballast.unlink}
    conversation = stage.play()
    stage.log.close()
    keys = stage.keys_of()
    assert keys.count("lost.record") == keys.count("back.record") == 1 and "not stored" in keys
    assert conversation.state.mode is Mode.CLOSED
    assert replayed(log.path, small, english).state == conversation.state


def test_a_real_disk_that_stays_full_leaves_the_rest_elsewhere(
    little_disk: Path, tmp_path: Path, small: Checklist, english: Language
) -> None:
    log = Journal(little_disk / "a.jsonl")
    stage = Stage(small, english, log, SCRIPT, pause=1.5)
    storing = stage.log = DeferredJournal(log, stage.troubles)
    ballast = little_disk / "ballast"

    def fill() -> None:
        with open(ballast, "wb", buffering=0) as file, pytest.raises(OSError, match="No space"):
            while True:
                file.write(b"x" * 512)

    stage.happenings = {2.0: fill}
    conversation = stage.play()
    other = tmp_path / "home"
    other.mkdir()
    with pytest.raises(StorageError, match="free space, then append it") as told:
        storing.close([tmp_path / "nowhere", other])
    rest = other / "a-rest.jsonl"
    assert str(rest) in str(told.value) and rest.stat().st_mode & 0o077 == 0
    ballast.unlink()
    subprocess.run(f"cat '{rest}' >> '{log.path}'", shell=True, check=True)  # what it said
    assert replayed(log.path, small, english).state == conversation.state
    assert not read(log.path).torn and not read(log.path).damaged


def test_a_real_limit_on_the_size_of_files(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    """In a process of its own, since a limit cannot be taken back below a file's size."""
    told, result = os.pipe()
    pid = os.fork()
    if not pid:
        status = 1
        try:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            log = Journal(tmp_path / "a.jsonl")
            stage = Stage(small, english, log, SCRIPT, pause=1.5)
            stage.log = DeferredJournal(log, stage.troubles)
            _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
            stage.happenings = {
                2.0: lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1500, most)),
                10.0: lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))}
            conversation = stage.play()
            stage.log.close()
            same = replayed(log.path, small, english).state == conversation.state
            keys = stage.keys_of()
            os.write(result, f"{same} {keys.count('lost.record')} {keys.count('back.record')}"
                     .encode())
            status = 0
        finally:
            os._exit(status)
    _, status = os.waitpid(pid, 0)
    assert status == 0 and os.read(told, 100) == b"True 1 1"
    os.close(told)
    os.close(result)


TONE = """\
title: Test of the water
steps:
  - {id: feel, do: Feel every joint.}
  - {id: mat, do: Lay out the mat.}
  - {id: again, do: Feel every joint again., waits: {after: feel, minutes: 0.05}}
"""


def test_of_ordinary_steps_that_are_due_nothing_is_said_of_the_record(
    tmp_path: Path, english: Language, disk: FaultyOs
) -> None:
    """That nothing is written down is repeated at hold points, where somebody could be hurt; said
    at every step, it would be listened to at none."""
    path = tmp_path / "water.yaml"
    path.write_text(TONE, encoding="utf-8")
    log = Journal(tmp_path / "a.jsonl")
    stage = Stage(load_checklist(path), english, log, Script(at={"mat": ("say again",) * 4}),
                  pause=1.5)
    stage.log = DeferredJournal(log, stage.troubles)
    stage.happenings = {1.0: break_at(disk, errno.ENOSPC)}
    stage.play()
    disk.number = 0
    stage.log.close()
    assert any(prompt.text.startswith("It is time") for _, prompt in stage.prompts)
    assert "lost.record" in stage.keys_of() and "not stored" not in stage.keys_of()
