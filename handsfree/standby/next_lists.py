"""Names of the lists and what comes after each: `checklists/core/standing-by.yaml` as values.

May import the conditions and the YAML reader.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from handsfree.checklist.conditions import ALWAYS, Condition
from handsfree.checklist.schema import Key
from handsfree.checklist.yaml_reader import read

_KEYS = {
    "language": Key("text", "Language of the spoken text.", required=True),
    "names": Key("map", "Checklist: what else it is called.", required=True),
    "roll": Key("text", "The checklist before the trailer rolls.", required=True),
    "night": Key("text", "The checklist before bed.", required=True),
    "out": Key("texts", "Facts that are told as out, besides gear.", required=True),
    "next": Key("list", "What comes after what.", required=True),
}
_ROW = {
    "after": Key("text", "The checklist that is complete.", required=True),
    "if": Key("condition", "Only when this is so."),
    "then": Key("text", "The checklist that comes next.", required=True),
    "says": Key("text", "What is said.", required=True),
}


@dataclass(frozen=True)
class Row:
    """What comes after one checklist."""

    after: str
    when: Condition
    then: str
    says: str


@dataclass(frozen=True)
class Next:
    """The file as values."""

    names: Mapping[str, tuple[str, ...]]
    roll: str
    night: str
    rows: tuple[Row, ...]
    out: frozenset[str]
    """Facts that are told as out, besides gear."""

    def after(self, checklist: str, facts: frozenset[str]) -> tuple[str, str]:
        """The checklist that comes next, and how that is said; twice '' if nothing does."""
        for row in self.rows:
            if row.after == checklist and row.when.holds(facts):
                return row.then, row.says
        return "", ""


def load_next(library: Path) -> Next:
    """Read it from the library's folder.

    Raises:
        AuthorError: with file, line and mend.
    """
    got = read(library / "core" / "standing-by.yaml").fields(_KEYS)
    rows = []
    for entry in got["next"].items():
        one = entry.fields(_ROW)
        rows.append(Row(one["after"].text(), one["if"].condition() if "if" in one else ALWAYS,
                        one["then"].text(), one["says"].text()))
    names = {name: value.texts() for name, _, value in got["names"].pairs()}
    return Next(names, got["roll"].text(), got["night"].text(), tuple(rows),
                frozenset(got["out"].texts()))
