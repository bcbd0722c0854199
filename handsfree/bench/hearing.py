"""`handsfree bench hearing`: every engine present over the same sound, in one run.

Commands, hold-point responses and readings by voices that trained no model of ours, quiet and in
noise; human digits; human speech that is no command; noise alone; calibration; time and memory.
May import everything of the program; click, soundfile, pocketsphinx, hibari and matplotlib late.
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import click
import numpy as np
import yaml

from handsfree.audio import SAMPLE_RATE, Samples, seconds, silence, to_int16
from handsfree.bench.memory import peak_megabytes
from handsfree.errors import HandsfreeError, InputError
from handsfree.hearing.types import Grammar, Hypothesis, Recogniser, Rejection, normal
from handsfree.language.loader import load_language
from handsfree.library import library_folder
from handsfree.sound.mixing import mix_at_snr
from handsfree.sound.noise import noise

ESPEAK_VARIANTS = ("f2", "m3", "klatt2", "linda", "steph")
"""Speakers of espeak-ng that `recipes/` keeps out of training.  Four of its other voices are
kept out too: hibari and flite's rms are measured here, two more calibrate the confidence."""

DIGITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
SNRS = (20.0, 10.0, 5.0, 0.0)
NOISES = ("wind", "rain", "engine", "pink")
ACCEPT, CERTAIN = 0.6, 0.9
"""Confidence at which an ordinary command counts as accepted, and a hold point's response."""

Say = Callable[[str, random.Random], Samples]


@dataclass
class Tally:
    """What one engine did under one condition."""

    count: int = 0
    best: int = 0  # the best guess was right, whatever its confidence
    accepted: int = 0  # right, and confident enough
    wrong: int = 0  # accepted although wrong

    def row(self) -> dict[str, float]:
        """As shares."""
        n = max(self.count, 1)
        return {"n": self.count, "best": round(self.best / n, 4),
                "accepted": round(self.accepted / n, 4), "wrong": round(self.wrong / n, 4)}


@dataclass
class Result:
    """Everything that was measured for one engine."""

    name: str
    tallies: dict[tuple[str, ...], Tally] = field(default_factory=dict)
    sure: list[tuple[float, bool]] = field(default_factory=list)
    heard_seconds: float = 0.0
    used_seconds: float = 0.0

    def at(self, *key: str) -> Tally:
        """The tally of a condition."""
        return self.tallies.setdefault(key, Tally())


class PlainPocketSphinx:
    """PocketSphinx with its own model and a grammar: the plain engine, to compare with."""

    name = "pocketsphinx"

    def __init__(self, pronunciations: dict[str, list[str]]) -> None:
        from pocketsphinx import Decoder

        self._decoder = Decoder(samprate=SAMPLE_RATE, loglevel="FATAL", lm=None)
        self._known: set[str] = set()
        self._given = pronunciations

    def expect(self, grammar: Grammar) -> None:
        """Compile the grammar; words it cannot say are taught from the language file or espeak."""
        from handsfree.hearing.pronounce import pronounce

        missing = [w for w in grammar.words if self._decoder.lookup_word(w) is None]
        found = {w: self._given[w][0] for w in missing if w in self._given}
        found |= pronounce(w for w in missing if w not in found)
        for word, sounds in found.items():
            if sounds and word not in self._known:
                self._decoder.add_word(word, sounds, True)
                self._known.add(word)
        rules = [f"({' | '.join(sorted(grammar.phrases))})"] if grammar.phrases else []
        if grammar.numbers:
            units = f"[{' | '.join(sorted(grammar.units))}]" if grammar.units else ""
            rules.append(f"(({' | '.join(sorted(grammar.numbers))})+ {units})")
        text = f"#JSGF V1.0;\ngrammar g;\npublic <s> = {' | '.join(rules)};\n"
        self._decoder.add_jsgf_string("g", text)
        self._decoder.activate_search("g")

    def begin(self) -> None:
        """Start an utterance."""
        self._decoder.start_utt()

    def feed(self, samples: Samples) -> None:
        """Take sound."""
        self._decoder.process_raw(samples.tobytes(), no_search=False, full_utt=False)

    def finish(self) -> Hypothesis | Rejection:
        """What it says; it has no calibrated confidence, so what it says counts as sure."""
        self._decoder.end_utt()
        found = self._decoder.hyp()
        if found is None or not found.hypstr:
            return Rejection("unclear", 0.0, 0.0, engine=self.name)
        return Hypothesis(normal(found.hypstr), 1.0, 0.0, 0.0, engine=self.name)

    def close(self) -> None:
        """Nothing to give back."""


