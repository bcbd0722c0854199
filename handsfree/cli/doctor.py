"""`handsfree doctor` and `handsfree try`: is everything there, and what it is like."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import click

from handsfree.cli.engines import engine_option
from handsfree.storage.paths import data_folder

if TYPE_CHECKING:
    from handsfree.doctor.finding import Finding
    from handsfree.hearing.types import Recogniser
    from handsfree.language.model import Language
    from handsfree.session.ports import Microphone

_QUIET, _SPOKEN = 2.0, 6.0
"""Seconds of listening to the surroundings, and at most to the operator."""


@click.command()
@click.option("--language", default="en", show_default=True, help="Language to check.")
@click.option("--mic", default=None, metavar="DEVICE", help="Microphone, by name or number.")
@click.option("--speaker", default=None, metavar="DEVICE", help="Output, by name or number.")
@engine_option
@click.option("--model", type=click.Path(path_type=Path), default=None, metavar="DIR",
              help="Folder of a Vosk model.")
@click.option("--without-sound", is_flag=True, help="Skip what needs a sound card.")
def doctor(
    language: str, mic: str | None, speaker: str | None, engine: str, model: Path | None,
    without_sound: bool,
) -> None:
    """Check that everything works: disk, clock, voice, recognizer, devices, your voice, rig.

    Ends with one line: ready, or the one thing to do next.  Exit status 1 if there is something to
    do first.
    """
    from handsfree.doctor.finding import Verdict, conclusion, ready

    found: list[Finding] = []
    for finding in _look(language, mic, speaker, engine, model, without_sound):
        found.append(finding)
        click.echo(f"{finding.verdict.value:>6}  {finding.part:<12} {finding.says}")
        if finding.verdict is not Verdict.GOOD:
            click.echo(f"{'':>6}  {'':<12} {finding.mend}")
    click.echo(conclusion(found))
    if not ready(found):
        raise SystemExit(1)


def _look(
    language: str, mic: str | None, speaker: str | None, engine: str, model: Path | None,
    without_sound: bool,
) -> Iterator[Finding]:
    """One finding after the other, in the order in which things have to be mended."""
    from datetime import datetime

    from handsfree.doctor import machine, speech
    from handsfree.doctor.finding import Finding, Verdict
    from handsfree.errors import HandsfreeError
    from handsfree.language.loader import load_language
    from handsfree.speaking.operator_voice import OperatorVoice
    from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
    from handsfree.speaking.voice import VoiceOptions

    spoken = load_language(language)
    data = data_folder()
    yield machine.disk(data)
    yield machine.clock(data, datetime.now().astimezone())
    yield machine.record(data)
    with Pyttsx3Voice(VoiceOptions(language=spoken.voice)) as voice:
        finding = speech.voice(voice, spoken)
    yield finding
    try:
        from handsfree.hearing.engines import open_recogniser

        ear = open_recogniser(engine, spoken.code, model, spoken.pronunciations, user_data=data)
    except HandsfreeError as problem:
        yield Finding("recognizer", Verdict.BAD, "it cannot be opened", str(problem))
        yield machine.rigs(data)
        return
    try:
        if finding.verdict is Verdict.GOOD:
            with OperatorVoice(spoken.voice) as operator:
                yield speech.recogniser(ear, operator, spoken)
        if without_sound:
            yield Finding("sound card", Verdict.NOTE, "not looked at", "leave out --without-sound.")
        else:
            yield from _sound(spoken, ear, mic, speaker)
    finally:
        ear.close()
    yield machine.rigs(data)


def _sound(
    language: Language, ear: Recogniser, mic: str | None, speaker: str | None
) -> Iterator[Finding]:
    """What needs a sound card."""
    import numpy as np

    from handsfree.audio import silence
    from handsfree.cli import wiring
    from handsfree.devices.sound_card import SoundCardMicrophone, SoundCardSpeaker, device_names
    from handsfree.doctor.finding import Finding, Verdict
    from handsfree.errors import DeviceError

    phrase = language.commands["repeat"][0]
    try:
        with SoundCardSpeaker(speaker) as out, wiring.sounds(language, data_folder()) as sounds:
            out.play(np.concatenate([sounds.tone("listening"), silence(0.3), sounds.get(phrase)]))
            out.wait()
            yield Finding("speaker", Verdict.GOOD, f"two tones and '{phrase}' were played on"
                          f" {speaker or 'the default output'}"
                          f" ({len(device_names('output'))} found)")
        with SoundCardMicrophone(mic) as microphone:
            yield from listen(microphone, ear, phrase, sorted(
                {wordings[0] for wordings in language.commands.values()}))
    except DeviceError as problem:
        yield Finding("sound card", Verdict.BAD, "none that can be used here",
                      f"{problem} ('handsfree rehearse' needs none.)")


def listen(
    microphone: Microphone, ear: Recogniser, phrase: str, others: list[str]
) -> Iterator[Finding]:
    """The surroundings, then the operator, with a live meter where there is a terminal.

    `others` are phrases that might be heard by mistake: with one alone, any word would do.
    """
    from handsfree.audio import FRAME, SAMPLE_RATE
    from handsfree.doctor.finding import Verdict
    from handsfree.doctor.levels import Levels, speech, surroundings
    from handsfree.hearing.listening import Listener
    from handsfree.hearing.types import Grammar, Hypothesis, normal

    frames_a_second = SAMPLE_RATE // FRAME
    listener = Listener(ear)
    listener.expect(Grammar(frozenset({phrase, *others})))
    quiet, spoken, heard = Levels(), Levels(), ""
    with _Meter() as meter:
        meter.tell("Two seconds of silence, please.")
        for _ in range(round(_QUIET * frames_a_second)):
            frame = microphone.read()
            listener.feed(frame)
            meter.show(quiet.add(frame))
        finding = surroundings(quiet)
        if finding.verdict is not Verdict.BAD:
            meter.tell(f"Now say, from where you will stand:  {phrase}")
            for _ in range(round(_SPOKEN * frames_a_second)):
                frame = microphone.read()
                level = spoken.add(frame)
                meter.show(level)
                said = listener.feed(frame)
                if isinstance(said, Hypothesis):
                    heard = normal(said.text)
                    break
    yield finding
    if finding.verdict is not Verdict.BAD:
        yield speech(quiet, spoken, normal(phrase), heard)


class _Meter:
    """A level that moves, on a terminal; elsewhere only the requests."""

    def __enter__(self) -> Self:
        from rich.console import Console
        from rich.live import Live

        console = Console(highlight=False)
        self._live: Any = None
        if console.is_terminal and not console.is_dumb_terminal:
            self._live = Live("", console=console, auto_refresh=False, transient=True)
            self._live.start()
        self._count = 0
        return self

    def tell(self, words: str) -> None:
        if self._live is None:
            click.echo(words)
        else:
            self._live.console.print(words, markup=False)

    def show(self, level: float) -> None:
        from rich.text import Text

        from handsfree.doctor.levels import bar

        self._count += 1
        if self._live is not None and self._count % 5 == 0:  # ten times a second
            self._live.update(Text(bar(level)), refresh=True)

    def __exit__(self, *error: object) -> None:
        if self._live is not None:
            self._live.stop()


@click.command("try")
@click.option("--rehearse", "played", is_flag=True,
              help="Let a synthesized operator play it, without a sound card.")
@click.option("--fast", is_flag=True, help="With --rehearse: not in real time.")
@click.option("--out", type=click.Path(path_type=Path), default=Path("rehearsal"), metavar="DIR",
              show_default=True, help="With --rehearse: where the recording is written.")
@click.option("--mic", default=None, metavar="DEVICE", help="Microphone, by name or number.")
@click.option("--speaker", default=None, metavar="DEVICE", help="Output, by name or number.")
@engine_option
@click.option("--model", type=click.Path(path_type=Path), default=None, metavar="DIR",
              help="Folder of a Vosk model.")
@click.pass_context
def try_(
    ctx: click.Context, played: bool, fast: bool, out: Path, mic: str | None,
    speaker: str | None, engine: str, model: Path | None,
) -> None:
    """Learn the commands by voice, in two minutes, with nothing at stake.

    It is about a pot of tea, and touches no rig's record.
    """
    from handsfree.cli.run import rehearse, run
    from handsfree.storage.paths import checklists_folder

    lessons = checklists_folder() / "lessons"
    about = {"checklist": str(lessons / "first-try.yaml"), "engine": engine, "model": model,
             "rig": str(lessons / "practice-rig.yaml")}
    if played:
        ctx.invoke(rehearse, **about, script=lessons / "first-try.script.yaml", fast=fast, out=out)
    else:
        ctx.invoke(run, **about, mic=(mic,) if mic else (), speaker=(speaker,) if speaker else ())
