"""Every command of README's table in a real terminal, over a virtual sound card where it has sound.

Whatever a beginner copies from there has to come to its end without a traceback.
"""

import os
import pty
import re
import select
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from handsfree.cli import wiring
from handsfree.language.loader import load_language
from handsfree.storage.paths import checklists_folder
from tests.pulse import Pulse, pulse  # noqa: F401
from tests.session.standing import told_how_it_stands

README = Path(__file__).parents[2] / "README.md"

WITHOUT_SOUND = {
    "rig new": (["rig", "new", "My trailer"], {0}),
    "run": (["run", "arrive", "--rig", "small-single", "--no-screen"], {0}),
    "stand-by": (["stand-by", "--text"], {0}),
    "service": (["service", "install", "--print"], {0}),
    "rig": (["rig"], {0}),
    "rig change": (["rig", "change", "--yes", "I took the step in"], {0}),
    "place": (["place", "add", "north meadow"], {0}),
    "check": (["check", "lessons.yaml", "--alone"], {0}),
    "learn": (["learn", "lessons.yaml"], {0, 1}),
    "review": (["review"], {0}),
    "forecast": (["forecast", "arrive"], {0, 2}),
    "export": (["export", "steps.csv"], {0}),
    "work": (["work", "weight", "40 gal"], {0}),
    "way": (["way", "depart", "--rig", "small-single", "--svg", "way.svg"], {0}),
    "print": (["print", "glovebox.pdf"], {0}),
    "tune": (["tune", "--forget"], {0}),
    "doctor": (["doctor", "--without-sound"], {0, 1}),
    "forget": (["forget", "--all", "--yes"], {0}),
    "try": (["try", "--rehearse", "--fast", "--out", "lesson"], {0}),
}
"""Command -> (what is typed, exit statuses that are an answer)."""


class Terminal:
    """A program in a plain terminal, too small for the large type, and a person at its keys."""

    def __init__(self, arguments: list[str], folder: Path, **env: str) -> None:
        self.shown = ""
        ours, theirs = pty.openpty()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "handsfree", *arguments], stdin=theirs, stdout=theirs,
            stderr=theirs, cwd=folder, start_new_session=True,
            env={**os.environ, "TERM": "dumb", "HANDSFREE_DATA": str(folder / "data"),
                 "PYTHONIOENCODING": "utf-8", **env})
        os.close(theirs)
        self._ours = ours

    def read(self, seconds: float) -> bool:
        """Whether the program is still there, after at most so long."""
        if not select.select([self._ours], [], [], seconds)[0]:
            return True
        try:
            piece = os.read(self._ours, 65536)
        except OSError:  # it has gone
            return False
        self.shown += piece.decode("utf-8", "replace")
        return bool(piece)

    def until(self, words: str, limit: float = 120) -> None:
        end = time.monotonic() + limit
        while words not in self.shown:
            assert time.monotonic() < end and self.read(0.2), f"no '{words}' in:\n{self.shown}"

    def press(self, keys: str) -> None:
        os.write(self._ours, keys.encode())

    def ended(self, limit: float = 240, enter: bool = False) -> int:
        """Its exit status; with `enter`, whatever it asks is answered by Enter."""
        end, told = time.monotonic() + limit, 0
        try:
            while self.read(0.3):
                assert time.monotonic() < end, self.shown
                if enter and len(self.shown) > told and self.shown.rstrip(" ").endswith(":"):
                    told = len(self.shown)
                    self.press("\n")
            return self._process.wait(20)
        finally:
            self.close()

    def close(self) -> None:
        if self._process.poll() is None:
            self._process.kill()
            self._process.wait(10)
        if self._ours >= 0:
            os.close(self._ours)
            self._ours = -1


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the owner of one rig stands, with a checklist of their own."""
    rigs = tmp_path / "data" / "rigs"
    rigs.mkdir(parents=True)
    shutil.copy(checklists_folder() / "rigs" / "small-single.yaml", rigs)
    shutil.copy(checklists_folder() / "lessons" / "first-try.yaml", tmp_path / "lessons.yaml")
    return tmp_path


def commands() -> set[str]:
    """Those that README's table names: 'rig change' with its second word, others with the first."""
    table = re.findall(r"^\| (`handsfree .*?) \|(.*)\|$", README.read_text("utf-8"), re.MULTILINE)
    found = set()
    for first, second in table:
        for named in re.findall(r"`([^`]+)`", first.replace("`, `", "`, `handsfree ")):
            found.add(" ".join(named.removeprefix("handsfree ").split()[:2]))
        found |= {" ".join(named.split()[:2])
                  for named in re.findall(r"`handsfree ([^`]+)`", second)}
    known = {"rig new", "rig change"}
    return {name if name in known else name.split()[0] for name in found}


