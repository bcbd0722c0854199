"""The speech gate over minutes of noise: a small version of the benchmark, and its counting."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from benchmarks.gate import DEAF, Cell, Stream, heard
from handsfree.cli import main
from tests.recordings import recordings


def test_minutes_in_an_engine_and_in_rain_leave_it_hearing() -> None:
    """At 5 dB the goal is that at most 2 words of a hundred do not open it, and none makes it
    deaf; in so few words, at most one."""
    for voice, noise in (("espeak klatt2", "engine"), ("espeak steph", "rain")):
        cell = heard(Stream(voice, noise, 5.0, 4.0, "own", 1))
        assert cell.said == 25 and cell.missed + cell.dropped <= 1 and not cell.deaf, cell
        assert cell.false <= 1, cell


def test_recorded_noise_leaves_it_hearing() -> None:
    """Recordings on which nothing was trained.  The goal of 2 in a hundred is met in two of three:
    in the boat 2 of 19 words were missed when this was written."""
    for name, most in (("fireplace", 1), ("storm", 1), ("boat", 3)):
        path = recordings("outdoors") / f"{name}.flac"
        cell = heard(Stream("espeak klatt2", f"recorded {name}", 5.0, 3.0, "own", 1, path))
        assert cell.said == 19 and cell.missed + cell.dropped <= most and not cell.deaf, cell


def test_a_cell_by_hand() -> None:
    cell = Cell("a", "wind", 5.0)
    cell.word([(3.9, 5.0, False)], 4.0, 5.0)
    cell.word([(1.0, 2.0, False), (4.3, 5.0, False)], 4.0, 5.0)
    cell.word([(3.9, 4.2, True)], 4.0, 5.0)
    assert (cell.said, cell.missed, cell.dropped, cell.cut, cell.false) == (3, 0, 1, 1, 1)
    for _ in range(DEAF):
        assert not cell.deaf
        cell.word([], 4.0, 5.0)
    assert cell.deaf and cell.missed == DEAF


def test_what_cannot_be_measured_is_told(tmp_path: Path) -> None:
    for options, told in ((["--only", "hail"], "hail"), (["--outdoors", tmp_path], "there are no")):
        done = CliRunner().invoke(main, ["bench", "gate", *map(str, options)])
        assert done.exit_code == 2 and told in done.output, done.output


@pytest.mark.parametrize("detector", ["own", "silero"])
def test_it_runs_to_its_end(detector: str, tmp_path: Path) -> None:
    out = tmp_path / "gate.json"
    done = CliRunner().invoke(main, [
        "bench", "gate", "--minutes", "1", "--only", "wind", "--voice", "espeak m3",
        "--detector", detector, "--json", str(out)])
    assert done.exit_code == 0 and "everything" in done.output and out.is_file(), done.output
