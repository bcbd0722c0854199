"""How sure a single word has to be where nothing hangs on it that could hurt, and a word said again.

Pure data and what it is about.  May import the checklist model and the engine.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from handsfree.checklist.model import INSIDE, Checklist
from handsfree.engine.state import Answer, Done, Event, Mode, State

AT_EASE: Mapping[str, Mapping[str, float]] = {"en": {"done": 0.90, "no": 0.80, "yes": 0.85}}
"""Language -> word -> the confidence with which it is acted on `at_ease`; every other word, and these
elsewhere, need what `Bands.needed` says (0.95).

Chosen in the noises that trained (rain, waves, city, wind, summer night): said live by flite's rms and
espeak's klatt2 and steph at 10 and 5 dB, and 484 recordings of people that were not meant for it, clean and
at 10 and 5 dB, at a step and at a question (1,413 times each).  Said and heard as such with
that confidence, and taken for it though not meant:

done at a step      of 45 and 60   0.95: 27, 23   0.90: 33, 26   0.80: 37, 28
                    not meant      0.95: 0        0.90: 0        0.80: 1 ("nine", 0.89; three more from 0.7 on)
no to a question    of 15 and 15   0.95: 5, 4     0.80: 10, 6    not meant 0 from 0.63 on
yes to a question   of 15 and 15   0.95: 14, 11   0.85: 15, 13   not meant 0 ("affirmative" once, 0.71)
skip                of 15 and 15   0.95: 13, 11   0.80: 13, 12   so nothing to win

A lone "down" in rain had 0.91 and 0.64 for "done", which is why that is not lower.  What judged
it stands in MODEL_CARD.md.
"""

AGAIN = 20.0
"""Seconds within which a word said again counts together with what was heard before it."""


def at_ease(event: Event | None, checklist: Checklist, state: State) -> bool:
    """Whether nobody's safety hangs on this event here, should nobody have meant it.

    A report of a step that may be done by heart, at which nothing moves and nobody handles what can
    hurt, and none of whose facts is guarded; the answer to a question that a place is remembered by.
    """
    step = checklist.steps.get(state.at)
    if step is None or state.mode is not Mode.STEP or state.broken or state.remedies:
        return False
    if isinstance(event, Answer):
        return bool(step.recalled) and step.id not in checklist.guarded
    return (isinstance(event, Done) and step.kind == "step" and step.by_heart
            and step.acts <= {INSIDE} and step.id not in checklist.followers
            and checklist.guarded.isdisjoint(step.gives | step.ends))


@dataclass
class Doubt:
    """What is left of the doubt in something that was asked about, while it is said again.

    Two hearings in noise that is not the same go wrong together as often as the product of their
    doubts: 0.8 and 0.8 are 0.96.
    """

    left: float = 1.0
    until: float = 0.0

    def begin(self, confidence: float, t: float) -> None:
        """Something was heard with this confidence, and is asked about."""
        self.left, self.until = 1.0 - confidence, t + AGAIN

    def forget(self) -> None:
        """Nothing is asked about."""
        self.left = 1.0

    def together(self, confidence: float, t: float) -> float:
        """The confidence in it if it was heard again with this one."""
        return 1.0 - (self.left if t <= self.until else 1.0) * (1.0 - confidence)
