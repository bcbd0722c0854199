"""How long a session under way will still take: the same forecast that the command makes.

May import this room, the checklist model and engine state.  History is read and fitted in the
background, so that the session does not wait; until then, and where it fails, nothing is told.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from handsfree.checklist.model import Checklist
from handsfree.engine.state import State
from handsfree.errors import HandsfreeError
from handsfree.review.columns import Columns
from handsfree.review.history import load
from handsfree.review.planned_forecast import Outlook, Whose, outlook
from handsfree.review.timings import read_session


class TimeLeft:
    """Called with a state, gives (minutes to go, time of day then, what to say with it), or None
    if it cannot tell.

    What to say with it are templates of the language and what they name: that more or less is to
    be done than usual, that the pace has changed, that others' times are borrowed.
    """

    def __init__(
        self, checklist: Checklist, record: frozenset[str], data: Path, whose: Whose = Whose(),  # noqa: B008  (frozen)
        journal: Callable[[], Path | None] = lambda: None,
    ) -> None:
        """`journal` gives that of the session under way, whose times tell what day it is."""
        self._checklist = checklist
        self._record = record
        self._data = data
        self._whose = whose
        self._journal = journal
        self._outlook: Outlook | None = None
        self._before: Columns | None = None
        self._thread = threading.Thread(target=self._fit, daemon=True)
        self._thread.start()

    def _fit(self) -> None:
        try:
            found = load(self._data)
            own = self._journal()
            before = found.columns
            if own is not None:  # the session under way is no earlier stay
                keep = [row for row, path in enumerate(found.paths()) if path != own]
                before = before.choose(np.array(keep, "i4"))
            self._before = before
            self._outlook = self._made(self._whose)
        except (HandsfreeError, ValueError, OSError):
            return

    def _made(self, whose: Whose) -> Outlook:
        assert self._before is not None
        return outlook(self._checklist, self._record, self._before, whose, as_is=True)

    def ready(self, seconds: float) -> bool:
        """Wait so long for the history; whether it can tell now."""
        self._thread.join(seconds)
        return self._outlook is not None

    def __call__(
        self, state: State
    ) -> tuple[int, str, tuple[tuple[str, Mapping[str, str]], ...]] | None:
        """The steps still to come count as if each goes well."""
        if self._outlook is None:
            return None
        done, spent = self._today(state.at)
        assert self._outlook is not None
        left = self._outlook.left(state, done=done, at_seconds=spent)
        if left is None:
            return None
        said = tuple((one.spoken, one.values) for one in self._outlook.remarks if one.spoken)
        return left.rounded, f"{datetime.now() + timedelta(minutes=left.rounded):%H:%M}", said

    def _today(self, at: str) -> tuple[dict[str, float], float]:
        """Seconds of the steps that are done, and of the one at hand; nothing if unknown."""
        path = self._journal()
        if path is None:
            return {}, 0.0
        try:
            session, _ = read_session(path)
        except (HandsfreeError, OSError):
            return {}, 0.0
        if session.operator and session.operator != self._whose.operator:
            self._whose = replace(self._whose, operator=session.operator)
            self._outlook = self._made(self._whose)
        done = {s.step: s.elapsed for s in session.steps
                if not math.isnan(s.acknowledged) and s.outcome.value == "done"}
        return done, next((s.elapsed for s in session.steps if s.step == at), 0.0)
