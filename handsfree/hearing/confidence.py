"""How sure a decoding is: scores of three decodings of one utterance, as a probability.

Pure (numpy only).  Besides the best phrase there are the second best (the grammar without the
best) and the bare sounds (any sounds, by how English joins them).  Speech outside the grammar
fits the sounds far better than any phrase; a phrase that was not said has another one close
behind it; noise has no sounds in it.  A logistic function of such differences is fitted to
labelled speech.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np
import numpy.typing as npt

MOST_GAP, MOST_MARGIN = 2.5, 4.0
"""Caps of two measures: what lies above is no surer.  2.5 is the 95th percentile of the gap of
commands that were right; gaps of 10 and more are those of long talk that one word was found in.
The second stands too for "there is no second phrase"."""

MOST_EMPTY = 0.5
"""A phrase in which the bare sounds find less sound than this is noise: of commands that were
right, 99 in 100 had at most 0.41 of silence in them, and noise at least 0.59."""

_WEIGHTS = (1.862, 0.112, -15.706, -0.920)
_BIAS = 5.175
"""As fitted by `python -m tests.hearing.calibrate_sphinx --every 3`: 39 of 59 phrases that might be
said, 69 other sentences, 8 voices, quiet and at 20 to 5 dB of wind, engine and pink noise.  With 8
other voices, acting on 0.8 and more takes 84, 87, 72 and 49 % of the commands in quiet, at 20, 10
and 5 dB (190 utterances, 1.1 % taken wrongly), 4.7 % of the other sentences (358, many of them
near misses), none of 110 recorded sentences and none of 56 pieces of noise."""


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
    best: Decoding, second: Decoding | None, bare: Decoding,
) -> tuple[float, float, float, float]:
    """What the probability is computed from; `second` is None where there is no other phrase.

    gap      score over that of the bare sounds, per frame of the words (nats)
    margin   score over that of the second phrase, likewise
    outside  share of the sounds that no word covers
    length   log of the words' frames
    """
    words, sounds = _spoken(best, bare)
    covered = max(1, int(np.sum(words)))
    gap = (best.score - bare.score) / covered
    margin = (best.score - second.score) / covered if second else MOST_MARGIN
    outside = float(np.sum(sounds & ~words)) / max(1, int(np.sum(sounds)))
    return min(MOST_GAP, gap), min(MOST_MARGIN, margin), outside, log(covered)


def is_noise(best: Decoding, bare: Decoding) -> bool:
    """True when there is next to nothing in the words that sounds like speech."""
    words, sounds = _spoken(best, bare)
    return not words.any() or float(np.mean(~sounds[words])) > MOST_EMPTY


def _spoken(best: Decoding, bare: Decoding) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """The frames of the words, and those of the bare sounds."""
    end = max(piece.end for piece in (*best.pieces, *bare.pieces))
    masks = []
    for decoding in (best, bare):
        mask = np.zeros(end, dtype=bool)
        for piece in decoding.pieces:
            mask[piece.start : piece.end] |= piece.spoken
        masks.append(mask)
    return masks[0], masks[1]


def probability(values: tuple[float, ...]) -> float:
    """Probability that the best decoding is what was said, from its `measures`."""
    score = _BIAS + sum(w * v for w, v in zip(_WEIGHTS, values, strict=True))
    return 1 / (1 + exp(-max(-30.0, min(30.0, score))))
