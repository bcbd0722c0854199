"""Sessions as an event log in XES, IEEE 1849-2023 (its XML is that of the 2016 edition).

May import history, records, timings, writing, errors and xml.sax.  A trace is a session, an event a
transition of the standard lifecycle:

    start        the step becomes the step at hand
    suspend      a pause begins, the operator goes to another step, or its remedy comes first
    resume       the end of that
    complete     it was reported
    manualskip   it was skipped on purpose, or left open at the end
    ate_abort    its remedy gave up
    pi_abort     the checklist was closed with it under way

A step that is taken up again after its end is a new instance, told apart by `concept:instance`.
"""

from __future__ import annotations

import contextlib
import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from xml.sax.saxutils import XMLGenerator
from xml.sax.xmlreader import AttributesImpl

from handsfree.errors import HandsfreeError
from handsfree.review.columns import Columns
from handsfree.review.history import History
from handsfree.review.records import Outcome, SessionRecord, Visit
from handsfree.review.whole_file import whole_file

_EXTENSIONS = (("Concept", "concept", "http://www.xes-standard.org/concept.xesext"),
               ("Time", "time", "http://www.xes-standard.org/time.xesext"),
               ("Lifecycle", "lifecycle", "http://www.xes-standard.org/lifecycle.xesext"),
               ("Organizational", "org", "http://www.xes-standard.org/org.xesext"))
_ENDS = {"done": "complete", "skipped": "manualskip", "gave up": "ate_abort"}


@dataclass(frozen=True)
class Transition:
    """One event of the log; `at` is running time."""

    step: str
    instance: int
    transition: str
    at: float
    who: str = ""
    """Of two operators, whose it was."""


def transitions(session: SessionRecord) -> tuple[Transition, ...]:
    """The lifecycle of every step of a session, in order of time."""
    found: list[Transition] = []
    count: dict[str, int] = {}
    last: dict[tuple[str, str], int] = {}
    """Step and operator -> the instance that is still open."""

    for visit in session.visits:
        mine = (visit.step, visit.who)
        begins = "resume" if mine in last else "start"
        if mine not in last:
            last[mine] = count[visit.step] = count.get(visit.step, 0) + 1

        def add(transition: str, at: float, visit: Visit = visit, one: int = last[mine]) -> None:
            found.append(Transition(visit.step, one, transition, at, visit.who))

        add(begins, visit.begin)
        for begin, end, who in session.pauses:
            if who == visit.who and visit.begin <= begin < end <= visit.end:
                add("suspend", begin)
                add("resume", end)
        add(_ENDS.get(visit.how, "suspend"), visit.end)
        if visit.how in _ENDS:
            del last[mine]
    if session.closed:
        end = max((t.at for t in found), default=0.0)
        for step in session.steps:
            if step.outcome is not Outcome.LEFT:
                continue
            still = [(who, one) for (name, who), one in last.items() if name == step.step]
            found += [Transition(step.step, one, "pi_abort", end, who) for who, one in still]
            if not still and step.step not in count:
                found.append(Transition(step.step, 1, "manualskip", end))
    return tuple(sorted(found, key=lambda t: t.at))


def write_xes(
    history: History, path: Path, *, replace: bool = False, nameless: Columns | None = None
) -> int:
    """Write all sessions as one log; the number of events.

    Args:
        nameless: the history's columns without names, to take those from.

    Raises:
        InputError: there is such a file and not `replace`.
        StorageError: the file cannot be written.
    """
    count = 0
    with (whole_file(path, replace=replace) as part, open(part, "w", encoding="utf-8") as file):
        out = XMLGenerator(file, "utf-8", short_empty_elements=True)
        out.startDocument()
        with _element(out, "log", {"xes.version": "1849.2023"}):
            _head(out)
            for row in range(len(history)):
                try:
                    session = history.session(row)
                except HandsfreeError:
                    continue  # gone since it was counted
                if nameless:
                    session = _without_names(session, nameless.session(row))
                count += _trace(out, session)
        out.endDocument()
    return count


def _without_names(session: SessionRecord, nameless: SessionRecord) -> SessionRecord:
    return dataclasses.replace(
        session, session=nameless.session, operator=nameless.operator, rig="", place="",
        title="", digest="", path="", marks=())


def _head(out: XMLGenerator) -> None:
    """Extensions, globals, classifiers, attributes: in the order that the schema asks for."""
    for name, prefix, uri in _EXTENSIONS:
        _leaf(out, "extension", {"name": name, "prefix": prefix, "uri": uri})
    with _element(out, "global", {"scope": "trace"}):
        _leaf(out, "string", {"key": "concept:name", "value": "unknown"})
    with _element(out, "global", {"scope": "event"}):
        _leaf(out, "string", {"key": "concept:name", "value": "unknown"})
        _leaf(out, "string", {"key": "concept:instance", "value": "1"})
        _leaf(out, "string", {"key": "lifecycle:transition", "value": "unknown"})
        _leaf(out, "string", {"key": "org:resource", "value": "operator"})
        _leaf(out, "date", {"key": "time:timestamp", "value": "1970-01-01T00:00:00.000+00:00"})
    _leaf(out, "classifier", {"name": "step", "scope": "event", "keys": "concept:name"})
    _leaf(out, "classifier", {"name": "transition", "scope": "event",
                              "keys": "concept:name lifecycle:transition"})
    _leaf(out, "string", {"key": "concept:name", "value": "sessions"})
    _leaf(out, "string", {"key": "lifecycle:model", "value": "standard"})


def _trace(out: XMLGenerator, session: SessionRecord) -> int:
    events = transitions(session)
    texts = {"concept:name": session.session or session.path, "checklist": session.checklist,
             "title": session.title, "operator": session.operator, "rig": session.rig,
             "place": session.place,
             "digest": session.digest}
    with _element(out, "trace", {}):
        for key, value in texts.items():
            _leaf(out, "string", {"key": key, "value": value})
        for key, flag in (("closed", session.closed), ("rehearsal", session.rehearsal)):
            _leaf(out, "boolean", {"key": key, "value": "true" if flag else "false"})
        _leaf(out, "int", {"key": "restarts", "value": str(session.restarts)})
        for event in events:
            # from the first line's wall clock on by running time: a clock that was set in
            # between cannot put events out of order
            at = session.began + timedelta(seconds=event.at)
            with _element(out, "event", {}):
                _leaf(out, "string", {"key": "concept:name", "value": event.step})
                _leaf(out, "string", {"key": "concept:instance", "value": str(event.instance)})
                _leaf(out, "string", {"key": "lifecycle:transition", "value": event.transition})
                _leaf(out, "string", {"key": "org:resource",
                                      "value": _resource(session, event.who)})
                _leaf(out, "date", {"key": "time:timestamp",
                                    "value": at.isoformat("T", "milliseconds")})
    return len(events)


def _resource(session: SessionRecord, who: str) -> str:
    """Who did it: the pseudonym that was given, of two the side; never a real name."""
    return who or session.operator or "operator"


@contextlib.contextmanager
def _element(out: XMLGenerator, name: str, attributes: dict[str, str]) -> Iterator[None]:
    out.startElement(name, AttributesImpl(attributes))
    out.characters("\n")
    yield
    out.endElement(name)
    out.characters("\n")


def _leaf(out: XMLGenerator, name: str, attributes: dict[str, str]) -> None:
    out.startElement(name, AttributesImpl(attributes))
    out.endElement(name)
    out.characters("\n")
