"""The journal: one JSON object a line, appended and on disk before the next prompt.

May import stdlib, errors, `lines` and `seal`.  Events are stored, not states.  What a line says,
and how it stands in JSON, is `lines`' business; here it is written, linked, checked and read.  Every
line has ``n`` (from 1), ``at`` (wall clock with offset), ``t`` (seconds, monotonic within one
process) and ``what``.  What an event led to stands in the event's own line, under ``then``, so that
no crash can part them; `read` gives those as lines of their own.

Lines are linked.  Each ends with ``before``, the `link` of the line before it (the first one's: of
the last line of the rig's journal before, or nothing), and ``sum``, the `link` of its own text up
to there.  The first says in ``journal`` which file it belongs to.  So a line that was changed,
removed, doubled, moved or brought from elsewhere is found by reading; what was cut off at the end,
by the `seal`.  Journals of earlier versions have a CRC-32 as ``sum`` and no links: of them only
changed lines and gaps in the numbers are found.  A file in which no line has a sum is taken as it
is.  None of this keeps out a person who means to forge a record.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import shutil
import zlib
from collections.abc import Collection, Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path

import orjson

from handsfree.errors import InputError, StorageError
from handsfree.storage.atomic_write import sync_folder
from handsfree.storage.lines import Line, Plain, consequences, from_plain, is_line, to_plain
from handsfree.storage.lines import names as names
from handsfree.storage.seal import Seal, seal_of

MOST_UNSYNCED = 200
"""So many lines may wait for the next sync; then one is made, whatever the line."""

_APPEND = os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0)
_SUM = re.compile(rb', "sum": "([0-9a-f]{16}|[0-9a-f]{8})"\}$')
_SUM_LENGTH = len(', "sum": "0123456789abcdef"}')
_TAIL = 40
"""Bytes at a line's end among which its sum stands."""
_OF_RECORD = re.compile(r"(\d{6,})-[a-z0-9-]+\.jsonl")


def link(raw: bytes) -> str:
    """The first 64 bits of a line's SHA-256, in hexadecimal digits."""
    return hashlib.sha256(raw).hexdigest()[:16]


def running_number(path: Path) -> int | None:
    """Which of a rig's journals it is, by its name; None for any other file."""
    found = _OF_RECORD.fullmatch(path.name)
    return int(found[1]) if found else None


@dataclass(frozen=True)
class Fault:
    """Why a journal is not believed from some line on."""

    file: str
    line: int
    """From 1; nought where it is the file as a whole."""
    what: str
    """A key of `FAULTS`."""

    def __str__(self) -> str:
        return f"{self.file}{f', line {self.line}' if self.line else ''}: {FAULTS[self.what]}"


FAULTS = {
    "changed": "cannot be read, or was changed",
    "missing": "something is missing before it",
    "doubled": "stands there a second time",
    "order": "is out of order",
    "foreign": "does not follow the line before it",
    "short": "its end is missing",
    "copied": "is a copy of another session's journal",
    "rig": "belongs to another rig",
    "gone": "is missing",
    "gone before": "does not follow the session before it",
    "no seal": "the seal is missing or cannot be read, so its end may be missing, too",
}
"""What can be wrong, and the words for it."""


@dataclass(frozen=True)
class Read:
    """What a journal file holds: its good lines, and what was wrong with the others."""

    own: tuple[Plain, ...]
    """Its lines as JSON has them, what each led to within it."""
    torn: str = ""
    """The last line, if it was cut off in the middle of being written."""
    damaged: tuple[int, ...] = ()
    """Numbers (from 1) of lines that cannot be read or do not belong where they stand."""
    faults: tuple[Fault, ...] = ()
    """All of that, and where something is missing."""
    linked: bool = False
    """Whether its lines are linked: those of earlier versions are not."""
    links: tuple[str, ...] = ()
    """`link` of each complete line, good or bad."""

    @cached_property
    def raw(self) -> tuple[Plain, ...]:
        """Its lines as JSON has them, what each led to among them."""
        return tuple(line for own in self.own for line in (own, *consequences(own)))

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """The same as `raw`, as what they are."""
        return tuple(map(from_plain, self.raw))

    def of(self, kinds: Collection[str]) -> tuple[Line, ...]:
        """The lines of these kinds alone: of a session most are of speech."""
        return tuple(from_plain(line) for line in self.raw if line["what"] in kinds)

    def copied(self, path: Path) -> tuple[Fault, ...]:
        """A fault where the first line says that it belongs to another file than `path`."""
        says = self.raw[0].get("journal", path.stem) if self.raw else path.stem
        return () if says == path.stem else (Fault(path.name, 0, "copied"),)


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
    return _in_order(complete, rest) or _line_by_line(path, raw, complete, rest)


