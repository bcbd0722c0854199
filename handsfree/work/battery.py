"""A house battery's voltage at rest, by what it is made of.

Pure: standard library, `errors` and `finding`.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict

Chemistry = Literal["lead-acid", "lithium"]

FLOORS_V = MappingProxyType({"lead-acid": (12.2, 11.9), "lithium": (12.9, 12.5)})
"""Volts at rest, 12 V nominal: charge below the first, stop drawing below the second.  Lead-acid:
about half full, and empty.  Lithium: four iron phosphate cells, about a fifth and a tenth.  Makers'
tables, from memory; the battery's own manual decides."""

MOST_V = 15.5
"""More is no 12 V battery at rest; generic, from memory."""


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
