"""The journal: one JSON object a line, appended and on disk before the next prompt.

May import stdlib, errors, engine state.  Events are stored, not states: `events` gives back what
replaying needs.  Every line has ``n`` (from 1), ``at`` (wall clock with offset), ``t`` (seconds,
monotonic within one process) and ``what``.  What an event led to stands in the event's own line,
under ``then``, so that no crash can part them; `read` gives those as lines of their own.
"""

from __future__ import annotations

import dataclasses
import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, TextIO

from handsfree.engine import state as states
from handsfree.engine.state import Event
from handsfree.errors import InputError, StorageError

Line = dict[str, Any]

_EVENTS: dict[str, type[Event]] = {
    cls.__name__: cls for cls in (
        states.Done, states.Respond, states.Read, states.Answer, states.Confirm, states.Deny,
        states.Skip, states.GoTo, states.TakeBack, states.Problem, states.Pause, states.Resume,
        states.Finish, states.Correct, states.Ask, states.Unclear, states.Unsure)
}


def event_to_json(event: Event) -> dict[str, Any]:
    """An event as plain data; `event_from_json` is its inverse."""
    data: dict[str, Any] = {"type": type(event).__name__}
    for field in dataclasses.fields(event):
        value = getattr(event, field.name)
        data[field.name] = event_to_json(value) if isinstance(value, Event) else value
    return data


def event_from_json(data: Mapping[str, Any]) -> Event:
    """Raises `ValueError` for anything that is not an event."""
    cls = _EVENTS.get(str(data.get("type")))
    if cls is None:
        raise ValueError(f"unknown event {data.get('type')!r}")
    values = {}
    for field in dataclasses.fields(cls):
        value = data.get(field.name)
        values[field.name] = event_from_json(value) if isinstance(value, Mapping) else value
    return cls(**values)


@dataclass(frozen=True)
class Read:
    """What a journal file holds: its good lines, and what was wrong with the others."""

    lines: tuple[Line, ...]
    torn: str = ""
    """The last line, if it was cut off in the middle of being written."""
    damaged: tuple[int, ...] = ()
    """Numbers (from 1) of lines in the middle that cannot be read."""


def read(path: Path) -> Read:
    """Read a journal, tolerating a torn last line and reporting damaged ones.

    Raises:
        StorageError: the file cannot be opened.
    """
    try:
        raw = path.read_bytes()
    except OSError as problem:
        raise StorageError(
            f"the journal {path} cannot be read ({problem.strerror}); check its permissions."
        ) from None
    pieces = raw.split(b"\n")
    complete, rest = pieces[:-1], pieces[-1]
    lines: list[Line] = []
    damaged: list[int] = []
    for number, piece in enumerate(complete, start=1):
        line = _line(piece)
        if line is None:
            damaged.append(number)
        else:
            lines.append(line)
            lines.extend({**_stamp(line), **then} for then in line.get("then", []))
    torn = rest.decode("utf-8", "replace")
    if damaged and damaged[-1] == len(complete) and not rest:
        torn = complete[-1].decode("utf-8", "replace")
        damaged.pop()
    return Read(tuple(lines), torn, tuple(damaged))


def _line(piece: bytes) -> Line | None:
    try:
        line = json.loads(piece)
    except (ValueError, RecursionError):
        return None
    return line if isinstance(line, dict) and isinstance(line.get("what"), str) else None


def _stamp(line: Line) -> Line:
    return {key: line.get(key) for key in ("n", "at", "t")}


def events(lines: Iterator[Line] | tuple[Line, ...]) -> Iterator[Event]:
    """The engine's events in order."""
    for line in lines:
        if line["what"] == "event" and isinstance(line.get("event"), Mapping):
            try:
                yield event_from_json(line["event"])
            except (ValueError, TypeError):
                continue


class Journal:
    """An open journal; every `write` is on disk when it returns."""

    def __init__(self, path: Path) -> None:
        """Open for appending; a torn last line is moved aside first.

        Raises:
            InputError: the folder or file cannot be written.
        """
        self.path = path
        self.set_aside = ""
        try:
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._count = self._mend() if path.exists() else 0
            self._file: TextIO = open(  # noqa: SIM115 (kept open for the session)
                path, "a", encoding="utf-8", opener=_private)
        except OSError as problem:
            raise InputError(
                f"the journal {path} cannot be written ({problem.strerror});"
                " free space or name another folder with HANDSFREE_DATA.") from None

    def _mend(self) -> int:
        """Cut a torn last line off, keeping it beside; the number of lines that remain."""
        found = read(self.path)
        if found.torn:
            self.set_aside = found.torn
            raw = self.path.read_bytes()
            keep = raw[:raw.rstrip(b"\n").rfind(b"\n") + 1]
            aside = self.path.with_suffix(".torn")
            with open(aside, "ab", opener=_private) as file:
                file.write(raw[len(keep):].rstrip(b"\n") + b"\n")
            with open(self.path, "r+b") as file:
                file.truncate(len(keep))
                os.fsync(file.fileno())
        return max((int(line.get("n", 0)) for line in found.lines), default=0)

    def write(self, what: str, t: float, *, sync: bool = True, **values: Any) -> None:
        """Append one line and, unless `sync` is false, wait until it is on disk.

        Raises:
            StorageError: the disk is full or gone.
        """
        line = {"n": self._count + 1, "at": datetime.now().astimezone().isoformat("T", "milliseconds"),
                "t": round(t, 3), "what": what, **values}
        try:
            self._file.write(json.dumps(line, ensure_ascii=False) + "\n")
            self._file.flush()
            if sync:
                os.fsync(self._file.fileno())
        except OSError as problem:
            raise StorageError(
                f"the journal {self.path} cannot be written ({problem.strerror});"
                " free space, then resume.") from None
        self._count += 1

    def close(self) -> None:
        """Close the file; what was written stays."""
        self._file.close()


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)
