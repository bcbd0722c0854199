"""Hears a few words while the program speaks, and takes its own voice out of what it hears.

May import numpy, ``handsfree.audio``, this room's types, endpointing and echo filter, and
pywebrtc-audio (late): WebRTC's echo canceller (AEC3).  That one tells when somebody speaks: of the
program's own voice it leaves next to nothing, but little of theirs.  What they say is recognised in
what our own filter leaves.  Both are given what the loudspeaker plays.  With a headset there is no
echo, and all goes the same way.  Whatever is none of these words is set aside: nothing else that is
said meanwhile is heard.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from handsfree.audio import FRAME, SAMPLE_RATE, Samples, level_dbfs
from handsfree.hearing.echo import SPAN, EchoFilter
from handsfree.hearing.endpointing import Endpointer
from handsfree.hearing.types import Glances, Grammar, Hypothesis, Recogniser, normal

TRAILING = 0.25
"""Seconds of silence that end one of the words: whoever says "stop" wants it soon."""

LONGEST = 2.6
"""Seconds of an utterance, with the silence around it, beyond which it is none of the words."""

FIT = -3.0
"""Least `Glances.fits` of what is recognised; what is left of an echo mostly has less."""

ABOVE, FAINT_DBFS = 9.0, -62.0
"""Somebody speaks where so many decibels more than the noise are left, and at least this level."""

SURE = 0.9
"""Confidence from which a word counts."""


def words_that_stop(wordings: Iterable[str]) -> Grammar:
    """These wordings, and those of one word also said twice."""
    said = [normal(words) for words in wordings]
    return Grammar(frozenset(said) | {f"{word} {word}" for word in said if " " not in word})


class WhileSpeaking:
    """An ear under the program's own voice.

    recogniser: shared with whoever listens between the prompts; its grammar is changed.
    reference: what the loudspeaker gave out while the last frame came in; shape ``(n,)`` as it.
    Raises ImportError where pywebrtc-audio is missing.
    """

    def __init__(
        self, recogniser: Recogniser, grammar: Grammar, reference: Callable[[], Samples]
    ) -> None:
        from pywebrtc_audio import EchoCanceller

        self._recogniser, self._grammar, self._reference = recogniser, grammar, reference
        self._canceller, self._filter = EchoCanceller(SAMPLE_RATE), EchoFilter()
        self._endpointer = Endpointer(trailing=TRAILING)
        self._length = 0
        kept = round(LONGEST * SAMPLE_RATE / FRAME)
        self._left: deque[Samples] = deque(maxlen=kept)
        self._played: deque[Samples] = deque(maxlen=kept + SPAN)
        self.recognised = 0
        """Utterances that the recogniser was asked about."""

    def begin(self) -> None:
        """The program has begun to speak; what was heard before is forgotten."""
        self._endpointer.cut()
        self._length = 0

    def listen(self, frame: Samples) -> Hypothesis | None:
        """Take a frame of the microphone; one of the words, when its end has been heard."""
        played = self._reference()
        self._played.append(played)
        theirs = self._canceller.process(frame, played)
        self._left.append(self._filter.process(frame, played, learn=not self._somebody(theirs)))
        piece = self._endpointer.process(theirs)
        if piece is None:
            return None
        self._length += len(piece)
        if self._endpointer.in_speech:
            return None
        length, self._length = self._length, 0
        if self._endpointer.refusal or length > LONGEST * SAMPLE_RATE:
            return None
        return self._judged(np.concatenate(self._left)[-length:])

    def _somebody(self, theirs: Samples) -> bool:
        """Whether more is left than the noise around: the filter would be led astray by it."""
        return level_dbfs(theirs) > max(self._endpointer.floor_dbfs + ABOVE, FAINT_DBFS)

    def _judged(self, sound: Samples) -> Hypothesis | None:
        heard = self._recognised(sound)
        if heard is None or heard.confidence < SURE or self._said_itself(heard.text, len(sound)):
            return None
        return replace(heard, engine=self._recogniser.name, level_dbfs=float(level_dbfs(sound)))

    def _said_itself(self, word: str, length: int) -> bool:
        """Whether the program said the word, of which something may have been left."""
        own = self._recognised(np.concatenate(self._played)[-length - SPAN * FRAME:])
        return own is not None and own.text == word

    def _recognised(self, sound: Samples) -> Hypothesis | None:
        recogniser = self._recogniser
        recogniser.expect(self._grammar)
        if isinstance(recogniser, Glances) and recogniser.fits(sound) < FIT:
            return None
        self.recognised += 1
        recogniser.begin()
        recogniser.feed(sound)
        heard = recogniser.finish()
        return heard if isinstance(heard, Hypothesis) else None
