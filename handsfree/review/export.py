"""Records for other tools: CSV and Parquet tables.

May import columns, history, writing, errors, csv and, late, pyarrow.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.errors import HandsfreeError, InputError
from handsfree.extras import lacking
from handsfree.review.columns import (
    OUTCOMES,
    SESSION_TIMES,
    STEP_COUNTS,
    STEP_TIMES,
    Columns,
)
from handsfree.review.history import History
from handsfree.review.timings import LARGEST_JOURNAL
from handsfree.review.whole_file import whole_file
from handsfree.storage import journal

TABLES = ("steps", "sessions", "notes", "lines")
"""What can be written: a row for each step, session, note, or journal line."""


def table(history: History, what: str) -> dict[str, Any]:
    """Columns by name: numpy arrays of one length.

    `steps` and `sessions` have times in seconds and `began` in UTC; the local offset is in
    `utc_offset_s`.  Times that do not exist are nan.

    Raises:
        InputError: `what` is none of `TABLES`.
    """
    if what == "sessions":
        return _sessions(history.columns)
    if what == "steps":
        return _steps(history.columns)
    if what == "notes":
        return _notes(history)
    if what == "lines":
        return _lines(history)
    raise InputError(f"there is no table '{what}'; choose one of: {', '.join(TABLES)}.")


def anonymous(columns: Columns) -> Columns:
    """The same without rig, place, path, title, ids and names: only what was done, and when.

    Sessions and operators are numbered in the order in which they come.
    """
    named = dict.fromkeys(filter(None, columns.text("operator")))
    operators = {name: f"operator {place + 1}" for place, name in enumerate(named)}
    ids = [f"session {row + 1}" for row in range(len(columns))]
    words = {"": 0}
    for word in (*ids, *operators.values()):
        words.setdefault(word, len(words))
    kept = {code: words.setdefault(columns.words[code], len(words)) for code in np.unique(
        np.concatenate([columns.sessions["checklist"], columns.sessions["language"],
                        columns.steps["step"], columns.steps["who"]])).tolist()}
    sessions = dict(columns.sessions)
    for name in ("rig", "place", "path", "title", "digest", "answers", "record", "plan"):
        sessions[name] = np.zeros(len(columns), "i4")
    sessions["session"] = np.array([words[one] for one in ids], "i4")
    sessions["operator"] = np.array(
        [words[operators.get(name, "")] for name in columns.text("operator")], "i4")
    for name in ("checklist", "language"):
        sessions[name] = np.array([kept[code] for code in sessions[name].tolist()], "i4")
    steps = dict(columns.steps)
    for name in ("step", "who"):
        steps[name] = np.array([kept[code] for code in steps[name].tolist()], "i4")
    misses = {name: column[:0] for name, column in columns.misses.items()}
    return Columns(tuple(words), sessions, steps, misses)


def _sessions(columns: Columns) -> dict[str, Any]:
    sessions = columns.sessions
    began = (sessions["began"].astype(float) * 1000).round().astype("datetime64[ms]")
    found: dict[str, Any] = {
        name: columns.text(name)
        for name in ("session", "checklist", "title", "rig", "place", "operator", "language",
                     "digest")}
    found |= {"number": sessions["number"], "began": began, "utc_offset_s": sessions["offset"]}
    found |= {f"{name}_s": sessions[name].astype(float) for name in SESSION_TIMES}
    return found | {
        "operators": sessions["operators"], "restarts": sessions["restarts"],
        "refusals": columns.refusals,
        "closed": sessions["closed"], "rehearsal": sessions["rehearsal"],
        "path": columns.text("path")}


def _steps(columns: Columns) -> dict[str, Any]:
    steps, rows = columns.steps, columns.steps["row"]
    whole = _sessions(columns)
    found: dict[str, Any] = {
        name: whole[name][rows]
        for name in ("session", "checklist", "rig", "place", "operator", "began", "utc_offset_s",
                     "rehearsal")}
    words = np.array(columns.words, dtype=object)
    found |= {"step": words[steps["step"]], "who": words[steps["who"]]}
    found |= {f"{name}_s": steps[name].astype(float) for name in STEP_TIMES}
    found |= {name: steps[name] for name in STEP_COUNTS}
    outcomes = np.array([outcome.value for outcome in OUTCOMES], dtype=object)
    return found | {"outcome": outcomes[steps["outcome"]], "restarted": steps["restarted"]}


def _notes(history: History) -> dict[str, Any]:
    """Every note; `audio` is the name of its sound file, in the folder of `path`."""
    names = ("session", "rig", "checklist", "place", "at", "step", "text", "audio", "path")
    found: dict[str, list[str]] = {name: [] for name in names}
    columns = history.columns
    about = zip(*(columns.text(name) for name in names[:4]), history.paths(), strict=True)
    for *whole, path in about:
        for line in _readable(path):
            if line["what"] != "note":
                continue
            own = (str(line.get(name) or "") for name in names[4:8])
            for name, value in zip(names, (*whole, *own, str(path)), strict=True):
                found[name].append(value)
    return {name: np.array(values, dtype=object) for name, values in found.items()}


def _lines(history: History) -> dict[str, Any]:
    """Every journal line: what is in all of them as columns, the rest as JSON."""
    found: dict[str, list[Any]] = {
        name: [] for name in ("session", "rig", "checklist", "n", "at", "t", "what", "fields")}
    columns = history.columns
    named = zip(columns.text("session"), columns.text("rig"), columns.text("checklist"),
                history.paths(), strict=True)
    for session, rig, checklist, path in named:
        for line in _readable(path):
            rest = {key: value for key, value in line.items()
                    if key not in ("n", "at", "t", "what", "then")}
            n, t = line.get("n"), line.get("t")
            for name, value in (
                    ("session", session), ("rig", rig), ("checklist", checklist),
                    ("n", n if isinstance(n, int) else 0), ("at", str(line.get("at", ""))),
                    ("t", float(t) if isinstance(t, (int, float)) else np.nan),
                    ("what", line["what"]), ("fields", json.dumps(rest, ensure_ascii=False))):
                found[name].append(value)
    kinds = {"n": "i8", "t": "f8"}
    return {name: np.array(values, dtype=kinds.get(name, object))
            for name, values in found.items()}


def _readable(path: Path) -> tuple[Mapping[str, Any], ...]:
    try:
        if path.stat().st_size > LARGEST_JOURNAL:
            return ()
        return journal.read(path).raw
    except (OSError, HandsfreeError):
        return ()  # gone since it was counted; the history said what was wrong before


def write_csv(
    history: History, path: Path, what: str = "steps", *, replace: bool = False
) -> int:
    """Write a table as CSV (RFC 4180, UTF-8, a header line); the number of rows.

    Raises:
        InputError: there is no such table, or there is such a file and not `replace`.
        StorageError: the file cannot be written.
    """
    columns = table(history, what)
    rows = len(next(iter(columns.values())))
    with (whole_file(path, replace=replace) as part,
          open(part, "w", encoding="utf-8", newline="") as file):
        writer = csv.writer(file)
        writer.writerow(columns)
        writer.writerows(zip(*map(_cells, columns.values()), strict=True))
    return rows


def _cells(column: Any) -> Iterator[Any]:
    if column.dtype.kind == "M":
        epoch = datetime(1970, 1, 1, tzinfo=UTC)
        return ((epoch + timedelta(milliseconds=int(value))).isoformat(timespec="milliseconds")
                for value in column.astype("i8"))
    if column.dtype.kind == "f":
        return ("" if np.isnan(value) else f"{value:.3f}" for value in column.tolist())
    if column.dtype.kind == "b":
        return ("true" if value else "false" for value in column.tolist())
    return iter(column.tolist())


def write_parquet(
    history: History, path: Path, what: str = "steps", *, replace: bool = False
) -> int:
    """Write a table as Parquet with its types; the number of rows.

    Raises:
        InputError: there is no such table, or there is such a file and not `replace`.
        StorageError: the file cannot be written.
    """
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError as error:
        raise lacking(error) or error from None
    columns = table(history, what)
    arrays = {
        name: pyarrow.array(values.astype("i8"), pyarrow.timestamp("ms", tz="UTC"))
        if values.dtype.kind == "M"
        else pyarrow.array(values.tolist(), pyarrow.string()) if values.dtype.kind == "O"
        else pyarrow.array(values, from_pandas=True)  # nan becomes null
        for name, values in columns.items()}
    made = pyarrow.table(arrays)
    with whole_file(path, replace=replace) as part:
        parquet.write_table(made, part, compression="zstd")
    return int(made.num_rows)
