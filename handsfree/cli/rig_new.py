"""The questions of `handsfree rig new` by keyboard: a kind of rig, what differs from it, and the figures of
its placards.  One can go back, and what was answered is kept until the file is written.

May import everything, as the command modules do.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from handsfree.checklist.bounds import BOUNDS, out_of_bounds
from handsfree.checklist.model import Checklist, Fact, Origin
from handsfree.checklist.rig_file import (
    MOST_OF_A_KIND,
    Rig,
    amount,
    load_rig,
    system_of,
    written,
    wrong_name,
)
from handsfree.checklist.rig_questions import SUMS_TOO, Answers, Question
from handsfree.checklist.schema import BATTERIES, CHEMISTRIES, KINDS
from handsfree.cli.counted import count
from handsfree.language.model import Language
from handsfree.spelling import as_spelled
from handsfree.storage.paths import checklists_folder
from handsfree.storage.record import rig_id
from handsfree.storage.rig_draft import CORDS, FIGURES, Draft, Given, countable, possible
from handsfree.units import US

EXAMPLES = {"slides": "living room left, bedroom right", "awnings": "front, rear", "": "galley, bath"}
"""How several of a kind are named."""

BACK = ("b", "back")


class _Back(Exception):
    """Go back by one question."""


@dataclass
class Presets:
    """Asks for a new rig file, as `first_questions` wants it: called with the questions, gives the answers.

    kinds: rig files to begin from.  traits: the facts that say what a rig can have.
    file: where answers are kept until the rig file is written.
    fill: asks, and gives what was answered.
    rest: asks whatever else is wanted, such as how the rig stands.
    """

    title: str
    kinds: Sequence[Rig]
    traits: Mapping[str, Fact]
    file: Path
    fill: Callable[[Draft, Language], Given]
    rest: Callable[..., Answers]

    def __call__(
        self, questions: Sequence[Question], known: frozenset[str], language: Language, *more: Any
    ) -> Answers:
        ours = {question.id: question for question in questions
                if question.limit or question.id in self.traits or question.id == SUMS_TOO}
        if not ours:
            return self.rest(questions, known, language, *more)
        draft = Draft(self.title, self.kinds, self.traits, ours, self.file)
        mine = draft.answers(self.fill(draft, language), known)
        others = [question for question in questions if question.id not in ours]
        if not others:
            return mine
        found = self.rest(others, known | mine.yes, language, *more)
        return replace(mine, yes=(mine.yes | found.yes) - known, numbers={**mine.numbers, **found.numbers})

    def done(self) -> None:
        """The file is written: nothing more has to be kept."""
        self.file.unlink(missing_ok=True)


def presets(title: str, data: Path, checklists: Sequence[Checklist],
            fill: Callable[[Draft, Language], Given], rest: Callable[..., Answers]) -> Presets:
    """With the kinds of rig in the library, in the order of their files' names."""
    traits = {name: fact for checklist in checklists for name, fact in checklist.facts.items()
              if fact.origin is Origin.TRAIT}
    kinds = [load_rig(path) for path in sorted((checklists_folder() / "kinds").glob("*.yaml"))]
    return Presets(title, [replace(kind, has=kind.has & traits.keys()) for kind in kinds], traits,
                   data / "rigs" / f"{rig_id(title)}.draft", fill, rest)


def by_keyboard(draft: Draft, language: Language) -> Given:
    """The answers of somebody at a terminal.

    Raises:
        click.Abort: it was broken off; what was answered is kept.
    """
    return _Typed(draft).asked()


