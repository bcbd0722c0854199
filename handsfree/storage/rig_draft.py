"""A rig file in the making: what is asked of a newcomer's rig, and the answers as far as they go.

A kind of rig brings what is usual, the owner says what differs, then come the figures of placard and
manual.  Whether it is asked by keyboard or by voice, the order, the bounds and the draft are the same.
May import the checklist model, its bounds and rig files, `atomic_write`, units.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handsfree.checklist.bounds import out_of_bounds
from handsfree.checklist.model import Fact, Limit
from handsfree.checklist.rig_file import Rig, system_of
from handsfree.checklist.rig_questions import SUMS_TOO, Answers, Question
from handsfree.checklist.schema import BATTERIES, CHEMISTRIES, KINDS
from handsfree.errors import StorageError
from handsfree.storage.atomic_write import write_atomically
from handsfree.units import in_system

Given = dict[str, Any]
"""What was answered, by question: a kind, names of traits, amps, or a number (None: not known)."""

FIGURES = ("tyre psi low", "tyre psi high", "gross rating", "axle rating", "tyre rating",
           "hitch rating", "water psi high", "nut torque low", "nut torque high", "rig length", "battery amp hours")
"""What placard, sidewall and manual say, and the length that sites ask for.  The rest can wait for its checklist."""

ONLY_WITH: Mapping[str, frozenset[str]] = {"battery amp hours": frozenset(CHEMISTRIES.values())}
"""A figure that is asked only where it was said that the rig has one of these."""

_NO_TRAILER = (("motorhome", False), ("truck camper", False))
NEEDS: Mapping[str, tuple[tuple[str, bool], ...]] = {
    "fifth wheel": _NO_TRAILER, "pop-up roof": (("motorhome", False), ("fifth wheel", False)),
    "truck camper": (("motorhome", False),), "tandem axle": (("truck camper", False),),
    **dict.fromkeys(("safety chains", "weight bars", "sway bar", "overrun brake"),
                    (("fifth wheel", False), *_NO_TRAILER)),
    **dict.fromkeys(("brake cable", "coupler lock"), _NO_TRAILER),
    "surge brake": (("overrun brake", False), ("fifth wheel", False), *_NO_TRAILER),
    "flooded battery": (("sealed battery", False), ("lithium battery", False)),
    "sealed battery": (("lithium battery", False),),
    "lockout pin": (("surge brake", True),),
    "electric over hydraulic": (("brake cable", True), ("overrun brake", False), ("surge brake", False),
                                *_NO_TRAILER),
    "air over hydraulic": (("overrun brake", False), ("surge brake", False), ("electric over hydraulic", False),
                           *_NO_TRAILER),
    "crank jacks": (("stabiliser jacks", True),), "towed car": (("motorhome", True),),
    "levelling jacks": (("motorhome", True),), "wheel brace": (("tandem axle", True),),
    "tank heater": (("fresh tank", True),), "gas fridge": (("gas", True),)}
"""Trait that can only be there while each of these others is, or is not."""

HIGHER = {"tyre psi high": "tyre psi low", "nut torque high": "nut torque low"}
"""A figure that is not below another."""

CORDS = {"30": (3600.0, False), "50": (12000.0, True), "20": (2400.0, False), "15": (1800.0, False)}
"""Amps on the cord's plug: watts at 120 V (V x I, both legs of the big one), and whether it has two
live legs."""

BLUE_WATTS = 3680.0
"""16 A at 230 V, as the blue plug has it: its cord is not asked about."""

@dataclass(frozen=True)
class Draft:
    """What is asked of one rig.

    kinds: rig files to begin from.  traits: the facts that say what a rig can have.
    questions: those of the checklists, by id.  file: where answers are kept until the rig file is written.
    """

    title: str
    kinds: Sequence[Rig]
    traits: Mapping[str, Fact]
    questions: Mapping[str, Question]
    file: Path

    def order(self, given: Given, *, more: bool = False, names: bool = False) -> list[str]:
        """What is asked, as far as the answers so far make it matter; `more`: what is less usual is
        asked about in a question of its own; `names`: it is asked of what there are several, which are named then."""
        order = ["kind", "parts", *(("more",) if more else ()),
                 *(() if "blue plug" in given.get("parts", ()) else ("cord",))]
        if "parts" in given:
            yes = self.has(given) | {SUMS_TOO}
            order += [BATTERIES if names and name == "battery amp hours" else name for name in FIGURES
                      if name in self.questions and self.questions[name].only_if.holds(yes)
                      and (name not in ONLY_WITH or ONLY_WITH[name] & yes)]
            if names and countable(yes):
                order += ["several", *self.several(given, named=False)]
            elif not names:  # those of which it was said that there are several
                order += self.several(given, named=False)
        return [*order, "right"]

    def several(self, given: Given, named: bool = True) -> list[str]:
        """Kinds of which it has more than one, those that were named or all."""
        return [kind for kind in countable(self.has(given))
                if kind in given.get("several", ()) and (kind in given or not named)]

    def kind(self, given: Given) -> Rig:
        """The kind that it is most like."""
        kind: Rig = self.kinds[given["kind"] - 1]
        return kind

    def has(self, given: Given) -> frozenset[str]:
        """The traits that follow from the answers."""
        has = set(given.get("parts", ())) - {"two legs"}
        if "cord" in given and CORDS[given["cord"]][1] and "blue plug" not in has:
            has.add("two legs")
        if given.get(BATTERIES):  # each bank brings its own
            has = has - set(CHEMISTRIES.values()) | {CHEMISTRIES[told.split()[0].lower()]
                                                     for told in given[BATTERIES].values()}
        return frozenset(has) & self.traits.keys()

    def limit(self, name: str) -> Limit:
        """The figure of this name."""
        limit = self.questions[name].limit
        assert limit, f"{name} is no number"
        return limit

    def unit(self, name: str, given: Given) -> str:
        """The unit id in which a figure is asked for."""
        return in_system(self.limit(name).unit, system_of(self.has(given)))

    def least(self, name: str, given: Given) -> tuple[float, bool]:
        """What a figure may not be below, 0.0 where that is nothing; whether the owner has said so."""
        lower = HIGHER.get(name, "")
        if lower not in self.questions:
            return 0.0, False
        told = given.get(lower)
        return (float(told), True) if told else (self.limit(lower).default, False)

    def wrong(self, name: str, value: float | None, given: Given) -> str:
        """Why a figure cannot be this: bounds, "nought", "below", "below usual", "above usual" (it is
        not known, but the other one is above what would be taken); '' where it can."""
        least, told = self.least(name, given)
        if value is None:
            return "above usual" if told and least > self.limit(name).default else ""
        if out_of_bounds(name, value):
            return "bounds"
        if not value:
            return "nought"
        if value < least:
            return "below" if told else "below usual"
        return ""

    def answers(self, given: Given, known: frozenset[str]) -> Answers:
        """What the answers come to for the questions of the checklists."""
        yes = self.has(given)
        numbers = {name: value for name, value in given.items()
                   if name in self.questions and isinstance(value, float)}
        if "blue plug" in yes:
            numbers["cord watts"] = BLUE_WATTS
        elif "cord" in given:
            numbers["cord watts"] = CORDS[given["cord"]][0]
        return Answers(yes - known, numbers, {kind: given[kind] for kind in self.several(given)},
                       given.get(BATTERIES, {}))

    # --- the draft -------------------------------------------------------------------------------

    def kept(self) -> Given:
        """What is in the draft; nothing where there is none, or one that makes no sense any more."""
        try:
            kept = json.loads(self.file.read_text("utf-8"))
            good = (isinstance(kept, dict) and kept.get("kind", 1) in range(1, len(self.kinds) + 1)
                    and set(kept.get("parts", ())) <= self.traits.keys()
                    and kept.get("cord", "30") in CORDS
                    and kept.get("several", {}).keys() <= KINDS.keys()
                    and all(told.split()[0].lower() in CHEMISTRIES for told in kept.get(BATTERIES, {}).values())
                    and all(isinstance(value, (float, type(None))) for name, value in kept.items()
                            if name in FIGURES))
            return {name: value for name, value in kept.items() if name != "right"} if good else {}
        except (OSError, ValueError, TypeError, AttributeError):
            return {}

    def keep(self, given: Given) -> None:
        """Write down what was answered, so that a power loss leaves the old draft or the new one."""
        with suppress(StorageError):  # a convenience; the rig file says when it cannot be written
            write_atomically(self.file, json.dumps(given).encode())


def countable(has: Collection[str]) -> list[str]:
    """Of what a rig with these parts may have more than one."""
    return [kind for kind, trait in KINDS.items() if trait in has]


def possible(name: str, has: set[str] | frozenset[str]) -> bool:
    """Whether a rig with these parts can have this one."""
    return all((other in has) is wanted for other, wanted in NEEDS.get(name, ()))
