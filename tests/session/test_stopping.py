""""Stop" in the middle of a prompt: what the session does, with an ear that hears it on time."""

from collections.abc import Callable

import pytest

from handsfree.audio import Samples, silence
from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode
from handsfree.hearing.types import Grammar, Hypothesis
from handsfree.language.model import Language
from handsfree.session.conversation import Conversation
from handsfree.session.wording import Prompt
from handsfree.testing import MemoryLog, ScriptedRecogniser
from tests.faults.parts import QuickSounds, Stage


class SlowSounds(QuickSounds):
    """Each prompt takes three seconds."""

    def get(self, text: str) -> Samples:
        return silence(3.0)


class Under:
    """Hears "stop" once, a second into the prompt that `into` picks."""

    def __init__(self, stage: Stage, into: Callable[[], bool]) -> None:
        self.stage, self.into, self.frames = stage, into, 0
        self.grammars: list[Grammar] = []

    def __call__(self, grammar: Grammar) -> "Under":
        self.grammars.append(grammar)
        return self

    def begin(self) -> None:
        self.stage.recogniser.expect(self.grammars[0])  # as the real one may

    def listen(self, frame: Samples) -> Hypothesis | None:
        self.frames = self.frames + 1 if self.into() else 0
        return Hypothesis("stop", 0.92, 0.1, 0.5, engine="own") if self.frames == 50 else None


@pytest.fixture
def stage(small: Checklist, english: Language) -> Stage:
    stage = Stage(small, english, MemoryLog(), mute_until=1e9)
    stage.sounds = SlowSounds()
    stage.room.longest = 30.0
    return stage


def test_the_prompt_ends_and_the_list_holds(stage: Stage) -> None:
    under = Under(stage, lambda: stage.prompts[-1][1].key == "offer")
    conversation = stage.play(under=under)
    assert conversation.state.mode is Mode.PAUSED
    cut, = (line.seconds for line in stage.log.lines if line.what == "spoke" and line.key == "offer")
    assert cut == pytest.approx(1.0, abs=0.1)
    assert [key for _, prompt in stage.prompts if (key := prompt.key)][-1] == "paused"
    (heard,) = (line for line in stage.log.lines if line.what == "heard")
    assert (heard.text, heard.verdict) == ("stop", "accepted")
    assert {"stop", "hold on", "wait", "stop stop"} <= under.grammars[0].phrases
    assert not {"done", "skip", "yes"} & under.grammars[0].phrases


def test_between_prompts_it_listens_for_what_may_be_said_then(stage: Stage) -> None:
    assert isinstance(stage.recogniser, ScriptedRecogniser)
    stage.play(under=Under(stage, lambda: False))
    assert "done" in stage.recogniser.grammars[-1].phrases


def test_an_alarm_is_spoken_to_its_end(stage: Stage) -> None:
    danger = Prompt("alarm", "Danger!", stage.checklist.rules[0].id, tone="alarm")

    def begin(conversation: Conversation) -> list[Prompt]:
        return [*conversation.begin(stage.checklist.start_facts, 0.0,
                                    known=frozenset(stage.checklist.facts)), danger]

    stage.play(begin, under=Under(stage, lambda: stage.prompts[-1][1].key == "alarm"))
    (told,) = (line for line in stage.log.lines if line.what == "spoke" and line.key == "alarm")
    assert told.seconds >= 3.0


def test_without_such_an_ear_nothing_is_heard_meanwhile(stage: Stage) -> None:
    conversation = stage.play()
    assert conversation.state.mode is Mode.STEP
