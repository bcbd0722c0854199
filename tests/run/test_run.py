"""`handsfree run` over a virtual sound card, with a second process that speaks into it."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import seconds
from handsfree.engine.state import Finish
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.storage import journal
from tests.program import Program
from tests.pulse import LOUDSPEAKER, MICROPHONE, PARTNER_MICROPHONE, Pulse, pulse  # noqa: F401

LIST = """\
title: Tiny
closing: Rest well.
facts:
  hitched: {says: the trailer is coupled, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are not chocked}
never:
  - {id: roll, when: not hitched and not chocked, because: It would roll away, now: Chock it,
     respond: wheels are chocked, gives: chocked}
steps:
  - {id: chock, do: Chock the wheels., respond: chocks set, gives: chocked}
  - {id: gauge, do: Read the gauge., reading: {of: volts, between: [108, 127]}}
  - {id: pull away, do: Pull the truck away., needs: chocked, ends: hitched}
"""


class Running(Program):
    """`handsfree run` of the list."""

    def __init__(
        self, folder: Path, sound: Pulse, voice: OperatorVoice, *more: str,
        mics: tuple[str, ...] = (MICROPHONE,),
    ) -> None:
        super().__init__(
            sound, voice, "run", "list.yaml", "--rig", "small-single",
            *(word for mic in mics for word in ("--mic", mic)), "--speaker", LOUDSPEAKER, *more,
            cwd=folder, HANDSFREE_DATA=str(folder / "data"), HOME=str(folder))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "list.yaml").write_text(LIST, encoding="utf-8")
    return tmp_path


def journals(folder: Path) -> list[Path]:
    return sorted((folder / "data").glob("rigs/*/sessions/*.jsonl"))


def test_a_session_over_a_sound_card_survives_a_kill(folder: Path, pulse: Pulse) -> None:  # noqa: F811
    recording = pulse.recording()
    with OperatorVoice("en-us", "m3", 150) as voice, pulse.murmur("operator"):
        first = Running(folder, pulse, voice)
        first.wait("Chock the wheels")
        first.say("go to pull away", "must wait: the wheels are not chocked")
        first.say("chocks set", "Chocks set. Is that right?")
        first.say("that is right", "Read the gauge")
        first.process.send_signal(signal.SIGKILL)
        first.process.wait(10)

        second = Running(folder, pulse, voice, "--resume")
        second.wait("We were at gauge")
        second.say("one hundred eighteen volts", "One hundred eighteen volts. Is that right?")
        second.say("that is right", "Pull the truck away")
        second.say("done", "Tiny: complete")
        assert second.process.wait(20) == 0
    heard = recording.stop()
    assert seconds(heard[np.abs(heard.astype(int)) > 500]) > 3, "nothing came out of the speaker"

    (path,) = journals(folder)
    lines = journal.read(path).lines
    assert [line.step for line in lines if line.what == "refused"] == ["pull away"]
    assert [line.step for line in lines if line.what == "reported"] == [
        "chock", "gauge", "pull away"]
    assert [line.value for line in lines if line.what == "reading"] == [118.0]
    assert "restarted" in [line.what for line in lines] and lines[-1].what in (
        "spoke", "closed")


SHARED = """\
title: Tiny for two
facts: {chocked: the wheels are chocked, slide out: the slide is out}
steps:
  - {id: chock, do: Chock the wheels., role: outside, gives: chocked}
  - {id: vents, do: Open the vents., role: inside}
  - {id: slide, do: Run the slide out., role: both, needs: chocked, gives: slide out}
"""

TWO = (f"outside={MICROPHONE}", f"inside={PARTNER_MICROPHONE}")


def test_two_people_on_two_microphones(folder: Path, pulse: Pulse) -> None:  # noqa: F811
    (folder / "list.yaml").write_text(SHARED, encoding="utf-8")
    with OperatorVoice("en-us", "m3", 150) as voice, pulse.murmur("operator", "partner"):
        both = Running(folder, pulse, voice, mics=TWO)
        both.wait("inside > Open the vents")
        both.say("done", "inside > Nothing for you", sink="partner")
        both.say("done", "inside > Run the slide out")
        both.say("done", "outside > Noted. Waiting")
        both.say("done", "Tiny for two: complete", sink="partner")
        assert both.process.wait(20) == 0
    (path,) = journals(folder)
    lines = journal.read(path).lines
    assert [(line.who, line.step) for line in lines if line.what == "reported"] == [
        ("inside", "vents"), ("outside", "chock"), ("inside", "slide")]


def test_without_portaudio_the_sentence_says_what_to_install(folder: Path) -> None:
    hide = folder / "hide"
    hide.mkdir()
    (hide / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    done = subprocess.run(
        [sys.executable, "-m", "handsfree", "run", "list.yaml", "--rig", "small-single"],
        cwd=folder, capture_output=True, text=True, timeout=60, stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(hide), "HANDSFREE_DATA": str(folder / "data")})
    assert done.returncode == 3, done.stdout + done.stderr
    assert "libportaudio2" in done.stderr and "Traceback" not in done.stderr


@pytest.mark.parametrize("moment", ("at a step", "at a readback", "while it speaks"))
def test_a_service_that_is_stopped_says_good_bye_and_closes_its_journal(
    moment: str, folder: Path, pulse: Pulse  # noqa: F811
) -> None:
    with OperatorVoice("en-us", "m3", 150) as voice, pulse.murmur("operator"):
        running = Running(folder, pulse, voice)
        if moment == "while it speaks":
            until = time.monotonic() + 40
            while not any("Chock" in line for line in running.lines):
                assert time.monotonic() < until, running.lines
                time.sleep(0.1)
        else:
            running.wait("Chock the wheels")
        if moment == "at a readback":
            running.say("chocks set", "Chocks set. Is that right?")
        running.process.send_signal(signal.SIGTERM)
        assert running.process.wait(60) == 0, "".join(running.lines)
    told = "".join(running.lines)
    assert "Stopping for now" in told and "Traceback" not in told, told
    (path,) = journals(folder)
    events = [line.event for line in journal.read(path).lines if line.what == "event"]
    assert events[-1] == Finish()
