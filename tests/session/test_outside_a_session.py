"""What is done between two sessions: a correction ends what hangs on it, a journal is found by its list
whatever that is called, and a file that cannot be read holds nothing up."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine.state import Confirm, Done, Event, Respond
from handsfree.language.model import Language
from handsfree.session import manner_file
from handsfree.session.conversation import Conversation
from handsfree.standby.reminder_file import FILE, Kept
from handsfree.storage import journal, record
from handsfree.storage.corrections import correct
from handsfree.storage.lasting import done_lately
from handsfree.storage.mastery import STAYS, known_by_heart
from handsfree.testing import MemoryLog

TESTED = """
title: Small
facts:
  lamp lit: {says: the lamp is lit}
  valve open: {says: the valve is open}
  line tested: {says: the line has been tested, evidence: {days: 7, void by: [valve open]}}
never:
  - {id: leak, when: lamp lit and not line tested, because: It leaks., now: Put the lamp out.,
     respond: lamp is out, ends: lamp lit}
steps:
  - {id: test, do: Test the line., respond: line is tested, gives: line tested}
  - {id: mat, do: Put the mat out.}
  - {id: light, do: Light the lamp., respond: lamp is lit, needs: line tested, gives: lamp lit}
"""

TWO = """
title: Small
steps:
  - {id: a, do: Put the mat out.}
  - {id: b, do: Light the lamp.}
"""


def _walked(folder: Path, checklist: Checklist, english: Language, *events: Event) -> None:
    log = journal.Journal(record.next_path(folder, checklist.id))
    talk = Conversation(checklist, english, log)
    talk.begin(frozenset(), 0.0, session=str(log.path), clock="x", rig="r", known=frozenset(),
               settled=frozenset(), traits=frozenset(), place="", engine="", program="1",
               rehearsal=False)
    for t, event in enumerate(events):
        talk.take(event, float(t))
    log.close()


def test_a_correction_ends_the_evidence_that_hangs_on_it(english: Language, tmp_path: Path) -> None:
    """Else the next session would count a test of a line that was opened since: its journal and the
    engine that replays it say the same."""
    path = tmp_path / "small.yaml"
    path.write_text(TESTED)
    small, folder = load_checklist(path), tmp_path / "rigs" / "r"
    _walked(folder, small, english, Respond(), Confirm())
    last = record.latest(folder, "r")
    assert last and "line tested" in last.facts
    facts = correct(folder, (small,), last, record.record_for(small, None, last), "r",
                    {"valve open": True})
    after = record.latest(folder, "r")
    assert after and facts == after.facts == {"valve open"}
    again = Conversation(small, english, MemoryLog())
    again.replay(frozenset(), journal.read(after.path).lines)
    assert again.state.facts == after.facts
    assert not done_lately(folder, small, after, datetime.now().astimezone())


def test_evidence_that_is_itself_put_on_record_stands(english: Language, tmp_path: Path) -> None:
    path = tmp_path / "small.yaml"
    path.write_text(TESTED)
    small, folder = load_checklist(path), tmp_path / "rigs" / "r"
    _walked(folder, small, english, Done())
    last = record.latest(folder, "r")
    facts = correct(folder, (small,), last, record.record_for(small, None, last), "r",
                    {"line tested": True, "valve open": True})
    assert facts == {"line tested", "valve open"}


@pytest.mark.parametrize("name", ["mylist", "My_List", "목록"])
def test_a_list_of_any_name_is_known_by_heart(
    name: str, english: Language, tmp_path: Path
) -> None:
    path, other = tmp_path / f"{name}.yaml", tmp_path / "다른.yaml"
    path.write_text(TWO), other.write_text(TWO)
    mine, folder = load_checklist(path), tmp_path / "rigs" / "r"
    for _ in range(manner_file.OFTEN):
        _walked(folder, mine, english, Done(), Done())
    now = datetime.now().astimezone()
    sessions = record.session_paths(folder)
    assert known_by_heart(folder, mine, "", now).walks == STAYS
    assert manner_file.remembered(tmp_path, sessions, mine.id, now).form == "brief"
    assert manner_file.remembered(tmp_path, sessions, "다른", now).form == "usual"
    assert known_by_heart(folder, load_checklist(other), "", now).walks == 0


@pytest.mark.parametrize("kept", [
    '[{"minutes": "1/0", "due": 1}]', '[{"minutes": "5", "due": 1e999}]', "[" * 100_000, '["x"]'])
def test_reminders_that_cannot_be_read_count_as_none(kept: str, tmp_path: Path) -> None:
    (tmp_path / FILE).write_text(kept)
    assert Kept(tmp_path, lambda: 0.0, lambda: 0.0).take_due(10.0) is None
