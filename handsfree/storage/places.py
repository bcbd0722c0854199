"""The places where an operator stays: their names, and what the journals say of each.

May import journal, lines, record, the checklist model, atomic_write, errors.  A file of the data
folder holds names alone: those that were given ahead, other names of a place, and the journals that
its operator wants forgotten.  Everything else is read out of the journals each time, so that it
cannot say anything that they do not.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import islice
from pathlib import Path

from handsfree.checklist.model import Checklist, Step
from handsfree.errors import InputError
from handsfree.storage import journal, lines
from handsfree.storage.atomic_write import write_atomically
from handsfree.storage.record import same_name, session_paths

FILE = "places.json"

LATEST = 5
"""Stays at a place that are asked, the newest first."""

HITCHED, PARKED = "hitched", "parked"
"""Facts of the library that say whether a trailer is on the road."""

_MOST = 1 << 20
"""Bytes of a journal's first line that are read."""


# --- names --------------------------------------------------------------------------------------

@dataclass(frozen=True)
class Names:
    """What the operator has said about names of places."""

    listed: tuple[str, ...] = ()
    """Named before a journal did."""
    now: Mapping[str, str] = field(default_factory=dict)
    """Another name of a place, in the form of `same_name`, to the one that it has now."""
    dropped: frozenset[str] = frozenset()
    """Visits that no longer count, by their keys."""

    def of(self, name: str) -> str:
        """The name that a place has now."""
        return self.now.get(same_name(name), name)

    def renamed(self, old: str, new: str) -> Names:
        """`old` is called `new` from now on, and so is whatever was called `old` before."""
        others = {key: new if same_name(name) == same_name(old) else name
                  for key, name in self.now.items() if key != same_name(new)}
        listed = (*(one for one in self.listed if same_name(one) not in (
            same_name(old), same_name(new))), new)
        return Names(listed, {**others, same_name(old): new}, self.dropped)


def load_names(data: Path) -> Names:
    """The file's names; none where there is no file.

    Raises:
        InputError: it cannot be read.
    """
    path = data / FILE
    try:
        got = json.loads(path.read_bytes())
        return Names(tuple(map(str, got["places"])),
                     {str(old): str(new) for old, new in got["also called"].items()},
                     frozenset(map(str, got["forgotten"])))
    except (FileNotFoundError, NotADirectoryError):
        return Names()
    except OSError as problem:
        raise InputError(f"{path} cannot be read ({problem.strerror}); check its permissions.") from None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise InputError(f"{path} is damaged; delete it: names come back from the journals, those"
                         " that you gave a place afterwards do not.") from None


def keep_names(data: Path, names: Names) -> None:
    """Write them.

    Raises:
        StorageError: they cannot be written.
    """
    told = {"places": list(names.listed), "also called": dict(names.now),
            "forgotten": sorted(names.dropped)}
    write_atomically(data / FILE, (json.dumps(told, indent=1, ensure_ascii=False) + "\n").encode())


# --- visits -------------------------------------------------------------------------------------

@dataclass(frozen=True)
class Visit:
    """A session at a place, by the first line of its journal."""

    path: Path
    place: str
    """The name that the place has now."""
    checklist: str
    rig: str
    traits: frozenset[str]
    began: str

    @property
    def key(self) -> str:
        """Rig's folder and journal."""
        return key_of(self.path)


def key_of(path: Path) -> str:
    """By what a journal is told from all others of a data folder."""
    return f"{path.parent.parent.name}/{path.stem}"


def begun(path: Path) -> lines.Begun | None:
    """A journal's first line; None where it cannot be read as one."""
    try:
        with open(path, "rb") as file:
            told = json.loads(file.readline(_MOST))
        line = lines.from_plain(told) if isinstance(told, dict) and told.get("what") else None
    except (OSError, ValueError, RecursionError):
        return None
    return line if isinstance(line, lines.Begun) else None


def visits(data: Path, names: Names, *, rehearsals: bool = False) -> list[Visit]:
    """Sessions at a place that has a name, oldest first.

    Args:
        rehearsals: those instead of what has really been.
    """
    found = []
    for folder in sorted((data / "rigs").glob("*")):
        if folder.is_symlink() or (folder / "sessions").is_symlink():
            continue
        for path in session_paths(folder):
            first = begun(path)
            if first is None or not first.place or key_of(path) in names.dropped or (
                    bool(first.rehearsal) is not rehearsals):
                continue
            found.append(Visit(path, names.of(first.place), first.checklist, first.rig or "",
                               first.traits or frozenset(), first.at))
    return sorted(found, key=lambda visit: _moment(visit.began))  # of one rig as numbered


def _moment(told: str) -> float:
    try:
        return datetime.fromisoformat(told).timestamp()
    except (ValueError, OverflowError):
        return 0.0


def known(names: Names, been: Sequence[Visit]) -> list[str]:
    """The names of places, the one that was visited last first, then those that were only named."""
    found: dict[str, str] = {}
    for name in (*(visit.place for visit in reversed(been)), *map(names.of, names.listed)):
        found.setdefault(same_name(name), name)
    return list(found.values())


def called(name: str, places: Iterable[str]) -> str:
    """The place of this name as it is written; '' if there is none."""
    return next((one for one in places if same_name(one) == same_name(name)), "")


def stands_at(folder: Path, facts: frozenset[str], spoken_of: frozenset[str], names: Names) -> str:
    """Where a rig has stood since it came off the road; '' where that is not known.

    Args:
        folder: the rig's.
        facts: what is so of it now.
        spoken_of: every fact that its record has a value for.
    """
    if PARKED not in spoken_of or on_road(facts):
        return ""
    for path in reversed(session_paths(folder)):
        first = begun(path)
        if first is None:
            return ""
        if first.place:
            return "" if key_of(path) in names.dropped else names.of(first.place)
        if on_road(first.record):
            return ""
    return ""


