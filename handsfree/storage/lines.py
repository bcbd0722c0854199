"""What a journal's lines say: one frozen dataclass for each kind, and how it stands in JSON.

Pure.  May import engine state.  A kind's own fields are the keys of its line, in the
order in which they are written; those that default to None are left out where they are None.
What another version of the program wrote is taken as far as it is known here: a kind that is not
known becomes `Unknown`, a key that is not known is passed over, and a value of the wrong type
counts as missing.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, dataclass, field, replace
from fractions import Fraction
from typing import Any, ClassVar, NamedTuple

from handsfree.engine import state as states

Plain = dict[str, Any]
"""A line as JSON has it."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """What every line has; a line that is to be written needs none of it."""

    kind: ClassVar[str]
    """What stands under ``what``."""
    synced: ClassVar[bool] = True
    """Whether it has to be on disk before the session goes on."""

    n: int = 0
    """From 1; what an event led to has the event's own number."""
    at: str = ""
    """Wall clock with offset."""
    t: float = 0.0
    """Seconds, monotonic within one process."""
    who: str = ""
    """Whose it is, of two operators."""

    @property
    def what(self) -> str:
        """Its kind, also where this version does not know that."""
        return self.kind

    def led_to(self) -> tuple[Line, ...]:
        """What the line led to, with its number and times."""
        return tuple(replace(one, n=self.n, at=self.at, t=self.t)
                     for one in getattr(self, "then", None) or ())


@dataclass(frozen=True)
class Unknown(Line):
    """Of a kind that this version does not know."""

    kind = ""
    named: str
    fields: Mapping[str, Any] = field(default_factory=dict)

    @property
    def what(self) -> str:
        """See `Line.what`."""
        return self.named


class Planned(NamedTuple):
    """A step of the plan: minutes least, likely and most; whether it applied at the beginning."""

    step: str
    least: float
    likely: float
    most: float
    applies: bool = True


class Amount(NamedTuple):
    """A number, as it was said, in a unit."""

    value: Fraction
    unit: str


# --- the session ---------------------------------------------------------------------------------

@dataclass(frozen=True)
class Begun(Line):
    """The first line of a session: what it began from."""

    kind = "begun"
    order: ClassVar[tuple[str, ...]] = ()
    """The order in which the keys are written, where it is not that of the fields."""

    checklist: str
    title: str
    digest: str
    language: str
    record: frozenset[str]
    """What was true of the rig."""
    plan: tuple[Planned, ...]
    then: tuple[Line, ...] | None = None
    operators: tuple[str, ...] | None = None
    """Both sides, of two."""
    session: str | None = None
    clock: str | None = None
    rig: str | None = None
    known: frozenset[str] | None = None
    settled: frozenset[str] | None = None
    traits: frozenset[str] | None = None
    place: str | None = None
    engine: str | None = None
    program: str | None = None
    rehearsal: bool | None = None
    operator: Mapping[str, str] | None = None
    """Pseudonyms by side, '' for one alone."""
    asked: frozenset[str] | None = None
    faults: tuple[str, ...] | None = None


@dataclass(frozen=True)
class BegunAside(Begun):
    """The first line of a session without a walk: what was settled, a correction, a note."""

    order = ("session", "checklist", "title", "digest", "rig", "place", "language", "record",
             "known", "settled", "traits", "plan", "program", "engine", "clock", "rehearsal",
             "asked", "faults", "then")


@dataclass(frozen=True)
class Restarted(Line):
    """Gone on with in another process; `damaged` are the lines that could not be used."""

    kind = "restarted"
    clock: str
    damaged: tuple[int, ...]


@dataclass(frozen=True)
class Event(Line):
    """Something happened at `step`; what it led to stands in the same line.

    `event` is None where it, or the reading that was said with it, is not understood here.
    """

    kind = "event"
    event: states.Event | None
    step: str
    reading: Amount | None = None
    then: tuple[Line, ...] = ()
    together: bool | None = None
    """It was reported together with others, after the work: the time of its step is not its own."""


