"""`handsfree new`: a first checklist of one's own, from plain questions.

The questions are the terminal's; what comes of them is built here as plain data and written as
YAML only after the loader has read it without complaint.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click

from handsfree.errors import HandsfreeError, InputError

_IF_NO = "Put that right first. Then try again."
"""What a new test says when it comes out as no; the owner words it better."""

_DEFERS = "The owner's manual, local code and licensed trades come before anything I say."
_ASK_AT_MOST = 200


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--language", default="en", show_default=True, help="Language it is written in.")
def new(file: Path, language: str) -> None:
    """Start a checklist in FILE (a .yaml) by answering plain questions; Enter takes what is in [].

    It asks, step by step, what is to be done, whether a mistake there can hurt somebody, whether
    a number is read, and what has to be done first.  The file is plain text: carry on in an editor
    ('handsfree schema' helps it along), then run 'handsfree check' on it.
    """
    from handsfree.language.loader import load_language

    if file.suffix not in (".yaml", ".yml"):
        raise InputError(f"'{file}' does not end in .yaml; name it, for example, my-camp.yaml.")
    if file.exists():
        raise InputError(f"{file} exists already; edit it, or choose another name.")
    if not file.parent.is_dir():
        raise InputError(f"there is no folder {file.parent}; make it first.")
    spoken = load_language(language)
    made = _Interview({phrase for phrases in spoken.commands.values() for phrase in phrases},
                      sorted(spoken.units)).checklist(language)
    _write(file, made)
    click.echo(f"\nWritten: {file}\nNext:  handsfree check {file}     can it hurt anybody?\n"
               f"       handsfree say {file}       hear it\n"
               f"       handsfree rehearse {file}  play it without a sound card")


class _Interview:
    """Asks, and builds the checklist as what YAML will say."""

    def __init__(self, commands: set[str], units: list[str]) -> None:
        self._taken = commands
        self._units = units
        self._facts: dict[str, dict[str, Any]] = {}
        self._steps: list[dict[str, Any]] = []

    def checklist(self, language: str) -> dict[str, Any]:
        title = _words("What is the checklist called")
        click.echo("\nNow the steps, in the order in which they are usually done.")
        while len(self._steps) < _ASK_AT_MOST:
            number = len(self._steps) + 1
            end = "" if number == 1 else " (Enter alone: that was the last)"
            do = _words(f"\nStep {number}: what is to be done{end}", optional=number > 1)
            if not do:
                break
            self._steps.append(self._step(do))
        made: dict[str, Any] = {"title": title, "defers": _DEFERS}
        if language != "en":
            made["language"] = language
        if self._facts:
            made["facts"] = self._facts
        return {**made, "steps": self._steps}

    def _step(self, do: str) -> dict[str, Any]:
        step: dict[str, Any] = {"id": self._id(do), "do": do if do[-1] in ".?!" else f"{do}."}
        if click.confirm("  Is a number read there, such as volts or a pressure?", default=False):
            step["reading"] = self._reading()
        elif click.confirm("  Can a mistake there hurt somebody or break something?",
                           default=False):
            step["respond"] = self._response()
        if "reading" in step or step["do"].endswith("?"):
            step["if no"] = _IF_NO
        for key, question in (
            ("caution", "  A warning to be spoken before it (Enter: none)"),
            ("detail", "  What is said when more detail is asked for (Enter: nothing)"),
        ):
            said = _words(question, optional=True)
            if said:
                step[key] = said if said[-1] in ".?!" else f"{said}."
        if self._steps:
            needs = [self._fact_of(number) for number in self._earlier()]
            if needs:
                step["needs"] = needs
        return step

    def _id(self, do: str) -> str:
        words = re.findall(r"[a-z0-9]+", do.lower())
        name = "-".join(words[:3]) or f"step-{len(self._steps) + 1}"
        known = {step["id"] for step in self._steps}
        count = 2
        while name in known:
            name, count = f"{'-'.join(words[:3]) or 'step'}-{count}", count + 1
        return name

    def _response(self) -> str:
        while True:
            said = _words("  What do you answer when it is done, in two or more words"
                          " (such as: chocks set)").lower().rstrip(".!")
            if len(said.split()) < 2:
                click.echo("  One word alone is too easy to mishear.")
            elif said in self._taken:
                click.echo(f"  '{said}' is a command or another step's answer already.")
            else:
                self._taken.add(said)
                return said

    def _reading(self) -> dict[str, Any]:
        unit = click.prompt("  In which unit", type=click.Choice(self._units), show_choices=False,
                            default="volts")
        while True:
            low = _number("  Lowest that is good (Enter: no limit)")
            high = _number("  Highest that is good (Enter: no limit)")
            if low is None and high is None:
                click.echo("  Without any limit nothing can be judged: one of the two is needed.")
            elif low is not None and high is not None and low > high:
                click.echo("  The lowest is above the highest.")
            else:
                break
        if low is not None and high is not None:
            return {"of": unit, "between": [low, high]}
        return {"of": unit, "at least": low} if low is not None else {"of": unit, "at most": high}

    def _earlier(self) -> list[int]:
        """Numbers of the steps that must be done before."""
        for number, step in enumerate(self._steps, 1):
            click.echo(f"    {number:>3}  {step['do']}")
        while True:
            said = _words("  Which of these must be done before it may be done: their numbers"
                          " (Enter: none)", optional=True)
            numbers = sorted({int(word) for word in re.findall(r"\d+", said)})
            rest = re.sub(r"[\d\s,;]|and", "", said)
            if not rest and all(1 <= number <= len(self._steps) for number in numbers):
                return numbers
            click.echo(f"  Numbers from 1 to {len(self._steps)}, please, such as: 1 3")

    def _fact_of(self, number: int) -> str:
        """The fact that this step brings about; asked for when it is first needed."""
        step = self._steps[number - 1]
        if "gives" in step:
            return str(step["gives"][0])
        name = str(step["id"]).replace("-", " ")
        name = " ".join("then" if word in ("and", "or", "not") else word for word in name.split())
        name = f"{name} done"
        so = _words(f"  Say in words that step {number} is done (such as: the wheels are chocked)")
        not_so = _words("  And that it is not (such as: the wheels are not chocked)")
        # Whether it still holds at another place nobody knows, so each run begins without it.
        self._facts[name] = {"says": so.rstrip("."), "otherwise": not_so.rstrip("."),
                             "fresh": True}
        step["gives"] = [name]
        return name


def _words(question: str, optional: bool = False) -> str:
    while True:
        said = " ".join(str(click.prompt(question, default="", show_default=False)).split())
        if said or optional:
            return said
        click.echo("  Some words are needed here.")


def _number(question: str) -> float | None:
    while True:
        said = _words(question, optional=True)
        if not said:
            return None
        try:
            value = float(said)
        except ValueError:
            click.echo("  A number in digits, please, such as 12.5")
            continue
        if abs(value) < 1e6:  # which no infinity and no "nan" is
            return int(value) if value == int(value) else value
        click.echo("  A number below a million, please.")


def _write(file: Path, made: dict[str, Any]) -> None:
    """Write it where it is wanted, once the loader has read it."""
    import tempfile

    import yaml

    from handsfree.checklist.loader import load_checklist

    text = ("# Begun with 'handsfree new'.  All keys: 'handsfree schema'.\n"
            + yaml.safe_dump(made, sort_keys=False, allow_unicode=True, width=96))
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / file.name
        trial.write_text(text, encoding="utf-8")
        try:
            load_checklist(trial)
        except HandsfreeError as problem:
            raise InputError(
                f"your answers do not make a checklist yet: {getattr(problem, 'problem', problem)};"
                " start again and word that step otherwise.") from None
    try:
        with open(file, "x", encoding="utf-8") as out:
            out.write(text)
    except OSError as problem:
        raise InputError(f"{file} cannot be written ({problem.strerror});"
                         " choose another place.") from None
