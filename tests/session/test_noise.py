"""A session that becomes loud and quiet again, on real sound: what it says, asks and writes down."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import SAMPLE_RATE, Samples, to_int16
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode
from handsfree.hearing.endpointing import Endpointer
from handsfree.hearing.listening import Listener
from handsfree.hearing.own import OwnRecogniser
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.model import Language
from handsfree.rehearsal.rehearsal import at_level, rehearse
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.session.understanding import Bands
from handsfree.sound.noise import NoiseStream
from handsfree.speaking.earcons import earcon
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.testing import MemoryLog

LIST = """\
title: Walk
facts: {chocked: the wheels are chocked}
steps:
  - {id: one, do: One.}
  - {id: two, do: Two.}
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked}
  - {id: three, do: Three.}
  - {id: four, do: Four.}
  - {id: five, do: Five.}
"""

LOUD_FROM, LOUD_TO = 5.0, 34.0


class Nothing:
    """An ear that is never asked."""

    name = "nothing"

    def expect(self, grammar: object) -> None: ...

    def begin(self) -> None: ...

    def feed(self, samples: Samples) -> None: ...

    def finish(self) -> Rejection:
        return Rejection("noise", 0.0, 0.0)

    def close(self) -> None: ...


class Brief:
    """Prompts as short tones: what they say does not matter to the ear."""

    def get(self, text: str) -> Samples:
        return np.full(SAMPLE_RATE // 2, 3000, dtype=np.int16)

    def ahead(self, texts: object) -> None: ...

    def tone(self, kind: str) -> Samples:
        return earcon(kind)


def generator() -> Callable[[int], Samples]:
    """A quiet place in which an engine runs for a while, as loud as the voice."""
    stream, at = NoiseStream("engine", 1), 0

    def pull(count: int) -> Samples:
        nonlocal at
        at += count
        loud = LOUD_FROM < at / SAMPLE_RATE < LOUD_TO
        return to_int16(stream.read(count) * 10 ** ((-26.0 if loud else -60.0) / 20 + 1))

    return pull


@pytest.fixture(scope="module")
def walk(tmp_path_factory: pytest.TempPathFactory) -> Checklist:
    path = tmp_path_factory.mktemp("lists") / "walk.yaml"
    path.write_text(LIST, encoding="utf-8")
    return load_checklist(path)


@pytest.fixture(scope="module")
def played(walk: Checklist, english: Language):  # type: ignore[no-untyped-def]
    log, own = MemoryLog(), OwnRecogniser(None, english.pronunciations)
    prompts: list[tuple[float, str]] = []
    from handsfree.session.ports import Watch
    with OperatorVoice("en-us", "m3") as voice:
        done, _ = rehearse(
            Script(work=5.0), walk, english, listener=Listener(own), sounds=Brief(),
            operator_voice=voice, log=log, noise=generator(),
            watch=Watch(prompt=lambda prompt, t: prompts.append((t, prompt.key))),
            begin=lambda c, t: c.begin(walk.start_facts, t), longest=120.0)
    return done, log, prompts


def test_it_says_once_that_it_is_loud_and_once_that_it_is_over(played) -> None:  # type: ignore
    done, log, prompts = played
    assert done.conversation.over and not done.baffled
    said = [(t, key) for t, key in prompts if key in ("too loud", "quiet again", "covered", "faint",
                                                      "clipped")]
    assert [key for _, key in said] == ["too loud", "quiet again"]
    assert LOUD_FROM + 1 < said[0][0] < LOUD_FROM + 14
    assert LOUD_TO < said[1][0] < LOUD_TO + 30
    lines = [line for line in log.lines if line.what == "noise"]
    assert [line.state for line in lines] == ["loud", "quiet again"]
    assert lines[0].floor > lines[1].floor + 20 and -32 < lines[0].voice < -20


def test_meanwhile_even_done_is_asked_about_and_afterwards_not(played) -> None:  # type: ignore
    _, log, prompts = played
    loud, quiet = (t for t, key in prompts if key in ("too loud", "quiet again"))
    heard = [line for line in log.lines if line.what == "heard" and line.text == "done"
             and line.confidence >= Bands().needed("done")]  # of less it is not sure anyway
    verdicts = {line.verdict for line in heard if loud < line.t < quiet}
    assert verdicts == {"asked"}
    assert {line.verdict for line in heard if not loud < line.t < quiet} == {"accepted"}
    asked = [t for t, key in prompts if key == "did you say"]
    assert any(loud < t < quiet for t in asked) and all(t < quiet + 1 for t in asked)


def wary(walk: Checklist, english: Language) -> Conversation:
    conversation = Conversation(walk, english, MemoryLog())
    conversation.begin(walk.start_facts, 0.0)
    conversation.wary = True
    return conversation


def hear(conversation: Conversation, words: str, engine: str = "own") -> list[str]:
    prompts = conversation.hear(Hypothesis(words, 1.0, 0.0, 0.5, engine=engine), 1.0)
    return [prompt.key for prompt in prompts]


def test_a_hold_point_is_as_strict_as_ever_and_no_stricter(
    walk: Checklist, english: Language
) -> None:
    conversation = wary(walk, english)
    hear(conversation, "go to chock")
    hear(conversation, "that is right")
    assert hear(conversation, "chocks set") == ["readback"]
    assert conversation.state.mode is Mode.CONFIRM
    assert hear(conversation, "that is right")[0] == "done hold"


def test_questions_are_answered_and_what_is_asked_can_be_denied(
    walk: Checklist, english: Language
) -> None:
    conversation = wary(walk, english)
    assert hear(conversation, "say again") == ["offer"]
    assert hear(conversation, "skip this") == ["did you say"]
    assert "withdrawn" in hear(conversation, "no change it")
    assert conversation.state.at == "one"


def test_from_a_pause_one_comes_back_and_keys_are_believed(
    walk: Checklist, english: Language
) -> None:
    conversation = wary(walk, english)
    assert hear(conversation, "done", "keyboard")[0] == "done"
    assert hear(conversation, "hold on") == ["did you say"]
    assert hear(conversation, "that is right") == ["paused"]
    assert "offer" in hear(conversation, "carry on")
    assert conversation.state.at == "two"


def test_slower_is_no_report_and_needs_no_question(walk: Checklist, english: Language) -> None:
    assert hear(wary(walk, english), "slow down") == ["manner.slower"]


def test_every_news_has_words(tmp_path: Path) -> None:
    from typing import get_args

    from handsfree.hearing.noise_monitor import News
    from handsfree.language.loader import language_names, load_language

    for code in language_names():
        templates = load_language(code).templates
        for news in get_args(News):
            assert not news or templates["too loud" if news == "loud" else news]


def test_it_says_that_it_may_not_hear_and_writes_it_down(
    walk: Checklist, english: Language
) -> None:
    """A speech gate that never opens, an operator who says "done" again and again in an engine."""
    log, prompts = MemoryLog(), []
    from handsfree.session.ports import Watch
    stream = NoiseStream("engine", 1)
    with OperatorVoice("en-us", "m3") as voice:
        word = at_level(voice.render("done"), -26.0)
        at = 0

        def pull(count: int) -> Samples:
            nonlocal at
            sound = stream.read(count) * 10.0 ** (-12 / 20)
            for start in range(count):
                place = (at + start) % (8 * SAMPLE_RATE)
                if place < len(word):
                    sound[start] += word[place]
            at += count
            return to_int16(sound)

        rehearse(
            Script(work=60.0), walk, english,
            listener=Listener(Nothing(), Endpointer(lambda chunk: 0.0)), sounds=Brief(),
            operator_voice=voice, log=log, noise=pull,
            watch=Watch(prompt=lambda prompt, t: prompts.append((t, prompt.key))),
            begin=lambda c, t: c.begin(walk.start_facts, t), longest=45.0)
    assert [key for _, key in prompts].count("unheard") == 1
    assert [line.state for line in log.lines if line.what == "noise"] == ["unheard"]
