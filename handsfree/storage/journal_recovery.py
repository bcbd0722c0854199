"""The state of a session whose events cannot all be replayed: from what its lines say came of them.

Pure.  May import the engine, the checklist model, the journal's reader.  The journal is whole, but
another version of the program has written events that this one does not know.  Replaying without
them would put the later ones to the wrong step; what each event led to still stands beside it.
What is not told there is offered once more, never assumed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from handsfree.checklist.model import Checklist
from handsfree.engine.advance import begin
from handsfree.engine.choosing import broken_rule
from handsfree.engine.state import Mode, State, Status
from handsfree.storage.journal import Line, event_from_json, names


def replayable(lines: Iterable[Line]) -> bool:
    """Whether every event among the lines can be understood, and the value read out with it."""
    for line in lines:
        if line["what"] == "event":
            try:
                event_from_json(line["event"])
                if line.get("reading"):
                    Fraction(line["reading"]["value"])
                    str(line["reading"]["unit"])
            except (KeyError, ValueError, TypeError, AttributeError, ZeroDivisionError):
                return False
    return True


def rebuilt(checklist: Checklist, record: frozenset[str], lines: Iterable[Line]) -> State:
    """The state, paused, so that whoever resumes it hears the step at hand again.

    Args:
        record: what was true when the session began.
    """
    start, _ = begin(checklist, record)
    facts, at = start.facts, start.at
    statuses = dict.fromkeys(checklist.index, Status.OPEN)
    tries: dict[str, int] = {}
    reports: list[str] = []
    waits: set[str] = set()
    for line in lines:
        step = str(line.get("step", ""))
        if line["what"] == "changed":
            facts = facts - names(line.get("off")) | names(line.get("on"))
        if step not in statuses:
            continue
        if line["what"] == "offered":
            at = step
        elif line["what"] == "skipped":
            again = statuses[step] in (Status.SKIPPED, Status.LEFT)
            if statuses[step] not in (Status.DONE, Status.FAILED):
                statuses[step] = Status.LEFT if again else Status.SKIPPED
        elif line["what"] == "failed":
            tries[step] = count if isinstance(count := line.get("try"), int) else 1
            statuses[step] = Status.OPEN
            waits.discard(step)
        elif line["what"] == "waits":
            waits.add(step)
            statuses[step] = Status.OPEN
        elif line["what"] == "due":
            waits.discard(step)
        elif line["what"] == "reported":
            waits -= {step, *(checklist.followers.get(step, ()) if line.get("kind") == "take back"
                              else ())}
            reports = [name for name in reports if name != step]
            statuses[step] = _AFTER.get(str(line.get("kind")), Status.OPEN)
            if statuses[step] is Status.DONE:
                reports.append(step)
                _reopen(checklist, statuses, step)
    if not at or statuses[at] is Status.DONE or broken_rule(checklist, facts):
        at = ""  # chosen anew on coming back
    return replace(
        start, facts=facts, at=at, mode=Mode.PAUSED, pending=None, broken="",
        statuses=tuple(statuses[step] for step in checklist.index),
        tries=tuple(sorted(tries.items())), reports=tuple(reports), waits=frozenset(waits))


_AFTER = {"report": Status.DONE, "yes": Status.DONE, "no": Status.DONE, "give up": Status.FAILED}


def _reopen(checklist: Checklist, statuses: dict[str, Status], done: str) -> None:
    """What a remedy's step undoes has to be done again, as in `advance`."""
    if done in checklist.order:
        return
    for other in checklist.order:
        undone = checklist.steps[other].gives & checklist.steps[done].ends
        if undone and statuses[other] is Status.DONE:
            statuses[other] = Status.OPEN
