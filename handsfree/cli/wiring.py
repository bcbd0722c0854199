"""Puts the parts together for the commands: files, engine, voice, journal.

May import everything; only the command modules import it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Protocol, TypeVar

import click

from handsfree import __version__
from handsfree.audio import Samples
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.cli.rigs import rig_named
from handsfree.devices.keys import NAMES
from handsfree.engine.state import State
from handsfree.errors import DeviceError, InputError, StorageError
from handsfree.hearing.types import Heard, Hypothesis
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.language.readings import Reading
from handsfree.language.yaml_entries import did_you_mean
from handsfree.session.conversation import Conversation, Log
from handsfree.session.manner import Manner
from handsfree.session.manner_file import remember, remembered
from handsfree.session.opening import begun_anew, go_on, start_new
from handsfree.session.ports import Watch
from handsfree.session.settling import Unsettled, unsettled
from handsfree.session.state_questions import state_facts, state_questions
from handsfree.session.state_questions_file import load_state_questions
from handsfree.session.wording import Prompt, Wording
from handsfree.sound.files import write_mono
from handsfree.speaking import earcons
from handsfree.speaking.cache import PromptCache
from handsfree.speaking.normalisation_table import load_normaliser
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.text_normalisation import TextNormaliser
from handsfree.speaking.voice import VoiceOptions
from handsfree.storage import journal, places
from handsfree.storage.fold import fold
from handsfree.storage.paths import checklists_folder, find_checklist
from handsfree.storage.paths import choose_rig as choose_rig
from handsfree.storage.record import (
    SessionFile,
    forget_journals,
    last_walk,
    latest,
    past_faults,
    record_for,
    rig_folder,
    session_paths,
)
from handsfree.storage.verdicts import found_by_name
from handsfree.way.kept import in_shortest_order, rerouting

Begin = Callable[..., list[Prompt]]
"""(conversation, time, log to use instead of the journal itself) to the first prompts."""


@dataclass(frozen=True)
class Plan:
    """What a session needs before any sound is made."""

    checklist: Checklist
    rig: Rig
    language: Language
    folder: Path
    """Where the rig's sessions lie."""
    shortest: bool = False
    """It is in the order that walks least."""


def plan(checklist: str, rig: str, data: Path, *, shortest: bool = False) -> Plan:
    """Load and check the files of a session.

    Args:
        shortest: in the order that walks least, whatever the rig file says; a list that is given by
            its path keeps its own.

    Raises:
        InputError, AuthorError: what cannot be found or read.
    """
    rig_file = rig_named(rig, data)
    loaded = load_checklist(find_checklist(checklist), rig=rig_file, library=checklists_folder())
    shortest = (shortest or rig_file.order == "shortest") and found_by_name(Path(loaded.file))
    if shortest:
        loaded = in_shortest_order(loaded, rig_file, data)
    language = load_language(loaded.language)
    for step in loaded.steps.values():
        if step.reading and step.reading.unit not in language.units:
            raise InputError(
                f"{step.file}, line {step.line}: '{step.reading.unit}' is no unit that is spoken"
                f" in {language.name}; use one of: {', '.join(language.units)}.")
    return Plan(loaded, rig_file, language, rig_folder(data, rig_file.name), shortest)


def spoken_here(language: Language, *, button: bool = False) -> Language:
    """The language, without what speaks of keys where standard input is no terminal; `button`: there is
    one on a pin."""
    if sys.stdin is not None and sys.stdin.isatty():
        return language
    from handsfree.standby.answering import without_keys
    from handsfree.standby.phrases import load_words

    return without_keys(language, load_words(language.code), button=button)


def on_the_way(made: Plan) -> Callable[[State], str]:
    """Which step to take next once an operator has left the order that walks least; '' for the
    list's own next one."""
    found = rerouting(made.checklist, made.rig) if made.shortest else None
    return found.next if found else lambda state: ""


