"""The commands as somebody types them: plain sentences, exit statuses, plain terminals."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from benchmarks.simulated_journal import SOME, session_lines, write_journal
from handsfree.cli import main
from handsfree.review.records import PlanStep
from tests.review.book import START, Book

PLAN = tuple(PlanStep(name, 0.5, 1, 2) for name in ("chock", "hose", "mat"))


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture
def data(tmp_path: Path) -> Path:
    rng = np.random.default_rng(1)
    for number in range(1, 9):
        lines = session_lines(PLAN, rng.uniform(30, 90, 3), began=START + timedelta(days=number),
                              place=f"reserve {number % 2}", mishaps=SOME, rng=rng,
                              session=f"{number:02d}-abcdef")
        write_journal(tmp_path / "data" / "rigs" / "r", number, lines)
    return tmp_path / "data"


def test_with_no_sessions_there_is_a_clear_sentence(tmp_path: Path) -> None:
    for command in (["review"], ["review", "--checklist", "depart"], ["review", "last"],
                    ["review", "--html", tmp_path.with_suffix(".html")],
                    ["export", tmp_path.with_suffix(".csv")]):
        done = run(*command, "--data", tmp_path)
        assert done.exit_code == 0, done.output
        assert done.output.startswith(f"No sessions are recorded in {tmp_path} yet"), command
    assert not tmp_path.with_suffix(".html").exists()


def test_sessions_newest_first(data: Path) -> None:
    lines = run("review", "--data", data).output
    assert lines.index("2026-05-09") < lines.index("2026-05-02")
    few = run("review", "--data", data, "--limit", "3").output
    assert "3 of 8 sessions" in few and "2026-05-06" not in few


def test_one_session_by_id_number_last_and_file(data: Path) -> None:
    for name in ("03-", "3", "#3", data / "rigs/r/sessions/000003-depart.jsonl"):
        done = run("review", name, "--data", data)
        assert done.exit_code == 0 and "2026-05-04 09:00" in done.output, name
        assert "chock" in done.output and "active" in done.output
    assert "2026-05-09" in run("review", "last", "--data", data).output
    assert "2026-05-08" in run("review", "last", "--data", data, "--place", "reserve 1").output


@pytest.mark.parametrize(("name", "said"), [
    ("99", "there is no session '99'"), ("0", "type more of the id"),
    ("gone.jsonl", "cannot be read"), ("zz", "lists their ids")])
def test_a_session_that_is_not_there(data: Path, name: str, said: str) -> None:
    done = run("review", name, "--data", data)
    assert done.exit_code in (2, 4) and said in done.output
    assert done.output.count("\n") == 1 and "Traceback" not in done.output


def test_all_sessions_of_a_checklist(data: Path) -> None:
    done = run("review", "--checklist", "depart", "--data", data)
    assert "8 sessions, 8 closed" in done.output
    for word in ("slowest", "most variable", "trend", "median"):
        assert word in done.output


def test_filters_that_leave_nothing_say_what_there_is(data: Path) -> None:
    done = run("review", "--checklist", "arrive", "--since", "2026-05-03", "--data", data)
    assert done.exit_code == 0
    assert "None of the 8 sessions" in done.output and "checklists there: depart" in done.output


def test_problems_with_files_go_to_standard_error(data: Path) -> None:
    (data / "rigs" / "r" / "sessions" / "000099-x.jsonl").write_text("{}\n")
    done = run("review", "--data", data)
    assert done.exit_code == 0 and "000099-x.jsonl" in done.stderr
    assert "000099-x.jsonl" not in done.stdout


def test_a_data_folder_that_is_not_there(tmp_path: Path) -> None:
    done = run("review", "--data", tmp_path / "no")
    assert done.exit_code == 2 and "there is no folder" in done.output


@pytest.mark.parametrize("environment", [{"NO_COLOR": "1"}, {"TERM": "dumb"},
                                         {"PYTHONIOENCODING": "ascii"}])
def test_plain_terminals_get_plain_text(data: Path, environment: dict[str, str]) -> None:
    for arguments in (["review"], ["review", "last"], ["review", "--checklist", "depart"]):
        done = subprocess.run(
            [sys.executable, "-c", "from handsfree.cli import main; main()", *arguments,
             "--data", str(data)],
            capture_output=True, env={**os.environ, **environment})
        assert done.returncode == 0, done.stderr.decode()
        assert b"\x1b" not in done.stdout
        if "PYTHONIOENCODING" in environment:
            done.stdout.decode("ascii")


def test_forecast_from_another_machines_history(data: Path) -> None:
    done = run("forecast", "depart", "--by", "11:00", "--data", data)
    assert done.exit_code == 0, done.output
    assert "3 steps apply, 8 earlier stays" in done.output
    starts = [line.split("start by ")[1][:5] for line in done.output.splitlines()
              if "start by" in line]
    assert len(starts) == 3 and starts == sorted(starts, reverse=True)
    assert "10:50" < starts[0] < "11:00"


@pytest.mark.parametrize("by", ["25:00", "eleven", "11", ""])
def test_forecast_wants_a_time_of_day(data: Path, by: str) -> None:
    done = run("forecast", "depart", "--by", by, "--data", data)
    assert done.exit_code == 2 and "is not a time of day" in done.output


def test_export_by_ending(data: Path, tmp_path: Path) -> None:
    assert "24 rows" in run("export", tmp_path.with_suffix(".csv"), "--data", data).output
    assert "of 8 sessions" in run("export", tmp_path.with_suffix(".xes"), "--data", data).output
    done = run("export", tmp_path.with_suffix(".txt"), "--data", data)
    assert done.exit_code == 2 and ".csv, .parquet or .xes" in done.output


def test_import_twice(data: Path, tmp_path: Path) -> None:
    assert "8 new" in run("import", data, "--data", tmp_path / "d").output
    assert "0 new, 0 longer than before, 8 known" in run(
        "import", data, "--data", tmp_path / "d").output
    (tmp_path / "foreign.jsonl").write_text("{}\n")
    done = run("import", tmp_path / "foreign.jsonl", "--data", tmp_path / "d")
    assert done.exit_code == 1 and "nothing could be imported" in done.output


def test_one_unfinished_session(tmp_path: Path) -> None:
    Book().offer(0, "chock").save(tmp_path, 1)
    assert "unfinished" in run("review", "--data", tmp_path).output
    done = run("review", "--checklist", "depart", "--data", tmp_path)
    assert done.exit_code == 0 and "1 session, 0 closed" in done.output
    assert run("review", "--html", tmp_path.with_suffix(".html"), "--data", tmp_path).exit_code == 0


def test_the_benchmarks_run_small() -> None:
    done = run("bench", "review", "--sessions", "24", "--steps", "5")
    memory = [int(found) for found in re.findall(r"(\d+) MB   \d+ sessions", done.output)]
    assert len(memory) == 3
    assert all(20 < megabytes < 500 for megabytes in memory), "Python and numpy alone take 30 MB"
    assert done.exit_code == 0 and "24 sessions, 120 step records" in done.output
    done = run("bench", "forecast", "--histories", "2", "--scenario", "cold start")
    assert "stays  50 % met" in done.output


def test_forecast_by_rig_file_record_and_answers(tmp_path: Path) -> None:
    """With the checklists that come with the program: fewer steps apply where less is to be had."""
    common = ("forecast", "arrive", "--by", "11:00", "--rig", "survey-trailer", "--data", tmp_path)
    counts = []
    for answer in ("--yes", "--no"):
        done = run(*common, answer, "site power", answer, "site water")
        assert done.exit_code == 0, done.output
        counts.append(int(done.output.split(" steps apply")[0].split()[-1]))
        assert "0 earlier stays" in done.output and "site power" in done.output
    assert counts[0] > counts[1] > 0
    done = run(*common, "--yes", "no such question")
    assert done.exit_code == 2 and "is not a question in 'arrive'; it asks:" in done.output
