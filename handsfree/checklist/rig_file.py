"""The rig file: what an owner's trailer has, and its numbers.

May import bounds, reading_yaml, schema, units, errors.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from handsfree.checklist.bounds import FARTHEST_FEET, UNIT_OF, out_of_bounds
from handsfree.checklist.schema import BATTERIES, CHEMISTRIES, KINDS, ORDERS, REGIONS, RIG, SIDES_OF
from handsfree.checklist.yaml_reader import Entry, read
from handsfree.spelling import as_kept
from handsfree.units import (
    METRIC,
    TO_METRIC,
    UNITS,
    US,
    WRITTEN,
    convert,
    in_system,
    same_quantity,
)


@dataclass(frozen=True)
class Rig:
    """A trailer: `has` lists traits, `limits` its own numbers by the limit's name."""

    name: str
    has: frozenset[str] = frozenset()
    lacks: frozenset[str] | None = None
    """Traits that it does not have; None where the file does not say, so that all others count."""
    limits: Mapping[str, float] = field(default_factory=dict)
    """Each in the unit that the limit is kept in, see `bounds.UNIT_OF`."""
    units: str = US
    """The system that it is asked and told in, one of `units.US` and `units.METRIC`."""
    region: str = ""
    """Whose codes count where it is, one of `schema.REGIONS`; "" where the file does not say."""
    file: str = ""
    lines: Mapping[str, int] = field(default_factory=dict)
    """Where each trait, limit and place stands, for messages about unknown ones."""
    order: str = ORDERS[0]
    """In which order its steps are offered, of `schema.ORDERS`."""
    sides: Mapping[str, str] = field(default_factory=dict)
    """left or right, of services and door, where the file says so."""
    places: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Feet behind ball or kingpin and feet to the right of the middle, of places that it moves."""
    several: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Kind (of `schema.KINDS`): the names of what it has of it, where the file lists them."""
    banks: Mapping[str, tuple[str, float]] = field(default_factory=dict)
    """Banks of batteries by name, where the file lists them, the one that feeds the rig first: the trait of
    its chemistry, and its amp hours."""

    def feeding(self, bank: str = "") -> frozenset[str]:
        """The traits, with the chemistry of one bank only: the one named, or that which feeds the rig."""
        if not self.banks:
            return self.has
        trait, _ = self.banks[bank or next(iter(self.banks))]
        return self.has - set(CHEMISTRIES.values()) | {trait}


