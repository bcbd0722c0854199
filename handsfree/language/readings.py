"""Spoken measurements: a number with its unit before it, after it, or left out.

Pure (stdlib and this room only).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from handsfree.language.model import Language
from handsfree.language.numbers import ends_in_fraction, parse_number, parse_words
from handsfree.language.saying import say_number
from handsfree.language.units import convert, same_quantity
from handsfree.language.words import normalise

_SAID_IN_FRACTIONS = frozenset({"inches", "feet", "miles", "hours", "gallons"})


@dataclass(frozen=True, slots=True)
class Reading:
    """``value`` in ``unit`` (a unit id).

    ``said`` is the reading as it was spoken, where that was in another unit of the quantity.
    """

    value: Fraction
    unit: str
    said: Reading | None = None


@dataclass(frozen=True, slots=True)
class WrongUnit:
    """A number with a unit that does not measure what was asked for."""

    readings: tuple[Reading, ...]
    wanted: str


def parse_reading(text: str, language: Language, unit: str) -> tuple[Reading, ...] | WrongUnit:
    """All readings of the text in ``unit``, the likeliest first; empty if it is none.

    A unit that is said outright must be of the same quantity, and is converted.  A form that
    several units share ("degrees") is taken for ``unit`` if that is one of them.
    Never raises for any text.  ``KeyError`` for an unknown ``unit``.
    """
    found: dict[tuple[Fraction, str], Reading] = {}
    wrong: dict[Reading, None] = {}
    for value in parse_number(text, language):
        found[value, unit] = Reading(value, unit)
    words = tuple(normalise(text).split())
    for values, named in _splits(words, language):
        same = [u for u in named if same_quantity(u, unit)]
        if unit in named:
            same = [unit]
        for value in values:
            for other in same:
                here = convert(value, other, unit)
                said = None if other == unit else Reading(value, other)
                found.setdefault((here, unit), Reading(here, unit, said))
            if not same:
                wrong.update((Reading(value, u), None) for u in named)
    if wrong and not found:
        return WrongUnit(tuple(wrong), unit)
    return tuple(found.values())


def _splits(
    words: tuple[str, ...], language: Language
) -> Iterator[tuple[tuple[Fraction, ...], tuple[str, ...]]]:
    """Ways of parting the words into a number and a unit: (values, unit ids of that form)."""
    forms: dict[tuple[str, ...], list[str]] = {}
    for unit, spoken in language.units.items():
        for form in spoken.forms:
            forms.setdefault(tuple(form.split()), []).append(unit)
    links = [tuple(link.split()) for link in language.numbers.unit_links]
    for form, units in sorted(forms.items(), key=lambda item: -len(item[0])):
        k = len(form)
        if words[-k:] == form and len(words) > k:
            number = words[:-k]
            for link in sorted(links, key=len, reverse=True):
                bare = number[: -len(link)]
                if number[-len(link):] == link and ends_in_fraction(bare, language):
                    number = bare
                    break
            yield parse_words(number, language), tuple(units)
        if words[:k] == form and len(words) > k:
            yield parse_words(words[k:], language), tuple(units)


def say_reading(reading: Reading, language: Language, *, digits: bool = False) -> str:
    """The reading as it was said, for the readback: "one hundred and eighteen volts".

    A value converted from another unit is said in the operator's own unit.
    """
    shown = reading.said or reading
    words = language.units[shown.unit]
    fractions = shown.unit in _SAID_IN_FRACTIONS
    number = say_number(shown.value, language, digits=digits, fractions=fractions)
    singular = abs(shown.value) == 1 or (fractions and not digits and abs(shown.value) < 1)
    if singular and abs(shown.value) != 1 and language.numbers.unit_links:
        return f"{number} {language.numbers.unit_links[0]} {words.one}"
    return f"{number} {words.one if singular else words.many}"
