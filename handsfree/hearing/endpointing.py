"""Frames in, the sound of one utterance out: where speech starts and where it has ended.

Pure (numpy only).  An adaptive gate on the energy of the speech band, whose floor follows the
surroundings.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from handsfree.audio import FRAME, SAMPLE_RATE, Samples
from handsfree.hearing.types import Reason


class Endpointer:
    """Streaming endpointer.

    trailing: seconds of silence that end an utterance.
    preroll: seconds of sound before the detected start that belong to it.
    shortest, longest: limits of an utterance in seconds, trailing silence not counted.
    """

    def __init__(
        self,
        *,
        trailing: float = 0.5,
        preroll: float = 0.26,
        shortest: float = 0.1,
        longest: float = 8.0,
    ) -> None:
        self._trailing = round(trailing * SAMPLE_RATE / FRAME)
        self._shortest = shortest
        self._longest = round(longest * SAMPLE_RATE / FRAME)
        self._past: deque[Samples] = deque(maxlen=max(1, round(preroll * SAMPLE_RATE / FRAME)))
        self._frames = 0
        self._floor = -60.0
        self.in_speech = False
        """True from the frame that starts an utterance to the one that ends it."""
        self.speech_start = 0.0
        """Start of this or the last utterance, pre-roll included, in seconds."""
        self.speech_end = 0.0
        """End of the last voiced frame of this or the last utterance, in seconds."""
        self.refusal: Reason | None = None
        """Why the utterance that has just ended cannot be one, or None."""
        self._voiced = 0
        self._quiet = 0

    @property
    def floor_dbfs(self) -> float:
        """The noise floor, RMS over the whole band in dB re full scale."""
        return self._floor

    def reset(self) -> None:
        """Forget the utterance under way; what is known of the surroundings stays."""
        self.in_speech = False
        self.refusal = None
        self._past.clear()
        self._voiced = self._quiet = 0

    def process(self, frame: Samples) -> Samples | None:
        """Take one frame of `FRAME` samples.

        Returns the sound to be recognised: None outside an utterance; pre-roll and frame at
        its start; the frame itself within it.  `in_speech` turns false with the last piece.
        """
        self._frames += 1
        level = 10.0 * float(np.log10(np.mean(np.square(frame, dtype=np.float64)) + 1e-9)) - 90.3
        voiced = level > self._floor + 9.0
        self._floor += (0.02 if level > self._floor else 0.2) * (level - self._floor)
        now = self._frames * FRAME / SAMPLE_RATE
        if not self.in_speech:
            self._past.append(frame)
            self._voiced = self._voiced + 1 if voiced else 0
            if self._voiced < 3:
                return None
            self.in_speech, self._quiet = True, 0
            piece = np.concatenate(self._past)
            self._past.clear()
            self.speech_start = now - len(piece) / SAMPLE_RATE
            self.speech_end = now
            self.refusal = None
            return piece
        self._quiet = 0 if voiced else self._quiet + 1
        self._voiced += voiced
        if voiced:
            self.speech_end = now
        if self._quiet >= self._trailing:
            self.in_speech = False
            if self._voiced * FRAME / SAMPLE_RATE < self._shortest:
                self.refusal = "too short"
        elif self._voiced > self._longest:
            self.in_speech, self.refusal = False, "too long"
        return frame
