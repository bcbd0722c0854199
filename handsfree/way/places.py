"""Where steps are done: `checklists/core/places.yaml`, for one rig.

May import the checklist room's model, rig file, `several` and YAML reader, errors, and this room.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from handsfree.checklist.model import Step
from handsfree.checklist.rig_file import Rig
from handsfree.checklist.schema import Key
from handsfree.checklist.several import items
from handsfree.checklist.yaml_reader import Entry, did_you_mean, read
from handsfree.errors import AuthorError
from handsfree.way.ground import CAB, CLEARANCE, INSIDE, Box, Ground, Point, box

FILE = "core/places.yaml"
"""In the library's folder."""

_FILE = {
    "walking": Key("", "How fast somebody walks, and what doors take.", required=True),
    "phases end with": Key("", "Acts over which no step is moved.", required=True),
    "usually no": Key("", "Site questions that are usually answered with no.", required=True),
    "together": Key("", "Groups of steps that are done in one go.", required=True),
    "either first": Key("", "Pairs of a group that may change places.", required=True),
    "first things first": Key("", "Pairs that keep the list's order.", required=True),
    "otherwise": Key("", "The place that a step's own word stands for.", required=True),
    "steps": Key("", "Place: the steps that are done there.", required=True),
    "rounds": Key("", "Step: the places where it is done.", required=True),
    "kinds": Key("", "Where the places are, by kind of rig.", required=True),
}
_WALKING = {
    "feet a second": Key("", "Walking speed.", required=True),
    "door seconds": Key("", "Through the trailer's door.", required=True),
    "cab seconds": Key("", "In or out of the truck.", required=True),
}
_PAIR = {"first": Key("", "A step or a room.", required=True),
         "then": Key("", "What comes after it.", required=True)}
_GROUPS = ("places", "truck places", "services", "door", "inside")
_KIND = {
    "body": Key("", "Front and rear of the body, feet.", required=True),
    "width": Key("", "Feet.", required=True),
    "tongue": Key("", "Whether a tongue reaches from the body to the ball."),
    "truck": Key("", "Front and rear of the hitched truck, feet.", required=True),
    "pulled away": Key("", "How far the truck drives off, feet.", required=True),
    **{group: Key("", "Where places are.", required=True) for group in _GROUPS},
}
_OTHERWISE = "any other"
_SIDED = {"slide": "slides", "awning": "awnings"}
"""Places of what a rig file may list with its side: the kind."""
SIDES = ("left", "right")
_TRUCK_HALF = 3.3
_TONGUE_HALVES = (0.5, 2.5)
"""Feet from the middle at the coupler, and where the tongue meets the body; common practice."""


@dataclass(frozen=True)
class Layout:
    """A rig on its spot: outlines, places and what is done where."""

    body: tuple[float, float]
    half: float
    tongue: bool
    truck: tuple[float, float]
    pulled_away: float
    points: Mapping[str, Point]
    """Every place; those in and at the truck as it stands hitched."""
    rooms: Mapping[str, str]
    truck_places: frozenset[str]
    done_at: Mapping[str, tuple[str, ...]]
    """Step: its places, where the file names them."""
    words: Mapping[str, str]
    """A step's own word for its place: a place."""
    speed: float
    door_seconds: float
    cab_seconds: float
    phase_ends: frozenset[str]
    usually_no: frozenset[str]
    together: tuple[tuple[str, ...], ...]
    either: tuple[tuple[str, ...], ...]
    """Pairs of a group that may change places."""
    keep: tuple[tuple[str, str], ...]
    """What comes first and what then, where the list has it so; steps, or `INSIDE`."""

    def at(self, step: Step) -> tuple[str, ...]:
        """Where a step is done; nothing for one that can be answered anywhere."""
        named = self.done_at.get(step.base or step.id)
        if named and len(named) == 1 and named[0] in _SIDED and step.item and step.place in SIDES:
            named = (f"{named[0]} {step.place}",)  # of several, on its own side
        word = self.words.get(step.place)
        return named or ((word,) if word else ())

    def is_inside(self, step: Step) -> bool:
        """Whether any of it is done inside the trailer."""
        return any(self.rooms.get(place) == INSIDE for place in self.at(step))

    @cached_property
    def grounds(self) -> tuple[Ground, Ground]:
        """Unhitched and hitched."""
        return self._ground(self.pulled_away, hitched=False), self._ground(0.0, hitched=True)

    def outlines(self, hitched: bool) -> tuple[Box, ...]:
        """The body, the tongue and the truck, each with the clearance around it."""
        ahead = 0.0 if hitched else self.pulled_away
        found = [box(*self.body, self.half),
                 box(self.truck[0] - ahead, self.truck[1] - ahead, _TRUCK_HALF)]
        if self.tongue:
            tip = (self.truck[1] - 0.5 if hitched else -0.5) - CLEARANCE
            near, far = (half + CLEARANCE for half in _TONGUE_HALVES)
            front = self.body[0]
            found.append(Box(((tip, -near), (front, -far), (front, far), (tip, near))))
        return tuple(found)

    def _ground(self, ahead: float, hitched: bool) -> Ground:
        points = {name: (along - ahead, aside) if name in self.truck_places else (along, aside)
                  for name, (along, aside) in self.points.items()}
        return Ground(points, self.rooms, self.outlines(hitched), {INSIDE: "door", CAB: "cab door"},
                      {INSIDE: self.door_seconds, CAB: self.cab_seconds}, self.speed)


