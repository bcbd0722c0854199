"""Takes the echo of what is played out of what the microphone hears, and leaves speech as it is.

Imports numpy and ``handsfree.audio``.  A partitioned frequency-domain Kalman filter: Enzner and Vary,
"Frequency-domain adaptive Kalman filter for acoustic echo control", Signal Processing 86 (2006),
from memory; its step shrinks where the error is more than the filter's own doubt explains.  WebRTC's
canceller, which is quieter still, takes most of whoever speaks away, too.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from handsfree.audio import FRAME, Samples, to_int16

SPAN = 25
"""Frames of echo that are modelled: half a second, the card's own delay in it."""

FORGETS = 0.999
"""How sure it is from frame to frame that the room is as it was."""

SMOOTH = 0.9
"""Of the error's power, from frame to frame."""

DOUBT = 0.1
"""Power of an echo path that is not known yet, of each partition at first."""

Spectra = npt.NDArray[np.complex128]


class EchoFilter:
    """One microphone and one loudspeaker; frames of `FRAME` samples in step."""

    def __init__(self) -> None:
        bins = FRAME + 1
        self._before = np.zeros(FRAME)
        self._played: Spectra = np.zeros((SPAN, bins), complex)
        self._path: Spectra = np.zeros((SPAN, bins), complex)
        self._doubt = np.full((SPAN, bins), DOUBT)
        self._error = np.zeros(bins)

    def process(self, near: Samples, far: Samples, *, learn: bool = True) -> Samples:
        """What is left of the microphone's frame.

        Args:
            far: what was played meanwhile, shape as that.
            learn: nobody else speaks, as far as is known.
        """
        played = far.astype(float)
        self._played = np.roll(self._played, 1, axis=0)
        self._played[0] = np.fft.rfft(np.concatenate((self._before, played)))
        self._before = played
        echo = np.fft.irfft((self._played * self._path).sum(axis=0))[FRAME:]
        left = near - echo
        if learn and self._played.any():
            self._adapt(np.fft.rfft(np.concatenate((np.zeros(FRAME), left))))
        return to_int16(left)

    def _adapt(self, error: Spectra) -> None:
        self._error = SMOOTH * self._error + (1 - SMOOTH) * np.abs(error) ** 2
        power = np.abs(self._played) ** 2
        # Half of each window of two frames is new, hence the halves.
        expected = 0.5 * (self._doubt * power).sum(axis=0) + self._error + 1e-6
        step = self._doubt / expected
        change = np.fft.irfft(step * self._played.conj() * error, axis=1)
        change[:, FRAME:] = 0.0
        self._path += np.fft.rfft(change, axis=1)
        kept = FORGETS**2
        self._doubt = kept * (1 - 0.5 * step * power) * self._doubt + (
            1 - kept) * np.abs(self._path) ** 2
