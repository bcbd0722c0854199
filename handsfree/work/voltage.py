"""What a meter on one or two legs says about the pedestal.

Pure: standard library, `errors`, `finding` and `power`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict
from handsfree.work.power import MAINS_V

Band = Literal["A", "B", "outside"]

SERVICE_A_V = (114.0, 126.0)
SERVICE_B_V = (110.0, 127.0)
"""Service voltage, 120 V nominal: ranges A and B of ANSI C84.1, table 1 (from memory)."""


@dataclass(frozen=True)
class Edition:
    """Lowest voltage at the load in ranges A and B, volts; it depends on the edition."""

    name: str
    lowest_a_v: float
    lowest_b_v: float


EDITIONS = {
    "2006": Edition("ANSI C84.1, 1995 and 2006, table 1 (from memory)", 110.0, 106.0),
    "2011": Edition("ANSI C84.1, 2011 and later, table 1 (from memory)", 108.0, 104.0),
}
"""Older editions note 108 and 104 for circuits that carry no lighting."""

METER_SHARE, METER_COUNTS_V = 0.007, 0.2
"""Tolerance of a plain meter: 0.7 % and two counts of 0.1 V (data sheets of plain meters; common
practice)."""

UNEVEN_V = 10.0
"""Two legs further apart than this are worth a second look; generic, from memory."""

DEAD_V = 20.0
"""Below this a leg is taken for dead, or two legs for the same one; generic, from memory."""

MAINS_LIMITS_V = (207.0, 253.0)
"""230 V, plus and minus 10 percent: EN 50160, 4.2.2, and IEC 60038, table 1 (from memory)."""

LOADED_MAINS_V = (198.0, 253.0)
"""Lowest voltage at the load, 230 V nominal: IEC 60038, table A.1 (from memory)."""

LOADED_V = (104.0, 127.0)
"""Range B at the load, 120 V nominal: ANSI C84.1 (2011 and later), table 1 (from memory)."""

MOST_DROP_PERCENT = 5.0
"""Between outlet and load: NFPA 70 215.2, informational note, and IEC 60364-5-52, annex G (from
memory); advice."""


@dataclass(frozen=True, kw_only=True)
class Mains(Finding):
    """A reading of a 230 V outlet."""

    reading_v: float


@dataclass(frozen=True, kw_only=True)
class Loaded(Finding):
    """What arrives while something runs, and what is lost on the way from the outlet."""

    reading_v: float
    drop_v: float
    drop_percent: float


@dataclass(frozen=True, kw_only=True)
class Volts(Finding):
    """``reading_v``: the leg that decided; ``band``: A, B or outside at the load."""

    reading_v: float
    other_v: float
    """The other leg; the same again where there is one."""
    leg: int
    band: str
    edition: str
    near: str
    """"near" when the meter's tolerance reaches across a limit, else "clear"."""


def service_band(volts: float, nominal: int = 120) -> Band:
    """Which range of service voltage a reading lies in.

    ANSI C84.1, table 1 (from memory): 120 V: A 114 to 126, B 110 to 127; 240 V: twice that.

    Raises:
        InputError: a nominal voltage other than 120 or 240.
    """
    if nominal not in (120, 240):
        raise InputError("The nominal voltage must be 120 or 240.")
    return _band(volts * 120 / nominal, SERVICE_A_V, SERVICE_B_V)


def load_band(volts: float, edition: Edition) -> Band:
    """Which range a 120 V reading lies in at the load: lowest by edition, highest as service."""
    return _band(
        volts, (edition.lowest_a_v, SERVICE_A_V[1]), (edition.lowest_b_v, SERVICE_B_V[1])
    )


def meter_guard(volts: float) -> float:
    """Volts by which a plain meter may be off either way: 0.7 % of the reading + 0.2 V."""
    return METER_SHARE * abs(volts) + METER_COUNTS_V


def judge_voltage(
    legs: Sequence[float], *, between_v: float | None = None, edition: str = "2011"
) -> Volts:
    """Judges one 120 V reading, or the two legs of a 50 A outlet.

    Args:
        legs: one or two readings, each leg to neutral, in volts.
        between_v: leg to leg, where it was measured.
        edition: a key of `EDITIONS`.

    Returns:
        OK in range A, CAUTION in range B or within the meter's tolerance of a limit, STOP
        outside.  Two legs: STOP for a dead leg, for one far above the other (a loose neutral),
        and for two legs that are the same one (their currents add up in the neutral).

    Raises:
        InputError: no reading or more than two, one below zero, an unknown edition.
    """
    if not 1 <= len(legs) <= 2:
        raise InputError("Give one reading, or one for each of two legs.")
    if min(legs) < 0 or (between_v is not None and between_v < 0):
        raise InputError("A voltage reading must not be below zero.")
    if edition not in EDITIONS:
        raise InputError(f"Edition '{edition}' is not known; use {' or '.join(EDITIONS)}.")
    table = EDITIONS[edition]
    bands = [load_band(volts, table) for volts in legs]
    order = ["A", "B", "outside"]
    # Of two legs equally bad, the one further from the middle speaks.
    index = max(
        range(len(legs)), key=lambda i: (order.index(bands[i]), abs(legs[i] - 120.0), -i)
    )
    reading, band = legs[index], bands[index]
    guard = meter_guard(reading)
    near = any(load_band(reading + off, table) != band for off in (-guard, guard))
    verdict, say = _one_leg(reading, band, near)
    if len(legs) == 2:
        verdict, say = _two_legs(min(legs), max(legs), between_v) or (verdict, say)
    return Volts(
        verdict=verdict, say=say, basis=table.name, reading_v=reading,
        other_v=legs[1 - index] if len(legs) == 2 else reading, leg=index + 1, band=band,
        edition=edition, near="near" if near else "clear",
    )  # fmt: skip


