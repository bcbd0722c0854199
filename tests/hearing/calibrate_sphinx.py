"""Fits the constants in `handsfree.hearing.confidence`, and measures what comes of them.

    python -m tests.hearing.calibrate_sphinx [--every N]

Commands of the English language file and sentences that are none, by synthetic voices, in quiet
and in wind, engine and pink noise at 20, 10 and 5 dB, and noise alone, go through the endpointer
and the recogniser.  Half of the voices fit a logistic function (least regularised log loss; a
command counts as right when it was recognised as itself); the figures are those of the other half
and of the recorded sentences in the folder HANDSFREE_AUDIO (by default ../shared/audio), which no
constant was fitted to.  `--every N` takes every Nth utterance only.
"""

from __future__ import annotations

import argparse
import os
import pickle
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import soundfile
from scipy.optimize import minimize

from handsfree.audio import Samples, silence, to_int16
from handsfree.hearing import confidence
from handsfree.hearing.endpointing import Endpointer
from handsfree.hearing.pocketsphinx_engine import SphinxRecogniser
from handsfree.hearing.types import Grammar
from handsfree.language import load_language
from tests.hearing.speech import in_noise, noise, say

FITTED = (("en-us", 160, 50), ("en-us+m3", 170, 60), ("en-us+f1", 160, 55), ("en+m7", 165, 40),
          ("en-us+f4", 175, 50), ("en-gb-scotland+m4", 150, 50), ("en-us+m6", 160, 30),
          ("en+f3", 150, 65))
MEASURED = (("en-us+m2", 150, 40), ("en-us+f2", 150, 60), ("en", 155, 45), ("en-us+m5", 140, 35),
            ("en-us+f5", 160, 70), ("en-gb-x-rp+m8", 150, 40), ("en-us+m1", 185, 55),
            ("en-us+m4", 145, 45))
CONDITIONS = [("", 99)] + [(kind, snr) for snr in (20, 10, 5) for kind in ("wind", "engine", "pink")]
COMMANDS = ("done", "skip", "repeat", "detail", "why", "problem", "take_back", "remaining", "pause",
            "resume", "note", "time", "help", "finish", "status")
OTHERS = ("chocks set", "coupler locked", "path is clear", "breaker is off", "go to water",
          "go to the stabilizers", "go to power", "go to leveling", "go to the awning")
NOT_COMMANDS = """the weather is nice today
where did you put the keys
I will be back in a minute
hand me that wrench please
it is getting dark already
this thing is heavier than it looks
the truck needs fuel
what time is dinner
can you hear me now
look at the size of that tree
my hands are freezing
turn the radio down
there is mud everywhere
no way that can't be right
well that is that
are you done with the hammer
I have a problem with my neighbor
he will skip lunch again
the note was on the table
it helps to have two people
why would anyone do that
finish your coffee first
pause for a second would you
more coffee please
set the table
the box is locked
the breaker tripped again
take that one over there
this path is muddy
hello
thanks
okay then
maybe
sorry
all right
look
water
hammer
tomorrow
gloves
camera
chocolate
box set
dumb
slip
complete
nope
halt
vote
kelp
clocks set up
copper
half done yet
cause
boss
take this bag
bike
presume
door is open
keep going straight
leave it there
I think it is fine
it broke
nearly there
hold this rope
a bit to the left
stop right there
get the cooler
bring the lantern""".splitlines()


class Row(NamedTuple):
    """One utterance: what it was, under which condition, what came of it."""

    kind: str
    snr: int
    right: bool
    values: tuple[float, ...]


def cut(sound: Samples) -> Samples | None:
    """The first utterance in a sound, as the endpointer gives it."""
    endpointer, pieces = Endpointer(), []
    for at in range(0, len(sound) - 319, 320):
        piece = endpointer.process(sound[at : at + 320])
        if piece is not None:
            pieces.append(piece)
            if not endpointer.in_speech:
                break
    return np.concatenate(pieces) if pieces else None


