"""What a rig's own numbers can be at all: a guard against slips of the pen, not a judgement.

Pure; standard library only.  From the smallest to the largest road trailers with a good margin,
of our own making and without a source.  Nought is left to mean "not known" where the list's own
default is nought.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

BOUNDS: Mapping[str, tuple[float, float]] = MappingProxyType({
    "track": (24, 120), "jack to axle": (24, 480), "level length": (3, 96), "jack travel": (1, 48),
    "ramp step one": (0.25, 12), "ramp step two": (0.25, 12), "ramp step three": (0.25, 12),
    "flat pieces": (1, 100), "piece thickness": (0.1, 6),
    "volts low": (90, 240), "volts high": (100, 265), "mains low": (195, 230), "mains high": (230, 265),
    "cord gauge": (1, 18), "cord area": (0.5, 35), "inlet amps": (5, 125), "main amps": (5, 125),
    "cord watts": (500, 15000), "always watts": (1, 12000), "fridge watts": (10, 3000),
    "water heater watts": (100, 6000), "tank heater watts": (10, 3000), "battery low": (10, 60),
    "sealed low": (10, 60), "lithium low": (10, 60),
    "water psi high": (20, 120), "regulator psi": (20, 120), "fresh tank gallons": (1, 300),
    "outlet height": (1, 72), "tyre psi low": (15, 130), "tyre psi high": (15, 150),
    "air psi low": (60, 150),
    "side degrees high": (0.1, 10), "fore degrees high": (0.1, 10), "spot degrees high": (0.1, 15),
    "tongue percent low": (3, 35), "tongue percent high": (3, 35),
    "loaded weight": (200, 40000), "gross rating": (200, 40000), "axle rating": (200, 15000),
    "tyre rating": (100, 8000), "hitch rating": (30, 10000), "steer rating": (500, 20000),
    "drive rating": (500, 30000), "truck rating": (1000, 50000), "combined rating": (1500, 80000),
    "latitude": (-90, 90), "longitude": (-180, 180), "gas percent low": (1, 95),
    "inside fahrenheit low": (32, 85), "slide wind high": (5, 60), "leave wind high": (10, 80), "rig height": (4, 16),
    "rig length": (6, 60), "other length": (6, 40),
    "nut torque low": (20, 600), "nut torque high": (20, 600),
    "battery amp hours": (5, 3000), "panel watts": (5, 5000), "panel tilt": (1, 90),
    "gas pounds": (1, 420), "furnace btu": (1000, 100000), "people": (1, 20),
    "generator gallons": (0.1, 100), "generator watts": (200, 20000), "generator hours": (0.5, 100),
    "generator hours at a quarter": (0.5, 400), "fuel gallons": (2, 200), "miles per gallon": (2, 60),
})
"""Least and most, by the limit's name, in its own unit."""

UNIT_OF: Mapping[str, str] = MappingProxyType({
    **dict.fromkeys((
        "track", "jack to axle", "level length", "jack travel", "ramp step one", "ramp step two",
        "ramp step three", "piece thickness", "outlet height"), "inches"),
    **dict.fromkeys(("volts low", "volts high", "mains low", "mains high", "battery low",
                     "sealed low", "lithium low"), "volts"),
    **dict.fromkeys(("inlet amps", "main amps"), "amps"), "cord area": "square_millimetres",
    **dict.fromkeys((
        "cord watts", "always watts", "fridge watts", "water heater watts", "tank heater watts"),
        "watts"),
    **dict.fromkeys((
        "water psi high", "regulator psi", "tyre psi low", "tyre psi high", "air psi low"), "psi"),
    **dict.fromkeys((
        "side degrees high", "fore degrees high", "spot degrees high", "latitude", "longitude"),
        "degrees"),
    **dict.fromkeys((
        "tongue percent low", "tongue percent high", "gas percent low"), "percent"),
    **dict.fromkeys((
        "loaded weight", "gross rating", "axle rating", "tyre rating", "hitch rating",
        "steer rating", "drive rating", "truck rating", "combined rating"), "pounds"),
    **dict.fromkeys(("nut torque low", "nut torque high"), "foot_pounds"),
    "flat pieces": "pieces", "cord gauge": "AWG", "fresh tank gallons": "gallons",
    "inside fahrenheit low": "fahrenheit", "slide wind high": "miles_per_hour",
    "leave wind high": "miles_per_hour", "rig height": "feet",
    **dict.fromkeys(("rig length", "other length"), "feet"),
    "battery amp hours": "amp_hours", "panel watts": "watts", "panel tilt": "degrees",
    "gas pounds": "pounds", "furnace btu": "btu_per_hour", "people": "people",
    "generator gallons": "gallons", "generator watts": "watts", "generator hours": "hours",
    "generator hours at a quarter": "hours", "fuel gallons": "gallons",
    "miles per gallon": "miles_per_gallon",
})
"""The unit that a limit is kept in, whatever the rig file writes; as the checklists declare it."""

MAY_BE_NOUGHT = frozenset(BOUNDS) - {
    "piece thickness", "volts low", "volts high", "mains low", "mains high", "cord watts",
    "battery low", "sealed low", "lithium low",
    "water psi high",
    "tyre psi low", "tyre psi high", "air psi low", "side degrees high", "fore degrees high",
    "spot degrees high", "tongue percent low", "tongue percent high", "gas percent low", "inside fahrenheit low",
    "slide wind high", "leave wind high"}
"""Limits where nought says that it is not known, or none."""

FARTHEST_FEET = 150.0
"""From the ball or kingpin to any place where something is done."""


def out_of_bounds(limit: str, value: float) -> str:
    """What is wrong with a number, as the end of a sentence; "" where nothing is.

    A limit that is not in the table may be any number.
    """
    if limit not in BOUNDS or (value == 0 and limit in MAY_BE_NOUGHT):
        return ""
    low, high = BOUNDS[limit]
    return "" if low <= value <= high else f"cannot be {value:.12g}; it has to be between {low:g} and {high:g}"
