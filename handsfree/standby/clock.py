"""Whether the time of day can be believed after a boot.

Pure.  A small computer without a clock of its own starts anywhere: at the epoch, at the day on
which its card was written, or where it was switched off.
"""

from __future__ import annotations

from datetime import datetime

RELEASED = 2026
"""Year of this version: no clock of an earlier year is right."""


def doubtful(now: datetime, newest: str) -> bool:
    """Whether a clock has to be confirmed before any time of day is told.

    Args:
        now: what it shows, with its time zone.
        newest: moment of the last line on record, ISO 8601; '' where there is none.
    """
    if now.year < RELEASED:
        return True
    try:
        return now < datetime.fromisoformat(newest)
    except (ValueError, TypeError):
        return False