def on_road(facts: frozenset[str]) -> bool:
    """Whether it is hitched, and not parked."""
    return HITCHED in facts and PARKED not in facts


# --- what is remembered ---------------------------------------------------------------------------

@dataclass(frozen=True)
class Measured:
    """A value that was read and confirmed."""

    value: float
    unit: str
    band: str
    at: str


@dataclass(frozen=True)
class Memory:
    """What the journals say of a place.  It is told and asked about; nothing rests on it."""

    place: str
    last: str = ""
    """When the last stay that is remembered began."""
    answers: Mapping[str, bool] = field(default_factory=dict)
    """Questions that a place is remembered by, as they were answered last."""
    measured: Mapping[str, tuple[Measured, ...]] = field(default_factory=dict)
    """By the name that sums have for a reading: its values in the last stay that has any."""
    lengths: Mapping[str, Measured] = field(default_factory=dict)
    """Readings that need not be exact and were within their limits, by step; with the same rig."""
    failed: tuple[str, ...] = ()
    """Steps at the post that failed in the last stay with power."""
    refused: bool = False
    """Power was left off then."""


def recallable(checklist: Checklist) -> dict[str, Step]:
    """The questions that a place is remembered by: never one that anybody's safety hangs on, as
    evidence, in a never rule, a hazard, a step's own interlock or for closing."""
    return {name: step for name, step in checklist.steps.items()
            if step.question and step.recalled and name not in checklist.guarded}


def memory(
    been: Sequence[Visit], place: str, checklist: Checklist, rig: str, traits: frozenset[str],
) -> Memory:
    """What is remembered of a place for this list.

    What hangs on the rig is remembered from stays with the same rig as it is now; a journal that is
    not as it was written says nothing.
    """
    found = Memory(place)
    here = (visit for visit in reversed(been) if same_name(visit.place) == same_name(place)
            and visit.checklist == checklist.id)
    questions = recallable(checklist)
    for visit in islice(here, LATEST):
        same = same_name(visit.rig) == same_name(rig) and visit.traits == traits
        found = _with(found, visit, checklist, questions, same)
    return found


def _with(
    found: Memory, visit: Visit, checklist: Checklist, questions: Mapping[str, Step], same_rig: bool,
) -> Memory:
    """A memory with what an older visit adds to it."""
    read = journal.read(visit.path)
    if read.faults or read.damaged:
        return found
    told = list(read.lines)
    answers = {name: yes for name, yes in _answers(told).items()
               if name in questions and (same_rig or not questions[name].rigs_own)}
    measured = _measured(told, checklist)
    latest = not (found.failed or found.refused or found.measured)
    return replace(
        found, last=found.last or visit.began, answers={**answers, **found.answers},
        measured={**measured, **found.measured},
        lengths={**(_lengths(measured, checklist) if same_rig else {}), **found.lengths},
        failed=tuple(_failed(told, checklist)) if latest else found.failed,
        refused=_refused(told) if latest else found.refused)


def last_readings(
    folder: Path, checklist: Checklist, remembered: Memory
) -> dict[str, Measured]:
    """What readings that need not be exact were last time, by step: at this place if they are
    remembered of it, else the last time that the rig's record has them.

    Args:
        folder: the rig's.
    """
    wanted = [name for name, step in checklist.steps.items() if step.rough]
    found = dict(remembered.lengths)
    walks = (path for path in reversed(session_paths(folder))
             if (first := begun(path)) and first.checklist == checklist.id)
    for path in islice(walks, LATEST):
        if found.keys() >= set(wanted):
            break
        read = journal.read(path)
        told = {} if read.faults or read.damaged else _measured(read.lines, checklist)
        found = {**_lengths(told, checklist), **found}
    return found


def _lengths(
    measured: Mapping[str, Sequence[Measured]], checklist: Checklist
) -> dict[str, Measured]:
    return {name: some[-1] for name, step in checklist.steps.items() if step.rough and step.reading
            and (some := measured.get(step.reading.called)) and some[-1].band == "within"}


def _answers(told: Iterable[lines.Line]) -> dict[str, bool]:
    found: dict[str, bool] = {}
    for line in told:
        if isinstance(line, lines.Reported):
            if line.of in ("yes", "no"):
                found[line.step] = line.of == "yes"
            elif line.of == "take back":
                found.pop(line.step, None)
    return found


def _measured(
    told: Iterable[lines.Line], checklist: Checklist
) -> dict[str, tuple[Measured, ...]]:
    found: dict[str, tuple[Measured, ...]] = {}
    for line in told:
        if not isinstance(line, lines.Reading):
            continue
        step = checklist.steps.get(line.step)
        if step and step.reading:
            one = Measured(line.value, line.unit, line.band, line.at)
            found[step.reading.called] = (*found.get(step.reading.called, ()), one)
    return found


def _failed(told: Iterable[lines.Line], checklist: Checklist) -> Iterator[str]:
    """Steps at which an outlet was found to be bad, each once."""
    seen = set()
    for line in told:
        if isinstance(line, lines.Failed) and line.step not in seen:
            step = checklist.steps.get(line.step)
            if step and step.place == "pedestal" and step.remedy == OUTLET_FAILS:
                seen.add(line.step)
                yield line.step


OUTLET_FAILS = "second-outlet"
"""The library's remedy for an outlet that is not safe."""

REFUSED = "outlet refused"
"""The library's fact that power is left off here."""


def _refused(told: Iterable[lines.Line]) -> bool:
    now = False
    for line in told:
        if isinstance(line, lines.Changed):
            now = (now or REFUSED in line.on) and REFUSED not in line.off
    return now