@dataclass(frozen=True)
class Operator(Line):
    """Who works from now on, by their pseudonym."""

    kind = "operator"
    name: str


# --- what an event led to ------------------------------------------------------------------------

@dataclass(frozen=True)
class Offered(Line):
    """A step was read out; `again` says why, where it was not the first time."""

    kind = "offered"
    step: str
    again: str


@dataclass(frozen=True)
class Reported(Line):
    """A step's outcome: report, yes, no, give up, take back or resolve."""

    kind = "reported"
    step: str
    of: str = field(metadata={"key": "kind"})


@dataclass(frozen=True)
class Changed(Line):
    """Facts that became true and false."""

    kind = "changed"
    on: frozenset[str]
    off: frozenset[str]


@dataclass(frozen=True)
class Skipped(Line):
    """A step was left for later."""

    kind = "skipped"
    step: str


@dataclass(frozen=True)
class Failed(Line):
    """A reading or a test was not good, for the time that `tries` says."""

    kind = "failed"
    step: str
    band: str
    tries: int | None = field(default=None, metadata={"key": "try"})


@dataclass(frozen=True)
class Refused(Line):
    """An order that would hurt somebody, and what was missing for it."""

    kind = "refused"
    step: str
    rule: str
    missing: tuple[str, ...]
    backstop: bool


@dataclass(frozen=True)
class Alarm(Line):
    """A never rule is broken."""

    kind = "alarm"
    rule: str


@dataclass(frozen=True)
class Reading(Line):
    """A value that was confirmed, in the unit in which it was said."""

    kind = "reading"
    step: str
    unit: str
    value: float
    band: str


@dataclass(frozen=True)
class WorkedOut(Line):
    """What was told of a sum, and the numbers from which it was put into words.

    It stands in another line's `then` only: by itself its `sum` would be taken for the line's own.
    """

    kind = "worked out"
    step: str
    sum: str
    say: str
    verdict: str
    values: Mapping[str, str | float]


@dataclass(frozen=True)
class Waits(Line):
    """The wait of a step begins."""

    kind = "waits"
    step: str


@dataclass(frozen=True)
class Due(Line):
    """The wait of a step is over."""

    kind = "due"
    step: str


@dataclass(frozen=True)
class Waiting(Line):
    """Nothing is left to do before one of these is due."""

    kind = "waiting"
    steps: tuple[str, ...]


@dataclass(frozen=True)
class Paused(Line):
    """A break."""

    kind = "paused"


@dataclass(frozen=True)
class Suspended(Line):
    """Finished for now."""

    kind = "suspended"


@dataclass(frozen=True)
class Resumed(Line):
    """Gone on with after a break, as earlier versions wrote it."""

    kind = "resumed"


@dataclass(frozen=True)
class Closed(Line):
    """The end; steps that were left open."""

    kind = "closed"
    open: tuple[str, ...]


# --- what was said and heard ---------------------------------------------------------------------

@dataclass(frozen=True)
class Heard(Line):
    """An utterance, from `begin` to `end`; why it was not understood, if it was not."""

    kind = "heard"
    synced = False
    text: str
    confidence: float
    verdict: str
    reason: str | None = None
    best: str | None = None
    written: str | None = None
    begin: float = field(kw_only=True, metadata={"key": "from"})
    end: float = field(kw_only=True, metadata={"key": "to"})


@dataclass(frozen=True)
class Spoke(Line):
    """A prompt, from `begin` to `end`."""

    kind = "spoke"
    synced = False
    key: str
    step: str
    text: str
    seconds: float
    begin: float = field(metadata={"key": "from"})
    end: float = field(metadata={"key": "to"})


@dataclass(frozen=True)
class Audio(Line):
    """The sound of the utterance whose line follows was kept in this file."""

    kind = "audio"
    synced = False
    file: str


@dataclass(frozen=True)
class Note(Line):
    """A note on a step; name of its sound file, or its words, or both."""

    kind = "note"
    step: str
    audio: str
    text: str


@dataclass(frozen=True)
class Reminder(Line):
    """One was asked for, in so many minutes (a fraction, as text)."""

    kind = "reminder"
    minutes: str
    step: str


