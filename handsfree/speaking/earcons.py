"""Short tones that say without words what just happened, made from numbers.

May import numpy and ``handsfree.audio``.

Six signals that differ in pitch and in rhythm, so that either alone tells them apart: for ears
that lost the high notes, and for loudspeakers that swallow the low ones.  All lie between 300 and
2,000 Hz; the alarm, the one that tells of danger, between 500 and 2,500 Hz as ISO 7731:2003 has it
(from memory; the edition of 1986 had 300 to 3,000).  They carry three overtones, so that noise at
one frequency does not hide them.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from handsfree.audio import SAMPLE_RATE, Samples, to_int16

LEVEL = 0.25
"""Peak of a tone at 0 dB gain, as a share of full scale."""

CEILING = 0.9
"""No gain brings a peak beyond this share of full scale: louder would only distort."""

EDGE = 0.008
"""Seconds in which a tone swells and dies away, against clicks."""

OVERTONES = (1.0, 0.35, 0.2, 0.1)
"""Strengths of the fundamental and its multiples."""


class Earcon(StrEnum):
    """What a tone says."""

    HEARD = "heard"
    REFUSED = "refused"
    LISTENING = "listening"
    HOLD_POINT = "hold point"
    ATTENTION = "attention"
    ALARM = "alarm"


@dataclass(frozen=True)
class Pulse:
    """One tone and the pause after it."""

    hertz: float
    seconds: float
    pause: float = 0.0


PATTERNS: dict[Earcon, tuple[Pulse, ...]] = {
    # One short blip.
    Earcon.HEARD: (Pulse(880, 0.09),),
    # Two, long and longer, falling: no.
    Earcon.REFUSED: (Pulse(392, 0.18, 0.06), Pulse(311, 0.36)),
    # Two quick ones, rising like a question.
    Earcon.LISTENING: (Pulse(587, 0.06, 0.05), Pulse(784, 0.10)),
    # Three even beats on one note: stand still.
    Earcon.HOLD_POINT: (Pulse(494, 0.16, 0.16), Pulse(494, 0.16, 0.16), Pulse(494, 0.16)),
    # Long, short, long, with a leap up.
    Earcon.ATTENTION: (Pulse(659, 0.30, 0.08), Pulse(1047, 0.08, 0.08), Pulse(1047, 0.30)),
    # Eight fast ones to and fro, high.
    Earcon.ALARM: tuple(Pulse(hertz, 0.09, 0.03) for hertz in (1568, 1245) * 4),
}


def earcon(kind: Earcon | str, gain_db: float = 0.0) -> Samples:
    """The tone: 16 kHz int16 mono, shape ``(n,)``; same kind and gain, same samples.

    Args:
        kind: which signal.
        gain_db: louder or softer, for a level that follows the noise around; limited so that
            nothing clips.

    Raises:
        ValueError: no such signal.
    """
    peak = min(CEILING, LEVEL * 10.0 ** (gain_db / 20.0))
    pieces: list[npt.NDArray[np.float64]] = []
    for pulse in PATTERNS[Earcon(kind)]:
        pieces += [_tone(pulse.hertz, pulse.seconds), np.zeros(round(pulse.pause * SAMPLE_RATE))]
    sound = np.concatenate(pieces)
    return to_int16(sound * (32768.0 * peak / np.max(np.abs(sound))))


def _tone(hertz: float, seconds: float) -> npt.NDArray[np.float64]:
    time = np.arange(round(seconds * SAMPLE_RATE)) / SAMPLE_RATE
    wave = np.zeros(len(time))
    for number, strength in enumerate(OVERTONES, start=1):
        wave += strength * np.sin(2 * np.pi * hertz * number * time)
    edge = np.minimum(np.minimum(time, time[::-1]) / EDGE, 1.0)
    swell: npt.NDArray[np.float64] = np.sin(edge * np.pi / 2) ** 2
    return wave * swell
