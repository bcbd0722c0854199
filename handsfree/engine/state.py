"""Events in, effects out, and the state between them: frozen, hashable, finite.

Pure.  May import the checklist model.  No time, text or float is in the state: confidence and
readings arrive as bands, and what is said about a state is an effect that names a template.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from handsfree.checklist.conditions import Literal


class Status(Enum):
    """Where one step stands in this session."""

    OPEN = "open"
    DONE = "done"
    SKIPPED = "skipped"      # will be offered again
    LEFT = "left open"       # skipped a second time
    FAILED = "failed"        # its remedy gave up


class Mode(Enum):
    """What the next word is about."""

    STEP = "step"            # a challenge waits for its response
    CONFIRM = "confirm"      # something was read back and waits for its confirmation
    PAUSED = "paused"
    WAITING = "waiting"      # nothing to do until a waiting step is due
    CLOSING = "closing"      # steps are open: close all the same?
    BLOCKED = "blocked"      # nothing can be offered, and it must not close
    ALARM = "alarm"          # a never rule is broken: the immediate action comes first
    SUSPENDED = "suspended"  # finished for now
    CLOSED = "closed"


@dataclass(frozen=True)
class Event:
    """Base of all that can happen."""


@dataclass(frozen=True)
class Done(Event):
    """'Done' to the step at hand."""


@dataclass(frozen=True)
class Respond(Event):
    """The hold point's (or the broken rule's) own response."""


@dataclass(frozen=True)
class Read(Event):
    """A reading: 'low', 'within', 'high', or 'stop': what it comes to says do not."""

    band: str


@dataclass(frozen=True)
class Answer(Event):
    """Yes or no to a site question."""

    yes: bool


@dataclass(frozen=True)
class Confirm(Event):
    """What was read back is right."""


@dataclass(frozen=True)
class Deny(Event):
    """What was read back is wrong."""


@dataclass(frozen=True)
class Skip(Event):
    """Not now."""


@dataclass(frozen=True)
class GoTo(Event):
    """Take this step next."""

    step: str


@dataclass(frozen=True)
class TakeBack(Event):
    """A report was a mistake: the last one, or the named step's."""

    step: str = ""


@dataclass(frozen=True)
class Problem(Event):
    """The step at hand cannot be done as it should."""


@dataclass(frozen=True)
class Pause(Event):
    """The operator is needed elsewhere."""


@dataclass(frozen=True)
class Resume(Event):
    """Back from a pause, or from 'finish for now'."""


@dataclass(frozen=True)
class Finish(Event):
    """Finish for now; the record stays as it is."""


@dataclass(frozen=True)
class Correct(Event):
    """The record is wrong about one fact."""

    fact: str
    value: bool


@dataclass(frozen=True)
class Ask(Event):
    """A question that changes nothing: repeat, detail, why, remaining, time, help, status."""

    about: str


@dataclass(frozen=True)
class Due(Event):
    """The wait of this step is over: the one event that time brings, not the operator."""

    step: str


@dataclass(frozen=True)
class Expired(Event):
    """Evidence has grown old: brought by time, or by coming back to a session."""

    fact: str


@dataclass(frozen=True)
class Unclear(Event):
    """Something was heard that is nothing that may be said now."""

    reason: str = "unclear"


@dataclass(frozen=True)
class Unsure(Event):
    """An event that was recognised, but not certainly."""

    event: Event


@dataclass(frozen=True)
class State:
    """Everything that decides what may happen next.

    `statuses` is parallel to `Checklist.index`; `at` is the step at hand; `pending` waits for its
    confirmation; `remedies` are the failed steps whose remedy is under way, innermost last;
    `stopped` are those of them whose sum said do not; `tries` counts failures per step;
    `reports` are this session's standing reports in order;
    `waits` are the steps whose wait is running.
    """

    facts: frozenset[str]
    statuses: tuple[Status, ...]
    at: str = ""
    mode: Mode = Mode.STEP
    pending: Event | None = None
    remedies: tuple[str, ...] = ()
    stopped: frozenset[str] = frozenset()
    tries: tuple[tuple[str, int], ...] = ()
    reports: tuple[str, ...] = ()
    waits: frozenset[str] = frozenset()
    broken: str = ""
    """Id of the never rule that is broken, in ALARM and its confirmation."""


@dataclass(frozen=True)
class Effect:
    """Base of what the loop has to do."""


@dataclass(frozen=True)
class Say(Effect):
    """Speak the template `key`; `about` is the id of a step, rule or remedy it speaks of."""

    key: str
    about: str = ""
    facts: tuple[Literal, ...] = ()
    others: tuple[str, ...] = ()
    remedy: str = ""
    """Id of the remedy that begins or gives up."""


@dataclass(frozen=True)
class Offer(Effect):
    """Speak the step's challenge; `again` after a skip, pause or failed try."""

    step: str
    again: str = ""


@dataclass(frozen=True)
class WaitBegins(Effect):
    """The wait of this step begins now; one that was running begins anew."""

    step: str


@dataclass(frozen=True)
class Refused(Effect):
    """An order was refused: a near miss for the record.

    `missing` are the literals of the interlock that do not hold, `rule` the never rule that would
    have been broken (if any), `mends` the steps that would help.  `backstop` says that the
    interlock had let it pass and only the never rule itself stopped it.
    """

    step: str
    missing: tuple[Literal, ...]
    rule: str = ""
    mends: tuple[str, ...] = ()
    backstop: bool = False


@dataclass(frozen=True)
class Changed(Effect):
    """The record has changed."""

    on: frozenset[str]
    off: frozenset[str]


@dataclass(frozen=True)
class Alarm(Effect):
    """A never rule is broken after all: say so loudly, with its immediate action."""

    rule: str


@dataclass(frozen=True)
class Closed(Effect):
    """The checklist is closed; these steps stay open."""

    open: tuple[str, ...] = ()
