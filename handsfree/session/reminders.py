"""Reminders that the operator has asked for: set, waiting, due.

Pure: time arrives with each call, in seconds of the session's clock.  May import lines and their fold.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from handsfree.storage.fold import fold
from handsfree.storage.lines import Line


@dataclass(frozen=True)
class Reminder:
    """Speak up at `due`; `minutes` is what was asked for, `step` where it was asked."""

    due: float
    minutes: Fraction
    step: str


class Reminders:
    """Those that wait, soonest first."""

    def __init__(self) -> None:
        self._waiting: list[Reminder] = []

    def __len__(self) -> int:
        return len(self._waiting)

    def add(self, t: float, minutes: Fraction, step: str) -> Reminder:
        """One more, asked for at time `t`."""
        reminder = Reminder(t + float(minutes) * 60, minutes, step)
        self._waiting = sorted([*self._waiting, reminder], key=lambda other: other.due)
        return reminder

    def take_due(self, t: float) -> Reminder | None:
        """The first that is due, once."""
        if self._waiting and self._waiting[0].due <= t:
            return self._waiting.pop(0)
        return None

    def take_all(self) -> list[Reminder]:
        """All that wait, because the session ends."""
        waiting, self._waiting = self._waiting, []
        return waiting

    def replay(self, told: Iterable[Line]) -> None:
        """Bring back from a journal those that were set and not spoken.

        How long the machine was off nobody knows for certain: they are due at once.  Rather too
        early than forgotten.
        """
        self._waiting += [Reminder(float("-inf"), Fraction(line.minutes), line.step)
                          for line in fold(told).reminders]
