"""How sure a decoding is: scores of three decodings of one utterance, as a probability.

Pure (numpy only).  Besides the best phrase there are the second best (the grammar without the
best) and the bare sounds (any sounds in any order, by how English joins them).  Speech outside
the grammar fits the sounds far better than any phrase; a phrase that was not said has another
one close behind it.  A logistic function of such differences is fitted to labelled speech.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np

NO_SECOND = 4.0
"""Margin over a second phrase where there is none, in the unit of `measures`."""

_WEIGHTS = (1.263, 0.157, 0.008, -14.588, -0.634)
_BIAS = 3.727
"""As fitted by `python -m tests.hearing.calibrate_sphinx --every 3`."""


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


def measures(best: Decoding, second: Decoding | None, bare: Decoding) -> tuple[float, ...]:
    """What the probability is computed from, all per frame of the words (nats):

    gap      score over that of the bare sounds
    margin   score over that of the second phrase
    worst    the same as gap over the worst quarter of a second
    outside  share of the sounds that no word covers
    length   log of the words' frames
    """
    end = max(piece.end for piece in (*best.pieces, *bare.pieces))
    words = [piece for piece in best.pieces if piece.spoken]
    covered = sum(piece.end - piece.start for piece in words)
    inside, voiced = np.zeros(end, dtype=bool), np.zeros(end, dtype=bool)
    gain = np.zeros(end)
    for piece in best.pieces:
        gain[piece.start : piece.end] += piece.score / max(1, piece.end - piece.start)
        inside[piece.start : piece.end] |= piece.spoken
    for piece in bare.pieces:
        gain[piece.start : piece.end] -= piece.score / max(1, piece.end - piece.start)
        voiced[piece.start : piece.end] |= piece.spoken
    worst = float(np.convolve(gain, np.full(25, 1 / 25), "same").min())
    return (
        (best.score - bare.score) / covered,
        min(NO_SECOND, (best.score - second.score) / covered) if second else NO_SECOND,
        worst,
        float(np.sum(voiced & ~inside)) / max(1, int(np.sum(voiced))),
        log(covered),
    )


def probability(values: tuple[float, ...]) -> float:
    """Probability that the best decoding is what was said, from its `measures`."""
    score = _BIAS + sum(w * v for w, v in zip(_WEIGHTS, values, strict=True))
    return 1 / (1 + exp(-max(-30.0, min(30.0, score))))
