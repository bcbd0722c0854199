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
from handsfree.engine import changes
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
    folder: Path, lists: Iterable[Checklist], last: SessionFile | None, record: Record, rig: str,
    so: Mapping[str, bool],
) -> frozenset[str]:
    """Write down that these facts are so or not, and that what hangs on them has to be looked at anew.

    Args:
        lists: the checklists that know the facts; evidence that a correction makes void in any of
            them ends.  What is itself said to be so is written last, so it stands.
        last: the last session; an unfinished one takes the corrections, and can still be resumed.
        record: what was true before.
        rig: its name.

    Returns:
        The facts that are on record afterwards.

    Raises:
        InputError, StorageError: the folder cannot be written.
    """
    knowing = tuple(lists)
    facts = record.facts
    in_order = sorted(so.items(), key=lambda one: any(one[0] in c.evidence for c in knowing))
    with _opened(folder, last, record, rig, CORRECTION) as log:
        for fact, yes in in_order:
            ends = frozenset().union(*(
                changes.correct(c, fact, yes).ends for c in knowing if fact in c.facts))
            gives = frozenset({fact}) if yes else frozenset[str]()
            ends = (ends & facts) | (frozenset({fact}) - gives)
            log.write(lines.Event(
                Correct(fact, yes), "", then=(lines.Changed(gives, ends),)), 0.0)
            facts = (facts - ends) | gives
    return facts


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
