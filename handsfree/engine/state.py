"""Events in, effects out, and the state between them: frozen, hashable, finite.

Pure.  May import the checklist model and changes.  No time, text or float is in the state: confidence and
readings arrive as bands, and what an event led to is an effect whose type says what it means.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Any

from handsfree.checklist.conditions import Literal
from handsfree.engine.changes import Kind


class Status(Enum):
    """Where one step stands in this session."""

    OPEN = "open"
    DONE = "done"
    SKIPPED = "skipped"      # will be offered again
    LEFT = "left open"       # skipped a second time
    FAILED = "failed"        # its remedy gave up

    __hash__ = object.__hash__  # a state has one for each step, and a proof hashes every state


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
    """A question that changes nothing: repeat, detail, why, remaining, help, status, next."""

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


if TYPE_CHECKING:
    from dataclasses import replace as replace
else:
    def replace(state: State, /, **changes: Any) -> State:
        """The state with these fields changed: as `dataclasses.replace`, in a quarter of the time."""
        assert type(state) is State, "what remembers something would go on remembering it"
        made = object.__new__(State)
        vars(made).update(vars(state), **changes)
        return made


@dataclass(frozen=True)
class Effect:
    """Base of what the loop has to do."""


class Reply(Enum):
    """Words that mean nothing beyond themselves; the value is their template's key."""

    OPENING = "opening"
    UNCLEAR = "unclear"
    SAY_AGAIN = "say again"
    WITHDRAWN = "withdrawn"
    CONFIRM_FIRST = "confirm first"
    NOT_NOW = "not now"
    NEEDS_YES_OR_NO = "answer yes or no"
    NEEDS_READING = "needs a reading"
    NEEDS_RESPONSE = "needs its response"
    DOES_NOT_APPLY = "does not apply"
    NO_REMEDY = "no remedy"
    HAS_TO_WAIT = "waits"
    WAITING = "waiting"
    EARLY = "early"
    DUE = "due"
    EVIDENCE_ENDED = "evidence ended"
    ENDED_BY_BREAK = "evidence ended by break"
    PAUSED_STILL = "paused still"
    RESUMED = "resumed"
    CLOSED_ALREADY = "closed already"
    NOTHING_TO_TAKE_BACK = "nothing to take back"
    DOES_NOT_STAND = "does not stand"
    LOOK_YOURSELF = "look yourself"
    SO_ALREADY = "so already"
    CORRECTED = "corrected"
    REMAINING = "remaining"
    STATUS = "status"
    NEXT = "next"
    WHY = "why"
    DETAIL = "detail"
    HELP = "help"
    PARTNER_NEEDED = "partner needed"
    PARTNER_TO_ANSWER = "partner to answer"
    PARTNER_HAS_IT = "partner has it"
    PARTNER_BUSY = "partner busy"
    STEP_GONE = "step gone"


@dataclass(frozen=True)
class Say(Effect):
    """An answer in words; `about` is the id of the step that it speaks of."""

    reply: Reply
    about: str = ""
    facts: tuple[Literal, ...] = ()
    others: tuple[str, ...] = ()


@dataclass(frozen=True)
class Reported(Effect):
    """A step (or, to RESOLVE, a rule) was reported: done, answered, given up, taken back, over."""

    subject: str
    kind: Kind
    facts: tuple[Literal, ...] = ()
    """What is so once it is taken back."""
    remedy: str = ""
    """Id of the remedy that gives up."""


@dataclass(frozen=True)
class Failed(Effect):
    """A step has failed: by a reading's band, or 'problem'."""

    step: str
    band: str


@dataclass(frozen=True)
class RemedyBegins(Effect):
    """What to do about a step that has failed."""

    step: str
    remedy: str


@dataclass(frozen=True)
class Skipped(Effect):
    """Not now."""

    step: str


@dataclass(frozen=True)
class ReadBack(Effect):
    """What was heard is asked about before it counts."""

    event: Event
    step: str


@dataclass(frozen=True)
class Paused(Effect):
    """Holding, at this step."""

    step: str


@dataclass(frozen=True)
class Suspended(Effect):
    """Finished for now, at this step; these are open."""

    step: str
    open: tuple[str, ...]


@dataclass(frozen=True)
class Waiting(Effect):
    """Nothing to do until one of these steps is due."""

    steps: tuple[str, ...]


@dataclass(frozen=True)
class CannotClose(Effect):
    """It must not close: what is missing, and the steps that would help."""

    missing: tuple[Literal, ...]
    steps: tuple[str, ...]


@dataclass(frozen=True)
class AskToClose(Effect):
    """These steps are open: close all the same?"""

    open: tuple[str, ...]


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
