"""After a month away from a checklist its long form is back; for those who use it, it is short."""

import os
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from handsfree.cli import wiring
from handsfree.session.conversation import Conversation
from handsfree.session.manner_file import OFTEN
from handsfree.testing import MemoryLog


def first_words(data: Path, days: float) -> str:
    """What an operator who has often arrived hears so many days after the last time."""
    made = wiring.plan("arrive", "small-single", data)
    (made.folder / "sessions").mkdir(parents=True)
    stamp = (datetime.now() - timedelta(days=days)).timestamp()
    for number in range(OFTEN):
        path = made.folder / "sessions" / f"{number + 1:06d}-arrive.jsonl"
        path.write_text("")
        os.utime(path, (stamp, stamp))
    manner = wiring.manner_for(made, data)
    conversation = Conversation(made.checklist, made.language, MemoryLog(), manner=manner)
    prompts = conversation.begin(made.checklist.start_facts | made.rig.has, 0.0)
    while not made.checklist.steps[conversation.state.at].hold:
        prompts = conversation.take(going_on(conversation), 1.0)
    return prompts[-1].text


def going_on(conversation: Conversation):  # type: ignore[no-untyped-def]
    from handsfree.engine.state import Answer, Done, Skip

    step = conversation.checklist.steps[conversation.state.at]
    return Answer(False) if step.question else Skip() if step.reading else Done()


@pytest.mark.parametrize(("days", "long"), ((2, False), (29, False), (33, True), (400, True)))
def test_the_long_form_returns(days: float, long: bool, tmp_path: Path) -> None:
    assert ("Answer:" in first_words(tmp_path, days)) is long
