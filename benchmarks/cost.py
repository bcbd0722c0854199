"""`python -m benchmarks cost`: what the program takes of a small computer.

Processor time of an utterance beside the plain recogniser's, the longest block, the start, memory,
an hour asleep and an hour in use, and the commands that print.  Needs Linux's /proc.  May import
everything of the program; click.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import click
import numpy as np
import soundfile

from benchmarks.baseline_engines import GATED, OWN, RAW, VOSK, megabytes, open_engine, present
from benchmarks.speakers import Say, framed, speakers
from benchmarks.spoken_phrases import Moment, commands, readings, responses, shipped_moments
from handsfree.audio import FRAME, SAMPLE_RATE, Samples, seconds, silence
from handsfree.errors import HandsfreeError, InputError
from handsfree.hearing.types import Recogniser
from handsfree.language.loader import load_language
from handsfree.sound.mixing import mix_at_snr
from handsfree.sound.noise import noise

SPEAKER = "espeak m3"
CALL = ("hello trailer", "what is out", "is the gas open", "good night")
RIG = ("--rig", "survey-trailer")
PRINTS = (("rig", *RIG), ("print", "{folder}/sheet{turn}.pdf", "arrive", *RIG), ("check", "arrive"),
          ("way", "arrive", *RIG), ("work", "supply", "--breaker", "30A"))
TICKS = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Utterance:
    """Processor time of one, in seconds: in all, of its dearest frame, of its end; and how long it is."""

    used: float
    frame: float
    end: float
    lasts: float


def utterance(engine: Recogniser, sound: Samples) -> Utterance:
    """Heard frame by frame, as from a microphone."""
    began, dearest = time.process_time(), 0.0
    engine.begin()
    for at in range(0, len(sound), FRAME):
        before = time.process_time()
        engine.feed(sound[at:at + FRAME])
        dearest = max(dearest, time.process_time() - before)
    before = time.process_time()
    engine.finish()
    now = time.process_time()
    return Utterance(now - began, dearest, now - before, seconds(sound))


def said(many: int, say: Say, rng: random.Random) -> Iterator[tuple[Moment, Samples]]:
    """Commands, responses and readings at their moments, one voice, wind at 20 dB."""
    language = load_language("en")
    found = shipped_moments(language)
    all_of_them = [*commands(found, language, rng).items(), *responses(found).items(),
                   *readings(found, language).items()]
    for text, moment in rng.sample(all_of_them, min(many, len(all_of_them))):
        sound = framed(say(text, rng), rng)
        yield moment, mix_at_snr(sound, noise("wind", seconds(sound) + 0.1)[:len(sound)], 20.0)


class Watched:
    """A process of the program and those that it starts: processor time and memory, by /proc."""

    def __init__(self, *arguments: str, data: Path) -> None:
        self.began, self._arguments = time.monotonic(), arguments
        self._ran = subprocess.Popen(
            [sys.executable, "-u", "-m", "handsfree", *arguments], stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL, text=True,
            env={**os.environ, "HANDSFREE_DATA": str(data)})
        self.megabytes, self.used, self.first, self.first_used = 0.0, 0.0, 0.0, 0.0
        self._over, self._looks = threading.Event(), threading.Thread(target=self._look)
        self._looks.start()

    def _look(self) -> None:
        while not self._over.wait(0.02):
            self.megabytes = max(self.megabytes, sum(map(_resident, self._family())))

    def _family(self) -> list[int]:
        found = [self._ran.pid]
        for pid in found:
            try:
                found += map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text().split())
            except OSError:
                continue
        return found

    def ended(self) -> Watched:
        """After its last line; the time of its first is kept."""
        assert self._ran.stdout is not None
        for line in self._ran.stdout:
            if line.strip() and not self.first:
                self.first = time.monotonic() - self.began
                self.first_used = sum(map(_used, self._family()))
        _, status, took = os.wait4(self._ran.pid, 0)
        self._over.set()
        self._looks.join()
        if status:
            raise HandsfreeError(f"'handsfree {' '.join(self._arguments)}' ended with status {status >> 8}.")
        self.used = took.ru_utime + took.ru_stime
        return self


def _used(pid: int) -> float:
    """Seconds of processor time, of children that have ended too."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return sum(map(int, fields[11:15])) / TICKS


