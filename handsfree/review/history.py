"""All sessions of a data folder, read fast: only journals that are new or have changed are read.

May import records, columns, timings, errors and numpy.  What was read is kept in one cache file,
keyed by each journal's size and time of change; it may be deleted at any time, and one that is
damaged or old is made anew.  It holds plain arrays and JSON, so that reading it runs no code.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.errors import HandsfreeError
from handsfree.review.columns import (
    MISS_COLUMNS,
    SESSION_COLUMNS,
    STEP_COLUMNS,
    Columns,
    Gathering,
    merged,
)
from handsfree.review.records import Problem, SessionRecord
from handsfree.review.timings import read_session

CACHE = Path("cache") / "review.npz"
"""Within the data folder."""
IMPORTED = Path("imported")
"""Journals from other machines lie here; they count in reviews, never in a rig's record."""
_VERSION = 4
_WORTH_JOBS = 250
"""Journals from which on processes are started, and that each is given at a time."""


@dataclass(frozen=True)
class History:
    """Sessions in the order in which they were begun, and what was wrong with their files."""

    data: Path
    columns: Columns
    problems: tuple[Problem, ...]
    read: int
    """Journals that had to be read because the cache did not know them."""

    def __len__(self) -> int:
        return len(self.columns)

    def only(
        self, *, checklist: str = "", rig: str = "", place: str = "",
        since: date | None = None, until: date | None = None, rehearsals: bool = True,
    ) -> History:
        """The sessions that fit; `until` is the last day that counts, by the place's own date."""
        columns = self.columns
        keep = np.ones(len(columns), bool)
        for name, wanted in (("checklist", checklist), ("rig", rig)):
            if wanted:
                keep &= columns.sessions[name] == columns.code(wanted)
        if place:
            keep &= np.array([place.casefold() in text.casefold()
                              for text in columns.text("place")], bool)
        local = columns.sessions["began"] + columns.sessions["offset"]
        if since:
            keep &= local >= _midnight(since)
        if until:
            keep &= local < _midnight(until) + 86400
        if not rehearsals:
            keep &= ~columns.sessions["rehearsal"]
        return History(self.data, columns.choose(np.flatnonzero(keep)), self.problems, self.read)

    def checklists(self) -> tuple[str, ...]:
        """Ids of the checklists that were run, the most recent first."""
        return tuple(dict.fromkeys(self.columns.text("checklist")[::-1]))

    def paths(self) -> tuple[Path, ...]:
        """The journals, in order."""
        return tuple(self.data / path for path in self.columns.text("path"))

    def session(self, row: int) -> SessionRecord:
        """A session in full, from its journal; negative rows count from the newest.

        Raises:
            HandsfreeError: the journal has gone or changed for the worse meanwhile.
        """
        path = self.data / self.columns.text("path")[row]
        return read_session(path)[0]


def _midnight(day: date) -> float:
    return (day - date(1970, 1, 1)).total_seconds()


def load(
    data: Path, *, cache: bool = True, jobs: int = 1,
    tell: Callable[[int, int], None] = lambda done, of: None,
) -> History:
    """Read all sessions under a data folder; an absent or empty folder gives an empty history.

    Args:
        data: the data folder; journals are under rigs/*/sessions and imported/rigs/*/sessions.
        cache: whether to use and write the cache file.
        jobs: processes in which many journals may be read; a program that asks for more than one
            keeps to the rule of `multiprocessing` about its main module.
        tell: told how many of the journals that have to be read are read, again and again.
    """
    found = dict(_journals(data))
    known, kept_keys, notes = _cached(data) if cache else (Gathering().columns(), [], {})
    keep = [row for row, key in enumerate(kept_keys) if found.get(key[0]) == key[1:]]
    problems = {name: note for name, note in notes.items() if found.get(name) == note[0]}
    fresh_names = sorted(found.keys() - {kept_keys[row][0] for row in keep} - problems.keys())
    columns = known if len(keep) == len(known) else known.choose(np.array(keep, "i4"))
    keys = [kept_keys[row] for row in keep]
    if fresh_names:
        parts = [columns]
        for names, part, wrong in _read(data, fresh_names, jobs, tell):
            parts.append(part)
            keys += [(name, *found[name]) for name in names]
            problems |= {name: (found[name], told) for name, told in wrong.items()}
        columns = merged(parts)
    if cache and (fresh_names or len(keep) != len(known) or problems.keys() != notes.keys()):
        _write_cache(data, columns, keys, problems)
    columns, doubles = _without_doubles(columns.choose(_order(columns)))
    told = [p for _, wrong in problems.values() for p in wrong]
    return History(data, columns, (*sorted(told, key=lambda p: (p.file, p.line)), *doubles),
                   len(fresh_names))


_Part = tuple[list[str], Columns, dict[str, tuple[Problem, ...]]]
"""Journals that were read, their sessions, and what was wrong."""


def _read(
    data: Path, names: Sequence[str], jobs: int, tell: Callable[[int, int], None]
) -> Iterator[_Part]:
    """Read journals, in order; many of them in several processes."""
    if len(names) < _WORTH_JOBS or jobs < 2:
        for begin in range(0, len(names), _WORTH_JOBS):
            yield _read_some(data, names[begin:begin + _WORTH_JOBS])
            tell(min(begin + _WORTH_JOBS, len(names)), len(names))
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    parts = [names[begin:begin + _WORTH_JOBS] for begin in range(0, len(names), _WORTH_JOBS)]
    done = 0
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        for part, read in zip(parts, pool.map(_read_some, [data] * len(parts), parts),
                              strict=True):
            yield read
            done += len(part)
            tell(done, len(names))


