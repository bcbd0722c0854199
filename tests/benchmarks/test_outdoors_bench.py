"""The live benchmark in recorded noise runs to its end, counts, and hears no noise that trained."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from benchmarks import outdoors as bench
from benchmarks.jobs import Share
from benchmarks.recordings import without_end
from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.cli import main
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.sound.noise import noise


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A short recording of rain, and one with the name of one that trained."""
    folder = tmp_path_factory.mktemp("noise")
    for name in ("roof", "waves"):
        soundfile.write(folder / f"{name}.flac", noise("rain", 4.0, 3), SAMPLE_RATE)
    return folder


def test_what_is_said_in_moderate_noise_is_heard(folder: Path) -> None:
    part = bench.Part(Share(), 1, {"roof": folder / "roof.flac"}, None, None, 1, 1, ("espeak m3",))
    found = bench.heard(part)
    for snr in bench.SNRS:
        assert found.score.total(snr=snr).n == 3
    assert sum(found.missed.values()) <= 1
    good = [found.score.total(snr=snr).best for snr in ("clean", "15")]
    assert min(good) >= 2 and found.score.total().wrong == 0


def test_it_leaves_out_what_trained(folder: Path, tmp_path: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bench, "heard", lambda part: bench.Found())
        done = CliRunner().invoke(
            main, ["bench", "outdoors", str(folder), "--json", str(tmp_path / "out.json")])
    assert done.exit_code == 0, done.output
    assert '"waves"' not in (tmp_path / "out.json").read_text()
    assert '"roof"' in (tmp_path / "out.json").read_text()


def test_the_recipe_parts_the_recordings_likewise() -> None:
    recipe = Path(bench.__file__).parents[1] / "recipes" / "recorded.py"
    named = {node.targets[0].id: ast.literal_eval(node.value)
             for node in ast.parse(recipe.read_text(encoding="utf-8")).body
             if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
             and node.targets[0].id in ("TRAIN", "JUDGE")}
    assert named["TRAIN"] == bench.TRAINED
    assert not set(named["TRAIN"]) & set(named["JUDGE"])


def test_a_recording_without_end_has_no_seam(tmp_path: Path) -> None:
    """A tone that does not fit its length goes on without a step, in pieces as in one."""
    tone = (8000 * np.sin(2 * np.pi * 201.3 * np.arange(20_000) / SAMPLE_RATE)).astype(np.int16)
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone, SAMPLE_RATE)
    whole = without_end(path)(100_000)
    pull = without_end(path)
    pieces: list[Samples] = [pull(count) for count in (7, 30_000, 69_993)]
    assert np.array_equal(whole, np.concatenate(pieces))
    assert np.abs(np.diff(whole.astype(int))).max() < 1.5 * np.abs(np.diff(tone.astype(int))).max()


def test_why_something_is_lost() -> None:
    """Each reason, by what was heard."""
    heard, unsure = Hypothesis("done", 0.9, 0.0, 1.0), Rejection("unclear", 0.0, 1.0, "done", 0.3)
    assert bench.why_lost(bench.MISSED, False, False) == "gate shut"
    assert bench.why_lost(Rejection("too short", 0.0, 0.1), False, False) == "nothing heard"
    assert bench.why_lost(unsure, False, False) == "another was best"
    assert bench.why_lost(unsure, True, False) == "right but unsure"
    assert bench.why_lost(heard, False, True) == "taken for another"
    assert bench.why_lost(heard, True, True) == ""


def test_one_kind_is_enough(folder: Path) -> None:
    part = bench.Part(Share(), 1, {}, None, None, 1, 1, ("espeak m3",), ("readings",))
    found = bench.heard(part)
    assert {condition.what for condition in found.score.tallies} == {"readings"}
    assert found.score.total().n == 1


def test_one_ratio_is_enough_and_each_utterance_is_told_with_its_wait(folder: Path) -> None:
    part = bench.Part(Share(), 1, {"roof": folder / "roof.flac"}, None, None, 1, 1, ("espeak m3",),
                      ("commands", "hold responses"), ("15",))
    found = bench.heard(part)
    assert [(row["what"], row["snr"]) for row in found.rows] == [
        ("commands", "15"), ("hold responses", "15")]
    assert [row["waited"] for row in found.rows if row["why"] != "gate shut"] == [
        round(some, 2) for some in found.waited["15"]]
    assert all(0 < some < bench.AFTER for some in found.waited["15"])