def load_rig(path: Path) -> Rig:
    """Read a rig file.

    Raises:
        AuthorError: with file, line and mend.
    """
    entry = read(path)
    fields = entry.fields(RIG)
    has = list(_lines(fields["has"])) if "has" in fields else []
    limits: dict[str, float] = {}
    lacks = list(_lines(fields["has not"])) if "has not" in fields else None
    lines = dict([*has, *(lacks or [])])
    for name, _ in lacks or []:
        if name in dict(has):
            raise fields["has not"].wrong(f"the rig both has '{name}' and has not",
                                          "take it out of one of the two")
    if "gray tanks" in fields:
        if "grey tanks" in fields:
            raise fields["gray tanks"].wrong("the gray tanks are listed twice", "keep one of the two")
        fields["grey tanks"] = fields["gray tanks"]
    several = {kind: _listed(kind, fields[kind]) for kind in KINDS if kind in fields}
    banks = _banks(fields[BATTERIES]) if BATTERIES in fields else {}
    brought = [(KINDS[kind], kind, fields[kind]) for kind in several]
    brought += [(trait, f"the bank '{name}'", fields[BATTERIES]) for name, (trait, _) in banks.items()]
    for trait, what, where in brought:
        if trait in dict(lacks or []):
            raise where.wrong(f"the rig has {what}, and yet not '{trait}'", "take one of the two out")
        if trait not in dict(has):
            has.append((trait, where.line))
    lines |= dict(has)
    system = fields["units"].one_of((US, METRIC)) if "units" in fields else US
    if "limits" in fields:
        given: dict[str, Entry] = {}
        for written, place, value in fields["limits"].pairs():
            name = as_kept(written)
            limits[name] = _number(name, value, system)
            if wrong := out_of_bounds(name, limits[name]):
                told, _, bounds = wrong.partition("; it has to be ")
                raise value.wrong(f"'{name}' {told}", f"write a number {bounds}")
            lines[name], given[name] = place.line, value
        for name, value in given.items():
            most = name.removesuffix(" low") + " high"
            if name.endswith(" low") and most in given and limits[name] > limits[most] > 0:
                raise value.wrong(f"'{name}' is {limits[name]:g}, above '{most}' with {limits[most]:g}",
                                  "give the lower one first, or correct one")
    if banks:
        _, limits["battery amp hours"] = next(iter(banks.values()))
    places: dict[str, tuple[float, float]] = {}
    if "places" in fields:
        for name, place, value in fields["places"].pairs():
            places[name] = _spot(name, value)
            lines[name] = place.line
    return Rig(
        region=fields["region"].one_of(REGIONS) if "region" in fields else "",
        order=fields["order"].one_of(ORDERS) if "order" in fields else ORDERS[0],
        sides={side: value.one_of(("left", "right"))
               for side, value in fields["sides"].fields(SIDES_OF).items()} if "sides" in fields else {},
        places=places, name=fields["name"].text(), has=frozenset(name for name, _ in has), limits=limits, units=system,
        lacks=None if lacks is None else frozenset(name for name, _ in lacks),
        file=str(path), lines=lines, several=several, banks=banks,
    )


MOST_OF_A_KIND = 6
"""So many of a kind can be listed: each one more makes every list longer, and its proof."""

_ITEM = re.compile(r"[a-z]+( [a-z]+){0,3}")


def _listed(kind: str, entry: Entry) -> tuple[str, ...]:
    """Names that can be spoken, heard and told from each other."""
    names = tuple(item.text() for item in entry.one_or_more())
    if not 1 <= len(names) <= MOST_OF_A_KIND:
        raise entry.wrong(f"'{kind}' takes one name or several, at most {MOST_OF_A_KIND}",
                          f"write {kind}: [front, rear], or leave '{kind}' out")
    for at, item in enumerate(entry.one_or_more(), 1):
        if wrong := wrong_name(names[:at]):
            raise item.wrong(f"under '{kind}', {wrong}",
                             "use one to four lower-case words, without 'and', 'or', 'not', and no name twice")
    return names


_BANK = re.compile(r"([A-Za-z]+) +(\d+(?:\.\d+)?) *[Aa][Hh]")


def _banks(entry: Entry) -> dict[str, tuple[str, float]]:
    """Banks by name: the trait of the chemistry, and the amp hours."""
    found: dict[str, tuple[str, float]] = {}
    for name, _, value in entry.pairs():
        if wrong := wrong_name([*found, name]):
            raise value.wrong(f"under '{BATTERIES}', {wrong}", "use one to four lower-case words")
        told = _BANK.fullmatch(value.text())
        if not told or told[1].lower() not in CHEMISTRIES:
            raise value.wrong(f"'{value.text()}' is no bank of batteries",
                              "write flooded, AGM, gel or lithium, and its amp hours: lithium 200 Ah")
        if wrong := out_of_bounds("battery amp hours", float(told[2])):
            raise value.wrong(f"the amp hours of '{name}' {wrong}", "write its amp hours, such as 100 Ah")
        found[name] = CHEMISTRIES[told[1].lower()], float(told[2])
    if not 1 <= len(found) <= MOST_OF_A_KIND:
        raise entry.wrong(f"'{BATTERIES}' takes one bank or several, at most {MOST_OF_A_KIND}",
                          f"write {BATTERIES}: {{house: lithium 200 Ah}}, or leave it out")
    return found


