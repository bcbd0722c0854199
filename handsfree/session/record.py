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


def summary(path: Path) -> SessionFile | None:
    """What a journal comes to; None if it has not even a first line."""
    found = journal.read(path)
    first = next((line for line in found.lines if line["what"] == "begun"), None)
    if first is None:
        return None
    facts = frozenset(map(str, first.get("record", [])))
    ended = False
    for line in found.lines:
        if line["what"] == "changed":
            facts = (facts - frozenset(line.get("off", []))) | frozenset(line.get("on", []))
        ended = ended or line["what"] == "closed"
    return SessionFile(
        path=path, number=int(path.name.split("-")[0]), session=str(first.get("session", "")),
        checklist=str(first.get("checklist", "")), began=str(first.get("at", "")), facts=facts,
        known=frozenset(map(str, first.get("known", []))) | facts,
        ended=ended, rehearsal=bool(first.get("rehearsal")), damaged=found.damaged)


def latest(folder: Path) -> SessionFile | None:
    """The newest session that has a first line."""
    for path in reversed(session_paths(folder)):
        found = summary(path)
        if found:
            return found
    return None


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
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
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
