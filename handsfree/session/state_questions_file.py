"""The file that says how a trailer's standing is asked: `checklists/core/interview.yaml` as values.

May import the conditions, the YAML reader and its schema.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

from handsfree.checklist.conditions import ALWAYS, Condition, Literal, parse
from handsfree.checklist.model import Checklist
from handsfree.checklist.schema import Key
from handsfree.checklist.several import anywhere
from handsfree.checklist.yaml_reader import Entry, read

_KEYS = {
    "language": Key("text", "Language of the spoken text.", required=True),
    "groups": Key("list", "Facts that are asked together.", required=True),
    "of rig": Key("map", "Fact: what a rig must have for it."),
    "only if": Key("map", "Fact: which other facts leave it open."),
    "follows": Key("list", "What goes without saying."),
}
_GROUP = {
    "id": Key("text", "Its name.", required=True),
    "road": Key("texts", "How it is on the road.", required=True),
    "camp": Key("texts", "How it is when everything is set up."),
    "road says": Key("text", "Read instead of the items of the road."),
}
_FOLLOWS = {"if": Key("condition", "When this is so.", required=True),
            "then": Key("texts", "Then this is.", required=True)}


@dataclass(frozen=True)
class Group:
    """Facts that are read out together."""

    id: str
    road: tuple[Literal, ...]
    camp: tuple[Literal, ...] = ()
    road_says: str = ""

    @cached_property
    def facts(self) -> frozenset[str]:
        """All that it is about."""
        return frozenset(literal.fact for literal in (*self.road, *self.camp))


@dataclass(frozen=True)
class Core:
    """The file as values; conditions in `of_rig` are over traits, all others over facts."""

    language: str
    groups: tuple[Group, ...]
    of_rig: Mapping[str, Condition] = field(default_factory=dict)
    only_if: Mapping[str, Condition] = field(default_factory=dict)
    follows: tuple[tuple[Condition, tuple[Literal, ...]], ...] = ()

    @cached_property
    def names(self) -> frozenset[str]:
        """Every fact that it speaks of."""
        named = frozenset(self.of_rig) | frozenset(self.only_if)
        for condition in (*self.only_if.values(), *(when for when, _ in self.follows)):
            named |= condition.names()
        for _, then in self.follows:
            named |= {literal.fact for literal in then}
        return named.union(*(group.facts for group in self.groups))

    def of(self, several: Mapping[str, Sequence[str]]) -> Core:
        """The same, of a rig that has several of a kind (`Checklist.several`)."""
        if all(names == (fact,) for fact, names in several.items()):
            return self

        def own(literals: tuple[Literal, ...]) -> tuple[Literal, ...]:
            return tuple(Literal(name, literal.wanted) for literal in literals
                         for name in several.get(literal.fact, (literal.fact,)))

        def each(table: Mapping[str, Condition]) -> dict[str, Condition]:
            return {name: anywhere(condition, several) for fact, condition in table.items()
                    for name in several.get(fact, (fact,))}

        return replace(
            self, of_rig=each(self.of_rig), only_if=each(self.only_if),
            groups=tuple(replace(group, road=own(group.road), camp=own(group.camp))
                         for group in self.groups),
            follows=tuple((anywhere(when, several), own(then)) for when, then in self.follows))

    def possible(self, traits: frozenset[str]) -> frozenset[str]:
        """Facts that can be so of a rig with these traits."""
        grouped = frozenset[str]().union(*(group.facts for group in self.groups))
        return frozenset(name for name in grouped if self.of_rig.get(name, ALWAYS).holds(traits))


def load_state_questions(library: Path, *lists: Checklist) -> Core:
    """Read it from the library's folder, for the rig that these lists were loaded for.

    Raises:
        AuthorError: with file, line and mend.
    """
    got = read(library / "core" / "interview.yaml").fields(_KEYS)

    def conditions(key: str) -> dict[str, Condition]:
        pairs = got[key].pairs() if key in got else ()
        return {name: value.condition() for name, _, value in pairs}

    groups = []
    for entry in got["groups"].items():
        one = entry.fields(_GROUP)
        groups.append(Group(
            one["id"].text(), _literals(one["road"]),
            _literals(one["camp"]) if "camp" in one else (),
            one["road says"].text() if "road says" in one else ""))
    follows = []
    for entry in got["follows"].items() if "follows" in got else ():
        one = entry.fields(_FOLLOWS)
        follows.append((one["if"].condition(), _literals(one["then"])))
    core = Core(got["language"].text(), tuple(groups), conditions("of rig"), conditions("only if"),
                tuple(follows))
    return core.of({fact: own for one in lists for fact, own in one.several.items()})


def _literals(entry: Entry) -> tuple[Literal, ...]:
    found = []
    for item in entry.one_or_more():
        literal = parse(item.text())
        if not isinstance(literal, Literal):
            raise item.wrong(f"'{item.text()}' is more than one fact", "name one fact an item")
        found.append(literal)
    return tuple(found)
