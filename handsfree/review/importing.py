"""Journals from another machine: merged into the data folder without counting any twice.

May import records, timings, history's place for imports, the journal's reader and errors.  They
go to imported/rigs/, so that no rig's own record changes; no name of a folder or file is taken
from what a journal says without being made safe, and no link is followed.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from handsfree.errors import HandsfreeError, InputError
from handsfree.review.history import IMPORTED
from handsfree.review.records import Problem, SessionRecord
from handsfree.review.timings import read_session
from handsfree.storage.atomic_write import write_atomically

_MOST_FILES = 200_000
_SOUND = re.compile(r"[\w.-]+\.wav")
_LARGEST_SOUND = 256 * 1024 * 1024
"""Bytes; a note of half an hour is a quarter of that."""
_MEND = "free space or name another folder with --data"


@dataclass(frozen=True)
class Imported:
    """What an import came to; paths are as they were named."""

    new: tuple[Path, ...]
    """Files that were written."""
    longer: tuple[Path, ...]
    """Earlier imports that were replaced by a longer telling of the same session."""
    known: int
    """Journals that were here already, as long or longer."""
    problems: tuple[Problem, ...]
    sounds: int = 0
    """Sound files of notes that came along."""


def import_journals(source: Path, data: Path) -> Imported:
    """Merge the journals under a folder (or one file) into the data folder.

    Raises:
        InputError: the source does not exist, holds no journal, or is the data folder itself.
        StorageError: the data folder cannot be written.
    """
    files = tuple(_files(source, data))
    known = dict(_known(data))
    new: list[Path] = []
    longer: list[Path] = []
    problems: list[Problem] = []
    here = sounds = 0
    for path in files:
        shown = str(path)
        try:
            session, wrong = read_session(path, shown)
            raw = path.read_bytes()
        except OSError as problem:
            problems.append(Problem(shown, 0, f"cannot be read ({problem.strerror})"))
            continue
        except HandsfreeError as problem:
            problems.append(Problem(shown, 0, str(problem).removeprefix(f"{shown} ").rstrip(".")))
            continue
        problems.extend(wrong)
        if not session.session:
            problems.append(Problem(shown, 1, "has no session id, so it cannot be told from"
                                              " others; it is left out"))
            continue
        before = known.get(session.session)
        heard = dict(_sounds(path, session))
        if before is None:
            target = _target(data, session, heard)
            write_atomically(target, raw, _MEND)
            sounds += _keep_sounds(target, heard)
            known[session.session] = target
            new.append(target)
            continue
        told = _bytes(before)
        if told.startswith(raw.rstrip(b"\n")):
            here += 1
            if _within(before, data / IMPORTED):
                sounds += _keep_sounds(before, heard)
        elif raw.startswith(told.rstrip(b"\n")):
            if _within(before, data / IMPORTED):
                write_atomically(before, raw, _MEND)
                sounds += _keep_sounds(before, heard)
                longer.append(before)
            else:
                problems.append(Problem(shown, 0, f"goes on where {before} ends, which is this"
                                                  " machine's own; its own is kept"))
        else:
            problems.append(Problem(shown, 0, f"has the same session id as {before} but tells"
                                              " another story; the one that was here is kept"))
    return Imported(tuple(new), tuple(longer), here, tuple(problems), sounds)


def _files(source: Path, data: Path) -> Iterator[Path]:
    if not source.exists():
        raise InputError(f"there is nothing at {source} to import; check the path.")
    if source.resolve() == data.resolve():
        raise InputError(f"{source} is this program's own data folder; name another machine's.")
    if source.is_file():
        yield source
        return
    count = 0
    for folder, folders, names in os.walk(source, followlinks=False):
        folders.sort()
        for name in sorted(names):
            path = Path(folder) / name
            if name.endswith(".jsonl") and path.is_file() and not path.is_symlink():
                count += 1
                if count > _MOST_FILES:
                    raise InputError(f"{source} holds more than {_MOST_FILES} journals;"
                                     " import a part of it at a time.")
                yield path
    if not count:
        raise InputError(f"there is no journal (*.jsonl) under {source}; check the path.")


def _known(data: Path) -> Iterator[tuple[str, Path]]:
    """Session id -> file, of everything that is here; a rig's own journals win."""
    for room in (data / IMPORTED / "rigs", data / "rigs"):
        for path in sorted(room.glob("*/sessions/*.jsonl")):
            with contextlib.suppress(OSError, ValueError, AttributeError), \
                    open(path, "rb") as file:
                first = json.loads(file.readline(1_000_000))
                if first.get("what") == "begun" and first.get("session"):
                    yield str(first["session"]), path


def _safe(name: str, otherwise: str) -> str:
    """Lower-case letters, digits and hyphens only, at most sixty: fit for a folder."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower())[:60].strip("-") or otherwise


def _target(data: Path, session: SessionRecord, sounds: Mapping[str, Path]) -> Path:
    """A path that is free; several machines may use the same running number.

    Its sounds keep their names, which its lines speak of: where those are taken, the session gets
    a folder further on.
    """
    rig = _safe(session.rig, "rig")
    stem = f"{min(session.number, 999_999):06d}-{_safe(session.checklist, 'checklist')}"
    name = f"{stem}-{_safe(session.session, 'session')[:36]}"
    for copy in itertools.count(1):
        own = rig if copy == 1 else f"{rig}-{copy}"
        folder = data / IMPORTED / "rigs" / own / "sessions"
        if not any((folder / one).exists() for one in (f"{name}.jsonl", *sounds)):
            return folder / f"{name}.jsonl"
    raise AssertionError("unreachable")


def _sounds(path: Path, session: SessionRecord) -> Iterator[tuple[str, Path]]:
    """Name and file of the session's spoken notes, as far as they lie beside its journal."""
    for mark in session.marks:
        beside = path.with_name(mark.audio) if _SOUND.fullmatch(mark.audio) else path
        if mark.kind == "note" and beside != path and beside.is_file() and (
                not beside.is_symlink() and beside.stat().st_size <= _LARGEST_SOUND):
            yield mark.audio, beside


def _keep_sounds(journal: Path, sounds: Mapping[str, Path]) -> int:
    """Copy what is not there yet to the journal's folder; how many that were."""
    count = 0
    for name, source in sounds.items():
        target = journal.with_name(name)
        if not target.exists() and (raw := _bytes(source)):
            write_atomically(target, raw, _MEND)
            count += 1
    return count


def _within(path: Path, folder: Path) -> bool:
    return path.resolve().is_relative_to(folder.resolve())


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        return b""
