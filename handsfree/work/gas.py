"""LP-gas cylinders by weight, how long their gas lasts, and what an alarm's silence is worth.

Pure: standard library, `errors` and `finding`.  Nothing here says that air or gas is safe.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from types import MappingProxyType

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict
from handsfree.work.region import EUROPE, US

FILL_SHARE = 0.42
"""Propane by weight over the cylinder's water capacity: NFPA 58, filling density (from memory).
The "80 percent" of the trade is the same limit by volume."""

ALARM_WINDOWS_MIN = ((70, 60, 240), (150, 10, 50), (400, 4, 15))
"""ppm, then the minutes between which a UL 2034 alarm sounds, as quoted.  At 30 ppm it
keeps silent for 30 days."""

ALARM_WINDOWS_EUROPE_MIN = ((50, 60, 90), (100, 10, 40), (300, 0, 3))
"""The same by EN 50291-1 (from memory), which has at 30 ppm no alarm for two hours."""

_WINDOWS = MappingProxyType({US: ALARM_WINDOWS_MIN, EUROPE: ALARM_WINDOWS_EUROPE_MIN})

BTU_PER_LB = 21548.0
"""Heat of a pound of propane behind evaporation; propane suppliers' data sheets, as quoted."""

VAPOUR_BTUH: Mapping[int, tuple[float, ...]] = MappingProxyType({
    100: (113e3, 167e3, 214e3, 277e3, 300e3), 90: (104e3, 152e3, 200e3, 247e3, 277e3),
    80: (94e3, 137e3, 180e3, 214e3, 236e3), 70: (83e3, 122e3, 160e3, 199e3, 214e3),
    60: (75e3, 109e3, 140e3, 176e3, 192e3), 50: (64e3, 94e3, 125e3, 154e3, 167e3),
    40: (55e3, 79e3, 105e3, 131e3, 141e3), 30: (45e3, 66e3, 85e3, 107e3, 118e3),
    20: (36e3, 51e3, 68e3, 83e3, 92e3), 10: (28e3, 38e3, 49e3, 60e3, 66e3),
})
"""Pounds of propane in a 100 lb cylinder to the BTU an hour that it boils off for hours, at the
temperatures of `VAPOUR_F`: the trade's table, as a maker of generators prints it."""

VAPOUR_F = (0.0, 20.0, 40.0, 60.0, 70.0)

NO_VAPOUR_F = -20.0
"""Where that table's rule (the liquid cools to -20 F) leaves nothing; as quoted beside it."""

SMALLER = 0.85
"""What a smaller cylinder boils off against the 100 lb one: weight ratio to this power, an estimate
of our own from the wetted surface of usual cylinders, on the low side."""

HOLDS_F = 0.0
"""Outside, where a furnace that runs all the time just holds the trailer warm; common practice, no
source: watch your own."""

INSIDE_F = 65.0
"""What a furnace is set to; common practice, no source."""


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


def alarm_window(level_ppm: float, region: str = "") -> AlarmWindow:
    """When an alarm made by the region's standard sounds at a steady level of carbon monoxide; information only.

    Between the standard's levels the window of the lower one is given, which promises less.  Where the
    region is not known, so is the later of the two standards.

    Returns:
        STOP from the first level on, where an alarm may still take hours; CAUTION for anything less.

    Raises:
        InputError: a level below zero.
    """
    if level_ppm < 0:
        raise InputError("A concentration must not be below zero.")
    whose, (first, last) = max(
        ((name, _window(table, level_ppm)) for name, table in _WINDOWS.items()
         if name == region or region not in _WINDOWS),
        key=lambda one: inf if one[1][1] is None else one[1][1])
    return AlarmWindow(
        verdict=Verdict.CAUTION if last is None else Verdict.STOP,
        say="co.silent" if last is None else "co.window",
        basis="UL 2034 (quoted); at 30 ppm no alarm for 30 days: silence proves nothing"
        if whose == US else
        "EN 50291-1 (from memory); at 30 ppm no alarm for two hours: silence proves nothing",
        region=whose, level_ppm=level_ppm, earliest_min=first, latest_min=last,
    )  # fmt: skip


def _window(table: Sequence[tuple[int, int, int]], level_ppm: float) -> tuple[int | None, int | None]:
    reached = [(first, last) for ppm, first, last in table if level_ppm >= ppm]
    return reached[-1] if reached else (None, None)


@dataclass(frozen=True)
class Burner:
    """An appliance that burns gas: BTU an hour by its plate, and hours a day that it burns."""

    name: str
    btuh: float
    hours: float


@dataclass(frozen=True, kw_only=True)
class GasDays(Finding):
    """How long a cylinder lasts, and whether it boils off what burns at once."""

    days: float
    daily_lb: float
    duty_percent: float
    """Of the hours, in which the furnace burns."""
    draw_btuh: float
    """All burners at once."""
    vapour_btuh: float
    """What the cylinders boil off at that temperature."""


