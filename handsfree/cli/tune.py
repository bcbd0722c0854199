"""`handsfree tune`: thresholds for one's own voice, from a few commands said with one's own noise."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from handsfree.cli.engines import engine_option
from handsfree.errors import InputError
from handsfree.storage.paths import data_folder

if TYPE_CHECKING:
    from handsfree.audio import Samples
    from handsfree.hearing.listening import Listener
    from handsfree.language.model import Language
    from handsfree.session.tuning import Said, Tuned

COMMANDS = ("done", "skip", "repeat", "problem", "pause", "resume", "remaining", "confirm", "deny")
"""Commands that are said; of each the wording that we teach."""

PATIENCE = 8.0
"""Seconds that a command is waited for."""


@click.command()
@click.option("--show", is_flag=True, help="Show what is stored.")
@click.option("--forget", "drop", is_flag=True, help="Delete it.")
@click.option("--times", type=click.IntRange(1, 10), default=3, show_default=True,
              help="How often each command is said.")
@click.option("--mic", default=None, metavar="DEVICE", help="Microphone, by name or number.")
@click.option("--from", "folder", type=click.Path(path_type=Path), default=None, metavar="DIR",
              help="Sound files instead, named by what is said: 'say again-1.wav'.")
@click.option("--language", "code", default="en", show_default=True, help="Language of the commands.")
@engine_option
@click.option("--model", type=click.Path(path_type=Path), default=None, metavar="DIR",
              help="Folder of a Vosk model.")
def tune(
    show: bool, drop: bool, times: int, mic: str | None, folder: Path | None, code: str,
    engine: str, model: Path | None,
) -> None:
    """Fit hearing to your voice: say nine commands, three times each.

    Say them where you work, in the wind you work in, gloves on.  Two things are stored,
    on this machine only: how sure the program has to be before it acts on your "done", and how loud
    you speak, so that it can tell when noise drowns you out.  No sound is kept, and no recognizer
    is trained. Nothing that settles a fact, least of all a hold point, ever gets easier to pass; if
    it takes you for something else, it gets stricter everywhere.

    You never need this.  --show tells you what is stored; --forget, or 'handsfree forget --all',
    deletes it.  Exit status: 1 when a command was not heard at all.
    """
    from handsfree.session import tuning

    data = data_folder()
    if drop and show:
        raise InputError("--show and --forget do not go together; give one of them.")
    if drop:
        click.echo("Forgotten." if tuning.forget(data) else "There was nothing to forget.")
        return
    if show:
        found = tuning.kept(data)
        click.echo(_told(found) if found else "Nothing is stored: the usual thresholds are used.")
        return
    from handsfree.engine.law import Moment
    from handsfree.hearing.engines import open_recogniser
    from handsfree.hearing.listening import Listener
    from handsfree.hearing.types import Grammar, normal
    from handsfree.language.loader import load_language
    from handsfree.session.expecting import YES_NO, commands

    language = load_language(code)
    said_anywhere = (commands(Moment.STEP) | YES_NO | {"resume"}).intersection(
        language.commands) - {"go_to", "take_back_named", "remind"}
    grammar = Grammar(frozenset(phrase for command in said_anywhere
                                for phrase in language.commands[command]))
    phrases = [normal(language.commands[command][0]) for command in COMMANDS]
    files = _files(folder, grammar.phrases, phrases) if folder else []
    with closing(open_recogniser(engine, language.code, model, language.pronunciations,
                                 user_data=data)) as ear:
        listener = Listener(ear)
        listener.expect(grammar, lambda text: float("inf"))
        said = [_in_our_words(one, language) for one in (
            _from_files(files, listener) if folder else
            _from_microphone(mic, phrases, times, listener))]
        found = tuning.tuned(said, ear.name, listener.floor_dbfs, str(date.today()))
    lost = _tell(said)
    if not found.right:
        click.echo("No command was heard, so nothing is stored: try 'handsfree doctor' first.")
        raise SystemExit(1)
    tuning.keep(data, found)
    click.echo(_told(found))
    if lost:
        raise SystemExit(1)


def _files(folder: Path, known: frozenset[str], taught: list[str]) -> list[tuple[str, Path]]:
    """Sound files with the phrases that they are named by."""
    from handsfree.hearing.types import normal

    if not folder.is_dir():
        raise InputError(f"there is no folder {folder}; check the path.")
    found = []
    for path in sorted(folder.iterdir()):
        if path.suffix.lower() in (".wav", ".flac"):
            phrase = normal(re.sub(r"[-_ ]*\d*$", "", path.stem))
            if phrase not in known:
                raise InputError(f"{path} is not named for a command; name it for what is said in it:"
                                 f" {', '.join(taught)}, and a number.")
            found.append((phrase, path))
    if not found:
        raise InputError(f"there is no sound file in {folder}; put in files such as"
                         f" '{taught[0]}-1.wav'.")
    return found


def _from_files(files: list[tuple[str, Path]], listener: Listener) -> Iterator[Said]:
    import numpy as np

    from handsfree.sound.files import read_sound

    for phrase, path in files:
        sound = read_sound(path)
        # What is heard after the end of a recording is its own last sound, not a sudden nothing.
        tail = sound[-4_000:]
        pieces = np.concatenate([sound, tail[::-1], tail, tail[::-1], tail])
        listener.mute()
        listener.unmute()
        yield _heard(phrase, (pieces[at:at + 320] for at in range(0, len(pieces), 320)), listener)


def _from_microphone(
    device: str | None, phrases: list[str], times: int, listener: Listener
) -> Iterator[Said]:
    from handsfree.audio import FRAME, SAMPLE_RATE
    from handsfree.devices.sound_card import SoundCardMicrophone

    with SoundCardMicrophone(device) as microphone:
        click.echo("Say each as it comes up, as you would at work.")
        for _ in range(SAMPLE_RATE // FRAME):
            listener.feed(microphone.read())
        for _ in range(times):
            for phrase in phrases:
                click.echo(f"Say: {phrase}")
                frames = (microphone.read() for _ in range(round(PATIENCE * SAMPLE_RATE / FRAME)))
                yield _heard(phrase, frames, listener)


def _heard(phrase: str, frames: Iterator[Samples], listener: Listener) -> Said:
    """What is heard first, with the level of the voice in it."""
    import numpy as np

    from handsfree.audio import SAMPLE_RATE, silence
    from handsfree.hearing.noise_monitor import speech_level
    from handsfree.session.tuning import Said

    began, pieces = listener.now, [silence(0)]
    heard = None
    for frame in frames:
        pieces.append(frame)
        heard = listener.feed(frame)
        if heard is not None and getattr(heard, "reason", "") != "noise":
            break
    heard = heard or listener.flush()
    if heard is None:
        return Said(phrase, None)
    sound = np.concatenate(pieces)
    first, last = (max(0, round((t - began) * SAMPLE_RATE)) for t in (heard.start, heard.end))
    return Said(phrase, heard, speech_level(sound[first:last], listener.floor_dbfs))


def _in_our_words(one: Said, language: Language) -> Said:
    """Another wording of the same command is no mistake."""
    from handsfree.hearing.types import Hypothesis, normal

    for wordings in language.commands.values():
        same = {normal(wording) for wording in wordings}
        if isinstance(one.heard, Hypothesis) and {one.phrase, one.heard.text} <= same:
            return replace(one, heard=replace(one.heard, text=one.phrase))
    return one


def _tell(said: list[Said]) -> list[str]:
    """What became of each phrase; gives those that were never heard right."""
    from handsfree.session.understanding import Bands

    lost = []
    for phrase in dict.fromkeys(one.phrase for one in said):
        of = [one for one in said if one.phrase == phrase]
        right = [one.right for one in of if one.right >= Bands().unsure]
        line = f"  {phrase}: {len(right)} of {len(of)}"
        if right:
            line += f", surely {sum(sure >= Bands().needed(phrase) for sure in right)}"
        for one in of:
            if one.wrong >= Bands().unsure:
                line += f", taken for '{getattr(one.heard, 'text', '')}'"
        click.echo(line)
        if not right:
            lost.append(phrase)
    return lost


def _told(found: Tuned) -> str:
    from handsfree.session.understanding import Bands

    usual = Bands().certain
    stricter = ("as usual" if found.certain == usual else
                "stricter, since you were mistaken for something else" if found.certain > usual
                else "easier; hold points and what settles a fact as usual")
    return (f"Of {found.said} commands {found.right} were heard right by {found.engine}"
            f" ({found.on}).\nActed on from a confidence of {found.certain:.2f} on, single words"
            f" from {found.bands.needed('done'):.2f} on: {stricter}.\n"
            f"Your voice: {found.voice_dbfs:.0f} dB, the surroundings then:"
            f" {found.floor_dbfs:.0f} dB.\nOn this machine only; 'handsfree tune --forget' deletes"
            " it.")
