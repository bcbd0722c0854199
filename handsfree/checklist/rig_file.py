"""The rig file: what an owner's trailer has, and its numbers.

May import bounds, reading_yaml, schema, errors.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from handsfree.checklist.bounds import out_of_bounds
from handsfree.checklist.reading_yaml import Entry, read
from handsfree.checklist.schema import RIG


@dataclass(frozen=True)
class Rig:
    """A trailer: `has` lists traits, `limits` its own numbers by the limit's name."""

    name: str
    has: frozenset[str] = frozenset()
    lacks: frozenset[str] | None = None
    """Traits that it does not have; None where the file does not say, so that all others count."""
    limits: Mapping[str, float] = field(default_factory=dict)
    file: str = ""
    lines: Mapping[str, int] = field(default_factory=dict)
    """Where each trait and limit stands, for messages about unknown ones."""


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
    if "limits" in fields:
        for name, place, value in fields["limits"].pairs():
            limits[name] = value.number()
            if wrong := out_of_bounds(name, limits[name]):
                raise value.wrong(f"'{name}' {wrong.partition(';')[0]}",
                                  f"write a number{wrong.partition('it lies')[2]}")
            lines[name] = place.line
    return Rig(
        name=fields["name"].text(), has=frozenset(name for name, _ in has), limits=limits,
        lacks=None if lacks is None else frozenset(name for name, _ in lacks),
        file=str(path), lines=lines,
    )


def _lines(entry: Entry) -> list[tuple[str, int]]:
    return [(item.text(), item.line) for item in entry.items()]
