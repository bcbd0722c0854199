"""Sound as numbers: the one sample format that everything here speaks, and levels.

Pure (numpy only).  Everything between microphone, recogniser, voice and loudspeaker is mono,
16 kHz, signed 16-bit, in numpy arrays of shape ``(n,)``.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

SAMPLE_RATE = 16_000
"""Samples a second."""

FRAME = 320
"""Samples in one frame: 20 ms."""

Samples = npt.NDArray[np.int16]
"""Mono sound, shape ``(n,)``, 16 kHz, int16."""


def silence(seconds: float) -> Samples:
    """Digital silence of the given length in seconds."""
    return np.zeros(round(seconds * SAMPLE_RATE), dtype=np.int16)


def seconds(samples: Samples) -> float:
    """Length in seconds."""
    return len(samples) / SAMPLE_RATE


def to_int16(sound: npt.NDArray[np.floating]) -> Samples:
    """Clip to the int16 range (input at int16 scale, not -1..1) and round."""
    whole: Samples = np.clip(np.rint(sound), -32768, 32767).astype(np.int16)
    return whole


def level_dbfs(samples: Samples) -> float:
    """RMS level in dB relative to a full-scale square wave; -inf for digital silence."""
    if not len(samples):
        return float("-inf")
    rms = float(np.sqrt(np.mean(samples.astype(np.float64) ** 2)))
    return 20.0 * np.log10(rms / 32768.0) if rms else float("-inf")
