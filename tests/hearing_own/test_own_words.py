"""Sentences in the speaker's own words, by ear, in a voice that trained no network."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest

from handsfree.audio import Samples, silence
from handsfree.hearing.own.recogniser import OwnRecogniser
from handsfree.hearing.types import Heard, Hypothesis
from handsfree.language.loader import load_language
from handsfree.rehearsal.rehearsal import at_level
from handsfree.speaking.operator_voice import OperatorVoice
from tests.session.by_ear import heard_of
from tests.session.wordings import outcome, state_at, talk_at

Hear = Callable[[str, str], Heard]


@pytest.fixture(scope="module")
def hear() -> Iterator[Hear]:
    """Says words at a moment, and gives back what was heard."""
    language = load_language("en")
    recogniser = OwnRecogniser(pronunciations=language.pronunciations)
    with OperatorVoice(language.voice, "f2", 150) as speaker:
        def one(words: str, moment: str) -> Heard:
            talk = talk_at(moment)
            talk.state = state_at(moment)[1]
            sound: Samples = np.concatenate((silence(0.8), at_level(speaker.render(words))))
            return heard_of(recogniser, talk.grammar(), sound)

        yield one
    recogniser.close()


@pytest.mark.parametrize(("moment", "words", "came"), [
    ("step", "okay I think that's got it, done", "done"),
    ("step", "please repeat the step", "repeat"),
    ("remedy", "unfortunately it is still dripping", "problem"),
    ("reading volts", "I think it's one eighteen", "= 118"),
    ("reading feet", "I measured thirty feet, thank you", "= 30"),
    ("hold chocks set", "what do I have to do", "repeat"),
    ("hold no gas smell", "there is no gas smell now", "wanted"),
    ("confirm plain", "no I said something else", "deny"),
])
def test_they_are_understood(hear: Hear, moment: str, words: str, came: str) -> None:
    heard = hear(words, moment)
    assert outcome(words, moment, heard=heard) == came, heard


@pytest.mark.parametrize(("moment", "words"), [
    ("hold chocks set", "um the chocks are not set"), ("hold chocks set", "do the chocks have to be set"),
    ("hold chocks set", "okay, now which chocks are set"), ("hold chocks hold", "no the chocks do not hold, thank you"),
    ("hold breaker is off", "so is the breaker off now"), ("hold gas is shut", "well the gas is almost shut"),
    ("hold coupler is down", "okay, the coupler is not down"), ("confirm grave", "um, that's not right, thank you"),
    ("confirm grave", "okay okay, that's done"),
    ("reading volts", "is one eighteen okay"), ("reading volts", "it's not one eighteen"),
])
def test_nothing_grave_is_taken_of_what_asks_denies_or_guesses(hear: Hear, moment: str, words: str) -> None:
    heard = hear(words, moment)
    came = outcome(words, moment, heard=heard)
    assert came in ("nothing", "wanted", "deny", "repeat", "detail", "problem", "pause") or (
        came.startswith("ask ") and isinstance(heard, Hypothesis) and not heard.own_words), (heard, came)
