"""Many sessions as columns: one array a field, so that thousands of them fit and filter fast.

May import records and numpy.  Text is held once in `words`; columns hold its place there.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from functools import cache, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.review.records import Outcome, PlanStep, SessionRecord, StepRecord

OUTCOMES = tuple(Outcome)
_OUTCOME_CODE = {outcome: code for code, outcome in enumerate(OUTCOMES)}

STEP_TIMES = ("offered", "acknowledged", "active", "paused", "spoken", "waiting", "answering",
              "refusing", "retrying")
"""Instants, then durations: of those a millisecond in three hours is exact enough."""
STEP_TEXTS = ("step", "who")
STEP_COUNTS = ("position", "visits", "repeats", "refusals", "rejections", "asked", "tries", "skips")
STEP_COLUMNS: Mapping[str, str] = {
    "row": "i4", "step": "i4", "who": "i4", **dict.fromkeys(STEP_TIMES[:2], "f8"),
    **dict.fromkeys(STEP_TIMES[2:], "f4"),
    **dict.fromkeys(STEP_COUNTS, "i2"), "outcome": "i1", "restarted": "?"}

_MOST = 32_767
"""Of anything that is counted at a step; what is beyond is a journal of junk."""

SESSION_TEXTS = ("session", "checklist", "title", "digest", "rig", "place", "language", "path",
                 "operator", "plan", "answers", "record")
SESSION_TIMES = ("seconds", "active", "paused", "spoken", "waiting", "away", "clock_jump")
SESSION_COLUMNS: Mapping[str, str] = {
    **dict.fromkeys(SESSION_TEXTS, "i4"), **dict.fromkeys(SESSION_TIMES, "f8"),
    "began": "f8", "offset": "i4", "number": "i8", "restarts": "i4", "closed": "?",
    "rehearsal": "?", "operators": "i4"}

MISS_TEXTS = ("step", "reason", "before")
MISS_COLUMNS: Mapping[str, str] = {"row": "i4", **dict.fromkeys(MISS_TEXTS, "i4"), "at": "f8"}
"""Refusals: of which session and step, what was missing, which step was settled last, when."""

Column = NDArray[Any]


class Table(Mapping[str, Column]):
    """Columns that are made when they are first asked for: most questions need few of them."""

    def __init__(self, names: Iterable[str], make: Callable[[str], Column]) -> None:
        self._names, self._make = tuple(names), make
        self._made: dict[str, Column] = {}

    def __getitem__(self, name: str) -> Column:
        if name not in self._made:
            if name not in self._names:
                raise KeyError(name)
            self._made[name] = self._make(name)
        return self._made[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)

    def spent(self, name: str) -> Column:
        """A column that is not kept for the next who asks."""
        column = self[name]
        del self._made[name]
        return column


class Packed(Mapping[str, Column]):
    """Columns as they go from one process to another, and wait there for the rest."""

    def __init__(self, table: Mapping[str, Column]) -> None:
        self._raw = {name: (column.dtype.str, zlib.compress(column.tobytes(), 1))
                     for name, column in table.items()}

    def __getitem__(self, name: str) -> Column:
        kind, raw = self._raw[name]
        return np.frombuffer(zlib.decompress(raw), kind)

    def __iter__(self) -> Iterator[str]:
        return iter(self._raw)

    def __len__(self) -> int:
        return len(self._raw)


@dataclass(frozen=True)
class Columns:
    """Sessions, their steps and their refusals, whose `row` is the place of their session."""

    words: tuple[str, ...]
    sessions: Mapping[str, Column]
    steps: Mapping[str, Column]
    misses: Mapping[str, Column]

    def __len__(self) -> int:
        return len(self.sessions["session"])

    def text(self, column: str) -> NDArray[np.object_]:
        """A session column of text, as Python strings."""
        return np.array(self.words, dtype=object)[self.sessions[column]]

    def code(self, word: str) -> int:
        """The place of a word; -1 if no session has it."""
        try:
            return self.words.index(word)
        except ValueError:
            return -1

    def choose(self, rows: Column, *, spend: bool = False) -> Columns:
        """The sessions at `rows`, in that order.

        Args:
            spend: this one is not needed any more, and keeps none of its columns.
        """
        fresh = np.full(len(self), -1, dtype="i4")
        fresh[rows] = np.arange(len(rows), dtype="i4")
        return Columns(self.words, {n: c[rows] for n, c in self.sessions.items()},
                       _chosen(self.steps, fresh, spend), _chosen(self.misses, fresh, spend))

    @property
    def refusals(self) -> Column:
        """(sessions,) how many there were in each."""
        return self._counted(self.steps["refusals"])

    @property
    def left_open(self) -> Column:
        """(sessions,) steps that were open when it was closed."""
        return self._counted(self.steps["outcome"] == _OUTCOME_CODE[Outcome.LEFT])

    def _counted(self, per_step: Column) -> Column:
        return np.bincount(self.steps["row"], per_step, len(self)).astype("i4")

    def session(self, row: int, *, steps: bool = True) -> SessionRecord:
        """One session as a record, without visits, talks and marks: its journal has those.

        Args:
            steps: with those of the session.
        """
        values = {name: column[row] for name, column in self.sessions.items()}
        texts: dict[str, Any] = {name: self.words[int(values[name])] for name in SESSION_TEXTS}
        texts |= {name: float(values[name]) for name in SESSION_TIMES}
        plan = tuple(PlanStep(*row) for row in json.loads(texts.pop("plan") or "[]"))
        answers = json.loads(texts.pop("answers") or "{}")
        record = tuple(json.loads(texts.pop("record") or "[]"))
        zone = timezone(timedelta(seconds=int(values["offset"])))
        inside = np.flatnonzero(self.steps["row"] == row) if steps else ()
        return SessionRecord(
            **texts,
            began=datetime.fromtimestamp(float(values["began"]), UTC).astimezone(zone),
            number=int(values["number"]), restarts=int(values["restarts"]),
            closed=bool(values["closed"]), rehearsal=bool(values["rehearsal"]), plan=plan,
            operators=int(values["operators"]), answers=answers, record=record,
            steps=tuple(self._step(int(place)) for place in inside))

    def _step(self, place: int) -> StepRecord:
        values = {name: column[place] for name, column in self.steps.items()}
        numbers: dict[str, Any] = {name: float(values[name]) for name in STEP_TIMES}
        numbers |= {name: int(values[name]) for name in STEP_COUNTS}
        return StepRecord(
            step=self.words[int(values["step"])], who=self.words[int(values["who"])], **numbers,
            outcome=OUTCOMES[int(values["outcome"])], restarted=bool(values["restarted"]))


class Gathering:
    """Columns that grow record by record."""

    def __init__(self) -> None:
        self._words: dict[str, int] = {}
        self._sessions: dict[str, list[object]] = {name: [] for name in SESSION_COLUMNS}
        self._steps: dict[str, list[object]] = {name: [] for name in STEP_COLUMNS}
        self._misses: dict[str, list[object]] = {name: [] for name in MISS_COLUMNS}

    def _code(self, word: str) -> int:
        return self._words.setdefault(word, len(self._words))

    def add(self, session: SessionRecord) -> None:
        """Append one session."""
        row = len(self._sessions["session"])
        offset = session.began.utcoffset() or timedelta(0)
        packed = {
            "plan": _as_text(session.plan), "answers": json.dumps(dict(session.answers)),
            "record": json.dumps(session.record)}
        for name in SESSION_COLUMNS:
            if name in packed:
                value: object = self._code(packed[name])
            elif name in SESSION_TEXTS:
                value = self._code(getattr(session, name))
            elif name == "began":
                value = session.began.timestamp()
            elif name == "offset":
                value = round(offset.total_seconds())
            else:
                value = getattr(session, name)
            self._sessions[name].append(value)
        self._steps["row"].extend([row] * len(session.steps))
        for name, values in zip(StepRecord._fields, zip(*session.steps, strict=True),
                                strict=False):  # a session may have no step
            self._steps[name].extend(
                map(self._code, values) if name in STEP_TEXTS
                else map(_OUTCOME_CODE.__getitem__, values) if name == "outcome" else values)
        for mark in session.marks:
            if mark.kind == "refused":
                for name, value in (
                        ("row", row), ("step", self._code(mark.step)), ("at", mark.at),
                        ("reason", self._code(mark.text)), ("before", self._code(mark.before))):
                    self._misses[name].append(value)

    def columns(self) -> Columns:
        """Everything added so far."""
        return Columns(
            tuple(self._words),
            {n: np.array(self._sessions[n], kind) for n, kind in SESSION_COLUMNS.items()},
            {n: np.minimum(np.array(self._steps[n], "i8"), _MOST).astype(kind) if n in STEP_COUNTS
             else np.array(self._steps[n], kind) for n, kind in STEP_COLUMNS.items()},
            {n: np.array(self._misses[n], kind) for n, kind in MISS_COLUMNS.items()})


@lru_cache(maxsize=256)
def _as_text(plan: tuple[PlanStep, ...]) -> str:
    """As JSON; many sessions have the same."""
    return json.dumps(plan)


def merged(parts: Sequence[Columns], *, spend: bool = False) -> Columns:
    """All of them, one after the other, with one list of words.

    Args:
        spend: the parts are not needed any more, and keep none of their columns.
    """
    if len(parts) == 1:
        return parts[0]
    words: dict[str, int] = {}
    codes = [np.array([words.setdefault(word, len(words)) for word in part.words], "i4")
             for part in parts]
    begins = np.cumsum([0, *map(len, parts)])

    def joined(tables: Sequence[Mapping[str, Column]], texts: Sequence[str], name: str) -> Column:
        found = []
        for table, code, begin in zip(tables, codes, begins.tolist(), strict=False):
            column = _taken(table, name, spend)
            found.append(code[column] if name in texts and len(column)
                         else column + np.int32(begin) if name == "row" else column)
        return np.concatenate(found)

    def table(tables: Sequence[Mapping[str, Column]], texts: Sequence[str]) -> Table:
        return Table(tables[0], lambda name: joined(tables, texts, name))

    return Columns(tuple(words), dict(table([p.sessions for p in parts], SESSION_TEXTS)),
                   table([p.steps for p in parts], STEP_TEXTS),
                   table([p.misses for p in parts], MISS_TEXTS))


def _taken(table: Mapping[str, Column], name: str, spend: bool) -> Column:
    return table.spent(name) if spend and isinstance(table, Table) else table[name]


def _chosen(table: Mapping[str, Column], fresh: Column, spend: bool) -> Table:
    """The lines of the sessions that get a new row in `fresh`, in the order of those rows."""
    @cache
    def kept() -> tuple[Column, Column]:
        renumbered = fresh[_taken(table, "row", spend)]
        lines = np.flatnonzero(renumbered >= 0)
        order = renumbered[lines]
        if np.any(order[1:] < order[:-1]):
            lines = lines[np.argsort(order, kind="stable")]
        return lines.astype("i4"), renumbered[lines]

    return Table(table, lambda name: kept()[1] if name == "row"
                 else _taken(table, name, spend)[kept()[0]])
