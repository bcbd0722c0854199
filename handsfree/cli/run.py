"""`handsfree run` and `handsfree rehearse`: a session with a sound card, and one without."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handsfree.cli.complete import checklists, places, rigs
from handsfree.cli.engines import engine_option
from handsfree.errors import InputError
from handsfree.storage import verdicts
from handsfree.storage.paths import checklists_folder, data_folder

if TYPE_CHECKING:
    from handsfree.audio import Samples
    from handsfree.checklist.model import Checklist
    from handsfree.cli.first_questions import Somebody
    from handsfree.cli.walking import Wishes
    from handsfree.cli.wiring import Plan
    from handsfree.hearing.types import Recogniser
    from handsfree.language.model import Language
    from handsfree.rehearsal.rehearsal import Rehearsed
    from handsfree.rehearsal.script import Script
    from handsfree.rehearsal.simulated_channel import SimulatedChannel
    from handsfree.session.conversation import Conversation
    from handsfree.session.settling import Unsettled


def _hearing_options(command: Callable[..., Any]) -> Callable[..., Any]:
    command = engine_option(command)
    return click.option("--model", type=click.Path(path_type=Path), default=None, metavar="DIR",
                        help="Folder of a Vosk model.")(command)


def _screen_options(command: Callable[..., Any]) -> Callable[..., Any]:
    command = click.option("--night", is_flag=True, help="Light text on a dark screen.")(command)
    return click.option("--screen/--no-screen", default=None,
                        help="Show the step in large type, or plain lines only.")(command)


def _order_option(command: Callable[..., Any]) -> Callable[..., Any]:
    return click.option(
        "--shortest", is_flag=True,
        help="Use the permitted order with the least walking; see 'handsfree way'.")(command)


def _by_heart_option(command: Callable[..., Any]) -> Callable[..., Any]:
    return click.option(
        "--by-heart/--step-by-step", "by_heart", default=None,
        help="Read back together what your record shows you know, or go step by step.")(command)


@click.command()
@click.argument("checklist", shell_complete=checklists)
@click.option("--rig", default=None, metavar="NAME", shell_complete=rigs,
              help="Rig file: a name or a path.")
@click.option("--place", default="", shell_complete=places,
              help="Where you are, by name, so that it knows the place next time.")
@click.option("--resume", is_flag=True, help="Go on with the unfinished session.")
@click.option("--anew", is_flag=True,
              help="Start from the top, without asking about an unfinished session.")
@click.option("--mic", multiple=True, metavar="DEVICE",
              help="Microphone, by name or number; inside=DEVICE and outside=DEVICE for two people.")
@click.option("--speaker", multiple=True, metavar="DEVICE",
              help="Output, by name or number; inside=DEVICE and outside=DEVICE likewise.")
@click.option("--two", is_flag=True,
              help="Two people on one microphone: say inside or outside first.")
@click.option("--button", multiple=True, metavar="KEY=done|talk",
              help="A key, a foot switch or a headset button that sends one: done, or push to talk.")
@click.option("--operator", multiple=True, metavar="NAME",
              help="Who is working, by a pseudonym, for the review; inside=NAME and outside=NAME for two.")
@click.option("--barge-in", is_flag=True, help="Listen while speaking (needs a headset).")
@click.option("--keep-audio", is_flag=True, help="Keep the sound of what you say with the record.")
@_order_option
@_by_heart_option
@_screen_options
@_hearing_options
def run(
    checklist: str, rig: str | None, place: str, resume: bool, anew: bool, mic: tuple[str, ...],
    speaker: tuple[str, ...], two: bool, button: tuple[str, ...], operator: tuple[str, ...],
    barge_in: bool, keep_audio: bool, shortest: bool, by_heart: bool | None, screen: bool | None,
    night: bool, engine: str, model: Path | None,
) -> None:
    """Walk through CHECKLIST by voice.

    CHECKLIST is a name, such as arrive or depart, or the path of a file of your own.  Without a
    rig file the first run asks what this list needs to know about your trailer and how it is set
    right now, by voice if there is a microphone, otherwise at the terminal.  Later runs ask only
    what is new.

    If you did not finish this list last time, it asks whether to pick up where you stopped;
    --resume and --anew answer that in advance.

    Keys work as well as your voice: space done, s skip, r say again, d detail, w why, x problem,
    b take back, l what is left, p pause, c carry on, m note, t time, f finish, y right, n wrong.
    Escape stops the talking.  A digit or a colon starts typed words, and Enter sends them.  A typed
    sentence such as ":the step is in" corrects the record, once you have said yes to it.

    A foot switch is a key.  Page Down is "done" as well, and --button f9=done or --button f9=talk
    adds another (one character, or f1 to f20, pagedown, pageup, enter, tab, home, end, arrows, ...).
    "Done" counts at ordinary steps, never at a hold point, which wants its own answer spoken.  With
    talk, the microphone is on only while you hold the button, if your terminal reports when a key
    is let go ("CSI u" with event types); in other terminals it is on from the press until you stop
    talking.  Media keys of headsets (media-play-pause, media-next, ...) reach only such terminals,
    and only if the desktop does not take them; some headsets act on a press themselves and send no
    key at all.

    A list with questions about the site, such as arrive, first asks where you are: a place it
    knows, or a new one. At a place it knows, one question covers them all: same as last time?

    --operator says whose times these are.  In a pause, "operator two here" says who takes over.
    It is never guessed from the voice.

    With two people, one inside and one outside, each hears their own steps, and both hear the ones
    that take two.  The keys and the screen are for whoever is outside.

    If something fails on the way (disk, microphone, loudspeaker, voice, recognizer), it says so
    once, keeps trying, and carries on without it: on the screen, by tones, by keys.  SIGTERM
    finishes for now: it says so and closes the journal.  A second one stops at once.

    By heart: three walks of a list in a row without a skip, a correction, a refusal or a step that
    took too long show which parts of it you know.  Say "by heart", and it names such a part, you do
    it, and it reads the answers back together.  It still asks for whatever can kill, every look and
    every number.  After a slip, or 60 days without the list, or when you say "step by step", it
    goes step by step again.  Both are remembered; --by-heart and --step-by-step are
    for this walk only.

    On a terminal of 60 x 20 or more the step is shown in large type.  NO_COLOR turns colors off,
    --no-screen leaves plain lines only.
    """
    from handsfree.checklist.model import SIDES
    from handsfree.cli import wiring
    from handsfree.cli.first_questions import someone_to_ask, where
    from handsfree.cli.place import placed
    from handsfree.cli.stations import named_by_side
    from handsfree.cli.walking import Wishes
    from handsfree.screen.screen import require

    if resume and anew:
        raise InputError("--resume goes on and --anew starts from the top; leave one out.")
    if screen:
        require()
    data = data_folder()
    keys = wiring.buttons(button)
    if keys[1] and not sys.stdin.isatty():
        raise InputError("--button KEY=talk needs a terminal that the key goes to.")
    mics, speakers = named_by_side(mic, "--mic"), named_by_side(speaker, "--speaker")
    sides = SIDES if SIDES[0] in mics else ("",)
    two = two or len(sides) > 1
    who = wiring.pseudonyms(operator, SIDES if two else ("",))
    if SIDES[0] in speakers and len(sides) < 2:
        raise InputError("--speaker with sides needs --mic with sides too.")

    def anybody() -> Somebody | None:
        return someone_to_ask(
            mics.get(sides[0]), speakers.get(sides[0], speakers.get("")), engine, model, data)

    begun = _ready(checklist, rig, data, anybody, mics.get(sides[0]), resume=resume, anew=anew,
                   shortest=shortest)
    here = wiring.place_of(begun.made, data, resume=begun.resume)
    if place or here is None:
        place = placed(place) if place else where(
            wiring.known_places(data), begun.made.language, mics.get(sides[0]),
            speakers.get(sides[0], speakers.get("")), engine, model, data)
    place = place or here or ""
    _walk(begun, Wishes(place, who, two, barge_in, keep_audio, screen, night,
                          by_heart=by_heart), data, sides,
          mics, speakers, keys, engine, model)


@dataclass(frozen=True)
class _Begun:
    """A list that can be walked: whatever had to be asked first was asked."""

    made: Plan
    resume: bool
    asked: bool
    """How the trailer stands was settled just now."""
    declined: bool
    """There is an unfinished session that is perhaps not gone on with."""


def _ready(
    checklist: str, rig: str | None, data: Path, anybody: Callable[[], Somebody | None],
    mic: str | None, *, resume: bool, anew: bool, shortest: bool,
) -> _Begun:
    """Load the list, and ask what has to be asked before it.

    Raises:
        InputError, AuthorError: files cannot be used, or nobody can be asked.
    """
    from handsfree.cli import wiring
    from handsfree.cli.first_questions import ask_how_it_stands, ask_to_go_on, rig_to_use
    from handsfree.devices.sound_card import SoundCardMicrophone

    def somebody() -> Somebody | None:
        return None if resume else anybody()

    made = wiring.plan(checklist, rig_to_use(checklist, rig, data, somebody), data,
                       shortest=shortest)
    if line := verdicts.unproved(made.checklist, made.rig):
        wiring.tell(line)
    stopped = None if resume or anew else wiring.unfinished(made)
    if stopped and (who := anybody()):
        resume = ask_to_go_on(made.checklist.title, stopped[1], made.language, who.ask)
    open_ = wiring.to_settle(made, resume=resume)
    if open_:
        if (who := anybody()) is None:
            SoundCardMicrophone(mic)  # nobody can be asked: say why
            raise InputError("how the trailer is set has to be asked first, and there is neither a"
                             " microphone nor a terminal.")
        for fault in open_.last.faults if open_.last else ():
            wiring.tell(f"{made.folder / 'sessions'}: {fault}.")
        ask_how_it_stands([made.checklist], made.rig, data, who.ask)
    return _Begun(replace(made, language=wiring.spoken_here(made.language)), resume,
                  open_ is not None, stopped is not None)


def _walk(
    begun: _Begun, wishes: Wishes, data: Path, sides: Sequence[str], mics: Mapping[str, str],
    speakers: Mapping[str, str], keys: tuple[frozenset[str], frozenset[str]], engine: str,
    model: Path | None,
) -> None:
    """Open devices, voice and keys, and walk the list to its end.

    Args:
        keys: those for done, and those that are held to talk.
    """
    from contextlib import closing

    from handsfree.checklist.model import SIDES
    from handsfree.cli import wiring
    from handsfree.cli.stations import standing
    from handsfree.cli.walking import Stage, walk
    from handsfree.devices.keyboard import Keyboard
    from handsfree.devices.shutdown import ShutdownRequest
    from handsfree.devices.sound_card import SoundCardMicrophone
    from handsfree.hearing.engines import open_recogniser
    from handsfree.session.failover import FailoverSounds
    from handsfree.session.push_to_talk import PushToTalk
    from handsfree.storage.record import lock

    made, lead, (done, talking) = begun.made, sides[0], keys
    language, manner = made.language, wiring.manner_for(made, data)
    if wishes.by_heart is not None:
        manner = replace(manner, by_heart=wishes.by_heart)

    def opened() -> Recogniser:
        return open_recogniser(engine, language.code, model, language.pronunciations,
                               user_data=data)

    began = time.monotonic()

    def clock() -> float:
        return time.monotonic() - began

    talk = PushToTalk(clock) if talking else None
    with (ShutdownRequest() as ended, lock(made.folder),
          standing(sides, mics, speakers, opened, clock) as stations):
        if not stations[lead].ear.there and not mics.get(lead) and not sys.stdin.isatty():
            SoundCardMicrophone(None)  # neither ear nor keys, and none is waited for: say why
        with (wiring.sounds(language, data, manner.rate) as sounds,
              closing(FailoverSounds(sounds, stations[lead].troubles)) as steady,
              Keyboard(wiring.key_words(language, done), talk, talking) as keyboard):
            stage = Stage(stations, sounds, steady, clock, keyboard.poll, lambda: ended.asked,
                          typing=lambda: keyboard.typing, talk=talk,
                          one_loudspeaker=SIDES[0] not in speakers)
            try:
                walk(made, stage, wishes, data, manner, resume=begun.resume, asked=begun.asked,
                     declined=begun.declined)
            except KeyboardInterrupt:
                wiring.tell("Stopped; --resume goes on from here.")


@click.command()
@click.argument("checklist", required=False, shell_complete=checklists)
@click.option("--script", type=click.Path(path_type=Path), default=None, metavar="FILE",
              help="What the operator says; without it and CHECKLIST, the demo.")
@click.option("--fast", is_flag=True, help="As fast as the machine goes, not in real time.")
@click.option("--noise", default=None, metavar="KIND|FILE",
              help="wind, engine, rain, pink, white, none, or a sound file.")
@click.option("--snr", type=click.FloatRange(-20, 60), default=None, metavar="DB",
              help="Speech over noise in decibels.")
@click.option("--rig", default=None, metavar="NAME", shell_complete=rigs,
              help="Rig file: a name or a path.")
@click.option("--out", type=click.Path(path_type=Path), default=Path("rehearsal"),
              show_default=True, metavar="DIR", help="Where the recording is written.")
@click.option("--record", type=click.Path(path_type=Path), default=None, metavar="DIR",
              help="Keep the rig's record here, so that one rehearsal follows on from another.")
@click.option("--resume", is_flag=True, help="Go on with the unfinished session on the record.")
@click.option("--two", is_flag=True, help="Two operators, inside and outside, a microphone each.")
@_order_option
@click.option("--by-heart", is_flag=True,
              help="As if the record showed that everything that may be done by heart is known.")
@_screen_options
@_hearing_options
def rehearse(
    checklist: str | None, script: Path | None, fast: bool, noise: str | None,
    snr: float | None, rig: str | None, out: Path, record: Path | None, resume: bool, two: bool,
    shortest: bool, by_heart: bool, screen: bool | None, night: bool, engine: str, model: Path | None,
) -> None:
    """Play CHECKLIST with a synthesized operator: real voices, real recognizer, no sound card.

    Prints the conversation and writes DIR/conversation.wav (operator left, program right),
    transcript.txt, journal.jsonl and times.csv; for two, a folder each; for the checklists of a
    stay too, and for the questions of a script in which nothing is known of the trailer yet.  FILE
    is a path, or the name of a script that comes with the program, such as stay-small-single.
    Without arguments it plays the demo: a field technician arrives at a reserve in light wind.
    Exit status 1 if the two do not reach the end.
    """
    from dataclasses import replace

    from handsfree.cli import wiring
    from handsfree.language.matcher import Matcher
    from handsfree.rehearsal.script import Script, check_script, load_script
    from handsfree.screen.screen import require

    if screen:
        require()
    if screen and two:
        raise InputError("--screen shows one operator; leave it out, or --two.")
    if script is None and checklist is None:
        script = Path("demo-arrival")
    plot = load_script(_script_file(script)) if script else Script()
    plot = replace(plot, noise=noise or plot.noise, snr=plot.snr if snr is None else snr,
                   by_heart=by_heart or plot.by_heart)
    data = record or out / "record"
    if record is None and not resume:
        wiring.forget_record(data)
    names = (checklist,) if checklist else plot.stay or (plot.checklist,)
    plans, before = ([wiring.plan(name, rig or plot.rig or "survey-trailer", data,
                                  shortest=shortest or plot.shortest) for name in some]
                     for some in (names, () if checklist or resume else plot.after))
    open_ = wiring.to_settle(plans[0], resume=resume) if plot.newcomer else None
    asked = wiring.every_question(plans[0]) if plot.newcomer else frozenset()
    for made in plans:
        check_script(plot, made.checklist, Matcher(made.language), made.rig.has,
                     asked.union(*(other.checklist.steps for other in (*plans, *before))))
    for made in before:
        _walked_before(plot, made)
    if open_:
        if two:
            raise InputError("one person is asked how the trailer is set; leave --two out.")
        _play_questions(plot, plans[0], open_, out / "questions", fast=fast, engine=engine,
                        model=model)
    played: list[str] = []
    for made in plans:
        name = made.checklist.id
        played.append(name)
        often = played.count(name)
        folder = f"{name}-{often}" if often > 1 else name
        apart = len(plans) > 1 or open_ is not None
        _play(replace(plot, at=plot.again) if often > 1 else plot, made,
              out / folder if apart else out, data, resume=resume,
              two=two, fast=fast, screen=bool(screen), night=night, engine=engine, model=model)


def _script_file(script: Path) -> Path:
    """The file, or the one of that name among the program's own."""
    own = checklists_folder() / "scripts" / f"{script}.yaml"
    if not script.is_file() and not own.is_file():
        raise InputError(f"there is no script file {script}; check the path.")
    return script if script.is_file() else own


