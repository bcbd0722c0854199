"""How well each of many phone strings explains what the network heard, frame by frame.

The forward sum of connectionist temporal classification (Graves et al., 2006), for all strings at
once and as the frames come.  Blank is made dearer by `BLANK_COST`: trained on spikes, the network
otherwise prefers short strings in noise.  Imports numpy only.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Phones = tuple[int, ...]
"""Classes of the network, 1 and up; 0 is blank."""

BLANK_COST = 2.0
"""Natural logarithm by which blank counts less; chosen on voices held out from training."""


def weighed(scores: npt.NDArray[np.float32]) -> npt.NDArray[np.float64]:
    """Log-probabilities with the dearer blank, float64, same shape."""
    out = scores.astype(np.float64)
    out[:, 0] -= BLANK_COST
    return out


class Forward:
    """The sums for fixed phone strings, none of them empty."""

    def __init__(self, strings: Sequence[Phones]) -> None:
        longest = max((len(s) for s in strings), default=0)
        size = 2 * longest + 1
        self._classes = np.zeros((len(strings), size), dtype=np.intp)
        self._skips = np.zeros((len(strings), size))
        self._last = np.array([2 * len(s) for s in strings], dtype=np.intp)
        for row, string in enumerate(strings):
            self._classes[row, 1 : 2 * len(string) : 2] = string
            for at in range(1, len(string)):
                if string[at] != string[at - 1]:
                    self._skips[row, 2 * at + 1] = 1.0
        self._rows = np.arange(len(strings))
        self.begin()

    def begin(self) -> None:
        """A new utterance."""
        self._sums = np.zeros(self._classes.shape)
        if self._sums.size:
            self._sums[:, 0] = 1.0
        self._scale = np.zeros(len(self._sums))

    def feed(self, scores: npt.NDArray[np.float64]) -> None:
        """Take frames of `weighed` log-probabilities, shape (frames, classes)."""
        if not self._sums.size:
            return
        for frame in np.exp(scores):
            sums = self._sums
            new = sums.copy()
            new[:, 1:] += sums[:, :-1]
            new[:, 2:] += sums[:, :-2] * self._skips[:, 2:]
            new *= frame[self._classes]
            top = new.max(axis=1) + 1e-300
            self._sums = new / top[:, None]
            self._scale += np.log(top)

    def scores(self) -> npt.NDArray[np.float64]:
        """Log-likelihood of each string, were the utterance over now, shape (strings,)."""
        if not self._sums.size:
            return np.zeros(0)
        ends = self._sums[self._rows, self._last] + self._sums[self._rows, self._last - 1]
        return np.asarray(np.log(ends + 1e-300) + self._scale)


class Free:
    """The best string of phones whatsoever, as a measure for the others.

    score: log-likelihood of its path.  phones: what it says.  quiet: frames since its last phone.
    """

    def __init__(self) -> None:
        self.begin()

    def begin(self) -> None:
        """A new utterance."""
        self.score = 0.0
        self.phones: list[int] = []
        self.surely = 0.0
        self.first = -1
        self.last = -1
        self.frames = 0
        self._class = 0

    @property
    def quiet(self) -> int:
        """Frames since the last phone."""
        return self.frames - 1 - self.last

    def feed(self, scores: npt.NDArray[np.float64]) -> None:
        """Take frames as `Forward.feed` does."""
        for best, value in zip(scores.argmax(axis=1), scores.max(axis=1), strict=True):
            if best:
                if best != self._class:
                    self.phones.append(int(best))
                    self.surely += float(value)
                if self.first < 0:
                    self.first = self.frames
                self.last = self.frames
            self.score += float(value)
            self._class = int(best)
            self.frames += 1
