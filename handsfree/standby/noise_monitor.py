"""What is around while it stands by: nothing is said of it while it sleeps.

May import hearing's surroundings.
"""

from __future__ import annotations

from collections.abc import Callable

from handsfree.audio import Samples
from handsfree.hearing.noise_monitor import News, Surroundings


class Unspoken(Surroundings):
    """`Surroundings` of which nothing is told to a sleeper's room."""

    def __init__(self, asleep: Callable[[], bool]) -> None:
        super().__init__()
        self._asleep = asleep

    def listened(self, frame: Samples, floor_dbfs: float) -> News:
        """See `Surroundings.listened`."""
        return "" if self._asleep() else super().listened(frame, floor_dbfs)

    def spoken(self, sound: Samples, floor_dbfs: float, understood: bool) -> News:
        """See `Surroundings.spoken`."""
        return "" if self._asleep() else super().spoken(sound, floor_dbfs, understood)