def engines(
    vosk: Path | None, model: Path | None, only: tuple[str, ...] = ()
) -> Iterator[Recogniser]:
    """The engines that are present, or those named."""
    given = {w: list(p) for w, p in load_language("en").pronunciations.items()}
    from handsfree.hearing.own import OwnRecogniser

    if not only or "own" in only:
        yield OwnRecogniser(model, given)
    if not only or "pocketsphinx" in only:
        yield PlainPocketSphinx(given)  # type: ignore[misc]
    if vosk is not None and (not only or "vosk" in only):
        from handsfree.hearing.vosk_engine import VoskRecogniser

        yield VoskRecogniser(vosk)


def _without_chance(render: Callable[[str], Samples]) -> Say:
    """A voice that always says a text the same way."""
    return lambda text, rng: render(text)


def voices() -> dict[str, Say]:
    """Synthetic speakers by name that no model of ours was trained with, as far as present."""
    from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
    from handsfree.speaking.voice import VoiceOptions

    found: dict[str, Say] = {}
    for variant in ESPEAK_VARIANTS:
        engine = Pyttsx3Voice(VoiceOptions(language="en-us", variant=variant))
        found[f"espeak {variant}"] = _without_chance(engine.render)
    try:
        from hibari import Hibari
    except ImportError:
        pass
    else:
        hibari = Hibari()

        def heart(text: str, rng: random.Random) -> Samples:
            wave = hibari(text, speed=rng.uniform(0.85, 1.2), seed=rng.getrandbits(30))
            from scipy.signal import resample_poly

            return to_int16(resample_poly(wave, 2, 3) * 20000.0)

        found["hibari"] = heart
    if shutil.which("flite"):

        def rms(text: str, rng: random.Random) -> Samples:
            with tempfile.NamedTemporaryFile(suffix=".wav") as file:
                subprocess.run(["flite", "-voice", "rms", "--setf",
                                f"duration_stretch={rng.uniform(0.85, 1.2):.2f}", "-t", text,
                                file.name], check=True)  # fmt: skip
                return read(Path(file.name))

        found["flite rms"] = rms
    return found


