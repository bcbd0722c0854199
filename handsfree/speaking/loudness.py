"""How loud to speak: with the noise, as people do.

May import numpy and ``handsfree.audio``.

People raise their voice by about half a decibel for each decibel of noise (Lane and Tranel, "The
Lombard sign and the role of hearing in speech", 1971, from memory); so does the program, within
what a loudspeaker that is fed digitally can give.
"""

from __future__ import annotations

import numpy as np

from handsfree.audio import Samples, to_int16

QUIET_DBFS = -60.0
"""A noise floor at or below this is quiet."""

QUIET_GAIN = -9.0
"""Decibels at which is spoken where it is quiet: what is left above is for the noise."""

SLOPE = 0.5
"""Decibels of gain for each decibel of noise."""

MOST_GAIN = 6.0
CEILING = 0.95
"""No gain lifts a peak beyond this share of full scale: louder would only distort."""


def gain_db(floor_dbfs: float, louder: float = 0.0) -> float:
    """The gain for a noise floor, and for what the operator asked for; at most `MOST_GAIN`."""
    return min(MOST_GAIN, QUIET_GAIN + SLOPE * max(0.0, floor_dbfs - QUIET_DBFS) + louder)


def amplified(sound: Samples, db: float) -> Samples:
    """The sound with a gain, or with as much of it as its peak allows; shape ``(n,)``."""
    peak = float(np.max(np.abs(sound.astype(np.int32)), initial=0))
    if not peak or db == 0.0:
        return sound
    factor = 10.0 ** (db / 20.0)
    most = CEILING * 32768.0 / peak
    return to_int16(sound.astype(np.float64) * (factor if factor <= 1.0 else
                                                max(1.0, min(factor, most))))