def furnace_duty(outside_f: float, inside_f: float = INSIDE_F, holds_f: float = HOLDS_F) -> float:
    """Share of the hours in which a furnace burns: heat lost goes with the difference of temperatures
    (Newton's law of cooling), so (inside - outside) / (inside - where it just holds).

    Raises:
        InputError: it holds at no lower temperature than it is set to.
    """
    if holds_f >= inside_f:
        raise InputError("A furnace just holds at an outside temperature below what it is set to.")
    return max(0.0, (inside_f - outside_f) / (inside_f - holds_f))


def vapour(gas_lb: float, capacity_lb: float, outside_f: float) -> float:
    """BTU an hour that a cylinder boils off for hours: `VAPOUR_BTUH`, straight between its rows, for
    another size by `SMALLER`; below 0 F down to nothing at -20.

    Raises:
        InputError: more gas than the cylinder holds.
    """
    if not 0 <= gas_lb <= capacity_lb * 1.01 or capacity_lb <= 0:
        raise InputError(f"{gas_lb:g} lb of gas do not fit a cylinder made for {capacity_lb:g} lb; say what"
                         " it holds when full.")
    level = min(100.0, 100.0 * gas_lb / capacity_lb)
    rows = sorted(VAPOUR_BTUH)
    below = max((row for row in rows if row <= level), default=0)
    above = min((row for row in rows if row >= level), default=100)
    low, high = (_at(VAPOUR_BTUH[row], outside_f) if row else 0.0 for row in (below, above))
    share = (level - below) / (above - below) if above > below else 0.0
    return float((low + (high - low) * share) * min(1.0, capacity_lb / 100) ** SMALLER)


def _at(row: Sequence[float], outside_f: float) -> float:
    if outside_f <= VAPOUR_F[0]:
        return row[0] * max(0.0, (outside_f - NO_VAPOUR_F) / (VAPOUR_F[0] - NO_VAPOUR_F))
    for (cold, less), (warm, more) in pairwise(zip(VAPOUR_F, row, strict=True)):
        if outside_f <= warm:
            return less + (more - less) * (outside_f - cold) / (warm - cold)
    return row[-1]


def gas_days(
    gas_lb: float, *, burners: Sequence[Burner] = (), furnace_btuh: float = 0.0,
    outside_f: float = 60.0, inside_f: float = INSIDE_F, holds_f: float = HOLDS_F,
    capacity_lb: float = 20.0, need_days: float | None = None,
) -> GasDays:
    """How long propane lasts: pounds x `BTU_PER_LB` / what a day burns.

    Args:
        gas_lb: in the cylinder that is open.
        burners: what burns besides the furnace.
        furnace_btuh: by its plate; 0 where none runs.
        outside_f, inside_f, holds_f: see `furnace_duty`; a day's mean outside.
        capacity_lb: what the cylinder holds when full.
        need_days: how long it has to last; None if unknown.

    Returns:
        CAUTION when the furnace cannot hold that temperature, when the cylinder is too cold or too
        empty for all burners at once, and when it does not last.

    Raises:
        InputError: a number that cannot be, or nothing that burns.
    """
    if gas_lb <= 0 or furnace_btuh < 0 or any(
            one.btuh <= 0 or not 0 <= one.hours <= 24 for one in burners):
        raise InputError("Gas and burners must be above zero, and a day has 24 hours.")
    duty = furnace_duty(outside_f, inside_f, holds_f) if furnace_btuh else 0.0
    btu = furnace_btuh * 24 * min(1.0, duty) + sum(one.btuh * one.hours for one in burners)
    if not btu:
        raise InputError("Nothing burns: name a burner, or a furnace and how cold it is.")
    draw = furnace_btuh * (duty > 0) + sum(one.btuh for one in burners if one.hours)
    boils, days = vapour(gas_lb, capacity_lb, outside_f), gas_lb * BTU_PER_LB / btu
    if duty > 1:
        verdict, say = Verdict.CAUTION, "gas.cold"
    elif draw > boils:
        verdict, say = Verdict.CAUTION, "gas.slow"
    elif need_days is not None and days < need_days:
        verdict, say = Verdict.CAUTION, "gas.short"
    else:
        verdict, say = Verdict.OK, "gas.lasts"
    return GasDays(
        verdict=verdict, say=say, days=days, daily_lb=btu / BTU_PER_LB, draw_btuh=draw,
        duty_percent=100 * min(1.0, duty), vapour_btuh=boils,
        basis="21,548 BTU a pound; boil-off: the trade's table for 100 lb cylinders (quoted), smaller"
              " ones estimated",
    )  # fmt: skip
