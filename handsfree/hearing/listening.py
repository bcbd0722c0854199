"""Joins an endpointer and a recogniser: sound in, one `Heard` an utterance out.

Audio time only: a clock that counts samples, so that a rehearsal that runs faster than time
hears the same as a live session.  Imports this room's types and endpointing; no device.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

import numpy as np

from handsfree.audio import FRAME, SAMPLE_RATE, Samples, level_dbfs
from handsfree.hearing.early_finalisation import EarlyFinalisation, Patience, whole
from handsfree.hearing.endpointing import Endpointer
from handsfree.hearing.types import (
    SILENT_DBFS,
    Grammar,
    Heard,
    HearsPauses,
    Recogniser,
    Rejection,
    Span,
)

TOO_LOUD_DBFS = -18.0
"""A noise floor above this leaves a shouted command no room below full scale."""

PAUSE = 0.6
"""Seconds without a sound of speech that end an utterance, be the gate open for a gust: of 192 words
and phrases at 5 and 2 dB none had more than 0.43 between two sounds."""

LATE = 0.25
"""Seconds by which the recogniser hears a sound of speech later than it was, at most."""

UNVOICED, KEPT = 2.0, 1.0
"""So many seconds in which nobody spoke are forgotten but for the last ones, which may hold the start of
a word: the first sure sound came up to 0.8 s after it, and up to a quarter goes through at once (with 0.7
"three quarters of an inch" lost its "three")."""


class Listener:
    """Half-duplex ear: hears utterances, and nothing while it is deaf.

    Sound may be fed in pieces of any length; what is heard does not depend on how it is cut.
    """

    def __init__(self, recogniser: Recogniser, endpointer: Endpointer | None = None) -> None:
        self.recogniser = recogniser
        self.endpointer = endpointer or Endpointer()
        self._early = EarlyFinalisation(recogniser)
        self._rest: Samples = np.zeros(0, dtype=np.int16)
        self._frames = 0
        self._missed = 0.0
        self._deaf = False
        self._speech: list[Samples] = []
        self._heard: deque[Heard] = deque()

    @property
    def now(self) -> float:
        """Audio time in seconds: samples taken so far, deaf or not."""
        return (self._frames * FRAME + len(self._rest)) / SAMPLE_RATE

    @property
    def in_speech(self) -> bool:
        """True while somebody seems to be speaking: the gate is sure, or the recogniser heard it."""
        if self.endpointer.suspected:
            span = self._span()
            return span is not None and span.last is not None
        return self.endpointer.in_speech

    @property
    def floor_dbfs(self) -> float:
        """The noise floor as it is now, RMS in dB re full scale."""
        return self.endpointer.floor_dbfs

    @property
    def deaf(self) -> bool:
        """True between `mute` and `unmute`."""
        return self._deaf

    def expect(self, grammar: Grammar, finalisation_delay: Patience | None = None) -> None:
        """Take what may be said from the next utterance on, and what need not wait for the whole
        silence; by default, whatever phrase is complete."""
        self.recogniser.expect(grammar)
        self._early.finalisation_delay = finalisation_delay or whole(grammar)
        self.endpointer.eager = self._span() is not None

    def mute(self) -> None:
        """Go deaf: time goes on, nothing is heard, an utterance under way is forgotten."""
        self._deaf = True
        self._forget()

    def unmute(self) -> None:
        """Hear again, from the next frame on."""
        self._deaf = False
        self._forget()
        self.endpointer.cut()

    def feed(self, samples: Samples) -> Heard | None:
        """Take sound of any length; give back the oldest utterance not yet given, if any.

        One piece may be so long that several utterances end in it; the others come with the
        next calls (an empty piece will do).
        """
        self._rest = np.concatenate((self._rest, samples)) if len(self._rest) else samples
        while len(self._rest) >= FRAME:
            frame, self._rest = self._rest[:FRAME], self._rest[FRAME:]
            self._frames += 1
            if self._deaf:
                self._missed += FRAME / SAMPLE_RATE  # the endpointer's clock stands still
            else:
                self._take(frame)
        return self._heard.popleft() if self._heard else None

    def flush(self) -> Heard | None:
        """The sound has ended: close the utterance under way, if there is one."""
        if self.endpointer.in_speech and self._speech:
            self._end(self.endpointer.speech_start, self.now)
        return self._heard.popleft() if self._heard else None

    def _take(self, frame: Samples) -> None:
        was_in_speech = self.endpointer.in_speech
        piece = self.endpointer.process(frame)
        if piece is None:
            return
        if not was_in_speech:
            self._speech = []
            self.recogniser.begin()
        self._speech.append(piece)
        early = self.recogniser.feed(piece)
        if early is not None:
            self._give(early, self.endpointer.speech_start)
            return
        self._mind_pauses()
        if not self.endpointer.in_speech:
            self._end(self.endpointer.speech_start, self.endpointer.speech_end)
        elif self.endpointer.suspected:  # it may not see where the speech goes on
            return
        elif self.endpointer.whole and self.floor_dbfs <= TOO_LOUD_DBFS:
            early = self._early.look(self.endpointer.silent)
            if early is not None:
                self._give(early, self.endpointer.speech_start)

    def _span(self) -> Span | None:
        """Where speech was heard, by a recogniser that can tell."""
        return (self.recogniser.speech_span() if isinstance(self.recogniser, HearsPauses)
                else None)

    def _mind_pauses(self) -> None:
        """The recogniser hears better than the gate whether somebody still speaks."""
        span = self._span()
        if span is None or not self.endpointer.in_speech:
            return
        if span.last is not None:
            silent = self.endpointer.now - self.endpointer.speech_start - span.last
            self.endpointer.hold(silent + LATE)
            if span.heard - span.last >= PAUSE:
                self.endpointer.close()
        elif span.heard >= UNVOICED:
            kept = np.concatenate(self._speech)[-round(KEPT * SAMPLE_RATE):]
            self._speech = [kept]
            self.recogniser.begin()
            self.recogniser.feed(kept)
            self.endpointer.start_later(KEPT)

    def _end(self, start: float, end: float) -> None:
        refused, span = self.endpointer.refusal, self._span()
        if refused is not None and span is not None:
            if span.last is None:
                refused = "noise"
            elif refused == "too short":
                refused = None
        if refused is not None:
            self._give(Rejection(refused, 0.0, end - start), start)
        elif self.floor_dbfs > TOO_LOUD_DBFS:
            self._give(Rejection("too loud", 0.0, end - start), start)
        else:
            self._give(self.recogniser.finish(), start)

    def _give(self, heard: Heard, start: float) -> None:
        level = level_dbfs(np.concatenate(self._speech)) if self._speech else SILENT_DBFS
        self._heard.append(replace(
            heard,
            start=self._missed + start + heard.start,
            end=self._missed + start + heard.end,
            engine=heard.engine or self.recogniser.name,
            level_dbfs=float(max(SILENT_DBFS, level)),
        ))
        self._forget(getattr(heard, "reason", "") == "noise" and self._span() is not None)

    def _forget(self, nobody: bool = False) -> None:
        self._speech = []
        self.endpointer.reset(nobody=nobody)
