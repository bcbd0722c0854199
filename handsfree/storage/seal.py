"""The seal of a rig's record: how far its last journal reached when it was last on disk.

Standard library only.  A line that was removed at the end, or the last file, leaves no gap that
reading could find; the seal does.  It is written in place after each sync of a journal, never
before, and not synced itself: after a power loss it may be behind the journal, never ahead of it.
It has two halves that are written in turn, so that one that is torn leaves the other.
"""

from __future__ import annotations

import json
import os
import zlib
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

HALF = 512
"""Bytes of one half; a disk writes as many at once."""


@dataclass(frozen=True)
class Reach:
    """The last line that was on disk: its journal's name without ending, its number and link."""

    journal: str
    n: int
    link: str

    @property
    def number(self) -> int:
        """Which of the rig's journals it is."""
        return int(self.journal.split("-")[0])


def seal_of(folder: Path) -> Path:
    """Where a rig's seal is; `folder` is the rig's."""
    return folder / "seal"


def reach(folder: Path) -> Reach | None:
    """How far the record reached; None where the seal is missing or cannot be read."""
    try:
        raw = seal_of(folder).read_bytes()
    except OSError:
        return None
    halves = [found for at in (0, HALF) if (found := _read(raw[at:at + HALF]))]
    return max(halves, key=lambda half: (half.number, half.n), default=None)


def unused(folder: Path) -> bool:
    """Whether it is there, and nothing that was written to it has reached the disk yet."""
    try:
        raw = seal_of(folder).read_bytes()
    except OSError:
        return False
    return len(raw) == 2 * HALF and not raw.strip(b" ")


def _read(half: bytes) -> Reach | None:
    body, found, rest = half.rstrip(b" ").rpartition(b"#")
    if not found or rest != b"%08x" % zlib.crc32(body):
        return None
    try:
        journal, n, link = json.loads(body)
        reached = Reach(str(journal), int(n), str(link))
        return reached if reached.number >= 0 else None
    except (ValueError, TypeError):
        return None


class Seal:
    """A rig's seal, open for writing."""

    def __init__(self, path: Path) -> None:
        """Raises `OSError` when it cannot be made."""
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0)
        self._file = os.open(path, flags, 0o600)
        if os.fstat(self._file).st_size < 2 * HALF:
            os.write(self._file, b" " * (2 * HALF))  # its room on the disk
            os.fsync(self._file)
        self._turn = 0

    def set(self, journal: str, n: int, link: str) -> None:
        """The record reaches so far.  Where that cannot be written the seal stays behind."""
        body = json.dumps([journal, n, link]).encode()
        self._turn = HALF - self._turn
        with suppress(OSError):
            os.lseek(self._file, self._turn, os.SEEK_SET)
            os.write(self._file, (body + b"#%08x" % zlib.crc32(body)).ljust(HALF)[:HALF])

    def close(self) -> None:
        """Close the file."""
        if self._file >= 0:
            os.close(self._file)
        self._file = -1


def remove(folder: Path) -> None:
    """Forget the seal, with the whole record."""
    seal_of(folder).unlink(missing_ok=True)
