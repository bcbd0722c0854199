"""Spoken measurements: a number with its unit before it, after it, or left out.

Pure (stdlib and this room only).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from handsfree.language.model import Language
from handsfree.language.numbers import (
    ends_in_fraction,
    parse_number,
    parse_words,
    split_typed,
)
from handsfree.language.verbalising import say_number
from handsfree.language.words import normalise
from handsfree.units import convert, same_quantity

_Parts = tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]
"""What stands before the number, whether one stands between, and what behind it."""


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
    for values, named in _splits(text, language):
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
    text: str, language: Language
) -> Iterator[tuple[tuple[Fraction, ...], tuple[str, ...]]]:
    """Ways of parting the text into a number and a unit: (values, unit ids of that form)."""
    typed = split_typed(text)
    if typed:
        values, rest = typed
        rest = normalise(rest)
        yield values, next((units for form, _, units in _forms(language) if form == rest), ())
        return
    words = _pieces(normalise(text), language)
    for _, parts, units in _forms(language):
        for number in _around(words, parts, language):
            if len(number) == 1 and number[0] in language.numbers.one:
                yield (Fraction(1),), units
            yield parse_words(number, language), units


@lru_cache(maxsize=16)
def _forms(language: Language) -> tuple[tuple[str, _Parts, tuple[str, ...]], ...]:
    """Every form of a unit, the longest first: as it is, in parts, and the units that have it."""
    forms: dict[str, list[str]] = {}
    for unit, spoken in language.units.items():
        for form in spoken.forms:
            forms.setdefault(form, []).append(unit)
    found = []
    for form, units in sorted(forms.items(), key=lambda item: -len(item[0])):
        before, gap, after = (_pieces(part, language) for part in form.partition("{}"))
        found.append((form, (before, gap, after), tuple(units)))
    return tuple(found)


def _around(
    words: tuple[str, ...], parts: _Parts, language: Language
) -> Iterator[tuple[str, ...]]:
    """What is left of the words when the unit's form is taken off their ends."""
    before, gap, after = parts
    if gap:
        if words[: len(before)] == before and words[-len(after) :] == after:
            yield words[len(before) : -len(after)]
        return
    k = len(before)
    if words[-k:] == before:
        yield _without_link(words[:-k], language)
    if words[:k] == before:
        yield words[k:]


def _pieces(text: str, language: Language) -> tuple[str, ...]:
    """Words, or characters in a language that may write number and unit together."""
    return tuple("".join(text.split())) if language.numbers.joined else tuple(text.split())


def _without_link(words: tuple[str, ...], language: Language) -> tuple[str, ...]:
    """Number words without the "of an" that ties a fraction to its unit."""
    for link in sorted(language.numbers.unit_links, key=len, reverse=True):
        k = len(link.split())
        if words[-k:] == tuple(link.split()) and ends_in_fraction(words[:-k], language):
            return words[:-k]
    return words


def say_reading(reading: Reading, language: Language, *, digits: bool = False) -> str:
    """The reading as it was said, for the readback: "one hundred eighteen volts".

    A value converted from another unit is said in the operator's own unit.  Units that have a
    ``part`` are said in fractions: "two and a quarter inches".
    """
    shown = reading.said or reading
    words = language.units[shown.unit]
    fractions = bool(words.part) and not digits
    number = say_number(shown.value, language, digits=digits, fractions=fractions)
    in_parts = fractions and 0 < abs(shown.value) < 1
    if in_parts and shown.value.denominator in language.numbers.fractions:
        return f"{number} {words.part}"
    form = words.one if abs(shown.value) == 1 else words.many
    if form.split()[0] in language.numbers.one:  # "eine minute" says its number itself
        return f"{language.numbers.minus[0]} {form}" if shown.value < 0 else form
    return form.replace("{}", number) if "{}" in form else f"{number} {form}"
