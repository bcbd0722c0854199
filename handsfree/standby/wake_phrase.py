"""Listens for the call phrase: gate first, then a glance, and only then the recogniser.

May import hearing's types.  While it sleeps almost nothing that is said is meant for it, so nearly
all of it is set aside without being recognised: what is too short or too long by its length, most
of the rest by a glance of the first network (`hearing.types.Glances`), and what is left is heard
against nothing but the call.  Awake, the recogniser is passed through as it is.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.hearing.early_finalisation import PartialResults
from handsfree.hearing.types import (
    Glances,
    Grammar,
    Heard,
    HearsPauses,
    Hypothesis,
    Recogniser,
    Rejection,
    Span,
)

SHORTEST, LONGEST = 0.9, 3.2
"""Seconds of an utterance that may be a call, with the silence around it that the gate leaves
(some 0.7 s): "hello trailer" takes 0.6 to 1.4 s."""

FIT = -5.0
"""Least `Glances.fits` of what is heard any further.  Synthetic calls of "hello trailer" at 10 dB had
-0.3 and more, but people who called "athena" -6.1 to -1.5; of 223 recorded utterances of other things
some thirty had more than -5."""

SURE = 0.85
"""Confidence from which a call counts."""


class WakePhraseListener:
    """A `Recogniser` that hears nothing but calls while `asleep` says so."""

    def __init__(self, inner: Recogniser, asleep: Callable[[], bool]) -> None:
        self.name = inner.name
        self._inner = inner
        self._asleep = asleep
        self._mine = False
        self._sound: list[Samples] = []
        self.heard = self.glanced = self.recognised = 0
        """Utterances asleep; those that had the length; those that also had the sound."""

    def expect(self, grammar: Grammar) -> None:
        """See `Recogniser.expect`."""
        self._inner.expect(grammar)

    def begin(self) -> None:
        """See `Recogniser.begin`."""
        self._mine, self._sound = self._asleep(), []
        if not self._mine:
            self._inner.begin()

    def feed(self, samples: Samples) -> Hypothesis | None:
        """See `Recogniser.feed`; asleep the sound is only kept, and no more than a call's."""
        if not self._mine:
            return self._inner.feed(samples)
        if sum(map(len, self._sound)) <= LONGEST * SAMPLE_RATE:
            self._sound.append(samples)
        return None

    def prepare(self) -> None:
        """See `PartialResults`; asleep there is no hurry."""
        if not self._mine and isinstance(self._inner, PartialResults):
            self._inner.prepare()

    def partial_result(self) -> Heard | None:
        """See `PartialResults`; asleep nothing is taken early."""
        if self._mine or not isinstance(self._inner, PartialResults):
            return None
        return self._inner.partial_result()

    def speech_span(self) -> Span | None:
        """See `HearsPauses`; asleep nothing is heard before it is over."""
        if self._asleep() or self._mine or not isinstance(self._inner, HearsPauses):
            return None
        return self._inner.speech_span()

    def finish(self) -> Heard:
        """See `Recogniser.finish`."""
        if not self._mine:
            return self._inner.finish()
        self._mine = False
        sound, self._sound = np.concatenate(self._sound), []
        seconds = len(sound) / SAMPLE_RATE
        self.heard += 1
        if seconds > LONGEST:
            return Rejection("too long", 0.0, seconds)
        if seconds < SHORTEST:
            return Rejection("too short", 0.0, seconds)
        self.glanced += 1
        if isinstance(self._inner, Glances) and self._inner.fits(sound) < FIT:
            return Rejection("unclear", 0.0, seconds)
        self.recognised += 1
        self._inner.begin()
        self._inner.feed(sound)
        heard = self._inner.finish()
        if isinstance(heard, Hypothesis) and heard.confidence < SURE:
            return Rejection("unclear", heard.start, heard.end, heard.text, heard.confidence)
        return heard

    def close(self) -> None:
        """The recogniser is somebody else's."""
