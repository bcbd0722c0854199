"""The questions of `handsfree rig new`: a kind of rig, what differs from it, and the figures of its
placards.  One can go back, and what was answered is kept until the file is written.

May import everything, as the command modules do.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from handsfree.checklist.bounds import BOUNDS, out_of_bounds
from handsfree.checklist.model import Fact
from handsfree.checklist.rig_file import (
    MOST_OF_A_KIND,
    Rig,
    amount,
    system_of,
    written,
    wrong_name,
)
from handsfree.checklist.rig_questions import SUMS_TOO, Answers, Question
from handsfree.checklist.schema import KINDS
from handsfree.language.model import Language
from handsfree.units import US, in_system

Given = dict[str, Any]
"""What was answered, by question: a kind, names of traits, or a number (None: not known)."""

FIGURES = ("tyre psi low", "tyre psi high", "gross rating", "axle rating", "tyre rating",
           "hitch rating", "water psi high", "nut torque low", "nut torque high")
"""Asked of everybody: what placard, sidewall and manual say.  The rest can wait for its checklist."""

_NO_TRAILER = (("motorhome", False), ("truck camper", False))
NEEDS: Mapping[str, tuple[tuple[str, bool], ...]] = {
    "fifth wheel": _NO_TRAILER, "pop-up roof": (("motorhome", False), ("fifth wheel", False)),
    "truck camper": (("motorhome", False),), "tandem axle": (("truck camper", False),),
    **dict.fromkeys(("safety chains", "weight bars", "sway bar", "overrun brake"),
                    (("fifth wheel", False), *_NO_TRAILER)),
    **dict.fromkeys(("brake cable", "coupler lock"), _NO_TRAILER),
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

EXAMPLES = {"slides": "living room left, bedroom right", "awnings": "front, rear", "": "galley, bath"}
"""How several of a kind are named."""

BACK = ("b", "back")


class _Back(Exception):
    """Go back by one question."""


@dataclass
class Presets:
    """Asks by keyboard, as `cli_first` wants it: called with the questions, gives the answers.

    kinds: rig files to begin from.  traits: the facts that say what a rig can have.
    draft: where answers are kept until the rig file is written.
    rest: asks whatever else is wanted, such as how the rig stands.
    """

    title: str
    kinds: Sequence[Rig]
    traits: Mapping[str, Fact]
    draft: Path
    rest: Callable[..., Answers]

    def __call__(
        self, questions: Sequence[Question], known: frozenset[str], language: Language, *more: Any
    ) -> Answers:
        ours = {question.id: question for question in questions
                if question.limit or question.id in self.traits or question.id == SUMS_TOO}
        if not ours:
            return self.rest(questions, known, language, *more)
        given = self._asked(ours)
        yes = self._traits(given)
        numbers = {name: value for name, value in given.items()
                   if name in ours and isinstance(value, float)}
        if "blue plug" in yes:
            numbers["cord watts"] = BLUE_WATTS
        elif "cord" in given:
            numbers["cord watts"] = CORDS[given["cord"]][0]
        several = {kind: given[kind] for kind in self._kinds(given)}
        others = [question for question in questions if question.id not in ours]
        if not others:
            return Answers(yes - known, numbers, several)
        found = self.rest(others, known | yes, language, *more)
        return Answers((yes | found.yes) - known, {**numbers, **found.numbers}, several)

    def done(self) -> None:
        """The file is written: nothing more has to be kept."""
        self.draft.unlink(missing_ok=True)

    # --- the questions --------------------------------------------------------------------------

    def _asked(self, ours: Mapping[str, Question]) -> Given:
        given = self._kept()
        if given:
            click.echo(f"Going on with {self.title}, with {len(given)} answers from before.")
        else:
            click.echo("A few questions. Enter takes what is in [], b goes back, and what you"
                       " answer is kept if you stop.")
        order = [name for name in given if name in self._order(given, ours)]
        try:
            while wanted := [name for name in self._order(given, ours) if name not in given]:
                try:
                    given[wanted[0]] = self._ask(wanted[0], given, ours)
                    order.append(wanted[0])
                except _Back:
                    if order:
                        given.pop(order.pop())
                self._keep(given)
        except click.Abort:
            click.echo(f"\nWhat you answered is kept; 'handsfree rig new \"{self.title}\"' goes on"
                       " from here.", err=True)
            raise
        return given

    def _order(self, given: Given, ours: Mapping[str, Question]) -> list[str]:
        """What is asked, as far as the answers so far make it matter."""
        order = ["kind", "parts", *(() if "blue plug" in given.get("parts", ()) else ("cord",))]
        if "parts" in given:
            yes = self._traits(given) | {SUMS_TOO}
            order += [name for name in FIGURES
                      if name in ours and ours[name].only_if.holds(yes)]
            if _countable(yes):
                order += ["several", *self._kinds(given, asked=False)]
        return [*order, "right"]

    def _ask(self, name: str, given: Given, ours: Mapping[str, Question]) -> Any:
        if name == "kind":
            for number, kind in enumerate(self.kinds, 1):
                click.echo(f"  {number}  {kind.name}")
            return _choice("Which of these is it most like", len(self.kinds), 1)
        if name == "parts":
            return self._parts(self._kind(given).has)
        if name == "cord":
            usual = "50" if "two legs" in given["parts"] else "30"
            return _said(f"How many amps has its power cord ({', '.join(CORDS)})", usual,
                         lambda text: text.removesuffix("a").strip() if
                         text.removesuffix("a").strip() in CORDS else None,
                         f"One of {', '.join(CORDS)}, as printed on its plug.")
        if name == "several":
            return self._several(_countable(self._traits(given)))
        if name in KINDS:
            return self._names(name, given["several"][name])
        if name == "right":
            self._tell(given, ours)
            return _said("Shall I write it down", "yes",
                         lambda text: True if text in ("y", "yes") else None,
                         "yes, or b to go back.")
        return self._figure(name, given, ours)

    def _parts(self, usual: frozenset[str]) -> list[str]:
        """The parts of the kind, with those that the owner has changed."""
        has = set(usual & self.traits.keys())
        numbered = dict(enumerate((name for name in self.traits if name != "two legs"), 1))
        while True:
            shown = {number: name for number, name in numbered.items() if _possible(name, has)}
            for number, name in shown.items():
                click.echo(f"  {number:>2} [{'x' if name in has else ' '}] {self.traits[name].says}")

            def numbers(text: str, known: Collection[int] = shown) -> set[int] | None:
                words = text.replace(",", " ").split()
                good = all(word.isdigit() and int(word) in known for word in words)
                return {int(word) for word in words} if good else None

            picked = _said("Numbers of what differs on yours; Enter when it is right", "", numbers,
                           "Numbers that stand here, please, such as: 3 7")
            if not picked:
                return sorted(name for name in has if _possible(name, has))
            has ^= {shown[number] for number in picked}

    def _several(self, kinds: Sequence[str]) -> dict[str, int]:
        """Of which kinds there are more than one, and how many."""
        def counts(text: str) -> dict[str, int] | None:
            found = {}
            for part in filter(None, (one.strip() for one in text.split(","))):
                what, _, number = part.replace("gray", "grey").rpartition(" ")
                if what not in kinds or not number.isdigit() or not (
                        1 <= int(number) <= MOST_OF_A_KIND):
                    return None
                found[what] = int(number)
            return {what: number for what, number in found.items() if number > 1}

        found: dict[str, int] = _said(
            f"How many, if there is more than one of these: {_spelt(', '.join(kinds))}", "", counts,
            f"Such as: {kinds[0]} 2 (at most {MOST_OF_A_KIND} of each), with commas between; Enter if"
            " there is one.")
        return found

    def _kinds(self, given: Given, asked: bool = True) -> list[str]:
        """Kinds of which it has more than one, those that were named or all."""
        return [kind for kind in _countable(self._traits(given))
                if kind in given.get("several", ()) and (kind in given or not asked)]

    def _names(self, kind: str, count: int) -> list[str]:
        def names(text: str) -> list[str] | None:
            found = [" ".join(one.split()) for one in text.split(",")]
            wrong = next(filter(None, (wrong_name(found[:at]) for at in range(1, len(found) + 1))), "")
            if wrong or len(found) != count:
                click.echo(f"{wrong[0].upper()}{wrong[1:]}." if wrong else f"I need {count} names.")
                return None
            return found

        what = (", in the order in which they go out, each with its side" if kind == "slides" else "")
        found: list[str] = _said(f"What do you call the {count} {_spelt(kind)}{what} (with commas)", "", names,
                                 f"Such as: {EXAMPLES.get(kind, EXAMPLES[''])}")
        return found

    def _figure(
        self, name: str, given: Given, ours: Mapping[str, Question]
    ) -> float | None:
        limit = ours[name].limit
        assert limit, f"{name} is no number"
        system = system_of(self._traits(given))
        unit, usual = in_system(limit.unit, system).replace("_", " "), limit.default
        lower = HIGHER.get(name, "")
        least, lower_limit = given.get(lower), ours[lower].limit if lower in ours else None
        usual_least = lower_limit.default if lower_limit else 0.0

        def number(text: str) -> float | str | None:
            def shown(one: float) -> str:
                told = written(name, one, system)
                return told if isinstance(told, str) else f"{told:g}"

            if not text or text in ("?", "unknown"):
                if least and least > usual:
                    click.echo(f"I need this one too: {shown(usual)}, which I would take,"
                               f" is below your {shown(least)}.")
                    return None
                return ""
            value = amount(text.removesuffix(unit), name, system)
            if value is None:
                return None
            if out_of_bounds(name, value) or not value:
                click.echo(f"That {_wrong(name, value, system) or 'cannot be nought'} ({unit}).")
                return None
            if least and value < least:
                click.echo(f"That is below the {shown(least)} that you gave as the lowest.")
                return None
            if lower and not least and value < usual_least:
                click.echo(f"Then I need the lowest one too, which I take for {shown(usual_least)};"
                           " b goes back to it.")
                return None
            return value

        value = _said(f"{ours[name].text.removesuffix(' Zero if not measured.')} ({unit}; Enter: I"
                      " do not know yet)", "", number, "A number in digits, please, such as 65.")
        return value if isinstance(value, float) else None

    def _tell(self, given: Given, ours: Mapping[str, Question]) -> None:
        """All of it once more, and what the program will go by where nothing was given."""
        yes = self._traits(given)
        system = system_of(yes)
        click.echo(f"{self.title}: {', '.join(sorted(yes)) or 'nothing special'}.")
        for kind in self._kinds(given):
            click.echo(f"  {_spelt(kind):<16} {', '.join(given[kind])}")
        for name in FIGURES:
            limit = ours[name].limit if name in ours else None
            if limit and given.get(name) is not None:
                unit = in_system(limit.unit, system).replace("_", " ")
                value = str(written(name, given[name], system)).partition(" ")[0]
                click.echo(f"  {name:<16} {float(value):g} {unit}")
        unknown = [name for name in FIGURES if name in given and given[name] is None]
        if unknown:
            click.echo("Not known yet, so general figures are used, or nothing is worked out:"
                       f" {', '.join(unknown)}.  Read them off placard, sidewall and manual, and"
                       " add them to the file.")
        click.echo("The stricter of the two codes applies until the file says 'region: US' or"
                   " 'region: Europe'.")

    # --- what follows from the answers ----------------------------------------------------------

    def _kind(self, given: Given) -> Rig:
        kind: Rig = self.kinds[given["kind"] - 1]
        return kind

    def _traits(self, given: Given) -> frozenset[str]:
        has = set(given.get("parts", ())) - {"two legs"}
        if "cord" in given and CORDS[given["cord"]][1] and "blue plug" not in has:
            has.add("two legs")
        return frozenset(has) & self.traits.keys()

    def _kept(self) -> Given:
        """The draft; nothing where there is none, or one that makes no sense any more."""
        try:
            kept = json.loads(self.draft.read_text("utf-8"))
            good = (isinstance(kept, dict) and kept.get("kind", 1) in range(1, len(self.kinds) + 1)
                    and set(kept.get("parts", ())) <= self.traits.keys()
                    and kept.get("cord", "30") in CORDS
                    and kept.get("several", {}).keys() <= KINDS.keys())
            return {name: value for name, value in kept.items() if name != "right"} if good else {}
        except (OSError, ValueError, TypeError, AttributeError):
            return {}

    def _keep(self, given: Given) -> None:
        with suppress(OSError):  # a convenience; the file itself says when it cannot be written
            self.draft.parent.mkdir(parents=True, exist_ok=True)
            self.draft.write_text(json.dumps(given), encoding="utf-8")


def presets(folder: Path, title: str, draft: Path, traits: Mapping[str, Fact],
            rest: Callable[..., Answers]) -> Presets:
    """With the kinds of rig in this folder, in the order of their files' names."""
    from handsfree.checklist.rig_file import load_rig

    kinds = [load_rig(path) for path in sorted(folder.glob("*.yaml"))]
    return Presets(title, [replace(kind, has=kind.has & traits.keys()) for kind in kinds], traits,
                   draft, rest)


