"""The loop over in-memory air: half duplex, true times, notes; the words are given, not heard."""

from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import SAMPLE_RATE, Samples, seconds
from handsfree.checklist.model import Checklist
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Heard, Hypothesis
from handsfree.language.model import Language
from handsfree.rehearsal.rehearsal import rehearse
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.speaking.earcons import earcon
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.testing import MemoryLog


class Told:
    """A recogniser that is told what the operator says: real sound, given words."""

    name = "told"

    def __init__(self) -> None:
        self.words = ""

    def expect(self, grammar: object) -> None: ...
    def begin(self) -> None: ...
    def feed(self, samples: Samples) -> None: ...
    def close(self) -> None: ...

    def finish(self) -> Heard:
        return Hypothesis(self.words, 1.0, 0.0, 0.5)


class Spoken:
    """The operator's voice, which also tells the recogniser."""

    def __init__(self, voice: OperatorVoice, told: Told) -> None:
        self.voice, self.told, self.name = voice, told, voice.name

    def render(self, text: str) -> Samples:
        self.told.words = text
        return self.voice.render(text)


class Beeps:
    """Prompts as tones of a length, since what they say does not matter here."""

    def get(self, text: str) -> Samples:
        return np.full(round(0.05 * len(text) * SAMPLE_RATE), 3000, dtype=np.int16)

    def ahead(self, texts: object) -> None: ...

    def tone(self, kind: str) -> Samples:
        return earcon(kind)


@pytest.fixture(scope="module")
def played(small: Checklist, english: Language):  # type: ignore[no-untyped-def]
    told, log = Told(), MemoryLog()
    with OperatorVoice("en-us", "m3") as voice:
        script = Script(work=1.0, at={"mat": ("hold on",)})
        done, air = rehearse(
            script, small, english, listener=Listener(told), sounds=Beeps(),
            operator_voice=Spoken(voice, told), log=log,
            begin=lambda c, t: c.begin(small.start_facts, t))
    return done, air, log


def test_the_session_closes_and_both_channels_have_its_length(played) -> None:  # type: ignore
    done, air, log = played
    assert done.conversation.over and not done.baffled
    left, right = air.recording()
    assert len(left) == len(right) and abs(seconds(left) - done.duration) < 0.05
    assert "closed" in [x.what for x in log.lines[-5:]]


def test_nothing_is_heard_while_the_program_speaks(played) -> None:  # type: ignore
    _, _, log = played
    spoke = [(x.begin, x.end) for x in log.lines if x.what == "spoke"]
    heard = [(x.begin, x.end) for x in log.lines if x.what == "heard"]
    assert len(heard) == 9
    for begin, end in heard:
        assert all(end <= start or begin >= stop for start, stop in spoke), (begin, end)


def test_what_was_heard_has_its_time_on_the_sessions_clock(played) -> None:  # type: ignore
    done, _, log = played
    said = [turn.t for turn in done.turns if turn.who == "operator"]
    heard = [x.begin for x in log.lines if x.what == "heard"]
    for start, when in zip(said, heard, strict=False):
        assert abs(start - when) < 0.4, (start, when)


def test_pulling_the_plug_in_a_note_loses_nothing_else(tmp_path: Path, small: Checklist,
                                                       english: Language) -> None:
    log = MemoryLog()
    conversation = Conversation(small, english, log)
    conversation.begin(small.start_facts, 0.0)
    conversation.hear(Hypothesis("no", 1.0, 0, 0), 1.0)
    conversation.hear(Hypothesis("make a note", 1.0, 0, 0), 2.0)
    assert conversation.noting
    before = conversation.state
    conversation.noted(3.0, "note.wav")
    assert conversation.state == before and not conversation.noting
    assert log.lines[-1].what == "note" and log.lines[-1].step == "chock"
