"""`python -m benchmarks stops`: "stop" in the middle of a prompt, and prompts in which nobody says it.

Through the ear that listens while the program speaks (`hearing.while_speaking`), in made-up rooms whose
microphone hears the loudspeaker.  May import everything of the program.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import click
import numpy as np
import numpy.typing as npt

from benchmarks.recordings import read, sounds_in
from benchmarks.results_file import NowAndThen, check_place, write_results
from benchmarks.speakers import speakers
from handsfree.audio import FRAME, SAMPLE_RATE, Samples, seconds, silence, to_int16
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.types import Hypothesis, Recogniser
from handsfree.hearing.while_speaking import WhileSpeaking, words_that_stop
from handsfree.language.loader import load_language
from handsfree.rehearsal.rehearsal import SPEECH_DBFS, at_level, noise_source

WORDS = ("stop", "hold on", "wait")
PAUSE = 0.8
"""Seconds of silence behind each prompt."""


@dataclass(frozen=True)
class Place:
    """Where loudspeaker and microphone are: the echo's delay and reverberation (T60) in seconds, its
    level against the operator's in decibels, and how hard the loudspeaker is driven (tanh)."""

    name: str
    delay: float
    t60: float
    echo_db: float
    drive: float = 0.0


PLACES = (Place("headset", 0.1, 0.1, -30), Place("cabin", 0.06, 0.3, -10),
          Place("box on the wall", 0.22, 0.2, 0), Place("under an awning", 0.3, 0.4, -6),
          Place("loud and cheap", 0.15, 0.3, 6, 1.5))


class Air:
    """The sound of prompts at the microphone of a place.

    The tail is noise that dies away exponentially, 0.6 of the direct sound (common practice).
    """

    def __init__(self, place: Place, seed: int) -> None:
        self.place = place
        tail = np.random.default_rng(seed).normal(size=round(place.t60 * SAMPLE_RATE))
        tail *= 10 ** (-3 * np.arange(len(tail)) / len(tail))
        path = np.concatenate((np.zeros(round(place.delay * SAMPLE_RATE)), [0.8],
                               tail * 0.6 / np.sqrt((tail**2).sum())))
        self._path: npt.NDArray[np.float64] = path
        self._hiss = np.random.default_rng(seed + 1)

    def echo(self, prompt: Samples) -> npt.NDArray[np.float64]:
        """With some hiss; as long as the prompt."""
        wave, drive = prompt / 32768.0, self.place.drive
        wave = np.tanh(drive * wave / np.abs(wave).max()) if drive else wave
        size = 1 << (len(wave) + len(self._path)).bit_length()
        heard = np.fft.irfft(np.fft.rfft(wave, size) * np.fft.rfft(self._path, size), size)
        heard = heard[: len(wave)]
        power = float(np.sqrt((heard**2).mean())) or 1.0
        heard *= 32768 * 10 ** ((SPEECH_DBFS + self.place.echo_db) / 20) / power
        hissed: npt.NDArray[np.float64] = heard + self._hiss.normal(0.0, 8.0, len(heard))
        return hissed


class Ear:
    """The program's, fed with whole sounds instead of devices."""

    def __init__(self, recogniser: Recogniser) -> None:
        self._reference = silence(FRAME / SAMPLE_RATE)
        grammar = words_that_stop(load_language("en").commands["pause"])
        self.under = WhileSpeaking(recogniser, grammar, lambda: self._reference)

    def heard(self, near: Samples, played: Samples) -> Iterator[tuple[float, Hypothesis]]:
        """What it takes for a word, with the second at which it does."""
        self.under.begin()
        for at in range(0, len(near) - FRAME + 1, FRAME):
            self._reference = played[at : at + FRAME]
            word = self.under.listen(near[at : at + FRAME])
            if word is not None:
                yield (at + FRAME) / SAMPLE_RATE, word


def prompts(rng: random.Random) -> Iterator[Samples]:
    """What the shipped lists say, in the program's voice, in any order, for ever."""
    from handsfree.checklist.loader import load_checklist
    from handsfree.cli.wiring import sounds
    from handsfree.paper.aloud import everything_spoken
    from handsfree.storage.paths import (
        checklist_names,
        checklists_folder,
        data_folder,
        find_checklist,
    )

    language = load_language("en")
    texts = sorted({spoken.text for name in checklist_names() for spoken in everything_spoken(
        load_checklist(find_checklist(name), library=checklists_folder()), language)})
    with sounds(language, data_folder()) as voice:
        while True:
            rng.shuffle(texts)
            for text in texts:
                yield voice.get(text)


@dataclass
class Silent:
    """Prompts at one place while nobody speaks."""

    place: Place
    hours: float = 0.0
    false: list[tuple[str, float]] = field(default_factory=list)


