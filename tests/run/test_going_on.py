"""After the power went: `run` asks whether to go on, and does what it is told."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from tests.run.test_resumed_danger import LIST, Terminal


@pytest.fixture
def killed(tmp_path: Path) -> Path:
    """A session that was killed at its second step."""
    (tmp_path / "tiny.yaml").write_text(LIST, encoding="utf-8")
    first = Terminal(tmp_path)
    first.until("Chock the wheels")
    first.press(" ")
    first.until("Pull the truck away")
    os.kill(first.process.pid, signal.SIGKILL)
    first.end()
    return tmp_path


def test_yes_goes_on_where_it_stopped(killed: Path) -> None:
    again = Terminal(killed)
    before = again.until("Pick up from there?")
    assert "It stopped at" in before
    again.press("y\n")
    again.until("We were at")
    again.until("Pull the truck away")
    again.press("f")
    again.until("Stopping for now")
    assert again.end() == 0


def test_no_starts_from_the_top_with_what_is_on_record(killed: Path) -> None:
    again = Terminal(killed)
    again.until("Pick up from there?")
    again.press("n\n")
    again.until("Chock the wheels")
    again.press("f")
    again.until("Stopping for now")
    assert again.end() == 0


def test_anew_is_not_asked(killed: Path) -> None:
    again = Terminal(killed, "--anew")
    assert "Shall I go on" not in again.until("Chock the wheels")
    again.press("f")
    again.until("Stopping for now")
    assert again.end() == 0