@dataclass(frozen=True)
class Reminded(Line):
    """It was spoken."""

    kind = "reminded"
    minutes: str
    step: str


@dataclass(frozen=True)
class Manner(Line):
    """How to speak from now on."""

    kind = "manner"
    synced = False
    rate: int
    louder: float
    form: str
    by_heart: bool | None = None


# --- what did not work ---------------------------------------------------------------------------

@dataclass(frozen=True)
class Noise(Line):
    """The surroundings have changed; levels in dBFS."""

    kind = "noise"
    synced = False
    state: str
    floor: float
    voice: float


@dataclass(frozen=True)
class Overflow(Line):
    """Sound was lost."""

    kind = "overflow"
    synced = False


@dataclass(frozen=True)
class Trouble(Line):
    """A part has failed, or works again."""

    kind = "trouble"
    synced = False
    part: str
    over: bool
    why: str


@dataclass(frozen=True)
class Mistake(Line):
    """The program's own, which it went on from."""

    kind = "mistake"
    trace: str


KINDS: Mapping[str, type[Line]] = {
    cls.kind: cls for cls in Line.__subclasses__() if cls is not Unknown}
"""Every kind of line, by what stands under ``what``."""


# --- JSON ----------------------------------------------------------------------------------------

class _Key(NamedTuple):
    """A field of a line, and its key."""

    name: str
    key: str
    type: str
    optional: bool


def _keys(cls: type[Line]) -> tuple[_Key, ...]:
    common = {one.name for one in dataclasses.fields(Line)}
    found = {one.name: _Key(one.name, one.metadata.get("key", one.name), str(one.type),
                            one.default is None)
             for one in dataclasses.fields(cls) if one.name not in common}
    order = getattr(cls, "order", ()) or tuple(found)
    return tuple(found[name] for name in order)


_KEYS = {cls: _keys(cls) for cls in (*KINDS.values(), BegunAside)}


def to_plain(line: Line) -> Plain:
    """The line's kind and own keys, in the order in which they are written."""
    data: Plain = {"what": line.what}
    if isinstance(line, Unknown):
        data |= line.fields
    else:
        for name, key, _, optional in _KEYS[type(line)]:
            value = getattr(line, name)
            if not (optional and value is None):
                data[key] = _plain(value)
    if line.who:
        data["who"] = line.who
    return data


def _plain(value: object) -> object:
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, Amount):
        return {"value": str(value.value), "unit": value.unit}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, Line):
        return to_plain(value)
    if isinstance(value, states.Event):
        return event_to_json(value)
    return value


def from_plain(data: Mapping[str, Any]) -> Line:
    """The line that JSON tells of; `data` has a text under ``what``."""
    about: Plain = {"n": _whole(data.get("n")) or 0, "at": _text(data.get("at")) or "",
                    "t": _number(data.get("t")) or 0.0, "who": _text(data.get("who")) or ""}
    cls = KINDS.get(data["what"])
    if cls is None:
        own = {key: value for key, value in data.items() if key not in (*about, "what")}
        return Unknown(data["what"], own, **about)
    for name, key, kind, optional in _KEYS[cls]:
        value = _READ[kind](data.get(key))
        about[name] = value if optional or value is not None else _MISSING[kind]
    if cls is Event and data.get("reading") and about["reading"] is None:
        about["event"] = None  # said with a value that is not understood
    return cls(**about)


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None


