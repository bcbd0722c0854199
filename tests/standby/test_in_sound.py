"""Standing by in real audio: a synthesised operator from a file, and over a virtual sound card."""

import signal
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from handsfree.audio import seconds, silence
from handsfree.cli import main
from handsfree.rehearsal.rehearsal import at_level
from handsfree.sound.files import write_mono
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.storage import journal
from handsfree.storage.record import latest, rig_folder, session_paths
from tests.program import Program
from tests.pulse import LOUDSPEAKER, MICROPHONE, Pulse, pulse  # noqa: F401
from tests.standby.test_in_text import CALL, somebodys_folder

OWN = """\
title: Nest boxes
steps:
  - {id: count, do: Count the boxes.}
"""


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    return somebodys_folder(tmp_path, monkeypatch, OWN)


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
        "Ready", "Yes?", "No: the gas is shut", "For the record: the step is out", "Got it",
        "Out: the step is out", "Count the boxes", "Nest boxes: complete", "Speak now", "Saved.",
        "Good night")]
    assert places == sorted(places), told
    assert told.count("Out: the step is out") == 1, told
    folder = rig_folder(data, "Small single-axle trailer")
    assert "entry step out" in latest(folder).facts  # type: ignore[union-attr]
    notes = [line for path in session_paths(folder) for line in journal.read(path).lines
             if line.what == "note"]
    assert len(notes) == 1 and (folder / "sessions" / notes[0].audio).stat().st_size > 10_000


def test_a_sound_file_that_is_none_is_one_sentence(data: Path, tmp_path: Path) -> None:
    (tmp_path / "none.wav").write_text("no sound")
    for path in (tmp_path / "none.wav", tmp_path / "missing.wav"):
        done = CliRunner().invoke(main, ["stand-by", "--hear", str(path)])
        assert done.exit_code == 2 and done.output.count("\n") == 1, done.output


def test_from_power_on_to_good_night_over_a_sound_card(data: Path, pulse: Pulse) -> None:  # noqa: F811
    recording = pulse.recording()
    with OperatorVoice("en-us", "m3", 150) as voice, pulse.murmur("operator"):
        running = Program(pulse, voice, "stand-by", "--mic", MICROPHONE, "--speaker", LOUDSPEAKER,
                          HANDSFREE_DATA=str(data))
        try:
            running.wait("Ready", 60)
            running.say(CALL, "Yes?", limit=10)
            running.say("nest boxes", "Count the boxes", limit=10)
            running.say("done", "Nest boxes: complete", limit=10)
            time.sleep(2)
            running.say("good night", "Good night", limit=10)
            running.process.send_signal(signal.SIGTERM)
            assert running.process.wait(30) == 0, "".join(running.lines)
        finally:
            running.process.kill()
    told = "".join(running.lines)
    assert "Good-bye" in told and "Traceback" not in told, told
    heard = recording.stop()
    assert seconds(heard[np.abs(heard.astype(int)) > 500]) > 2, "nothing came out of the speaker"
