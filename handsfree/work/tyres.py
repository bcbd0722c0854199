"""Tyre pressures: cold against the placard, and what temperature does to them.

Pure: standard library, `errors` and `finding`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict

ATMOSPHERE_PSI = 14.696
RANKINE_AT_0_F = 459.67

FAR_UNDER = 0.75
"""A quarter under the placard: where a tow vehicle's monitor warns, FMVSS 138 (from memory;
trailers are exempt, so the limit is borrowed)."""

GAUGE_PSI = 1.0
"""What a hand gauge may be off; common practice, no source."""

FAR_OVER = 1.25
"""A quarter over what the tyre may have cold: the same share as under it, a margin of our own, no
source."""

MOST_PSI = 200.0
"""No road tyre of a trailer is near it; more is a slip of the pen."""


@dataclass(frozen=True, kw_only=True)
class Tyres(Finding):
    """The tyre furthest from the placard, counted from 1 in the order given."""

    tyre: int
    reading_psi: float
    placard_psi: float
    off_psi: float
    """Reading less placard."""


def pressure_at(gauge_psi: float, from_f: float, to_f: float) -> float:
    """Gauge pressure after a change of temperature at the same volume, in psi.

    Ideal gas: (gauge + 14.696) x (to + 459.67) / (from + 459.67) - 14.696; temperatures in
    degrees Fahrenheit.  From 65 psi at 70 F ten degrees make 1.50 psi; "one psi in ten
    degrees" fits car tyres only.

    Raises:
        InputError: a temperature at or below absolute zero, or a pressure below vacuum.
    """
    if min(from_f, to_f) <= -RANKINE_AT_0_F or gauge_psi < -ATMOSPHERE_PSI:
        raise InputError("A temperature or pressure that low cannot be.")
    ratio = (to_f + RANKINE_AT_0_F) / (from_f + RANKINE_AT_0_F)
    return (gauge_psi + ATMOSPHERE_PSI) * ratio - ATMOSPHERE_PSI


def judge_tyres(
    readings_psi: Sequence[float], placard_psi: float, *, cold: bool, most_psi: float | None = None
) -> Tyres:
    """Holds readings against the placard's cold pressure.

    Args:
        readings_psi: one or more gauge readings.
        placard_psi: cold pressure from the trailer's placard.
        most_psi: the most that the owner lets them have cold, by the sidewall; the placard's where
            it is not known.  Between the two nothing is wrong.
        cold: parked three hours or more, out of the sun.

    Returns:
        STOP for a tyre a quarter or more under, or far over; CAUTION when low, when high, and for any hot
        reading that is not low: air is never let out of a hot tyre.

    Raises:
        InputError: no reading, one that cannot be, or a placard not above zero.
    """
    if not readings_psi or min(readings_psi) < 0 or placard_psi <= 0:
        raise InputError("Give readings of zero or more, and a placard pressure above zero.")
    if max(readings_psi) > MOST_PSI or placard_psi > MOST_PSI:
        raise InputError(f"No trailer tire has more than {MOST_PSI:g} psi: read it again.")
    most = max(placard_psi, most_psi or 0.0)
    # The lowest tyre comes first: low is what fails.
    low = min(range(len(readings_psi)), key=lambda i: (readings_psi[i], i))
    high = max(range(len(readings_psi)), key=lambda i: (readings_psi[i], -i))
    fine = readings_psi[low] >= placard_psi - GAUGE_PSI
    far_over = readings_psi[high] > FAR_OVER * most
    index = high if far_over or fine else low
    if far_over and readings_psi[low] <= FAR_UNDER * placard_psi:
        index = low  # both are a stop; what fails first speaks
    off = readings_psi[index] - placard_psi
    if readings_psi[index] <= FAR_UNDER * placard_psi:
        verdict, say = Verdict.STOP, "tyres.far-under"
    elif readings_psi[index] > FAR_OVER * most:
        verdict, say = Verdict.STOP, "tyres.far-over"
    elif off < -GAUGE_PSI:
        verdict, say = Verdict.CAUTION, "tyres.low" if cold else "tyres.low-hot"
    elif not cold:
        verdict, say = Verdict.CAUTION, "tyres.hot"
    elif readings_psi[index] > most + GAUGE_PSI:
        verdict, say = Verdict.CAUTION, "tyres.high"
    else:
        verdict, say = Verdict.OK, "tyres.good"
    return Tyres(
        verdict=verdict, say=say,
        basis="Placard; cold is three hours parked; a quarter under: FMVSS 138, borrowed (memory)",
        tyre=index + 1, reading_psi=readings_psi[index], placard_psi=placard_psi, off_psi=off,
    )  # fmt: skip
