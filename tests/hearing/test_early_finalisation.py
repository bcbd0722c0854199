"""Taking an utterance before its silence is full: only what is certain, complete and asked for."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from handsfree.audio import Samples, silence
from handsfree.hearing.early_finalisation import FIRM, QUICK, whole
from handsfree.hearing.listening import Listener
from handsfree.hearing.own import OwnRecogniser
from handsfree.hearing.pocketsphinx_engine import SphinxRecogniser
from handsfree.hearing.types import Grammar, Heard, Hypothesis
from handsfree.language.loader import load_language
from tests.hearing.speech import in_noise, say

GRAMMAR = Grammar(frozenset({
    "done", "done with the ramps", "what is left", "tell me more", "hold on", "chocks set"}))


@pytest.fixture(scope="module")
def own() -> OwnRecogniser:
    return OwnRecogniser(None, load_language("en").pronunciations)


def spoken(text: str) -> tuple[Samples, float]:
    """Sound with two seconds of silence behind, and when the speech in it ends."""
    sound = np.concatenate((silence(1), say(text)))
    loud = np.flatnonzero(np.abs(sound.astype(int)) > np.abs(sound).max() / 40)
    end = int(loud[-1]) + 1
    return np.concatenate((sound[:end], silence(2.0))), end / 16_000


def heard_after(listener: Listener, sound: Samples, end: float) -> tuple[Heard, float]:
    """The first thing heard, and how many seconds after the end of the speech."""
    for at in range(0, len(sound) - 319, 320):
        heard = listener.feed(sound[at : at + 320])
        if heard is not None:
            return heard, listener.now - end
    raise AssertionError("nothing was heard")


def waited(recogniser: object, text: str, patience: object = None,
           noise: str = "") -> tuple[Heard, float]:
    sound, end = spoken(text)
    listener = Listener(recogniser)  # type: ignore[arg-type]
    listener.expect(GRAMMAR, patience)  # type: ignore[arg-type]
    return heard_after(listener, in_noise(sound, noise, 15) if noise else sound, end)


@pytest.mark.parametrize("text", ["what is left", "tell me more", "chocks set"])
def test_a_complete_phrase_is_taken_before_the_silence_is_full(
    own: OwnRecogniser, text: str
) -> None:
    full, long = waited(own, text, lambda words: inf)
    early, short = waited(own, text)
    assert isinstance(early, Hypothesis) and isinstance(full, Hypothesis)
    assert early.text == full.text == text
    assert early.start == pytest.approx(full.start, abs=0.05)
    assert short <= long - 0.3


def test_in_wind_too(own: OwnRecogniser) -> None:
    heard, after = waited(own, "what is left", noise="wind")
    assert isinstance(heard, Hypothesis) and heard.text == "what is left"
    assert after < waited(own, "what is left", lambda words: inf, "wind")[1] - 0.2


def test_what_a_longer_phrase_begins_with_waits(own: OwnRecogniser) -> None:
    heard, after = waited(own, "done")
    assert isinstance(heard, Hypothesis) and heard.text == "done"
    assert after == pytest.approx(waited(own, "done", lambda words: inf)[1], abs=0.03)


def test_a_pause_within_the_longer_phrase_does_not_cut_it(own: OwnRecogniser) -> None:
    first, second = spoken("done")[0], spoken("with the ramps")[0]
    voiced = np.flatnonzero(np.abs(second.astype(int)) > 300)[0]
    sound = np.concatenate((first[: len(first) - 32_000], silence(0.3), second[voiced:]))
    listener = Listener(own)
    listener.expect(GRAMMAR)
    heard, _ = heard_after(listener, sound, 0.0)
    assert isinstance(heard, Hypothesis) and heard.text == "done with the ramps"


def test_who_knows_what_the_words_would_do_says_how_long_they_wait(own: OwnRecogniser) -> None:
    asked: list[str] = []

    def firm(words: str) -> float:
        asked.append(words)
        return FIRM

    quick = waited(own, "chocks set", lambda words: QUICK)[1]
    later = waited(own, "chocks set", firm)[1]
    assert later == pytest.approx(quick + FIRM - QUICK, abs=0.05)
    assert asked == ["chocks set", "chocks set"]


def test_uncertain_words_are_never_taken_early(own: OwnRecogniser) -> None:
    asked: list[str] = []

    def quick(words: str) -> float:
        asked.append(words)
        return QUICK

    waited(own, "the weather was lovely there", quick)
    assert not asked


def test_an_engine_that_cannot_tell_waits() -> None:
    plain = SphinxRecogniser()
    heard, after = waited(plain, "what is left")
    plain.close()
    assert isinstance(heard, Hypothesis) and after > 0.45


def test_asking_so_far_changes_nothing(own: OwnRecogniser) -> None:
    sound = say("tell me more")
    own.expect(GRAMMAR)
    results = []
    for ask in (False, True):
        own.begin()
        for at in range(0, len(sound), 1600):
            own.feed(sound[at : at + 1600])
            if ask:
                own.partial_result()
        results.append(own.finish())
    assert results[0] == results[1]
    assert isinstance(results[0], Hypothesis)


def test_by_words_alone_readings_and_beginnings_wait() -> None:
    patience = whole(Grammar(frozenset({"skip", "skip this", "oh well", "oh"}),
                             frozenset({"one", "oh"}), frozenset({"volts"})))
    assert patience("skip this") == patience("oh well") == QUICK
    assert patience("skip") == patience("one") == patience("one volts") == patience("oh") == inf
