"""From a journal's lines to what happened and how long it took.

Pure, but for `read_session`, which opens a file.  May import records, the journal's reader and
errors.  Durations come from the running clock of the process alone; the wall clock is only
compared with it, so that a jump can be told.  Unknown kinds of lines are passed over.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import InputError
from handsfree.review.coverage import Array, Interval, covered
from handsfree.review.fields import number, plan_of, text, wall_clock
from handsfree.review.records import (
    Mark,
    Outcome,
    Problem,
    SessionRecord,
    StepRecord,
    Stretch,
    Visit,
)
from handsfree.storage import journal
from handsfree.storage.lines import is_line

LARGEST_JOURNAL = 64 * 1024 * 1024
"""Bytes; a session of a whole day stays under one megabyte."""
_LONGEST_WAIT = 10.0
"""Seconds; a longer silence after an utterance was not the program thinking."""
_LATEST = 1e9
"""Seconds, thirty years: no running clock shows more."""
_ANSWERED = " answered"
"""What the fact that a site question was answered ends in; see `model.answered_fact`."""
_UNANSWERED = ("noise", "too short")
"""Reasons for a rejection that the program passes over in silence."""


class NotAJournal(InputError):
    """The file is something else."""


def read_session(path: Path, shown: str = "") -> tuple[SessionRecord, tuple[Problem, ...]]:
    """A journal's record, and what was wrong with the file.

    Args:
        path: the journal.
        shown: how messages name it.

    Raises:
        NotAJournal: it has no first line of ours, or is far too large.
        StorageError: it cannot be opened.
    """
    shown = shown or str(path)
    try:
        size = path.stat().st_size
    except OSError:
        size = 0  # the reader says why it cannot be opened
    if size > LARGEST_JOURNAL:
        raise NotAJournal(
            f"{shown} is too large for a journal ({size // 2**20} MB); move it elsewhere.")
    found = journal.read(path)
    problems = [_damaged(shown, found.damaged)] if found.damaged else []
    if found.torn:
        problems.append(Problem(
            shown, 0, "its last line was cut off in the writing; everything before it is used"))
    stem = path.name.split("-")[0]
    try:
        made = record(found.own, path=str(path), running=int(stem) if stem.isdigit() else 0)
    except NotAJournal:
        raise NotAJournal(
            f"{shown} is not a journal of a session (it has no 'begun' line);"
            " move it out of the sessions folder.") from None
    return made, tuple(problems)


def _damaged(shown: str, lines: Sequence[int]) -> Problem:
    """One problem a file, however many of its lines are damaged."""
    others = len(lines) - 1
    if not others:
        return Problem(shown, lines[0], "cannot be read; the lines around it are used")
    more = "line" if others == 1 else "lines"
    return Problem(shown, lines[0],
                   f"cannot be read, nor can {others:,} more {more} of it; the rest is used")


def record(
    lines: Iterable[Mapping[str, Any]], *, path: str = "", running: int = 0
) -> SessionRecord:
    """What a session's lines come to.

    Args:
        lines: as they stand in the file, what each led to within it or after it.

    Raises:
        NotAJournal: there is no line that begins it.
    """
    every = iter(lines)
    first = next((line for line in every if line.get("what") == "begun"), None)
    if first is None:
        raise NotAJournal("this is not a journal of a session: it has no 'begun' line.")
    tally = _Tally(first)
    tally.led_to(first)
    for line in every:
        tally.take(line)
    return tally.finish(path, running)


@dataclass
class _StepTally:
    offered: float = math.nan
    acknowledged: float = math.nan
    visits: int = 0
    repeats: int = 0
    refusals: int = 0
    rejections: int = 0
    asked: int = 0
    tries: int = 0
    skips: int = 0
    outcome: Outcome = Outcome.OPEN
    restarted: bool = False
    failed_at: float = math.inf
    """When it failed for the first time; what comes after is another try."""


@dataclass
class _Place:
    """Where one operator is; two of them are at different steps at the same time."""

    who: str = ""
    at: str = ""
    since: float = 0.0
    paused_since: float | None = None
    pauses: list[Interval] = field(default_factory=list)
    talks: list[Interval] = field(default_factory=list)
    waits: list[Interval] = field(default_factory=list)
    visits: list[Visit] = field(default_factory=list)
    says: list[Interval] = field(default_factory=list)
    refused_since: float | None = None
    refusals: list[Interval] = field(default_factory=list)
    asked_at: Interval | None = None
    """End of the last utterance that will be answered, and when it was understood."""


@dataclass
class _Tally:
    """Walks the lines once, keeping where the clock and the operators are."""

    first: Mapping[str, Any]
    now: float = 0.0
    restarts: int = 0
    jump: float = 0.0
    closed: bool = False
    away_since: float | None = None
    steps: dict[str, _StepTally] = field(default_factory=dict)
    absences: list[Interval] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    places: dict[str, _Place] = field(default_factory=dict)
    """By whose line it is; '' where there is one operator alone."""
    facts: set[str] = field(default_factory=set)
    answers: dict[str, bool] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    """Pseudonyms by whose they are."""
    settled: str = ""
    """The step that was settled last."""

    def __post_init__(self) -> None:
        self.began = wall_clock(self.first) or datetime.fromtimestamp(0, UTC)
        self._stamp, self._at = self.first.get("t"), self.first.get("at")
        t = number(self.first, "t", 0.0)
        self._t = t if abs(t) <= _LATEST else 0.0
        self._base = -self._t
        self._wall = wall_clock(self.first)
        self._lead = text(self.first, "who")
        self.place = self._lone = self._of(self.first)
        self.facts |= journal.names(self.first.get("record"))
        named = self.first.get("operator")
        for who, name in named.items() if isinstance(named, Mapping) else ():
            self._named(str(who), name)

    def _named(self, who: str, name: object) -> None:
        if isinstance(name, str) and name.isprintable() and name.strip():
            self.names[who] = name.strip()[:40]

    def _of(self, line: Mapping[str, Any]) -> _Place:
        who = line.get("who")
        if not who:
            who = self._lead
        place = self.places.get(who) if isinstance(who, str) else None
        if place is None:
            who = text(line, "who") or self._lead
            place = self.places.setdefault(who, _Place(who))
        return place

    # --- the clock -------------------------------------------------------------------------

    def take(self, line: Mapping[str, Any]) -> None:
        """One line after the first, and what it led to."""
        what, at, t = line["what"], line.get("at"), line.get("t")
        if t != self._stamp or at != self._at or what == "restarted":
            self._stamp, self._at = t, at
            self._tick(line, what)
        handler = _HANDLERS.get(what)
        if handler:
            self.place = self._of(line) if line.get("who") else self._lone
            handler(self, line)
        if "then" in line:
            self.led_to(line)

    def led_to(self, line: Mapping[str, Any]) -> None:
        """What a line led to, at the line's own time."""
        then = line.get("then")
        for one in then if isinstance(then, list) else ():
            handler = _HANDLERS.get(one["what"]) if is_line(one) else None
            if handler:
                self.place = self._of(one) if one.get("who") else self._lone
                handler(self, one)

    def _tick(self, line: Mapping[str, Any], what: object) -> None:
        """Move the clock on."""
        t = number(line, "t", self._t)
        if not -_LATEST <= t <= _LATEST:
            t = self._t
        wall = wall_clock(line)
        if what == "restarted" or t < self._t - 1.0:
            self._restart(t)  # a clock that goes back is another process's, said or not
        elif wall and self._wall:
            jump = abs((wall - self._wall).total_seconds() - (t - self._t))
            if jump > 2.0:
                self.jump = max(self.jump, jump)
        self._t = max(self._t, t) if what != "restarted" else t
        self._wall = wall or self._wall
        self.now = self._base + self._t

    def _restart(self, t: float) -> None:
        self.restarts += 1
        self._base, self._t = self.now - t, t
        for place in self.places.values():
            place.asked_at = None
            if place.at:
                self._step(place.at).restarted = True

    def _instant(self, line: Mapping[str, Any], key: str) -> float:
        value = line.get(key)
        found = self._base + (value if type(value) is float else number(line, key, self._t))
        return found if 0.0 <= found < self.now else 0.0 if found < 0.0 else self.now

    # --- the step at hand ------------------------------------------------------------------

    def _step(self, name: str) -> _StepTally:
        step = self.steps.get(name)
        if step is None:
            step = self.steps[name] = _StepTally()
        return step

    def _leave(self, how: str = "") -> None:
        place = self.place
        if place.at:
            place.visits.append(Visit(place.at, place.since, self.now, how, place.who))
        place.at, place.since = "", self.now

    def _come_back(self) -> None:
        place = self.place
        if place.paused_since is not None:
            place.pauses.append((place.paused_since, self.now))
            place.paused_since = None
        if self.away_since is not None:
            self.absences.append((self.away_since, self.now))
            self.away_since = None

    def _all_leave(self) -> None:
        for self.place in self.places.values():  # noqa: B020  (each in turn is where we are)
            self._come_back()
            self._leave()

    def offered(self, line: Mapping[str, Any]) -> None:
        name = text(line, "step")
        if not name:
            return
        self._come_back()
        step = self._step(name)
        if line.get("again") == "repeated":
            step.repeats += 1
        if name != self.place.at:
            self._leave()
            self.place.at, self.place.since = name, self.now
            step.visits += 1
        if math.isnan(step.offered):
            step.offered = self.now

    def reported(self, line: Mapping[str, Any]) -> None:
        name, kind = text(line, "step"), line.get("kind")
        if not name or kind == "resolve":
            return
        self._come_back()
        step = self._step(name)
        if kind == "take back":
            step.outcome = Outcome.OPEN
            self.marks.append(Mark("taken back", name, self.now))
            self._leave()
            return
        if self.place.at != name:  # done without having been offered: its time is its own
            self.place.at = name
            step.visits += 1
            if math.isnan(step.offered):
                step.offered = self.place.since
        step.outcome = Outcome.FAILED if kind == "give up" else Outcome.DONE
        step.acknowledged = self.now
        self.settled = name
        how = "gave up" if kind == "give up" else "done"
        self.marks.append(Mark(how, name, self.now))
        if len(self.places) == 1:
            self._leave(how)
            return
        for self.place in self.places.values():  # noqa: B020  (each in turn is where we are)
            if self.place.at == name:  # of a step for both, each is done with it
                self._leave(how)

    def skipped(self, line: Mapping[str, Any]) -> None:
        self._come_back()
        name = text(line, "step")
        if not name:
            return
        step = self._step(name)
        step.skips += 1
        if step.outcome not in (Outcome.DONE, Outcome.FAILED):
            step.outcome = Outcome.SKIPPED
            step.acknowledged = self.now
        self.marks.append(Mark("skipped", name, self.now))
        self._leave("skipped" if name == self.place.at else "")

    def failed(self, line: Mapping[str, Any]) -> None:
        if name := text(line, "step"):
            step = self._step(name)
            step.tries += 1
            step.failed_at = min(step.failed_at, self.now)
            self.marks.append(Mark("failed", name, self.now, str(line.get("band", ""))))

    def refused(self, line: Mapping[str, Any]) -> None:
        if name := text(line, "step"):
            self._step(name).refusals += 1
            missing = line.get("missing")
            reasons = ", ".join(map(str, missing)) if isinstance(missing, list) else ""
            self.marks.append(Mark("refused", name, self.now, reasons, before=self.settled))
            if self.place.refused_since is None:
                self.place.refused_since = self.now

    def event(self, line: Mapping[str, Any]) -> None:
        """Another order: what was refused before it is over; done together, no time is a step's own."""
        if line.get("together") and (name := text(line, "step")):
            self._step(name).restarted = True
        place = self.place
        if place.refused_since is not None:
            place.refusals.append((place.refused_since, self.now))
            place.refused_since = None

    def changed(self, line: Mapping[str, Any]) -> None:
        on = journal.names(line.get("on"))
        if off := line.get("off"):
            self.facts -= journal.names(off)
        self.facts |= on
        for fact in on:
            if fact.endswith(_ANSWERED):
                question = fact.removesuffix(_ANSWERED)
                self.answers[question] = question in self.facts

    def operator(self, line: Mapping[str, Any]) -> None:
        self._named(text(line, "who"), line.get("name"))

    def paused(self, line: Mapping[str, Any]) -> None:
        if self.place.paused_since is None:
            self.place.paused_since = self.now

    def suspended(self, line: Mapping[str, Any]) -> None:
        self._all_leave()
        self.away_since = self.now

    def waiting(self, line: Mapping[str, Any]) -> None:
        """Nothing to do until a step is due: nobody's working time."""
        self._come_back()
        self._leave()
        self.away_since = self.now

    def resumed(self, line: Mapping[str, Any]) -> None:
        self._come_back()

    def alarm(self, line: Mapping[str, Any]) -> None:
        self._come_back()
        self.marks.append(Mark("alarm", text(line, "rule"), self.now))

    def note(self, line: Mapping[str, Any]) -> None:
        self.marks.append(Mark("note", text(line, "step"), self.now, text(line, "text"),
                               text(line, "audio")))

    def reading(self, line: Mapping[str, Any]) -> None:
        said = f"{line.get('value')} {text(line, 'unit')}".strip()
        self.marks.append(Mark("reading", text(line, "step"), self.now, said))

    def close(self, line: Mapping[str, Any]) -> None:
        self._all_leave()
        self.closed = True
        left = line.get("open")
        for name in left if isinstance(left, list) else ():
            step = self._step(str(name))
            if step.outcome is not Outcome.FAILED:
                step.outcome = Outcome.LEFT

    # --- who talks -------------------------------------------------------------------------

    def spoke(self, line: Mapping[str, Any]) -> None:
        begin, end = self._instant(line, "from"), self._instant(line, "to")
        if self.place.asked_at and begin >= self.place.asked_at[0]:
            self._waited(begin)
        if end > begin:
            self.place.talks.append((begin, end))

    def heard(self, line: Mapping[str, Any]) -> None:
        verdict = line.get("verdict")
        if verdict == "rejected" and line.get("reason") in _UNANSWERED:
            return
        self._waited(math.inf)
        end = self._instant(line, "to")
        self.place.asked_at = (end, self.now)
        begin = self._instant(line, "from")
        if end > begin:
            self.place.says.append((begin, end))
        at = self.place.at
        if at and verdict == "rejected":
            self._step(at).rejections += 1
        if at and verdict == "asked":
            self._step(at).asked += 1

    def _waited(self, answer: float) -> None:
        """Close the wait for an answer; one that never came ends when it was understood."""
        if self.place.asked_at:
            begin, understood = self.place.asked_at
            end = answer if answer - begin <= _LONGEST_WAIT else understood
            if end > begin:
                self.place.waits.append((begin, end))
        self.place.asked_at = None

    # --- the sum ---------------------------------------------------------------------------

    def finish(self, path: str, running: int) -> SessionRecord:
        """Everything that was walked over, as one record."""
        for self.place in self.places.values():  # noqa: B020  (each in turn is where we are)
            self._waited(math.inf)
            self._leave()
            if self.place.paused_since is not None:
                self.place.pauses.append((self.place.paused_since, self.now))
        if self.away_since is not None:
            self.absences.append((self.away_since, self.now))
        places = {name: place for place, name in enumerate(self.steps)}
        sums = np.zeros((len(places), _PARTS))
        sides: dict[str, str] = {}
        totals: list[list[float]] = []
        for place in self.places.values():
            if place.refused_since is not None:
                place.refusals.append((place.refused_since, self.now))
            again = [visit.begin >= self.steps[visit.step].failed_at for visit in place.visits]
            parts = _parts(self.absences, place, self.now, np.array([*again, False]))
            np.add.at(sums, np.array([places[visit.step] for visit in place.visits], int), parts[:-1])
            totals.append(parts[-1].tolist())
            for visit in place.visits:
                if sides.setdefault(visit.step, place.who) != place.who:
                    sides[visit.step] = "both"
        active, pause, speech, wait, *_, gone = totals[0]  # of two operators, the one who has the lead
        plan = plan_of(self.first.get("plan"))
        order = {planned.step: place for place, planned in enumerate(plan)}
        steps = tuple(
            StepRecord(
                name, order.get(name, -1), step.offered, step.acknowledged, own, held, told, lag,
                step.visits, step.repeats, step.refusals, step.rejections, step.asked, step.tries,
                step.skips, step.outcome, step.restarted, said, hindered, retried,
                sides.get(name, ""))
            for (name, step), (own, held, told, lag, said, hindered, retried, _) in zip(
                self.steps.items(), sums.tolist(), strict=True))
        steps = tuple(sorted(steps, key=lambda s: (math.isnan(s.offered), s.offered)))
        first = self.first
        return SessionRecord(
            session=text(first, "session"), checklist=text(first, "checklist"),
            title=text(first, "title"), digest=text(first, "digest"), rig=text(first, "rig"),
            place=text(first, "place"), language=text(first, "language"), began=self.began,
            number=running, path=path, seconds=self.now - gone, active=active, paused=pause,
            spoken=speech, waiting=wait, away=gone, restarts=self.restarts,
            clock_jump=self.jump, closed=self.closed, rehearsal=bool(first.get("rehearsal")),
            plan=plan, steps=steps, marks=tuple(self.marks),
            visits=tuple(sorted((visit for place in self.places.values()
                                 for visit in place.visits), key=lambda visit: visit.begin)),
            pauses=tuple(Stretch(*pause, place.who)
                         for place in self.places.values() for pause in place.pauses),
            talks=tuple(Stretch(*talk, place.who)
                        for place in self.places.values() for talk in place.talks),
            operator=" & ".join(sorted(set(self.names.values()))),
            operators=max(1, len(journal.names(first.get("operators")))),
            answers=self.answers, record=tuple(sorted(journal.names(first.get("record")))))


