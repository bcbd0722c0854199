"""The rig's record: what is true of a rig now, carried across checklists and days.

May import journal, fold, seal, the checklist model, filelock, errors.  Nothing is stored twice: each
session's first line holds the facts that it began with, and replaying its changes gives what it
left.  A session also says which facts are *settled*: they rest on somebody's word, an answer, a
report or a correction, not on a guess.  Where the last journal is not as it was written, nothing
is settled: its facts are only a guess that has to be asked about.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from filelock import FileLock, Timeout

from handsfree.checklist.model import Checklist, Origin
from handsfree.checklist.rig_file import Rig
from handsfree.errors import InputError, StorageError
from handsfree.storage import journal, lines, seal
from handsfree.storage.atomic_write import write_atomically
from handsfree.storage.fold import OF_RECORD, Folded, fold
from handsfree.storage.journal import Fault, running_number
from handsfree.storage.lines import from_plain

_PLAIN = re.compile(r"[a-z0-9]+( [a-z0-9]+)*")


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
    """Closed, or not to be believed; one that is not can be resumed."""
    rehearsal: bool
    damaged: tuple[int, ...] = ()
    headless: bool = False
    """Its first line cannot be read, so it stands on the session before it."""
    faults: tuple[Fault, ...] = ()
    """Why the record that it left cannot be trusted."""
    settled: frozenset[str] = frozenset()
    """Facts whose value rests on somebody's word."""
    traits: frozenset[str] | None = None
    """What the rig had when that was settled; None where no journal says."""
    rig: str = ""
    linked: bool = False
    """Its lines are linked; those of earlier versions of the program are not."""
    last: str = ""
    """When its last line was written, by the clock of then."""


@dataclass(frozen=True)
class Record:
    """What is true of a rig now, and every fact that the record has a value for."""

    facts: frozenset[str]
    known: frozenset[str]


def same_name(name: str) -> str:
    """A rig's name without capitals, blanks and ways to keep accents, which make no other rig."""
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def rig_id(name: str) -> str:
    """A name for files, another one for each rig: two are alike only if `same_name` says so.

    What is not plain letters and digits is told by a point and the name's SHA-256.
    """
    same = same_name(name)
    if _PLAIN.fullmatch(same) and len(same) <= 60:
        return same.replace(" ", "-")
    return f"{_slug(same)[:40]}.{hashlib.sha256(same.encode()).hexdigest()[:12]}"


def _slug(name: str, otherwise: str = "rig") -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or otherwise


def rig_folder(data: Path, rig: str) -> Path:
    """Where a rig's sessions lie.

    Earlier versions gave several names one folder.  Such a folder stays with the rig that used it
    last; the others begin a new record.
    """
    folder, old = data / "rigs" / rig_id(rig), data / "rigs" / _slug(rig)
    if folder == old or folder.exists() or not old.is_dir() or old.is_symlink():
        return folder
    for path in reversed(session_paths(old)):
        if found := summary(path):
            return old if same_name(found.rig) == same_name(rig) else folder
    return folder


def session_paths(folder: Path) -> list[Path]:
    """Journals of a rig, oldest first by their running number, since clocks may lie."""
    found = [path for path in (folder / "sessions").glob("*.jsonl")
             if running_number(path) is not None]
    return sorted(found, key=lambda path: (running_number(path), path.name))


def next_path(folder: Path, checklist: str) -> Path:
    """The path for a new session's journal."""
    paths = session_paths(folder)
    number = int(paths[-1].name.split("-")[0]) + 1 if paths else 1
    reached = seal.reach(folder)
    number = max(number, reached.number + 1 if reached else 1)  # never one that was there
    return folder / "sessions" / f"{number:06d}-{_file_part(checklist)}.jsonl"


def _file_part(checklist: str) -> str:
    return _slug(checklist, "checklist")[:80]


def is_of(path: Path, checklist: str) -> bool:
    """Whether a journal is of this checklist: by its name and, where several lists can have one name
    there, by its first line."""
    part = _file_part(checklist)
    if path.stem.partition("-")[2] != part:
        return False
    if checklist == part and checklist != "checklist":
        return True  # nearly always, and no file has to be opened
    found = summary(path)
    return found is not None and found.checklist == checklist


def summary(path: Path, before: SessionFile | None = None) -> SessionFile | None:
    """What a journal comes to by itself; None if it has not even a first line.

    A journal whose first line cannot be read goes on from `before`, the session before it; such a
    session cannot be resumed.
    """
    found = journal.read(path)
    base = Folded(facts=before.facts, known=before.known, settled=before.settled,
                  traits=before.traits) if before else Folded()
    told = found.of(OF_RECORD)
    folded = fold(told, base)
    first = folded.begun
    if first is None and not (found.damaged and (found.linked or any(
            isinstance(line, lines.Changed) for line in told))):
        return None
    faults = (*found.copied(path), *found.faults) if first else found.faults
    unsaid = first is not None and first.settled is None and not found.linked
    return SessionFile(
        path=path, number=int(path.name.split("-")[0]),
        session=(first.session if first else "") or "", checklist=first.checklist if first else "",
        began=first.at if first else "", facts=folded.facts, known=folded.known | folded.facts,
        rehearsal=bool(first and first.rehearsal), damaged=found.damaged, headless=first is None,
        faults=faults, settled=folded.known if unsaid else folded.settled, traits=folded.traits,
        rig=(first.rig if first else "") or "", linked=found.linked,
        last=from_plain(found.raw[-1]).at if found.raw else "",
        ended=first is None or bool(faults) or folded.closed is not None)


