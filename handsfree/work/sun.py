"""What a solar panel harvests on a clear day and on a dull one, by latitude, day and tilt.

Pure: standard library, `errors` and `finding`.  A flat horizon and no shade: hills, trees and a
leaf on the panel take more than all that is worked out here.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, asin, cos, degrees, pi, radians, sin, tan

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict

SOLAR_W_M2 = 1367.0
"""Solar constant: World Radiation Center, as in Duffie and Beckman (from memory)."""

MEINEL = (0.7, 0.678)
"""Direct beam of a clear sky: constant x 0.7 ** (air mass ** 0.678), Meinel and Meinel, Applied Solar
Energy, 1976 (from memory)."""

DIFFUSE_SHARE = 0.1
"""Of the direct beam, from the whole sky on a clear day; a rule of thumb of solar engineering, from
memory."""

ALBEDO = 0.2
"""What grass and soil throw back: Duffie and Beckman, from memory."""

DERATE = 0.75
"""What is left of the label behind heat, dirt, wires and the controller; common practice, no source."""

OVERCAST = 0.25
"""What a sky full of cloud lets through: 1 - 0.75 x (8/8) ** 3.4, Kasten and Czeplak, Solar Energy 24
(1980), from memory."""

MOST_PANEL_W = 5000.0
"""More is on no trailer's roof; a slip of the pen."""

_STEPS = 288
"""A day in steps of five minutes."""


@dataclass(frozen=True, kw_only=True)
class Harvest(Finding):
    """Watt hours of one day."""

    clear_wh: float
    dull_wh: float
    sun_hours: float
    """Of full sun, 1,000 W on each square metre, that the day is worth."""
    light_hours: float
    """From sunrise to sunset."""


def declination(day: int) -> float:
    """Degrees of the sun's height over the equator at noon: sin d = sin(-23.44) cos(360 (N + a) / 365.24
    + 1.914 sin(360 (N - 2) / 365.24)); N is 0 as the year begins (from memory).

    a, from the winter solstice to the new year, is 10.4 days in the middle of the years 2025 to 2028;
    over these it is up to 0.3 degrees off.
    """
    year = 2 * pi / 365.24
    n = day - 0.5
    turn = year * (n + 10.4) + 2 * 0.0167 * sin(year * (n - 2))
    return degrees(asin(sin(radians(-23.44)) * cos(turn)))


def incidence(latitude: float, day: int, hour_deg: float, tilt_deg: float, turned_deg: float
              ) -> float:
    """Cosine of the angle between the sun and what a panel faces: Duffie and Beckman, 1.6.2.

    Args:
        latitude: degrees, north positive.
        day: of the year, from 1.
        hour_deg: 15 degrees an hour from solar noon, afternoon positive.
        tilt_deg: from the horizontal.
        turned_deg: of what it faces, from south, west positive.
    """
    d, p, w = radians(declination(day)), radians(latitude), radians(hour_deg)
    b, g = radians(tilt_deg), radians(turned_deg)
    return (sin(d) * sin(p) * cos(b) - sin(d) * cos(p) * sin(b) * cos(g)
            + cos(d) * cos(p) * cos(b) * cos(w) + cos(d) * sin(p) * sin(b) * cos(g) * cos(w)
            + cos(d) * sin(b) * sin(g) * sin(w))


def clear_beam(height_sin: float, day: int) -> float:
    """W/m2 of a clear sky's direct beam at a sun whose height has this sine: `MEINEL`, with the air
    mass of Kasten and Young, 1989 (from memory)."""
    height = 90 - degrees(acos(height_sin))
    air = 1 / (height_sin + 0.50572 * (height + 6.07995) ** -1.6364)
    near = 1 + 0.033 * cos(2 * pi * day / 365)
    return float(SOLAR_W_M2 * near * MEINEL[0] ** (air ** MEINEL[1]))


def sun_hours(latitude: float, day: int, tilt_deg: float = 0.0, turned_deg: float = 0.0) -> float:
    """kWh/m2 on a panel in a clear day: beam x incidence, and what sky and ground throw on it alike
    from all sides."""
    open_sky, ground = (1 + cos(radians(tilt_deg))) / 2, (1 - cos(radians(tilt_deg))) / 2
    total = 0.0
    for step in range(_STEPS):
        hour = 360 * (step + 0.5) / _STEPS - 180
        high = incidence(latitude, day, hour, 0, 0)
        if high <= 0:
            continue
        beam = clear_beam(high, day)
        sky = DIFFUSE_SHARE * beam
        total += (beam * max(0.0, incidence(latitude, day, hour, tilt_deg, turned_deg))
                  + sky * open_sky + ALBEDO * (beam * high + sky) * ground)
    return total * 24 / _STEPS / 1000


def light_hours(latitude: float, day: int) -> float:
    """From sunrise to sunset: cos w = -tan latitude x tan declination, the sun's middle, no air."""
    edge = -tan(radians(latitude)) * tan(radians(declination(day)))
    return 24 * acos(max(-1.0, min(1.0, edge))) / pi


def harvest(
    latitude: float, day: int, panel_w: float, *, tilt_deg: float = 0.0, facing_deg: float | None = None,
    need_wh: float | None = None,
) -> Harvest:
    """What panels give in a day: watts of the label x hours of full sun x `DERATE`.

    Args:
        latitude: degrees, north positive.
        day: of the year, 1 to 366.
        panel_w: of all panels, by their labels.
        tilt_deg: from the horizontal, 0 to 90.
        facing_deg: compass degrees that they face; towards the noon sun where None.
        need_wh: what the day takes; None if unknown.

    Returns:
        CAUTION when a clear day gives less than it takes, or the sun does not rise.

    Raises:
        InputError: a number that cannot be.
    """
    if not -90 <= latitude <= 90 or not 1 <= day <= 366:
        raise InputError("Latitude goes from -90 to 90 degrees, and a year has days 1 to 366.")
    if not 0 < panel_w <= MOST_PANEL_W or not 0 <= tilt_deg <= 90:
        raise InputError(f"Panels have from 0 to {MOST_PANEL_W:g} W, and tilt from 0 to 90 degrees.")
    south = 0.0 if latitude >= declination(day) else 180.0
    hours = sun_hours(latitude, day, tilt_deg, south if facing_deg is None else facing_deg - 180)
    clear = panel_w * hours * DERATE
    if clear < 1:
        verdict, say = Verdict.CAUTION, "sun.none"
    elif need_wh is not None and clear < need_wh:
        verdict, say = Verdict.CAUTION, "sun.short"
    else:
        verdict, say = Verdict.OK, "sun.gives"
    return Harvest(
        verdict=verdict, say=say, clear_wh=clear, dull_wh=clear * OVERCAST, sun_hours=hours,
        light_hours=light_hours(latitude, day),
        basis="Clear sky: Meinel 1976; overcast: Kasten and Czeplak 1980 (from memory); three quarters"
              " of the label: common practice",
    )  # fmt: skip
