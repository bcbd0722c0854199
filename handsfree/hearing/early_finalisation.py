"""When an utterance may be taken before its trailing silence is full.

Imports this room's types.  A recogniser that can say cheaply what it has heard so far (`PartialResults`)
is asked when the speech gate has been shut for a while; whoever knows what the words would do says
how long a pause they need (`Patience`).  What is not certain, or may go on, waits for the whole
silence.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from typing import Protocol, TypeAlias, runtime_checkable

from handsfree.hearing.types import Grammar, Heard, Hypothesis

AHEAD = 0.06
"""Seconds before it is asked, a recogniser may do what can be done by then."""

QUICK, FIRM = 0.12, 0.32
"""Seconds of silence after which it is asked.  Sounds within words close for some 0.1 s, people
leave about 0.2 s between turns (Stivers et al., PNAS 106, 2009); the gate itself shuts some 0.04 s
after the speech in quiet, 0.1 s in wind."""

SURE = 0.95
"""Least confidence of what is taken early: more than is needed after the whole silence."""

Patience: TypeAlias = Callable[[str], float]
"""Seconds of silence that a text needs before it is taken: `QUICK`, `FIRM`, or inf for all of it.
"""


@runtime_checkable
class PartialResults(Protocol):
    """What a recogniser may be able to do besides; engines that cannot leave it out."""

    def prepare(self) -> None:
        """There is a pause, and `partial_result` may be asked soon: do what can be done by now."""

    def partial_result(self) -> Heard | None:
        """What `finish` would say now; the utterance goes on as if it had not been asked."""


def whole(grammar: Grammar) -> Patience:
    """The patience that follows from the words alone: quick for a phrase with which no longer one
    begins; a reading may always go on."""
    def finalisation_delay(text: str) -> float:
        more = f"{text} "
        if text not in grammar.phrases or grammar.numbers.issuperset(text.split()):
            return inf
        return inf if any(p.startswith(more) for p in grammar.phrases) else QUICK

    return finalisation_delay


def wait_for_silence(text: str) -> float:
    """The patience that takes nothing early."""
    return inf


class EarlyFinalisation:
    """Asks a recogniser at the right moments of one utterance after another."""

    def __init__(self, recogniser: object) -> None:
        self._recogniser = recogniser if isinstance(recogniser, PartialResults) else None
        self.finalisation_delay: Patience = wait_for_silence
        self._asked = 0.0

    def look(self, silent: float) -> Hypothesis | None:
        """What may be taken now, `silent` seconds after the gate last saw speech."""
        before, self._asked = self._asked, silent
        if self._recogniser is None or silent <= before:  # speech goes on
            return None
        if any(before < due - AHEAD <= silent for due in (QUICK, FIRM)):
            self._recogniser.prepare()
        if not any(before < due <= silent for due in (QUICK, FIRM)):
            return None
        heard = self._recogniser.partial_result()
        if not isinstance(heard, Hypothesis) or heard.confidence < SURE:
            return None
        return heard if self.finalisation_delay(heard.text) <= silent else None
