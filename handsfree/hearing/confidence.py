"""How sure a decoding is: scores of three decodings of one utterance, as a probability.

Pure (numpy only); imports ``handsfree.audio``.  Besides the best phrase there are the second best (the grammar without the
best) and the bare sounds (any sounds in any order, by how English joins them).  Speech outside
the grammar fits the sounds far better than any phrase; a phrase that was not said has another
one close behind it.  A logistic function of such differences is fitted to labelled speech.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np

from handsfree.audio import Samples

NO_SECOND = 4.0
"""Margin over a second phrase where there is none, in the unit of `measures`."""

_WEIGHTS = (1.255, 0.287, -12.933, -0.264, 0.037)
_BIAS = 1.51
"""As fitted by `python -m tests.hearing.calibrate_sphinx --every 2`."""


@dataclass(frozen=True)
class Piece:
    """One word, sound or silence on the best path.

    start, end: frames of 10 ms, the end not included.  score: log likelihood (nats), relative to
    the best state of each frame.
    """

    name: str
    start: int
    end: int
    score: float

    @property
    def spoken(self) -> bool:
        """False for silence and noise."""
        return self.name[0] not in "<[+" and self.name != "SIL"


@dataclass(frozen=True)
class Decoding:
    """The best path of one search over one utterance; score: log likelihood of the whole path."""

    text: str
    score: float
    pieces: tuple[Piece, ...]

    @property
    def span(self) -> tuple[float, float]:
        """Start and end of what was spoken, in seconds."""
        spoken = [piece for piece in self.pieces if piece.spoken]
        if not spoken:
            return 0.0, 0.0
        return spoken[0].start / 100, spoken[-1].end / 100


def measures(
    best: Decoding, second: Decoding | None, bare: Decoding, sound: Samples,
) -> tuple[float, ...]:
    """What the probability is computed from; `second` is None where the grammar has no other.

    gap      score over that of the bare sounds, per frame of the words (nats)
    margin   score over that of the second phrase, likewise
    outside  share of the sounds that no word covers
    length   log of the words' frames
    rise     level of the words over that of the rest, dB, without the low end where wind rumbles
    """
    end = max(piece.end for piece in (*best.pieces, *bare.pieces))
    inside, voiced = np.zeros(end, dtype=bool), np.zeros(end, dtype=bool)
    for piece in best.pieces:
        inside[piece.start : piece.end] |= piece.spoken
    for piece in bare.pieces:
        voiced[piece.start : piece.end] |= piece.spoken
    covered = max(1, int(np.sum(inside)))
    margin = (best.score - second.score) / covered if second else NO_SECOND
    return (
        (best.score - bare.score) / covered,
        min(NO_SECOND, margin),
        float(np.sum(voiced & ~inside)) / max(1, int(np.sum(voiced))),
        log(covered),
        _rise(sound, inside),
    )


def _rise(sound: Samples, inside: np.ndarray) -> float:
    """Level within the words over that around them, 0 to 20 dB."""
    step = np.diff(sound.astype(np.float64)) ** 2
    within = np.repeat(inside, 160)[: len(step)]
    within = np.concatenate((within, np.zeros(len(step) - len(within), dtype=bool)))
    if within.all() or not within.any():
        return 0.0
    ratio = (np.mean(step[within]) + 1) / (np.mean(step[~within]) + 1)
    return float(np.clip(10 * np.log10(ratio), 0, 20))


def probability(values: tuple[float, ...]) -> float:
    """Probability that the best decoding is what was said, from its `measures`."""
    score = _BIAS + sum(w * v for w, v in zip(_WEIGHTS, values, strict=True))
    return 1 / (1 + exp(-max(-30.0, min(30.0, score))))