def _spelt(kinds: str) -> str:
    """As it is shown: American, as the voice is."""
    return kinds.replace("grey", "gray")


def _countable(has: Collection[str]) -> list[str]:
    """Of what a rig with these parts may have more than one."""
    return [kind for kind, trait in KINDS.items() if trait in has]


def _possible(name: str, has: set[str]) -> bool:
    """Whether a rig with these parts can have this one."""
    return all((other in has) is wanted for other, wanted in NEEDS.get(name, ()))


def _choice(question: str, most: int, usual: int) -> int:
    def number(text: str) -> int | None:
        return int(text) if text.isdigit() and 1 <= int(text) <= most else None

    return int(_said(question, str(usual), number, f"A number from 1 to {most}, please."))


def _wrong(name: str, value: float, system: str) -> str:
    """`out_of_bounds`, in the units of this system."""
    if system == US or not out_of_bounds(name, value):
        return out_of_bounds(name, value)
    said, low, high = (str(written(name, one, system)).partition(" ")[0]
                       for one in (value, *BOUNDS[name]))
    return f"cannot be {said}; it lies from {low} to {high}"


def _said(question: str, usual: str, read: Callable[[str], Any], hint: str) -> Any:
    """What was typed, once `read` makes something of it.

    Raises:
        _Back: b was typed.
    """
    while True:
        said = str(click.prompt(question, default=usual, show_default=bool(usual))).strip().lower()
        if said in BACK:
            raise _Back
        value = read(said)
        if value is not None:
            return value
        click.echo(hint)