def _walked_before(plot: Script, made: Plan) -> None:
    """A checklist walked to its end on the record, in text, so that another can follow it.

    Raises:
        InputError: the script does not bring it to its end.
    """
    from handsfree.session.opening import start_new
    from handsfree.storage.record import lock
    from handsfree.testing import talk

    with lock(made.folder):
        started = start_new(made.checklist, made.rig, made.folder,
                            {"place": plot.place, "engine": "text", "rehearsal": True})
        told = talk(made.checklist, made.language, plot, started=started)
        started.log.close()
    if not told.conversation.over:
        raise InputError(f"the script does not bring '{made.checklist.id}', which comes before it,"
                         f" to its end; it stops at '{told.conversation.state.at}'.")


def _play_questions(
    plot: Script, made: Plan, asked: Unsettled, out: Path, *, fast: bool, engine: str,
    model: Path | None,
) -> None:
    """What is asked of a newcomer, to its end; then it is on record.

    Raises:
        SystemExit: status 1, when the two do not come to an end.
    """
    from functools import partial

    from handsfree.rehearsal import rehearsal
    from handsfree.session.interview import Interviewing, interview
    from handsfree.session.settling import settle
    from handsfree.session.state_questions_file import load_state_questions
    from handsfree.session.wording import of_its_rig
    from handsfree.storage.record import lock, session_paths

    with lock(made.folder):
        done, air = _asked(
            plot, interview(asked.questions, (), of_its_rig(made.language, made.checklist), asked.why),
            made.language,
            partial(Interviewing, asked.questions), fast, engine, model)
        settle(load_state_questions(checklists_folder()), asked, done.conversation.state.facts, made.folder)
        rehearsal.write_folder(out, done, air, session_paths(made.folder)[-1])
    click.echo("")


