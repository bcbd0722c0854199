"""How long a generator runs on its tank, by the run times on its data sheet.

Pure: standard library, `errors` and `finding`.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict

QUARTER = 0.25
"""The load at which data sheets give the longer run time."""

QUARTER_BURN = 0.5
"""What it burns at a quarter of its load, against full load, where the sheet does not say; common
practice, no source."""

ALTITUDE_SHARE = 0.035
"""Power that an engine without a blower loses for each 1,000 ft: makers' manuals, from memory."""

FUEL_KWH_PER_GAL = 33.7
"""Heat of a gallon of petrol: US EPA's gallon equivalent (from memory)."""

BEST_SHARE = 0.35
"""No small petrol generator turns more of it into current; engineering handbooks, from memory."""

MOST_ALTITUDE_FT = 15000.0
"""4,570 m: above every road to a camp site; more is a slip of the pen."""

MOST_RATED_W, MOST_HOURS = 50000.0, 500.0
"""More is a slip of the pen."""


@dataclass(frozen=True, kw_only=True)
class RunTime(Finding):
    """How long it runs at that load, and what it can give where it stands."""

    run_hours: float
    load_w: float
    limit_w: float
    burn_gal: float
    """In an hour."""


def run_time(
    fuel_gal: float, tank_gal: float, rated_w: float, full_hours: float, load_w: float, *,
    quarter_hours: float | None = None, altitude_ft: float = 0.0, need_hours: float | None = None,
) -> RunTime:
    """Hours on the fuel that is there.  Fuel goes straight up with the load (Willans' line), through
    the run times at full and at a quarter of the load.

    Args:
        fuel_gal: in the tank now.
        tank_gal, full_hours, quarter_hours: the full tank, and how long it lasts by the data sheet.
        rated_w: for hours, not for the start.
        load_w: what runs, in the mean.
        altitude_ft: where it stands.
        need_hours: how long it has to run; None if unknown.

    Returns:
        STOP for more than it gives for hours at that altitude; CAUTION when it does not run as long.

    Raises:
        InputError: a number that cannot be, and run times that no engine has.
    """
    if min(tank_gal, rated_w, full_hours) <= 0 or not 0 < fuel_gal <= tank_gal or load_w < 0:
        raise InputError("Tank, rating, run time and fuel must be above zero, and the fuel fit the tank.")
    if rated_w > MOST_RATED_W or max(full_hours, quarter_hours or 0) > MOST_HOURS:
        raise InputError("No camper's generator has such a rating or run time: check both.")
    full = tank_gal / full_hours
    quarter = tank_gal / quarter_hours if quarter_hours else QUARTER_BURN * full
    if not full * QUARTER <= quarter <= full:
        raise InputError("At a quarter of the load it runs longer, but not over four times as long.")
    if rated_w > full * FUEL_KWH_PER_GAL * 1000 * BEST_SHARE:
        raise InputError("No engine gives that much from so little fuel: check tank and run time.")
    burn = quarter + (full - quarter) * (load_w / rated_w - QUARTER) / (1 - QUARTER)
    hours = fuel_gal / burn
    limit = rated_w * max(0.0, 1 - ALTITUDE_SHARE * altitude_ft / 1000)
    if load_w > limit:
        verdict, say = Verdict.STOP, "generator.over"
    elif need_hours is not None and hours < need_hours:
        verdict, say = Verdict.CAUTION, "generator.short"
    else:
        verdict, say = Verdict.OK, "generator.runs"
    return RunTime(
        verdict=verdict, say=say, run_hours=hours, load_w=load_w, limit_w=limit, burn_gal=burn,
        basis="Straight line through the data sheet's run times; 3.5 percent of power each 1,000 ft"
              " (from memory)",
    )  # fmt: skip
