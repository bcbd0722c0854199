"""Each part of the check-up against the fault that it is there to find."""

import os
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import FRAME, SAMPLE_RATE, Samples, silence, to_int16
from handsfree.cli.doctor import listen
from handsfree.doctor import machine, speech
from handsfree.doctor.finding import Finding, Verdict, conclusion, ready
from handsfree.doctor.levels import Levels, bar, surroundings
from handsfree.errors import DeviceError
from handsfree.hearing.types import Heard, Hypothesis, Rejection
from handsfree.language.loader import load_language
from handsfree.rehearsal.rehearsal import at_level
from handsfree.sound.noise import NoiseStream
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions
from handsfree.testing import ScriptedRecogniser

ENGLISH = load_language("en")
NOW = datetime.now().astimezone()


@pytest.fixture(scope="module")
def voice() -> Iterator[Pyttsx3Voice]:
    with Pyttsx3Voice(VoiceOptions("en-us", "m3")) as made:
        yield made


# --- the last line -----------------------------------------------------------------------------

def test_it_ends_with_one_thing_to_do() -> None:
    good, note = Finding("a", Verdict.GOOD, ""), Finding("b", Verdict.NOTE, "", "later")
    bad, worse = Finding("c", Verdict.BAD, "", "first this."), Finding("d", Verdict.BAD, "", "no")
    assert conclusion([good]) == "Ready." and ready([good, note])
    assert conclusion([note, good]) == "Ready, with 1 note above."
    assert conclusion([good, bad, worse]) == "Next: first this."
    assert not ready([good, bad])


# --- disk, clock, rig --------------------------------------------------------------------------

def test_a_folder_that_can_be_written_is_left_clean(tmp_path: Path) -> None:
    found = machine.disk(tmp_path / "data")
    assert found.verdict is not Verdict.BAD and "MB free" in found.says
    assert not list((tmp_path / "data").iterdir())


