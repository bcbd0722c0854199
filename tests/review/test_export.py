"""What other tools read is what the journals said."""

from __future__ import annotations

import csv
import json
import math
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from handsfree.errors import InputError, StorageError
from handsfree.review import export, history
from handsfree.review.history import History
from tests.review.book import START, Book


@pytest.fixture
def found(tmp_path: Path) -> History:
    wall = datetime(2026, 5, 1, 2, 30, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    book = Book(session="a", place='Pine "Loop", 4\u2028', wall=wall).offer(0, "chock")
    book.write(5, "refused", step="hose", missing=["x"], rule="", backstop=False)
    book.done(61.25, "chock").offer(61.25, "hose").write(70, "skipped", step="hose")
    book.write(70.5, "note", step="hose", audio="a.wav", text="")
    book.close(71, "hose", "mat").save(tmp_path, 1)
    Book(session="b", wall=START + timedelta(days=2)).offer(0, "chock").save(tmp_path, 2)
    return history.load(tmp_path)


def test_csv_has_a_row_for_each_step(found: History, tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    assert export.write_csv(found, path) == 4
    with open(path, encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    first = rows[0]
    assert (first["session"], first["step"], first["outcome"]) == ("a", "chock", "done")
    assert float(first["active_s"]) == pytest.approx(61.25)
    assert first["began"] == "2026-04-30T21:00:00.000+00:00" and first["utc_offset_s"] == "19800"
    assert first["place"].startswith('Pine "Loop", 4')
    by_step = {row["step"]: row for row in rows if row["session"] == "a"}
    assert by_step["hose"]["refusals"] == "1" and by_step["mat"]["offered_s"] == ""


def test_csv_of_sessions(found: History, tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    assert export.write_csv(found, path, "sessions") == 2
    rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
    assert [(row["closed"], row["refusals"]) for row in rows] == [("true", "1"), ("false", "0")]


@pytest.mark.parametrize("what", export.TABLES)
def test_parquet_reads_back_equal_with_its_types(
    found: History, tmp_path: Path, what: str
) -> None:
    from pyarrow import parquet, types

    path = tmp_path / "out.parquet"
    rows = export.write_parquet(found, path, what)
    read = parquet.read_table(path)
    assert read.num_rows == rows > 0
    wanted = export.table(found, what)
    assert read.column_names == list(wanted)
    for name, column in wanted.items():
        got = read.column(name).to_pylist()
        if column.dtype.kind == "f":
            assert [math.nan if v is None else v for v in got] == pytest.approx(
                column.tolist(), nan_ok=True)
        elif column.dtype.kind == "M":
            assert types.is_timestamp(read.schema.field(name).type)
            assert got[0] == datetime(2026, 4, 30, 21, 0, tzinfo=UTC)
        else:
            assert got == column.tolist()


def test_the_table_of_lines_loses_nothing(found: History) -> None:
    table = export.table(found, "lines")
    refused = [json.loads(text) for kind, text in zip(table["what"], table["fields"], strict=True)
               if kind == "refused"]
    assert refused == [{"step": "hose", "missing": ["x"], "rule": "", "backstop": False}]
    assert len(table["n"]) == 8 + 2 and table["n"].tolist()[:3] == [1, 2, 3]


def test_an_empty_history_gives_headers_only(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    assert export.write_csv(history.load(tmp_path), path) == 0
    assert path.read_text().startswith("session,checklist,rig")


def test_what_cannot_be_written_is_said(found: History, tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="cannot be written"):
        export.write_csv(found, tmp_path / "no" / "such" / "out.csv")
    with pytest.raises(InputError, match="choose one of: steps, sessions, notes, lines"):
        export.write_csv(found, tmp_path / "out.csv", "everything")