def _resident(pid: int) -> float:
    """Megabytes of its own and its share of what others have in memory, too."""
    try:
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) * 1024 / 1e6
    except OSError:
        pass
    return 0.0


def _written(folder: Path, name: str, sound: Samples) -> str:
    soundfile.write(folder / name, sound, SAMPLE_RATE)
    return str(folder / name)


def _told(values: Sequence[float]) -> str:
    return f"{1000 * np.median(values):5.0f} {1000 * np.percentile(values, 95):6.0f} {1000 * max(values):6.0f}"


def _hearing(many: int, say: Say, seed: int, vosk: Path | None) -> None:
    click.echo(f"An utterance, processor time in ms (half, 95 in 100, most); {many} of each engine:")
    click.echo(f"{'':18}{'in all':>20} {'of a frame':>20} {'of its end':>20}   of its length   MB alone")
    language = load_language("en")
    for name in present(vosk, (OWN, GATED, RAW, VOSK)):
        engine = open_engine(name, language.pronunciations, vosk, None)
        took = []
        for moment, sound in said(many, say, random.Random(seed)):
            engine.expect(moment.grammar)
            took.append(utterance(engine, sound))
        engine.close()
        share = sum(each.used for each in took) / sum(each.lasts for each in took)
        click.echo(f"{name:18}{_told([u.used for u in took]):>20} {_told([u.frame for u in took]):>20}"
                   f" {_told([u.end for u in took]):>20} {share:15.2f} {megabytes(name, vosk, None):10d}")


def _standing_by(folder: Path, minutes: float, say: Say) -> None:
    rng, room = random.Random(1), noise("wind", 60 * minutes)
    faint = (room * 0.1).astype(np.int16)
    short, long = (Watched("stand-by", "--hear", _written(folder, f"{len(each)}.wav", each), data=folder).ended()
                   for each in (faint[:SAMPLE_RATE], faint))
    asleep = (long.used - short.used) / (seconds(faint) - 1)
    click.echo(f"Standing by: ready {short.first:.1f} s after its start, {short.first_used:.1f} s of processor time;"
               f" asleep {100 * asleep:.2f} % of a core, {3600 * asleep:.0f} s an hour; the sound card is not in it.")
    pause = silence(6.0)
    words = np.concatenate([np.concatenate([pause, framed(say(text, rng), rng)]) for text in CALL] + [pause])
    called = Watched("stand-by", "--hear", _written(folder, "called.wav", words), data=folder).ended()
    click.echo(f"Called and asked three things: at most {called.megabytes:.0f} MB, voice and all.")


def _in_use(folder: Path) -> None:
    from benchmarks.soak import soaked

    began = time.process_time()
    found = soaked(1800.0, folder, slow=20.0, noise="wind", engine="auto", seed=1, told=lambda now: None)
    share = (time.process_time() - began) / found.audio
    click.echo(f"In use, a step in 20 s: {100 * share:.1f} % of a core, {3600 * share:.0f} s an hour, of which the"
               f" simulated operator's voice and wind are a part ({found.heard} utterances).")


@click.command()
@click.option("--utterances", default=40, show_default=True, type=click.IntRange(4), help="Of each engine.")
@click.option("--minutes", default=10.0, show_default=True, type=click.FloatRange(0.5), help="Asleep.")
@click.option("--seed", default=1, show_default=True, help="Which utterances.")
@click.option("--vosk", type=click.Path(path_type=Path), metavar="DIR", help="An English Vosk model.")
def cost(utterances: int, minutes: float, seed: int, vosk: Path | None) -> None:
    """What the program takes of a computer: processor time, memory, start."""
    if not Path("/proc/self/smaps_rollup").exists():
        raise InputError("this system does not tell a process's memory under /proc; use Linux.")
    say = speakers()[SPEAKER]
    _hearing(utterances, say, seed, vosk)
    with tempfile.TemporaryDirectory(prefix="handsfree-cost-") as name:
        folder = Path(name)
        _standing_by(folder, minutes, say)
        _in_use(folder / "soak")
        for words in PRINTS:
            for turn in (1, 2):  # what the first leaves for the second counts
                each = [word.format(folder=folder, turn=turn) for word in words]
                again = Watched(*each, data=folder / "prints").ended()
            click.echo(f"{words[0]:18}{again.used:5.2f} s of processor time, {again.megabytes:4.0f} MB")
