"""The journal: one JSON object a line, appended and on disk before the next prompt.

May import stdlib, errors, engine state.  Events are stored, not states: `events` gives back what
replaying needs.  Every line has ``n`` (from 1), ``at`` (wall clock with offset), ``t`` (seconds,
monotonic within one process) and ``what``.  What an event led to stands in the event's own line,
under ``then``, so that no crash can part them; `read` gives those as lines of their own.  A line
ends with ``sum``, the CRC-32 of what stands before it, so that a flipped bit is not believed;
a file in which no line has one is taken as it is.
"""

from __future__ import annotations

import dataclasses
import errno
import json
import os
import re
import shutil
import zlib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from handsfree.engine import state as states
from handsfree.engine.state import Event
from handsfree.errors import InputError, StorageError

Line = dict[str, Any]

MOST_UNSYNCED = 200
"""So many lines may wait for the next sync; then one is made, whatever the line."""

_EVENTS: dict[str, type[Event]] = {
    cls.__name__: cls for cls in (
        states.Done, states.Respond, states.Read, states.Answer, states.Confirm, states.Deny,
        states.Skip, states.GoTo, states.TakeBack, states.Problem, states.Pause, states.Resume,
        states.Finish, states.Correct, states.Ask, states.Unclear, states.Unsure, states.Due,
        states.Expired)
}
_TYPES: dict[str, type] = {"str": str, "bool": bool, "Event": Event}
_APPEND = os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0)
_SUM = re.compile(rb', "sum": "([0-9a-f]{8})"\}$')


def event_to_json(event: Event) -> dict[str, Any]:
    """An event as plain data; `event_from_json` is its inverse."""
    data: dict[str, Any] = {"type": type(event).__name__}
    for field in dataclasses.fields(event):
        value = getattr(event, field.name)
        data[field.name] = event_to_json(value) if isinstance(value, Event) else value
    return data


def event_from_json(data: Mapping[str, Any], _depth: int = 0) -> Event:
    """Raises `ValueError` for anything that is not an event."""
    cls = _EVENTS.get(str(data.get("type")))
    if cls is None or _depth > 2:
        raise ValueError(f"unknown event {data.get('type')!r}")
    values: dict[str, Any] = {}
    for field in dataclasses.fields(cls):
        if field.name not in data and field.default is not dataclasses.MISSING:
            continue
        value = data.get(field.name)
        if isinstance(value, Mapping):
            value = event_from_json(value, _depth + 1)
        if not isinstance(value, _TYPES[str(field.type)]):
            raise ValueError(f"{cls.__name__} cannot have {field.name} {value!r}")
        values[field.name] = value
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
    summed = any(_SUM.search(piece) for piece in complete)
    for number, piece in enumerate(complete, start=1):
        line = _line(piece, summed)
        if line is None:
            damaged.append(number)
        else:
            lines.append(line)
            lines.extend(_consequences(line))
    torn = rest.decode("utf-8", "replace")
    if damaged and damaged[-1] == len(complete) and not rest:
        torn = complete[-1].decode("utf-8", "replace")
        damaged.pop()
    return Read(tuple(lines), torn, tuple(damaged))


def _line(piece: bytes, summed: bool) -> Line | None:
    found = _SUM.search(piece)
    if summed and not (found and int(found[1], 16) == zlib.crc32(piece[:found.start()])):
        return None
    try:
        line = json.loads(piece)
    except (ValueError, RecursionError):
        return None
    if not isinstance(line, dict) or not isinstance(line.get("what"), str):
        return None
    line.pop("sum", None)
    return line


def _consequences(line: Line) -> Iterator[Line]:
    then = line.get("then", [])
    for one in then if isinstance(then, list) else []:
        if isinstance(one, dict) and isinstance(one.get("what"), str):
            yield {**{key: line.get(key) for key in ("n", "at", "t")}, **one}


def names(value: object) -> frozenset[str]:
    """Facts as they stand in a line; nothing for anything else."""
    return frozenset(map(str, value)) if isinstance(value, list) else frozenset()


def events(lines: Iterator[Line] | tuple[Line, ...]) -> Iterator[Event]:
    """The engine's events in order."""
    for line in lines:
        if line["what"] == "event" and isinstance(line.get("event"), Mapping):
            try:
                yield event_from_json(line["event"])
            except (ValueError, TypeError):
                continue