def silent(
    recogniser: Recogniser, place: Place, hours: float, spoken: Iterator[Samples], seed: int,
    told: Callable[[float], None] = lambda hours: None,
) -> Silent:
    """False stops in so many hours of prompts."""
    found, air, ear = Silent(place), Air(place, seed), Ear(recogniser)
    while found.hours < hours:
        played = np.concatenate((next(spoken), silence(PAUSE)))
        found.false += [(word.text, round(word.confidence, 3))
                        for _, word in ear.heard(to_int16(air.echo(played)), played)]
        found.hours += seconds(played) / 3600
        told(found.hours)
    return found


@dataclass
class Stopping:
    """Words said into prompts at one place."""

    place: Place
    said: int = 0
    missed: Counter[str] = field(default_factory=Counter)
    after: list[float] = field(default_factory=list)
    """Seconds from the end of a word to its being taken."""


def stopping(
    recogniser: Recogniser, place: Place, said: Sequence[tuple[str, Samples]],
    spoken: Iterator[Samples], rng: random.Random, noise: str = "", snr: float = 10.0,
) -> Stopping:
    """Each into a prompt of its own, some time after the first second; two prompts go before."""
    found, air, ear = Stopping(place), Air(place, rng.randrange(1000)), Ear(recogniser)
    around = noise_source(noise, snr, 1) if noise else silent_noise
    long = (one for one in spoken if seconds(one) > 3.5)
    for who, word in [("", silence(0.1))] * 2 + [(who, at_level(word)) for who, word in said]:
        played = np.concatenate((next(long), silence(PAUSE)))
        at = round(rng.uniform(1.0, seconds(played) - PAUSE - 1.0) * SAMPLE_RATE)
        near = air.echo(played) + around(len(played))
        word = word[: len(near) - at]
        near[at : at + len(word)] += word
        hits = list(ear.heard(to_int16(near), played))
        if not who:
            continue
        found.said += 1
        if hits:
            found.after.append(hits[0][0] - (at + len(word)) / SAMPLE_RATE)
        else:
            found.missed[who] += 1
    return found


def silent_noise(count: int) -> Samples:
    """None."""
    return np.zeros(count, dtype=np.int16)


@click.command()
@click.option("--hours", type=click.FloatRange(min=0.001), default=1.0, show_default=True,
              help="Of prompts at each place, while nobody speaks.")
@click.option("--place", "named", multiple=True, type=click.Choice([one.name for one in PLACES]),
              help="Just this; may be repeated.")
@click.option("--noise", default="", metavar="KIND", help="Around the operator, 10 dB below.")
@click.option("--said", type=click.Path(path_type=Path), metavar="DIR",
              help="Recordings of people who say such a word, besides; only stop_*.")
@click.option("--seed", type=int, default=1, show_default=True, help="Other prompts and moments.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here.")
def stops(
    hours: float, named: tuple[str, ...], noise: str, said: Path | None, seed: int,
    out: Path | None,
) -> None:
    """False stops by the hour of prompts, and "stop", "hold on", "wait" said into prompts."""
    check_place(out)
    rng = random.Random(seed)
    words = [(f"{who}: {word}", say(word, rng)) for who, say in speakers().items()
             for word in WORDS]
    words += [(path.stem, read(path)) for path in (sounds_in(said) if said else ())
              if path.stem.startswith("stop_")]
    recogniser = open_recogniser("own", "en", None, load_language("en").pronunciations)
    spoken, progress, rows = prompts(rng), NowAndThen(), list[dict[str, Any]]()
    for place in (one for one in PLACES if not named or one.name in named):
        quiet = silent(recogniser, place, hours, spoken, seed,
                       lambda done, place=place: progress.tell(  # type: ignore[misc]
                           f"{place.name}: {60 * done:.0f} of {60 * hours:.0f} minutes"))
        hits = stopping(recogniser, place, words, spoken, rng, noise)
        after = float(np.median(hits.after)) if hits.after else 0.0
        click.echo(f"{place.name:16}{len(quiet.false)} false in {quiet.hours:.2f} h;"
                   f" {hits.said - sum(hits.missed.values())} of {hits.said} heard,"
                   f" {after:.2f} s after their end")
        for who, word in [*((str(one), "false") for one in quiet.false),
                          *((who, "missed") for who in hits.missed)]:
            click.echo(f"          {word}: {who}")
        rows.append({"place": place.name, "hours": round(quiet.hours, 3), "false": quiet.false,
                     "said": hits.said, "missed": hits.missed, "after": after})
    recogniser.close()
    write_results(out, {"places": rows})
