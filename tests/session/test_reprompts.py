"""Somebody who is not understood is told another way each time, and never left in silence."""

from __future__ import annotations

from itertools import pairwise

import pytest

from handsfree.checklist.model import Checklist
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.loader import language_names, load_language
from handsfree.language.model import Language
from handsfree.session.conversation import Conversation
from handsfree.session.reprompts import TONE, reprompt
from handsfree.testing import MemoryLog
from tests.faults.parts import Stage

MUMBLES = [Rejection("unclear", 0.0, 1.0), Hypothesis("purple elephants", 0.9, 0.0, 1.0),
           Hypothesis("chocks set", 0.3, 0.0, 1.0)]
"""Nothing that may be said; words that mean nothing; words that were not surely heard."""


class Mumbler:
    """A recogniser that hears fifteen times nothing that it can use, of three kinds."""

    name = "mumbler"

    def __init__(self, times: int) -> None:
        self.left = times

    def expect(self, grammar: object) -> None: ...
    def begin(self) -> None: ...
    def feed(self, samples: object) -> None: ...
    def close(self) -> None: ...

    def finish(self) -> Rejection | Hypothesis:
        self.left -= 1
        return MUMBLES[self.left % 3]


@pytest.mark.parametrize("moment", ["question", "hold point", "reading"])
def test_fifteen_times_unintelligible(small: Checklist, moment: str) -> None:
    english = load_language("en")
    stage = Stage(small, english, MemoryLog(), recogniser=Mumbler(10**6), pause=1.0,
                  mute_until=10**6)
    chunks = iter(range(10**9))
    stage.detector = lambda chunk: float(next(chunks) % 250 < 60)  # two seconds in eight
    stage.room.longest = 140.0

    def begin(talk: Conversation):  # type: ignore[no-untyped-def]
        first = talk.begin(small.start_facts, 0.0)
        words = {"question": (), "hold point": ("no",),
                 "reading": ("no", "chocks set", "that is right", "done")}[moment]
        for said in words:
            first = talk.hear(Hypothesis(said, 1.0, 0.0, 0.0), 0.0)
        return first

    stage.play(begin)
    heard = [line for line in stage.log.lines if line.what == "heard" and line.t > 1]
    assert len(heard) >= 15
    answers = [prompt for _, prompt in stage.prompts if prompt.key == "unclear"]
    assert len(answers) >= len(heard) - 1, "each is answered at least by a tone"
    texts = [p.text for p in answers if p.text]
    assert max(map(texts.count, texts)) <= 3
    assert all(a != b for a, b in pairwise(texts)), "never the same twice in a row"
    assert texts.count("I did not catch that.") <= 1
    wanted = {"question": "Please answer yes or no.", "hold point": "I need to hear: chocks set.",
              "reading": "I need the reading, in volts."}[moment]
    assert texts[1] == wanted and texts.count(wanted) >= 2
    assert ("digits" in " ".join(texts)) is (moment == "reading")
    assert "colon" in " ".join(texts)
    assert stage.conversation.state.at == {"question": "water here", "hold point": "chock",
                                           "reading": "volts"}[moment]


def test_a_box_without_keys_is_told_nothing_of_keys() -> None:
    assert "hard keys" not in {reprompt(n, reading=True, keys=False) for n in range(1, 200)}
    assert "hard keys" in {reprompt(n, reading=True, keys=True) for n in range(1, 9)}


def test_endless_noise_gets_a_sentence_now_and_then_only() -> None:
    ways = [reprompt(n, reading=False, keys=True) for n in range(1, 101)]
    assert ways[5:].count(TONE) > 75 and ways[-24:].count(TONE) < 24
    assert ways.count("unclear") == 1


@pytest.mark.parametrize("code", language_names())
def test_the_ways_are_told_in_every_language(code: str) -> None:
    templates = load_language(code).templates
    for reading in (True, False):
        for n in range(1, 10):
            key = reprompt(n, reading=reading, keys=True)
            assert key in ("wanted", TONE) or templates[key]


def test_it_begins_anew_once_something_was_understood(small: Checklist, english: Language) -> None:
    """Two mumbles, a word, two mumbles: the first answer comes twice."""
    stage = Stage(small, english, MemoryLog(), pause=1.0)
    stage.conversation = Conversation(small, english, MemoryLog())
    from handsfree.hearing.listening import Listener
    from handsfree.session.loop import Session
    from handsfree.session.ports import Ports
    session = Session(stage.conversation, Ports(
        MemoryLog(), Listener(stage.recogniser), stage.room, stage.speaker, stage.sounds,
        stage.clock))
    talk = stage.conversation
    talk.begin(small.start_facts, 0.0)
    said = []
    for heard in (MUMBLES[0], MUMBLES[1], Hypothesis("help", 1.0, 0, 0), MUMBLES[0], MUMBLES[1]):
        said.append(session._patiently(talk.hear(heard, 1.0))[0].text)
    assert said[0] == said[3] == "I did not catch that." and said[1] == said[4]
    assert said[1] == "Please answer yes or no."
