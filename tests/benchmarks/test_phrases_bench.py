"""The bench of phrases: what is said is counted, what does not carry is named, bad input is told."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest
import soundfile
from click.testing import CliRunner

from benchmarks import phrases as bench
from benchmarks.jobs import Share
from handsfree.audio import SAMPLE_RATE
from handsfree.cli import main
from handsfree.language.loader import load_language
from handsfree.sound.noise import noise


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("noise")
    soundfile.write(folder / "roof.flac", noise("rain", 6.0, 3), SAMPLE_RATE)
    return folder


def part(folder: Path, **how: object) -> bench.Part:
    asked = {"share": Share(), "kinds": ("response", "command", "reading"), "instead": (),
             "only": (), "noises": (folder / "roof.flac",), "snrs": (15.0,), "voices": ("espeak m3",),
             "seed": 1}
    return bench.Part(**(asked | how))  # type: ignore[arg-type]


def test_every_response_of_the_library_and_every_command_is_tried(folder: Path) -> None:
    language = load_language("en")
    responses = {one.text for one in bench.hold_phrases(language)}
    assert {"the chocks are set", "jack carries it", "tester is in"} <= responses
    same = next(one.same for one in bench.hold_phrases(language) if one.text == "tester is in")
    assert {"tester is in", "the tester is in"} <= same and "is the tester in" not in same
    commands = {one.text: one for one in bench.command_phrases(language)}
    assert {"done", "no", "that is right", "hold on"} <= commands.keys()
    assert commands["skip"].same >= {"skip", "skip it"} and commands["done"].needs > 0.9


def test_a_phrase_a_reading_and_a_new_wording(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bench, "_KINDS", {"command": bench.command_phrases,
                                          "reading": bench.reading_phrases})
    plain = bench.heard(part(
        folder, kinds=("command", "reading"), only=("hold on", "ninety seven volts")))
    assert [(one.text, one.times, one.taken) for one in plain] == [
        ("hold on", 1, 1), ("ninety seven volts", 1, 1)]
    (new,) = bench.heard(part(
        folder, kinds=("command",), instead=(("hold on", "wait for the others"),)))
    assert (new.text, new.taken, new.wrong) == ("wait for the others", 1, 0)


def test_live_each_voice_once_at_each_ratio_and_an_old_answer_beside_its_new_wording(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bench, "_KINDS", {
        "response": lambda language: (one for one in bench.hold_phrases(language)
                                      if one.text in ("every joint is dry", "tester is in"))})
    soundfile.write(tmp_path / "tent.flac", noise("rain", 6.0, 4), SAMPLE_RATE)
    how = {"kinds": ("response",), "snrs": (20.0, 10.0), "live": True, "turns": True,
           "noises": (folder / "roof.flac", tmp_path / "tent.flac")}
    plain = bench.heard(part(folder, **how))
    assert {(one.text, one.times, one.taken) for one in plain} == {
        ("every joint is dry", 2, 2), ("tester is in", 2, 2)}
    assert plain[0].at == {"20 dB": [1, 1], "10 dB": [1, 1]}
    (new,) = bench.heard(part(folder, instead=(("tester is in", "the tester is plugged in"),), **how))
    assert (new.text, new.times, new.taken) == ("the tester is plugged in", 2, 2)


def test_what_does_not_carry_is_named(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lost = bench.Tally("response", "chocks set", 10, 8, 0, 0.4, Counter({"chocks sat": 2}))
    found = [bench.Tally("response", "rig is held", 10, 9, 0, 0.7), lost]
    monkeypatch.setattr(bench, "heard", lambda part: found)
    out = tmp_path / "out.json"
    done = CliRunner().invoke(main, ["bench", "phrases", str(folder), "--json", str(out)])
    assert json.loads(out.read_text())["phrases"][1]["instead"] == {"chocks sat": 2}
    assert done.exit_code == 1 and "'chocks set': 8 of 10" in done.output
    assert "rig is held" not in done.output
    found.remove(lost)
    assert CliRunner().invoke(main, ["bench", "phrases", str(folder)]).exit_code == 0


@pytest.mark.parametrize(("words", "told"), [
    (["--instead", "chocks set"], "is not OLD=NEW"),
    (["--phrase", "the moon is up"], "is no phrase of the shipped checklists"),
    (["--noise", "hail"], "no such recording"),
    (["--voice", "nobody"], "there is no voice 'nobody'"),
])  # fmt: skip
def test_what_is_not_there_is_told(
    folder: Path, words: list[str], told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bench, "_KINDS", {"response": lambda language: iter(()),
                                          "command": lambda language: iter(())})
    done = CliRunner().invoke(main, ["bench", "phrases", str(folder), *words])
    assert done.exit_code == 2 and told in done.output + done.stderr, done.output
