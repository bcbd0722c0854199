"""Between stop and resume: the checklist edited, the rig changed, the clock moved."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from handsfree.checklist.model import Checklist, Fact, Origin
from handsfree.checklist.rig_file import Rig
from handsfree.language.loader import language_names, load_language
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session import opening
from handsfree.session.conversation import Conversation
from handsfree.session.opening import go_on, start_new
from handsfree.session.wording import Prompt
from handsfree.storage import journal
from handsfree.storage.record import latest
from handsfree.testing import talk

RIG = Rig("trailer")


@pytest.fixture
def stopped(tmp_path: Path, small: Checklist, english: Language) -> Path:
    """A record with a session that was finished for now, the truck away and the chocks in."""
    started = start_new(small, RIG, tmp_path, {})
    talk(small, english, Script(at={"volts": ("finish for now",)}), started=started)
    started.log.close()
    assert not latest(tmp_path).ended  # type: ignore[union-attr]
    return tmp_path


def resumed(checklist: Checklist, language: Language, folder: Path, rig: Rig = RIG
            ) -> tuple[Conversation, list[Prompt]]:
    started = go_on(checklist, folder, 1, rig, {"rehearsal": True})
    conversation = Conversation(checklist, language, started.log)
    prompts = started.begin(conversation, 0.0, started.log)
    started.log.close()
    return conversation, prompts


def test_an_edited_checklist_is_begun_anew_from_the_record_and_that_is_said(
    stopped: Path, small: Checklist, english: Language
) -> None:
    conversation, prompts = resumed(replace(small, digest="another"), english, stopped)
    assert prompts[0].text.startswith("This checklist was edited since we stopped")
    assert prompts[0].tone == "attention" and prompts[-1].about == "water here"
    assert conversation.state.facts >= {"chocked"} and "hitched" not in conversation.state.facts
    assert latest(stopped).number == 2  # type: ignore[union-attr]
    _, prompts = resumed(replace(small, digest="another"), english, stopped)
    assert prompts[0].key == "offer" and latest(stopped).number == 2  # type: ignore[union-attr]


def test_a_changed_rig_is_begun_anew_and_that_is_said(
    stopped: Path, small: Checklist, english: Language
) -> None:
    facts = {**small.facts, "mast": Fact("mast", Origin.TRAIT, says="it has a mast")}
    with_mast = replace(small, facts=facts)
    rig = Rig("trailer", frozenset({"mast"}))
    conversation, prompts = resumed(with_mast, english, stopped, rig)
    assert prompts[0].text.startswith("The rig file has changed since we stopped")
    assert {"chocked", "mast"} <= conversation.state.facts


def test_nothing_changed_goes_on_where_it_stopped(
    stopped: Path, small: Checklist, english: Language
) -> None:
    conversation, prompts = resumed(small, english, stopped)
    assert [prompt.key for prompt in prompts] == ["offer"]
    assert conversation.state.at == "volts" and latest(stopped).number == 1  # type: ignore


@pytest.mark.parametrize(("moved", "said"), [
    (timedelta(hours=-3), "The clock is behind the last entry in the record."),
    (timedelta(days=9), "The last entry in the record is nine days old. If that cannot be right,"),
    (timedelta(hours=5), "")])
def test_a_clock_that_was_moved_is_told(
    stopped: Path, small: Checklist, english: Language, monkeypatch: pytest.MonkeyPatch,
    moved: timedelta, said: str,
) -> None:
    class Moved(datetime):
        @classmethod
        def now(cls, tz=None):  # type: ignore[no-untyped-def]
            return datetime.now(tz) + moved

    monkeypatch.setattr(opening, "datetime", Moved)
    conversation, prompts = resumed(small, english, stopped)
    told = [prompt.text for prompt in prompts if prompt.key.startswith("clock")]
    assert (told[0].startswith(said) and len(told) == 1) if said else not told
    assert conversation.state.at == "volts", "no order hangs on the clock"


def test_the_order_on_disk_does_not_hang_on_the_clock(
    stopped: Path, small: Checklist, english: Language, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Yesterday(datetime):
        @classmethod
        def now(cls, tz=None):  # type: ignore[no-untyped-def]
            return datetime.now(tz) - timedelta(days=400)

    monkeypatch.setattr(journal, "datetime", Yesterday)
    started = start_new(small, RIG, stopped, {})
    talk(small, english, started=started)
    started.log.close()
    found = latest(stopped)
    assert found and found.number == 2 and not found.faults and found.ended


@pytest.mark.parametrize("code", language_names())
def test_every_language_says_why(
    stopped: Path, small: Checklist, code: str
) -> None:
    _, prompts = resumed(replace(small, digest="x"), load_language(code), stopped)
    assert prompts[0].key == "begun anew.edited" and prompts[0].text
