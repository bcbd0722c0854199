"""How probable it is that the best phrase is what was said: a small network over a few measures.

Trained by `recipes/calibrate.py` on voices that trained nothing else, phrases and speech that is
none, quiet and in noise.  Imports numpy and rapidfuzz.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
from rapidfuzz.distance import Levenshtein

from handsfree.errors import InputError
from handsfree.hearing.own.scoring import Free, Phones

MEASURES = (
    "gap", "margin", "length", "distance", "extra", "surely", "rivals", "pace", "blur",
)  # fmt: skip
"""What the network sees, in this order; `measures` says what each is."""


def measures(
    best: float, rival: float, phones: Phones, rivals: int, free: Free
) -> npt.NDArray[np.float64]:
    """Shape (9,).

    gap: log-likelihood lost against the best free string, per phone.  margin: lead over the next
    text.  length: log of the number of phones.  distance: edits to the free string per phone.
    extra: phones more than the phrase has, per phone.  surely: mean log-probability of the free
    string's phones.  rivals: log of the number of texts.  pace: log of frames a phone.  blur: mean
    log-probability of the free path a frame.
    """
    size = len(phones)
    heard = len(free.phones)
    spoken = max(free.last - free.first + 1, 1)
    return np.array([
        max(-8.0, (best - free.score) / size),
        min(12.0, best - rival),
        np.log(size),
        min(3.0, Levenshtein.distance(phones, free.phones) / size),
        max(-1.0, min(3.0, (heard - size) / size)),
        max(-4.0, free.surely / max(heard, 1)),
        np.log1p(rivals),
        np.log(spoken / size),
        max(-4.0, free.score / max(free.frames, 1)),
    ])  # fmt: skip


class Confidence:
    """The small network: one hidden layer of tanh, one logistic out.

    path: npz of `recipes/calibrate.py`.  Raises InputError when it is none.
    """

    def __init__(self, path: Path) -> None:
        try:
            with np.load(path) as packed:
                self._w = {name: packed[name].astype(np.float64) for name in packed.files}
            self._w["into"], self._w["out"]
        except (OSError, ValueError, KeyError) as error:
            raise InputError(
                f"{path} is not a calibration of this program ({error}); reinstall the package."
            ) from error

    def __call__(self, seen: npt.NDArray[np.float64]) -> float:
        """Probability, 0 to 1."""
        w = self._w
        hidden = np.tanh((seen - w["mean"]) / w["spread"] @ w["into"] + w["into_bias"])
        return float(1.0 / (1.0 + np.exp(-(hidden @ w["out"] + w["out_bias"][0]))))
