"""What one engine did, counted: right, taken, asked about, wrong; word errors; calibration.

May import hearing's types and numpy.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

from handsfree.hearing.types import Heard, Hypothesis
from handsfree.session.understanding import Bands

SUBSTITUTION, OTHER = 4, 3
"""Costs of a word in place of another, and of one left out or put in, in the alignment of NIST's
sclite (its manual: "4, 3 and 3")."""


@dataclass
class Tally:
    """What became of the utterances of one condition.

    best: the best guess was word for word what was said, whatever its confidence.  right and
    wrong: taken, and it meant what was meant, or something else.  asked: confident enough for a
    question, not for more.  rejected: the rest.
    """

    n: int = 0
    best: int = 0
    right: int = 0
    wrong: int = 0
    asked: int = 0
    rejected: int = 0
    word_errors: int = 0
    words: int = 0

    def __add__(self, other: Tally) -> Tally:
        mine, theirs = asdict(self), asdict(other)
        return Tally(**{name: mine[name] + theirs[name] for name in mine})


@dataclass(frozen=True)
class Condition:
    """What was said by whom in which noise: `snr` is a number of decibels as text, or 'clean'."""

    what: str
    voice: str
    noise: str
    snr: str


@dataclass
class Score:
    """Everything that was counted for one engine."""

    bands: Bands = field(default_factory=Bands)
    tallies: dict[Condition, Tally] = field(default_factory=dict)
    sure: dict[str, list[tuple[float, bool]]] = field(default_factory=dict)
    confused: Counter[tuple[str, str]] = field(default_factory=Counter)
    """(said, heard instead) among what was wrong and confident enough for a question."""
    heard_seconds: float = 0.0
    used_seconds: float = 0.0

    def enter(
        self, condition: Condition, heard: Heard, said: str, meant: Hashable, means: Hashable,
        needs: float | None = None,
    ) -> None:
        """One utterance: `meant` is what `said` means, `means` what was heard means, and `needs`
        the confidence with which it is acted on (that of `Bands` when left out).

        `said` is "" where nothing was meant: then whatever is taken is wrong, but for a `means`
        of None, which does nothing.
        """
        tally = self.tallies.setdefault(condition, Tally())
        text = heard.text if isinstance(heard, Hypothesis) else heard.best
        sure = heard.confidence if isinstance(heard, Hypothesis) else 0.0
        right = bool(said) and means == meant
        tally.n += 1
        tally.best += bool(said) and text == said
        if sure >= (needs or self.bands.certain) and means is not None:
            tally.right += right
            tally.wrong += not right
        elif sure >= self.bands.unsure and means is not None:
            tally.asked += 1
        else:
            tally.rejected += 1
        if said:
            tally.word_errors += word_errors(said.split(), text.split())
            tally.words += len(said.split())
            if not right and sure >= self.bands.unsure:
                self.confused[said, text] += 1
        if text:
            self.sure.setdefault(condition.what, []).append((heard.confidence, right))

    def add(self, other: Score) -> None:
        """Count what another counted as well."""
        for condition, tally in other.tallies.items():
            self.tallies[condition] = self.tallies.get(condition, Tally()) + tally
        for what, pairs in other.sure.items():
            self.sure.setdefault(what, []).extend(pairs)
        self.confused += other.confused
        self.heard_seconds += other.heard_seconds
        self.used_seconds += other.used_seconds

    def total(self, **wanted: str) -> Tally:
        """The sum over all conditions that agree with what is wanted."""
        return sum((tally for condition, tally in self.tallies.items()
                    if all(getattr(condition, k) == v for k, v in wanted.items())), Tally())


def word_errors(said: Sequence[str], heard: Sequence[str]) -> int:
    """Words put in, left out and exchanged on the cheapest alignment, counted as sclite does."""
    row = [(OTHER * j, j) for j in range(len(heard) + 1)]
    for i, word in enumerate(said, 1):
        before, row = row, [(OTHER * i, i)]
        for j, other in enumerate(heard, 1):
            same = 0 if word == other else 1
            row.append(min(
                (before[j - 1][0] + SUBSTITUTION * same, before[j - 1][1] + same),
                (before[j][0] + OTHER, before[j][1] + 1),
                (row[j - 1][0] + OTHER, row[j - 1][1] + 1)))
    return row[-1][1]


def calibration(sure: Sequence[tuple[float, bool]]) -> dict[str, Any]:
    """Reliability by tenths of confidence, and the expected calibration error."""
    bins, error = [], 0.0
    for low in range(10):
        inside = [(c, r) for c, r in sure if min(int(c * 10), 9) == low]
        if inside:
            mean = float(np.mean([c for c, _ in inside]))
            right = float(np.mean([r for _, r in inside]))
            bins.append({"n": len(inside), "confidence": round(mean, 3), "right": round(right, 3)})
            error += abs(mean - right) * len(inside)
    return {"bins": bins, "ece": round(error / max(len(sure), 1), 4)}
