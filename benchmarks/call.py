"""`python -m benchmarks call`: the call phrase while nobody calls, and when somebody does.

Through the gate and the ear that stand-by sleeps with (`standby.calling`).  May import everything of
the program.
"""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import click
import numpy as np

from benchmarks.foreign import foreign_speech
from benchmarks.quiet import NOISES, Piece, at_levels, noise_pieces, recorded, recordings
from benchmarks.recordings import read, sounds_in
from benchmarks.results_file import NowAndThen, check_place, write_results
from benchmarks.speakers import ESPEAK_VARIANTS, speakers
from handsfree.audio import SAMPLE_RATE, Samples, seconds, silence, to_int16
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Recogniser
from handsfree.language.loader import load_language
from handsfree.rehearsal.rehearsal import at_level, noise_source
from handsfree.sound.noise import NoiseStream
from handsfree.standby.phrases import good_call, load_words
from handsfree.standby.wake_phrase import SURE, WakePhraseListener

LEAD = 5.0
"""Seconds of the noise before the first call: it does not begin with somebody's call."""

SOUNDS = ("trailer talk", "foreign", *NOISES)
"""Made here: our own English texts, all about trailers; other languages; noises."""


@dataclass
class Asleep:
    """What came of one kind of sound in which nobody calls."""

    sound: str
    hours: float = 0.0
    utterances: int = 0
    """That the gate let through; then those with a call's length, and with its sound."""
    glanced: int = 0
    recognised: int = 0
    processor: float = 0.0
    """Seconds of processor time of hearing it."""
    calls: list[tuple[float, str]] = field(default_factory=list)
    """(confidence, language, file or level) of what was taken for a call."""

    @property
    def a_day(self) -> float:
        """False calls in 24 hours of it."""
        return 24 * len(self.calls) / self.hours if self.hours else 0.0

    @property
    def at_most(self) -> float:
        """The upper 95 % limit of that, as calls come by chance (Poisson): 3.0 for none, 4.7 for
        one, 6.3 for two (chi-squared quantiles, worked out by scipy)."""
        from scipy.stats import chi2

        count = len(self.calls)
        return 24 * float(chi2.ppf(0.95, 2 * count + 2)) / 2 / self.hours if self.hours else 0.0

    @property
    def share(self) -> float:
        """Of one core."""
        return self.processor / (3600 * self.hours) if self.hours else 0.0

    def row(self) -> dict[str, Any]:
        """For the results file."""
        return {"sound": self.sound, "hours": round(self.hours, 3),
                "utterances": self.utterances, "of its length": self.glanced,
                "of its sound": self.recognised, "false calls": self.calls,
                "in 24 hours": round(self.a_day, 2), "at most": round(self.at_most, 1),
                "share of a core": round(self.share, 4)}


def sleeping(recogniser: Recogniser, call: str) -> tuple[WakePhraseListener, Listener]:
    """An ear that waits for this phrase."""
    ear = WakePhraseListener(recogniser, lambda: True)
    listener = Listener(ear)
    listener.expect(Grammar(frozenset([call])))
    return ear, listener


def asleep(
    recogniser: Recogniser, call: str, sound: str, pieces: Iterable[Piece],
    told: Callable[[float], None] = lambda hours: None,
) -> Asleep:
    """Sleep through the pieces."""
    found = Asleep(sound)
    ear, listener = sleeping(recogniser, call)
    for about, samples in pieces:
        began = time.process_time()
        heard = listener.feed(samples)
        while heard is not None:
            if _called(heard, call):
                found.calls.append((round(heard.confidence, 3), about))
            heard = listener.feed(silence(0))
        found.processor += time.process_time() - began
        found.hours += seconds(samples) / 3600
        told(found.hours)
    found.utterances, found.glanced, found.recognised = ear.heard, ear.glanced, ear.recognised
    return found


def _called(heard: Heard, call: str) -> bool:
    return isinstance(heard, Hypothesis) and heard.text == call and heard.confidence >= SURE


