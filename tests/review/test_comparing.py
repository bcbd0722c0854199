"""Comparisons say how sure they are, and rank nothing on too little; no name gets out unasked."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from benchmarks.simulated_journal import session_lines, write_journal
from handsfree.cli import main
from handsfree.review import history
from handsfree.review.comparing import compare, sentence
from handsfree.review.records import PlanStep
from tests.review.book import START

PLAN = tuple(PlanStep(name, 0.5, 1, 2) for name in ("chock", "hose", "mat"))


def stays(data: Path, minutes: list[float], *, first: int = 1, operator: str = "", rig: str = "r",
          place: str = "Reed Lake") -> history.History:
    for number, whole in enumerate(minutes, start=first):
        lines = session_lines(PLAN, np.full(3, whole * 20), rig=rig, place=place,
                              began=START + timedelta(days=number),
                              rng=np.random.default_rng(number))
        lines[0]["operator"] = {"": operator}
        write_journal(data / "rigs" / "r", number, lines)
    return history.load(data)


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


def test_the_interval_of_a_median_is_that_of_the_order_statistics(tmp_path: Path) -> None:
    """Ten values: the 2nd and the 9th hold the median with 1 - 22/1024 = 97.9 % (tables of the
    binomial distribution); no narrower pair reaches 95 %."""
    stays(tmp_path, [float(n) for n in range(10, 20)], operator="one")
    found = stays(tmp_path, [float(n) for n in range(30, 40)], operator="two", first=11)
    by, = (one for one in compare(found.columns, "depart") if one.kind == "operator")
    assert [g.name for g in by.groups] == ["one", "two"] and by.differ
    one = by.groups[0]
    assert (one.stays, one.median) == (10, pytest.approx(14.5))
    assert (one.low, one.high) == (pytest.approx(11, abs=0.01), pytest.approx(18, abs=0.01))
    assert "they differ" in sentence(by)


def test_nothing_is_ranked_on_fewer_than_six_stays(tmp_path: Path) -> None:
    stays(tmp_path, [10.0] * 5, operator="one")
    found = stays(tmp_path, [30.0, 31, 32, 33, 34, 35], operator="two", first=6)
    by, = (one for one in compare(found.columns, "depart") if one.kind == "operator")
    assert [g.name for g in by.ranked] == ["two"] and not by.differ
    assert "Too few stays to rank" in sentence(by) and "one 10 min (5 stays)" in sentence(by)


def test_groups_with_too_few_stays_stand_by_name_and_not_by_how_quick_they_were(
    tmp_path: Path
) -> None:
    """An order by minutes would be a ranking; of many of them the number is enough."""
    found = stays(tmp_path, [30.0], operator="two")
    found = stays(tmp_path, [20.0], operator="ten", first=2)
    found = stays(tmp_path, [10.0], operator="three", first=3)
    by, = (one for one in compare(found.columns, "depart") if one.kind == "operator")
    told = sentence(by)
    assert told.index("ten 20 min") < told.index("three 10 min") < told.index("two 30 min")
    for number in range(4, 10):
        found = stays(tmp_path, [15.0], operator=f"another {number}", first=number)
    by, = (one for one in compare(found.columns, "depart") if one.kind == "operator")
    assert sentence(by) == "9 have too few stays to rank by operator; it takes 6 each."


def test_alike_groups_are_seldom_said_to_differ(tmp_path: Path) -> None:
    """Random halves of one operator's stays, 60 times: a claim in about one of twenty."""
    rng = np.random.default_rng(3)
    found = stays(tmp_path, list(rng.uniform(20, 40, 16)))
    claims = 0
    for _ in range(60):
        columns = found.columns
        names = rng.permutation([0] * 8 + [1] * 8)
        words = (*columns.words, "left", "right")
        mixed = dict(columns.sessions) | {
            "operator": (names + len(columns.words)).astype("i4")}
        changed = type(columns)(words, mixed, columns.steps, columns.misses)
        by, = (one for one in compare(changed, "depart") if one.kind == "operator")
        claims += by.differ
    assert claims <= 8


def test_what_goes_along_with_something_else_is_said(tmp_path: Path) -> None:
    stays(tmp_path, [float(n) for n in range(10, 20)], operator="one", rig="short")
    found = stays(tmp_path, [float(n) for n in range(30, 40)], operator="two", rig="long",
                  first=11)
    by, = (one for one in compare(found.columns, "depart") if one.kind == "operator")
    assert by.tied == "rig" and "came with its own rig, so it may be that" in sentence(by)


def test_the_command_compares(tmp_path: Path) -> None:
    stays(tmp_path, [float(n) for n in range(10, 18)], place="Reed Lake")
    stays(tmp_path, [float(n) for n in range(30, 38)], place="Dry Ridge", first=11)
    done = run("review", "--checklist", "depart", "--compare", "--data", tmp_path)
    assert "By place, median without pauses: Reed Lake 14 min (95 %:" in done.output
    assert run("review", "--compare", "--data", tmp_path).exit_code == 2


def test_the_help_says_what_an_anonymous_export_still_tells() -> None:
    assert "names and the times of day remain" in " ".join(run("export", "--help").output.split())


@pytest.mark.parametrize("suffix", ["csv", "xes", "parquet"])
@pytest.mark.parametrize("table", ["steps", "sessions"])
def test_an_anonymous_export_names_nobody(tmp_path: Path, suffix: str, table: str) -> None:
    data = tmp_path / "Secret Folder"
    stays(data, [10.0, 12.0], operator="Wren", rig="Blue Heron", place="Osprey Bend")
    path = tmp_path / f"o.{suffix}"
    done = run("export", path, "--anonymous", "--table", table, "--data", data)
    assert done.exit_code == 0, done.output
    raw = path.read_bytes()
    if suffix == "parquet":
        from pyarrow import parquet

        raw = str(parquet.read_table(path).to_pylist()).encode()
    ids = [str(one) for one in history.load(data).columns.text("session")]
    for secret in ("Wren", "Blue Heron", "Osprey Bend", "Secret Folder", "0" * 64, *ids):
        assert secret.encode() not in raw
    assert b"depart" in raw and (b"operator 1" in raw)
    words = run("export", tmp_path / f"p.{suffix}", "--anonymous", "--table", "notes", "--data",
                data)
    assert words.exit_code == 2
