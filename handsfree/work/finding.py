"""What a calculation gives back: a verdict, a key of what to say, the values, and the grounds.

Imports the standard library and `errors` only.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Any

Value = str | int | float
"""What a sentence can be filled with."""

TWINS: Mapping[str, tuple[str, float]] = {
    "in": ("cm", 2.54),
    "ft": ("m", 0.3048),
    "lb": ("kg", 0.45359237),
    "psi": ("bar", 0.06894757293168361),
    "gal": ("l", 3.785411784),
    "ml": ("floz", 1 / 29.5735295625),
    "mph": ("kmh", 1.609344),
    "mi": ("km", 1.609344),
    "f": ("c", 5 / 9),
    "btuh": ("kw", 0.00029307107),
}
"""Name ending of a value, the ending of its twin in the other system, and the factor.

International yard and pound (1959), exact; US gallon of 231 cubic inches, exact; psi from
the pound-force at standard gravity.  Fahrenheit also has a nought of its own, see `twin`.
"""

US, METRIC = "US", "metric"
"""Systems that a sentence can be in."""


def twin(ending: str, value: float) -> float:
    """A value whose name has this ending, in the other system."""
    return (value - 32 if ending == "f" else value) * TWINS[ending][1]


class Verdict(StrEnum):
    """From good to bad."""

    OK = "ok"
    CAUTION = "caution"
    STOP = "do not"


def worst(*verdicts: Verdict) -> Verdict:
    """The gravest of the given verdicts; OK for none."""
    order = list(Verdict)
    return max(verdicts, key=order.index, default=Verdict.OK)


@dataclass(frozen=True, kw_only=True)
class Finding:
    """Base of every result."""

    verdict: Verdict
    say: str
    """Key of the sentence under ``say:`` in the language's ``work`` section."""
    basis: str
    """Where the formula and its limits come from, and what they are worth."""
    region: str = ""
    """Whose code the figure that is told rests on, of `region.REGIONS`; "" where it rests on none."""

    def values(self) -> dict[str, Value]:
        """Every text and number field by name, and the twin of each in the other system.

        ``rise_in`` 2.0 brings ``rise_cm`` 5.08 with it.  Fields that are None, or hold several
        values, are left out.
        """
        out: dict[str, Value] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name in ("verdict", "say", "basis", "region") or not isinstance(value, Value):
                continue
            out[field.name] = value
            stem, _, unit = field.name.rpartition("_")
            if unit in TWINS and not isinstance(value, str):
                out[f"{stem}_{TWINS[unit][0]}"] = twin(unit, value)
        return out


class _Spoken(float):
    """A number that does not say its decimals when they are zero, with its unit if it has one."""

    unit: tuple[str, str] | None = None
    more = 0
    """Decimals beyond those that the sentence asks for: a bar is a lot of psi, a kilowatt of BTU."""

    def __format__(self, spec: str) -> str:
        digits = re.fullmatch(r"\.(\d)f", spec)
        text = super().__format__(f".{int(digits[1]) + self.more}f" if digits else spec)
        text = text.rstrip("0").rstrip(".") if "." in text and "e" not in text else text
        return text if self.unit is None else f"{text} {self.unit[text != '1']}"


def _filled(name: str, value: float, wording: Mapping[str, Any], system: str) -> _Spoken:
    ending = name.rpartition("_")[2]
    told = TWINS[ending][0] if system == METRIC and ending in _IN_SYSTEM else ending
    spoken = _Spoken(value if told == ending else twin(ending, value))
    if ending in _IN_SYSTEM | _EVERYWHERE and told in wording.get("units", {}):
        one, many = wording["units"][told]
        spoken.unit, spoken.more = (one, many), int(told in ("bar", "kw"))
    return spoken


_IN_SYSTEM = frozenset(TWINS) - {"ml"}
"""Endings whose unit a sentence leaves to the system; millilitres serve both."""

_EVERYWHERE = frozenset({"a", "deg"})
"""Endings whose unit is the same in both systems, and stands behind the number as well: one or many."""


def sentence(finding: Finding, wording: Mapping[str, Any], system: str = US) -> str:
    """The finding in words.

    Args:
        finding: what a calculation gave.
        wording: the ``work`` section of a language file: ``say`` maps keys to sentences with
            ``{name:.1f}`` places, ``words`` maps our own terms to the language's, and ``units`` maps
            endings of `TWINS` to one and many, which stand behind the number.
        system: `US` or `METRIC`.

    Raises:
        KeyError: the language file lacks the sentence or uses a value that is not there; a test
            goes through all of them.
    """
    words = wording.get("words", {})
    filled = {
        name: words.get(value, value) if isinstance(value, str) else _filled(
            name, value, wording, system)
        for name, value in finding.values().items()
    }
    return str(wording["say"][finding.say]).format_map(filled)
