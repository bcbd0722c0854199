"""`python -m benchmarks gate`: half hours of noise in which a word is said now and then, through the gate.

Each voice in each noise, made or recorded, as one stream without a break, as a microphone hears it:
which words opened the gate, which were cut or dropped as too short, for which it was deaf, and how
often it opened for the noise alone.  May import everything of the program.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import click
import numpy as np

from benchmarks.jobs import in_processes
from benchmarks.recordings import sounds_in, without_end
from benchmarks.results_file import NowAndThen, check_place, write_results
from benchmarks.speakers import speakers
from handsfree.audio import FRAME, SAMPLE_RATE, Samples, to_int16
from handsfree.hearing.endpointing import Endpointer, SpeechDetector, silero
from handsfree.hearing.gate import Gate
from handsfree.sound.mixing import gain_for_snr
from handsfree.sound.noise import NoiseStream

NOISES = ("wind", "rain", "engine", "pink")
WORDS = ("done", "skip", "yes", "no", "why", "area is clear", "chocks set", "say again",
         "zero point five degrees", "one eighteen volts", "joints are dry", "what is left")  # fmt: skip
APART = 9.4
"""Seconds from the start of one word to that of the next."""

PLACE = 4.0
"""Seconds after the start of each such turn at which the word is said."""

DEAF = 10
"""So many words in a row without an opening: the gate is deaf."""

LATE, EARLY = 0.1, 0.25
"""Seconds of a word that may be missing at its start and at its end without its being cut."""

DETECTORS: dict[str, Callable[[], SpeechDetector]] = {"own": Gate, "silero": silero}


@dataclass
class Cell:
    """What came of one voice in one noise.  missed: nothing opened.  dropped: refused as too short
    or too long.  cut: a part of the word was left out.  false: openings for no word."""

    voice: str
    noise: str
    snr: float
    said: int = 0
    missed: int = 0
    dropped: int = 0
    cut: int = 0
    false: int = 0
    hours: float = 0.0
    deaf: bool = False
    _row: int = field(default=0, repr=False)

    def word(self, heard: list[tuple[float, float, bool]], first: float, last: float) -> None:
        """Utterances (start, end of speech, refused) of one turn, and where its word lay."""
        own = [one for one in heard if one[0] < last and one[1] > first - 0.1]
        self.said += 1
        self.false += len(heard) - len(own)
        self._row = 0 if own else self._row + 1
        self.deaf = self.deaf or self._row >= DEAF
        if not own:
            self.missed += 1
        elif all(refused for _, _, refused in own):
            self.dropped += 1
        elif min(s for s, _, _ in own) > first + LATE or max(e for _, e, _ in own) < last - EARLY:
            self.cut += 1


@dataclass(frozen=True)
class Stream:
    """One cell before it is heard; file: a recording in place of a made noise."""

    voice: str
    noise: str
    snr: float
    minutes: float
    detector: str
    seed: int
    file: Path | None = None

    def turns(self) -> Iterator[tuple[Samples, float, float]]:
        """Sound of `APART` seconds, and where the word in it starts and ends, in seconds."""
        say, rng = speakers()[self.voice], random.Random(f"{self.seed} {self.voice} {self.noise}")
        sounds = [bare(say(text, rng)) for text in WORDS]
        pull = without_end(self.file) if self.file else NoiseStream(self.noise, self.seed).read
        # One loudness for the whole stream: the noise's own over its first half minute.
        level = float(np.sqrt(np.mean(pull(30 * SAMPLE_RATE).astype(np.float64) ** 2)))
        count, place = round(APART * SAMPLE_RATE), round(PLACE * SAMPLE_RATE)
        for number in range(int(self.minutes * 60 / APART)):
            word = sounds[number % len(sounds)]
            under = pull(count).astype(np.float64) * (1500 / max(level, 1.0))
            beside = to_int16(under[place : place + len(word)])
            gain = gain_for_snr(word, beside, self.snr)
            under[place : place + len(word)] += word / gain if gain else word
            yield to_int16(under), PLACE, PLACE + len(word) / SAMPLE_RATE


def bare(sound: Samples) -> Samples:
    """Without the silence around it."""
    loud = np.flatnonzero(np.abs(sound.astype(np.int32)) > np.abs(sound).max() / 30)
    return sound[loud[0] : loud[-1] + 1] if len(loud) else sound


def heard(stream: Stream) -> Cell:
    """Put the stream through an endpointer, frame by frame."""
    cell = Cell(stream.voice, stream.noise, stream.snr)
    ear, began, progress = Endpointer(DETECTORS[stream.detector]()), 0.0, NowAndThen()
    late: list[tuple[float, float, bool]] = []
    rest: Samples = np.zeros(0, dtype=np.int16)
    for sound, first, last in stream.turns():
        rest = np.concatenate((rest, sound))
        while len(rest) >= FRAME:
            frame, rest = rest[:FRAME], rest[FRAME:]
            piece = ear.process(frame)
            if piece is not None and not ear.in_speech:
                late.append((ear.speech_start - began, ear.speech_end - began,
                             ear.refusal is not None))
                ear.reset()
        cell.word(late, first, last)
        late = []
        began += len(sound) / SAMPLE_RATE
        cell.hours += len(sound) / SAMPLE_RATE / 3600
        progress.tell(f"{stream.voice} in {stream.noise}: {began / 60:.0f} of"
                      f" {stream.minutes:.0f} minutes")
    return cell


def show(cells: list[Cell], by: str) -> None:
    """A row for each voice or noise."""
    for name in sorted({getattr(cell, by) for cell in cells}):
        _line(name, [cell for cell in cells if getattr(cell, by) == name])


def _line(name: str, some: list[Cell]) -> None:
    said = sum(c.said for c in some)
    shares = [sum(getattr(c, what) for c in some) / said for what in ("missed", "dropped", "cut")]
    hours = sum(c.hours for c in some)
    click.echo(f"{name:24}{said:6} words  missed {shares[0]:.3f}  too short or long {shares[1]:.3f}"
               f"  cut {shares[2]:.3f}  deaf {sum(c.deaf for c in some)} of {len(some)}"
               f"  false openings an hour {sum(c.false for c in some) / hours:.1f}")


@click.command()
@click.option("--minutes", type=click.FloatRange(min=1), default=30, show_default=True,
              help="Of each voice in each noise.")
@click.option("--outdoors", type=click.Path(path_type=Path), metavar="DIR",
              help="Recordings of noise, besides the four that are made here.")
@click.option("--only", multiple=True, metavar="NOISE", help="Just this noise; may be repeated.")
@click.option("--voice", "voices", multiple=True, help="Just this voice; may be repeated.")
@click.option("--snr", type=float, default=5.0, show_default=True, help="Decibels over the noise.")
@click.option("--detector", type=click.Choice(list(DETECTORS)), default="own", show_default=True,
              help="Ours, or the one used before.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True,
              help="Processes.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here.")
def gate(
    minutes: float, outdoors: Path | None, only: tuple[str, ...], voices: tuple[str, ...],
    snr: float, detector: str, jobs: int, out: Path | None,
) -> None:
    """Which words the speech gate misses in half an hour of noise, and whether it goes deaf.

    Voices that trained no network of the recogniser say a word every 9.4 s in each noise, without a
    break.  Nothing is recognised.
    """
    check_place(out)
    noises: dict[str, Path | None] = dict.fromkeys(NOISES)
    if outdoors is not None:
        noises |= {f"recorded {path.stem}": path for path in sounds_in(outdoors)}
    unknown = (set(only) - noises.keys()) | (set(voices) - speakers().keys())
    if unknown:
        raise click.UsageError(f"there is no noise or voice {min(unknown)!r}; there are"
                               f" {', '.join([*noises, *speakers()])}.")
    streams = [Stream(voice, noise, snr, minutes, detector, 1, file)
               for noise, file in noises.items() if not only or noise in only
               for voice in speakers() if not voices or voice in voices]
    cells = [cell for _, cell in in_processes(jobs, heard, streams)]
    show(cells, "noise")
    show(cells, "voice")
    _line("everything", cells)
    rows: list[dict[str, Any]] = [
        {name: value for name, value in asdict(cell).items() if name != "_row"} for cell in cells]
    write_results(out, {"detector": detector, "minutes": minutes, "rows": rows})