def _in_order(complete: list[bytes], rest: bytes) -> Read | None:
    """What a linked journal holds in which every line follows the one before, as nearly all do.

    None for any other, which takes a closer look and three times as long.
    """
    sha256, loads = hashlib.sha256, orjson.loads
    lines: list[Plain] = []
    links: list[str] = []
    last: str | None = None
    try:
        for number, piece in enumerate(complete, start=1):
            end = piece[-_SUM_LENGTH:]
            hashed = sha256(piece[:-_SUM_LENGTH])
            if end != b', "sum": "%b"}' % hashed.hexdigest()[:16].encode():
                return None
            line = loads(piece)
            before = line.pop("before")
            if (before != last and (last is not None or type(before) is not str)
                    or line["n"] != number or type(line["what"]) is not str):
                return None
            del line["sum"]
            hashed.update(end)
            last = hashed.hexdigest()[:16]
            links.append(last)
            lines.append(line)
    except (ValueError, KeyError, TypeError):
        return None
    return Read(tuple(lines), rest.decode("utf-8", "replace"), linked=True,
                links=tuple(links)) if lines else None


def _line_by_line(path: Path, raw: bytes, complete: list[bytes], rest: bytes) -> Read:
    """The same of any journal, with what is wrong with it."""
    sums = [found[1] for piece in complete if (found := _SUM.search(piece, len(piece) - _TAIL))]
    linked = any(len(one) == 16 for one in sums) or b', "before": "' in raw
    follow = _Follow(path.name, linked)
    lines: list[Plain] = []
    for number, piece in enumerate(complete, start=1):
        line = _line(piece, bool(sums) or linked)
        if follow.takes(number, piece, line):
            assert line is not None
            lines.append(line)
    return Read(tuple(lines), rest.decode("utf-8", "replace"), follow.damaged,
                tuple(follow.faults), linked, tuple(follow.links))


class _Follow:
    """Looks whether each line follows the one before."""

    def __init__(self, file: str, linked: bool) -> None:
        self.faults: list[Fault] = []
        self.links: list[str] = []
        self._seen: set[str] = set()
        self._file = file
        self._linked = linked
        self._n = 0
        self._changed = 0  # so many lines just before
        self._unlinked = True  # so far

    @property
    def damaged(self) -> tuple[int, ...]:
        """Lines that are not to be used."""
        return tuple(fault.line for fault in self.faults if fault.what != "missing")

    def takes(self, number: int, piece: bytes, line: Plain | None) -> bool:
        """Take in the next line; whether it may be used."""
        what = "changed" if line is None else self._what(piece, line)
        own = link(piece)
        twice = own in self._seen
        self.links.append(own)
        self._seen.add(own)
        self._changed = self._changed + 1 if what == "changed" else 0
        if line is not None and what in ("", "missing") and isinstance(line.get("n"), int):
            self._n = line["n"]
        if what:
            self.faults.append(Fault(self._file, number, "doubled" if twice else what))
        return what in ("", "missing")

    def _what(self, piece: bytes, line: Plain) -> str:
        """What is wrong with a line that can be read; '' for nothing."""
        n, before = line.get("n"), line.pop("before", None)
        if self._linked and before is None and not self._unlinked:
            return "foreign"
        if before is not None:
            self._unlinked = False
        if isinstance(n, int) and (self._linked or self._n):
            if n > self._n + 1 + self._changed:
                return "missing"
            if n <= self._n:
                return "order"
        if before is None or not self.links or self._changed or before == self.links[-1]:
            return ""
        return "foreign"


