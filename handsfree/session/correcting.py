"""Corrections of a rig's record outside a session: journaled, so that replaying still tells all.

May import the journal, the record and engine state.  Whoever calls this holds the rig's lock.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from pathlib import Path

from handsfree import __version__
from handsfree.engine.state import Correct, Finish
from handsfree.session import journal
from handsfree.session.record import Record, SessionFile, next_path


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
    unfinished = last is not None and not last.ended
    log = journal.Journal(last.path if last and unfinished else next_path(folder, "correction"))
    try:
        if unfinished:
            log.write("event", 0.0, event=journal.event_to_json(Finish()), step="", then=[])
        else:
            log.write("begun", 0.0, session=str(uuid.uuid4()), checklist="correction",
                      title="Correction", digest="", rig=rig, place="", language="en",
                      record=sorted(record.facts), known=sorted(record.known), plan=[],
                      program=__version__, engine="", clock=str(uuid.uuid4()), rehearsal=False)
        for fact, yes in so.items():
            log.write("event", 0.0, event=journal.event_to_json(Correct(fact, yes)), step="",
                      then=[{"what": "changed", "on": [fact] if yes else [],
                             "off": [] if yes else [fact]}])
        if not unfinished:
            log.write("closed", 0.0, open=[])
    finally:
        log.close()