def _read_some(data: Path, names: Sequence[str]) -> _Part:
    gathering, good, problems = Gathering(), list[str](), dict[str, tuple[Problem, ...]]()
    for name in names:
        try:
            session, wrong = read_session(data / name, name)
        except HandsfreeError as problem:
            problems[name] = (_problem(name, problem),)
            continue
        gathering.add(replace(session, path=name))
        good.append(name)
        if wrong:
            problems[name] = wrong
    return good, gathering.columns(), problems


def _problem(name: str, problem: HandsfreeError) -> Problem:
    text = str(problem).rstrip(".")
    return Problem(name, 0, text.removeprefix(f"{name} "))


Key = tuple[str, int, int]
Notes = dict[str, tuple[tuple[int, int], tuple[Problem, ...]]]


def _journals(data: Path) -> Iterator[tuple[str, tuple[int, int]]]:
    """(name within the folder, (size, time of change)) of every journal."""
    for room in ("rigs", str(IMPORTED / "rigs")):
        with contextlib.suppress(OSError):
            for rig in sorted(os.scandir(data / room), key=lambda entry: entry.name):
                with contextlib.suppress(OSError):
                    for entry in os.scandir(Path(rig.path) / "sessions"):
                        if entry.name.endswith(".jsonl") and entry.is_file():
                            state = entry.stat()
                            yield (f"{room}/{rig.name}/sessions/{entry.name}",
                                   (state.st_size, state.st_mtime_ns))


def _order(columns: Columns) -> np.ndarray:
    """Rows as they were begun.

    Within one folder the running number decides, since clocks may lie: a session counts as begun
    no earlier than the one before it.  Between folders the clocks have to be believed.
    """
    folders = np.array([path.rsplit("/", 1)[0] for path in columns.text("path")], dtype=object)
    began = columns.sessions["began"].astype(float).copy()
    number = columns.sessions["number"]
    for folder in set(folders):
        rows = np.flatnonzero(folders == folder)
        rows = rows[np.lexsort((began[rows], number[rows]))]
        if str(folder).startswith(str(IMPORTED)):
            continue  # their numbers come from several machines
        began[rows] = np.maximum.accumulate(began[rows])
    return np.lexsort((number, began))


def _without_doubles(columns: Columns) -> tuple[Columns, tuple[Problem, ...]]:
    """Each session once, however many files tell of it: the longest telling wins, then our own."""
    ids = columns.sessions["session"]
    if len(np.unique(ids)) == len(ids):
        return columns, ()
    paths, seconds = columns.text("path"), columns.sessions["seconds"]
    best: dict[int, int] = {}
    for row, code in enumerate(ids):
        if not columns.words[code]:
            best[-1 - row] = row  # a journal without an id is only itself
            continue
        rival = best.get(int(code))
        own = not paths[row].startswith(str(IMPORTED))
        if rival is None or (seconds[row], own) > (
                seconds[rival], not paths[rival].startswith(str(IMPORTED))):
            best[int(code)] = row
    kept = sorted(best.values())
    dropped = sorted(set(range(len(ids))) - set(kept))
    problems = tuple(
        Problem(paths[row], 0, f"has the same session id as {paths[best[int(ids[row])]]};"
                " the longer of the two is used")
        for row in dropped)
    return columns.choose(np.array(kept, "i4")), problems


# --- the cache -----------------------------------------------------------------------------------

def _cached(data: Path) -> tuple[Columns, list[Key], Notes]:
    """What the cache file knows; nothing if it is absent, old or damaged."""
    try:
        with np.load(data / CACHE, allow_pickle=False) as file:
            about = json.loads(file["about"].tobytes())
            if about["version"] != _VERSION:
                raise ValueError("an older version")
            columns = Columns(
                tuple(map(str, about["words"])),
                {n: file[f"session_{n}"].astype(k, copy=False) for n, k in SESSION_COLUMNS.items()},
                {n: file[f"step_{n}"].astype(k, copy=False) for n, k in STEP_COLUMNS.items()},
                {n: file[f"miss_{n}"].astype(k, copy=False) for n, k in MISS_COLUMNS.items()})
            keys = [(str(name), int(size), int(time)) for name, size, time in about["keys"]]
            notes = {str(name): ((int(size), int(time)), tuple(
                Problem(str(name), int(line), str(text)) for line, text in wrong))
                for name, size, time, wrong in about["notes"]}
        if not columns.sound() or list(columns.text("path")) != [key[0] for key in keys]:
            raise ValueError("damaged")
    except Exception:  # noqa: BLE001  (a cache is only a cache: whatever is wrong, read again)
        return Gathering().columns(), [], {}
    return columns, keys, notes


def _write_cache(data: Path, columns: Columns, keys: Sequence[Key], problems: Notes) -> None:
    """Write it beside and rename; a folder that cannot be written only costs time."""
    about = json.dumps({
        "version": _VERSION, "words": columns.words, "keys": keys,
        "notes": [[name, *key, [[p.line, p.text] for p in wrong]]
                  for name, (key, wrong) in problems.items()]})
    arrays: dict[str, Any] = {f"session_{n}": c for n, c in columns.sessions.items()}
    arrays |= {f"step_{n}": c for n, c in columns.steps.items()}
    arrays |= {f"miss_{n}": c for n, c in columns.misses.items()}
    target = data / CACHE
    with contextlib.suppress(OSError):
        target.parent.mkdir(mode=0o700, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=target.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez(file, about=np.frombuffer(about.encode(), np.uint8), **arrays)
            os.replace(name, target)
        except OSError:
            os.unlink(name)