class _Typed:
    """Asks one draft's questions."""

    def __init__(self, draft: Draft) -> None:
        self._draft = draft

    def asked(self) -> Given:
        """All answers."""
        draft = self._draft
        given = draft.kept()
        if given:
            click.echo(f"Going on with {draft.title}, with {count(len(given), 'answer')} from before.")
        else:
            click.echo("A few questions. Enter takes what is in [], b goes back, and what you"
                       " have answered is saved if you stop.")
        order = [name for name in given if name in draft.order(given, names=True)]
        self._were: dict[str, Any] = {}
        try:
            while wanted := [name for name in draft.order(given, names=True) if name not in given]:
                try:
                    given[wanted[0]] = self._ask(wanted[0], given)
                    order.append(wanted[0])
                except _Back:
                    if order:
                        last = order.pop()
                        self._were[last] = given.pop(last)
                draft.keep(given)
        except click.Abort:
            click.echo(f"\nYour answers are saved; 'handsfree rig new \"{draft.title}\"' goes on"
                       " from here.", err=True)
            raise
        return given

    def _ask(self, name: str, given: Given) -> Any:
        if name == "kind":
            for number, kind in enumerate(self._draft.kinds, 1):
                click.echo(f"  {number}  {kind.name}")
            before = self._were.get("kind", 1)
            chosen = _choice("Which of these is it most like", len(self._draft.kinds), before)
            if chosen != before:
                self._were.clear()  # what was said after it was said of another kind
            return chosen
        if name == "parts":
            return self._parts(frozenset(self._were.get("parts", self._draft.kind(given).has)))
        if name == "cord":
            usual = self._were.get("cord") or ("50" if "two legs" in given["parts"] else "30")
            return _said(f"How many amps has its power cord ({', '.join(CORDS)})", usual,
                         lambda text: text.removesuffix("a").strip() if
                         text.removesuffix("a").strip() in CORDS else None,
                         f"One of {', '.join(CORDS)}, as printed on its plug.")
        if name == "several":
            return self._several(countable(self._draft.has(given)))
        if name == BATTERIES:
            return self._banks()
        if name in KINDS:
            return self._names(name, given["several"][name])
        if name == "right":
            self._tell(given)
            return _said("Shall I write it down", "yes",
                         lambda text: True if text in ("y", "yes") else None,
                         "yes, or b to go back.")
        return self._figure(name, given)

    def _parts(self, usual: frozenset[str]) -> list[str]:
        """The parts of the kind, with those that the owner has changed."""
        has = set(usual & self._draft.traits.keys())
        numbered = dict(enumerate((name for name in self._draft.traits if name != "two legs"), 1))
        while True:
            shown = {number: name for number, name in numbered.items() if possible(name, has)}
            for number, name in shown.items():
                click.echo(f"  {number:>2} [{'x' if name in has else ' '}] {self._draft.traits[name].says}")

            def numbers(text: str, known: Collection[int] = shown) -> set[int] | None:
                words = text.replace(",", " ").split()
                good = all(word.isdigit() and int(word) in known for word in words)
                return {int(word) for word in words} if good else None

            picked = _said("Numbers of what differs on yours; Enter when it is right", "", numbers,
                           "Numbers that stand here, please, such as: 3 7")
            if not picked:
                return sorted(name for name in has if possible(name, has))
            has ^= {shown[number] for number in picked}
            self._were["parts"] = sorted(has)

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
            f"How many, if there is more than one of these: {', '.join(map(as_spelled, kinds))}", "",
            counts,
            f"Such as: {kinds[0]} 2 (at most {MOST_OF_A_KIND} of each), with commas between; Enter if"
            " there is one.")
        return found

    def _names(self, kind: str, count: int) -> list[str]:
        def names(text: str) -> list[str] | None:
            found = [" ".join(one.split()) for one in text.split(",")]
            wrong = next(filter(None, (wrong_name(found[:at]) for at in range(1, len(found) + 1))), "")
            if wrong or len(found) != count:
                click.echo(f"{wrong[0].upper()}{wrong[1:]}." if wrong else f"I need {count} names.")
                return None
            return found

        what = (", in the order in which they go out, each with its side" if kind == "slides" else "")
        found: list[str] = _said(f"What do you call the {count} {as_spelled(kind)}{what} (with commas)", "", names,
                                 f"Such as: {EXAMPLES.get(kind, EXAMPLES[''])}")
        return found

    def _banks(self) -> dict[str, str]:
        def banks(text: str) -> dict[str, str] | None:
            found: dict[str, str] = {}
            for part in filter(None, (one.strip() for one in text.split(","))):
                told = re.fullmatch(r"(?:(.+) )?([a-z]+) (\d+(?:\.\d+)?) ?ah", part)
                if not told or told[2] not in CHEMISTRIES:
                    return None
                name = told[1] or "house"
                wrong = wrong_name([*found, name]) or out_of_bounds("battery amp hours", float(told[3]))
                if wrong or len(found) == MOST_OF_A_KIND:
                    click.echo(f"{part}: {wrong or f'at most {MOST_OF_A_KIND} of them'}.")
                    return None
                found[name] = f"{'AGM' if told[2] == 'agm' else told[2]} {told[3]} Ah"
            return found

        found: dict[str, str] = _said(
            "Its batteries by name, the one that feeds the rig first (with commas; Enter: I do not know yet)", "",
            banks, "Such as: house lithium 200 Ah, starter flooded 80 Ah (flooded, AGM, gel or lithium)")
        return found

    def _figure(self, name: str, given: Given) -> float | None:
        draft = self._draft
        system = system_of(draft.has(given))
        unit, usual = draft.unit(name, given).replace("_", " "), draft.limit(name).default

        def shown(one: float) -> str:
            told = written(name, one, system)
            return told if isinstance(told, str) else f"{round(told, 1):.12g}"

        def number(text: str) -> float | str | None:
            value = None if not text or text in ("?", "unknown") else amount(
                text.removesuffix(unit), name, system)
            if value is None and text and text not in ("?", "unknown"):
                return None
            wrong, least = draft.wrong(name, value, given), draft.least(name, given)[0]
            if not wrong:
                return "" if value is None else value
            click.echo({
                "bounds": f"That {_wrong(name, value or 0.0, system)} ({unit}).",
                "nought": f"That cannot be zero ({unit}).",
                "below": f"That is below the {shown(least)} that you gave as the lowest.",
                "below usual": f"Then I need the lowest one too, which I take for {shown(least)};"
                               " b goes back to it.",
                "above usual": f"I need this one too: {shown(usual)}, which I would take,"
                               f" is below your {shown(least)}."}[wrong])
            return None

        before = self._were.get(name)
        value = _said(f"{draft.questions[name].text.partition(' Zero if ')[0]} ({unit}; Enter:"
                      f" {'as before' if before is not None else 'I do not know yet'})",
                      "" if before is None else shown(before).partition(" ")[0], number,
                      f"A number in digits, please{f', such as {shown(usual)}' if usual else ''}.")
        return value if isinstance(value, float) else None

    def _tell(self, given: Given) -> None:
        """All of it once more, and what the program will go by where nothing was given."""
        draft = self._draft
        yes = draft.has(given)
        system = system_of(yes)
        click.echo(f"{draft.title}: {', '.join(as_spelled(name) for name in sorted(yes)) or 'nothing special'}.")
        for kind in draft.several(given):
            click.echo(f"  {as_spelled(kind):<16} {', '.join(given[kind])}")
        for name, bank in given.get(BATTERIES, {}).items():
            click.echo(f"  {name + ' battery':<16} {bank}")
        for name in FIGURES:
            if name in draft.questions and given.get(name) is not None:
                unit = draft.unit(name, given).replace("_", " ")
                value = str(written(name, given[name], system)).partition(" ")[0]
                click.echo(f"  {name:<16} {float(value):g} {unit}")
        unknown = [name for name in FIGURES if name in given and given[name] is None]
        if unknown:
            click.echo("Not known yet, so I use general figures or leave the sum out:"
                       f" {', '.join(unknown)}.  Get them off placard, sidewall and manual, and"
                       " add them to the file.")
        click.echo("The stricter of the two codes applies until the file says 'region: US' or"
                   " 'region: Europe'.")


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
    return f"cannot be {said}; it has to be between {low} and {high}"


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
