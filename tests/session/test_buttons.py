"""A pedal or headset button: done where done counts, and the microphone only while it counts."""

from collections.abc import Iterator

import numpy as np
import pytest

from handsfree.audio import FRAME, SAMPLE_RATE, Samples, silence
from handsfree.checklist.model import Checklist
from handsfree.cli.wiring import buttons
from handsfree.errors import InputError
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Hypothesis
from handsfree.language.model import Language
from handsfree.rehearsal.rehearsal import at_level
from handsfree.session.conversation import Conversation
from handsfree.session.loop import Session
from handsfree.session.ports import Ports
from handsfree.session.push_to_talk import AFTER, PATIENCE, PushToTalk
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.testing import ManualClock, MemoryLog

# --- done ---------------------------------------------------------------------------------------

def said(conversation: Conversation, engine: str = "keyboard") -> str:
    prompts = conversation.hear(Hypothesis("done", 1.0, 0.0, 0.0, engine=engine), 1.0)
    return " | ".join(prompt.text for prompt in prompts)


def test_done_by_button_counts_at_ordinary_steps_only(
    small: Checklist, english: Language
) -> None:
    conversation = Conversation(small, english, MemoryLog())
    conversation.begin(small.start_facts, 0.0)
    assert said(conversation) == "Please answer yes or no."
    conversation.hear(Hypothesis("no", 1.0, 0, 0), 1.0)
    assert conversation.state.at == "chock"
    assert said(conversation) == "I need to hear: chocks set."
    conversation.hear(Hypothesis("chocks set", 1.0, 0, 0), 1.0)
    asked = said(conversation)
    assert asked.startswith("First say:")
    assert asked.endswith("Chocks set. Is that right?"), "of two questions nobody knows which"
    conversation.hear(Hypothesis("that is right", 1.0, 0, 0), 1.0)
    assert conversation.state.at == "pull away"
    assert said(conversation).endswith("Read the volts.")
    assert said(conversation) == "I need the reading, in volts."
    assert "hitched" not in conversation.state.facts and "chocked" in conversation.state.facts


def test_by_voice_it_is_told_what_is_wanted(small: Checklist, english: Language) -> None:
    conversation = Conversation(small, english, MemoryLog())
    conversation.begin(small.start_facts, 0.0)
    assert said(conversation, engine="own") == "Please answer yes or no."


def test_which_key_is_which() -> None:
    assert buttons(()) == (frozenset(), frozenset())
    assert buttons(("f9=talk", "B=done", "==done")) == (frozenset({"b", "="}), frozenset({"f9"}))
    for wrong, why in (("f9", "write KEY=done or KEY=talk"), ("f9=skip", "write KEY=done"),
                       ("pagedwn=done", "did you mean 'pagedown'"), ("1=done", "already taken"),
                       ("escape=talk", "already taken")):
        with pytest.raises(InputError, match=why):
            buttons((wrong,))
    with pytest.raises(InputError, match="cannot be both"):
        buttons(("b=done", "b=talk"))


# --- talk ---------------------------------------------------------------------------------------

def test_where_the_terminal_tells_it_counts_while_held() -> None:
    clock = ManualClock()
    talk = PushToTalk(clock)
    assert not talk.counts(False) and not talk.news()
    talk.pressed(True)
    assert talk.news() and not talk.news()
    clock.sleep(60)
    talk.heard()
    assert talk.counts(False)
    talk.released()
    assert talk.counts(False)
    clock.sleep(AFTER + 0.1)
    assert talk.counts(True), "the word that was begun is heard to its end"
    assert not talk.counts(False)


def test_elsewhere_it_counts_to_the_end_of_what_is_said() -> None:
    clock = ManualClock()
    talk = PushToTalk(clock)
    talk.pressed(False)
    clock.sleep(PATIENCE - 1)
    assert talk.counts(True)
    clock.sleep(60)
    assert talk.counts(True)
    talk.heard()
    assert not talk.counts(False)
    talk.pressed(False)
    clock.sleep(PATIENCE + 1)
    assert not talk.counts(False), "nobody spoke"


class Still:
    """A loudspeaker that is done at once."""

    playing = False
    stopped = 0

    def play(self, samples: Samples) -> None:
        pass

    def stop(self) -> None:
        self.stopped += 1


class Quiet:
    """No voice is needed here."""

    def get(self, text: str) -> Samples:
        return silence(0.01)

    def ahead(self, texts: list[str]) -> None:
        pass

    def tone(self, kind: str) -> Samples:
        return silence(0.01)


class Mouth:
    """A microphone into which somebody says the same words again and again."""

    def __init__(self, sound: Samples) -> None:
        self._frames = self._endless(sound)
        self.t = 0.0

    def _endless(self, sound: Samples) -> Iterator[Samples]:
        rng = np.random.default_rng(1)
        while True:
            for place in range(0, len(sound) - FRAME, FRAME):
                hiss = rng.normal(0, 8, FRAME)
                yield (sound[place:place + FRAME] + hiss).clip(-32768, 32767).astype(np.int16)

    def read(self) -> Samples:
        self.t += FRAME / SAMPLE_RATE
        return next(self._frames)


def test_in_the_real_loop_nothing_is_heard_unless_it_is_pressed(
    small: Checklist, english: Language
) -> None:
    with OperatorVoice(english.voice, "m3", 150) as voice:
        word = np.concatenate([silence(1.5), at_level(voice.render("what is left")), silence(1.5)])
    mouth = Mouth(word)
    talk = PushToTalk(lambda: mouth.t)
    log, speaker = MemoryLog(), Still()
    recogniser = open_recogniser("own", "en", None, english.pronunciations)
    conversation = Conversation(small, english, log)
    session = Session(conversation, Ports(
        log, Listener(recogniser), mouth, speaker, Quiet(), lambda: mouth.t, button=talk))

    def turns(seconds: float) -> int:
        before = sum(line.what == "heard" for line in log.lines)
        for _ in range(round(seconds * SAMPLE_RATE / FRAME)):
            session.turn()
        return sum(line.what == "heard" for line in log.lines) - before

    round_trip = len(word) / SAMPLE_RATE
    session.open(conversation.begin(small.start_facts, 0.0))
    turns(round_trip)  # the surroundings are measured first
    assert turns(3 * round_trip) == 0
    talk.pressed(False)
    assert turns(3 * round_trip) == 1, "from the press to the end of one utterance"
    assert speaker.stopped == 1
    talk.pressed(True)
    assert turns(3 * round_trip) in (2, 3), "while it is held"
    talk.released()
    turns(round_trip)
    assert turns(3 * round_trip) == 0
    heard = [line.text for line in log.lines if line.what == "heard" and line.text]
    assert set(heard) == {"what is left"}
    recogniser.close()
