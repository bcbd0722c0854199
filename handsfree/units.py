"""The units that readings and limits can have, how those of one quantity convert, and systems.

Pure (stdlib only).  What a unit is called belongs to the language files.

Sources: exact by definition are the inch (25.4 mm), foot, pound and gallon of the international
yard and pound agreement of 1959 and of NIST Handbook 44 appendix C, standard gravity
9.80665 m/s2 (CGPM 1901), and degrees Fahrenheit = 9/5 degrees Celsius + 32.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

_INCH = Fraction(254, 10_000)
_POUND = Fraction(45_359_237, 100_000_000)
_PSI = _POUND * Fraction(980_665, 100_000) / _INCH**2
_GALLON = 231 * _INCH**3 * 1_000


@dataclass(frozen=True)
class Unit:
    """A unit of ``quantity``; base value = value * ``scale`` + ``offset``."""

    quantity: str
    scale: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)


UNITS: dict[str, Unit] = {
    "volts": Unit("voltage"),
    "amps": Unit("current"),
    "watts": Unit("power"),
    "hertz": Unit("frequency"),
    "ohms": Unit("resistance"),
    "percent": Unit("share"),
    "degrees": Unit("angle"),
    "times": Unit("count"),
    "psi": Unit("pressure", _PSI),
    "bar": Unit("pressure", Fraction(100_000)),
    "kpa": Unit("pressure", Fraction(1_000)),
    "celsius": Unit("temperature"),
    "fahrenheit": Unit("temperature", Fraction(5, 9), Fraction(-160, 9)),
    "inches": Unit("length", _INCH),
    "feet": Unit("length", 12 * _INCH),
    "millimetres": Unit("length", Fraction(1, 1_000)),
    "centimetres": Unit("length", Fraction(1, 100)),
    "metres": Unit("length", Fraction(1)),
    "miles": Unit("length", 63_360 * _INCH),
    "kilometres": Unit("length", Fraction(1_000)),
    "pounds": Unit("mass", _POUND),
    "kilograms": Unit("mass"),
    "gallons": Unit("volume", _GALLON),
    "litres": Unit("volume"),
    "millilitres": Unit("volume", Fraction(1, 1_000)),
    "watt_hours": Unit("energy", Fraction(3_600)),
    "fluid_ounces": Unit("volume", _GALLON / 128),
    "seconds": Unit("time"),
    "minutes": Unit("time", Fraction(60)),
    "hours": Unit("time", Fraction(3_600)),
    "days": Unit("time", Fraction(86_400)),
    "foot_pounds": Unit("torque", 12 * _INCH * _POUND * Fraction(980_665, 100_000)),
    "newton_metres": Unit("torque"),
    "miles_per_hour": Unit("speed", 63_360 * _INCH / 3_600),
    "kilometres_per_hour": Unit("speed", Fraction(1_000, 3_600)),
    "metres_per_second": Unit("speed"),
}
"""Unit id to unit."""


US, METRIC = "US", "metric"
"""Systems of units that a rig can be in."""

TO_METRIC = {
    "psi": "bar", "inches": "centimetres", "feet": "metres", "pounds": "kilograms",
    "fahrenheit": "celsius", "miles_per_hour": "kilometres_per_hour", "gallons": "litres",
    "foot_pounds": "newton_metres", "miles": "kilometres",
}
"""What a quantity is asked and told in on a metric rig; units that are not here serve both."""

STEPS = {"bar": Fraction(1, 10), "centimetres": Fraction(1, 2), "metres": Fraction(1, 10),
         "kilograms": Fraction(1), "celsius": Fraction(1, 2), "kilometres_per_hour": Fraction(1),
         "litres": Fraction(1), "newton_metres": Fraction(1), "kilometres": Fraction(5)}
"""What a value in a metric unit is rounded to where it is told."""

WRITTEN = {
    "psi": "psi", "bar": "bar", "kpa": "kpa", "in": "inches", "inch": "inches", "inches": "inches",
    "ft": "feet", "feet": "feet", "mm": "millimetres", "cm": "centimetres", "m": "metres",
    "lb": "pounds", "lbs": "pounds", "pounds": "pounds", "kg": "kilograms", "f": "fahrenheit",
    "°f": "fahrenheit", "c": "celsius", "°c": "celsius", "mph": "miles_per_hour",
    "km/h": "kilometres_per_hour", "m/s": "metres_per_second", "gal": "gallons",
    "gallons": "gallons", "l": "litres", "litres": "litres", "liters": "litres",
    "mi": "miles", "miles": "miles", "km": "kilometres",
    "ft lb": "foot_pounds", "lb ft": "foot_pounds", "nm": "newton_metres", "v": "volts",
    "a": "amps", "w": "watts", "%": "percent", "percent": "percent", "deg": "degrees",
    "°": "degrees", "degrees": "degrees",
}
"""How a unit may be written in a rig file, in small letters, to its id."""


def in_system(unit: str, system: str) -> str:
    """The unit in which a quantity that is kept in `unit` is asked and told in this system."""
    return TO_METRIC.get(unit, unit) if system == METRIC else unit


def same_quantity(a: str, b: str) -> bool:
    """Whether two unit ids measure the same thing."""
    return UNITS[a].quantity == UNITS[b].quantity


def convert(value: Fraction, source: str, target: str) -> Fraction:
    """``value`` of unit ``source`` in unit ``target``, exactly.

    Raises ``ValueError`` where the two measure different things.
    """
    a, b = UNITS[source], UNITS[target]
    if a.quantity != b.quantity:
        raise ValueError(f"{source} is {a.quantity}, {target} is {b.quantity}")
    return (value * a.scale + a.offset - b.offset) / b.scale