def test_a_data_folder_that_is_a_file_is_found(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("")
    found = machine.disk(tmp_path / "data")
    assert found.verdict is Verdict.BAD and "HANDSFREE_DATA" in found.mend


def test_little_room_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(machine, "LEAST_MB", 10**9)
    assert machine.disk(tmp_path).verdict is Verdict.BAD
    monkeypatch.setattr(machine, "LEAST_MB", 0)
    monkeypatch.setattr(machine, "EASY_MB", 10**9)
    assert machine.disk(tmp_path).verdict is Verdict.NOTE


def journal_of(data: Path, began: datetime) -> None:
    from handsfree.storage.journal import Journal
    from handsfree.storage.lines import Unknown
    from handsfree.storage.record import next_path, rig_folder

    log = Journal(next_path(rig_folder(data, "mine"), "arrive"))
    log.write(Unknown("begun", {"session": "s", "checklist": "arrive", "record": [], "known": []}),
              0.0)
    log.close()
    path = next_path(rig_folder(data, "mine"), "arrive").with_name("000001-arrive.jsonl")
    stamp = datetime.now().astimezone().isoformat()[:10]
    text = path.read_text(encoding="utf-8")
    assert stamp in text
    path.write_text(text.replace(stamp, began.isoformat()[:10]), encoding="utf-8")


def test_a_clock_behind_its_own_record_is_found(tmp_path: Path) -> None:
    now = datetime.now().astimezone()  # not `NOW`: the journal carries the time of this moment
    assert machine.clock(tmp_path, now).verdict is Verdict.GOOD
    journal_of(tmp_path, now)
    now = datetime.now().astimezone()
    assert machine.clock(tmp_path, now).verdict is Verdict.GOOD
    found = machine.clock(tmp_path, now - timedelta(days=2))
    assert found.verdict is Verdict.BAD and "behind its own record" in found.mend


def test_a_damaged_record_is_named_by_file_and_line(tmp_path: Path) -> None:
    assert machine.record(tmp_path).verdict is Verdict.GOOD
    journal_of(tmp_path, datetime.now().astimezone())
    assert machine.record(tmp_path).verdict is Verdict.GOOD
    path = next(tmp_path.rglob("*.jsonl"))
    first, *others = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(first.replace(b"true", b"fals", 1).replace(b'"', b"'", 2) + b"".join(others))
    found = machine.record(tmp_path)
    assert found.verdict is Verdict.BAD and f"{path.name}, line 1" in found.says
    assert "asks how the trailer stands" in found.mend


def test_a_clock_that_was_never_set_is_found(tmp_path: Path) -> None:
    found = machine.clock(tmp_path, datetime(1970, 1, 1, 0, 3).astimezone())
    assert found.verdict is Verdict.BAD


def test_rig_files_are_read(tmp_path: Path) -> None:
    assert "rig new" in machine.rigs(tmp_path).mend
    (tmp_path / "rigs").mkdir()
    (tmp_path / "rigs" / "mine.yaml").write_text("name: Mine\n")
    assert machine.rigs(tmp_path) == Finding("rig", Verdict.GOOD, "Mine")
    (tmp_path / "rigs" / "other.yaml").write_text("name: Other\nhaz: [gas]\n")
    found = machine.rigs(tmp_path)
    assert found.verdict is Verdict.BAD and "line 2" in found.mend


# --- voice and recogniser ----------------------------------------------------------------------

def test_the_voice_is_heard_to_speak(voice: Pyttsx3Voice) -> None:
    found = speech.voice(voice, ENGLISH)
    assert found.verdict is Verdict.GOOD and "s of speech ready in" in found.says


class NoVoice:
    name = "none"

    def render(self, text: str) -> Samples:
        return silence(0.0)


class LostVoice:
    name = "lost"

    def render(self, text: str) -> Samples:
        raise DeviceError("the voice engine is gone; install it again.")


def test_a_voice_that_is_silent_or_gone_is_found() -> None:
    assert speech.voice(NoVoice(), ENGLISH).verdict is Verdict.BAD
    assert "install it again" in speech.voice(LostVoice(), ENGLISH).mend


@pytest.mark.parametrize(("right", "verdict"), [
    (5, Verdict.GOOD), (3, Verdict.NOTE), (0, Verdict.BAD)])
def test_the_recogniser_is_judged_by_what_it_hears(
    voice: Pyttsx3Voice, right: int, verdict: Verdict
) -> None:
    answers: list[Heard] = [
        Hypothesis(ENGLISH.commands[name][0], 0.9, 0, 1) if place < right
        else Rejection("unclear", 0, 1) for place, name in enumerate(speech.TRIED)]
    found = speech.recogniser(ScriptedRecogniser(answers), voice, ENGLISH)
    assert found.verdict is verdict and f"heard {right} of 5" in found.says


class Whisper:
    """A voice that no gate opens for."""

    name = "whisper"

    def render(self, text: str) -> Samples:
        return silence(0.5)


def test_a_gate_that_stays_shut_is_named() -> None:
    """It once crashed on older processors, and nothing told of it."""
    found = speech.recogniser(ScriptedRecogniser([]), Whisper(), ENGLISH)
    assert found.verdict is Verdict.BAD and "gate opened for no" in found.says


# --- microphone --------------------------------------------------------------------------------

class Recorded:
    """A microphone whose sound is known."""

    overflowed = False

    def __init__(self, sound: Samples) -> None:
        self._frames = iter(np.resize(sound, (len(sound) // FRAME, FRAME)))

    def read(self) -> Samples:
        return next(self._frames)


def scene(voice: Pyttsx3Voice, noise_db: float, speech_db: float, gain: float = 1.0) -> Samples:
    """Two seconds of noise, then a phrase in it, then noise."""
    said = at_level(voice.render("say again"), speech_db)
    total = round(9 * SAMPLE_RATE)
    noise = NoiseStream("pink", 1).read(total).astype(float)
    noise *= 10 ** (noise_db / 20) * 32768 / np.sqrt(np.mean(noise**2))
    at = round(2.7 * SAMPLE_RATE)
    noise[at:at + len(said)] += said
    return to_int16(noise * gain)


def ear(*answers: Heard) -> ScriptedRecogniser:
    return ScriptedRecogniser(list(answers))


SAID = Hypothesis("say again", 0.95, 0.0, 1.0)


def heard_in(sound: Samples, *answers: Heard) -> list[Finding]:
    return list(listen(Recorded(sound), ear(*answers), "say again", ["done", "skip this"]))


def test_a_good_microphone(voice: Pyttsx3Voice, capsys: pytest.CaptureFixture[str]) -> None:
    quiet, said = heard_in(scene(voice, -60, -26), SAID)
    assert (quiet.verdict, said.verdict) == (Verdict.GOOD, Verdict.GOOD), (quiet, said)
    assert quiet.says == "surroundings at -60 dB" and "'say again' was heard" in said.says
    assert "Now say" in capsys.readouterr().out


def test_wind_is_noted_and_an_operator_drowned_in_it(voice: Pyttsx3Voice) -> None:
    quiet, said = heard_in(scene(voice, -30, -26), SAID)
    assert (quiet.verdict, said.verdict) == (Verdict.NOTE, Verdict.NOTE)
    assert "nearer" in said.mend


def test_a_far_microphone_hears_nothing(voice: Pyttsx3Voice) -> None:
    _, said = heard_in(scene(voice, -70, -52), Rejection("unclear", 0, 1))
    assert said.verdict is Verdict.BAD and "nearer" in said.mend


def test_a_muted_microphone_is_told_from_silence() -> None:
    found, = heard_in(silence(9.0))
    assert found.verdict is Verdict.BAD and "switch the microphone on" in found.mend


def test_a_voice_cut_off_at_the_top_is_found(voice: Pyttsx3Voice) -> None:
    _, said = heard_in(scene(voice, -60, -20, gain=30.0), SAID)
    assert said.verdict is Verdict.BAD and "input of the microphone down" in said.mend


def test_a_roar_is_too_loud_to_go_on() -> None:
    roar = Levels()
    noise = NoiseStream("white", 1).read(2 * SAMPLE_RATE).astype(float)
    noise *= 10 ** (-10 / 20) * 32768 / np.sqrt(np.mean(noise**2))
    for frame in np.resize(to_int16(noise), (100, FRAME)):
        roar.add(frame)
    assert surroundings(roar).verdict is Verdict.BAD


def test_the_bar_says_in_words_what_it_shows() -> None:
    assert bar(-96.0).endswith("silent") and "#" not in bar(-96.0)
    assert bar(-20.0).endswith("good") and bar(-2.0).endswith("too loud")
    assert bar(0.0).count("#") == 30 and len({len(bar(x).split("]")[0]) for x in (-80, 0)}) == 1
    assert bar(-50).count("#") < bar(-30).count("#")


# --- the whole ---------------------------------------------------------------------------------

def test_it_says_what_to_do_where_there_is_no_sound_card(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from click.testing import CliRunner

    from handsfree.cli import main
    from handsfree.devices import sound_card

    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    for name in [key for key in os.environ if key.startswith("PULSE")]:
        monkeypatch.delenv(name)
    try:
        has_card = bool(sound_card.device_names("output"))
    except DeviceError:
        has_card = False
    if has_card:
        pytest.skip("this machine has a sound card")
    done = CliRunner().invoke(main, ["doctor"])
    assert done.exit_code == 1 and "Traceback" not in done.output
    last = done.output.strip().splitlines()[-1]
    assert last.startswith("Next: ") and "rehearse" in last, done.output
    for part in ("disk", "clock", "voice", "rig"):
        assert part in done.output
    # The shipped recogniser hears the shipped voice, with no sound card between them.
    assert "heard 5 of 5 spoken commands" in done.output
