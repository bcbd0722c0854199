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
from handsfree.hearing.types import SILENT_DBFS, Grammar, Heard, Recogniser, Rejection

TOO_LOUD_DBFS = -18.0
"""A noise floor above this leaves a shouted command no room below full scale."""


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
        """True while somebody seems to be speaking."""
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
        elif not self.endpointer.in_speech:
            self._end(self.endpointer.speech_start, self.endpointer.speech_end)
        elif self.endpointer.whole and self.floor_dbfs <= TOO_LOUD_DBFS:
            early = self._early.look(self.endpointer.silent)
            if early is not None:
                self._give(early, self.endpointer.speech_start)

    def _end(self, start: float, end: float) -> None:
        refused = self.endpointer.refusal
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
        self._forget()

    def _forget(self) -> None:
        self._speech = []
        self.endpointer.reset()
