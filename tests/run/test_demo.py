"""The demo from the README on real audio: refusal, readings, taking back, skipping, closing."""

import csv
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from handsfree.storage import journal


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The folder that the demo leaves, and what it printed."""
    folder = tmp_path_factory.mktemp("demo")
    done = subprocess.run(
        [sys.executable, "-m", "handsfree", "rehearse", "--fast", "--out", str(folder / "out")],
        capture_output=True, text=True, cwd=folder, timeout=280,
        env={**os.environ, "HANDSFREE_DATA": str(folder / "data")})
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr
    return folder / "out", done.stdout


def lines(demo: tuple[Path, str], what: str) -> list[Any]:
    return [x for x in journal.read(demo[0] / "journal.jsonl").lines if x.what == what]


def test_the_unsafe_order_is_refused_aloud_with_its_reason(demo: tuple[Path, str]) -> None:
    transcript = (demo[0] / "transcript.txt").read_text(encoding="utf-8")
    assert "Pull away must wait: the wheels are not chocked" in transcript
    assert "trailer could follow the truck" in transcript
    refused = lines(demo, "refused")
    assert [(line.step, line.backstop) for line in refused] == [("pull-away", False)]
    first_away = next(x.n for x in lines(demo, "reported") if x.step == "pull-away")
    chocked = next(x.n for x in lines(demo, "reported") if x.step == "chock")
    assert refused[0].n < chocked < first_away


def test_both_readings_are_judged_and_remedied(demo: tuple[Path, str]) -> None:
    readings = [(x.step, x.value, x.band) for x in lines(demo, "reading")]
    volts = [(value, band) for step, value, band in readings if step == "outlet-volts"]
    psi = [(value, band) for step, value, band in readings if step == "pressure"]
    assert volts == [(104.0, "low"), (118.0, "within")]
    assert psi == [(100.0, "high"), (45.0, "within")]
    assert {x.step for x in lines(demo, "failed")} == {"outlet-volts", "pressure"}


def test_a_report_is_taken_back_and_the_guy_lines_come_again(demo: tuple[Path, str]) -> None:
    assert "take back" in [x.of for x in lines(demo, "reported")]
    assert [x.step for x in lines(demo, "skipped")] == ["guys-on"]
    offers = [x.again for x in lines(demo, "offered") if x.step == "guys-on"]
    assert offers[-1] == "skipped"
    assert lines(demo, "closed")[0].open == ()


def test_the_recording_carries_both_sides(demo: tuple[Path, str]) -> None:
    sound, rate = soundfile.read(demo[0] / "conversation.wav", dtype="int16")
    assert rate == 16_000 and sound.shape[1] == 2
    operator, program = sound[:, 0].astype(float), sound[:, 1].astype(float)
    assert np.mean(operator != 0) > 0.9  # wind all the time
    spoken = sum(x.seconds for x in lines(demo, "spoke"))
    assert 0.5 < np.count_nonzero(np.abs(program) > 50) / rate / spoken < 1.1


def test_the_times_are_those_of_the_journal(demo: tuple[Path, str]) -> None:
    with open(demo[0] / "times.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    offered = {x.step for x in lines(demo, "offered")}
    assert {row["step"] for row in rows} == offered and len(rows) >= 40
    assert all(float(row["seconds"]) >= 0 for row in rows)


def test_what_was_printed_is_the_transcript(demo: tuple[Path, str]) -> None:
    for line in (demo[0] / "transcript.txt").read_text(encoding="utf-8").splitlines():
        assert line in demo[1]
