"""`handsfree stand-by`: asleep until it is called, then whatever is to be done, and asleep again."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handsfree.cli.complete import rigs
from handsfree.cli.engines import engine_option
from handsfree.errors import AuthorError, HandsfreeError, InputError
from handsfree.storage.paths import checklist_files, checklists_folder, data_folder

if TYPE_CHECKING:
    from handsfree.audio import Samples
    from handsfree.checklist.rig_questions import Answers as Given
    from handsfree.checklist.rig_questions import Question
    from handsfree.cli.first_questions import Somebody
    from handsfree.cli.walking import Stage
    from handsfree.language.model import Language
    from handsfree.session.ports import Watch
    from handsfree.session.wording import Prompt
    from handsfree.standby.answering import Answers
    from handsfree.standby.conversation import Wanted
    from handsfree.standby.phrases import Phrases, Words
    from handsfree.standby.reminder_file import Kept
    from handsfree.standby.rig_knowledge import Known
    from handsfree.storage.half_answered import HalfAnswered
    from handsfree.storage.lines import Line
    from handsfree.storage.record import Record, SessionFile

REST = 250
"""Frames (5 s) of silence asleep after which the loudspeaker is given back."""

SETTINGS = "stand-by.yaml"
"""In the data folder: what the owner chose."""


@click.command("stand-by")
@click.option("--rig", default=None, metavar="NAME", shell_complete=rigs,
              help="Rig file, by name or path; needed only if you have several.")
@click.option("--call", multiple=True, metavar="PHRASE",
              help="What wakes it, instead of 'hello trailer'; may be repeated.")
@click.option("--language", "code", default="en", show_default=True, metavar="CODE",
              help="What it hears and speaks: de, en, ko.")
@click.option("--text", is_flag=True, help="Without sound: you type what you say on standard input.")
@click.option("--place", default="", help="Where you are; otherwise you are asked when it matters.")
@click.option("--mic", default=None, metavar="DEVICE", help="Microphone, by name or number.")
@click.option("--speaker", default=None, metavar="DEVICE", help="Output, by name or number.")
@click.option("--button", multiple=True, metavar="KEY=done",
              help="A key that calls, and is 'done' in a list.")
@click.option("--pin", default=None, metavar="GPIO",
              help="A button on this pin, such as GPIO17, that does the same (extra 'button').")
@click.option("--led", default=None, metavar="GPIO",
              help="A light on this pin: flashes now and then asleep, is on awake, blinks fast without"
                   " a microphone (extra 'button').")
@click.option("--hear", type=click.Path(path_type=Path), default=None, metavar="FILE",
              help="Hear this sound file instead of a microphone, and say nothing aloud; - is standard"
                   " input, 16-bit samples at 16 kHz.")
@engine_option
@click.option("--model", type=click.Path(path_type=Path), default=None, metavar="DIR",
              help="Folder of a Vosk model.")
def stand_by(
    rig: str | None, call: tuple[str, ...], code: str, text: bool, place: str, mic: str | None,
    speaker: str | None, button: tuple[str, ...], pin: str | None, led: str | None,
    hear: Path | None, engine: str, model: Path | None,
) -> None:
    """Stand by until you call, with "hello trailer", and do what you say then.

    Asleep, it listens for its call and nothing else. It understands, keeps and writes down nothing
    else.  Once called, it starts any list by name or picks one up again ("start arrive", "go on", a
    list of your own); tells you what is on record ("what is out", "is the gas open"), how long
    packing up takes, when it gets dark, what comes next and how today compared; reminds you
    ("remind me in ten minutes"); takes notes; asks you about a trailer it does not know yet
    ("start the interview"); and corrects the record ("the awning is in"), reading it back first.
    If it does not understand you, it says what it can do.  After half a minute of silence it goes
    back to sleep.

    To use a call of your own, put it in stand-by.yaml in the data folder ("call: wake up wagon") or
    give it with --call; 'handsfree learn --call "wake up wagon"' tells you whether it can be heard.

    It runs the lists written in its --language; those that come with it are in English.

    Space, Page Down, --button KEY=done and a button on --pin work as a call too, and as "done" in
    a list.  If the microphone is not there yet, it waits for it, and it finds it again if you
    unplug it and plug it back in.  SIGTERM says good-bye and closes the journal.

    If the clock cannot be right after a boot, it will not give you the time until you say the clock
    is right.

    With --text, nothing is spoken or heard. Each line of standard input is what you say, and (600)
    lets ten minutes pass.
    """
    from handsfree.cli import wiring
    from handsfree.language.loader import load_language
    from handsfree.standby.phrases import good_call, languages, load_words

    data = data_folder()
    if code not in languages():
        raise InputError(f"it cannot stand by in '{code}'; choose one of: {', '.join(languages())}.")
    words = load_words(code)
    language = load_language(code)
    language = wiring.spoken_here(language, button=pin is not None)
    chosen = call or _calls(data) or words.call
    calls = tuple(good_call(one, words, language) for one in chosen)
    settings = _Settings(data, rig, place, language, words, calls, button=pin is not None)
    settings.check()
    stages = _stages(text, hear, mic, speaker, button, pin, led, engine, model, settings)
    with stages as stage:
        try:
            _Standing(settings, stage, button_calls=not text).run()
        except KeyboardInterrupt:
            click.echo("Stopped; 'go on' goes on from here.", err=True)


def _stages(
    text: bool, hear: Path | None, mic: str | None, speaker: str | None, button: tuple[str, ...],
    pin: str | None, led: str | None, engine: str, model: Path | None, settings: _Settings,
) -> Any:
    """The stage that was asked for, still closed."""
    from handsfree.cli import stages, wiring

    language, data = settings.language, settings.data
    if text and hear:
        raise InputError("--text and --hear exclude each other; give one of them.")
    if text:
        return stages.in_text(sys.stdin)
    if hear:
        return stages.from_file(hear, stages.recogniser(engine, language, model, data))
    done, talking = wiring.buttons(button)
    if talking:
        raise InputError("--button KEY=talk is for 'run'; here a button is KEY=done, and calls.")
    return stages.on_cards(language, data, mic, speaker, done, pin, led,
                           stages.recogniser(engine, language, model, data))


def _calls(data: Path) -> tuple[str, ...]:
    """The owner's call phrases; none where there is no such file.

    Raises:
        AuthorError: the file is wrong.
    """
    from handsfree.checklist.schema import Key
    from handsfree.checklist.yaml_reader import read

    path = data / SETTINGS
    if not path.is_file():
        return ()
    got = read(path).fields({"call": Key("texts", "What wakes it.", required=True)})
    return got["call"].texts()


@dataclass(frozen=True)
class _Settings:
    """What was asked for on the command line."""

    data: Path
    rig: str | None
    place: str
    language: Language
    words: Words
    calls: tuple[str, ...]
    button: bool = False
    """There is one on a pin."""

    def check(self) -> None:
        """Raises InputError where it cannot be told which rig, before any device is opened."""
        if self.rig_name() is not None:
            self.known()

    def rig_name(self) -> str | None:
        """The rig's file; None where there is none yet.

        Raises:
            InputError: there are several, and none was named.
        """
        from handsfree.storage.paths import choose_rig

        if self.rig is None and not any((self.data / "rigs").glob("*.yaml")):
            return None
        return choose_rig(self.rig, self.data)

    def known(self) -> Known | None:
        """The rig with all lists; None where there is no rig file."""
        from handsfree.checklist.loader import load_checklist
        from handsfree.cli.rigs import rig_named
        from handsfree.session.state_questions_file import load_state_questions
        from handsfree.standby.next_lists import load_next
        from handsfree.standby.rig_knowledge import Known
        from handsfree.storage.record import rig_folder

        name = self.rig_name()
        if name is None:
            return None
        loaded = rig_named(name, self.data)
        lists, broken = [], {}
        for checklist, path in checklist_files().items():
            try:
                lists.append(load_checklist(path, rig=loaded, library=checklists_folder()))
            except AuthorError as problem:
                broken[checklist] = str(problem)
        questions = load_state_questions(checklists_folder(), *lists)
        return Known(loaded, tuple(lists), rig_folder(self.data, loaded.name),
                     load_next(checklists_folder()), questions.possible(loaded.has),
                     questions.of_rig, broken)

    def phrases(self, known: Known | None) -> Phrases:
        """What may be said of this rig."""
        from handsfree.standby.phrases import Phrases, spoken_names

        if known is None:
            return Phrases(self.words, self.language, self.calls)
        names = {one.id: spoken_names(one.title, one.id, known.following.names.get(one.id, ()))
                 for one in known.lists}
        names |= {name: spoken_names(name, name) for name in known.broken}
        return Phrases(self.words, self.language, self.calls, names, known.clauses,
                       known.lacking)


# --- standing by ---------------------------------------------------------------------------------

class _Unwritten:
    """What is said standing by is not written down; a mistake of the program is shown."""

    def write(self, line: Line, t: float, who: str = "") -> None:
        """See `conversation.Log`."""
        if line.what == "mistake":
            click.echo(getattr(line, "trace", ""), err=True)


@dataclass
class _Deeds:
    """What is written down on the rig's record."""

    known: Callable[[], Known]

    def correct(self, so: Mapping[str, bool]) -> None:
        """See `conversation.Deeds`."""
        from handsfree.storage.corrections import correct

        with self._locked() as (folder, last, record, rig):
            correct(folder, self.known().lists, last, record, rig, so)

    def note(self, audio: str, text: str) -> None:
        """See `conversation.Deeds`."""
        from handsfree.storage.corrections import note

        with self._locked() as (folder, last, record, rig):
            note(folder, last, record, rig, audio, text)

    @contextmanager
    def _locked(self) -> Iterator[tuple[Path, SessionFile | None, Record, str]]:
        """The rig's folder, its newest session, what is on record, its name; nobody else writes."""
        from handsfree.storage.corrections import record_of
        from handsfree.storage.record import latest, lock

        known = self.known()
        with lock(known.folder):
            last = latest(known.folder, known.rig.name)
            yield known.folder, last, record_of(known.lists, known.rig, last), known.rig.name

    def unproved(self, checklist: str) -> bool:
        """See `conversation.Deeds`."""
        from handsfree.storage import verdicts

        known = self.known()
        found = next((one for one in known.lists if one.id == checklist), None)
        line = verdicts.unproved(found, known.rig) if found else ""
        if line:
            click.echo(line, err=True)
        return bool(line)

    def keep_sound(self, samples: Samples) -> str:
        """A note's sound, beside the journal that the note will go to."""
        from handsfree.cli.wiring import sound_keeper
        from handsfree.storage.corrections import NOTE
        from handsfree.storage.journal import private_folder
        from handsfree.storage.record import latest, next_path

        known = self.known()
        last = latest(known.folder, known.rig.name)
        path = last.path if last and not last.ended else next_path(known.folder, NOTE)
        private_folder(path.parent)
        return sound_keeper(path, "note")(samples)


