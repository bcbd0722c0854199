"""The whole check-up with a sound card: a virtual one, and an operator who says what is asked."""

from pathlib import Path

from handsfree.rehearsal.rehearsal import at_level
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions
from tests.pulse import LOUDSPEAKER, MICROPHONE, Pulse, pulse  # noqa: F401  (the fixture)


def test_it_hears_the_operator_and_says_ready(pulse: Pulse, tmp_path: Path) -> None:  # noqa: F811
    (tmp_path / "rigs").mkdir()
    (tmp_path / "rigs" / "mine.yaml").write_text("name: Mine\n")
    with Pyttsx3Voice(VoiceOptions("en-us", "m3", 150)) as voice:
        words = at_level(voice.render("say again"))
    recording = pulse.recording()
    told = pulse.answered(
        "doctor", "--mic", MICROPHONE, "--speaker", LOUDSPEAKER, data=tmp_path,
        answer=lambda line: words if line.startswith("Now say") else None)
    played = recording.stop()
    assert "'say again' was heard" in told and "surroundings at -" in told, told
    assert abs(played.astype(int)).max() > 1_000, "the tones and the phrase came out"
    assert told.splitlines()[-1].startswith("Ready"), told