def trailer_talk(hours: float, seed: int) -> Iterator[Piece]:
    """English sentences of the checklists and of the program, in voices that trained no network."""
    from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
    from handsfree.speaking.voice import VoiceOptions

    rng = random.Random(f"{seed} talk")
    sentences = _own_sentences()
    said, turn = 0.0, 0
    while said < hours * 3600:
        variant = ESPEAK_VARIANTS[turn % len(ESPEAK_VARIANTS)]
        turn += 1
        with Pyttsx3Voice(VoiceOptions("en-us", variant, rng.choice((140, 165, 190)))) as voice:
            for text in rng.sample(sentences, 20):
                sound = np.concatenate((voice.render(text), silence(rng.uniform(0.3, 0.9))))
                said += seconds(sound)
                yield f"{variant}: {text[:60]}", sound


def _own_sentences() -> list[str]:
    from handsfree.checklist.loader import load_checklist
    from handsfree.storage.paths import checklist_names, checklists_folder, find_checklist

    found: set[str] = set()
    for name in checklist_names():
        checklist = load_checklist(find_checklist(name), library=checklists_folder())
        for step in checklist.steps.values():
            found |= {step.do, step.detail, step.caution}
        found |= {part for fact in checklist.facts.values() for part in (fact.says, fact.otherwise)}
    return sorted(text for text in found if text)


def pieces_of(sound: str, hours: float, seed: int, speech: Path | None, noise: Path | None
              ) -> Iterator[Piece]:
    """One kind of sound in which nobody calls.

    Raises:
        InputError: a file or folder cannot be used.
    """
    rng = random.Random(f"{seed} {sound}")
    if sound == "trailer talk":
        return at_levels(trailer_talk(hours, seed), rng)
    if sound == "foreign":
        return at_levels(foreign_speech(hours * 3600, seed), rng)
    if sound == "recorded speech":
        assert speech is not None
        return at_levels(recordings(sounds_in(speech), hours), rng)
    pull = recorded(noise, rng) if noise is not None and sound == "recorded noise" else (
        NoiseStream(sound, seed).read)
    return noise_pieces(pull, hours, rng)


@dataclass
class Calls:
    """How often a call was heard."""

    made: int = 0
    missed: Counter[str] = field(default_factory=Counter)
    """By voice and noise."""

    @property
    def share(self) -> float:
        """Of those made."""
        return sum(self.missed.values()) / self.made if self.made else 0.0


def calling(
    recogniser: Recogniser, call: str, said: Iterable[tuple[str, Samples]], kinds: Iterable[str],
    snr: float, rng: random.Random,
) -> Calls:
    """Call in each noise ('' for quiet), which goes on between the calls, at a signal-to-noise
    ratio in decibels."""
    found = Calls()
    spoken = [(who, at_level(speech)) for who, speech in said]
    for kind in kinds:
        noise = noise_source(kind, snr, rng.randrange(10_000)) if kind else silence_of
        _, listener = sleeping(recogniser, call)
        listener.feed(noise(round(LEAD * SAMPLE_RATE)))
        for who, speech in spoken:
            sound = np.concatenate((silence(1.5), speech, silence(1.2)))
            found.made += 1
            if not _heard(listener, to_int16(sound.astype(np.float64) + noise(len(sound))), call):
                found.missed[f"{who}, {Path(kind).stem or 'quiet'}"] += 1
    return found


def silence_of(count: int) -> Samples:
    """So many samples of a quiet room."""
    return np.resize(np.array([3, -2, 1, -3, 2, -1], dtype=np.int16), count)


def _heard(listener: Listener, sound: Samples, call: str) -> bool:
    """Whether it was called in this sound; all of it is listened to."""
    heard, came = listener.feed(sound), False
    while heard is not None:
        came = came or _called(heard, call)
        heard = listener.feed(silence(0))
    return came


