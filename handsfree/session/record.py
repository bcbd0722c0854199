"""The rig's record: what is true of a rig now, carried across checklists and days.

May import journal, the checklist model, filelock, errors.  Nothing is stored twice: each session's
first line holds the facts that it began with, and replaying its changes gives what it left.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from handsfree.checklist.model import Checklist, Origin
from handsfree.checklist.rig_file import Rig
from handsfree.errors import InputError, StorageError
from handsfree.session import journal

_NAME = re.compile(r"(\d{6,})-[a-z0-9-]+\.jsonl")


@dataclass(frozen=True)
class SessionFile:
    """One session on disk, summed up from its lines."""

    path: Path
    number: int
    session: str
    checklist: str
    began: str
    facts: frozenset[str]
    """What was true after its last line."""
    known: frozenset[str]
    """Every fact that anything on record has ever spoken of, true or false."""
    ended: bool
    """Closed; one that is not can be resumed."""
    rehearsal: bool
    damaged: tuple[int, ...] = ()
    headless: bool = False
    """Its first line cannot be read, so it stands on the session before it."""


@dataclass(frozen=True)
class Record:
    """What is true of a rig now, and every fact that the record has a value for."""

    facts: frozenset[str]
    known: frozenset[str]


def rig_folder(data: Path, rig: str) -> Path:
    """Where a rig's sessions lie; the name is made safe for a folder."""
    safe = re.sub(r"[^a-z0-9]+", "-", rig.lower()).strip("-") or "rig"
    return data / "rigs" / safe


def session_paths(folder: Path) -> list[Path]:
    """Journals of a rig, oldest first by their running number, since clocks may lie."""
    found = [path for path in (folder / "sessions").glob("*.jsonl") if _NAME.fullmatch(path.name)]
    return sorted(found, key=lambda path: int(path.name.split("-")[0]))


def next_path(folder: Path, checklist: str) -> Path:
    """The path for a new session's journal."""
    paths = session_paths(folder)
    number = int(paths[-1].name.split("-")[0]) + 1 if paths else 1
    safe = re.sub(r"[^a-z0-9]+", "-", checklist.lower()).strip("-") or "checklist"
    return folder / "sessions" / f"{number:06d}-{safe}.jsonl"


def summary(path: Path, before: SessionFile | None = None) -> SessionFile | None:
    """What a journal comes to; None if it has not even a first line.

    A journal whose first line cannot be read goes on from `before`, the session before it; such a
    session cannot be resumed.
    """
    found = journal.read(path)
    first = next((line for line in found.lines if line["what"] == "begun"), None)
    changed = [line for line in found.lines if line["what"] == "changed"]
    if first is None and not (found.damaged and changed):
        return None
    facts = journal.names(first.get("record")) if first else before.facts if before else frozenset()
    known = journal.names(first.get("known")) if first else before.known if before else frozenset()
    for line in changed:
        on, off = journal.names(line.get("on")), journal.names(line.get("off"))
        facts, known = facts - off | on, known | on | off
    about = first or {}
    return SessionFile(
        path=path, number=int(path.name.split("-")[0]), session=str(about.get("session", "")),
        checklist=str(about.get("checklist", "")), began=str(about.get("at", "")), facts=facts,
        known=known | facts, rehearsal=bool(about.get("rehearsal")), damaged=found.damaged,
        headless=first is None,
        ended=first is None or _ended(found.lines))


def _ended(lines: tuple[journal.Line, ...]) -> bool:
    """Closed, and not opened again by taking something back."""
    last = [line["what"] for line in lines if line["what"] in ("closed", "offered", "alarm")]
    return bool(last) and last[-1] == "closed"


def latest(folder: Path) -> SessionFile | None:
    """The newest session that has left something on record."""
    headless: list[Path] = []
    base: SessionFile | None = None
    for path in reversed(session_paths(folder)):
        base = summary(path)
        if base and not base.headless:
            break
        if base:
            headless.append(path)
    if base and base.headless:
        base = None
    for path in reversed(headless):
        base = summary(path, base)
    return base


def record_for(checklist: Checklist, rig: Rig | None, last: SessionFile | None) -> Record:
    """What a session of this checklist begins from.

    The last session's facts, the start values of facts that are new to the record, and the
    traits that the rig file gives now.
    """
    known = last.known if last else frozenset()
    facts = set(last.facts) if last else set()
    for fact in checklist.facts.values():
        if fact.origin is Origin.TRAIT:
            facts.discard(fact.name)
        elif fact.start and fact.name not in known:
            facts.add(fact.name)
    if rig:
        facts |= rig.has
    return Record(frozenset(facts), known | frozenset(checklist.facts))


@contextmanager
def lock(folder: Path) -> Iterator[None]:
    """Only one process at a time may change a rig's record; a crash leaves no lock behind.

    Raises:
        StorageError: another process has it.
        InputError: the folder cannot be written.
    """
    guard = FileLock(folder / "in-use", mode=0o600)
    try:
        journal.private_folder(folder)
        guard.acquire(timeout=0)
    except Timeout:
        raise StorageError(
            f"another session is running for this rig ({folder.name});"
            " end it, or wait until it is finished.") from None
    except OSError as problem:
        raise InputError(
            f"the data folder {folder} cannot be written ({problem.strerror});"
            " check its permissions or name another with HANDSFREE_DATA.") from None
    try:
        yield
    finally:
        guard.release()
