"""Checks that are wanted at an interval: how long ago each was done, by the record alone.

May import journal, lines, record and the checklist model.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path

from handsfree.checklist.model import Checklist
from handsfree.engine.changes import Kind
from handsfree.storage import journal, lines
from handsfree.storage.record import SessionFile, session_paths


def done_lately(
    folder: Path, checklist: Checklist, last: SessionFile | None, now: datetime, *,
    rehearsal: bool = False,
) -> Mapping[str, float]:
    """Minutes since each piece of lasting evidence was reported, of those that still stand and are
    no older than they may be.

    A report of the step counts, nothing else: no correction, no answer, no journal that is not as
    it was written, no clock that was set back, and no rehearsal for what is real.

    Args:
        folder: the rig's.
        last: the newest session.
        now: with its time zone.
    """
    if last is None or last.faults or _minutes(last.last, now) is None:
        return {}
    wanted = {name for name, evidence in checklist.evidence.items()
              if evidence.lasting and name in last.facts}
    found: dict[str, float] = {}
    for path in reversed(session_paths(folder)):
        read = journal.read(path) if wanted else None
        first = next((line for line in read.lines if isinstance(line, lines.Begun)),
                     None) if read else None
        if read is None or first is None or read.faults or read.damaged:
            break
        told = [line for line in read.lines if isinstance(line, (lines.Begun, lines.Event))]
        for name in sorted(wanted):
            line = next((line for line in reversed(told) if _speaks_of(line, name)), None)
            if line is None and name in first.record:
                continue  # it was so before that session
            wanted.discard(name)
            minutes = _minutes(line.at, now) if line and _reported(line, name) else None
            if minutes is not None and minutes < checklist.evidence[name].minutes and (
                    bool(first.rehearsal) is rehearsal):
                found[name] = minutes
    return found


def _speaks_of(line: lines.Begun | lines.Event, fact: str) -> bool:
    return any(isinstance(then, lines.Changed) and fact in (*then.on, *then.off)
               for then in line.then or ())


def _reported(line: lines.Line, fact: str) -> bool:
    """Whether the fact came about by the report of a step."""
    then = line.then if isinstance(line, lines.Event) else ()
    return any(isinstance(one, lines.Changed) and fact in one.on for one in then) and any(
        isinstance(one, lines.Reported) and one.of == Kind.REPORT.value for one in then)


def _minutes(told: str, now: datetime) -> float | None:
    """Since a moment; None where that is not told, or lies ahead."""
    try:
        ago = now - datetime.fromisoformat(told)
    except (TypeError, ValueError):  # no time, or none of a zone
        return None
    return ago / timedelta(minutes=1) if ago >= timedelta(0) else None
