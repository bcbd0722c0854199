"""The ear that sleeps: what it sets aside unheard, and the call itself, in real audio."""

from random import Random

import numpy as np
import pytest

from benchmarks.call import Asleep, asleep, calling, sleeping
from handsfree.audio import SAMPLE_RATE, Samples, silence, to_int16
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.types import Glances, Grammar, Heard, Hypothesis, Recogniser, Span
from handsfree.language.loader import load_language
from handsfree.rehearsal.rehearsal import at_level, noise_source
from handsfree.session.failover import FailoverRecogniser
from handsfree.session.fault_reports import FaultReports
from handsfree.standby.wake_phrase import FIT, LONGEST, SHORTEST, SURE, WakePhraseListener
from handsfree.testing import ManualClock
from tests.hearing.speech import say

CALL = "hello trailer"


class Counting:
    """A recogniser that hears the call in everything, and counts what it is asked."""

    name = "counting"

    def __init__(self, fit: float = 0.0, sure: float = 1.0) -> None:
        self.fit, self.sure, self.finished, self.fed = fit, sure, 0, 0

    def expect(self, grammar: Grammar) -> None: ...

    def begin(self) -> None: ...

    def feed(self, samples: Samples) -> None:
        self.fed += len(samples)

    def fits(self, samples: Samples) -> float:
        return self.fit

    def finish(self) -> Heard:
        self.finished += 1
        return Hypothesis(CALL, self.sure, 0.0, 1.0)

    def close(self) -> None: ...


def heard(ear: WakePhraseListener, seconds: float) -> Heard:
    ear.begin()
    left = round(seconds * SAMPLE_RATE)
    while left > 0:
        assert ear.feed(np.zeros(min(320, left), dtype=np.int16)) is None
        assert ear.partial_result() is None
        left -= 320
    return ear.finish()


@pytest.mark.parametrize(("seconds", "fit", "sure", "called", "recognised"), [
    (1.7, 0.0, 1.0, True, 1), (SHORTEST - 0.1, 0.0, 1.0, False, 0),
    (LONGEST + 0.1, 0.0, 1.0, False, 0), (60.0, 0.0, 1.0, False, 0),
    (1.7, FIT - 0.1, 1.0, False, 0), (1.7, FIT + 0.1, SURE - 0.01, False, 1)])
def test_what_cannot_be_a_call_is_not_recognised(
    seconds: float, fit: float, sure: float, called: bool, recognised: int
) -> None:
    inner = Counting(fit, sure)
    ear = WakePhraseListener(inner, lambda: True)
    found = heard(ear, seconds)
    assert isinstance(found, Hypothesis) is called
    assert inner.finished == recognised == ear.recognised
    assert inner.fed <= LONGEST * SAMPLE_RATE + 320


def test_awake_it_is_the_recogniser_itself() -> None:
    inner = Counting(-8.0)
    assert isinstance(heard(WakePhraseListener(inner, lambda: False), 5.0), Hypothesis)


@pytest.fixture(scope="module")
def own() -> Recogniser:
    return open_recogniser("own", "en", None, load_language("en").pronunciations)


def test_where_speech_was_is_told_by_an_engine_that_can_and_not_asleep(own: Recogniser) -> None:
    def told(inner: Recogniser, sleeps: bool, sound: Samples) -> Span | None:
        steady = FailoverRecogniser(inner, lambda: inner, FaultReports(ManualClock()))
        ear = WakePhraseListener(steady, lambda: sleeps)
        ear.begin()
        ear.feed(sound)
        return ear.speech_span()

    call = np.concatenate((say(CALL), silence(0.3)))
    assert told(Counting(), True, call) is told(Counting(), False, call) is None
    assert told(own, True, call) is None
    span = told(own, False, call)
    assert span and span.first and 0.4 < span.first < (span.last or 0) < span.heard
    assert told(own, False, silence(1.0)) == Span(None, None, pytest.approx(1.0, abs=0.3))


def test_a_call_in_the_wind_is_heard_and_talk_like_it_is_not(own: Recogniser) -> None:
    assert isinstance(own, Glances)
    made = calling(own, CALL, [("plain", say(CALL))], ("", "wind"), 10.0,
                   Random(1))
    assert made.made == 2 and not made.missed
    talk = ["hello there", "the trailer is level", "yellow trailers", "trailer",
            "well hello my friend how is the trailer today"]
    pieces = [(text, np.concatenate((silence(0.8), at_level(say(text)), silence(0.9))))
              for text in talk]
    found = asleep(own, CALL, "talk", pieces)
    assert found.calls == [] and found.utterances >= 4, found
    assert found.recognised < found.glanced < found.utterances


def test_the_bench_would_count_a_false_call(own: Recogniser) -> None:
    sound = np.concatenate((silence(1.0), at_level(say(CALL)), silence(1.0)))
    found = asleep(own, CALL, "calls", [("a call", sound)])
    assert [about for _, about in found.calls] == ["a call"]
    assert found.a_day == pytest.approx(24 / found.hours)


def test_the_upper_limit_of_none_in_an_hour() -> None:
    """"Rule of three" (Hanley and Lippman-Hand, JAMA 249, 1983, from memory): 3 in the time seen."""
    assert Asleep("x", hours=24.0).at_most == pytest.approx(3.0, abs=0.01)


def test_noise_alone_is_no_call(own: Recogniser) -> None:
    ear, listener = sleeping(own, CALL)
    noise = noise_source("engine", -10.0)(8 * SAMPLE_RATE)
    assert listener.feed(to_int16(noise.astype(float))) is None
    assert not isinstance(listener.flush(), Hypothesis) and ear.recognised == 0
