"""The whole check-up with a sound card: a virtual one, and an operator who says what is asked."""

import os
import subprocess
import sys
from pathlib import Path

from handsfree.audio import SAMPLE_RATE, to_int16
from handsfree.session.rehearsal import at_level
from handsfree.sound.noise import NoiseStream
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions
from tests.pulse import LOUDSPEAKER, MICROPHONE, Pulse, pulse  # noqa: F401  (the fixture)


def test_it_hears_the_operator_and_says_ready(pulse: Pulse, tmp_path: Path) -> None:  # noqa: F811
    (tmp_path / "rigs").mkdir()
    (tmp_path / "rigs" / "mine.yaml").write_text("name: Mine\n")
    with Pyttsx3Voice(VoiceOptions("en-us", "m3", 150)) as voice:
        words = at_level(voice.render("say again"))
    # A virtual card is digitally silent between two sounds, which no real room is.
    room = to_int16(NoiseStream("pink", 1).read(60 * SAMPLE_RATE) * 0.01)
    murmur = pulse.speaking(room)
    recording = pulse.recording()
    process = subprocess.Popen(
        [sys.executable, "-m", "handsfree", "doctor", "--mic", MICROPHONE,
         "--speaker", LOUDSPEAKER],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env={**os.environ, **pulse.environment, "HANDSFREE_DATA": str(tmp_path),
             "PYTHONUNBUFFERED": "1"})
    lines = []
    assert process.stdout is not None
    for line in process.stdout:
        lines.append(line.rstrip())
        if line.startswith("Now say"):
            pulse.speak(words)
    murmur.terminate()
    murmur.wait(10)
    played = recording.stop()
    told = "\n".join(lines)
    assert process.wait(60) == 0, told
    assert "'say again' was heard" in told and "surroundings at -" in told, told
    assert abs(played.astype(int)).max() > 1_000, "the tones and the phrase came out"
    assert lines[-1].startswith("Ready"), told
