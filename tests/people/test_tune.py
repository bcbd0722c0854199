"""`handsfree tune`: from sound files and from a virtual sound card, with noise around."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from handsfree.audio import silence, to_int16
from handsfree.cli import main
from handsfree.rehearsal.rehearsal import at_level
from handsfree.session.tuning import kept
from handsfree.sound.files import write_mono
from handsfree.sound.noise import NoiseStream
from handsfree.speaking.operator_voice import OperatorVoice
from tests.pulse import MICROPHONE, Pulse, pulse  # noqa: F401  (the fixture)


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


@pytest.fixture(scope="module")
def voice() -> Iterator[OperatorVoice]:
    with OperatorVoice("en-us", "f2") as opened:
        yield opened


def tune(*options: str) -> Result:
    return CliRunner().invoke(main, ["tune", *options])


def recorded(folder: Path, voice: OperatorVoice, said: dict[str, str]) -> None:
    """Files by name, with what is really said in them, in some wind."""
    folder.mkdir()
    wind = NoiseStream("wind", 2)
    for name, words in said.items():
        sound = np.concatenate([silence(0.6), at_level(voice.render(words), -30.0), silence(0.5)])
        noise = wind.read(len(sound)).astype(np.float64) * 10 ** (-32 / 20)
        write_mono(folder / f"{name}.wav", to_int16(sound + noise))


def test_from_recordings_what_was_heard_is_told_stored_shown_and_forgotten(
    tmp_path: Path, data: Path, voice: OperatorVoice
) -> None:
    recorded(tmp_path / "mine", voice, {
        "done-1": "done", "done-2": "done", "say again-1": "say again",
        "that is right-1": "that is right", "carry on": "carry on"})
    done = tune("--from", str(tmp_path / "mine"))
    assert done.exit_code == 0, done.output
    assert "done: 2 of 2" in done.output and "Of 5 commands 5 were heard right" in done.output
    found = kept(data)
    assert found is not None and found.certain == 0.8 and found.engine == "own"
    assert found.voice_dbfs == pytest.approx(-30, abs=4)
    assert found.floor_dbfs == pytest.approx(-52, abs=6)
    assert not list(data.rglob("*.wav")), "the sound is not kept"
    assert ("Acted on from a confidence of 0.80 on, single words from 0.95 on: as usual"
            in tune("--show").output)
    assert tune("--forget").output == "Forgotten.\n"
    assert kept(data) is None and "Nothing is stored" in tune("--show").output
    assert tune("--forget").output == "There was nothing to forget.\n"


def test_who_is_taken_for_something_else_gets_a_stricter_program(
    tmp_path: Path, data: Path, voice: OperatorVoice
) -> None:
    recorded(tmp_path / "mine", voice, {"done-1": "done", "say again-1": "skip this"})
    done = tune("--from", str(tmp_path / "mine"))
    assert done.exit_code == 1, "say again was never heard"
    assert "taken for 'skip this'" in done.output
    found = kept(data)
    assert found is not None and found.certain > 0.8 and "stricter" in done.output


def test_another_wording_of_the_same_command_is_no_mistake(
    tmp_path: Path, data: Path, voice: OperatorVoice
) -> None:
    recorded(tmp_path / "mine", voice, {"say again-1": "come again", "done-1": "done"})
    done = tune("--from", str(tmp_path / "mine"))
    assert done.exit_code == 0 and "say again: 1 of 1" in done.output, done.output


def test_silence_stores_nothing(tmp_path: Path, data: Path) -> None:
    (tmp_path / "mine").mkdir()
    write_mono(tmp_path / "mine" / "done-1.wav", silence(1.0))
    done = tune("--from", str(tmp_path / "mine"))
    assert done.exit_code == 1 and "nothing is stored" in done.output
    assert kept(data) is None


@pytest.mark.parametrize(("files", "told"), [
    (None, "there is no folder"), ({}, "there is no sound file"),
    ({"banana-1.wav": b""}, "banana-1.wav is not named for a command"),
    ({"done-1.wav": b"no sound"}, "cannot be read as sound")])
def test_a_bad_folder_is_one_sentence(
    tmp_path: Path, data: Path, files: dict[str, bytes] | None, told: str
) -> None:
    if files is not None:
        (tmp_path / "mine").mkdir()
        for name, content in files.items():
            (tmp_path / "mine" / name).write_bytes(content)
    done = tune("--from", str(tmp_path / "mine"))
    assert done.exit_code == 2 and told in done.output and "Traceback" not in done.output
    assert not data.exists()


def test_showing_and_forgetting_exclude_each_other(data: Path) -> None:
    assert tune("--show", "--forget").exit_code == 2


def test_forgetting_everything_forgets_the_voice(
    tmp_path: Path, data: Path, voice: OperatorVoice
) -> None:
    recorded(tmp_path / "mine", voice, {"done-1": "done"})
    assert tune("--from", str(tmp_path / "mine")).exit_code == 0
    done = CliRunner().invoke(main, ["forget", "--all", "--yes"])
    assert done.exit_code == 0 and "voice.json" in done.output and kept(data) is None


def test_it_listens_to_a_sound_card(pulse: Pulse, tmp_path: Path, voice: OperatorVoice) -> None:  # noqa: F811
    told = pulse.answered(
        "tune", "--times", "1", "--mic", MICROPHONE, data=tmp_path,
        answer=lambda line: at_level(voice.render(line[5:].strip()))
        if line.startswith("Say: ") else None)
    assert "Of 9 commands 9 were heard right by own" in told, told
    assert kept(tmp_path) is not None
