"""Corrections of a rig's record outside a session: journaled, so that replaying still tells all.

May import the journal, the record and engine state.  Whoever calls this holds the rig's lock.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from handsfree import __version__
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.engine.state import Correct, Finish
from handsfree.storage import journal, lines
from handsfree.storage.record import Record, SessionFile, next_path, record_for


def record_of(lists: Iterable[Checklist], rig: Rig, last: SessionFile | None) -> Record:
    """What is true of a rig and what its record has a value for, by all these checklists."""
    parts = [record_for(checklist, rig, last) for checklist in lists]
    return Record(frozenset().union(*(part.facts for part in parts)),
                  frozenset().union(*(part.known for part in parts)))


CORRECTION, NOTE = "correction", "note"
"""Ids of the sessions that hold one."""


def correct(
    folder: Path, last: SessionFile | None, record: Record, rig: str, so: Mapping[str, bool]
) -> None:
    """Write down that these facts are so or not.

    Args:
        last: the last session; an unfinished one takes the corrections, and can still be resumed.
        record: what was true before.
        rig: its name.

    Raises:
        InputError, StorageError: the folder cannot be written.
    """
    with _opened(folder, last, record, rig, CORRECTION) as log:
        for fact, yes in so.items():
            one, none = frozenset({fact}), frozenset[str]()
            changed = lines.Changed(one, none) if yes else lines.Changed(none, one)
            log.write(lines.Event(Correct(fact, yes), "", then=(changed,)), 0.0)


def note(
    folder: Path, last: SessionFile | None, record: Record, rig: str, audio: str, text: str
) -> None:
    """Write down a note that was made between two checklists; see `correct`.

    Args:
        audio: name of its sound file beside the journals; '' for a typed one.

    Raises:
        InputError, StorageError: the folder cannot be written.
    """
    with _opened(folder, last, record, rig, NOTE) as log:
        log.write(lines.Note("", audio, text), 0.0)


@contextmanager
def _opened(
    folder: Path, last: SessionFile | None, record: Record, rig: str, what: str
) -> Iterator[journal.Journal]:
    """The journal that such lines go to: the unfinished session's, or a short one of their own."""
    unfinished = last is not None and not last.ended
    log = journal.Journal(last.path if last and unfinished else next_path(folder, what))
    try:
        if unfinished:
            log.write(lines.Event(Finish(), ""), 0.0)
        else:
            log.write(lines.BegunAside(
                what, what.capitalize(), "", "en", record.facts, (), session=str(uuid.uuid4()),
                clock=str(uuid.uuid4()), rig=rig, known=record.known, place="", engine="",
                program=__version__, rehearsal=False), 0.0)
        yield log
        if not unfinished:
            log.write(lines.Closed(()), 0.0)
    finally:
        log.close()
