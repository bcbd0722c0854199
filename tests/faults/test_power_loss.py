"""Killed at any instant and resumed: nothing confirmed is lost, nothing happens twice."""

import os
from pathlib import Path

import pytest

from benchmarks.faults import power_losses
from benchmarks.power_loss import KINDS
from handsfree.session.conversation import Conversation
from handsfree.storage import journal, record
from handsfree.storage.lines import Event, Line
from tests.depth import cases

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")


def test_power_losses_leave_the_record_as_if_there_had_been_none(tmp_path: Path) -> None:
    kills = cases(30, 60)
    found = power_losses(tmp_path, kills=kills, seed=7, names=("arrive", "depart"), each=kills // 2,
                         by_the_clock=False)
    assert found.wrong == []
    assert found.kills.total() == kills and set(found.kills) == set(KINDS)
    assert min(found.torn, found.cut) > kills // 12 and found.confirmed > 100


def _series(tmp_path: Path, kills: int = 16) -> list[str]:
    """What is found where each death comes at a write or a sync: no clock decides what is lost."""
    return power_losses(tmp_path, kills=kills, seed=5, names=("hitch-up",), each=16,
                        kinds=KINDS[1:]).wrong


def test_the_harness_sees_a_journal_that_is_not_synced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Line, "synced", False)
    found = _series(tmp_path)
    assert any("lost" in line for line in found), found


def test_the_harness_sees_a_line_that_is_written_after_its_prompt(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = journal.Journal.write
    late: list[tuple[Line, float]] = []

    def after(self: journal.Journal, line: Line, t: float, who: str = "") -> None:
        late.append((line, t))
        for old, then in late[:-1]:
            real(self, old, then)
        del late[:-1]

    monkeypatch.setattr(journal.Journal, "write", after)
    assert _series(tmp_path)


def test_the_harness_sees_an_event_that_happens_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Conversation.replay

    def without_the_last_report(
        self: Conversation, facts: frozenset[str], lines: tuple[Line, ...]
    ) -> None:
        last = max((i for i, line in enumerate(lines) if isinstance(line, Event)
                    and any(then.what == "reported" for then in line.then)), default=None)
        real(self, facts, lines[:last])

    monkeypatch.setattr(Conversation, "replay", without_the_last_report)
    assert _series(tmp_path)


def test_a_rig_is_free_as_soon_as_the_process_that_had_it_is_killed(tmp_path: Path) -> None:
    import signal

    held, told = os.pipe()
    pid = os.fork()
    if not pid:
        with record.lock(tmp_path):
            os.write(told, b"x")
            signal.pause()
        os._exit(1)
    assert os.read(held, 1) == b"x"
    with pytest.raises(record.StorageError, match="another session is running"):
        with record.lock(tmp_path):
            pass
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    with record.lock(tmp_path):
        pass
    os.close(held)
    os.close(told)