def pseudonyms(values: Sequence[str], sides: Sequence[str]) -> dict[str, str]:
    """Who works, by side: of an option given as NAME, or as SIDE=NAME for each of two people.

    Raises:
        InputError: a name for nobody, two for one, or one that cannot be shown.
    """
    found: dict[str, str] = {}
    for value in values:
        side, given, name = value.rpartition("=")
        if side not in sides or side in found or given and not side:
            wanted = " ".join(f"--operator {f'{s}=' if s else ''}NAME" for s in sides)
            raise InputError(f"--operator {value}: write {wanted}.")
        if not name.strip() or not name.isprintable() or len(name) > 40:
            raise InputError(f"--operator {value}: a pseudonym has 1 to 40 characters.")
        found[side] = name.strip()
    return found


def on_record(made: Plan) -> frozenset[str]:
    """Everything that is true of the rig before the session begins, its traits included."""
    return record_for(made.checklist, made.rig, latest(made.folder, made.rig.name)).facts


def to_settle(made: Plan, *, resume: bool = False) -> Unsettled | None:
    """What has to be asked of the rig before the session; None where nothing has to be, or where
    there is nothing to resume."""
    last = latest(made.folder, made.rig.name)
    if resume and (last is None or not last.faults and (
            last.ended or last.checklist != made.checklist.id)):
        return None
    return unsettled(load_state_questions(checklists_folder()), made.checklist, made.rig, made.language,
                     made.folder)


def unfinished(made: Plan) -> tuple[SessionFile, str] | None:
    """The session of this checklist that was not finished and can be gone on with, and the name of
    the step where it stopped."""
    last = latest(made.folder, made.rig.name)
    if last is None or last.faults or last.ended or last.checklist != made.checklist.id:
        return None
    step = made.checklist.steps.get(fold(journal.read(last.path).lines).at)
    return last, Wording(made.checklist, made.language).name(step) if step else made.checklist.title


def place_of(made: Plan, data: Path, *, resume: bool = False) -> str | None:
    """Where the rig is, by its record: '' where that does not matter to this list or has no name,
    None where it is to be asked.

    Raises:
        InputError: the file of names cannot be read.
    """
    names = places.load_names(data)
    last = latest(made.folder, made.rig.name)
    if last is None:
        return None if places.recallable(made.checklist) and _somewhere(made, data, names) else ""
    if resume:
        first = places.begun(last.path)
        return names.of(first.place) if first and first.place else ""
    found = places.stands_at(made.folder, last.facts, last.known, names)
    arrives = places.PARKED not in last.known or places.on_road(last.facts)
    ask = not found and arrives and places.recallable(made.checklist)
    return None if ask and _somewhere(made, data, names) else found


def _somewhere(made: Plan, data: Path, names: places.Names) -> bool:
    """Whether there is a place to come back to: one with a name, or an earlier stay without."""
    return bool(known_places(data, names)) or last_walk(made.folder, made.checklist.id) is not None


def known_places(data: Path, names: places.Names | None = None) -> list[str]:
    """The names of places, the one that was visited last first.

    Raises:
        InputError: the file of names cannot be read.
    """
    names = names or places.load_names(data)
    return places.known(names, places.visits(data, names))


def memory_of(made: Plan, data: Path, place: str, *, rehearsal: bool = False) -> places.Memory:
    """What is on record of a place, for this list and rig; to be asked before its own journal is
    opened.

    Raises:
        InputError: the file of names cannot be read.
    """
    names = places.load_names(data)
    been = places.visits(data, names, rehearsals=rehearsal) if place else []
    return places.memory(been, names.of(place), made.checklist, made.rig.name, made.rig.has)


def last_time(made: Plan, remembered: places.Memory) -> dict[str, Reading]:
    """Readings that need not be exact, as they were last time; to be asked for as `memory_of`."""
    return {name: Reading(Fraction(str(one.value)), one.unit) for name, one in places.last_readings(
        made.folder, made.checklist, remembered).items()}


def every_question(made: Plan) -> frozenset[str]:
    """Ids of all that can be asked of how this rig stands, for a script that answers some of it."""
    core = load_state_questions(checklists_folder())
    facts = frozenset(state_facts(core, made.checklist, made.rig))
    return frozenset(question.id for question in state_questions(
        core, made.checklist, made.rig, made.language, facts, made.checklist.start_facts))