def last_walk(folder: Path, checklist: str) -> SessionFile | None:
    """The newest session of this checklist, by whatever name its file has; None without one."""
    for path in reversed(session_paths(folder)):
        if path.name.partition("-")[2] == f"{_file_part(checklist)}.jsonl" and (
                found := summary(path)) and found.checklist == checklist:
            return found
    return None


def latest(folder: Path, rig: str = "") -> SessionFile | None:
    """The newest session that has left something on record, and whether it can be believed.

    Args:
        rig: whose it has to be; any rig's when empty.
    """
    chain: list[Path] = []
    base: SessionFile | None = None
    for path in reversed(session_paths(folder)):
        base = summary(path)
        if base:
            chain.append(path)
        if base and not base.headless and _stands_alone(base):
            break
    base = None
    for path in reversed(chain):
        whose = rig or (base.rig if base else "")
        base = _checked(summary(path, base), whose, base)
    reached = seal.reach(folder)
    if base is None:
        return _nothing(folder, reached) if reached else None
    return _unbelieved(base, _unlike_seal(folder, base, reached))


def _stands_alone(found: SessionFile) -> bool:
    """Whether it says by itself what is settled; a correction does not."""
    return found.traits is not None or not found.linked


def _checked(
    found: SessionFile | None, rig: str, before: SessionFile | None
) -> SessionFile | None:
    """The same, unbelieved where it is another rig's, or goes on from an unbelieved one."""
    if found is None:
        return before
    faults = list(found.faults)
    if rig and found.rig and same_name(found.rig) != same_name(rig):
        faults.append(Fault(found.path.name, 0, "rig"))
    if before and before.faults and not _stands_alone(found):
        said = found.settled if not faults else frozenset()
        return replace(found, faults=(*before.faults, *faults), settled=said, ended=True)
    return _unbelieved(found, faults)


def _unbelieved(found: SessionFile, faults: list[Fault]) -> SessionFile:
    """Nothing of it counts as settled any more, if there are faults."""
    if not faults and not found.faults:
        return found
    every = tuple(dict.fromkeys((*found.faults, *faults)))
    kept = found.settled if not faults and found.traits is None else frozenset()
    return replace(found, faults=every, settled=kept, ended=True)


def _unlike_seal(folder: Path, found: SessionFile, reached: seal.Reach | None) -> list[Fault]:
    """Where the newest journal is not the one that was sealed, or does not reach as far."""
    if reached is None:
        broken = found.linked and not seal.unused(folder)
        return [Fault(found.path.name, 0, "no seal")] if broken else []
    if reached.journal == found.path.stem:
        whole = reached.link in journal.read(found.path).links
        return [] if whole or found.damaged else [Fault(found.path.name, 0, "short")]
    if reached.number >= found.number:
        there = (folder / "sessions" / f"{reached.journal}.jsonl").exists()
        return [Fault(f"{reached.journal}.jsonl", 0, "short" if there else "gone")]
    # Begun, and the power went before it was sealed: then it follows the one before it.
    before = journal.last_link(found.path.parent, found.number)
    return [] if link_of_first(found.path) == before else [
        Fault(found.path.name, 0, "gone before")]


def _nothing(folder: Path, reached: seal.Reach) -> SessionFile:
    """A record of which only the seal is left."""
    none: frozenset[str] = frozenset()
    path = folder / "sessions" / f"{reached.journal}.jsonl"
    return SessionFile(path, reached.number, "", "", "", none, none, True, False,
                       faults=(Fault(path.name, 0, "gone"),), linked=True)


def past_faults(folder: Path) -> tuple[Fault, ...]:
    """What is wrong with any of a rig's journals, the older ones too, in order.

    Nothing that counts now hangs on an older one; reviews and exports do.
    """
    found: list[Fault] = []
    before = ""
    gone = forgotten(folder)
    for path in session_paths(folder):
        made = journal.read(path)
        found += [*made.faults, *made.copied(path)]
        follows = link_of_first(path)
        if follows is not None and follows != before and follows not in gone:
            found.append(Fault(path.name, 0, "gone before"))
        before = made.links[-1] if made.links else before
    newest = latest(folder)
    return tuple(dict.fromkeys([*found, *(newest.faults if newest else ())]))


_BEFORE = re.compile(rb', "before": "([0-9a-f]*)", "sum": "[0-9a-f]{16}"\}\n')


def link_of_first(path: Path) -> str | None:
    """What the first line says of the line before it; None where it does not say."""
    with open(path, "rb") as file:
        found = _BEFORE.search(file.readline(1 << 20))
    return found[1].decode() if found else None


def forgotten(folder: Path) -> frozenset[str]:
    """The links of last lines of journals that the owner has had deleted."""
    try:
        return frozenset((folder / "forgotten").read_text(encoding="ascii").split())
    except (OSError, UnicodeDecodeError):
        return frozenset()


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


def forget_journals(folder: Path, links: Iterable[str]) -> None:
    """Keep in mind that journals with these last lines were deleted on purpose.

    Raises:
        StorageError: that cannot be written.
    """
    if not session_paths(folder):
        seal.remove(folder)
        (folder / "forgotten").unlink(missing_ok=True)
    elif every := forgotten(folder) | frozenset(links):
        write_atomically(folder / "forgotten", "".join(f"{one}\n" for one in sorted(every)).encode())


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
