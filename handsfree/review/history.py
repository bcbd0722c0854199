"""All sessions of a data folder, read fast: only journals that are new or have changed are read.

May import records, columns, store, timings, errors and numpy.  What was read is kept in the
`store`, keyed by each journal's size and time of change.
"""

from __future__ import annotations

import contextlib
import gc
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from handsfree.errors import HandsfreeError
from handsfree.review import store
from handsfree.review.columns import Columns, Gathering, Packed, merged
from handsfree.review.records import Problem, SessionRecord

IMPORTED = Path("imported")
"""Journals from other machines lie here; they count in reviews, never in a rig's record."""
_WORTH_JOBS = 250
"""Journals from which on processes are started, and that each is given at a time."""


@dataclass(frozen=True)
class History:
    """Sessions in the order in which they were begun, and what was wrong with their files."""

    data: Path
    columns: Columns
    problems: tuple[Problem, ...]
    read: int
    """Journals that had to be read because the store did not know them."""

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
        from handsfree.review.timings import read_session

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
        cache: whether to use and write the store, if pyarrow is installed.
        jobs: processes in which many journals may be read; a program that asks for more than one
            keeps to the rule of `multiprocessing` about its main module.
        tell: told how many of the journals that have to be read are read, again and again.
    """
    found = dict(_journals(data))
    cache = cache and store.available()
    known = store.read(data) if cache else store.Kept(Gathering().columns(), (), {}, 0)
    alive = _alive(known, found)
    problems = {name: note for name, note in known.notes.items() if found.get(name) == note[0]}
    fresh_names = sorted(found.keys() - {known.keys[row][0] for row in alive} - problems.keys())
    fresh, keys = [Gathering().columns()], list[store.Key]()
    for names, part, wrong in _read(data, fresh_names, jobs, tell) if fresh_names else ():
        fresh.append(part)
        keys += [(name, *found[name]) for name in names]
        problems |= {name: (found[name], told) for name, told in wrong.items()}
    gone = any(key[0] not in found for key in known.keys) or not known.notes.keys() <= found.keys()
    if fresh_names or gone:
        new, keys = _in_order(merged(fresh, spend=True), keys)
        if cache and store.keep(data, known, alive, new, keys, problems, gone):
            fresh, new = [], Gathering().columns()
            known = store.read(data)  # of which only what is asked for is in memory
            alive = _alive(known, found)
        columns = merged([known.columns.choose(np.array(alive, "i4")), new], spend=True)
    elif len(alive) == len(known.keys):
        columns = known.columns
    else:
        columns = known.columns.choose(np.array(alive, "i4"), spend=True)
    columns, doubles = _without_doubles(_in_order(columns, [])[0])
    told = [p for _, wrong in problems.values() for p in wrong]
    return History(data, columns, (*sorted(told, key=lambda p: (p.file, p.line)), *doubles),
                   len(fresh_names))


def _alive(known: store.Kept, found: Mapping[str, tuple[int, int]]) -> list[int]:
    """Rows of the store whose journals are as they were."""
    latest = {key[0]: row for row, key in enumerate(known.keys) if found.get(key[0]) == key[1:]}
    return sorted(latest.values())


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
    from handsfree.review.timings import read_session  # seldom needed, and takes its time

    gathering, good, problems = Gathering(), list[str](), dict[str, tuple[Problem, ...]]()
    with _nothing_collected():
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
    made = gathering.columns()
    return good, replace(made, steps=Packed(made.steps), misses=Packed(made.misses)), problems


@contextlib.contextmanager
def _nothing_collected() -> Iterator[None]:
    """Without the search for cycles, of which lines have none: it takes 40 % of the reading."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _problem(name: str, problem: HandsfreeError) -> Problem:
    text = str(problem).rstrip(".")
    return Problem(name, 0, text.removeprefix(f"{name} "))


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


def _in_order(columns: Columns, keys: list[store.Key]) -> tuple[Columns, list[store.Key]]:
    """Sessions, and what goes with each, as they were begun; nothing is copied in vain."""
    order = _order(columns)
    if np.array_equal(order, np.arange(len(order))):
        return columns, keys
    return columns.choose(order, spend=True), [keys[row] for row in order] if keys else []


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
    return columns.choose(np.array(kept, "i4"), spend=True), problems