def _spoken(call: str, times: int, rng: random.Random) -> Iterator[tuple[str, Samples]]:
    for name, say in speakers().items():
        for _ in range(times):
            yield name, say(call, rng)


@click.command()
@click.option("--hours", type=click.FloatRange(min=0.001), default=1.0, show_default=True,
              help="Of each sound in which nobody calls.")
@click.option("--only", multiple=True,
              type=click.Choice([*SOUNDS, "recorded speech", "recorded noise", "calls"]),
              help="Just this; may be repeated.")
@click.option("--speech", type=click.Path(path_type=Path), metavar="DIR",
              help="Recordings of people who do not call, besides.")
@click.option("--noise", type=click.Path(path_type=Path), metavar="FILE",
              help="A recorded noise: to sleep in, and to call in.")
@click.option("--said", type=click.Path(path_type=Path), metavar="DIR",
              help="Recordings of people who say the call phrase, instead of synthetic voices.")
@click.option("--call", default="hello trailer", show_default=True, metavar="PHRASE",
              help="The call phrase.")
@click.option("--any", "anything", is_flag=True, help="Take a phrase that stand-by would refuse.")
@click.option("--times", type=click.IntRange(min=1), default=3, show_default=True,
              help="Calls of each synthetic voice in each noise.")
@click.option("--snr", type=click.FloatRange(-20, 60), default=10.0, show_default=True,
              metavar="DB", help="Calls over noise.")
@click.option("--seed", type=int, default=1, show_default=True, help="Other voices and levels.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here.")
def call(
    hours: float, only: tuple[str, ...], speech: Path | None, noise: Path | None,
    said: Path | None, call: str, anything: bool, times: int, snr: float, seed: int,
    out: Path | None,
) -> None:
    """False calls in HOURS of speech and noise, and calls that are missed at 10 dB.

    The voices trained none of the networks.  The processor time is that of hearing, asleep: gate,
    glance and recogniser; not that of making the sound.
    """
    check_place(out)
    language = load_language("en")
    phrase = call if anything else good_call(call, load_words("en"), language)
    names = [*SOUNDS, *(["recorded speech"] if speech else []),
             *(["recorded noise"] if noise else [])]
    recogniser = open_recogniser("own", "en", None, language.pronunciations)
    rows, progress = [], NowAndThen()
    for name in (name for name in names if not only or name in only):
        found = asleep(recogniser, phrase, name, pieces_of(name, hours, seed, speech, noise),
                       lambda done, name=name: progress.tell(  # type: ignore[misc]
                           f"{name}: {60 * done:.0f} of {60 * hours:.0f} minutes"))
        rows.append(found.row())
        click.echo(f"{name:16}{found.hours:6.2f} h {found.utterances:6} utterances"
                   f" {found.glanced:6} glanced at {found.recognised:5} recognised"
                   f" {len(found.calls):3} false calls: {found.a_day:.1f} in 24 h"
                   f" (95 %: at most {found.at_most:.0f}), {found.share:.1%} of a core")
        for sure, about in found.calls[:10]:
            click.echo(f"          {sure}  {about}")
    results: dict[str, Any] = {"call": phrase, "asleep": rows}
    if not only or "calls" in only:
        kinds = ("", *NOISES, *([str(noise)] if noise else []))
        rng = random.Random(seed)
        voices = ((path.stem, read(path)) for path in sounds_in(said)) if said else (
            _spoken(phrase, times, rng))
        heard = calling(recogniser, phrase, voices, kinds, snr, rng)
        click.echo(f"calls at {snr:.0f} dB: {heard.made}, missed"
                   f" {sum(heard.missed.values())} ({heard.share:.1%})")
        for which, count in heard.missed.most_common(10):
            click.echo(f"          {count}  {which}")
        results["calls"] = {"made": heard.made, "missed": heard.missed, "share": heard.share,
                            "decibels": snr}
    recogniser.close()
    write_results(out, results)
