"""LP-gas cylinders by weight, and what a carbon-monoxide alarm's silence is worth.

Pure: standard library, `errors` and `finding`.  Nothing here says that air or gas is safe.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict

FILL_SHARE = 0.42
"""Propane by weight over the cylinder's water capacity: NFPA 58, filling density (from memory).
The "80 percent" of the trade is the same limit by volume."""

ALARM_WINDOWS_MIN = ((70, 60, 240), (150, 10, 50), (400, 4, 15))
"""ppm, then the minutes between which a UL 2034 alarm sounds, as quoted.  At 30 ppm it
keeps silent for 30 days."""

SILENT_PPM = 30


@dataclass(frozen=True, kw_only=True)
class Cylinder(Finding):
    """Gas in a cylinder, by the scale."""

    gas_lb: float
    limit_lb: float
    left_percent: float


@dataclass(frozen=True, kw_only=True)
class AlarmWindow(Finding):
    """When an alarm should sound at a steady level; None where it need not sound at all."""

    level_ppm: float
    earliest_min: int | None
    latest_min: int | None


def fill_limit(water_capacity_lb: float) -> float:
    """The most propane in pounds: 0.42 x water capacity (NFPA 58, from memory).

    Raises:
        InputError: a capacity not above zero.
    """
    if water_capacity_lb <= 0:
        raise InputError("The water capacity (WC on the collar) must be above zero.")
    return FILL_SHARE * water_capacity_lb


def weigh_cylinder(scale_lb: float, tare_lb: float, water_capacity_lb: float) -> Cylinder:
    """How much gas is in a cylinder: scale less tare (TW on the collar).

    Returns:
        STOP above the filling limit: an overfilled cylinder goes back to whoever filled it.

    Raises:
        InputError: the scale shows less than the empty cylinder, or weights that cannot be.
    """
    limit = fill_limit(water_capacity_lb)
    gas = scale_lb - tare_lb
    if tare_lb <= 0 or gas < 0:
        raise InputError("The scale must show at least the tare weight (TW on the collar).")
    # A twentieth of a pound, the last digit of a stamped collar.
    over = gas > limit + 0.05
    return Cylinder(
        verdict=Verdict.STOP if over else Verdict.OK,
        say="gas.over" if over else "gas.left",
        basis="42 percent of water capacity by weight: NFPA 58 (from memory)",
        gas_lb=gas,
        limit_lb=limit,
        left_percent=100.0 * gas / limit,
    )


def alarm_window(level_ppm: float) -> AlarmWindow:
    """When a UL 2034 alarm sounds at a steady level of carbon monoxide; information only.

    Between the standard's levels the window of the lower one is given, which promises less.

    Returns:
        STOP from 70 ppm, where an alarm may still take four hours; CAUTION for anything less.

    Raises:
        InputError: a level below zero.
    """
    if level_ppm < 0:
        raise InputError("A concentration must not be below zero.")
    reached = [(first, last) for ppm, first, last in ALARM_WINDOWS_MIN if level_ppm >= ppm]
    first, last = reached[-1] if reached else (None, None)
    return AlarmWindow(
        verdict=Verdict.STOP if reached else Verdict.CAUTION,
        say="co.window" if reached else "co.silent",
        basis="UL 2034 (quoted); at 30 ppm no alarm for 30 days: silence proves nothing",
        level_ppm=level_ppm,
        earliest_min=first,
        latest_min=last,
    )
