"""The benchmark of overheard speech counts what is taken, and leaves out what may be said."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from benchmarks import overheard as bench
from benchmarks.jobs import Share
from benchmarks.spoken_phrases import CHECKLISTS
from handsfree.audio import SAMPLE_RATE
from handsfree.cli import main
from handsfree.hearing.types import Grammar, Heard, Hypothesis, normal


@dataclass
class Credulous:
    """Takes everything for whatever phrase of the moment it finds in `said`, and is as sure as
    told."""

    said: tuple[str, ...]
    sure: float
    grammar: Grammar = field(default_factory=Grammar)

    def expect(self, grammar: Grammar) -> None:
        self.grammar = grammar

    def begin(self) -> None:
        pass

    def feed(self, samples: object) -> None:
        pass

    def finish(self) -> Heard:
        text = next((one for one in self.said if one in self.grammar.phrases), "")
        return Hypothesis(text, self.sure, 0.0, 1.0)

    def close(self) -> None:
        pass


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "people"
    made.mkdir()
    for name in ("athena_001", "say-again_002", "7_anna_01"):
        soundfile.write(made / f"{name}.wav", np.zeros(4000, np.int16), SAMPLE_RATE)
    return made


def heard(folder: Path, kind: str, engine: Credulous, patch: pytest.MonkeyPatch) -> bench.Row:
    patch.setattr(bench, "open_engine", lambda *parts: engine)
    (row,) = bench.heard(bench.Part(Share(), (folder,), (), 10.0, (kind,), 1, 1))
    return row


def test_what_is_taken_is_counted(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """"say again" may be said at a step, so that two recordings are left."""
    row = heard(folder, "step", Credulous(("say again",), 0.9), monkeypatch)
    assert (row.times, len(row.taken), row.asked) == (2, 2, 0)
    assert {about for _, about, _, _ in row.taken} == {"athena_001.wav", "7_anna_01.wav"}
    row = heard(folder, "step", Credulous(("say again",), 0.6), monkeypatch)
    assert (row.times, len(row.taken), row.asked) == (2, 0, 2)
    row = heard(folder, "step", Credulous(("say again",), 0.3), monkeypatch)
    assert (row.times, len(row.taken), row.asked) == (2, 0, 0)


def test_a_digit_may_be_said_where_a_reading_is_due(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert heard(folder, "reading", Credulous((), 0.9), monkeypatch).times == 1


def test_what_answers_a_hold_point_is_told_from_the_rest(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    moments = bench.moments_of("hold", random.Random("1 hold"))
    answers = tuple(normal(response) for m in moments for response in (
        m.checklist.steps[m.state.at].respond, *(rule.respond for rule in m.checklist.rules)))
    row = heard(folder, "hold", Credulous(answers, 0.9), monkeypatch)
    assert row.settled == len(row.taken) > 0
    row = heard(folder, "hold", Credulous(("say again",), 0.9), monkeypatch)
    assert row.settled == 0 < len(row.taken)


def test_hold_points_are_of_more_lists_than_two() -> None:

    lists = {moment.checklist.id for moment in bench.moments_of("hold", random.Random(1))}
    assert len(lists) > len(CHECKLISTS) + 3


def test_a_hold_point_that_is_taken_is_told(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = bench.Row("people", "hold", "clean", 1, 0, 1, [("arrive", "a.wav", "chocks set", 0.99)])
    monkeypatch.setattr(bench, "heard", lambda part: [row])
    done = CliRunner().invoke(main, ["bench", "overheard", str(folder), "--kind", "hold"])
    assert done.exit_code == 1
    assert "a.wav taken for 'chocks set' (0.99)" in done.output
