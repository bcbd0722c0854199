"""One loudspeaker for two sessions: who has begun speaks to the end, and says for whom it is.

Pure.  May import wording's prompts.
"""

from __future__ import annotations

from collections.abc import Mapping

from handsfree.session.wording import Prompt


class SharedLoudspeaker:
    """Given to all sessions of a crew that share a loudspeaker."""

    def __init__(self, calls: Mapping[str, Prompt]) -> None:
        """`calls` is spoken before what is meant for a side, when the other was spoken to last."""
        self._calls = calls
        self._holder = ""
        self._last = ""

    def free(self, side: str) -> bool:
        """Whether this side's session may speak."""
        return self._holder in ("", side)

    def take(self, side: str) -> list[Prompt]:
        """It begins; gives what has to be called out first."""
        self._holder, before = side, self._last
        self._last = side
        return [] if side == before else [self._calls[side]]

    def leave(self, side: str) -> None:
        """It has nothing more to say."""
        if self._holder == side:
            self._holder = ""