def wrong_name(names: Sequence[str]) -> str:
    """What is wrong with the last of these names; '' where nothing is."""
    name = names[-1]
    if not _ITEM.fullmatch(name) or {"and", "or", "not"} & set(name.split()):
        return f"'{name}' cannot be a name"
    return f"'{name}' stands twice" if name in names[:-1] else ""


def _spot(name: str, entry: Entry) -> tuple[float, float]:
    """Where a place is: two numbers of feet."""
    feet = [item.number() for item in entry.items()]
    if len(feet) != 2 or max(map(abs, feet)) > FARTHEST_FEET:
        raise entry.wrong(f"where '{name}' is takes two numbers of feet, each at most"
                          f" {FARTHEST_FEET:g}",
                          "write [feet behind the ball or kingpin, feet right of the middle]")
    return feet[0], feet[1]


def _number(name: str, entry: Entry, system: str) -> float:
    """What is written, in the unit that the limit is kept in.

    On a metric rig a bare number could be meant either way, so there it needs its unit.
    """
    kept = UNIT_OF.get(name, "")
    amount, unit = _WRITTEN.fullmatch(entry.text()).groups()  # type: ignore[union-attr]
    if not amount or not unit:
        value = entry.number()
        if value and system == METRIC and kept in TO_METRIC:
            raise entry.wrong(f"'{name}' needs a unit on a metric rig",
                              f"write it as '{value:g} {_EXAMPLE[TO_METRIC[kept]]}'")
        return value
    known = WRITTEN.get(" ".join(unit.lower().split()))
    if known is None:
        raise entry.wrong(f"'{unit}' is no unit that is known",
                          f"write one of: {', '.join(sorted(set(_EXAMPLE.values())))}, or none")
    if kept not in UNITS or not same_quantity(known, kept):
        quantity = UNITS[kept].quantity if kept in UNITS else "quantity with a unit"
        raise entry.wrong(f"'{unit}' is no {quantity}, as '{name}' is", "write another unit")
    return round(float(convert(Fraction(amount), known, kept)), 9)


_WRITTEN = re.compile(r"(?:([-+]?\d+(?:\.\d+)?|[-+]?\.\d+)\s*([A-Za-z°%].*))?.*", re.DOTALL)

_EXAMPLE = {"bar": "bar", "centimetres": "cm", "metres": "m", "kilograms": "kg", "celsius": "C",
            "kilometres_per_hour": "km/h", "kilometres": "km", "litres": "l", "newton_metres": "Nm"}
"""How a metric unit is written."""


def system_of(has: Collection[str]) -> str:
    """The system of units that a new rig file is in: metric where the blue plug is used."""
    return METRIC if "blue plug" in has else US


def written(name: str, value: float, system: str) -> float | str:
    """A limit as it is written in a rig file of this system, with its unit where one is needed."""
    kept = UNIT_OF.get(name, "")
    told = in_system(kept, system)
    if not value or told == kept:
        return value
    return f"{round(float(convert(Fraction(str(value)), kept, told)), 4):g} {_EXAMPLE[told]}"


def amount(text: str, name: str, system: str) -> float | None:
    """What an owner types for a limit, in the unit that it is kept in; None where it is no number.

    A bare number is in the unit of the rig's system; any other unit of the quantity may stand behind.
    """
    kept = UNIT_OF.get(name, "")
    number, unit = _WRITTEN.fullmatch(text.strip()).groups()  # type: ignore[union-attr]
    known = WRITTEN.get(" ".join(unit.lower().split())) if unit else in_system(kept, system)
    if unit and unit.strip().replace(" ", "_").lower() == kept.lower():
        known = kept
    try:
        value = Fraction(number or text)
        if known == kept:
            return float(value)
        if known is None or kept not in UNITS or not same_quantity(known, kept):
            return None
        return round(float(convert(value, known, kept)), 9)
    except (ValueError, ZeroDivisionError):
        return None


def _lines(entry: Entry) -> list[tuple[str, int]]:
    return [(as_kept(item.text()), item.line) for item in entry.items()]
