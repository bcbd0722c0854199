"""A house battery, by what it is made of: its voltage at rest, and how long it feeds a load.

Pure: standard library, `errors` and `finding`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import Literal

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict

Chemistry = Literal["lead-acid", "sealed", "lithium"]

FLOORS_V = MappingProxyType({"lead-acid": (12.2, 11.9), "sealed": (12.3, 11.8), "lithium": (12.9, 12.5)})
"""Volts at rest, 12 V nominal: charge below the first, stop drawing below the second.  Lead-acid
(flooded) and sealed (AGM, gel): about half full, and empty.  Lithium: four iron phosphate cells, about
a fifth and a tenth.  Makers' tables, from memory; the battery's own manual decides."""

MOST_V = 15.5
"""More is no 12 V battery at rest; generic, from memory."""

NOMINAL_V = MappingProxyType({"lead-acid": 12.0, "sealed": 12.0, "lithium": 12.8})
"""Six cells of 2 V, four of 3.2 V: makers' data, from memory."""

RATED_HOURS = 20.0
"""Hours over which a battery's capacity is given; from memory."""

USABLE = MappingProxyType({"lead-acid": 0.5, "sealed": 0.5, "lithium": 0.8})
"""Share of the capacity that is drawn so that the battery lasts for years; common practice, no
source: the battery's manual decides."""

EXPONENTS = MappingProxyType({"lead-acid": (1.1, 1.3), "sealed": (1.05, 1.25), "lithium": (1.0, 1.05)})
"""Peukert's exponent at its best and its worst, of house batteries: makers' data, from memory."""

_LEAD = ((0.0, 2.0), (25.0, 1.52), (40.0, 1.3), (50.0, 1.19), (60.0, 1.11), (77.0, 1.0))

COLD = MappingProxyType({
    "lead-acid": _LEAD, "sealed": _LEAD,
    "lithium": ((-4.0, 1.7), (32.0, 1.25), (77.0, 1.0)),
})
"""Fahrenheit, and by how much more capacity it takes to give the same: lead-acid by IEEE 485, table 1
(from memory; 0 F by its curve), lithium iron phosphate by makers' data, from memory.  Warmer than 77
F counts as 77."""

FREEZING_F = 32.0
"""Charging lithium iron phosphate below it harms it: makers' manuals, from memory."""


@dataclass(frozen=True, kw_only=True)
class Battery(Finding):
    """The reading and the voltages it was held against."""

    reading_v: float
    charge_v: float
    empty_v: float
    chemistry: str


def judge_battery(volts: float, chemistry: Chemistry) -> Battery:
    """Judges a 12 V battery at rest, some hours without charge or load.

    Returns:
        CAUTION when it should be charged, STOP when nothing more should be drawn from it.

    Raises:
        InputError: an unknown chemistry, or a voltage that is no 12 V battery's.
    """
    if chemistry not in FLOORS_V:
        raise InputError(f"'{chemistry}' is not known; use {' or '.join(FLOORS_V)}.")
    if not 0 <= volts <= MOST_V:
        raise InputError(f"A 12 V battery at rest has 0 to {MOST_V:g} V: read it again.")
    charge, empty = FLOORS_V[chemistry]
    if volts < empty:
        verdict, say = Verdict.STOP, "battery.empty"
    elif volts < charge:
        verdict, say = Verdict.CAUTION, "battery.low"
    else:
        verdict, say = Verdict.OK, "battery.good"
    return Battery(
        verdict=verdict, say=say, basis="Makers' tables of voltage at rest (from memory)",
        reading_v=volts, charge_v=charge, empty_v=empty, chemistry=chemistry,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class BatteryHours(Finding):
    """How long a battery feeds a load, by the worst exponent and by the best."""

    least_hours: float
    most_hours: float
    current_a: float
    usable_ah: float
    """Of the label's capacity, before Peukert."""
    left_percent: float
    """What is left in it then."""


def peukert_hours(capacity_ah: float, current_a: float, exponent: float) -> float:
    """Hours that a battery lasts: H x (C / (I x H)) ** n, Peukert's law, with H = 20 hours.

    Args:
        capacity_ah: by its label, at the 20 hour rate.
        current_a: drawn all the while.
        exponent: of the battery, 1 for an ideal one.
    """
    return float(RATED_HOURS * (capacity_ah / (current_a * RATED_HOURS)) ** exponent)


def cold_factor(temperature_f: float, chemistry: Chemistry) -> float:
    """By how much more capacity it takes in the cold, straight between the rows of `COLD`.

    Raises:
        InputError: colder than the table.
    """
    table = COLD[chemistry]
    if temperature_f < table[0][0]:
        raise InputError(f"Below {table[0][0]:g} F no table holds: see the battery's manual.")
    for (cold, more), (warm, less) in pairwise(table):
        if temperature_f < warm:
            return more + (less - more) * (temperature_f - cold) / (warm - cold)
    return 1.0


def battery_hours(
    capacity_ah: float, chemistry: Chemistry, *, load_w: float | None = None,
    current_a: float | None = None, temperature_f: float = 77.0, charge_percent: float = 100.0,
    need_hours: float | None = None,
) -> BatteryHours:
    """How long a 12 V battery feeds a steady load: usable share x Peukert's hours.

    Never longer than capacity over current: what a slow discharge may give beyond the label is
    nothing to count on.

    Args:
        capacity_ah: by its label, at the 20 hour rate.
        chemistry: what it is made of.
        load_w, current_a: what is drawn from it, one of the two; an inverter's losses included.
        temperature_f: of the battery.
        charge_percent: how full it is now.
        need_hours: how long it has to last; None if unknown.

    Returns:
        CAUTION when it may not last as long as it has to, and for lithium below freezing.

    Raises:
        InputError: a number that cannot be, both or neither of load and current, or more than the
            battery gives in an hour, where Peukert's law ends.
    """
    if chemistry not in FLOORS_V:
        raise InputError(f"'{chemistry}' is not known; use {' or '.join(FLOORS_V)}.")
    if (load_w is None) is (current_a is None):
        raise InputError("Give the load or the current that the battery feeds.")
    amps = current_a if current_a is not None else (load_w or 0.0) / NOMINAL_V[chemistry]
    if capacity_ah <= 0 or amps <= 0 or not 0 < charge_percent <= 100:
        raise InputError("Capacity, charge and load must be above zero.")
    if amps > capacity_ah:
        raise InputError("That empties the battery in less than an hour: it is too small for it.")
    capacity = capacity_ah / cold_factor(temperature_f, chemistry)
    share = max(0.0, charge_percent / 100 - (1 - USABLE[chemistry]))
    best, worst = (
        share * min(peukert_hours(capacity, amps, n), capacity / amps) for n in EXPONENTS[chemistry])
    low, high = EXPONENTS[chemistry]
    cold = "makers' data" if chemistry == "lithium" else "IEEE 485, table 1"
    if need_hours is not None and worst < need_hours:
        verdict, say = Verdict.CAUTION, "battery.short"
    elif chemistry == "lithium" and temperature_f < FREEZING_F:
        verdict, say = Verdict.CAUTION, "battery.cold"
    else:
        verdict, say = Verdict.OK, "battery.lasts"
    return BatteryHours(
        verdict=verdict, say=say, least_hours=worst, most_hours=best, current_a=amps,
        usable_ah=share * capacity, left_percent=100 * (1 - USABLE[chemistry]),
        basis=f"Peukert, 20 h, exponent {low:g} to {high:g}; cold by {cold}; usable share: common"
              " practice (from memory)",
    )  # fmt: skip
