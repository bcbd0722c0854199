"""What an operator knows by heart, as his own record shows.

May import journal, record, lines and the checklist model.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from handsfree.checklist.model import Checklist
from handsfree.engine.state import Correct, Deny
from handsfree.errors import StorageError
from handsfree.storage import journal, lines
from handsfree.storage.lines import Line
from handsfree.storage.record import is_of, session_paths

STAYS = 3
"""So many of the operator's last walks of a list have to be without a slip.  Common practice of
our own making."""

AWAY_DAYS = 60
"""After so many days without the list nothing of it counts as known by heart, until it was walked again."""


@dataclass(frozen=True)
class Known:
    """What the record of an operator shows of a list."""

    steps: frozenset[str] = frozenset()
    """Those that are known by heart."""
    others: frozenset[str] = frozenset()
    """Those that were done on one of the last walks, and are not."""
    walks: int = 0
    """Of the last `STAYS` walks those that are on record."""
    away: bool = False
    """The last one was more than `AWAY_DAYS` ago, or the clock says so."""


def known_by_heart(folder: Path, checklist: Checklist, operator: str, now: datetime) -> Known:
    """The steps that were done in each of the last `STAYS` walks of the list by this operator,
    less all of a section in which one of them had a slip.

    Args:
        folder: the rig's.
        operator: pseudonym; '' for whoever gave none.
        now: with its time zone.
    """
    walks: list[tuple[Line, ...]] = []
    for path in reversed(session_paths(folder)):
        if not is_of(path, checklist.id):
            continue
        if (told := _walk(path, checklist, operator)) is None:
            continue
        if not walks and not _lately(told, now):
            return Known(away=True)
        walks.append(told)
        if len(walks) == STAYS:
            break
    if len(walks) < STAYS:
        return Known(walks=len(walks))
    done = [{line.step for line in told if isinstance(line, lines.Reported)} for told in walks]
    known = frozenset(name for name, step in checklist.steps.items() if step.section)
    slips = {checklist.steps[name].section for told in walks for name in slipped(told, checklist)}
    steps = frozenset(name for name in known.intersection(*done)
                      if checklist.steps[name].section not in slips)
    return Known(steps, known.intersection(set().union(*done)) - steps, len(walks))


def _walk(path: Path, checklist: Checklist, operator: str) -> tuple[Line, ...] | None:
    """The lines of a walk that came to its end, if it was this operator's alone."""
    try:
        found = journal.read(path)
    except StorageError:
        return None
    told = tuple(found.lines)
    first = next((line for line in told if isinstance(line, lines.Begun)), None)
    if first is None or first.checklist != checklist.id or first.operators or found.faults:
        return None
    names = {name for line in told if isinstance(line, lines.Operator) for name in (line.name,)}
    names |= set((first.operator or {}).values())
    over = any(isinstance(line, lines.Closed) for line in told)
    return told if over and (names or {""}) == {operator} else None


def _lately(told: Iterable[Line], now: datetime) -> bool:
    try:
        ago = now - datetime.fromisoformat(next(iter(told)).at)
    except (TypeError, ValueError):  # no time, or none of a zone
        return False
    return timedelta(0) <= ago <= timedelta(days=AWAY_DAYS)


def slipped(told: Iterable[Line], checklist: Checklist) -> frozenset[str]:
    """Steps at which something was skipped, refused, failed, taken back, corrected or denied, or
    took longer than the list's own longest time."""
    found: set[str] = set()
    most = {}
    offered: dict[str, float] = {}
    for line in told:
        if isinstance(line, lines.Begun):
            most = {planned.step: 60.0 * planned.most for planned in line.plan}
        elif isinstance(line, (lines.Skipped, lines.Refused, lines.Failed)):
            found.add(line.step)
        elif isinstance(line, (lines.Paused, lines.Suspended, lines.Restarted)):
            offered.clear()  # nobody's working time
        elif isinstance(line, lines.Offered):
            offered[line.step] = line.t
        elif isinstance(line, lines.Event):
            if isinstance(line.event, Deny):
                found.add(line.step)
            elif isinstance(line.event, Correct):
                fact = line.event.fact
                found |= {step.id for step in checklist.steps.values()
                          if fact in step.gives | step.ends}
            if line.together:
                offered.clear()
        elif isinstance(line, lines.Reported) and (
                line.of == "take back"
                or line.t - offered.get(line.step, line.t) > most.get(line.step, math.inf)):
            found.add(line.step)
    return frozenset(found & checklist.steps.keys())
