"""At a real terminal: a danger that stood at 'finish for now' is said on --resume and answered."""

import os
import pty
import subprocess
import sys
import time
from pathlib import Path

from handsfree.storage.record import latest, rig_folder
from tests.pulse import NO_SOUND

LIST = """\
title: Tiny
facts:
  hitched: {says: the trailer is coupled, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are not chocked}
never:
  - {id: roll, when: not hitched and not chocked, because: It would roll away, now: Chock it,
     respond: trailer is held, gives: chocked}
steps:
  - {id: chock, do: Chock the wheels., gives: chocked, names: [chocks]}
  - {id: pull away, do: Pull the truck away., needs: chocked, ends: hitched}
  - {id: mat, do: Lay the mat out.}
"""


class Terminal:
    """The program at a terminal of its own."""

    def __init__(self, folder: Path, *words: str) -> None:
        self._ours, theirs = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "handsfree", "run", str(folder / "tiny.yaml"), "--rig",
             "small-single", "--no-screen", *words], stdin=theirs, stdout=theirs, stderr=theirs,
            close_fds=True, start_new_session=True,
            env={**os.environ, **NO_SOUND, "HANDSFREE_DATA": str(folder / "data"), "TERM": "dumb",
                 "NO_COLOR": "1"})
        os.close(theirs)
        os.set_blocking(self._ours, False)
        self.shown = ""

    def until(self, wanted: str) -> str:
        """What was shown before it."""
        end = time.monotonic() + 60
        while wanted not in self.shown:
            assert time.monotonic() < end and self.process.poll() is None, self.shown
            time.sleep(0.05)
            try:
                self.shown += os.read(self._ours, 65536).decode("utf-8", "replace")
            except (BlockingIOError, OSError):
                continue
        before, _, self.shown = self.shown.partition(wanted)
        return before

    def press(self, keys: str) -> None:
        os.write(self._ours, keys.encode())

    def end(self) -> int:
        self.process.wait(60)
        os.close(self._ours)
        return self.process.returncode


def test_it_is_said_first_and_waits_for_its_answer(tmp_path: Path) -> None:
    (tmp_path / "tiny.yaml").write_text(LIST, encoding="utf-8")
    first = Terminal(tmp_path)
    first.until("Chock the wheels")
    first.press(" ")
    first.until("Pull the truck away")
    first.press(" ")
    first.until("Lay the mat out")
    first.press(":take back chocks\n")
    first.until("Danger!")
    first.press("f")
    first.until("Stopping for now")
    assert first.end() == 0

    again = Terminal(tmp_path, "--resume")
    before = again.until("Danger! It would roll away.")
    assert "Tiny" not in before and before.count("> ") == 1, before
    again.press(":trailer is held\n")
    again.until("Is that right?")
    again.press("y")
    again.until("Trailer is held. Noted.")
    again.until("Chock the wheels")
    again.press("f")
    again.until("Stopping for now")
    assert again.end() == 0
    last = latest(rig_folder(tmp_path / "data", "Small single-axle trailer"))
    assert last and "chocked" in last.facts