class Journal:
    """An open journal; what was written is on disk when `write` returns.

    A line that cannot be written is not lost: it waits in memory, and the next `write` or
    `catch_up` that works brings all that waits to disk, in order, each once.
    """

    def __init__(self, path: Path) -> None:
        """Open for appending; a torn last line is moved aside first, a damaged file copied.

        Raises:
            InputError: the folder or file cannot be written.
        """
        self.path = path
        self.set_aside = ""
        """The torn last line that was moved to the file ending in .torn."""
        self.damaged: tuple[int, ...] = ()
        """Lines that cannot be read; the file as it was is kept, ending in .damaged."""
        self._unsafe: list[bytes] = []  # not known to be on disk
        self._written = 0  # how many of those the file has taken, as far as it says
        try:
            private_folder(path.parent)
            self._count = self._mend() if path.exists() else 0
            self._file = os.open(path, _APPEND | os.O_CREAT, 0o600)
            self._safe = os.fstat(self._file).st_size
            _sync_folder(path.parent)
        except OSError as problem:
            raise InputError(
                f"the journal {path} cannot be written ({problem.strerror});"
                " free space or name another folder with HANDSFREE_DATA.") from None

    @property
    def waiting(self) -> int:
        """How many lines are in memory only."""
        return len(self._unsafe) - self._written

    def _mend(self) -> int:
        """Cut a torn last line off, keeping it beside; the highest number that remains."""
        found = read(self.path)
        self.damaged = found.damaged
        if found.damaged:
            kept = self.path.with_suffix(".damaged")
            if not kept.exists():
                part = kept.with_suffix(".damaged-part")
                shutil.copyfile(self.path, part)
                part.chmod(0o600)
                part.replace(kept)
        if found.torn:
            self.set_aside = found.torn
            raw = self.path.read_bytes()
            keep = raw[:raw.rstrip(b"\n").rfind(b"\n") + 1]
            aside = os.open(self.path.with_suffix(".torn"), _APPEND | os.O_CREAT, 0o600)
            try:
                _put(aside, raw[len(keep):].rstrip(b"\n") + b"\n")
                os.fsync(aside)
            finally:
                os.close(aside)
            os.truncate(self.path, len(keep))
        return max((n for line in found.lines if isinstance(n := line.get("n"), int)), default=0)

    def write(self, what: str, t: float, *, sync: bool = True, **values: Any) -> None:
        """Append one line and, unless `sync` is false, wait until it is on disk.

        Raises:
            StorageError: the disk is full or gone; the line waits in memory.
        """
        self._count += 1
        line = {"n": self._count, "at": datetime.now().astimezone().isoformat("T", "milliseconds"),
                "t": round(t, 3), "what": what, **values}
        body = json.dumps(line, ensure_ascii=False).encode("utf-8", "replace")[:-1]
        self._unsafe.append(body + b', "sum": "%08x"}\n' % zlib.crc32(body))
        self.catch_up(sync=sync or len(self._unsafe) >= MOST_UNSYNCED)

    def catch_up(self, *, sync: bool = True) -> None:
        """Bring what waits in memory to the file and, unless `sync` is false, to the disk.

        Raises:
            StorageError: it cannot be; everything waits for the next time.
        """
        try:
            if self._file < 0:
                self._reopen()
            if self.waiting:
                _put(self._file, b"".join(self._unsafe[self._written:]))
                self._written = len(self._unsafe)
            if sync and self._unsafe:
                os.fsync(self._file)
                self._safe += sum(map(len, self._unsafe))
                self._unsafe, self._written = [], 0
        except OSError as problem:
            self._drop()
            raise StorageError(
                f"the journal {self.path} cannot be written ({problem.strerror});"
                " free space, then resume.", why=_WHY.get(problem.errno or 0, "gone")) from None

    def _reopen(self) -> None:
        """After a failure nothing beyond the last sync is trusted: cut it off, it is in memory."""
        file = os.open(self.path, _APPEND)  # a file that is gone is not made anew
        try:
            if os.fstat(file).st_size < self._safe:
                raise OSError(errno.ESTALE, "it is shorter than it was")
            os.ftruncate(file, self._safe)
        except OSError:
            os.close(file)
            raise
        self._file = file

    def _drop(self) -> None:
        if self._file >= 0:
            with suppress(OSError):
                if self._unsafe:  # shortening works on a full disk, too
                    os.ftruncate(self._file, self._safe)
            with suppress(OSError):
                os.close(self._file)
        self._file, self._written = -1, 0

    def close(self) -> None:
        """Close the file; what was written stays.

        Raises:
            StorageError: lines are left that cannot be written.
        """
        try:
            if self._unsafe:
                self.catch_up()
        finally:
            self._drop()


    def keep_elsewhere(self, folders: Iterable[Path]) -> Path | None:
        """Leave the waiting lines in the first folder that takes them; None if none does."""
        for folder in folders:
            path = folder / f"{self.path.stem}-rest.jsonl"
            try:
                file = os.open(path, _APPEND | os.O_CREAT | os.O_EXCL, 0o600)
                try:
                    _put(file, b"".join(self._unsafe))
                    os.fsync(file)
                finally:
                    os.close(file)
            except OSError:
                continue
            return path
        return None


_WHY = {errno.ENOSPC: "no space", errno.EDQUOT: "no space", errno.EFBIG: "no space",
        errno.EROFS: "read only", errno.EACCES: "no permission", errno.EPERM: "no permission"}


def _put(file: int, raw: bytes) -> None:
    while raw:
        raw = raw[os.write(file, raw):]


def _sync_folder(folder: Path) -> None:
    """So that the file's name outlives a power loss, too."""
    if os.name == "nt":
        return  # folders cannot be opened there; the file system keeps names itself
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def private_folder(folder: Path) -> None:
    """Make a folder, and what is missing above it, for the owner's eyes only.

    Raises:
        OSError: it cannot be made.
    """
    for part in (*reversed(folder.parents), folder):
        if not part.is_dir():
            part.mkdir(mode=0o700, exist_ok=True)
