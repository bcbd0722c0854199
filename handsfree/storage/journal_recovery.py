"""The state of a session whose events cannot all be replayed: from what its lines say came of them.

Pure.  May import the engine, the checklist model, lines and their fold.  The journal is whole, but
another version of the program has written events that this one does not know.  Replaying without
them would put the later ones to the wrong step; what each event led to still stands beside it.
What is not told there is offered once more, never assumed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from handsfree.checklist.model import Checklist
from handsfree.engine.advance import begin
from handsfree.engine.choosing import broken_rule
from handsfree.engine.state import Mode, State, Status
from handsfree.storage import lines
from handsfree.storage.fold import Folded, fold
from handsfree.storage.lines import Line


def replayable(told: Iterable[Line]) -> bool:
    """Whether every event among the lines can be understood, and the value read out with it."""
    return all(line.event is not None for line in told if isinstance(line, lines.Event))


def rebuilt(checklist: Checklist, record: frozenset[str], told: Iterable[Line]) -> State:
    """The state, paused, so that whoever resumes it hears the step at hand again.

    Args:
        record: what was true when the session began.
    """
    start, _ = begin(checklist, record)
    steps = checklist.index
    known = (line for line in told if not isinstance(line, lines.Begun)
             and getattr(line, "step", None) in (None, *steps))
    folded = fold(known, Folded(checklist, start.facts))
    at = folded.at or start.at
    if not at or folded.statuses.get(at) is Status.DONE or broken_rule(checklist, folded.facts):
        at = ""  # chosen anew on coming back
    return replace(
        start, facts=folded.facts, at=at, mode=Mode.PAUSED, pending=None, broken="",
        statuses=tuple(folded.statuses.get(step, Status.OPEN) for step in steps),
        tries=tuple(sorted(folded.tries.items())), reports=tuple(folded.reports),
        waits=frozenset(folded.waits))
