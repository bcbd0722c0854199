"""How probable it is that the best phrase is what was said: small networks over a few measures.

Trained by `recipes/calibrate.py` on voices that trained nothing else, phrases and speech that is
none, quiet and in noise.  Imports numpy and rapidfuzz.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from rapidfuzz.distance import Levenshtein

from handsfree.audio import Samples
from handsfree.errors import InputError
from handsfree.hearing.own.rescoring import Opinion
from handsfree.hearing.own.scoring import Free, Phones

MEASURES = (
    "gap", "margin", "length", "distance", "extra", "surely", "rivals", "pace", "blur",
    "gap of the second", "lead of the first", "lead of the second", "gap of the third",
    "lead of the third", "distance of the third", "lead of the decoder", "ease of the decoder",
    "short of the decoder", "worst of the decoder", "over the noise", "over the hiss",
    "blur of the second", "blur of the third", "surely of the third", "extra of the third", "words",
    "first by ear",
)  # fmt: skip
"""What the networks see, in this order; `measures` says what each is."""


DECODER_WEIGHT = 3.0
"""How much more the decoder's log-probability counts than a network's; chosen on voices held out."""


class Candidate(NamedTuple):
    """A text that may have been said: its phones, log-likelihood by each network, and what
    Whisper's decoder thinks of it; cost: of what its phones leave out."""

    text: str
    phones: Phones
    first: float
    second: float
    third: float
    cost: float = 0.0
    opinion: Opinion = Opinion(0.0)

    @property
    def heard(self) -> float:
        """By the three networks, which count alike."""
        return self.first + self.second + self.third - self.cost

    @property
    def score(self) -> float:
        """By all."""
        return self.heard + DECODER_WEIGHT * self.opinion.lead


PIECE = 320
"""Samples (20 ms) of which the level is taken."""


def over_noise(sound: Samples) -> tuple[float, float]:
    """Decibels from the quiet tenth of the pieces to the loud tenth, 0 to 40: of the sound, and of
    its differences from sample to sample, which are deaf to the rumble of wind and engines."""
    wave = sound.astype(np.float64)
    out = []
    for one in (wave, np.diff(wave)):
        pieces = one[: len(one) // PIECE * PIECE].reshape(-1, PIECE)
        if len(pieces) < 4:
            return 0.0, 0.0
        low, high = np.quantile((pieces**2).mean(axis=1) + 1.0, (0.1, 0.9))
        out.append(min(40.0, float(10 * np.log10(high / low))))
    return out[0], out[1]


def measures(
    ranked: Sequence[Candidate], frees: tuple[Free, Free, Free], sound: Samples
) -> npt.NDArray[np.float64]:
    """Shape (27,).  ranked: best first, not empty.  frees: of the three networks.  sound: of the
    whole utterance.

    gap: log-likelihood lost against the best free string, per phone.  margin: lead over the next
    text.  length: log of the number of phones.  distance: edits to the free string per phone.
    extra: phones more than the phrase has, per phone.  surely: mean log-probability of the free
    string's phones.  rivals: log of the number of other texts.  pace: log of frames a phone.
    blur: mean log-probability of the free path a frame.  Then the gap in the second network, and
    the lead of the best text over every other in each network alone, and in the decoder's opinion;
    then the decoder's ease, and how much rather it would have written something else (see
    `Opinion`).  Then what tells how noisy it is: `over_noise`, blur of the other two networks, how
    sure the third is of its phones and how many more it hears; then the number of words, and
    whether the networks without the decoder like the same text best.
    """
    free, other, whole = frees
    best, others = ranked[0], ranked[1:]
    size = len(best.phones)
    heard = len(free.phones)
    spoken = max(free.last - free.first + 1, 1)

    def lead(own: float, rivals: list[float]) -> float:
        return max(-20.0, min(20.0, own - max(rivals, default=-np.inf)))

    def distance(phones: Sequence[int]) -> float:
        return min(3.0, Levenshtein.distance(best.phones, phones) / size)

    return np.array([
        max(-8.0, (best.first - free.score) / size),
        lead(best.score, [o.score for o in others]),
        np.log(size),
        distance(free.phones),
        max(-1.0, min(3.0, (heard - size) / size)),
        max(-4.0, free.surely / max(heard, 1)),
        np.log1p(len(others)),
        np.log(spoken / size),
        max(-4.0, free.score / max(free.frames, 1)),
        max(-8.0, (best.second - other.score) / size),
        lead(best.first, [o.first for o in others]),
        lead(best.second, [o.second for o in others]),
        max(-8.0, (best.third - whole.score) / size),
        lead(best.third, [o.third for o in others]),
        distance(whole.phones),
        lead(best.opinion.lead, [o.opinion.lead for o in others]),
        max(-12.0, best.opinion.ease),
        min(15.0, best.opinion.short),
        min(20.0, best.opinion.worst),
        *over_noise(sound),
        max(-4.0, other.score / max(other.frames, 1)),
        max(-4.0, whole.score / max(whole.frames, 1)),
        max(-4.0, whole.surely / max(len(whole.phones), 1)),
        max(-1.0, min(3.0, (len(whole.phones) - size) / size)),
        np.log(len(best.text.split())),
        float(best.heard >= max(c.heard for c in ranked)),
    ])  # fmt: skip


class Confidence:
    """Small networks that agree on a probability by their mean: each has one hidden layer of
    tanh, and one logistic out.

    path: npz of `recipes/calibrate.py`.  Raises InputError when it is none.
    """

    def __init__(self, path: Path) -> None:
        try:
            with np.load(path) as packed:
                self._w = {name: packed[name].astype(np.float64) for name in packed.files}
            self._w["out"]
            _, count, _ = self._w["into"].shape  # (networks, measures, hidden)
            if count != len(MEASURES):
                raise ValueError(f"{count} measures instead of {len(MEASURES)}")
        except (OSError, ValueError, KeyError) as error:
            raise InputError(
                f"{path} is not a calibration of this program ({error}); reinstall the package."
            ) from error

    def __call__(self, seen: npt.NDArray[np.float64]) -> float:
        """Probability, 0 to 1."""
        w = self._w
        hidden = np.tanh((seen - w["mean"]) / w["spread"] @ w["into"] + w["into_bias"])
        logits = (hidden * w["out"]).sum(axis=-1) + w["out_bias"]
        return float((1.0 / (1.0 + np.exp(-logits))).mean())
