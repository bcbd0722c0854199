"""The hearing benchmark runs to its end on folders of any size, and counts rightly."""

from __future__ import annotations

import ast
import json
import random
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import soundfile
from click.testing import CliRunner, Result

from benchmarks import hearing as bench
from benchmarks.hearing import Depth, Files, bench_hearing
from benchmarks.hearing_report import plot, show, summed
from benchmarks.recordings import digits_in, read, sounds_in
from benchmarks.speakers import ESPEAK_VARIANTS
from benchmarks.spoken_phrases import commands, readings, responses, shipped_moments
from benchmarks.tally import Condition, Score, calibration
from handsfree.audio import SAMPLE_RATE
from handsfree.cli import main
from handsfree.errors import InputError
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.loader import load_language
from tests.hearing.speech import say

TINY = Depth(commands=1, holds=1, readings=1, all_noises=False, digits=2, speech=2,
             all_moments=True, alone=3, noise=15)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two digits (FLAC at 8 kHz, WAV at 16) and two sentences, without labels."""
    folder = tmp_path_factory.mktemp("audio")
    for name in ("digits", "speech"):
        (folder / name).mkdir()
    three, seven = say("three"), say("seven")
    soundfile.write(folder / "digits/3_anna_00.flac", three[::2], SAMPLE_RATE // 2)
    soundfile.write(folder / "digits/7_bo_12.wav", seven, SAMPLE_RATE)
    for at, text in enumerate(("two coffees with milk please", "is there any tea left")):
        soundfile.write(folder / f"speech/{at}.flac", say(text), SAMPLE_RATE)
    (folder / "noise.wav").write_bytes((folder / "digits/7_bo_12.wav").read_bytes())
    return folder


@pytest.fixture(scope="module")
def report(folder: Path) -> Iterator[dict[str, object]]:
    """With two of the speakers."""
    two = dict(list(bench.speakers().items())[:2])
    files = Files(folder / "digits", folder / "speech", folder / "noise.wav")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bench, "speakers", lambda: two)
        yield bench_hearing(files, only=("own",), depth=TINY)


@pytest.mark.long
def test_it_runs_to_its_end(report: dict[str, dict], tmp_path: Path,
                            capsys: pytest.CaptureFixture[str]) -> None:
    """Every part is there; JSON and plot can be made of it."""
    own = report["engines"]["own"]
    rows = own["rows"]
    for what in ("commands", "hold responses", "readings"):
        assert summed(rows, what=what, snr="clean").n == len(report["voices"]), what
        assert summed(rows, what=what, snr="0").n == len(report["voices"]), what
    assert {row["voice"] for row in rows if row["what"] == "human digits"} == {"anna", "bo"}
    assert own["speech that is no command"]["n"] == 8
    assert own["noise alone"]["pieces of 3 s"]["wind"] == 1
    assert 50 < own["megabytes"] < 1000
    for row in rows:
        assert row["right"] + row["wrong"] + row["asked"] + row["rejected"] == row["n"]
    assert json.loads(json.dumps(report))["noises"][-1] == "recorded"
    show(report)
    assert "speech that is no command: 8 utterances" in capsys.readouterr().out
    plot(report, tmp_path / "plot.png")
    assert (tmp_path / "plot.png").stat().st_size > 10_000


@pytest.mark.long
def test_what_is_said_clearly_is_heard(report: dict[str, dict]) -> None:
    """Not all, and not one by one: that the sounds and texts belong together at all."""
    rows = report["engines"]["own"]["rows"]
    quiet = summed(rows, snr="clean")
    said = [row for row in rows if row["snr"] == "clean" and row["words"]]
    assert sum(row["best"] for row in said) > 0.7 * sum(row["n"] for row in said), quiet


@pytest.mark.long
def test_processes_change_nothing_but_the_time(folder: Path) -> None:
    """Each hears what it would have heard in one process, in the same noise."""
    files = Files(folder / "digits", folder / "speech")
    few = replace(TINY, commands=0, holds=0, readings=0, all_moments=False)
    one, two = (bench_hearing(files, only=("own",), depth=few, jobs=jobs) for jobs in (1, 2))

    def counted(report: dict[str, Any]) -> list[dict[str, Any]]:
        return sorted(report["engines"]["own"]["rows"], key=lambda row: sorted(row.items(), key=str))

    assert counted(one) == counted(two)
    assert one["engines"]["own"]["noise alone"] == two["engines"]["own"]["noise alone"]


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["bench", "hearing", *map(str, arguments)])


@pytest.mark.parametrize("option", ["--digits", "--not-commands"])
def test_a_bad_folder_is_told_in_a_sentence(option: str, tmp_path: Path) -> None:
    for path, told in ((tmp_path / "gone", "there is no folder"), (tmp_path, "there are no .flac")):
        done = run(option, path)
        assert done.exit_code == 2 and told in done.output, done.output
        assert done.output.count("\n") == 1


def test_a_file_of_another_name_or_without_sound_is_told(tmp_path: Path) -> None:
    (tmp_path / "seven.flac").write_bytes(b"no sound")
    (tmp_path / "ok").mkdir()
    soundfile.write(tmp_path / "ok" / "seven.flac", say("seven"), SAMPLE_RATE)
    done = run("--digits", tmp_path / "ok")
    assert done.exit_code == 2 and "DIGIT_SPEAKER_TAKE" in done.output
    done = run("--not-commands", tmp_path)
    assert done.exit_code == 2 and f"{tmp_path / 'seven.flac'} is no sound file" in done.output
    done = run("--noise", tmp_path / "seven.flac")
    assert done.exit_code == 2 and "no sound file that can be read" in done.output
    done = run("--json", tmp_path / "gone" / "out.json")
    assert done.exit_code == 2 and "--json" in done.output


def test_folders_as_they_are_named(folder: Path) -> None:
    assert [(digit, who) for _, digit, who in digits_in(folder / "digits")] == [
        (3, "anna"), (7, "bo")]
    assert len(sounds_in(folder / "speech")) == 2
    sound = read(folder / "digits/3_anna_00.flac")
    assert abs(len(sound) - len(say("three"))) < 4  # 8 kHz, brought to 16
    with pytest.raises(InputError, match="no sound file"):
        read(folder / "speech/gone.flac")


def test_no_voice_that_trains_is_measured() -> None:
    """What the recipe keeps out of training is what speaks here."""
    path = Path(bench.__file__).parents[1] / "recipes" / "voices.py"
    tree = ast.parse(path.read_text(encoding="utf-8"))
    kept_out = next(
        ast.literal_eval(node.value) for node in tree.body
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "ESPEAK_HELD_OUT")
    assert set(ESPEAK_VARIANTS) <= set(kept_out)
    spoken = (path.parent / "speak.py").read_text(encoding="utf-8")
    for_training = re.search(r"Flite\(\[[^\]]*\] if held else (\[[^\]]*\])\)", spoken)
    assert for_training and "rms" not in ast.literal_eval(for_training[1])


def test_every_moment_has_its_phrases() -> None:
    language = load_language("en")
    found = shipped_moments(language)
    kinds = {moment.kind for moment in found}
    assert {"step", "hold", "reading", "question", "confirm", "paused", "closing", "alarm",
            "remedy step"} <= kinds
    for placed in (responses(found), readings(found, language)):
        assert placed
        for text, moment in placed.items():
            assert moment.grammar.allows(text), text
            assert moment.meaning(text) is not None, text
    said = commands(found, language, random.Random(1))
    assert {"done", "that is right", "carry on", "no change it"} <= said.keys()
    done = said["done"]
    assert done.meaning("done") == done.meaning("that is done") != done.meaning("skip this")
    assert done.meaning("good morning") is None


def test_a_score_by_hand() -> None:
    score = Score()
    quiet = Condition("commands", "a", "clean", "clean")

    def heard(text: str, sure: float) -> Hypothesis:
        return Hypothesis(text, sure, 0, 1)

    score.enter(quiet, heard("skip it", 0.9), "skip this", "skip", "skip")
    score.enter(quiet, heard("done", 0.9), "skip this", "skip", "done")
    score.enter(quiet, heard("skip this", 0.5), "skip this", "skip", "skip")
    score.enter(quiet, Rejection("unclear", 0, 1, "skip this", 0.2), "skip this", "skip", None)
    tally = score.total(what="commands")
    assert (tally.n, tally.best, tally.right, tally.wrong, tally.asked, tally.rejected) == (
        4, 2, 1, 1, 1, 1)
    assert (tally.word_errors, tally.words) == (3, 8)
    assert score.confused == {("skip this", "done"): 1}
    noise = Condition("noise alone", "nobody", "wind", "noise")
    score.enter(noise, heard("done", 0.9), "", None, "done")
    score.enter(noise, heard("two a minus", 0.9), "", None, None)
    alone = score.total(what="noise alone")
    assert (alone.wrong, alone.rejected) == (1, 1)


def test_calibration_by_hand() -> None:
    found = calibration([(0.95, True), (0.95, True), (0.15, False), (0.15, True)])
    assert [one["n"] for one in found["bins"]] == [2, 2]
    assert found["ece"] == pytest.approx((2 * 0.05 + 2 * 0.35) / 4)
