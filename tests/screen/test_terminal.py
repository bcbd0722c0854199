"""The program in a real terminal (a pty), read back by a terminal emulator as a user sees it."""

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path

import pyte
import pytest

LIST = """\
title: Two things
facts:
  hitched: {says: the trailer is coupled, otherwise: the trailer is free, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are loose}
never:
  - {id: roll, when: not hitched and not chocked, because: it would roll, now: Keep clear.,
     respond: wheels are held, gives: chocked}
steps:
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked}
"""


class Terminal:
    """A program in a terminal of a given size; `seen` keeps each different screen."""

    def __init__(
        self, arguments: list[str], folder: Path, size: tuple[int, int] = (80, 24), **env: str
    ) -> None:
        self.screen = pyte.Screen(*size)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        self.seen: list[str] = []
        ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
        keep = {key: value for key, value in os.environ.items()
                if key not in ("NO_COLOR", "COLUMNS", "LINES")}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "handsfree", *arguments], stdin=theirs, stdout=theirs,
            stderr=theirs, cwd=folder,
            env={**keep, "TERM": "xterm-256color", "HANDSFREE_DATA": str(folder / "data"),
                 "PYTHONIOENCODING": "utf-8", **env})
        os.close(theirs)
        self._ours = ours

    def run(self, limit: float = 60.0) -> int:
        end = time.monotonic() + limit
        while time.monotonic() < end:
            ready, _, _ = select.select([self._ours], [], [], 0.2)
            if ready:
                try:
                    piece = os.read(self._ours, 65536)
                except OSError:  # the program has gone
                    piece = b""
                if not piece:
                    break
                self.raw += piece
                self._stream.feed(piece)
                shown = "\n".join(self.screen.display)
                if not self.seen or self.seen[-1] != shown:
                    self.seen.append(shown)
        if time.monotonic() > end:
            self._process.kill()
        status = self._process.wait(10)
        os.close(self._ours)
        return status


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "two.yaml"
    path.write_text(LIST, encoding="utf-8")
    return path


def test_a_rehearsal_is_seen_as_it_goes(path: Path, tmp_path: Path) -> None:
    terminal = Terminal(["rehearse", str(path), "--fast", "--screen", "--rig", "small-single"],
                        tmp_path)
    assert terminal.run() == 0, terminal.raw[-2000:].decode("utf-8", "replace")
    hold = [shown for shown in terminal.seen if "HOLD POINT" in shown]
    assert hold and any("Answer: chocks set" in shown for shown in hold)
    assert any("IS THAT RIGHT?" in shown and "Heard: chocks set" in shown
               for shown in terminal.seen)
    assert any("+ the wheels are chocked" in shown for shown in terminal.seen)
    # Afterwards the terminal is as it was, with the last word and what was written.
    assert b"\x1b[?1049h" in terminal.raw and b"\x1b[?1049l" in terminal.raw
    assert "Two things: complete." in terminal.raw.decode()
    assert "Written:" in terminal.seen[-1] and "HOLD POINT" not in terminal.seen[-1]
    assert b"48;5;" in terminal.raw or b"48;2;" in terminal.raw, "colours"


def test_where_it_cannot_be_shown_it_says_so(path: Path, tmp_path: Path) -> None:
    terminal = Terminal(["rehearse", str(path), "--fast", "--screen", "--rig", "small-single"],
                        tmp_path, TERM="dumb")
    assert terminal.run() == 2
    text = " ".join(terminal.raw.decode().split())
    assert "this terminal cannot show the screen" in text and "--no-screen" in text
    assert "Traceback" not in text