def open_journal(
    made: Plan, *, resume: bool, place: str, engine: str, rehearsal: bool, operators: int = 1,
    asked: bool = False, believes_clock: bool = True,
    who: Mapping[str, str] | None = None,
) -> tuple[journal.Journal, Begin, SessionFile | None]:
    """The journal of a new or resumed session, how to begin it, and the session before.

    Args:
        asked: it was just settled anew how the rig stands, so that no place can be gone back to.
        believes_clock: see `start_new`.
        who: pseudonyms of the operators, by side ('' for one alone), as they gave them.

    Raises:
        InputError: nothing to resume, another checklist, a folder that cannot be written.
    """
    about = {"place": place, "engine": engine, "program": __version__, "rehearsal": rehearsal,
             **({"operator": dict(who)} if who else {})}
    if resume and not asked:
        started = go_on(made.checklist, made.folder, operators, made.rig, about)
    else:
        started = start_new(made.checklist, made.rig, made.folder, about,
                            believes_clock=believes_clock)
        started = begun_anew(started, "asked") if resume else started

    def begin(conversation: Conversation, t: float, to: Log | None = None) -> list[Prompt]:
        return started.begin(conversation, t, to or started.log)

    return started.log, begin, started.last


class Rated(Protocol):
    """A voice that can speak at several rates."""

    def use(self, rate: int) -> None: ...


class PreparedSounds:
    """The loop's `Sounds`: cached prompts, read aloud rightly, and our tones."""

    def __init__(
        self, opened: Callable[[int], PromptCache], reading: TextNormaliser, rate: int
    ) -> None:
        """`opened` gives the prompts of a voice that speaks at a rate, in words a minute."""
        self._opened = opened
        self._caches = {rate: opened(rate)}
        self._cache = self._caches[rate]
        self._reading = reading

    def use(self, rate: int) -> None:
        """Speak at another rate from the next prompt on."""
        if rate not in self._caches:
            self._caches[rate] = self._opened(rate)
        self._cache = self._caches[rate]

    def speakable(self, text: str) -> str:
        """The text as a voice has to be given it."""
        return self._reading.say(text)

    def get(self, text: str) -> Samples:
        """See `ports.Sounds`."""
        return self._cache.get(self._reading.say(text))

    def ahead(self, texts: Iterable[str]) -> None:
        """See `ports.Sounds`."""
        self._cache.ahead([self._reading.say(text) for text in texts])

    def tone(self, kind: str) -> Samples:
        """See `ports.Sounds`."""
        return earcons.earcon(kind)


@contextmanager
def sounds(
    language: Language, data: Path, rate: int = VoiceOptions.rate
) -> Iterator[PreparedSounds]:
    """The program's voice in a language; prompts are kept in the data folder."""
    with ExitStack() as stack:

        def opened(rate: int) -> PromptCache:
            voice = stack.enter_context(
                Pyttsx3Voice(VoiceOptions(language=language.voice, rate=rate)))
            return stack.enter_context(PromptCache(voice, data / "prompts"))

        yield PreparedSounds(opened, load_normaliser(language.code), rate)


def manner_for(made: Plan, data: Path) -> Manner:
    """The manner to begin a session in; to be asked before its own journal is opened."""
    return remembered(data, session_paths(made.folder), made.checklist.id,
                      datetime.now().astimezone())


def manner_keeper(
    data: Path, manner: Manner, sounds: Rated
) -> Callable[[Manner], None]:
    """Whom to tell when the operator wants another manner than this: it is used and remembered."""

    def changed(new: Manner) -> None:
        nonlocal manner
        sounds.use(new.rate)
        remember(data, new, manner)
        manner = new

    return changed


KEYS = {" ": "done", "s": "skip", "r": "repeat", "d": "detail", "w": "why", "x": "problem",
        "b": "take_back", "l": "remaining", "p": "pause", "c": "resume", "m": "note", "t": "time",
        "h": "help", "f": "finish", "y": "confirm", "n": "deny", "?": "status", "pagedown": "done"}
"""Keys and the commands that they stand for; a hold point's response has to be typed (:).  Page Down
is what many foot switches and presenters send, or can be set to."""


def key_words(language: Language, done: Iterable[str] = ()) -> dict[str, str]:
    """Key to the taught wording of its command; `done` are further keys for that."""
    return {key: language.commands[command][0]
            for key, command in {**KEYS, **dict.fromkeys(done, "done")}.items()}


