"""What a session comes to: frozen records, made from a journal and read by everything here.

Pure.  May import nothing of the program.  All times are seconds of *running time*: the clock of
the process that ran the session, counted on from zero at its first line; a restart adds nothing,
so no wall clock and no gap between two processes is in any duration.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum
from typing import NamedTuple


class Outcome(Enum):
    """How a step stood when its session's journal ended."""

    DONE = "done"
    SKIPPED = "skipped"
    LEFT = "left open"      # still open when the checklist was closed
    FAILED = "failed"       # its remedy gave up
    OPEN = "unfinished"     # the session itself is not over


class PlanStep(NamedTuple):
    """A step as its checklist expects it; minutes are optimistic, most likely, pessimistic."""

    step: str
    least: float
    likely: float
    most: float
    applies: bool = True
    """Whether it applied when the session began."""


class StepRecord(NamedTuple):
    """One step of one session.

    `active`, `paused`, `spoken` and `waiting` do not overlap, and add up to the time during which
    the step was at hand.
    """

    step: str
    position: int
    """Place in the checklist's order, from 0; -1 for a step of a remedy."""
    offered: float
    """Running time at which it was first offered; nan if never."""
    acknowledged: float
    """Running time at which its outcome was settled; nan if never."""
    active: float
    """The operator's own time: no pauses, no prompts, no waiting for the program."""
    paused: float
    spoken: float
    """Time during which the program talked."""
    waiting: float
    """From the end of what the operator said to the start of the answer."""
    visits: int
    """Times it became the step at hand."""
    repeats: int
    refusals: int
    """Orders that were refused for its sake: near misses."""
    rejections: int
    """Utterances that were not understood; noise without an answer is not counted."""
    asked: int
    """Utterances that had to be asked about."""
    tries: int
    """Times it failed."""
    skips: int
    outcome: Outcome
    restarted: bool
    """A restart fell in while it was at hand, or it was reported together with others, after the
    work: its times are not its own."""
    answering: float = 0.0
    """Part of `active`: the operator spoke."""
    refusing: float = 0.0
    """Part of `active`: from an order that was refused to the next one."""
    retrying: float = 0.0
    """Part of `active`: the step had failed and was tried again."""
    who: str = ""
    """Which of two operators was at it: 'outside', 'inside' or 'both'; '' for one alone."""

    @property
    def doing(self) -> float:
        """What is left of `active`: hands, eyes and ways."""
        return max(0.0, self.active - self.answering - self.refusing - self.retrying)

    @property
    def elapsed(self) -> float:
        """Time at hand less pauses."""
        return self.active + self.spoken + self.waiting

    @property
    def forgotten(self) -> bool:
        """Left open without ever having been skipped on purpose."""
        return self.outcome is Outcome.LEFT and self.skips == 0


class Visit(NamedTuple):
    """The step was at hand from `begin` to `end`."""

    step: str
    begin: float
    end: float
    how: str = ""
    """What ended it: 'done', 'skipped', 'gave up', or '' if the step only was left for another."""
    who: str = ""
    """Of two operators, whose it was."""


class Stretch(NamedTuple):
    """From `begin` to `end`, for one of two operators or (`who` '') the one there is."""

    begin: float
    end: float
    who: str = ""


class Mark(NamedTuple):
    """Something that happened at one instant: 'done', 'skipped', 'refused', 'failed', ..."""

    kind: str
    step: str
    at: float
    text: str = ""
    audio: str = ""
    """Name of the sound file beside the journal, of a spoken note."""
    before: str = ""
    """Of a refusal: the step that was settled last before it."""


@dataclass(frozen=True)
class SessionRecord:
    """One session; `seconds` is its running time without the time that it was suspended."""

    session: str
    checklist: str
    title: str
    digest: str
    rig: str
    place: str
    language: str
    began: datetime
    """Wall clock of the first line, with its offset; for show and filters only."""
    number: int
    """The running number in the journal's file name; 0 if it has none."""
    path: str
    seconds: float
    active: float
    paused: float
    spoken: float
    waiting: float
    away: float
    """Suspended ('finish for now') within a process."""
    restarts: int
    clock_jump: float
    """The largest jump of the wall clock against the running clock, seconds; 0 below two."""
    closed: bool
    rehearsal: bool
    plan: tuple[PlanStep, ...]
    steps: tuple[StepRecord, ...]
    """In the order in which they were first at hand; those never offered come last."""
    visits: tuple[Visit, ...] = ()
    pauses: tuple[Stretch, ...] = ()
    talks: tuple[Stretch, ...] = ()
    marks: tuple[Mark, ...] = ()
    operator: str = ""
    """Pseudonym of who worked, as they gave it; of two 'one & two'; '' if nobody said."""
    operators: int = 1
    answers: Mapping[str, bool] = field(default_factory=dict)
    """Site questions that were answered, by id."""
    record: tuple[str, ...] = ()
    """What was true of the rig when the session began."""

    @property
    def elapsed(self) -> float:
        """Running time less pauses."""
        return self.seconds - self.paused


@dataclass(frozen=True)
class Problem:
    """Something wrong with a file that did not stop the reading."""

    file: str
    line: int
    text: str

    def __str__(self) -> str:
        where = f"{self.file}, line {self.line}" if self.line else self.file
        return f"{where}: {self.text}."
