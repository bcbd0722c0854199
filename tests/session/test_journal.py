"""The journal: on disk at once, torn lines set aside, damage named, replay gives the state."""

import json
import os
from pathlib import Path

import pytest

from handsfree.checklist.model import Checklist
from handsfree.engine import state as events
from handsfree.errors import InputError, StorageError
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.storage import journal, lines
from handsfree.storage.journal import Journal
from handsfree.storage.lines import Unknown, event_from_json, event_to_json
from handsfree.storage.record import latest, lock, next_path, record_for, session_paths
from handsfree.testing import talk

EVERY = [events.Done(), events.Respond(), events.Read("low"), events.Answer(True),
         events.Confirm(), events.Deny(), events.Skip(), events.GoTo("x"), events.TakeBack("y"),
         events.TakeBack(), events.Problem(), events.Pause(), events.Resume(), events.Finish(),
         events.Correct("hitched", False), events.Ask("why"), events.Unclear("noise"),
         events.Unsure(events.GoTo("x")), events.Due("x"), events.Expired("f")]


@pytest.mark.parametrize("event", EVERY, ids=str)
def test_every_event_survives_the_journal(event: events.Event) -> None:
    assert event_from_json(json.loads(json.dumps(event_to_json(event)))) == event
    kinds = {type(e) for e in EVERY}
    assert kinds == set(events.Event.__subclasses__())


def test_a_line_is_on_disk_when_write_returns(tmp_path: Path) -> None:
    log = Journal(tmp_path / "a.jsonl")
    log.write(Unknown("begun", {"record": []}), 0.0)
    assert len(journal.read(tmp_path / "a.jsonl").lines) == 1  # read by another handle
    assert os.stat(tmp_path / "a.jsonl").st_mode & 0o077 == 0
    log.close()


@pytest.mark.parametrize("cut", [1, 5, 20])
def test_a_torn_last_line_is_set_aside_and_the_rest_goes_on(tmp_path: Path, cut: int) -> None:
    path = tmp_path / "a.jsonl"
    log = Journal(path)
    for n in range(3):
        log.write(lines.Event(events.Done(), ""), float(n))
    log.close()
    whole = path.read_bytes()
    path.write_bytes(whole[:-cut])
    found = journal.read(path)
    assert len(found.lines) == 2 and found.torn and not found.damaged
    log = Journal(path)
    assert log.set_aside
    log.write(lines.Event(events.Skip(), ""), 3.0)
    log.close()
    again = journal.read(path)
    assert [line.n for line in again.lines] == [1, 2, 3] and not again.torn
    assert path.with_suffix(".torn").read_bytes().strip() == whole.splitlines()[2][:-cut + 1
                                                             or None].strip()


def test_a_damaged_middle_is_reported_with_its_line_and_the_rest_is_used(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    log = Journal(path)
    for n in range(4):
        log.write(lines.Event(events.Done(), ""), float(n))
    log.close()
    raw = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([raw[0], b"\x00garbage\n", raw[2], raw[3]]))
    found = journal.read(path)
    assert found.damaged == (2,) and len(found.lines) == 3


def test_what_an_event_led_to_cannot_be_parted_from_it(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    log = Journal(path)
    changed = lines.Changed(frozenset({"x"}), frozenset())
    log.write(lines.Event(events.Done(), "", then=(changed,)), 1.0)
    log.close()
    assert len(path.read_text().splitlines()) == 1
    assert [line.what for line in journal.read(path).lines] == ["event", "changed"]


def test_an_unwritable_folder_is_one_sentence(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(InputError, match="cannot be written"):
        Journal(blocked / "a.jsonl")
    with pytest.raises(InputError, match="cannot be written"):
        with lock(blocked / "rig"):
            pass


def test_only_one_process_at_a_time_has_a_rig(tmp_path: Path) -> None:
    with lock(tmp_path / "rig"):
        with pytest.raises(StorageError, match="another session is running"):
            with lock(tmp_path / "rig"):
                pass
    with lock(tmp_path / "rig"):
        pass


SCRIPTS = [
    Script(),
    Script(at={"chock": ("go to pull away", "skip"), "mat": ("skip", "skip")}),
    Script(readings={"volts": ("ninety volts", "ninety one", "one eighteen")}),
    Script(at={"volts": ("take back chocks",), "mat": ("take it back", "hold on")}),
    Script(at={"volts": ("finish for now",)}, answers={"water here": True}),
]


@pytest.mark.parametrize("script", SCRIPTS)
def test_replaying_a_journal_gives_the_state_that_was_left(
    small: Checklist, english: Language, script: Script
) -> None:
    told = talk(small, english, script)
    again = Conversation(small, english, told.log)
    first = told.log.lines[0]
    again.replay(first.record, tuple(told.log.lines))
    assert again.state == told.conversation.state


def test_the_record_is_what_the_last_session_left(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    folder = tmp_path / "rig"
    for number in (1, 2):
        path = next_path(folder, "small")
        assert path.name == f"{number:06d}-small.jsonl"
        log = Journal(path)
        last = latest(folder) if number == 2 else None
        record = record_for(small, None, last)
        conversation = Conversation(small, english, log)
        conversation.begin(record.facts, 0.0, known=frozenset(record.known))
        for event in (events.Answer(True), events.Respond(), events.Confirm(), events.Done()):
            conversation.take(event, 1.0)
        log.close()
        left = latest(folder)
        assert left and left.facts == conversation.state.facts
        assert {"chocked"} <= left.facts and "hitched" not in left.facts and not left.ended
    assert len(session_paths(folder)) == 2


def test_order_on_disk_does_not_depend_on_the_clock(tmp_path: Path) -> None:
    folder = tmp_path / "rig"
    (folder / "sessions").mkdir(parents=True)
    for name in ("000010-a.jsonl", "000009-b.jsonl", "000011-c.jsonl", "x.jsonl"):
        (folder / "sessions" / name).write_text("")
    assert [path.name[:6] for path in session_paths(folder)] == ["000009", "000010", "000011"]
    assert next_path(folder, "../../etc").name == "000012-etc.jsonl"