def _line(piece: bytes, summed: bool) -> Plain | None:
    found = _SUM.search(piece, len(piece) - _TAIL)
    if summed and not (found and found[1].decode() == _sum(piece[:found.start()], len(found[1]))):
        return None
    line: Plain
    try:
        line = orjson.loads(piece)
    except ValueError:  # it takes less than Python's own reader does, such as NaN
        try:
            line = json.loads(piece)
        except (ValueError, RecursionError):
            return None
    if not is_line(line):
        return None
    line.pop("sum", None)
    return line


def _sum(body: bytes, digits: int) -> str:
    return link(body) if digits == 16 else f"{zlib.crc32(body):08x}"


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
        self._count, self._link = 0, ""  # of the last line that was written
        self._seal: Seal | None = None
        try:
            private_folder(path.parent)
            self._mend() if path.exists() else self._follow()
            self._file = os.open(path, _APPEND | os.O_CREAT, 0o600)
            self._safe = os.fstat(self._file).st_size
            sync_folder(path.parent)
            if running_number(path) is not None and path.parent.name == "sessions":
                self._seal = Seal(seal_of(path.parent.parent))
                sync_folder(path.parent.parent)
        except OSError as problem:
            raise InputError(
                f"the journal {path} cannot be written ({problem.strerror});"
                " free space or name another folder with HANDSFREE_DATA.") from None

    @property
    def waiting(self) -> int:
        """How many lines are in memory only."""
        return len(self._unsafe) - self._written

    def _follow(self) -> None:
        """Begin after the last line of the rig's journal before."""
        number = running_number(self.path)
        if number is not None:
            self._link = last_link(self.path.parent, number)

    def _mend(self) -> None:
        """Cut a torn last line off, keeping it beside, and go on after the last that remains."""
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
        self._count = max((n for line in found.raw if isinstance(n := line.get("n"), int)),
                          default=0)
        if found.links:
            self._link = found.links[-1]
        else:
            self._follow()

    def write(self, line: Line, t: float, who: str = "") -> None:
        """Append one line and, where its kind asks for that, wait until it is on disk.

        Args:
            who: the side of two operators whose it is.

        Raises:
            StorageError: the disk is full or gone; the line waits in memory.
        """
        self._count += 1
        data = to_plain(line)
        what = {"what": data.pop("what"), **({"who": who} if who else {})}
        own = {"journal": self.path.stem} if self._count == 1 else {}
        data = {"n": self._count, "at": datetime.now().astimezone().isoformat("T", "milliseconds"),
                "t": round(t, 3), **what, **data, **own, "before": self._link}
        body = json.dumps(data, ensure_ascii=False).encode("utf-8", "replace")[:-1]
        raw = body + b', "sum": "%s"}' % link(body).encode()
        self._link = link(raw)
        self._unsafe.append(raw + b"\n")
        self.catch_up(sync=line.synced or len(self._unsafe) >= MOST_UNSYNCED)

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
                if self._seal:
                    self._seal.set(self.path.stem, self._count, self._link)
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
            if self._seal:
                self._seal.close()

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


def last_link(folder: Path, number: int) -> str:
    """The link of the last complete line before the journal of this number; '' if there is none."""
    numbered = [(n, path) for path in folder.glob("*.jsonl")
                if (n := running_number(path)) is not None and n < number]
    for _, path in sorted(numbered, reverse=True):
        pieces = path.read_bytes().split(b"\n")
        if len(pieces) > 1:
            return link(pieces[-2])
    return ""


def _put(file: int, raw: bytes) -> None:
    while raw:
        raw = raw[os.write(file, raw):]


def private_folder(folder: Path) -> None:
    """Make a folder, and what is missing above it, for the owner's eyes only.

    Raises:
        OSError: it cannot be made.
    """
    for part in (*reversed(folder.parents), folder):
        if not part.is_dir():
            part.mkdir(mode=0o700, exist_ok=True)