def load_layout(library: Path, rig: Rig) -> Layout:
    """Places of the library, as they are on this rig.

    Raises:
        AuthorError: with file, line and mend, of the library's file or the rig's.
    """
    fields = read(library / FILE).fields(_FILE)
    kinds = {name: entry for name, _, entry in fields["kinds"].pairs()}
    kind = next((kinds[name] for name in kinds if name in rig.has), kinds[_OTHERWISE]).fields(_KIND)
    points, rooms, truck_places = _points(kind, rig)
    for name in rig.places:
        if name not in points:
            raise AuthorError(f"'{name}' is no place{did_you_mean(name, list(points))}",
                              file=rig.file, line=rig.lines.get(name, 1),
                              mend=f"use one of: {', '.join(points)}")
    for name, several in _SIDED.items():
        own = items(rig.several.get(several, ()))
        along, aside = points[name]
        if len(own) == 1 and (side := own[0].side or own[0].name) in SIDES:
            points[name] = along, _on(side, aside)
        points |= {f"{name} {side}": (along, _on(side, aside)) for side in SIDES}
    points |= rig.places
    cab = points["cab"]
    points["cab door"] = cab
    walking = {name: entry.number() for name, entry in fields["walking"].fields(_WALKING).items()}
    layout = Layout(
        body=_two(kind["body"]), half=kind["width"].number() / 2,
        tongue="tongue" in kind and kind["tongue"].flag(), truck=_two(kind["truck"]),
        pulled_away=kind["pulled away"].number(), points=points, rooms=rooms,
        truck_places=frozenset({*truck_places, "cab door"}), done_at=_done_at(fields, points),
        words={word: _known(place, points) for word, _, place in fields["otherwise"].pairs()},
        speed=walking["feet a second"], door_seconds=walking["door seconds"],
        cab_seconds=walking["cab seconds"], phase_ends=frozenset(fields["phases end with"].texts()),
        usually_no=frozenset(fields["usually no"].texts()),
        together=tuple(group.texts() for group in fields["together"].items()),
        either=tuple(pair.texts() for pair in fields["either first"].items()),
        keep=tuple((pair["first"].text(), pair["then"].text()) for pair in
                   (entry.fields(_PAIR) for entry in fields["first things first"].items())))
    _stand_free(layout, rig)
    return layout


def _points(kind: Mapping[str, Entry], rig: Rig) -> tuple[dict[str, Point], dict[str, str], set[str]]:
    """Every place of a kind of rig, the rooms of those not outside, and those of the truck."""
    points: dict[str, Point] = {}
    rooms: dict[str, str] = {"cab": CAB}
    truck: set[str] = set()
    usual = {"services": "left", "door": "right"}
    for group in _GROUPS:
        side = rig.sides.get(group, usual.get(group, "right"))
        for name, _, entry in kind[group].pairs():
            along, aside = _two(entry)
            points[name] = (along, -aside if group in usual and side == "left" else aside)
            if group == "inside":
                rooms[name] = INSIDE
            if group == "truck places":
                truck.add(name)
    return points, rooms, truck


def _on(side: str, aside: float) -> float:
    return -abs(aside) if side == SIDES[0] else abs(aside)


def _done_at(fields: Mapping[str, Entry], points: Mapping[str, Point]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for _, name, steps in fields["steps"].pairs():
        place = _known(name, points)
        found |= dict.fromkeys(steps.texts(), (place,))
    for step, _, places in fields["rounds"].pairs():
        found[step] = tuple(_known(place, points) for place in places.items())
    return found


def _known(entry: Entry, points: Mapping[str, Point]) -> str:
    name = entry.text()
    if name not in points:
        raise entry.wrong(f"'{name}' is no place{did_you_mean(name, list(points))}",
                          f"use one of: {', '.join(points)}")
    return name


def _two(entry: Entry) -> tuple[float, float]:
    numbers = [item.number() for item in entry.items()]
    if len(numbers) != 2:
        raise entry.wrong("two numbers are expected here", "write [12, 5.5]")
    return numbers[0], numbers[1]


def _stand_free(layout: Layout, rig: Rig) -> None:
    """Nobody can stand in a wall: a place that the rig has moved may be where it is not free."""
    for ground in layout.grounds:
        for name, point in ground.places.items():
            if ground.rooms.get(name) is None and any(one.holds(point) for one in ground.boxes):
                raise AuthorError(
                    f"'{name}' would be in the trailer or the truck, or closer than {CLEARANCE:g} foot",
                    file=rig.file or FILE, line=rig.lines.get(name, 1),
                    mend=f"move it out; the trailer is {2 * layout.half:g} feet wide and reaches from"
                         f" {layout.body[0]:g} to {layout.body[1]:g}")
