"""`python -m benchmarks quiet`: hours in which nothing is said to the program, and what it takes.

Foreign speech, and each noise at changing levels, through the listener as in a session
(endpointing, recogniser, understanding), at an ordinary step and at a hold point.
May import everything of the program.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import click
import numpy as np

from benchmarks.baseline_engines import ENGINES, OWN, open_engine
from benchmarks.foreign import foreign_speech, spoken_languages
from benchmarks.jobs import Share, in_processes
from benchmarks.recordings import read, sounds_in
from benchmarks.results_file import NowAndThen, check_place, write_results
from benchmarks.spoken_phrases import Moment, shipped_moments
from handsfree.audio import SAMPLE_RATE, Samples, level_dbfs, seconds, silence, to_int16
from handsfree.errors import InputError
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Heard, Hypothesis, Recogniser
from handsfree.language.loader import load_language
from handsfree.session.understanding import Bands
from handsfree.sound.noise import NoiseStream

NOISES = ("wind", "rain", "engine", "pink")
MOMENTS = ("step", "hold")
SPEECH_DBFS = -26.0

_PIECE = 30
"""Seconds of noise at one level, and of one moment where both share the hour."""

_LEVELS = (-50.0, -20.0)
"""From hardly there to as loud as the speech that the program is made for and more, dBFS."""


@dataclass
class Quiet:
    """What came of one kind of sound at one moment."""

    sound: str
    moment: str
    hours: float = 0.0
    utterances: int = 0
    asked: int = 0
    taken: list[tuple[str, float, str]] = field(default_factory=list)
    """(text, confidence, language or level) of what was acted upon."""

    def add(self, other: Quiet) -> None:
        """Count what another counted as well."""
        self.hours += other.hours
        self.utterances += other.utterances
        self.asked += other.asked
        self.taken += other.taken

    @property
    def an_hour(self) -> float:
        """Acted upon in an hour."""
        return len(self.taken) / self.hours if self.hours else 0.0


Piece = tuple[str, Samples]


def quiet_hours(
    engines: dict[str, Recogniser], moments: dict[str, Moment], sound: str, pieces: Iterable[Piece],
    turns: bool = False, told: Callable[[float], None] = lambda heard: None,
) -> list[Quiet]:
    """Hear the pieces at each moment (or with `turns` at the next one every 30 s), each with an
    engine of its own, which an utterance may occupy from one piece to the next."""
    found = {name: Quiet(sound, name) for name in moments}
    listeners = {name: Listener(engines[name]) for name in moments}
    if turns:  # one ear, which is told of another moment
        listeners = dict.fromkeys(moments, next(iter(listeners.values())))
    now, names = 0.0, list(moments)
    for about, samples in pieces:
        here = [names[int(now / _PIECE) % len(names)]] if turns else names
        for name in here:
            ear, quiet, moment = listeners[name], found[name], moments[name]
            ear.expect(moment.grammar)
            heard = ear.feed(samples)
            while heard is not None:
                _enter(quiet, moment, heard, about)
                heard = ear.feed(silence(0))
            quiet.hours += seconds(samples) / 3600
        now += seconds(samples)
        told(now)
    return list(found.values())


def _enter(quiet: Quiet, moment: Moment, heard: Heard, about: str) -> None:
    quiet.utterances += 1
    if isinstance(heard, Hypothesis) and moment.means(heard) is not None:
        if heard.confidence >= moment.needs(heard):
            quiet.taken.append((heard.text, round(heard.confidence, 3), about))
        elif heard.confidence >= Bands().unsure:
            quiet.asked += 1


def noise_pieces(pull: Callable[[int], Samples], hours: float, rng: random.Random
                 ) -> Iterator[Piece]:
    """Noise at another level every 30 s, faded from one to the next within a second."""
    gain, left = 0.0, hours * 3600
    while left > 0:
        sound = pull(_PIECE * SAMPLE_RATE).astype(np.float64)
        level = rng.uniform(*_LEVELS)
        wanted = 10 ** ((level - level_dbfs(to_int16(sound))) / 20)
        fade = np.clip(np.arange(len(sound)) / SAMPLE_RATE, 0, 1)
        yield f"{level:.0f} dBFS", to_int16(sound * ((1 - fade) * (gain or wanted) + fade * wanted))
        gain, left = wanted, left - _PIECE


def recorded(path: Path, rng: random.Random) -> Callable[[int], Samples]:
    """A recording without end, each round from another place on.

    Raises:
        InputError: it cannot be read, or is shorter than a second.
    """
    sound = read(path)
    if len(sound) < SAMPLE_RATE:
        raise InputError(f"{path} is shorter than a second; give a longer recording of noise.")

    def pull(count: int) -> Samples:
        return np.take(sound, np.arange(count) + rng.randrange(len(sound)), mode="wrap")

    return pull


@dataclass(frozen=True)
class Source:
    """What one process hears of one kind of sound; `hours` for all processes together.  `file`: a
    folder of speech or a noise, in place of what is made here."""

    name: str
    hours: float
    engine: str
    seed: int
    share: Share
    file: Path | None = None

    def pieces(self) -> Iterator[Piece]:
        """The sound, piece by piece.

        Raises:
            InputError: the file or folder cannot be used.
        """
        hours, seed = self.hours / self.share.of, self.seed + 1000 * self.share.number
        rng = random.Random(f"{seed} {self.name}")
        if self.name == "speech" and self.file is not None:
            files = self.share.pieces(sounds_in(self.file))
            return at_levels(recordings(files, hours), rng)
        if self.name == "speech":
            names = tuple(self.share.pieces(spoken_languages()))
            return at_levels(foreign_speech(hours * 3600, seed, names), rng)
        pull = NoiseStream(self.name, seed).read if self.file is None else recorded(self.file, rng)
        return noise_pieces(pull, hours, rng)


def heard(source: Source) -> list[Quiet]:
    """What comes of it, an hour of speech at both moments, an hour of noise shared by them."""
    language = load_language("en")
    found = shipped_moments(language)
    moments = {name: next(m for m in found if m.kind == name) for name in MOMENTS}
    engines = {name: open_engine(source.engine, language.pronunciations, None, None)
               for name in moments}
    share, progress = source.share, NowAndThen()
    which = f", {share}" if share.of > 1 else ""

    def told(now: float) -> None:
        progress.tell(f"{source.name}{which}: {now / 60:.0f} of"
                      f" {60 * source.hours / share.of:.0f} minutes")

    rows = quiet_hours(
        engines, moments, source.name, source.pieces(), source.name != "speech", told)
    for one in engines.values():
        one.close()
    return rows


def at_levels(pieces: Iterable[Piece], rng: random.Random) -> Iterator[Piece]:
    for about, sound in pieces:
        level = level_dbfs(sound)
        gain = 10 ** ((SPEECH_DBFS + rng.uniform(-10, 3) - level) / 20) if level > -90 else 1.0
        yield about, to_int16(sound.astype(np.float64) * gain)


def recordings(files: Iterable[Path], hours: float) -> Iterator[Piece]:
    heard = 0.0
    for path in files:
        sound = np.concatenate((read(path), silence(0.6)))
        heard += seconds(sound) / 3600
        yield path.name, sound
        if heard >= hours:
            return


@click.command()
@click.option("--hours", type=click.FloatRange(min=0.01), default=1.0, show_default=True,
              help="Of foreign speech, and of each noise.")
@click.option("--speech", type=click.Path(path_type=Path), metavar="DIR",
              help="Recordings of speech that is not meant for the program, instead.")
@click.option("--noise", "noise_file", type=click.Path(path_type=Path), metavar="FILE",
              help="A recorded noise, besides the four that are made here.")
@click.option("--only", multiple=True, type=click.Choice(["speech", *NOISES, "recorded"]),
              help="Just this sound; may be repeated.")
@click.option("--engine", type=click.Choice(list(ENGINES)), default=OWN, show_default=True,
              help="Recogniser.")
@click.option("--jobs", type=click.IntRange(1, 16), default=1, show_default=True,
              help="Processes; each hears its share of each sound.")
@click.option("--seed", type=int, default=1, show_default=True, help="Other voices and levels.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here.")
def quiet(
    hours: float, speech: Path | None, noise_file: Path | None, only: tuple[str, ...], engine: str,
    jobs: int, seed: int, out: Path | None,
) -> None:
    """What is taken for a command in HOURS of foreign speech and of each noise.

    Through endpointing, recogniser and understanding as in a session.  Speech is heard both at an
    ordinary step and at a hold point; in a noise the two take turns.  The speech is synthetic, in
    some forty languages, unless recordings are given.
    """
    check_place(out)
    began = time.monotonic()
    if speech is not None:
        sounds_in(speech)
    if noise_file is not None:
        recorded(noise_file, random.Random())
    files = {"speech": speech, "recorded": noise_file}
    names = [name for name in ("speech", *NOISES, *(["recorded"] if noise_file else []))
             if not only or name in only]
    rows: list[dict[str, Any]] = []
    for name in names:
        sources = [Source(name, hours, engine, seed, Share(job, jobs), files.get(name))
                   for job in range(jobs)]
        total = {moment: Quiet(name, moment) for moment in MOMENTS}
        for _, found in in_processes(jobs, heard, sources):
            for one in found:
                total[one.moment].add(one)
        for row in total.values():
            rows.append(asdict(row) | {"an hour": round(row.an_hour, 2)})
            click.echo(f"{name:10}{row.moment:6}{row.hours:6.2f} h  {row.utterances:5} utterances"
                       f"  {len(row.taken):3} taken ({row.an_hour:.2f} an hour)"
                       f"  {row.asked:3} asked about")
            for text, sure, about in row.taken[:10]:
                click.echo(f"          '{text}' ({sure}), {about}")
    click.echo(f"{(time.monotonic() - began) / 60:.1f} minutes")
    write_results(out, {
        "engine": engine, "languages": spoken_languages() if speech is None else [],
        "rows": rows})
