"""The first questions about a rig, by keyboard or by voice, before a session or for a rig file.

May import everything, as `wiring`; only the command modules import it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handsfree.checklist.bounds import BOUNDS
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig, load_rig, system_of, written
from handsfree.checklist.rig_questions import SUMS_TOO, Answers, Question, rig_questions
from handsfree.checklist.schema import KINDS
from handsfree.errors import AuthorError, DeviceError, InputError
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.language.verbalising import say_number
from handsfree.session.interview import GO_ON
from handsfree.session.settling import settle, unsettled
from handsfree.session.state_questions_file import load_state_questions
from handsfree.session.wording import Wording, of_its_rig
from handsfree.storage.half_answered import FILE, HalfAnswered
from handsfree.storage.paths import checklists_folder, find_checklist, find_rig
from handsfree.storage.record import lock, rig_folder, rig_id
from handsfree.storage.rig_draft import FIGURES, Draft, Given
from handsfree.units import US

if TYPE_CHECKING:
    from handsfree.cli.walking import Stage

Ask = Callable[..., Answers]
"""(questions, traits known before, language, why it is asked, kept=answers given before) to the answers."""


@dataclass(frozen=True)
class Somebody:
    """Whoever answers: a few questions, and those of a new rig file."""

    ask: Ask
    fill: Callable[[Draft, Language], Given]

USUAL_NAME = "My trailer"


def rig_to_use(
    checklist: str, named: str | None, data: Path, somebody: Callable[[], Somebody | None]
) -> str:
    """The rig's name, after asking what the checklist has to know of it and nobody has said yet.

    For a list that comes with the program, a new rig file is asked for as by `handsfree rig new`, once
    for all lists.

    Args:
        named: as the operator named it.
        somebody: gives whom to ask, if anybody; only called where something has to be asked.

    Raises:
        InputError: there is none and nobody can be asked, there are several, or the questions
            were not answered to their end.
    """
    from handsfree.cli import wiring

    found = find_checklist(checklist)
    loaded = load_checklist(found, library=checklists_folder())
    if named is None and not any((data / "rigs").glob("*.yaml")) and (who := somebody()):
        click.echo("There is no rig file yet: a few questions first.")
        if found.parent == checklists_folder():
            return new_rig(data, who).stem
        return make_rig(USUAL_NAME, None, data, [loaded], who.ask).stem
    chosen = wiring.choose_rig(named, data)
    path = find_rig(chosen)
    rig = load_rig(path)
    missing = _missing(rig, loaded)
    if missing and path.parent == data / "rigs" and (who := somebody()):
        _complete(path, rig, loaded, missing, who.ask)
    return chosen


def new_rig(data: Path, who: Somebody, title: str = USUAL_NAME, path: Path | None = None) -> Path:
    """The file of a rig that nothing is known of, for every list that comes with the program.

    Raises:
        InputError: as `make_rig`.
    """
    from handsfree.cli.rig_new import presets

    lists = [load_checklist(found, library=checklists_folder())
             for found in sorted(checklists_folder().glob("*.yaml"))]
    asking = presets(title, data, lists, who.fill, who.ask)
    made = make_rig(title, path, data, lists, asking)
    asking.done()
    return made


def make_rig(
    title: str, path: Path | None, data: Path, checklists: Sequence[Checklist], ask: Ask
) -> Path:
    """Ask everything that these checklists use of a rig, and write its file.

    Raises:
        InputError: the file exists, or cannot be written, or the numbers do not go together.
    """
    from handsfree.cli.rigs import named_alike

    target = path or data / "rigs" / f"{rig_id(title)}.yaml"
    if target.exists():
        raise InputError(f"{target} already exists; edit it, or choose another title.")
    if other := named_alike(title, target, data):
        raise InputError(f"{other} belongs to a rig with the same name; choose another title.")
    language = load_language(checklists[0].language)
    about = list(rig_questions(checklists, _words(language)))
    given = ask(about, frozenset(), language)
    traits = [question.id for question in about
              if question.limit is None and question.id != SUMS_TOO]
    rig = {"name": title, **_units(system_of(given.yes)), "has": [name for name in traits if name in given.yes],
           "has not": [name for name in traits if name not in given.yes],
           "limits": dict(given.numbers), **{kind: list(names) for kind, names in given.several.items()},
           **({"batteries": dict(given.batteries)} if given.batteries else {})}
    _write(target, rig, checklists)
    click.echo(f"Written: {target}")
    return target


def _missing(rig: Rig, checklist: Checklist) -> list[Question]:
    """What this checklist uses and no checklist before it has asked; a rig file that does not say
    what the rig has not is complete.

    Numbers of the library's own that are on no placard have a default that serves; the owner may write
    another into the file."""
    if rig.lacks is None:
        return []
    known = rig.has | rig.lacks
    return [question for question in rig_questions([checklist], lambda key, **fields: key)
            if SUMS_TOO not in question.only_if.names() | {question.id}
            and question.id not in known and question.id not in rig.limits
            and (question.limit is None or question.id in FIGURES or question.id not in BOUNDS
                 or not question.limit.default)
            and (question.limit is None or question.only_if.holds(rig.has)
                 or question.only_if.names() - known)]


def _complete(
    path: Path, rig: Rig, checklist: Checklist, missing: Sequence[Question], ask: Ask
) -> None:
    """Ask it, and write the file anew."""
    text = path.read_text(encoding="utf-8")
    if "#" in text:  # somebody's own words, which writing it anew would lose
        names = ", ".join(question.id for question in missing)
        click.echo(f"{path} does not say yet: {names}. Add them to 'has:', 'has not:' or"
                   " 'limits:'.", err=True)
        return
    click.echo(f"'{checklist.title}' has to know a little more of {rig.name}.")
    given = ask(missing, rig.has, load_language(checklist.language))
    new = [question.id for question in missing if question.limit is None]
    whole = {"name": rig.name, **_units(rig.units), "has": sorted(rig.has | given.yes),
             "has not": sorted((rig.lacks or frozenset()) | (set(new) - given.yes)),
             "limits": {**rig.limits, **given.numbers}}
    import yaml

    old = yaml.safe_load(text)
    kept = {key: old[key] for key in ("region", "order", "sides", "places", "notes", *KINDS)
            if old.get(key)}
    _write(path, {**whole, **kept}, [checklist], anew=True)


def _units(system: str) -> dict[str, str]:
    """The line of a rig file; none for the system that goes without saying."""
    return {} if system == US else {"units": system}


def _words(language: Language) -> Callable[..., str]:
    """Our own questions."""
    empty = Checklist("", "", {}, {}, ())

    def words(key: str, **fields: str) -> str:
        return Wording(empty, language).say(f"first.{key}", **fields).text

    return words


def _write(
    target: Path, rig: Mapping[str, Any], checklists: Sequence[Checklist], *, anew: bool = False
) -> None:
    """The file, once every checklist has loaded with it."""
    import os

    import yaml

    system = str(rig.get("units", US))
    trial = Rig(str(rig["name"]), frozenset(rig["has"]), limits=rig["limits"], file=str(target),
                units=system)
    lines = {**rig, "limits": {name: written(name, value, system)
                               for name, value in trial.limits.items()}}
    for checklist in checklists:
        if all(trial.limits.get(name, limit.default) == limit.default
               for name, limit in checklist.limits.items()):
            continue  # as it was loaded already
        try:
            load_checklist(Path(checklist.file), rig=trial, library=checklists_folder())
        except (AuthorError, InputError) as problem:
            why = problem.problem if isinstance(problem, AuthorError) else str(problem).rstrip(".")
            raise InputError(f"these numbers do not go together ({why}), so nothing was written;"
                             " start again.") from None
    from handsfree.checklist.bounds import out_of_bounds

    for name, value in trial.limits.items():
        if wrong := out_of_bounds(name, value):
            raise InputError(f"'{name}' {wrong}, so nothing was written; start again.")
    part = target.with_suffix(".part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(yaml.safe_dump(lines, sort_keys=False, allow_unicode=True),
                        encoding="utf-8")
        if anew:
            os.replace(part, target)
        else:
            os.link(part, target)  # which overwrites nothing
            part.unlink()
    except OSError as problem:
        raise InputError(f"{target} cannot be written ({problem.strerror});"
                         " choose another place.") from None


def ask_how_it_stands(
    checklists: Sequence[Checklist], rig: Rig, data: Path, ask: Ask, *, anew: str = ""
) -> None:
    """Ask what nobody has said yet of how a rig stands, and write it down.

    Args:
        anew: why everything is asked again; '' where only what is open is asked.

    Raises:
        InputError: the questions were not answered to their end, or the folder cannot be written.
    """
    core, folder = load_state_questions(checklists_folder()), rig_folder(data, rig.name)
    for checklist in checklists:
        language = load_language(checklist.language)
        with lock(folder):
            asked = unsettled(core, checklist, rig, language, folder, anew=bool(anew))
            if asked is None:
                continue
            spoken = of_its_rig(language, checklist)
            kept = HalfAnswered(folder / FILE, ((one.id, one.text) for one in asked.questions))
            if kept.answers and not _still_so(len(kept.answers), spoken, ask):
                kept.forget()
            given = ask(asked.questions, frozenset(), spoken, anew or asked.why, kept=kept)
            settle(core, asked, given.yes, folder)
            kept.forget()
        click.echo("On record: how it stands now.  'handsfree rig' shows it.")


def _still_so(count: int, language: Language, ask: Ask) -> bool:
    """Whether what was answered before the power went, or it was broken off, is still so."""
    words = _words(language)
    why = words("answered one" if count == 1 else "answered", count=say_number(Fraction(count), language))
    question = Question(GO_ON, words("still so"))
    return GO_ON in ask([question], frozenset(), language, why).yes


def ask_to_go_on(title: str, name: str, language: Language, ask: Ask) -> bool:
    """Whether to go on with the unfinished session, which stopped at the step of this name.

    Raises:
        InputError: it was not answered.
    """
    why = _words(language)("unfinished", title=title, name=name)
    question = Question(GO_ON, _words(language)("go on"), likely=True)
    return GO_ON in ask([question], frozenset(), language, why).yes


# --- asking -------------------------------------------------------------------------------------

def by_keyboard(
    questions: Sequence[Question], known: frozenset[str], language: Language, why: str = "",
    kept: HalfAnswered | None = None,
) -> Answers:
    """One question a line; Enter takes what is offered."""
    if why:
        click.echo(why)
    yes = set(known)
    numbers: dict[str, float] = {}
    before = dict(kept.answers) if kept else {}
    for question in questions:
        if not question.only_if.holds(yes):
            continue
        if question.id in before:
            yes |= {question.id} if before[question.id] else set()
        elif question.limit:
            unit = question.limit.unit.replace("_", " ")
            numbers[question.id] = click.prompt(
                f"{question.text} ({unit})", default=question.limit.default,
                value_proc=_number_of(question.id))
        else:
            before[question.id] = click.confirm(question.text, default=question.likely)
            yes |= {question.id} if before[question.id] else set()
            if kept:
                kept.keep(before)
    return Answers(frozenset(yes) - known, numbers)


def _number_of(limit: str) -> Callable[[object], float]:
    """Reads a number that this limit can have."""
    from handsfree.checklist.bounds import out_of_bounds

    def read(said: object) -> float:
        value = _number(said)
        if wrong := out_of_bounds(limit, value):
            raise click.BadParameter(f"that {wrong}")
        return value

    return read


def _number(said: object) -> float:
    try:
        value = float(str(said))
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e6:
        raise click.BadParameter("a number in digits, please, such as 12.5")
    return value


def someone_to_ask(
    mic: str | None, speaker: str | None, engine: str, model: Path | None, data: Path
) -> Somebody | None:
    """By voice where there is a microphone (keys work beside it), else by keyboard at a terminal;
    None where there is neither."""
    if not _has_microphone(mic):
        from handsfree.cli.rig_new import by_keyboard as fill_by_keyboard

        return Somebody(by_keyboard, fill_by_keyboard) if sys.stdin.isatty() else None

    def by_voice(
        questions: Sequence[Question], known: frozenset[str], language: Language, why: str = "",
        kept: HalfAnswered | None = None,
    ) -> Answers:
        from handsfree.cli import wiring
        from handsfree.cli.walking import asked_aloud

        with _stage(language, mic, speaker, engine, model, data) as stage:
            return asked_aloud(stage, questions, known, wiring.spoken_here(language), why, kept)

    def fill(draft: Draft, language: Language) -> Given:
        from handsfree.cli import wiring
        from handsfree.cli.walking import rig_aloud

        with _stage(language, mic, speaker, engine, model, data) as stage:
            return rig_aloud(stage, draft, wiring.spoken_here(language))

    return Somebody(by_voice, fill)


def _has_microphone(mic: str | None) -> bool:
    from handsfree.devices.sound_card import SoundCardMicrophone

    try:
        SoundCardMicrophone(mic).close()
    except DeviceError:
        return False
    return True


@contextmanager
def _stage(
    language: Language, mic: str | None, speaker: str | None, engine: str, model: Path | None,
    data: Path,
) -> Iterator[Stage]:
    """Devices, voice and keys of one operator, for a few questions."""
    from contextlib import closing

    from handsfree.cli import wiring
    from handsfree.cli.stations import standing
    from handsfree.cli.walking import Stage
    from handsfree.devices.keyboard import Keyboard
    from handsfree.hearing.engines import open_recogniser
    from handsfree.hearing.types import Recogniser
    from handsfree.session.failover import FailoverSounds

    began = time.monotonic()

    def opened() -> Recogniser:
        return open_recogniser(engine, language.code, model, language.pronunciations,
                               user_data=data)

    def clock() -> float:
        return time.monotonic() - began

    named = {"": mic} if mic else {}
    with (standing(("",), named, {"": speaker} if speaker else {}, opened, clock) as stations,
          wiring.sounds(language, data) as sounds,
          closing(FailoverSounds(sounds, stations[""].troubles)) as steady,
          Keyboard(wiring.key_words(language)) as keyboard):
        yield Stage(stations, sounds, steady, clock, keyboard.poll)


# --- where one is -------------------------------------------------------------------------------

def where(
    known: Sequence[str], language: Language, mic: str | None, speaker: str | None, engine: str,
    model: Path | None, data: Path,
) -> str:
    """The place, by voice where there is a microphone, else at a terminal; '' where nobody can be
    asked, or it has no name."""
    from handsfree.cli import wiring
    from handsfree.cli.walking import place_aloud

    if not _has_microphone(mic):
        return where_by_keyboard(known) if sys.stdin.isatty() else ""
    with _stage(language, mic, speaker, engine, model, data) as stage:
        return place_aloud(stage, known, wiring.spoken_here(language))


def where_by_keyboard(known: Sequence[str]) -> str:
    """The place, typed; a name that is not known yet makes a new one."""
    from handsfree.storage.places import called

    if known:
        click.echo(f"Places: {', '.join(known)}.")
    said = " ".join(click.prompt("Where are you? (a place's name, old or new; Enter for none)",
                                 default="", show_default=False).split())
    return called(said, known) or said
