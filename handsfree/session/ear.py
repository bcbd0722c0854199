"""Listens for a session: deaf when it has to be, told what may be said, keeping the last sound.

May import the ports, hearing's types and audio.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, seconds
from handsfree.hearing.types import Heard, Hypothesis
from handsfree.hearing.while_speaking import words_that_stop
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
        self._under = ports.under(words_that_stop(talk.language.commands["pause"])) if (
            ports.under) else None
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
            if self._under:
                self._under.begin()
                self._moment = self._expecting = None  # which the other ear may change
        elif not deaf and self._listener.deaf:
            self._listener.unmute()
        if not deaf and self._talk.moment is not self._moment:
            self._moment = self._talk.moment  # each frame would be half a core's work
            grammar = self._talk.grammar()
            if grammar != self._expecting:
                self._listener.expect(grammar, self._talk.finalisation_delay)
                self._expecting = grammar
        return self._listener.feed(frame)

    def stopped(self, frame: Samples) -> Hypothesis | None:
        """While it is deaf for the program's own voice: whether somebody wants it to stop."""
        if self._under is None or not self._listener.deaf or (
                self._button and not self._button.counts(False)):
            return None
        heard = self._under.listen(frame)
        if heard is None:
            return None
        now = self._listener.now
        return replace(heard, start=now - heard.end + heard.start, end=now)
