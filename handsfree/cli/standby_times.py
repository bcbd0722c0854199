"""What the history says to somebody who stands by: the forecast of packing up, and today's times.

May import everything, as `wiring`; only the command modules import it.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from handsfree.checklist.model import Checklist
from handsfree.errors import InputError
from handsfree.standby.answering import Compared, Times
from handsfree.standby.rig_knowledge import Known


def times(data: Path, known: Known | None) -> Times:
    """Both, from the journals as they are when it is asked."""
    if known is None:
        return Times()
    return Times(lambda: _roll(data, known), lambda: compared(data, known))


def _roll(data: Path, known: Known) -> tuple[float, float] | None:
    """Median and 80 % minutes of the list before the road, from the record as it is now."""
    import numpy as np

    from handsfree.review.history import load
    from handsfree.review.planned_forecast import Whose, outlook

    checklist = _named(known, known.following.roll)
    history = load(data).only(rehearsals=False).columns
    found = outlook(checklist, known.now().facts, history, Whose(rig=known.rig.name), as_is=True)
    if not found.applies:
        return None
    usual, likely = np.percentile(np.asarray(found.totals) / 60, (50, 80))
    return float(usual), float(likely)


def _named(known: Known, name: str) -> Checklist:
    for checklist in known.lists:
        if checklist.id == name:
            return checklist
    raise InputError(f"there is no list '{name}'")


def compared(data: Path, known: Known, day: datetime | None = None) -> list[Compared]:
    """The lists that were finished on a day (today), each against its earlier stays on this rig."""
    import math

    import numpy as np

    from handsfree.review.history import load
    from handsfree.review.summary import summarise

    day = day or datetime.now().astimezone()
    real = load(data).only(rehearsals=False, rig=known.rig.name)
    today = real.only(since=day.date(), until=day.date())
    told = []
    for name in reversed(today.checklists()):
        own = today.only(checklist=name).columns
        rows = np.flatnonzero(own.sessions["closed"].astype(bool))
        if not len(rows) or not any(one.id == name for one in known.lists):
            continue
        row = int(rows[-1])
        minutes = float(own.sessions["seconds"][row] - own.sessions["paused"][row]) / 60
        every = real.only(checklist=name).columns
        before = every.choose(np.flatnonzero(
            (every.sessions["number"] < own.sessions["number"][row])
            & every.sessions["closed"].astype(bool)))
        past = summarise(before, name) if len(before) else None
        if past is None or math.isnan(past.median):
            told.append(Compared(known.titled(name), minutes, None))
            continue
        step, more = _most(own.choose(np.array([row])), {s.step: s.median for s in past.steps})
        told.append(Compared(known.titled(name), minutes, past.median, past.closed, step,
                             more if more * (minutes - past.median) > 0 else 0.0))
    return told


def _most(own, usual: dict[str, float]) -> tuple[str, float]:  # type: ignore[no-untyped-def]
    """The step whose time differs most from its median, and by how many minutes."""
    import math

    best, most = "", 0.0
    for code, seconds in zip(own.steps["step"], own.steps["active"], strict=True):
        name = own.words[int(code)]
        median = usual.get(name, math.nan)
        if seconds > 0 and not math.isnan(median) and abs(seconds - median) / 60 > abs(most):
            best, most = name, (float(seconds) - median) / 60
    return best, most
