"""Measured values as people type or say them, turned into numbers in a known unit.

The only file that imports pint, and only when something is converted: starting pint takes
about as long as everything else together.  Number words ("ninety-six") are the language room's
business; here numbers are digits.
"""

from __future__ import annotations

import re
from functools import cache
from math import isfinite
from typing import TYPE_CHECKING, Any

from handsfree.errors import InputError

if TYPE_CHECKING:
    from pint import UnitRegistry

KINDS: dict[str, tuple[str, str]] = {
    "in": ("inch", "a length such as 96 in"),
    "ft": ("foot", "a length such as 50 ft"),
    "deg": ("degree", "an angle such as 2 deg"),
    "v": ("volt", "a voltage such as 118 V"),
    "a": ("ampere", "a current such as 30 A"),
    "w": ("watt", "a power such as 1500 W"),
    "ah": ("ampere * hour", "a capacity such as 12 Ah"),
    "psi": ("pound_force_per_square_inch", "a pressure such as 55 psi"),
    "gal": ("gallon", "a volume such as 40 gal"),
    "lb": ("pound", "a weight such as 6000 lb"),
    "percent": ("percent", "a share such as 6 percent"),
    "mm2": ("millimeter ** 2", "a cross-section such as 2.5 mm2"),
    "ppm": ("ppm", "a concentration such as 50 ppm"),
    "min": ("minute", "a time such as 45 min"),
    "f": ("degree_Fahrenheit", "a temperature such as 70 F"),
    "wh": ("watt_hour", "an energy such as 600 Wh"),
    "btuh": ("Btu / hour", "a heat such as 20000 BTU/h"),
    "mph": ("mile / hour", "a speed such as 20 mph"),
    "mi": ("mile", "a distance such as 120 miles"),
    "mpg": ("mile / gallon", "an economy such as 10 mpg"),
    "hours": ("hour", "a time such as 12 h"),
    "days": ("day", "a time such as 3 days"),
}
"""Our name of a unit, pint's name, and an example for the message."""

# Spellings that pint does not know, or takes for something else: "amps" is an attometre per
# second to it, "F" a farad, "C" a coulomb.
_SPELLINGS = {
    '"': "inch", "″": "inch", "inch": "inch", "'": "foot", "′": "foot",
    "v": "volt", "a": "ampere", "amps": "ampere", "amp": "ampere", "w": "watt", "kw": "kilowatt",
    "va": "watt", "ah": "ampere * hour", "amp hours": "ampere * hour", "psi": KINDS["psi"][0],
    "p s i": KINDS["psi"][0], "pounds per square inch": KINDS["psi"][0], "kpa": "kilopascal",
    "mm2": "millimeter ** 2", "mm²": "millimeter ** 2",
    "°": "degree", "f": "degree_Fahrenheit", "°f": "degree_Fahrenheit",
    "degrees f": "degree_Fahrenheit", "degrees fahrenheit": "degree_Fahrenheit",
    "fahrenheit": "degree_Fahrenheit", "c": "degree_Celsius", "°c": "degree_Celsius",
    "degrees c": "degree_Celsius", "degrees celsius": "degree_Celsius",
    "celsius": "degree_Celsius", "per cent": "percent", "lbf": "pound", "pounds": "pound",
    "wh": "watt_hour", "kwh": "kilowatt_hour", "btu/h": "Btu / hour", "btuh": "Btu / hour",
    "btu": "Btu / hour", "btu an hour": "Btu / hour", "mph": "mile / hour", "km/h": "kilometer / hour",
    "m/s": "meter / second", "mpg": "mile / gallon", "h": "hour", "d": "day",
    "gal": "gallon", "us gal": "gallon", "parts per million": "ppm", "mg/l": "ppm",
}  # fmt: skip