def read(path: Path) -> Samples:
    """A sound file as 16 kHz mono.  Raises InputError when it is none."""
    import soundfile
    from scipy.signal import resample_poly

    try:
        sound, rate = soundfile.read(path, dtype="float64", always_2d=True)
    except (soundfile.SoundFileError, OSError) as error:
        raise InputError(f"{path} is no sound file that can be read ({error}).") from error
    mono = sound.mean(axis=1)
    if rate != SAMPLE_RATE:
        step = int(np.gcd(rate, SAMPLE_RATE))
        mono = resample_poly(mono, SAMPLE_RATE // step, rate // step)
    return to_int16(mono * 32767.0)


def responses() -> list[str]:
    """The responses of hold points in the shipped checklists."""

    def search(node: Any) -> Iterator[str]:
        if isinstance(node, dict):
            for key, value in node.items():
                if key == "respond" and isinstance(value, str):
                    yield normal(value)
                else:
                    yield from search(value)
        elif isinstance(node, list):
            for value in node:
                yield from search(value)

    found: set[str] = set()
    for file in sorted(library_folder().rglob("*.yaml")):
        found |= set(search(yaml.safe_load(file.read_text(encoding="utf-8"))))
    return sorted(found)


def framed(speech: Samples, rng: random.Random) -> Samples:
    """Speech with a moment of faint hiss before and after, as an endpointer hands it over."""
    joined = np.concatenate((silence(rng.uniform(0.15, 0.35)), speech, silence(0.35)))
    hiss = np.random.default_rng(rng.getrandbits(32)).normal(0.0, 3.0, len(joined))
    return to_int16(joined + hiss)


def hear(engine: Recogniser, result: Result, sound: Samples) -> Hypothesis | Rejection:
    """One utterance through an engine, in pieces as from a microphone, timed."""
    began = time.process_time()
    engine.begin()
    early = None
    for at in range(0, len(sound), 640):
        early = engine.feed(sound[at : at + 640])
        if early is not None:
            break
    heard = early or engine.finish()
    result.used_seconds += time.process_time() - began
    result.heard_seconds += seconds(sound)
    return heard


def count(tally: Tally, result: Result, heard: Hypothesis | Rejection, said: str) -> None:
    """Enter what was heard; said is "" where nothing should have been accepted."""
    text = heard.text if isinstance(heard, Hypothesis) else heard.best
    taken = isinstance(heard, Hypothesis) and heard.confidence >= ACCEPT
    right = bool(said) and text == said
    tally.count += 1
    tally.best += right
    tally.accepted += right and taken
    tally.wrong += taken and not right
    if isinstance(heard, Hypothesis) or heard.best:
        result.sure.append((heard.confidence, right))


def conditions(
    sound: Samples, rng: random.Random, extra: Samples | None, snrs: tuple[float, ...] = SNRS
) -> Iterator[tuple[str, str, Samples]]:
    """Noise, ratio and sound, the quiet one first."""
    yield "clean", "clean", sound
    kinds = [*NOISES, *(["recorded"] if extra is not None else [])]
    for kind in kinds:
        for snr in snrs:
            if kind == "recorded":
                assert extra is not None
                start = rng.randrange(max(1, len(extra) - len(sound)))
                under = extra[start : start + len(sound)]
            else:
                under = noise(kind, seconds(sound) + 0.1, rng.getrandbits(20))
            yield kind, f"{snr:g} dB", mix_at_snr(sound, under, snr)


def reading_words() -> tuple[frozenset[str], list[tuple[str, str]]]:
    """The words of readings, and some readings: text and unit."""
    words = frozenset(
        [
            "oh", "niner", "hundred", "thousand", "point", "decimal", "minus", "and", "a", "an",
            "half", "quarter", "quarters", "third", "eighth", "eighths",
        ] + DIGITS
        + [
            "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen",
            "eighteen", "nineteen", "twenty", "thirty", "forty", "fifty", "sixty", "seventy",
            "eighty", "ninety",
        ])  # fmt: skip
    said = [
        ("one hundred and eighteen", "volts"), ("one eighteen", "volts"), ("ninety seven", "volts"),
        ("fifty five", "psi"), ("five five", "psi"), ("sixty", "psi"),
        ("two and a half", "degrees"),
        ("one point five", "degrees"), ("minus two", "degrees"), ("three quarters", "inches"),
        ("a quarter", "inches"), ("thirty", "amps"), ("fifteen", "amps"), ("fifty", "amps"),
        ("four hundred and twenty", "pounds"), ("twelve", "feet"), ("thirteen", "feet"),
        ("eighty percent", ""), ("seven", "inches"), ("one two one", "volts"),
    ]  # fmt: skip
    return words, said


def bench_hearing(
    digits: Path | None = None,
    not_commands: Path | None = None,
    noise_file: Path | None = None,
    vosk: Path | None = None,
    model: Path | None = None,
    phrases_a_voice: int = 12,
    most_digits: int = 150,
    noise_minutes: float = 2.0,
    seed: int = 5,
    only: tuple[str, ...] = (),
    tell: Callable[[str], None] = lambda line: None,
) -> dict[str, Any]:
    """Measure; see the module.

    digits: folder of DIGIT_SPEAKER_TAKE.flac.  not_commands: folder of sounds that are no
    command.  noise_file: a recorded noise.  Returns what `--json` writes.
    """
    language = load_language("en")
    commands = sorted({normal(p) for some in language.commands.values() for p in some})
    holds = responses()
    numbers, readings = reading_words()
    extra = read(noise_file) if noise_file else None
    units = frozenset(("volts", "psi", "degrees", "inches", "amps", "pounds", "feet", "percent"))
    spoken: list[tuple[str, str, Grammar, Samples]] = []
    rng = random.Random(seed)
    for voice, say in voices().items():
        for kind, some in (("commands", commands), ("holds", holds)):
            for text in rng.sample(some, min(len(some), phrases_a_voice)):
                grammar = Grammar(frozenset([*commands, text]))
                spoken.append((kind, text, grammar, framed(say(text, rng), rng)))
        for number, unit in rng.sample(readings, min(len(readings), max(1, phrases_a_voice // 2))):
            text = f"{number} {unit}".strip()
            grammar = Grammar(frozenset(commands), numbers, units)
            # Synthesisers take "psi" for the Greek letter.
            aloud = text.replace("psi", "P S I")
            spoken.append(("readings", text, grammar, framed(say(aloud, rng), rng)))
        tell(f"{voice}: spoken")
    human = sorted(digits.glob("*.flac")) if digits else []
    if digits and not human:
        raise InputError(f"there are no .flac files in {digits}; give the folder of the digits.")
    human = random.Random(seed).sample(human, min(len(human), most_digits))
    others = sorted(not_commands.glob("*.flac")) if not_commands else []
    if not_commands and not others:
        raise InputError(f"there are no .flac files in {not_commands}; give the folder of speech.")
    report: dict[str, Any] = {"voices": list(voices()), "commands": len(commands), "engines": {}}
    for engine in engines(vosk, model, only):
        result = Result(engine.name)
        rng = random.Random(seed + 1)
        for kind, text, grammar, sound in spoken:
            engine.expect(grammar)
            for noise_kind, ratio, heard in conditions(sound, rng, extra):
                count(result.at(kind, noise_kind, ratio), result,
                      hear(engine, result, heard), text)  # fmt: skip
        tell(f"{engine.name}: commands, holds and readings heard")
        engine.expect(Grammar(frozenset(DIGITS)))
        for path in human:
            said = DIGITS[int(path.name[0])]
            sound = framed(read(path), rng)
            for noise_kind, ratio, heard in conditions(sound, rng, None, (10.0, 5.0)):
                answer = hear(engine, result, heard)
                count(result.at("human digits", noise_kind, ratio), result, answer, said)
        wrong, sound_hours = [], 0.0
        for order, path in enumerate(others):
            sound = framed(read(path), rng)
            sound_hours += seconds(sound) / 3600
            for kind, grammar in (
                ("no commands", Grammar(frozenset([*commands, holds[order % len(holds)]]))),
                ("no commands, reading", Grammar(frozenset(commands), numbers, units)),
            ):
                engine.expect(grammar)
                answer = hear(engine, result, sound)
                count(result.at(kind, "speech", "clean"), result, answer, "")
                if isinstance(answer, Hypothesis) and answer.confidence >= ACCEPT:
                    hold = answer.text in holds and answer.confidence >= CERTAIN
                    wrong.append((path.name, answer.text, round(answer.confidence, 3), hold))
        engine.expect(Grammar(frozenset([*commands, holds[0]])))
        for noise_kind in NOISES:
            long = noise(noise_kind, 60 * noise_minutes, seed)
            for at in range(0, len(long), 3 * SAMPLE_RATE):
                answer = hear(engine, result, long[at : at + 3 * SAMPLE_RATE])
                count(result.at("noise alone", noise_kind, "3 s"), result, answer, "")
        engine.close()
        tell(f"{engine.name}: done")
        report["engines"][engine.name] = {
            "table": {" | ".join(key): tally.row() for key, tally in result.tallies.items()},
            "false accepts": wrong,
            "hours of speech that is no command": round(sound_hours, 3),
            "calibration": calibration(result.sure),
            "seconds a second": round(result.used_seconds / max(result.heard_seconds, 1e-9), 4),
            "most memory so far, MB": round(peak_megabytes()),
        }
    return report


def calibration(sure: list[tuple[float, bool]]) -> dict[str, Any]:
    """Reliability by tenths of confidence, and the expected calibration error."""
    bins, error = [], 0.0
    for low in range(10):
        inside = [(c, r) for c, r in sure if min(int(c * 10), 9) == low]
        if inside:
            mean = float(np.mean([c for c, _ in inside]))
            right = float(np.mean([r for _, r in inside]))
            bins.append({"n": len(inside), "confidence": round(mean, 3), "right": round(right, 3)})
            error += abs(mean - right) * len(inside)
    return {"bins": bins, "ece": round(error / max(len(sure), 1), 4)}


def plot(report: dict[str, Any], path: Path) -> bool:
    """Accuracy by ratio and noise, an image; False where matplotlib is missing."""
    try:
        import matplotlib
    except ImportError:
        return False
    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(1, 2, figsize=(11, 4.5), sharey=True)
    for axis, kind in zip(axes, ("commands", "holds"), strict=True):
        for name, found in report["engines"].items():
            for noise_kind in [*NOISES, "recorded"]:
                line = [(snr, found["table"].get(f"{kind} | {noise_kind} | {snr:g} dB"))
                        for snr in SNRS]  # fmt: skip
                points = [(snr, row["best"]) for snr, row in line if row]
                if points:
                    axis.plot(*zip(*points, strict=True), marker="o", label=f"{name}, {noise_kind}",
                              linestyle="-" if name == "own" else ":")  # fmt: skip
        axis.set(title=kind, xlabel="signal-to-noise ratio, dB", ylim=(0, 1.02))
    axes[0].set_ylabel("share right")
    axes[1].legend(fontsize=7)
    figure.savefig(path, dpi=120, bbox_inches="tight")
    return True


def show(report: dict[str, Any]) -> None:
    """Print the tables."""
    for name, found in report["engines"].items():
        click.echo(f"\n{name}: {found['seconds a second']} s of one core a second of sound, "
                   f"ECE {found['calibration']['ece']}")  # fmt: skip
        click.echo(f"{'what':22}{'noise':10}{'ratio':8}{'n':>6}{'best':>8}{'taken':>8}{'wrong':>8}")
        for key, row in found["table"].items():
            kind, noise_kind, ratio = key.split(" | ")
            click.echo(f"{kind:22}{noise_kind:10}{ratio:8}{row['n']:6}{row['best']:8.3f}"
                       f"{row['accepted']:8.3f}{row['wrong']:8.3f}")  # fmt: skip


@click.command()
@click.option("--digits", type=click.Path(path_type=Path), help="Human digits: DIGIT_SPEAKER_TAKE.")
@click.option("--not-commands", type=click.Path(path_type=Path), help="Speech that is no command.")
@click.option("--noise", "noise_file", type=click.Path(path_type=Path), help="A recorded noise.")
@click.option("--vosk", type=click.Path(path_type=Path), help="A Vosk model to measure as well.")
@click.option("--model", type=click.Path(path_type=Path), help="Another model of ours.")
@click.option("--phrases", default=12, help="Commands, and hold responses, for each voice.")
@click.option("--engine", "only", multiple=True, help="Measure just this one; may be repeated.")
@click.option("--most-digits", default=150, help="Human digits to hear.")
@click.option("--json", "out", type=click.Path(path_type=Path), help="Write everything here.")
def hearing(
    digits: Path | None, not_commands: Path | None, noise_file: Path | None, vosk: Path | None,
    model: Path | None, phrases: int, only: tuple[str, ...],
    most_digits: int, out: Path | None,
) -> None:  # fmt: skip
    """Accuracy by voice, noise and engine; false accepts; calibration; time."""
    for path in (digits, not_commands):
        if path is not None and not path.is_dir():
            raise InputError(f"there is no folder {path}; check the path.")
    if noise_file is not None and not noise_file.is_file():
        raise InputError(f"there is no sound file {noise_file}; check the path.")
    try:
        report = bench_hearing(digits, not_commands, noise_file, vosk, model, phrases, most_digits,
                               only=only, tell=lambda line: click.echo(line, err=True))  # fmt: skip
    except ImportError as error:
        raise HandsfreeError(
            f"a part that the benchmark needs is missing ({error.name}); install the extra 'test'."
        ) from error
    show(report)
    if out is not None:
        out.write_text(json.dumps(report, indent=1), encoding="utf-8")
        if plot(report, out.with_suffix(".png")):
            click.echo(f"wrote {out} and {out.with_suffix('.png')}")
        else:
            click.echo(f"wrote {out}; install matplotlib for the plot")