def _play_where(
    plot: Script, made: Plan, record: Path, out: Path, *, fast: bool, engine: str,
    model: Path | None,
) -> str:
    """Where it plays, as it was heard.

    Raises:
        SystemExit: status 1, when the two do not come to an end.
    """
    from dataclasses import replace
    from functools import partial

    from handsfree.rehearsal import rehearsal
    from handsfree.session.which_place import AGAIN, NEW, WHICH, WhichPlace, which_place
    from handsfree.storage import places as remembered

    names = remembered.load_names(record)
    known = remembered.known(names, remembered.visits(record, names, rehearsals=True))
    there = remembered.called(plot.place, known)
    said = there or made.language.templates["where.say new"]
    asked = replace(plot, answers={AGAIN: bool(there), NEW: True}, at={WHICH: (said,)}, readings={})
    done, air = _asked(asked, which_place(known, made.language), made.language,
                       partial(WhichPlace, known), fast, engine, model)
    rehearsal.write_folder(out, done, air, None)
    click.echo("")
    assert isinstance(done.conversation, WhichPlace)
    return done.conversation.place


def _asked(
    plot: Script, checklist: Checklist, language: Language, talking: Callable[..., Conversation],
    fast: bool, engine: str, model: Path | None,
) -> tuple[Rehearsed, SimulatedChannel]:
    """Questions that are asked before a checklist, to their end; nothing is written down.

    Raises:
        SystemExit: status 1, when the two do not come to an end.
    """
    from contextlib import closing

    from handsfree.cli import wiring
    from handsfree.cli.walking import Lines
    from handsfree.hearing.engines import open_recogniser
    from handsfree.hearing.listening import Listener
    from handsfree.rehearsal import rehearsal
    from handsfree.speaking.operator_voice import OperatorVoice

    noise = None if plot.noise in ("", "none") else rehearsal.noise_source(plot.noise, plot.snr)
    with (closing(open_recogniser(engine, language.code, model, language.pronunciations,
                                  user_data=data_folder())) as recogniser,
          wiring.sounds(language, data_folder()) as sounds,
          OperatorVoice(language.voice, plot.variant, plot.pace) as speaker):
        done, air = rehearsal.rehearse(
            plot, checklist, language, listener=Listener(recogniser), sounds=sounds,
            operator_voice=speaker, log=Lines(),
            begin=lambda conversation, t: conversation.begin(frozenset(), t), say=sounds.speakable,
            noise=noise, real_time=not fast, show=lambda turn: click.echo(str(turn)), talking=talking)
        _ended([done], recogniser.name)
    return done, air


