"""Text as it is written to text as it is said: numbers, fractions, units, abbreviations, signs.

Pure: standard library and num2words (words of whole numbers).  What is said for what is data, a
`SpeechTable`; this module only knows the shapes: a quantity is a number or a range with a unit,
a fraction may be followed by "of a unit", and so on.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from num2words import num2words


@dataclass(frozen=True)
class UnitWords:
    """How one unit is said."""

    one: str
    many: str
    of: str = ""
    """After a fraction ("an inch"); empty where the language does not say it so."""
    not_before: frozenset[str] = frozenset()
    """Words before which the letters are no unit ("2 in the box")."""


@dataclass(frozen=True)
class Part:
    """How the denominator of a fraction is said."""

    one: str
    many: str
    plain: str


@dataclass(frozen=True)
class Clock:
    """How a time of day is said: at the full hour, and from ten and before ten minutes past."""

    full: str
    late: str
    early: str


@dataclass(frozen=True)
class SpeechTable:
    """One language's way of reading aloud: the data of ``languages/*.speech.yaml``."""

    numbers: str
    point: str
    minus: str
    range: str
    by: str
    fraction: str
    mixed: str
    decimal: str = "."
    """The sign between whole number and decimals; the other of "." and "," parts thousands."""
    half_of: str = ""
    odd_fraction: str = ""
    """For a denominator that ``parts`` does not name; empty: `fraction` fits all."""
    ordinals: tuple[str, ...] = ()
    clock: Clock | None = None
    parts: Mapping[int, Part] = field(default_factory=dict)
    units: Mapping[str, UnitWords] = field(default_factory=dict)
    attributive: frozenset[str] = frozenset()
    abbreviations: Mapping[str, str] = field(default_factory=dict)
    signs: Mapping[str, str] = field(default_factory=dict)


def _number_pattern(decimal: str) -> str:
    """A pattern for fractions, and for whole and decimal numbers with or without thousands."""
    point, thousands = ("[.]", ",") if decimal == "." else (",", "[.]")
    return (rf"(?:\d+[ -]\d+/\d+|\d+/\d+|\d{{1,3}}(?:{thousands}\d{{3}})+(?:{point}\d+)?"
            rf"|\d+(?:{point}\d+)?)")


BEFORE = r"(?<![A-Za-z0-9])(?<!\d[.,/:])"
AFTER = r"(?![A-Za-z0-9]|[.,/:]\d)"
NO_COUNTER = r"(?![\u3131-\ud7a3])"
"""A number that touches Hangul is a counted thing; the engine says it right, we would not."""

VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8",
          "⅝": "5/8", "⅞": "7/8"}  # fmt: skip
LONGEST = 6
"""A number of more digits, or one that starts with 0, is read digit by digit."""


