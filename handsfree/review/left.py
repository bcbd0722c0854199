"""How long a session under way will still take, by the operator's own times.

May import this room, the checklist model and engine state.  History is read and fitted in the
background, so that the session does not wait; until then, and where it fails, nothing is told.
"""

from __future__ import annotations

import threading
from datetime import datetime, timedelta
from pathlib import Path

from handsfree.checklist.model import Checklist
from handsfree.engine.state import State
from handsfree.errors import HandsfreeError
from handsfree.review.applying import applying, remaining
from handsfree.review.forecast import Fitted, fit, minutes_left
from handsfree.review.history import load
from handsfree.review.summary import past


class TimeLeft:
    """Called with a state, gives (minutes to go, time of day then), or None if it cannot tell."""

    def __init__(self, checklist: Checklist, record: frozenset[str], data: Path) -> None:
        self._checklist = checklist
        self._record = record
        self._data = data
        self._fitted: Fitted | None = None
        self._thread = threading.Thread(target=self._fit, daemon=True)
        self._thread.start()

    def _fit(self) -> None:
        plan = applying(self._checklist, self._record).plan
        try:
            before = past(load(self._data).columns, self._checklist.id, plan)
            self._fitted = fit(plan, before)
        except (HandsfreeError, ValueError, OSError):
            return

    def ready(self, seconds: float) -> bool:
        """Wait so long for the history; whether it can tell now."""
        self._thread.join(seconds)
        return self._fitted is not None

    def __call__(self, state: State) -> tuple[int, str] | None:
        """The steps still to come count as if each goes well."""
        fitted = self._fitted
        if fitted is None:
            return None
        known = {step.step for step in fitted.plan}
        steps = [step for step in remaining(self._checklist, state) if step in known]
        if not steps:
            return None
        minutes = minutes_left(fitted, steps).rounded
        return minutes, f"{datetime.now() + timedelta(minutes=minutes):%H:%M}"