class _Standing:
    """Stands by on a stage until it is asked to end."""

    def __init__(self, settings: _Settings, stage: Stage, *, button_calls: bool) -> None:
        """`button_calls`: a key for "done" calls, when it sleeps."""
        from handsfree.standby.reminder_file import Kept

        self._settings, self._stage, self._button_calls = settings, stage, button_calls
        self._reminders: Kept = Kept(settings.data, stage.clock)
        self._doubted: bool | None = None
        self._learn()

    def _learn(self) -> None:
        """The rig and its lists as they are now."""
        from handsfree.session.manner import Manner
        from handsfree.session.manner_file import remembered
        from handsfree.standby.answering import Answers
        from handsfree.standby.conversation import StandbyConversation

        settings = self._settings
        self._known = known = settings.known()
        for problem in known.broken.values() if known else ():
            click.echo(f"handsfree: {problem}", err=True)
        self._manner: Manner = remembered(settings.data, (), "", now())
        if self._doubted is None:
            self._doubted = self._doubt()
        self._answers: Answers = Answers(
            known, settings.language, settings.words, settings.calls[0], self._times(), now,
            self._failed)
        self._deeds = _Deeds(self._known_rig)
        from handsfree.cli import wiring

        self.attending = StandbyConversation(
            settings.phrases(known), self._answers, self._deeds, settings.language, _Unwritten(),
            clock_doubted=self._doubted, button_calls=self._button_calls, manner=self._manner,
            on_manner=wiring.manner_keeper(settings.data, self._manner, self._stage.sounds))
        self.attending.reminders = self._reminders

    def _known_rig(self) -> Known:
        assert self._known is not None
        return self._known

    def _failed(self) -> set[str]:
        """Which parts do not work, as they are now."""
        from handsfree.doctor import machine
        from handsfree.doctor.finding import Verdict

        data, station = self._settings.data, self._stage.stations[""]
        bad = {found.part for found in (machine.disk(data), machine.record(data))
               if found.verdict is Verdict.BAD}
        bad |= {part for part in ("microphone", "recogniser", "record") if part in station.troubles}
        return bad | {"voice" for part in ("voice", "speaker") if part in station.troubles}

    def _doubt(self) -> bool:
        from handsfree.standby.clock import doubtful

        last = self._known.now().last if self._known else None
        return doubtful(now(), last.last if last else "")

    def _times(self) -> Any:
        from handsfree.cli.standby_times import times

        return times(self._settings.data, self._known)

    # --- the loop --------------------------------------------------------------------------------

    def run(self) -> None:
        """Until it is asked to end."""
        prompts, awake = self._answers.ready(), False
        while True:
            self._attend(prompts, awake)
            self._doubted = self.attending.clock_doubted
            wanted = self.attending.order
            if wanted is None:
                return
            prompts, awake = self._carried_out(wanted), True
            if self._stage.ended():
                return

    def _attend(self, prompts: list[Prompt], awake: bool) -> None:
        from handsfree.cli.walking import FORGIVING
        from handsfree.hearing.listening import Listener
        from handsfree.session.loop import Session
        from handsfree.standby.noise_monitor import Unspoken
        from handsfree.standby.wake_phrase import WakePhraseListener

        attending, stage, station = self.attending, self._stage, self._stage.stations[""]
        prompts = attending.begin_anew(prompts, awake=awake)
        ears = WakePhraseListener(station.recogniser, lambda: attending.asleep)
        ports = stage.ports("", _Unwritten(), self._watch(), Listener(ears))
        Session(attending, replace(
            ports, keep_note=self._deeds.keep_sound,
            surroundings=Unspoken(lambda: attending.asleep)), FORGIVING).run(prompts)

    def _watch(self) -> Watch:
        """Plain lines; of what is heard asleep, nothing but what was typed."""
        from handsfree.cli.walking import watched
        from handsfree.hearing.types import Heard

        watch = watched(self._stage)
        shown, turned, station = watch.heard, self._stage.frame, self._stage.stations[""]
        out, ear = station.out, station.ear
        silent = 0

        def frame(sound: Samples, t: float) -> None:
            nonlocal silent
            turned(sound, t)
            ear.at_ease = self.attending.asleep and not out.playing
            self._stage.light("asleep" if self.attending.asleep else "awake")
            silent = silent + 1 if self.attending.asleep and not out.playing else 0
            if silent == REST:
                out.rest()

        def heard(one: Heard, t: float) -> None:
            if not self.attending.asleep or one.engine == "keyboard":
                shown(one, t)

        watch.heard, watch.frame = heard, frame
        return watch

    def _carried_out(self, wanted: Wanted) -> list[Prompt]:
        """Do what is wanted; what is said when standing by again."""
        try:
            told = self._interview() if wanted.interview else self._walk(wanted)
        except HandsfreeError as problem:
            click.echo(f"handsfree: {problem}", err=True)
            told = [self._answers.say("broken off", why=str(problem), tone="attention")]
        self._learn()
        return told

    def _walk(self, wanted: Wanted) -> list[Prompt]:
        """One list, with the rig's lock and after what has to be asked; as `run` does it."""
        from handsfree.cli import wiring
        from handsfree.cli.first_questions import ask_how_it_stands, rig_to_use
        from handsfree.cli.walking import Wishes, place_aloud, walk
        from handsfree.storage.record import lock

        settings, known = self._settings, self._known_rig()
        if why := known.broken.get(wanted.checklist):
            raise InputError(why)
        name = self._list_file(wanted.checklist)
        made = wiring.plan(name, rig_to_use(name, settings.rig_name(), settings.data,
                                            self._somebody), settings.data)
        if made.language.code != settings.language.code and self._stage.stations[""].recogniser.name != (
                "none"):
            raise InputError(f"'{wanted.checklist}' speaks {made.language.name}; stand by in it with"
                             f" --language {made.language.code}.")
        asked = False
        if wiring.to_settle(made, resume=wanted.resume):
            ask_how_it_stands([made.checklist], made.rig, settings.data, self._ask)
            asked = True
        made = replace(made, language=self._spoken(made.language))
        manner = wiring.manner_for(made, settings.data)
        self._stage.sounds.use(manner.rate)
        place = settings.place or wiring.place_of(made, settings.data, resume=wanted.resume)
        if place is None:
            place = place_aloud(self._stage, wiring.known_places(settings.data), made.language)
        wishes = Wishes(place, reminders=self._reminders,
                        believes_clock=not self._doubted)
        with lock(made.folder):
            walk(made, self._stage, wishes, settings.data, manner, resume=wanted.resume,
                 asked=asked)
        return self._answers.after_list()

    def _list_file(self, checklist: str) -> str:
        """The name or path by which a list is found."""
        found = next((one for one in self._known_rig().lists if one.id == checklist), None)
        return checklist if found is None else str(Path(found.file))

    def _ask(
        self, questions: Sequence[Question], known: frozenset[str], language: Language,
        why: str = "", kept: HalfAnswered | None = None,
    ) -> Given:
        from handsfree.cli.walking import asked_aloud

        return asked_aloud(self._stage, questions, known, self._spoken(language), why, kept)

    def _somebody(self) -> Somebody:
        from handsfree.cli.first_questions import Somebody
        from handsfree.cli.walking import rig_aloud

        return Somebody(self._ask, lambda draft, language: rig_aloud(
            self._stage, draft, self._spoken(language)))

    def _spoken(self, language: Language) -> Language:
        """The language, with nothing that speaks of keys where there are none."""
        from handsfree.cli import wiring

        return wiring.spoken_here(language, button=self._settings.button)

    def _interview(self) -> list[Prompt]:
        """Ask about a trailer that is not known yet, else how the known one stands."""
        from handsfree.cli import wiring
        from handsfree.cli.first_questions import ask_how_it_stands, rig_to_use
        from handsfree.standby.next_lists import load_next

        settings, known = self._settings, self._known is not None
        name = load_next(checklists_folder()).roll
        rig = rig_to_use(name, settings.rig_name(), settings.data, self._somebody)
        made = wiring.plan(name, rig, settings.data)
        why = self._answers.say("how it stands").text if known else ""
        ask_how_it_stands([made.checklist], made.rig, settings.data, self._ask, anew=why)
        self._learn()
        return [self._answers.say("settled"), *self._answers.danger(self._known_rig().now())]


def now() -> datetime:
    """The moment, with its time zone."""
    return datetime.now().astimezone()
