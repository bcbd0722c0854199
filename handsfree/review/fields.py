"""Fields of a journal's line, read so that nothing odd in a file can do harm.

Pure.  May import records.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import lru_cache
from typing import Any

from handsfree.review.records import PlanStep

_FIRST_YEAR, _LAST_YEAR = 1971, 2200


def plan_of(found: object) -> tuple[PlanStep, ...]:
    """The steps of a plan; rows that make no sense are passed over."""
    rows = found if isinstance(found, list) else []
    try:
        return _plan_of(tuple(map(tuple, rows)))
    except TypeError:  # something that is no row is among them, or within one
        return _plan_of.__wrapped__(rows)


@lru_cache(maxsize=256)  # of many sessions most have the plan of another one
def _plan_of(rows: Iterable[Any]) -> tuple[PlanStep, ...]:
    plan: list[PlanStep] = []
    for row in rows:
        try:
            least, likely, most = map(float, row[1:4])
            step, applies = str(row[0]), bool(row[4]) if len(row) > 4 else True
        except (TypeError, ValueError, IndexError, KeyError):
            continue
        if 0 <= least <= likely <= most < math.inf and most > 0:
            plan.append(PlanStep(step, least, likely, most, applies))
    return tuple(plan)


def number(line: Mapping[str, Any], key: str, default: float) -> float:
    """A finite number, or the default."""
    value = line.get(key)
    if type(value) is float:  # as nearly all are
        return value if math.isfinite(value) else default
    try:
        found = float(value) if isinstance(value, (int, float)) else default
    except OverflowError:
        return default
    return found if math.isfinite(found) else default


def text(line: Mapping[str, Any], key: str) -> str:
    """A text without anything that could move a terminal's cursor."""
    value = line.get(key)
    if not isinstance(value, str):
        return ""
    return value if value.isprintable() else "".join(
        c if c.isprintable() else " " for c in value)


def wall_clock(line: Mapping[str, Any]) -> datetime | None:
    """When the line was written, with an offset; None if that cannot be read or never was."""
    try:
        wall = datetime.fromisoformat(line["at"])
        if not _FIRST_YEAR <= wall.year <= _LAST_YEAR:
            return None  # so that a day added or a zone applied stays a date
        return wall if wall.tzinfo else wall.astimezone()
    except (KeyError, TypeError, ValueError, OverflowError, OSError):
        return None
