"""A danger outlives finish, kill and resume: it is said first, and its answer listened for."""

from pathlib import Path

import pytest

from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.crew.crew import Crew
from handsfree.engine.state import Mode
from handsfree.hearing.types import Hypothesis
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.session.opening import Started, go_on, start_new
from handsfree.session.wording import Prompt
from handsfree.storage.corrections import correct
from handsfree.storage.record import latest, record_for
from handsfree.testing import MemoryLog, talk

RIG = Rig("trailer")
AWAY = Script(at={"volts": ("take back chocks",)})
"""The truck is away, then the chocks turn out not to be in."""


def begun(started: Started, small: Checklist, english: Language
          ) -> tuple[Conversation, list[Prompt]]:
    conversation = Conversation(small, english, started.log)
    return conversation, started.begin(conversation, 0.0, started.log)


def say(conversation: Conversation, *words: str) -> list[Prompt]:
    prompts = []
    for one in words:
        prompts = conversation.hear(Hypothesis(one, 1.0, 1.0, 2.0), 2.0)
    return prompts


def endangered(folder: Path, small: Checklist, english: Language, *then: str) -> None:
    started = start_new(small, RIG, folder, {})
    conversation, _ = begun(started, small, english)
    said = say(conversation, "no", "chocks set", "that is right", "done", "take back chocks")
    assert said[-1].key == "alarm"
    say(conversation, *then)
    started.log.close()


@pytest.mark.parametrize("then", [(), ("finish for now",), ("wheels are chocked",),
                                  ("finish for now", "finish for now")])
def test_resumed_it_is_the_first_word_and_its_answer_is_listened_for(
    tmp_path: Path, small: Checklist, english: Language, then: tuple[str, ...]
) -> None:
    endangered(tmp_path, small, english, *then)
    started = go_on(small, tmp_path)
    conversation, prompts = begun(started, small, english)
    assert prompts[0].key == "alarm" and "wheels are chocked" in prompts[0].text
    assert not conversation.over and conversation.state.mode is Mode.ALARM
    assert say(conversation, "done")[-1].key in ("alarm", "unclear")
    said = say(conversation, "wheels are chocked", "that is right")
    assert [prompt.key for prompt in said][0] == "danger over"
    assert "chocked" in conversation.state.facts
    started.log.close()


def test_a_correction_that_endangers_an_unfinished_session_is_said_on_resuming(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    started = start_new(small, RIG, tmp_path, {})
    talk(small, english, Script(at={"volts": ("finish for now",)}), started=started)
    started.log.close()
    last = latest(tmp_path)
    correct(tmp_path, (small,), last, record_for(small, RIG, last), RIG.name, {"chocked": False})
    started = go_on(small, tmp_path)
    conversation, prompts = begun(started, small, english)
    assert prompts[0].key == "alarm" and not conversation.over
    started.log.close()


def test_a_new_session_begins_with_it_and_not_with_its_title(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    endangered(tmp_path, small, english, "finish for now")
    started = start_new(small, RIG, tmp_path, {})
    conversation, prompts = begun(started, small, english)
    assert prompts[0].key == "alarm" and not conversation.over
    assert say(conversation, "wheels are chocked", "that is right")[-1].key == "offer"
    started.log.close()


def test_it_comes_before_what_is_said_of_the_record(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    endangered(tmp_path, small, english)
    path = latest(tmp_path).path  # type: ignore[union-attr]
    path.write_bytes(path.read_bytes() + b'{"n": 99, "at": "2026')
    started = go_on(small, tmp_path)
    _, prompts = begun(started, small, english)
    assert [prompt.key for prompt in prompts][:2] == ["alarm", "torn"]
    started.log.close()


def test_two_operators_are_both_told_and_listened_to(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    started = start_new(small, RIG, tmp_path, {})
    crew = Crew(small, english, started.log)
    started.begin(crew.lead, 0.0, started.log)
    said = say(crew.lead, "no", "chocks set", "that is right", "done", "take back chocks")
    assert said[-1].key == "alarm"
    say(crew.lead, "finish for now")
    started.log.close()
    started = go_on(small, tmp_path, 2)
    crew = Crew(small, english, started.log)
    assert started.begin(crew.lead, 0.0, started.log)[0].key == "alarm"
    told = crew.partners["inside"].remind(1.0)
    assert told[0].key == "alarm" and not crew.lead.over
    say(crew.partners["inside"], "wheels are chocked", "that is right")
    assert crew.lead.state.mode is not Mode.ALARM
    started.log.close()


def test_two_who_both_answer_do_not_undo_each_others_readback(
    small: Checklist, english: Language
) -> None:
    crew = Crew(small, english, MemoryLog())
    crew.lead.begin(small.start_facts - {"hitched"}, 0.0)
    other = crew.partners["inside"]
    other.remind(1.0)
    assert say(crew.lead, "wheels are chocked")[-1].key == "readback"
    other.remind(1.0)
    assert say(other, "wheels are chocked")[-1].key == "readback"
    crew.lead.remind(1.0)
    assert crew.lead.state.mode is Mode.CONFIRM
    assert say(crew.lead, "that is right")[0].key == "danger over"
    assert other.state.mode is not Mode.ALARM and "chocked" in other.state.facts
