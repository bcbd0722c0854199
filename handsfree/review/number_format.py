"""How numbers and names are written in tables and on the page.

Pure.  May import records, outlook, summary and words.
"""

from __future__ import annotations

import math

from handsfree.review.planned_forecast import Kept
from handsfree.review.records import Mark, SessionRecord
from handsfree.review.statistics import LearningCurve
from handsfree.review.summary import Trend
from handsfree.review.translation import say


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
    return say("{hours} h {minutes:02d} min", hours=hours, minutes=rest) if hours else (
        say("{minutes} min", minutes=rest))


def trend(found: Trend | None, unit: float = 1.0, name: str = "s") -> str:
    """'faster by 3.1 s in ten stays', or 'no clear trend', or 'too few stays'."""
    if found is None:
        return say("too few stays")
    if not found.says:
        return say("no clear trend")
    amount = f"{10 * abs(found.slope) / unit:.1f}"
    if found.says == "faster":
        return say("faster by {amount} {unit} in ten stays", amount=amount, unit=say(name))
    return say("slower by {amount} {unit} in ten stays", amount=amount, unit=say(name))


def practice(curve: LearningCurve | None) -> str:
    """What each doubling of the stays does, with its 95 % interval."""
    if curve is None:
        return say("too few stays")
    low, high = curve.interval
    return say("{factor:.2f} of the time (95 %: {low:.2f} to {high:.2f})", factor=curve.factor,
               low=low, high=high)


def kept(found: Kept) -> str:
    """How often the forecast's own times were met in this history."""
    told = say(
        "The forecast's own times, each made from the stays before it: of the last {stays} stays"
        " {half} were done in the 50 % time ({half_share:.0%}) and {eighty} in the 80 % time"
        " ({eighty_share:.0%}).", stays=found.stays, half=found.half,
        half_share=found.half / found.stays, eighty=found.eighty,
        eighty_share=found.eighty / found.stays)
    if found.left_out:
        told += " " + say("Stays by two that are not judged, for want of their checklist: {count}.",
                          count=found.left_out)
    return told


def note(mark: Mark) -> str:
    """'4:10, chocks: heard as: the left one is cracked (000012-arrive-note-1.wav)'."""
    said = mark.text or (say("spoken, not written down") if mark.audio else say("empty"))
    if mark.audio and mark.text:
        said = say("heard as: {text}", text=mark.text)
    return (f"{span(mark.at)}, {mark.step or say('between steps')}: {said}"
            + (f" ({mark.audio})" if mark.audio else ""))


def title(session: SessionRecord) -> str:
    """'depart, 2026-05-01 09:12, survey trailer, Pine Loop'."""
    parts = [session.checklist or say("(no checklist)"), f"{session.began:%Y-%m-%d %H:%M}",
             session.rig, session.place]
    return ", ".join(part for part in parts if part)


def state(session: SessionRecord) -> str:
    """'closed', 'unfinished' and what else is particular."""
    words = [say("closed") if session.closed else say("unfinished")]
    if session.rehearsal:
        words.append(say("rehearsal"))
    if session.restarts:
        words.append(say("restarted {count} times", count=session.restarts)
                     if session.restarts > 1 else say("restarted"))
    if session.clock_jump >= 60:
        words.append(say("clock was set"))
    return ", ".join(words)
