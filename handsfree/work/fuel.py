"""How far the fuel takes truck and trailer against a head wind, within what physics allows.

Pure: standard library, `errors` and `finding`.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict

AIR_KG_M3 = 1.225
"""International standard atmosphere, sea level."""

DRAG = (0.6, 1.0)
"""Drag coefficient of a truck with a box behind it, over the box's front: engineering handbooks, from
memory."""

ROLLING = (0.008, 0.015)
"""Rolling resistance of road tyres over the weight: engineering handbooks, from memory."""

FUEL_KWH_PER_GAL = 37.9
"""Heat of a gallon of diesel, the most of the fuels in use: US EPA (from memory)."""

BEST_SHARE = 0.45
"""No road engine turns more of it into work; engineering handbooks, from memory."""

WIDTH_FT = 8.0
"""Of a usual trailer; own estimate, the lesser widths of the law are 8 and 8.5 ft."""

RESERVE = 0.1
"""Of the range, left in the tank; a margin of our own, no source."""

_N_PER_LB, _M_PER_FT, _MS_PER_MPH = 4.4482216152605, 0.3048, 0.44704
_KWH_PER_N_MILE = 1609.344 / 3.6e6


@dataclass(frozen=True, kw_only=True)
class FuelRange(Finding):
    """Miles in still air and against the wind, by the worst and the best split of drag and rolling."""

    headwind_mph: float
    still_mi: float
    least_mi: float
    most_mi: float


def resistance(
    speed_mph: float, headwind_mph: float, weight_lb: float, front_ft2: float, drag: float,
    rolling: float,
) -> float:
    """Newtons that hold a rig back on the level: 1/2 rho Cd A (v + w)^2 + Crr m g."""
    air = (speed_mph + headwind_mph) * _MS_PER_MPH
    return (0.5 * AIR_KG_M3 * drag * front_ft2 * _M_PER_FT**2 * air**2
            + rolling * weight_lb * _N_PER_LB)


def fuel_range(
    fuel_gal: float, economy_mpg: float, speed_mph: float, headwind_mph: float, *, weight_lb: float,
    height_ft: float, width_ft: float = WIDTH_FT, distance_mi: float | None = None,
) -> FuelRange:
    """How far, from the miles that a gallon does in still air: each mile then takes fuel as the
    resistance grows, the engine's share of the heat being the same.

    It lies between the still range and that times (v / (v + w))^2, whatever the rig: where rolling
    were all, and where drag were.  Hills are left out.

    Args:
        fuel_gal: in the tank.
        economy_mpg: of this rig at this speed with no wind.
        speed_mph, headwind_mph: over the ground, and against it; no less than none.
        weight_lb: truck and trailer.
        height_ft, width_ft: of the trailer.
        distance_mi: to the next fuel; None if unknown.

    Returns:
        CAUTION when the next fuel is farther than the least, less a reserve.

    Raises:
        InputError: a number that cannot be, and an economy that no engine reaches.
    """
    if min(fuel_gal, economy_mpg, speed_mph, weight_lb, height_ft, width_ft) <= 0 or headwind_mph < 0:
        raise InputError("Fuel, economy, speed, weight and size must be above zero; a head wind is not"
                         " below it.")
    front = height_ft * width_ft
    least_n = resistance(speed_mph, 0, weight_lb, front, DRAG[0], ROLLING[0])
    top = FUEL_KWH_PER_GAL * BEST_SHARE / (least_n * _KWH_PER_N_MILE)
    if economy_mpg > top:
        raise InputError(f"At that speed no engine takes this rig more than {top:.0f} miles on a gallon:"
                         " check the figure.")
    still = fuel_gal * economy_mpg

    def against(drag: float, rolling: float) -> float:
        calm, wind = (resistance(speed_mph, w, weight_lb, front, drag, rolling)
                      for w in (0, headwind_mph))
        return still * calm / wind

    least, most = against(DRAG[1], ROLLING[0]), against(DRAG[0], ROLLING[1])
    short = distance_mi is not None and distance_mi > (1 - RESERVE) * least
    return FuelRange(
        verdict=Verdict.CAUTION if short else Verdict.OK, say="range.short" if short else "range.goes",
        headwind_mph=headwind_mph, still_mi=still, least_mi=least, most_mi=most,
        basis="Drag 0.6 to 1.0, rolling 0.008 to 0.015, air of 1.225 kg/m3 (from memory); level road",
    )  # fmt: skip