def judge_mains(volts: float) -> Mains:
    """Judges a 230 V outlet, nothing running: STOP outside `MAINS_LIMITS_V`, CAUTION where a plain
    meter may be off across them.

    Raises:
        InputError: a reading below zero.
    """
    if volts < 0:
        raise InputError("A voltage reading must not be below zero.")
    low, high = MAINS_LIMITS_V
    guard = meter_guard(volts)
    if not low <= volts <= high:
        verdict, say = Verdict.STOP, f"volts.too-{'low' if volts < MAINS_V else 'high'}"
    elif low + guard <= volts <= high - guard:
        verdict, say = Verdict.OK, "volts.good"
    else:
        verdict, say = Verdict.CAUTION, "volts.near"
    return Mains(verdict=verdict, say=say, reading_v=volts,
                 basis="EN 50160 and IEC 60038, 230 V +-10 % (from memory)")


def judge_loaded(volts: float, outlet_v: float | None, *, mains: bool = False) -> Loaded:
    """Judges the volts inside while the big loads run.

    Args:
        volts: read at the load.
        outlet_v: read at the outlet before, nothing running; None if it was not.
        mains: 230 V nominal, else 120 V.

    Returns:
        STOP outside what appliances are made for; CAUTION for a drop over `MOST_DROP_PERCENT`, which
        a warm plug, a loose joint or a thin cord costs.

    Raises:
        InputError: a reading below zero.
    """
    if volts < 0 or (outlet_v is not None and outlet_v <= 0):
        raise InputError("A voltage reading must not be below zero.")
    low, high = LOADED_MAINS_V if mains else LOADED_V
    drop = max(0.0, outlet_v - volts) if outlet_v else 0.0
    percent = 100.0 * drop / outlet_v if outlet_v else 0.0
    if not low <= volts <= high:
        verdict, say = Verdict.STOP, f"loaded.{'low' if volts < low else 'high'}"
    elif percent > MOST_DROP_PERCENT + 1e-9:
        verdict, say = Verdict.CAUTION, "loaded.drop"
    else:
        verdict, say = Verdict.OK, "loaded.good"
    return Loaded(
        verdict=verdict, say=say, reading_v=volts, drop_v=drop, drop_percent=percent,
        basis=("IEC 60038, table A.1; 5 percent: IEC 60364-5-52, annex G" if mains else
               "US: ANSI C84.1 (2011), table 1; 5 percent: NFPA 70 215.2") + " (from memory)")


def _one_leg(reading: float, band: Band, near: bool) -> tuple[Verdict, str]:
    if reading < DEAD_V:
        return Verdict.STOP, "volts.dead"
    side = "low" if reading < 120.0 else "high"
    if band == "outside":
        return Verdict.STOP, f"volts.too-{side}"
    if band == "B":
        return Verdict.CAUTION, f"volts.{side}"
    return (Verdict.CAUTION, "volts.near") if near else (Verdict.OK, "volts.good")


def _two_legs(low: float, high: float, between: float | None) -> tuple[Verdict, str] | None:
    """What only a pair shows; None leaves the single leg's word."""
    if low < DEAD_V:
        return Verdict.STOP, "volts.dead"
    if high - low > UNEVEN_V and high > SERVICE_A_V[1]:
        return Verdict.STOP, "volts.neutral"
    if between is not None and between < DEAD_V:
        return Verdict.STOP, "volts.same-leg"
    if low < EDITIONS["2011"].lowest_b_v or high > SERVICE_B_V[1]:
        return None
    if high - low > UNEVEN_V:
        return Verdict.CAUTION, "volts.uneven"
    # 120/208 V from three phases, or a meter not held on both legs.
    if between is not None and between < 0.95 * (low + high):
        return Verdict.CAUTION, "volts.between"
    return None


def _band(volts: float, a: tuple[float, float], b: tuple[float, float]) -> Band:
    if a[0] <= volts <= a[1]:
        return "A"
    return "B" if b[0] <= volts <= b[1] else "outside"
