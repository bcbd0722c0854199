"""What the lines of a session come to: one walk over them, for whatever is asked of a journal.

Pure.  May import lines, engine states, the checklist model.  The record takes the facts from it, a
session that is gone on with its waits and reminders, one whose events cannot all be replayed the
whole state.  The review walks the lines by itself, since it asks for times.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from handsfree.checklist.model import Checklist
from handsfree.engine.state import Status
from handsfree.storage import lines
from handsfree.storage.lines import Line

NONE: frozenset[str] = frozenset()


@dataclass
class Folded:
    """Where a session stands after its lines so far.

    With a checklist also what follows from it: taking a step back ends the waits of those that
    follow it, and what a remedy's step undoes has to be done again.
    """

    checklist: Checklist | None = None
    facts: frozenset[str] = NONE
    known: frozenset[str] = NONE
    """Every fact that was spoken of, true or false."""
    settled: frozenset[str] = NONE
    """Facts whose value rests on somebody's word."""
    traits: frozenset[str] | None = None
    """What the rig had when that was settled; None where nothing says."""
    begun: lines.Begun | None = None
    at: str = ""
    """The step that was offered last."""
    closed: lines.Closed | None = None
    """The end, unless something was taken back since."""
    last: str = ""
    """When the last line was written."""
    statuses: dict[str, Status] = field(default_factory=dict)
    """Steps of which something was said; any other is open."""
    tries: dict[str, int] = field(default_factory=dict)
    reports: list[str] = field(default_factory=list)
    """Steps that are done, in the order of the reports."""
    waits: dict[str, str] = field(default_factory=dict)
    """Steps whose wait is running, and the wall clock when it began."""
    reminders: list[lines.Reminder] = field(default_factory=list)
    """Those that were set and not spoken."""
    amount: lines.Amount | None = None
    """What was read out last."""

    def take(self, line: Line) -> None:
        """One line more."""
        self.last = line.at
        if handler := _HANDLERS.get(line.kind):
            handler(self, line)

    # --- the record ------------------------------------------------------------------------

    def _begin(self, line: lines.Begun) -> None:
        if self.begun is not None:
            return
        self.begun, self.facts = line, line.record
        self.known = line.known or NONE
        if line.settled is not None:
            self.settled, self.traits = line.settled, line.traits or NONE

    def _change(self, line: lines.Changed) -> None:
        self.facts = self.facts - line.off | line.on
        self.known |= line.on | line.off
        self.settled |= line.on | line.off

    def _close(self, line: lines.Closed) -> None:
        self.closed = line

    def _alarm(self, line: lines.Alarm) -> None:
        self.closed = None

    # --- the steps -------------------------------------------------------------------------

    def _offer(self, line: lines.Offered) -> None:
        self.at, self.closed = line.step or self.at, None

    def _skip(self, line: lines.Skipped) -> None:
        status = self.statuses.get(line.step, Status.OPEN)
        if status not in (Status.DONE, Status.FAILED):
            self.statuses[line.step] = Status.SKIPPED if status is Status.OPEN else Status.LEFT

    def _fail(self, line: lines.Failed) -> None:
        self.tries[line.step] = 1 if line.tries is None else line.tries
        self.statuses[line.step] = Status.OPEN
        self.waits.pop(line.step, None)

    def _wait(self, line: lines.Waits) -> None:
        self.waits[line.step] = line.at
        self.statuses[line.step] = Status.OPEN

    def _end_wait(self, line: lines.Due) -> None:
        self.waits.pop(line.step, None)

    def _report(self, line: lines.Reported) -> None:
        step, back = line.step, line.of == "take back"
        followers = self.checklist.followers.get(step, ()) if self.checklist and back else ()
        for one in (step, *followers):
            self.waits.pop(one, None)
        self.reports = [name for name in self.reports if name != step]
        self.statuses[step] = _AFTER.get(line.of, Status.OPEN)
        if self.statuses[step] is Status.DONE:
            self.reports.append(step)
            self._reopen(step)

    def _reopen(self, done: str) -> None:
        """What a remedy's step undoes has to be done again, as in `advance`."""
        c = self.checklist
        if c is None or done in c.order or done not in c.steps:
            return
        for other in c.order:
            if c.steps[other].gives & c.steps[done].ends and (
                    self.statuses.get(other) is Status.DONE):
                self.statuses[other] = Status.OPEN

    # --- what is no part of the engine's state -----------------------------------------------

    def _happen(self, line: lines.Event) -> None:
        self.amount = line.reading or self.amount

    def _remind(self, line: lines.Reminder) -> None:
        self.reminders.append(line)

    def _reminded(self, line: lines.Reminded) -> None:
        same = [one for one in self.reminders
                if (one.minutes, one.step) == (line.minutes, line.step)]
        if same:
            self.reminders.remove(same[0])


_AFTER = {"report": Status.DONE, "yes": Status.DONE, "no": Status.DONE, "give up": Status.FAILED}

_HANDLERS: dict[str, Callable[[Folded, Any], None]] = {
    "begun": Folded._begin, "changed": Folded._change, "closed": Folded._close,
    "alarm": Folded._alarm, "offered": Folded._offer, "skipped": Folded._skip,
    "failed": Folded._fail, "waits": Folded._wait, "due": Folded._end_wait,
    "reported": Folded._report, "event": Folded._happen, "reminder": Folded._remind,
    "reminded": Folded._reminded}


OF_RECORD = frozenset({"begun", "changed", "closed", "alarm", "offered"})
"""Kinds of lines on which the record and the end of a session hang."""


def fold(told: Iterable[Line], base: Folded | None = None) -> Folded:
    """What lines come to; `base`, what was so before them, is taken on to that."""
    folded = base or Folded()
    for line in told:
        folded.take(line)
    return folded