def rows(
    recogniser: SphinxRecogniser, phrases: list[str], voices: tuple[tuple[str, int, int], ...],
    every: int,
) -> Iterator[Row]:
    """Commands and others by the voices, each in two conditions, and noise alone."""
    spoken = [("command", text) for text in phrases] + [("other", text) for text in NOT_COMMANDS]
    for number, (kind, text) in enumerate(spoken):
        for which, (voice, rate, pitch) in enumerate(voices):
            for turn in (0, 1):
                place = zlib.crc32(f"{text} {voice} {turn}".encode())
                if place % every:
                    continue
                noisy, snr = CONDITIONS[(place // every) % len(CONDITIONS)]
                sound = np.concatenate((silence(0.9), say(text, voice, rate, pitch)))
                if noisy:
                    sound = in_noise(sound, noisy, snr, number * 100 + which * 10 + turn)
                yield from judged(recogniser, kind, snr, text, cut(sound))
    for which, noisy in enumerate(("wind", "engine", "pink", "white")):
        sound = to_int16(noise(noisy, 60, 31 + len(voices[0][0])) * 1500)
        for at in range(0, 40, every):
            piece = sound[at * 20_000 : at * 20_000 + 9_600 + 640 * at]
            yield from judged(recogniser, "noise", which, "", piece)


def recorded(recogniser: SphinxRecogniser) -> Iterator[Row]:
    """Recorded sentences that are no commands."""
    folder = Path(os.environ.get("HANDSFREE_AUDIO", "../shared/audio"))
    for file in sorted((folder / "speech").glob("*.flac")):
        sound, _ = soundfile.read(file, dtype="int16")
        yield from judged(recogniser, "recorded", 99, "", cut(
            np.concatenate((silence(0.9), sound, silence(0.7)))))


def judged(
    recogniser: SphinxRecogniser, kind: str, snr: int, text: str, sound: Samples | None,
) -> Iterator[Row]:
    if sound is None:
        print("not opened:", kind, snr, text)
        return
    best, second, bare = recogniser.decodings(sound)
    if best is None or bare is None or confidence.is_noise(best, bare):
        yield Row(kind, snr, False, ())
    else:
        right = kind == "command" and best.text == text
        yield Row(kind, snr, right, confidence.measures(best, second, bare))


def fit(found: list[Row]) -> tuple[list[float], float]:
    """Weights and bias of the logistic function.

    Commands weigh twice as much in all as what is no command: what is said to the program is
    mostly meant for it.
    """
    found = [row for row in found if row.values]
    values = np.array([row.values for row in found])
    right = np.array([row.right for row in found])
    command = np.array([row.kind == "command" for row in found])
    weight = np.where(command, 2 / command.sum(), 1 / (~command).sum()) / 3
    scale = values.std(axis=0)

    def loss(x: np.ndarray) -> float:
        score = values / scale @ x[:-1] + x[-1]
        return float(weight @ np.logaddexp(0, np.where(right, -score, score))
                     + 0.001 * x[:-1] @ x[:-1])

    x = minimize(loss, np.zeros(values.shape[1] + 1), method="L-BFGS-B").x
    return list(x[:-1] / scale), float(x[-1])


def report(found: list[Row]) -> None:
    """What would be accepted, asked about and rejected, and how true the confidence is."""
    for kind in ("command", "other", "recorded", "noise"):
        for snr in sorted({row.snr for row in found if row.kind == kind}, reverse=True):
            some = [row for row in found if (row.kind, row.snr) == (kind, snr)]
            sure = [confidence.probability(row.values) if row.values else 0.0 for row in some]
            n = len(some)
            print(f"{kind:9} {snr:3} n={n:4} right={sum(r.right for r in some) / n:.3f}", *(
                f"  >={level}: right {sum(s >= level and r.right for s, r in zip(sure, some, strict=True)) / n:.3f}"
                f" wrong {sum(s >= level and not r.right for s, r in zip(sure, some, strict=True)) / n:.3f}"
                for level in (0.35, 0.45, 0.8, 0.95)))
    commands = [(confidence.probability(r.values), r.right)
                for r in found if r.kind == "command" and r.values]
    for low in np.arange(0, 1, 0.2):
        band = [(s, r) for s, r in commands if low <= s < low + 0.2]
        if band:
            said, true = np.mean(band, axis=0)
            print(f"  commands, confidence {said:.2f}: right {true:.2f} (n={len(band)})")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="file for the measures, to look at")
    arguments = parser.parse_args()
    every, keep = arguments.every, arguments.keep
    language = load_language("en")
    phrases = {text for name in COMMANDS for text in language.commands[name]} | set(OTHERS)
    recogniser = SphinxRecogniser(language.pronunciations)
    recogniser.expect(Grammar(frozenset(phrases)))
    short = sorted({text for name in COMMANDS for text in language.commands[name][:2]})
    spoken = short + list(OTHERS)
    fitted = list(rows(recogniser, spoken, FITTED, every))
    weights, bias = fit(fitted)
    print("_WEIGHTS =", tuple(round(float(w), 3) for w in weights), "\n_BIAS =", round(bias, 3))
    confidence._WEIGHTS, confidence._BIAS = tuple(weights), bias
    measured = [*rows(recogniser, spoken, MEASURED, every), *recorded(recogniser)]
    if keep:
        keep.write_bytes(pickle.dumps((fitted, measured)))
    report(measured)


if __name__ == "__main__":
    main()
