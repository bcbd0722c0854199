"""How numbers and names are written in tables and on the page.

Pure.  May import records, outlook and summary.
"""

from __future__ import annotations

import math

from handsfree.review.outlook import Kept
from handsfree.review.records import Mark, SessionRecord
from handsfree.review.statistics import LearningCurve
from handsfree.review.summary import Trend


def span(seconds: float) -> str:
    """'0:07', '12:30', '1:05:00'; '-' where there is none."""
    if math.isnan(seconds):
        return "-"
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{left:02d}" if hours else f"{minutes}:{left:02d}"


def about_minutes(minutes: float) -> str:
    """'7 min', '1 h 05 min'; '-' where there is none."""
    if math.isnan(minutes):
        return "-"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def trend(found: Trend | None, unit: float = 1.0, name: str = "s") -> str:
    """'faster by 3.1 s in ten stays', or 'no clear trend', or 'too few stays'."""
    if found is None:
        return "too few stays"
    if not found.says:
        return "no clear trend"
    return f"{found.says} by {10 * abs(found.slope) / unit:.1f} {name} in ten stays"


def practice(curve: LearningCurve | None) -> str:
    """What each doubling of the stays does, with its 95 % interval."""
    if curve is None:
        return "too few stays"
    return f"{curve.factor:.2f} of the time (95 %: {curve.low:.2f} to {curve.high:.2f})"


def kept(found: Kept) -> str:
    """How often the forecast's own times were met in this history."""
    return (f"The forecast's own times, each made from the stays before it: of the last"
            f" {found.stays} stays {found.half} were done in the 50 % time"
            f" ({found.half / found.stays:.0%}) and {found.eighty} in the 80 % time"
            f" ({found.eighty / found.stays:.0%}).")


def note(mark: Mark) -> str:
    """'4:10, chocks: heard as: the left one is cracked (000012-arrive-note-1.wav)'."""
    said = mark.text or ("spoken, not written down" if mark.audio else "empty")
    if mark.audio and mark.text:
        said = f"heard as: {mark.text}"
    return (f"{span(mark.at)}, {mark.step or 'between steps'}: {said}"
            + (f" ({mark.audio})" if mark.audio else ""))


def title(session: SessionRecord) -> str:
    """'depart, 2026-05-01 09:12, survey trailer, Pine Loop'."""
    parts = [session.checklist or "(no checklist)", f"{session.began:%Y-%m-%d %H:%M}",
             session.rig, session.place]
    return ", ".join(part for part in parts if part)


def state(session: SessionRecord) -> str:
    """'closed', 'unfinished' and what else is particular."""
    words = ["closed" if session.closed else "unfinished"]
    if session.rehearsal:
        words.append("rehearsal")
    if session.restarts:
        times = f" {session.restarts} times" if session.restarts > 1 else ""
        words.append(f"restarted{times}")
    if session.clock_jump >= 60:
        words.append("clock was set")
    return ", ".join(words)
