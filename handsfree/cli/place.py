"""`handsfree place`: the places that are known, what is remembered of each, and their names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from handsfree.cli.complete import places
from handsfree.cli.counted import count
from handsfree.errors import HandsfreeError, InputError
from handsfree.storage.paths import data_folder

if TYPE_CHECKING:
    from handsfree.checklist.model import Checklist
    from handsfree.language.confusability import Pronunciations
    from handsfree.language.model import Language

_LONGEST = 60


@click.group(invoke_without_command=True)
@click.pass_context
def place(ctx: click.Context) -> None:
    """The places where you stay, the last one first.

    When you come back to one, arrive asks in one sentence whether everything is the same as last
    time. It gets that from your journals; none of it counts for what only a look or a test can
    tell.
    """
    if ctx.invoked_subcommand is None:
        _list()


def _list() -> None:
    from handsfree.storage.places import known, load_names, visits
    from handsfree.storage.record import same_name

    names = load_names(data_folder())
    been = visits(data_folder(), names)
    every = known(names, been)
    if not every:
        click.echo("No place has a name yet: handsfree run arrive --place \"north meadow\", or"
                   " handsfree place add \"north meadow\".")
    for name in every:
        here = [visit for visit in been if same_name(visit.place) == same_name(name)]
        last = f"last {here[-1].began[:10]}, {count(len(here), 'list')}" if here else "not visited yet"
        click.echo(f"{name}: {last}")


@place.command()
@click.argument("name", shell_complete=places)
@click.option("--rig", default=None, metavar="RIG", help="Rig file: a name or a path.")
def show(name: str, rig: str | None) -> None:
    """What it remembers about the place called NAME.

    What hangs on the rig as well is shown for --rig, or the only rig that you have.
    """
    from handsfree.checklist.loader import load_checklist
    from handsfree.checklist.rig_file import Rig, load_rig
    from handsfree.session.at_a_place import findings
    from handsfree.session.wording import Wording
    from handsfree.storage.paths import checklists_folder, choose_rig, find_checklist, find_rig
    from handsfree.storage.places import load_names, memory, recallable, visits

    data, name = data_folder(), _known(name)
    names = load_names(data)
    try:
        loaded = load_rig(find_rig(choose_rig(rig, data)))
    except InputError:
        if rig:
            raise
        loaded = Rig("")
    checklist = load_checklist(find_checklist("arrive"), rig=loaded, library=checklists_folder())
    found = memory(visits(data, names), name, checklist, loaded.name, loaded.has)
    click.echo(name if found.last else f"{name}: nothing is remembered of an arrival here.")
    if found.last:
        click.echo(f"as on {found.last[:16].replace('T', ' ')}")
    wording = Wording(checklist, _language_of(checklist))
    for question in recallable(checklist):
        if question in found.answers:
            fact = checklist.facts[question]
            click.echo(f"  {fact.says if found.answers[question] else fact.otherwise}")
    for key, values in findings(found, wording, wording.language):
        click.echo("  " + wording.say(f"here again.{key}", **values).text)
    for called, some in found.measured.items():
        told = ", ".join(f"{one.value:g}{'' if one.band == 'within' else ' (' + one.band + ')'}"
                         for one in some)
        click.echo(f"  {called}: {told} {some[-1].unit.replace('_', ' ')}")


def _language_of(checklist: Checklist) -> Language:
    """The language that a checklist is spoken in."""
    from handsfree.language.loader import load_language

    return load_language(checklist.language)


@place.command()
@click.argument("name", nargs=-1, required=True)
def add(name: tuple[str, ...]) -> None:
    """Name places in advance.

    Then you can say where you are when you get there.
    """
    from handsfree.storage.places import keep_names, load_names

    data = data_folder()
    for one in name:
        new = _new(one, _every())
        names = load_names(data)
        keep_names(data, replace(names, listed=(*names.listed, new)))
        click.echo(f"Added: {new}.  You can say: {_said(new)}.")


@place.command()
@click.argument("old", shell_complete=places)
@click.argument("new")
@click.option("--yes", "sure", is_flag=True, help="Do not ask before two become one.")
def rename(old: str, new: str, sure: bool) -> None:
    """Give the place OLD the name NEW.

    For instance one that was given a number by voice.

    Where there is a place called NEW already, the two are one from now on; that is asked about
    first, since it cannot be taken back.
    """
    from handsfree.storage.places import called, keep_names, load_names

    data, old = data_folder(), _known(old)
    others = [one for one in _every() if one != old]
    there = called(" ".join(new.split()), others)
    if there and not sure:
        click.confirm(f"There is a place called {there} already.  Make {old} and {there} one place"
                      " from now on?", abort=True)
    new = there or _new(new, others)
    keep_names(data, load_names(data).renamed(old, new))
    click.echo(f"{old} and {new} are one place now: {new}." if there else f"{old} is called {new} now.")


@place.command()
@click.argument("name", shell_complete=places)
@click.option("--yes", "sure", is_flag=True, help="Do not ask.")
def forget(name: str, sure: bool) -> None:
    """Forget the place NAME, its name included.

    The journals of your stays are left as they are, since they are linked to each other; 'handsfree
    forget' deletes those, and with them what is remembered.
    """
    from handsfree.storage.places import keep_names, load_names, visits
    from handsfree.storage.record import same_name

    data, name = data_folder(), _known(name)
    names = load_names(data)
    here = [visit.key for visit in visits(data, names) if same_name(visit.place) == same_name(name)]
    if not sure:
        click.confirm(f"Forget {name}, and what is remembered of it from {count(len(here), 'list')}?",
                      abort=True)
    listed = tuple(one for one in names.listed if same_name(names.of(one)) != same_name(name))
    others = {old: new for old, new in names.now.items()
              if same_name(new) != same_name(name) and old != same_name(name)}
    keep_names(data, replace(names, listed=listed, now=others,
                             dropped=names.dropped | frozenset(here)))
    click.echo(f"Forgotten: {name}."
               + (f"  The journals of {count(len(here), 'list')} still name it; 'handsfree forget' deletes"
                  " journals." if here else ""))


# --- names --------------------------------------------------------------------------------------

def placed(name: str) -> str:
    """A name as it was given with --place, as it is known; a new one that sounds like another is
    told of.

    Raises:
        InputError: it cannot be a name.
    """
    from handsfree.storage.places import called, load_names

    every = _every()
    name = load_names(data_folder()).of(_checked(name))
    if there := called(name, every):
        return there
    if others := _alike(name, every):
        click.echo(f"'{name}' sounds like {_or(others)}; by voice the two may be mixed up."
                   " 'handsfree place rename' gives it another name.", err=True)
    return name


def _known(name: str) -> str:
    """The name of a place that is known, as it is written.

    Raises:
        InputError: there is none; the message says which there are.
    """
    from handsfree.checklist.yaml_reader import did_you_mean
    from handsfree.storage.places import called, load_names

    every = _every()
    found = called(name, every) or called(load_names(data_folder()).of(name), every)
    if not found:
        told = did_you_mean(name, every) or f"; there are: {', '.join(every) or 'none'}"
        raise InputError(f"there is no place called '{name}'{told}.")
    return found


def _every() -> list[str]:
    from handsfree.cli.wiring import known_places

    return known_places(data_folder())


def _new(name: str, others: Sequence[str]) -> str:
    """A name that can be added.

    Raises:
        InputError: it cannot be one, it is taken, or it sounds like another.
    """
    from handsfree.storage.places import called

    name = _checked(name)
    if there := called(name, others):
        raise InputError(f"there is a place called {there} already.")
    if _means_something(name):
        raise InputError(f"'{name}' already means something else to me; pick another name.")
    alike = _alike(name, others)
    if name.lower() in alike:
        raise InputError(f"'{name}' is already a command; pick another name.")
    if alike:
        raise InputError(f"'{name}' sounds like {_or(alike)}, so by voice the two could be mixed up;"
                         " take a name that sounds different.")
    return name


def _means_something(name: str) -> bool:
    """Whether it is a wording of a command, a response of a step, or what is on record of a rig."""
    from handsfree.checklist.loader import load_checklist
    from handsfree.language.loader import load_language
    from handsfree.language.words import normalise as normal
    from handsfree.storage.paths import checklists_folder, find_checklist

    language = load_language("en")
    known = {normal(phrase) for phrases in language.commands.values() for phrase in phrases}
    known |= set(language.commands) | {word for phrase in known if len(words := phrase.split()) == 2
                                       for word in words}
    for one in ("arrive", "depart"):
        checklist = load_checklist(find_checklist(one), library=checklists_folder())
        known |= {normal(phrase) for step in checklist.steps.values()
                  for phrase in step.responses}
        known |= {normal(phrase) for fact in checklist.facts.values()
                  for phrase in (fact.says, fact.otherwise) if phrase}
    said = normal(_said(name))
    return bool({said, said.removeprefix("the ")} & known)


def _checked(name: str) -> str:
    name = " ".join(name.split())
    if not name.isprintable() or len(name) > _LONGEST or not _said(name):
        raise InputError(f"'{name}' cannot name a place: it takes words that can be said, at most"
                         f" {_LONGEST} characters.")
    return name


def _said(name: str) -> str:
    from handsfree.language.loader import load_language
    from handsfree.session.which_place import as_said

    return as_said(name, load_language("en"))


def _alike(name: str, others: Sequence[str]) -> list[str]:
    from handsfree.language.loader import load_language
    from handsfree.session.which_place import alike

    language = load_language("en")
    return alike(name, others, language, _pronunciations([name, *others], language, data_folder()))


def _pronunciations(names: Sequence[str], language: Language, data: Path) -> Pronunciations:
    """How the words of names and commands are said: as the operator says, by the dictionary, or as
    the voice would."""
    from handsfree.hearing.own.lexicon import dictionary
    from handsfree.hearing.own_pronunciations import sayings
    from handsfree.hearing.pronunciation import pronounce
    from handsfree.language.confusability import read_dictionary
    from handsfree.session.which_place import as_said

    known = {**read_dictionary(dictionary().splitlines()), **language.pronunciations, **sayings(data)}
    words = {word for name in names for word in as_said(name, language).split()}
    try:
        guessed = pronounce(sorted(words - known.keys()))
    except HandsfreeError:
        guessed = {}  # then they are compared by their letters
    return {**known, **{word: (sounds,) for word, sounds in guessed.items() if sounds}}


def _or(names: Sequence[str]) -> str:
    return " or ".join(f"'{name}'" for name in names)