_NUMBER = r"(?:\d+\s+\d+/\d+|\d+/\d+|\d+(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?|\.\d+)"
_PART = re.compile(rf"\s*({_NUMBER})\s*([A-Za-z°%\"'′″/][A-Za-z°%\"'′″/ .]*(?:(?<=mm)[²2])?)?\s*")
_PER_100_KM = re.compile(r"\s*(\d+(?:\.\d+)?)\s*[lL]/100\s*km\s*")
_GAUGE = re.compile(r"#?\s*(\d{1,2})\s*(awg|gauge|ga)?\.?", re.IGNORECASE)


@cache
def _registry() -> UnitRegistry[Any]:
    from pint import UnitRegistry

    return UnitRegistry()


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 40 else f"{text[:37]}..."


def _number(text: str) -> float:
    """``1,800``, ``3/4`` or ``2 1/2`` as a float."""
    total = 0.0
    for piece in text.replace(",", "").split():
        top, _, bottom = piece.partition("/")
        total += float(top) / float(bottom) if bottom else float(top)
    return total


def _in_unit(number: float, spelling: str, kind: str) -> float:
    from pint.errors import PintError

    spelling = " ".join(spelling.rstrip(" .").split())
    name = _SPELLINGS.get(spelling.lower(), spelling)
    # pint reads whole expressions; a unit here is one name.
    if spelling.lower() not in _SPELLINGS and not re.fullmatch(r"[A-Za-z]+|%", spelling):
        raise ValueError(spelling)
    if kind == "f" and name == "degree":
        raise ValueError("degrees of which scale")
    units = _registry()
    try:
        return float(units.Quantity(number, name).to(KINDS[kind][0]).magnitude)
    except (PintError, AttributeError, TypeError, OverflowError) as error:
        raise ValueError(spelling) from error


def measure(text: str, kind: str, what: str = "the value") -> float:
    """The number that a text with a unit means, in the unit of ``kind``.

    Reads whole numbers, decimals, ``3/4 in``, ``2 1/2 in``, ``8 ft 2 in``, ``1,800 W`` and a
    leading minus or ``minus``; spellings such as ``"`` for inches, ``amps``, ``degrees F``.

    Args:
        text: what was typed or said.
        kind: a key of `KINDS`.
        what: name of the thing measured, for the message.

    Returns:
        The value in the unit that ``kind`` names; finite.

    Raises:
        InputError: no number, no unit, or a unit of something else.
    """
    if kind == "mpg" and (metric := _PER_100_KM.fullmatch(text)):
        litres = float(metric[1])
        text = f"{62.1371192237334 * 3.785411784 / litres:.9f} mpg" if litres else text
    wanted = KINDS[kind][1]
    refusal = InputError(f"{what[:1].upper()}{what[1:]} needs {wanted}, not '{_short(text)}'.")
    rest = re.sub(r"^\s*(?:minus\b|-|\u2212)", "", text, flags=re.IGNORECASE)
    sign = -1.0 if rest != text else 1.0
    total, position, parts = 0.0, 0, 0
    while position < len(rest):
        part = _PART.match(rest, position)
        if part is None or not part[2] or not part[2].strip():
            raise refusal
        try:
            value = _in_unit(sign * _number(part[1]), part[2], kind)
        except (ValueError, ZeroDivisionError):
            raise refusal from None
        total, position, parts = total + value, part.end(), parts + 1
    # Two temperatures do not add up to one.
    if not parts or (kind == "f" and parts > 1) or not isfinite(total):
        raise refusal
    return total


def gauge(text: str) -> int:
    """A wire gauge: ``10 AWG``, ``10 gauge``, ``#10`` or ``10``.

    Raises:
        InputError: not a whole American Wire Gauge number.
    """
    found = _GAUGE.fullmatch(text.strip())
    if found is None:
        raise InputError(f"The gauge needs a number such as 10 AWG, not '{_short(text)}'.")
    return int(found[1])


def shown(value: float, unit: str, digits: int = 1) -> str:
    """A number with its unit for the terminal; whole when the digits say nothing."""
    text = f"{value:,.{digits}f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} {unit}"