def buttons(named: Sequence[str]) -> tuple[frozenset[str], frozenset[str]]:
    """The keys that `--button KEY=done` and `--button KEY=talk` name: (done, talk).

    Raises:
        InputError: no such key or use.
    """
    done: set[str] = set()
    talk: set[str] = set()
    for one in named:
        key, found, use = one.rpartition("=")
        key = key if len(key) == 1 else key.lower()
        if not found or use not in ("done", "talk"):
            raise InputError(f"--button {one}: write KEY=done or KEY=talk, such as f9=talk.")
        if len(key) != 1 and key not in NAMES:
            raise InputError(f"--button {one}: there is no key '{key}'{did_you_mean(key, NAMES)};"
                             " write one character, or a name such as pagedown, f9 or enter.")
        if key.isdigit() or key in (":", "-", "escape"):
            raise InputError(f"--button {one}: '{key}' is already taken; choose another key.")
        (done if use == "done" else talk).add(key.lower())
    if done & talk:
        raise InputError(f"--button: '{min(done & talk)}' cannot be both; choose two keys.")
    return frozenset(done), frozenset(talk)


def forget_record(data: Path) -> None:
    """Remove the record of an earlier rehearsal; touches nothing but what rehearsals wrote."""
    for path in sorted((data / "rigs").glob("*/sessions/*")):
        if path.suffix in (".jsonl", ".torn", ".damaged", ".wav"):
            path.unlink()
    for path in (data / "rigs").glob("*/sessions"):
        forget_journals(path.parent, ())


def sound_keeper(journal_path: Path, kind: str) -> Callable[[Samples], str]:
    """Stores sounds beside a session's journal, for the owner's eyes only; gives the file's name.

    What it gives raises StorageError when the sound cannot be kept.
    """
    count = 0

    def keep(samples: Samples) -> str:
        nonlocal count
        while True:
            count += 1
            path = journal_path.with_name(f"{journal_path.stem}-{kind}-{count}.wav")
            try:
                os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
            except FileExistsError:
                continue  # of this session, before it was resumed
            except OSError as problem:
                raise StorageError(f"{path} cannot be written ({problem.strerror}).") from None
            write_mono(path, samples)
            return path.name

    return keep


_D = TypeVar("_D")


def device(make: Callable[[str | None], _D], named: str | None) -> Callable[[], _D]:
    """Opens a device as often as it is asked to: the one named, later also the system's own.

    Raises:
        DeviceError: the named one cannot be opened now.
    """
    first = [make(named)] if named else []

    def opened() -> _D:
        if first:
            return first.pop()
        try:
            return make(named)
        except DeviceError:
            if named is None:
                raise
            return make(None)

    return opened


def problems(log: journal.Journal, last: SessionFile | None = None) -> Iterator[str]:
    """What was wrong with the journals of a rig whose session begins, for the terminal.

    Args:
        last: the session before, or the one that is gone on with.
    """
    if last and not last.linked:
        yield (f"{last.path.name} is of an earlier version, whose lines are not linked: a line that"
               " is missing at its end would not show.  Journals from now on are linked.")
    if log.set_aside:
        yield (f"The last line of {log.path} was cut off by a power loss; it is set aside in"
               f" {log.path.with_suffix('.torn').name}.")
    folder = log.path.parent.parent
    for fault in past_faults(folder) if log.path.parent.name == "sessions" else ():
        yield f"{folder / 'sessions'}: {fault}. Nothing that counts now rests on it."


def plain_lines(side: str = "") -> Watch:
    """A session in plain lines on the terminal; of two operators, each line says whose it is."""
    who = f"{side} " if side else ""
    return Watch(prompt=lambda prompt, t: click.echo(f"{who}> {prompt.text or f'({prompt.tone})'}"),
                 heard=lambda heard, t: click.echo(f"{who}  {heard_line(heard)}"))


def heard_line(heard: Heard) -> str:
    """What was heard, for the terminal."""
    if isinstance(heard, Hypothesis):
        return f"{heard.text}  [{heard.confidence:.2f}]"
    return f"({heard.reason})"


def tell(message: str) -> None:
    """A line for the terminal that is no part of the conversation."""
    click.echo(message, err=True)

