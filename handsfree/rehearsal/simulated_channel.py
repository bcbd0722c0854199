"""The air of a rehearsal: operator, noise and program as samples, on a clock that counts them.

May import numpy, the sample format, sound's noise and mixing.  It is microphone, loudspeaker and
clock at once, so that the session's loop cannot tell it from a sound card.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from handsfree.audio import FRAME, SAMPLE_RATE, Samples, to_int16
from handsfree.rehearsal.operator import Operator
from handsfree.session.wording import Prompt

REACTION = 0.6
"""Seconds between the end of a prompt and the operator's answer to it, besides the work."""

IMPATIENCE = 5.0
"""Seconds of silence after which the operator says it again."""


class SimulatedChannel:
    """Microphone, loudspeaker and clock of a rehearsal."""

    def __init__(
        self,
        operator: Operator,
        speak: Callable[[str], Samples],
        *,
        work: float = 2.0,
        noise: Callable[[int], Samples] | None = None,
        real_time: bool = False,
        said: Callable[[str, float], None] = lambda words, t: None,
    ) -> None:
        """Put an operator into the air.

        Args:
            speak: the operator's voice, already at its level over the noise.
            work: seconds that the operator takes for a step before answering its challenge.
            noise: gives the next n samples of noise.
            real_time: keep to the wall clock instead of running as fast as the machine can.
            said: is told of the operator's words as they start.
        """
        self._operator = operator
        self._speak = speak
        self._work = work
        self._noise = noise
        self._real_time = real_time
        self.said = said
        self._frames = 0
        self._program = np.zeros(0, dtype=np.int16)
        self._mouth = np.zeros(0, dtype=np.int16)
        self._due: float | None = None
        self._quiet_since = 0.0
        self._left: list[Samples] = []
        self._right: list[Samples] = []
        self._began = time.monotonic()
        self.away = 0.0
        """Seconds of `now` that the operator was away, which pass at once."""

    # --- clock and loudspeaker ---------------------------------------------------------------

    def now(self) -> float:
        """Audio time in seconds."""
        return self._frames * FRAME / SAMPLE_RATE

    @property
    def playing(self) -> bool:
        """Whether the program still speaks."""
        return len(self._program) > 0

    def play(self, samples: Samples) -> None:
        """The program starts to speak."""
        self._program = np.concatenate([self._program, samples])

    def stop(self) -> None:
        """The program is interrupted."""
        self._program = self._program[:0]

    def hear(self, prompt: Prompt) -> None:
        """The operator hears a prompt; they answer when the program is silent."""
        self._operator.hear(prompt)
        self._frames += round(self._operator.gone * SAMPLE_RATE / FRAME)
        self.away += self._operator.gone
        self._operator.gone = 0.0
        self._due = None

    # --- microphone --------------------------------------------------------------------------

    def read(self) -> Samples:
        """The next frame as the microphone picks it up."""
        if self._real_time:
            ahead = self._began + self.now() - time.monotonic()
            if ahead > 0:
                time.sleep(ahead)
        self._act()
        mine, self._mouth = self._take(self._mouth)
        theirs, self._program = self._take(self._program)
        sound = mine.astype(np.float64)
        if self._noise is not None:
            sound = sound + self._noise(FRAME)
        frame = to_int16(sound)
        self._left.append(frame)
        self._right.append(theirs)
        self._frames += 1
        return frame

    def recording(self) -> tuple[Samples, Samples]:
        """Everything so far: (operator with noise, program), equally long."""
        return np.concatenate(self._left), np.concatenate(self._right)

    def _take(self, sound: Samples) -> tuple[Samples, Samples]:
        head = sound[:FRAME]
        if len(head) < FRAME:
            head = np.concatenate([head, np.zeros(FRAME - len(head), dtype=np.int16)])
        return head, sound[FRAME:]

    def _act(self) -> None:
        """The operator speaks when the program has been silent long enough."""
        now = self.now()
        if self.playing or len(self._mouth):
            self._quiet_since = now
            self._due = None
            return
        if self._due is None:
            words = self._operator.answer()
            if words:
                self._due = now + REACTION + (self._work if self._operator.works else 0.0)
                self._words = words
            elif now - self._quiet_since > IMPATIENCE:
                self._quiet_since = now
                self._operator.unanswered()
            return
        if now >= self._due:
            self._due = None
            self.said(self._words, now)
            self._mouth = self._speak(self._words)