class TextNormaliser:
    """Reads text with one table.  Build it once; `say` is a pure function."""

    def __init__(self, table: SpeechTable) -> None:
        self._table = table
        units = _choice(table.units)
        unit = rf"(?:(?P<gap>\s?|-)(?P<unit>{units})(?![A-Za-z0-9]))" if units else "(?P<gap>)"
        sign = r"(?P<sign>(?:(?<![\w)])[-−](?=\d))?)"
        number = _number_pattern(table.decimal)
        # 1-1/2 is one and a half, not a range.
        low = rf"(?:(?!\d+-\d+/\d)(?P<low>{number})\s?[-–]\s?)?"
        shapes = [
            rf"(?P<short>{_choice(table.abbreviations)})(?![A-Za-z0-9])",
            r"(?P<hour>\d{1,2}):(?P<minute>[0-5]\d)(?![\d:])" if table.clock else "",
            rf"(?P<ordinal>\d+)(?:{_choice(table.ordinals)})(?![A-Za-z])" if table.ordinals else "",
            rf"(?P<first>{number})\s?[x×]\s?(?P<second>{number}){AFTER}",
            rf"{sign}{low}(?P<number>{number})(?:{unit}|{AFTER}{NO_COUNTER})",
        ]
        words = "|".join(shape for shape in shapes if shape)
        signs = rf"|\s*(?P<mark>{_choice(table.signs)})\s*" if table.signs else ""
        self._pattern = re.compile(rf"{BEFORE}(?:{words}){signs}")

    def say(self, text: str) -> str:
        """The text as it should be said.  What the table does not know stays as it is."""
        for mark, plain in VULGAR.items():
            text = re.sub(rf"(?<=\d)\s?{mark}", f" {plain}", text).replace(mark, plain)
        return re.sub(r"\s+", " ", self._pattern.sub(self._said, text)).strip()

    def _said(self, found: re.Match[str]) -> str:
        table, given = self._table, found.groupdict()
        if given["short"] is not None:
            return table.abbreviations[given["short"]]
        if given.get("mark") is not None:
            return f" {table.signs[given['mark']]} "
        if given.get("hour") is not None and table.clock:
            return self._time(table.clock, int(given["hour"]), int(given["minute"]))
        if given.get("ordinal") is not None:
            return str(num2words(int(given["ordinal"]), lang=table.numbers, to="ordinal")).replace(" and ", " ")
        if given["first"] is not None:
            first, second = self._number(given["first"]), self._number(given["second"])
            return table.by.format(first=first, second=second)
        return self._quantity(found)

    def _quantity(self, found: re.Match[str]) -> str:
        given, table = found.groupdict(), self._table
        number, low = given["number"], given["low"]
        minus = f"{table.minus} " if given["sign"] else ""
        following = re.match(r"[\s-]*([^\W\d_]+|\d)", found.string[found.end() :])
        after = following.group(1).lower() if following else ""
        unit = table.units.get(given.get("unit") or "")
        if unit and (after in unit.not_before or (unit.not_before and after.isdigit())):
            unit, rest = None, f"{given['gap']}{given['unit']}"
        else:
            rest = ""
        before = any(word in table.attributive for word in (after, after.removesuffix("s")))
        if unit and (given["gap"] == "-" or before):
            words = f"{self._number(number, plain=True)} {unit.one}"
            low_words = self._number(low, plain=True) if low else ""
        elif unit:
            words = (
                self._measured(number, unit) if not low else f"{self._number(number)} {unit.many}"
            )
            low_words = self._number(low) if low else ""
        else:
            words, low_words = self._number(number) + rest, self._number(low) if low else ""
        return minus + (table.range.format(low=low_words, high=words) if low else words)

    def _measured(self, number: str, unit: UnitWords) -> str:
        """One number and its unit: "one volt", "two volts", "three quarters of an inch"."""
        if "/" in number and not re.search(r"[ -]", number) and unit.of:
            if number == "1/2" and self._table.half_of:
                return self._table.half_of.format(of=unit.of)
            return f"{self._number(number)} of {unit.of}"
        return f"{self._number(number)} {unit.one if number == '1' else unit.many}"

    def _number(self, number: str, *, plain: bool = False) -> str:
        """Words of a number as the pattern has it; ``plain``: in front of a thing it describes."""
        if "/" in number:
            whole, _, fraction = re.sub("[ -]", " ", number).rpartition(" ")
            words = self._fraction(*fraction.split("/"), plain=plain, mixed=bool(whole))
            if not whole:
                return words
            return self._table.mixed.format(whole=self._whole(whole), fraction=words)
        point, thousands = (".", ",") if self._table.decimal == "." else (",", ".")
        digits, _, decimals = number.replace(thousands, "").partition(point)
        words = self._whole(digits)
        if decimals:
            words = " ".join([words, self._table.point, *map(self._whole, decimals)])
        return words

    def _fraction(self, count: str, denominator: str, *, plain: bool, mixed: bool) -> str:
        table, part = self._table, self._table.parts.get(int(denominator))
        if part and count == "1":  # half inch hose, but one and a half inch hose
            return part.plain if plain and not mixed else part.one
        name = (part.plain if plain else part.many) if part else ""
        shape = table.fraction if part or not table.odd_fraction else table.odd_fraction
        return shape.format(
            count=self._whole(count), part=name, denominator=self._whole(denominator)
        )

    def _whole(self, digits: str) -> str:
        if len(digits) > LONGEST or (len(digits) > 1 and digits[0] == "0"):
            return " ".join(self._whole(digit) for digit in digits)
        words = str(num2words(int(digits), lang=self._table.numbers))
        # A comma would be spoken as a pause; "and" is British.
        return words.replace(",", "").replace(" and ", " ")

    def _time(self, clock: Clock, hour: int, minute: int) -> str:
        shape = clock.full if not minute else clock.early if minute < 10 else clock.late
        return shape.format(hour=self._whole(str(hour)), minute=self._whole(str(minute)))


def _choice(words: Iterable[str]) -> str:
    """A pattern for any of the words, longest first so that "in/ft" is not taken for "in"."""
    return "|".join(re.escape(word) for word in sorted(words, key=lambda w: (-len(w), w)))
