"""Corrections of a rig's record outside a session: journaled, so that replaying still tells all.

May import the journal, the record, the checklist model, engine state and the language room.  Whoever
calls `correct` holds the rig's lock.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from pathlib import Path

from handsfree import __version__
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.engine import changes
from handsfree.engine.state import Correct, Finish
from handsfree.language.statements import Clauses
from handsfree.session import journal
from handsfree.session.expecting import on_this_rig
from handsfree.session.record import Record, SessionFile, next_path


def tellable(lists: Iterable[Checklist], rig: Rig) -> dict[str, Clauses]:
    """What can be said to be different on this rig, with the clauses that tell it: every fact that
    a step or a question of it is about, so that of a rig without a sewer hose "the hose" means the
    water hose.  What one checklist has for other rigs only, such as the sewer hose at arrival, is
    not taken from another that is about nothing else.
    """
    found: dict[str, Clauses] = {}
    foreign: set[str] = set()
    for checklist in lists:
        here, elsewhere = set[str](), set[str]()
        for step in checklist.steps.values():
            about = step.gives | step.ends | ({step.id} if step.question else set())
            if step.remedy:
                remedy = checklist.remedies[step.remedy]
                about = about | remedy.gives | remedy.ends
            (here if on_this_rig(checklist, step, rig.has) else elsewhere).update(about)
        foreign |= elsewhere - here
        for name in here & changes.correctable(checklist):
            fact = checklist.facts[name]
            found[name] = Clauses(fact.says, fact.otherwise)
    return {name: told for name, told in found.items() if name not in foreign}


def told_back(so: Mapping[str, bool], clauses: Mapping[str, Clauses]) -> str:
    """What was understood, in the record's own words: "the awning is in; the step is in"."""
    return "; ".join(clauses[fact].of(yes) for fact, yes in so.items())


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
