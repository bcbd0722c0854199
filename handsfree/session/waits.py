"""Until when each waiting step waits: begun, running, over.

Pure: time arrives with each call, in seconds of the session's clock.  May import lines and their fold.
Which waits are running is the engine's state; only how long each still takes is kept here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

from handsfree.storage.fold import fold
from handsfree.storage.lines import Line


class Waits:
    """The end of each wait, by step."""

    def __init__(self, minutes: Mapping[str, float]) -> None:
        """`minutes` is how long each waiting step waits."""
        self._minutes = dict(minutes)
        self._ends: dict[str, float] = {}

    def begin(self, step: str, t: float) -> None:
        """The wait begins now; one that was running begins anew."""
        self._ends[step] = t + self._minutes[step] * 60

    def left(self, step: str, t: float) -> float:
        """Minutes still to go, never less than none; none where the beginning is not known."""
        return max(0.0, (self._ends.get(step, t) - t) / 60)

    def over(self, t: float, running: Collection[str]) -> str:
        """The first of the running waits that is over, the longest over first; '' for none."""
        ends = {step: self._ends.get(step, t) for step in running}
        return min((step for step, end in ends.items() if end <= t),
                   key=lambda step: (ends[step], step), default="")

    def replay(self, told: Iterable[Line], t: float, now: datetime | None) -> None:
        """Bring back from a journal when each wait began, by the wall clock of its lines.

        So the minutes count in which the machine was off.  A clock that was set back since then
        makes no wait longer than the whole of it; a line without a time makes it over at once:
        rather too early than forgotten.
        """
        for step, at in fold(told).waits.items():
            if step not in self._minutes:
                continue
            whole = self._minutes[step] * 60
            try:
                gone = (now - datetime.fromisoformat(at)).total_seconds() if now else whole
            except (ValueError, TypeError):
                gone = whole
            self._ends[step] = t + whole - max(0.0, gone)
