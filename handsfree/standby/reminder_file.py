"""Reminders that outlive lists, restarts and power cuts.

May import the session's reminders, `atomic_write`, errors.  They run on the program's own clock; what is
kept on disk is the wall clock's moment, and after a restart one that is due by it is due at once.
"""

from __future__ import annotations

import contextlib
import json
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

from handsfree.errors import StorageError
from handsfree.session.reminders import Reminder, Reminders
from handsfree.storage.atomic_write import write_atomically

FILE = "reminders.json"

_LONGEST = 24 * 60
"""Minutes that none waits longer than after a restart: the clock may have been set."""


class Kept(Reminders):
    """Reminders of standing by, shared with each list that is run meanwhile."""

    def __init__(
        self, data: Path, clock: Callable[[], float], wall: Callable[[], float] = time.time
    ) -> None:
        """Read those that are kept in `data`; a file that cannot be read counts as none."""
        super().__init__()
        self._path, self._clock, self._wall = data / FILE, clock, wall
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError, ArithmeticError,
                                 AttributeError, RecursionError):
            for one in json.loads(self._path.read_bytes()):
                minutes = Fraction(str(one["minutes"]))
                left = min(float(one["due"]) - wall(), float(minutes) * 60, _LONGEST * 60.0)
                self._waiting.append(Reminder(clock() + left, minutes, ""))
            self._waiting.sort(key=lambda one: one.due)

    def add(self, t: float, minutes: Fraction, step: str) -> Reminder:
        """One more; `t` and `step` are the list's own and do not count here."""
        made = super().add(self._clock(), minutes, "")
        self._keep()
        return made

    def take_due(self, t: float) -> Reminder | None:
        """The first that is due by our own clock, once."""
        found = super().take_due(self._clock())
        if found:
            self._keep()
        return found

    def take_all(self) -> list[Reminder]:
        """None: they do not end with a list."""
        return []

    def replay(self, lines: object) -> None:
        """Nothing: they are kept here, not in the journal of a list."""

    def _keep(self) -> None:
        now, wall = self._clock(), self._wall()
        rows = [{"due": wall + one.due - now, "minutes": str(one.minutes)}
                for one in self._waiting]
        with contextlib.suppress(StorageError):  # a convenience; it is in memory all the same
            write_atomically(self._path, json.dumps(rows).encode())
