"""Standing by in real audio: a synthesised operator from a file, and over a virtual sound card."""

import os
import queue
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from handsfree import wiring
from handsfree.audio import seconds, silence
from handsfree.cli import main
from handsfree.language.loader import load_language
from handsfree.library import library_folder
from handsfree.session import journal
from handsfree.session.record import latest, rig_folder, session_paths
from handsfree.session.rehearsal import at_level
from handsfree.sound.files import write_mono
from handsfree.speaking.operator import OperatorVoice
from tests.pulse import LOUDSPEAKER, MICROPHONE, Pulse, pulse  # noqa: F401
from tests.session.standing import told_how_it_stands

CALL = "hello trailer"
OWN = """\
title: Nest boxes
steps:
  - {id: count, do: Count the boxes.}
"""


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "data"
    (folder / "rigs").mkdir(parents=True)
    (folder / "checklists").mkdir()
    shutil.copy(library_folder() / "rigs" / "small-single.yaml", folder / "rigs" / "mine.yaml")
    (folder / "checklists" / "nest-boxes.yaml").write_text(OWN, encoding="utf-8")
    monkeypatch.setenv("HANDSFREE_DATA", str(folder))
    made = wiring.plan("arrive", "mine", folder)
    told_how_it_stands(made.checklist, made.rig, load_language("en"), made.folder,
                       made.checklist.start_facts)
    return folder


def test_called_asked_corrected_and_a_list_walked(data: Path, tmp_path: Path) -> None:
    """Every word through gate, ear and recogniser; what is said before the call is not taken."""
    said = ["what is out", CALL, "is the gas open", "the step is out", "that is right",
            "what is out", "nest boxes", "done", CALL, "make a note", "the left tyre looks low",
            "good night", "what is out"]
    with OperatorVoice("en-us", "m3", 150) as voice:
        sound = np.concatenate([np.concatenate((at_level(voice.render(words)), silence(1.2)))
                                for words in said])
    write_mono(tmp_path / "said.wav", sound)
    done = CliRunner().invoke(main, ["stand-by", "--hear", str(tmp_path / "said.wav")])
    assert done.exit_code == 0 and done.exception is None, done.output
    told = done.output
    places = [told.index(words) for words in (
        "Ready", "Yes?", "No: the gas is shut", "Put on record: the step is out", "On record now",
        "Out: the step is out", "Count the boxes", "Nest boxes: complete", "Speak now", "Kept.",
        "Good night")]
    assert places == sorted(places), told
    assert told.count("Out: the step is out") == 1, told
    folder = rig_folder(data, "Small single-axle trailer")
    assert "entry step out" in latest(folder).facts  # type: ignore[union-attr]
    notes = [line for path in session_paths(folder) for line in journal.read(path).lines
             if line["what"] == "note"]
    assert len(notes) == 1 and (folder / "sessions" / notes[0]["audio"]).stat().st_size > 10_000


def test_a_sound_file_that_is_none_is_one_sentence(data: Path, tmp_path: Path) -> None:
    (tmp_path / "none.wav").write_text("no sound")
    for path in (tmp_path / "none.wav", tmp_path / "missing.wav"):
        done = CliRunner().invoke(main, ["stand-by", "--hear", str(path)])
        assert done.exit_code == 2 and done.output.count("\n") == 1, done.output


class Running:
    """`handsfree stand-by` in a process of its own, on a virtual sound card."""

    def __init__(self, data: Path, sound: Pulse, *more: str) -> None:
        self.lines: list[str] = []
        self._new: queue.Queue[str] = queue.Queue()
        self.sound = sound
        self.process = subprocess.Popen(
            [sys.executable, "-u", "-m", "handsfree", "stand-by", "--mic", MICROPHONE, "--speaker",
             LOUDSPEAKER, *more], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT, text=True,
            env={**os.environ, **sound.environment, "HANDSFREE_DATA": str(data)})
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout
        for line in self.process.stdout:
            self.lines.append(line)
            self._new.put(line)

    def wait(self, words: str, limit: float = 60) -> bool:
        until = time.monotonic() + limit
        while time.monotonic() < until:
            try:
                line = self._new.get(timeout=0.5)
            except queue.Empty:
                continue
            if words in line:
                time.sleep(1.2 + 0.075 * len(line))
                return True
        return False

    def say(self, voice: OperatorVoice, words: str, then: str) -> None:
        for _ in range(3):
            self.sound.speak(np.concatenate([at_level(voice.render(words)), silence(0.5)]))
            if self.wait(then, 10):
                return
        pytest.fail(f"'{words}' did not lead to '{then}':\n{''.join(self.lines)}")


def test_from_power_on_to_good_night_over_a_sound_card(data: Path, pulse: Pulse) -> None:  # noqa: F811
    recording = pulse.recording()
    running = Running(data, pulse)
    try:
        with OperatorVoice("en-us", "m3", 150) as voice:
            assert running.wait("Ready"), running.lines
            running.say(voice, CALL, "Yes?")
            running.say(voice, "nest boxes", "Count the boxes")
            running.say(voice, "done", "Nest boxes: complete")
            time.sleep(2)
            running.say(voice, "good night", "Good night")
        running.process.send_signal(signal.SIGTERM)
        assert running.process.wait(30) == 0, "".join(running.lines)
    finally:
        running.process.kill()
    told = "".join(running.lines)
    assert "Good-bye" in told and "Traceback" not in told, told
    heard = recording.stop()
    assert seconds(heard[np.abs(heard.astype(int)) > 500]) > 2, "nothing came out of the speaker"
