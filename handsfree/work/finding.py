"""What a calculation gives back: a verdict, a key of what to say, the values, and the grounds.

Imports the standard library and `errors` only.
"""

from __future__ import annotations

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
    "psi": ("kpa", 6.894757293168361),
    "gal": ("l", 3.785411784),
    "ml": ("floz", 1 / 29.5735295625),
}
"""Name ending of a value, the ending of its twin in the other system, and the factor.

International yard and pound (1959), exact; US gallon of 231 cubic inches, exact; psi from
the pound-force at standard gravity.
"""


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

    def values(self) -> dict[str, Value]:
        """Every text and number field by name, and the twin of each in the other system.

        ``rise_in`` 2.0 brings ``rise_cm`` 5.08 with it.  Fields that are None, or hold several
        values, are left out.
        """
        out: dict[str, Value] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name in ("verdict", "say", "basis") or not isinstance(value, Value):
                continue
            out[field.name] = value
            stem, _, unit = field.name.rpartition("_")
            if unit in TWINS and not isinstance(value, str):
                other, factor = TWINS[unit]
                out[f"{stem}_{other}"] = value * factor
        return out


class _Spoken(float):
    """A number that does not say its decimals when they are zero."""

    def __format__(self, spec: str) -> str:
        text = super().__format__(spec)
        return text.rstrip("0").rstrip(".") if "." in text and "e" not in text else text


def sentence(finding: Finding, wording: Mapping[str, Any]) -> str:
    """The finding in words.

    Args:
        finding: what a calculation gave.
        wording: the ``work`` section of a language file: ``say`` maps keys to sentences with
            ``{name:.1f}`` places, ``words`` maps our own terms to the language's.

    Raises:
        KeyError: the language file lacks the sentence or uses a value that is not there; a test
            goes through all of them.
    """
    words = wording.get("words", {})
    filled = {
        name: words.get(value, value) if isinstance(value, str) else _Spoken(value)
        for name, value in finding.values().items()
    }
    return str(wording["say"][finding.say]).format_map(filled)
