"""Push to talk: when the microphone counts.

Pure: times come from the clock that is given.  Where the terminal tells that the button was let
go, the microphone counts while it is held; else from the press to the end of what is said.
"""

from __future__ import annotations

from collections.abc import Callable

PATIENCE = 8.0
"""Seconds after a press within which somebody has to begin to speak."""

AFTER = 0.6
"""Seconds after the button was let go in which the last word still counts."""


class PushToTalk:
    """One button; `pressed` and `released` come from the keyboard, the rest from the loop."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._held = False
        self._open = False
        self._until = 0.0
        self._news = False

    def pressed(self, tells: bool) -> None:
        """The button went down (or repeats); `tells` says whether its release will come."""
        self._news = self._news or not self._open
        self._open, self._held = True, tells
        self._until = self._clock() + PATIENCE

    def released(self) -> None:
        """The button was let go."""
        self._held = False
        self._until = self._clock() + AFTER

    def news(self) -> bool:
        """Whether it was pressed since the last call: then the program stops talking."""
        news, self._news = self._news, False
        return news

    def heard(self) -> None:
        """An utterance has come to its end."""
        self._open = self._open and self._held

    def counts(self, in_speech: bool) -> bool:
        """Whether the microphone counts now."""
        if self._open and not self._held and not in_speech and self._clock() > self._until:
            self._open = False
        return self._open
