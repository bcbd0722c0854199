"""Listens for a session: deaf when it has to be, told what may be said, keeping the last sound.

May import the ports, hearing's types and audio.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, seconds
from handsfree.hearing.types import Heard
from handsfree.session.ports import Ports, Talk

KEPT = 20.0
"""Seconds of sound kept in memory, from which a note can be cut."""

MEASURED = 0.6
"""Seconds of listening before the first word: how loud it is, for the voice and for hearing."""


class Ear:
    """From frames to utterances."""

    def __init__(self, talk: Talk, ports: Ports) -> None:
        self._talk = talk
        self._listener = ports.listener
        self._button = ports.button
        self._measuring = MEASURED
        self._moment: object = None
        self._expecting: object = None
        self._kept: deque[Samples] = deque()
        self._kept_seconds = 0.0

    @property
    def measured(self) -> bool:
        """Whether it is known how loud it is around."""
        return self._measuring <= 0

    @property
    def open_and_quiet(self) -> bool:
        """Whether it listens and nobody speaks."""
        return not self._listener.deaf and not self._listener.in_speech

    def keep(self, frame: Samples) -> None:
        """Remember the sound for a while."""
        self._kept.append(frame)
        self._kept_seconds += seconds(frame)
        while self._kept_seconds > KEPT:
            self._kept_seconds -= seconds(self._kept.popleft())

    def cut(self, heard: Heard) -> Samples:
        """The sound of the utterance that has just ended."""
        sound = np.concatenate(list(self._kept))
        back = round((self._listener.now - heard.start + 0.3) * SAMPLE_RATE)
        return sound[-min(back, len(sound)):]

    def listen(self, frame: Samples, covered: bool) -> Heard | None:
        """Take in a frame; an utterance, where one has ended.

        Args:
            covered: the program speaks, and is not to hear itself.
        """
        deaf = covered and self.measured
        if self._button and self.measured:
            deaf = deaf or not self._button.counts(self._listener.in_speech)
        self._measuring -= seconds(frame)
        if deaf and not self._listener.deaf:
            self._listener.mute()
        elif not deaf and self._listener.deaf:
            self._listener.unmute()
        if not deaf and self._talk.moment is not self._moment:
            self._moment = self._talk.moment  # each frame would be half a core's work
            grammar = self._talk.grammar()
            if grammar != self._expecting:
                self._listener.expect(grammar, self._talk.finalisation_delay)
                self._expecting = grammar
        return self._listener.feed(frame)
