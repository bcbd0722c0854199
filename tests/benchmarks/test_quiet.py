"""Hours in which nothing is said: what is fed is heard, what is taken is counted."""

from __future__ import annotations

import json
import random
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from benchmarks.baseline_engines import OWN, open_engine
from benchmarks.foreign import LANGUAGES, foreign_speech, texts
from benchmarks.quiet import noise_pieces, quiet_hours, recorded
from benchmarks.recordings import read
from benchmarks.spoken_phrases import shipped_moments
from handsfree.audio import SAMPLE_RATE, level_dbfs, silence
from handsfree.cli import main
from handsfree.language.loader import load_language
from handsfree.sound.files import write_mono
from handsfree.sound.noise import NoiseStream, noise
from tests.hearing.speech import say


def test_a_command_would_be_counted() -> None:
    """The count can be other than nothing: 'say again' between foreign words is taken."""
    language = load_language("en")
    moment = next(m for m in shipped_moments(language) if m.kind == "step")
    sounds = [say("say again"), say("guten morgen, wie geht es ihnen heute", "de"),
              np.concatenate((say("help me"), silence(1.0)))]
    pieces = [(str(at), np.concatenate((silence(1.0), sound))) for at, sound in enumerate(sounds)]
    engine = open_engine(OWN, language.pronunciations, None, None)
    (found,) = quiet_hours({"step": engine}, {"step": moment}, "speech", pieces)
    assert [text for text, _, _ in found.taken] == ["say again", "help me"]
    assert found.utterances >= 3 and found.hours > 0
    assert found.an_hour == pytest.approx(2 / found.hours)


def test_noise_changes_its_level_and_nothing_is_taken() -> None:
    pieces = list(noise_pieces(NoiseStream("wind", 2).read, 90 / 3600, random.Random(1)))
    assert [len(sound) for _, sound in pieces] == [30 * SAMPLE_RATE] * 3
    for told, sound in pieces:
        assert abs(level_dbfs(sound[2 * SAMPLE_RATE:]) - float(told.split()[0])) < 3
    assert len({told for told, _ in pieces}) == 3


def test_a_recording_goes_on_without_end(tmp_path: Path) -> None:
    write_mono(tmp_path / "hum.wav", noise("engine", 2.0))
    pull = recorded(tmp_path / "hum.wav", random.Random(1))
    assert len(pull(5 * SAMPLE_RATE)) == 5 * SAMPLE_RATE


def test_speech_in_many_languages() -> None:
    """Each language has numbers or sentences; as much is spoken as was asked for."""
    with_text = [name for name in LANGUAGES if next(texts(name, random.Random(1)), "")]
    assert len(with_text) >= 25  # num2words alone
    spoken = list(foreign_speech(8.0, names=("fr", "ko")))
    assert sum(len(sound) for _, sound in spoken) / SAMPLE_RATE >= 8.0
    assert {name for name, _ in spoken} <= {"fr", "ko"}


@pytest.mark.long
def test_processes_hear_all_recordings_once(tmp_path: Path) -> None:
    for at, text in enumerate(("bonjour et merci", "help me", "il fait beau")):
        write_mono(tmp_path / f"{at}.wav", np.concatenate((say(text), silence(0.5))))
    seconds = sum(len(read(path)) / SAMPLE_RATE + 0.6 for path in tmp_path.iterdir())
    done = CliRunner().invoke(main, [
        "bench", "quiet", "--speech", str(tmp_path), "--only", "speech", "--jobs", "2",
        "--json", str(tmp_path / "out.json")])
    assert done.exit_code == 0, done.output
    rows = json.loads((tmp_path / "out.json").read_text())["rows"]
    assert [row["moment"] for row in rows] == ["step", "hold"]
    assert all(row["hours"] == pytest.approx(seconds / 3600) for row in rows)
    assert [text for text, _, _ in rows[0]["taken"]] == ["help me"]


def test_the_command(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["bench", "quiet", "--hours", "0.01", "--only", "rain",
                                     "--json", str(tmp_path / "out.json")])
    assert done.exit_code == 0, done.output
    assert done.output.count("0 taken") == 2
    done = CliRunner().invoke(main, ["bench", "quiet", "--speech", str(tmp_path / "gone")])
    assert done.exit_code == 2 and "there is no folder" in done.output