_PARTS = 8


def _parts(
    absences: list[Interval], place: _Place, now: float, again: NDArray[np.bool_]
) -> Array:
    """(visits and the whole session, `_PARTS`) seconds of one operator, in layers of which each
    hides those below it: active, paused, spoken, waiting; of the active: answering, refused,
    tried again; and away, which is none of these.

    Args:
        again: whether the step had failed before.
    """
    begins = np.array([*(visit.begin for visit in place.visits), 0.0])
    ends = np.array([*(visit.end for visit in place.visits), now])
    away, paused, spoken, waiting, refused, said = covered(
        (absences, place.pauses, place.talks, place.waits, place.refusals, place.says),
        begins, ends).T
    active = np.maximum(0.0, ends - begins - waiting)
    refusing, answering = refused - waiting, said - refused
    retried = np.where(again, np.maximum(0.0, active - refusing - answering), 0.0)
    return np.column_stack([active, paused - away, spoken - paused, waiting - spoken, answering,
                            refusing, retried, away])


_HANDLERS = {
    "offered": _Tally.offered, "reported": _Tally.reported, "skipped": _Tally.skipped,
    "failed": _Tally.failed, "refused": _Tally.refused, "paused": _Tally.paused,
    "suspended": _Tally.suspended, "waiting": _Tally.waiting, "resumed": _Tally.resumed,
    "alarm": _Tally.alarm,
    "note": _Tally.note, "reading": _Tally.reading, "closed": _Tally.close,
    "spoke": _Tally.spoke, "heard": _Tally.heard, "event": _Tally.event,
    "changed": _Tally.changed, "operator": _Tally.operator,
}