def _ended(played: Iterable[Rehearsed], engine: str) -> None:
    """Raises SystemExit with status 1 when somebody gave up."""
    for done in played:
        if not done.baffled and done.conversation.over:
            continue
        said = next((turn.text for turn in reversed(done.turns)
                     if turn.who.endswith("operator")), "")
        click.echo(f"handsfree: the rehearsal did not come to an end: '{said}' was not"
                   f" understood by {engine}; try less noise or another --engine.", err=True)
        raise SystemExit(1)


def _play(
    plot: Script, made: Plan, out: Path, record: Path, *, resume: bool, two: bool, fast: bool,
    screen: bool, night: bool, engine: str, model: Path | None,
) -> None:
    """One checklist of a rehearsal, to its end.

    Raises:
        SystemExit: status 1, when the two do not come to an end.
    """
    from contextlib import ExitStack, closing
    from functools import partial

    from handsfree.checklist.model import SIDES
    from handsfree.cli import wiring
    from handsfree.hearing.engines import open_recogniser
    from handsfree.hearing.listening import Listener
    from handsfree.rehearsal import rehearsal
    from handsfree.screen.screen import shown
    from handsfree.session.by_heart import Practised
    from handsfree.session.manner import PRACTISED, Manner
    from handsfree.session.ports import Watch
    from handsfree.speaking.operator_voice import OperatorVoice
    from handsfree.storage.mastery import Known
    from handsfree.storage.record import lock

    sides = SIDES if two else ("",)
    language, place = made.language, plot.place
    if plot.asked_where and wiring.place_of(made, record) is None:
        place = _play_where(plot, made, record, out / "where", fast=fast, engine=engine, model=model)
    remembered = wiring.memory_of(made, record, place, rehearsal=True)
    last_time = wiring.last_time(made, remembered)
    manner = PRACTISED if plot.by_heart else Manner()
    if plot.by_heart and two:
        raise InputError("what is done by heart is reported by one person; leave --two out.")

    def source(seed: int) -> Callable[[int], Samples] | None:
        if plot.noise in ("", "none"):
            return None
        return rehearsal.noise_source(plot.noise, plot.snr, seed)

    def show(turn: rehearsal.Turn) -> None:
        if not screen:
            click.echo(str(turn))

    with lock(made.folder), ExitStack() as stack:
        listeners = [
            Listener(stack.enter_context(closing(open_recogniser(
                engine, language.code, model, language.pronunciations, user_data=data_folder()))))
            for _ in sides]
        name = listeners[0].recogniser.name
        log, begin, _ = wiring.open_journal(
            made, resume=resume, place=place, engine=name, rehearsal=True,
            operators=len(sides))
        noises = [source(seed) for seed in range(1, len(sides) + 1)]
        if line := verdicts.unproved(made.checklist, made.rig):
            wiring.tell(line)
        click.echo(f"{plot.title}\n")
        with (wiring.sounds(language, data_folder()) as sounds,
              OperatorVoice(language.voice, plot.variant, plot.pace) as speaker,
              OperatorVoice(language.voice, "f2" if plot.variant != "f2" else "m3",
                            plot.pace) as second,
              shown(screen, night, made.checklist, made.rig, language, Watch()) as watch):
            sounds.use(manner.rate)
            if two:
                played = rehearsal.rehearse_together(
                    {side: rehearsal.Stage(plot, listener, voice, noise)
                     for side, listener, voice, noise in zip(
                         sides, listeners, (speaker, second), noises, strict=True)},
                    made.checklist, language, sounds=sounds, log=log, begin=begin,
                    say=sounds.speakable, real_time=not fast, show=show)
            else:
                played = {"": rehearsal.rehearse(
                    plot, made.checklist, language, listener=listeners[0],
                    sounds=sounds, operator_voice=speaker, log=log,
                    begin=begin, say=sounds.speakable, noise=noises[0], real_time=not fast,
                    watch=watch, on_manner=lambda manner: sounds.use(manner.rate), show=show,
                    talking=partial(
                        Practised, remembered, manner=manner, last_time=last_time, on_the_way=wiring.on_the_way(made),
                        known=Known(frozenset(made.checklist.steps)) if plot.by_heart else None))}
        log.close()
        files = [file for side, (done, air) in played.items()
                 for file in rehearsal.write_folder(out / side, done, air, log.path)]
    longest = max(done.duration for done, _ in played.values())
    click.echo(f"\n{longest / 60:.1f} minutes of audio, heard by the recognizer {name}.  Written:")
    for file in files:
        click.echo(f"  {file}")
    _ended((done for done, _ in played.values()), name)