def _number(value: object) -> float | None:
    return value if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def _whole(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def _flag(value: object) -> bool | None:
    return value if isinstance(value, bool) else None


def _names(value: object) -> frozenset[str] | None:
    return frozenset(map(str, value)) if isinstance(value, list) else None


def _list(value: object) -> tuple[str, ...] | None:
    return tuple(map(str, value)) if isinstance(value, list) else None


def _numbers(value: object) -> tuple[int, ...] | None:
    return tuple(one for one in value if _whole(one) is not None) if (
        isinstance(value, list)) else None


def _mapping(value: object) -> Mapping[str, Any] | None:
    return value if isinstance(value, Mapping) else None


def _plan(value: object) -> tuple[Planned, ...] | None:
    return tuple(Planned(*row[:5]) for row in value if isinstance(row, list) and len(row) > 3) if (
        isinstance(value, list)) else None


def _lines(value: object) -> tuple[Line, ...] | None:
    return tuple(from_plain(one) for one in value if is_line(one)) if (
        isinstance(value, list)) else None


def _event(value: object) -> states.Event | None:
    if not isinstance(value, Mapping):
        return None
    try:
        return event_from_json(value)
    except (ValueError, TypeError):
        return None


def _amount(value: object) -> Amount | None:
    if not isinstance(value, Mapping):
        return None
    try:
        return Amount(Fraction(value["value"]), str(value["unit"]))
    except (KeyError, ValueError, TypeError, ZeroDivisionError):
        return None


_READ: Mapping[str, Callable[[object], Any]] = {
    "str": _text, "float": _number, "int": _whole, "bool": _flag, "frozenset[str]": _names,
    "tuple[str, ...]": _list, "tuple[int, ...]": _numbers, "tuple[Planned, ...]": _plan,
    "tuple[Line, ...]": _lines, "Mapping[str, str | float]": _mapping,
    "states.Event | None": _event}
_READ = {**_READ, **{f"{kind} | None": read for kind, read in _READ.items()},
         "Mapping[str, str] | None": _mapping, "Amount | None": _amount}
_MISSING: Mapping[str, Any] = {
    "str": "", "float": math.nan, "int": 0, "bool": False, "frozenset[str]": frozenset(),
    "tuple[str, ...]": (), "tuple[int, ...]": (), "tuple[Planned, ...]": (),
    "tuple[Line, ...]": (), "Mapping[str, str | float]": {}, "states.Event | None": None}
"""What a key counts as that is missing, or cannot be what it is."""


def is_line(value: object) -> bool:
    """Whether it is a line at all, of whatever kind."""
    return isinstance(value, dict) and isinstance(value.get("what"), str)


def names(value: object) -> frozenset[str]:
    """Facts as they stand in a line; nothing for anything else."""
    return _names(value) or frozenset()


def consequences(data: Plain) -> Iterator[Plain]:
    """What a line led to, as lines with its number and times; in JSON, as `Line.led_to`."""
    then = data.get("then", [])
    for one in then if isinstance(then, list) else []:
        if is_line(one):
            yield {"n": data.get("n"), "at": data.get("at"), "t": data.get("t"), **one}


# --- events --------------------------------------------------------------------------------------

_EVENTS: dict[str, type[states.Event]] = {
    cls.__name__: cls for cls in (
        states.Done, states.Respond, states.Read, states.Answer, states.Confirm, states.Deny,
        states.Skip, states.GoTo, states.TakeBack, states.Problem, states.Pause, states.Resume,
        states.Finish, states.Correct, states.Ask, states.Unclear, states.Unsure, states.Due,
        states.Expired)
}
_TYPES: dict[str, type] = {"str": str, "bool": bool, "Event": states.Event}


def event_to_json(event: states.Event) -> Plain:
    """An event as plain data; `event_from_json` is its inverse."""
    data: Plain = {"type": type(event).__name__}
    for one in dataclasses.fields(event):
        value = getattr(event, one.name)
        data[one.name] = event_to_json(value) if isinstance(value, states.Event) else value
    return data


def event_from_json(data: Mapping[str, Any], _depth: int = 0) -> states.Event:
    """Raises `ValueError` for anything that is not an event."""
    cls = _EVENTS.get(str(data.get("type")))
    if cls is None or _depth > 2:
        raise ValueError(f"unknown event {data.get('type')!r}")
    values: Plain = {}
    for one in dataclasses.fields(cls):
        if one.name not in data and one.default is not MISSING:
            continue
        value = data.get(one.name)
        if isinstance(value, Mapping):
            value = event_from_json(value, _depth + 1)
        if not isinstance(value, _TYPES[str(one.type)]):
            raise ValueError(f"{cls.__name__} cannot have {one.name} {value!r}")
        values[one.name] = value
    return cls(**values)
