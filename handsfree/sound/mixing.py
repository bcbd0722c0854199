"""Speech and noise in one sound at a stated signal-to-noise ratio.

May import numpy, this room's filters and ``handsfree.audio``.

**The ratio** is 10 log10(S / N) decibels.  S is the active speech level: the energy of the speech
over the time in which it is active, so that pauses and trailing silence do not count.  N is the
mean square of the noise over the same active time.  Both over 0 to 8 kHz, without weighting.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from handsfree.audio import SAMPLE_RATE, Samples, to_int16
from handsfree.sound.filters import smoothed

Mask = npt.NDArray[np.bool_]

SMOOTHING = 0.03
"""Time constant of each of the two smoothing stages, seconds."""

HANGOVER = 0.2
"""Speech counts as active for so long after it fell below the threshold, seconds."""

MARGIN = 15.9
"""The threshold lies so many decibels below the active level."""

SEAM = 0.05
"""Cross-fade where a looped noise starts again, seconds."""


def speech_activity(speech: Samples) -> tuple[float, Mask]:
    """Active speech level and where the speech is active.

    Follows method B of ITU-T P.56 (1993, 2011) as known from memory: twice-smoothed envelope,
    thresholds in steps of 6.02 dB, hangover, and interpolation to the threshold that lies
    `MARGIN` below the level it gives.  Not run against the recommendation's own test signals, so
    call it approximate.

    Args:
        speech: shape ``(n,)``.

    Returns:
        The level in dBFS (-inf for silence), and a mask of shape ``(n,)`` for that threshold.
    """
    sound = speech.astype(np.float64) / 32768.0
    energy = float(np.sum(sound**2))
    if energy == 0.0:
        return float("-inf"), np.zeros(len(speech), dtype=bool)
    envelope = smoothed(np.abs(sound), float(np.exp(-1.0 / (SAMPLE_RATE * SMOOTHING))))

    above: tuple[float, float] | None = None  # level and threshold of the step before, in dB
    # From loud to faint; nine steps more than 16 bits have, since an envelope is a mean.
    for step in range(1, 25):
        threshold = 2.0**-step
        active = int(np.count_nonzero(_active(envelope, threshold)))
        if not active:
            continue
        level, limit = 10.0 * np.log10(energy / active), 20.0 * np.log10(threshold)
        if level - limit >= MARGIN:
            if above is not None:
                before = above[0] - above[1]
                share = (MARGIN - before) / (level - limit - before)
                level = above[0] + share * (level - above[0])
                limit = above[1] + share * (limit - above[1])
            return level, _active(envelope, 10.0 ** (limit / 20.0))
        above = level, limit
    # No threshold lies so far below: a hum without end, or next to nothing.  All of it counts.
    return 10.0 * np.log10(energy / len(sound)), np.ones(len(sound), dtype=bool)


def _active(envelope: npt.NDArray[np.float64], threshold: float) -> Mask:
    """Where the envelope is at or above the threshold, or was within the hangover."""
    at = np.arange(len(envelope))
    last = np.maximum.accumulate(np.where(envelope >= threshold, at, -len(envelope) - SAMPLE_RATE))
    return at - last <= round(HANGOVER * SAMPLE_RATE)


def gain_for_snr(speech: Samples, noise: Samples, snr_db: float) -> float:
    """Factor for the noise that gives the ratio; 0 where either of the two is silent.

    Args:
        speech: shape ``(n,)``.
        noise: shape ``(n,)`` or longer; the first ``n`` samples are what is heard with it.
        snr_db: the ratio as this module's docstring defines it.
    """
    level, active = speech_activity(speech)
    heard = noise[: len(speech)].astype(np.float64)[active] / 32768.0
    power = float(np.mean(heard**2)) if len(heard) else 0.0
    if power == 0.0 or not np.isfinite(level):
        return 0.0
    return float(10.0 ** ((level - snr_db) / 20.0) / np.sqrt(power))


def mix_at_snr(speech: Samples, noise: Samples, snr_db: float) -> Samples:
    """Speech with noise under its whole length.

    The speech keeps its level unless the sum would clip: then both are turned down together.  A
    noise that is too short is looped, a longer one cut.

    Args:
        speech: shape ``(n,)``.
        noise: shape ``(m,)``.
        snr_db: the ratio as this module's docstring defines it.

    Returns:
        Shape ``(n,)``.
    """
    under = looped(noise, len(speech))
    total = speech.astype(np.float64) + gain_for_snr(speech, under, snr_db) * under
    peak = float(np.max(np.abs(total), initial=0.0))
    return to_int16(total * min(1.0, 32767.0 / peak) if peak else total)


def looped(noise: Samples, count: int) -> Samples:
    """Exactly ``count`` samples: the noise cut, or repeated with a cross-fade at each seam.

    The fade keeps the power of what does not correlate (sine and cosine).  No noise, silence.
    """
    if len(noise) >= count:
        return noise[:count]
    if not len(noise):
        return np.zeros(count, dtype=np.int16)
    seam = min(round(SEAM * SAMPLE_RATE), len(noise) // 2)
    turn = (np.arange(seam) + 0.5) / max(seam, 1) * np.pi / 2
    body = noise.astype(np.float64)
    # One round starts at the end of a seam and ends with the seam into the next round.
    joint = body[len(body) - seam :] * np.cos(turn) + body[:seam] * np.sin(turn)
    first = body[: len(body) - seam]
    again = np.concatenate([joint, body[seam : len(body) - seam]])
    rounds = -(-(count - len(first)) // max(len(again), 1))
    return to_int16(np.concatenate([first, np.tile(again, rounds)])[:count])
