"""What is out of order just now: told once, tried again until it works, told once more.

Pure but for the attempts that are handed in.  May import errors.  The parts are the record, the
microphone, the speaker, the voice and the recogniser; each has its sentences in the languages
under `lost` and `back`, and the reasons theirs under `because`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from handsfree.errors import HandsfreeError

FIRST_PAUSE, LONGEST_PAUSE = 1.0, 30.0
"""Seconds between two attempts to mend a part; each pause is twice the one before."""


@dataclass(frozen=True)
class News:
    """A part has failed, or works again."""

    part: str
    over: bool = False
    why: str = ""
    """Names the reason among the language's templates; anything else is for the journal only."""


@dataclass
class _Trouble:
    attempt: Callable[[], object] | None
    due: float
    pause: float = FIRST_PAUSE


class FaultReports:
    """Collects failures; a part that fails again while it is out of order is no news."""

    def __init__(self, clock: Callable[[], float] = lambda: 0.0) -> None:
        self._clock = clock
        self._now: dict[str, _Trouble] = {}
        self._news: list[News] = []

    def __contains__(self, part: str) -> bool:
        return part in self._now

    def report(
        self, part: str, why: str = "", attempt: Callable[[], object] | None = None,
        *, instead: bool = False,
    ) -> None:
        """A part does not work; `attempt` mends it, or raises one of our errors.

        `instead`: where it did not work already, that is no news, but from now on this mends it.
        """
        if part not in self._now:
            self._now[part] = _Trouble(attempt, self._clock() + FIRST_PAUSE)
            self._news.append(News(part, why=why))
        elif instead:
            self._now[part].attempt = attempt

    def over(self, part: str) -> None:
        """It works."""
        if self._now.pop(part, None):
            self._news.append(News(part, over=True))

    def mend(self) -> None:
        """Try what is due to be tried again."""
        for part, trouble in list(self._now.items()):
            now = self._clock()
            if trouble.attempt is None or now < trouble.due:
                continue
            try:
                trouble.attempt()
            except HandsfreeError:
                trouble.pause = min(2 * trouble.pause, LONGEST_PAUSE)
                trouble.due = self._clock() + trouble.pause
            else:
                self.over(part)

    def news(self) -> list[News]:
        """What has changed since the last call."""
        told, self._news = self._news, []
        return told