def test_readmes_table_is_all_here() -> None:
    assert len(commands()) >= 14
    assert commands() <= {*WITHOUT_SOUND}, commands() - {*WITHOUT_SOUND}


@pytest.mark.parametrize("name", sorted(set(WITHOUT_SOUND) - {"run", "stand-by"}))
def test_a_command_without_a_sound_card(name: str, folder: Path) -> None:
    arguments, good = WITHOUT_SOUND[name]
    terminal = Terminal(arguments, folder)
    status = terminal.ended(enter=True)
    assert "Traceback" not in terminal.shown, terminal.shown
    assert status in good, terminal.shown


@pytest.mark.parametrize("size", ("small", "large type"))
def test_try_with_a_sound_card(size: str, folder: Path, pulse: Pulse) -> None:  # noqa: F811
    env = dict(pulse.environment)
    if size == "large type":
        env |= {"TERM": "xterm-256color", "COLUMNS": "80", "LINES": "24"}
    terminal = Terminal(["try"], folder, **env)
    try:
        if size == "small":
            terminal.until("When it is done, say: done.")
            terminal.press(" ")
            terminal.until("say again")
        else:
            terminal.until("done", 60)
        terminal.press("f")
        assert terminal.ended(90) == 0, terminal.shown
    finally:
        terminal.close()
    assert "Traceback" not in terminal.shown


def test_run_and_resume_with_a_sound_card(folder: Path, pulse: Pulse) -> None:  # noqa: F811
    made = wiring.plan("arrive", str(folder / "data/rigs/small-single.yaml"), folder / "data")
    told_how_it_stands(made.checklist, made.rig, load_language("en"), made.folder,
                       made.checklist.start_facts)  # its questions have tests of their own
    for more in ((), ("--resume",)):
        terminal = Terminal(["run", "arrive", *more], folder, **pulse.environment)
        try:
            terminal.until("> ")
            terminal.press("f")
            status = terminal.ended(90)
        finally:
            terminal.close()
        assert "Traceback" not in terminal.shown and status == 0, terminal.shown


def test_stand_by_in_text_at_a_terminal(folder: Path) -> None:
    terminal = Terminal(["stand-by", "--text"], folder)
    try:
        for words, then in (("", "Ready"), ("hello trailer", "Yes?"), ("help", "You can say"),
                            ("what is out", "ut"), ("good night", "Good night")):
            if words:
                terminal.press(f"{words}\n")
            terminal.until(then)
        terminal.press("\x04")
        assert terminal.ended(60) == 0, terminal.shown
    finally:
        terminal.close()
    assert "Traceback" not in terminal.shown


def test_stand_by_with_a_sound_card_is_called_by_a_key(folder: Path, pulse: Pulse) -> None:  # noqa: F811
    terminal = Terminal(["stand-by", "--button", "f9=done"], folder, **pulse.environment)
    try:
        terminal.until("Ready")
        time.sleep(6)  # until it has said so
        terminal.press("\x1b[20~")
        terminal.until("Yes?")
        terminal.press(":what comes next\n")
        terminal.until("ext")
        terminal._process.terminate()
        assert terminal.ended(60) == 0 and "Good-bye" in terminal.shown, terminal.shown
    finally:
        terminal.close()
    assert "Traceback" not in terminal.shown


def test_doctor_and_tune_with_a_sound_card(folder: Path, pulse: Pulse) -> None:  # noqa: F811
    for arguments in (["doctor"], ["tune", "--times", "1"]):
        terminal = Terminal(arguments, folder, **pulse.environment)
        status = terminal.ended()
        # Nobody speaks into this card, so there is something to do first.
        assert "Traceback" not in terminal.shown and status in (0, 1), terminal.shown
