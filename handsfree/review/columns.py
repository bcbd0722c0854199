"""Many sessions as columns: one array a field, so that thousands of them fit and filter fast.

May import records and numpy.  Text is held once in `words`; columns hold its place there.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.review.records import Outcome, PlanStep, SessionRecord, StepRecord

OUTCOMES = tuple(Outcome)
_OUTCOME_CODE = {outcome: code for code, outcome in enumerate(OUTCOMES)}

STEP_TIMES = ("offered", "acknowledged", "active", "paused", "spoken", "waiting")
STEP_COUNTS = ("position", "visits", "repeats", "refusals", "rejections", "asked", "tries", "skips")
STEP_COLUMNS: Mapping[str, str] = {
    "row": "i4", "step": "i4", **dict.fromkeys(STEP_TIMES, "f8"),
    **dict.fromkeys(STEP_COUNTS, "i4"), "outcome": "i1", "restarted": "?"}

SESSION_TEXTS = ("session", "checklist", "title", "digest", "rig", "place", "language", "path",
                 "plan")
SESSION_TIMES = ("seconds", "active", "paused", "spoken", "waiting", "away", "clock_jump")
SESSION_COLUMNS: Mapping[str, str] = {
    **dict.fromkeys(SESSION_TEXTS, "i4"), **dict.fromkeys(SESSION_TIMES, "f8"),
    "began": "f8", "offset": "i4", "number": "i8", "restarts": "i4", "closed": "?",
    "rehearsal": "?"}

Column = NDArray[Any]


@dataclass(frozen=True)
class Columns:
    """Sessions and their steps; `steps['row']` is the place of the step's session."""

    words: tuple[str, ...]
    sessions: Mapping[str, Column]
    steps: Mapping[str, Column]

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

    def choose(self, rows: Column) -> Columns:
        """The sessions at `rows`, in that order, with their steps."""
        fresh = np.full(len(self), -1, dtype="i4")
        fresh[rows] = np.arange(len(rows), dtype="i4")
        renumbered = fresh[self.steps["row"]]
        kept = np.flatnonzero(renumbered >= 0)
        kept = kept[np.argsort(renumbered[kept], kind="stable")]
        steps = {name: column[kept] for name, column in self.steps.items()}
        steps["row"] = renumbered[kept]
        return Columns(self.words, {n: c[rows] for n, c in self.sessions.items()}, steps)

    def session(self, row: int) -> SessionRecord:
        """One session as a record, without visits, talks and marks: its journal has those."""
        values = {name: column[row] for name, column in self.sessions.items()}
        texts: dict[str, Any] = {name: self.words[int(values[name])] for name in SESSION_TEXTS}
        texts |= {name: float(values[name]) for name in SESSION_TIMES}
        plan = tuple(PlanStep(*row) for row in json.loads(texts.pop("plan") or "[]"))
        zone = timezone(timedelta(seconds=int(values["offset"])))
        inside = np.flatnonzero(self.steps["row"] == row)
        return SessionRecord(
            **texts,
            began=datetime.fromtimestamp(float(values["began"]), UTC).astimezone(zone),
            number=int(values["number"]), restarts=int(values["restarts"]),
            closed=bool(values["closed"]), rehearsal=bool(values["rehearsal"]), plan=plan,
            steps=tuple(self._step(int(place)) for place in inside))

    def _step(self, place: int) -> StepRecord:
        values = {name: column[place] for name, column in self.steps.items()}
        numbers: dict[str, Any] = {name: float(values[name]) for name in STEP_TIMES}
        numbers |= {name: int(values[name]) for name in STEP_COUNTS}
        return StepRecord(
            step=self.words[int(values["step"])], **numbers,
            outcome=OUTCOMES[int(values["outcome"])], restarted=bool(values["restarted"]))

    def sound(self) -> bool:
        """Whether every code points somewhere: false for columns that were tampered with."""
        rows, words = len(self), len(self.words)
        codes = [(self.sessions[name], words) for name in SESSION_TEXTS]
        codes += [(self.steps["row"], rows), (self.steps["step"], words),
                  (self.steps["outcome"], len(OUTCOMES))]
        return (
            {len(c) for c in self.sessions.values()} == {rows}
            and len({len(c) for c in self.steps.values()}) == 1
            and all(not len(c) or (c.min() >= 0 and c.max() < limit) for c, limit in codes))


class Gathering:
    """Columns that grow record by record; `words` may go on from earlier columns."""

    def __init__(self, words: Iterable[str] = ()) -> None:
        self._words = {word: place for place, word in enumerate(words)}
        self._sessions: dict[str, list[object]] = {name: [] for name in SESSION_COLUMNS}
        self._steps: dict[str, list[Column]] = {name: [] for name in STEP_COLUMNS}

    def _code(self, word: str) -> int:
        return self._words.setdefault(word, len(self._words))

    def add(self, session: SessionRecord) -> None:
        """Append one session."""
        row = len(self._sessions["session"])
        offset = session.began.utcoffset() or timedelta(0)
        plan = json.dumps([[p.step, p.least, p.likely, p.most, p.applies] for p in session.plan])
        for name in SESSION_COLUMNS:
            if name == "plan":
                value: object = self._code(plan)
            elif name in SESSION_TEXTS:
                value = self._code(getattr(session, name))
            elif name == "began":
                value = session.began.timestamp()
            elif name == "offset":
                value = round(offset.total_seconds())
            else:
                value = getattr(session, name)
            self._sessions[name].append(value)
        count = len(session.steps)
        for name, kind in STEP_COLUMNS.items():
            if name == "row":
                column = np.full(count, row, kind)
            elif name == "step":
                column = np.array([self._code(s.step) for s in session.steps], kind)
            elif name == "outcome":
                column = np.array([_OUTCOME_CODE[s.outcome] for s in session.steps], kind)
            else:
                column = np.array([getattr(s, name) for s in session.steps], kind)
            self._steps[name].append(column)

    def columns(self) -> Columns:
        """Everything added so far."""
        return Columns(
            tuple(self._words),
            {n: np.array(self._sessions[n], kind) for n, kind in SESSION_COLUMNS.items()},
            {n: np.concatenate(self._steps[n]) if self._steps[n] else np.empty(0, kind)
             for n, kind in STEP_COLUMNS.items()})


def joined(first: Columns, second: Columns) -> Columns:
    """Both, one after the other; the words of `second` must go on from those of `first`."""
    if second.words[:len(first.words)] != first.words:
        raise ValueError("the second columns do not go on from the first")
    steps = {n: np.concatenate([c, second.steps[n]]) for n, c in first.steps.items()}
    steps["row"] = np.concatenate([first.steps["row"], second.steps["row"] + len(first)])
    return Columns(
        second.words,
        {n: np.concatenate([c, second.sessions[n]]) for n, c in first.sessions.items()}, steps)

