"""`handsfree bench hearing`: every engine present over the same sound, in one run.

Commands, hold-point responses and readings by voices that built no model of ours, each at a moment
of a shipped checklist with everything that may be said then; human digits; human speech that is no
command; noise alone.  May import everything of the program.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import click

from handsfree.audio import SAMPLE_RATE, Samples, seconds
from handsfree.bench.hearing_report import plot, show
from handsfree.bench.plain import OWN, RAW, VOSK, megabytes, open_engine, present
from handsfree.bench.recordings import digits_in, read, sounds_in
from handsfree.bench.results import check_place, write_results
from handsfree.bench.said import Moment, commands, readings, responses, shipped_moments
from handsfree.bench.speakers import framed, speakers
from handsfree.bench.tally import Condition, Score, calibration
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Recogniser, normal
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.sound.mixing import mix_at_snr
from handsfree.sound.noise import noise

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
NOISES = ("wind", "rain", "engine", "pink")
SNRS = (20, 10, 5, 0)
MOMENTS = ("step", "hold", "reading", "confirm")
"""Where speech that is no command is held against what may be said."""

_NOISE_SECONDS = 120


@dataclass(frozen=True)
class Depth:
    """How much is heard.  `commands`, `holds`, `readings`: of each voice.  `all_noises`: every
    utterance in every noise at every ratio, or in a noise of its own at each ratio.  `digits` and
    `speech`: files at most.  `alone`: seconds of each noise without speech."""

    commands: int = 14
    holds: int = 14
    readings: int = 8
    all_noises: bool = False
    digits: int = 1_000_000
    speech: int = 1_000_000
    all_moments: bool = True
    alone: int = 120


FULL = Depth()
PLAIN = Depth(commands=5, holds=5, readings=5, digits=150, speech=110, all_moments=False, alone=30)
"""For the engines that ours is compared with, which take several times as long."""
QUICK = Depth(3, 3, 2, False, 40, 20, False, 15)
QUICK_PLAIN = Depth(2, 2, 1, False, 20, 8, False, 6)


@dataclass(frozen=True)
class Spoken:
    """One utterance: `what` is commands, hold responses or readings."""

    what: str
    voice: str
    text: str
    moment: Moment
    sound: Samples


@dataclass(frozen=True)
class Files:
    """What was recorded elsewhere; None for what is not there."""

    digits: Path | None = None
    speech: Path | None = None
    noise: Path | None = None


def bench_hearing(
    files: Files,
    *,
    vosk: Path | None = None,
    model: Path | None = None,
    quick: bool = False,
    every_noise: bool = False,
    only: tuple[str, ...] = (),
    depth: Depth | None = None,
    seed: int = 5,
    tell: Callable[[str], None] = lambda line: None,
) -> dict[str, Any]:
    """Measure, and return what `--json` writes; `depth` is another than the usual ones.

    Raises:
        InputError: a folder or file that cannot be used.
    """
    began = time.monotonic()
    digits = digits_in(files.digits) if files.digits else []
    speech = sounds_in(files.speech) if files.speech else []
    noises = {kind: noise(kind, _NOISE_SECONDS, seed) for kind in NOISES}
    if files.noise:
        noises["recorded"] = read(files.noise)
    language = load_language("en")
    found = shipped_moments(language)
    full, plain = (depth, depth) if depth else (QUICK, QUICK_PLAIN) if quick else (FULL, PLAIN)
    if every_noise:
        full, plain = replace(full, all_noises=True), replace(plain, all_noises=True)
    spoken = list(_spoken(language, found, full, seed, tell))
    report: dict[str, Any] = {
        "voices": sorted({one.voice for one in spoken}), "noises": list(noises),
        "phrases at one moment": {kind: max(len(m.grammar.phrases) for m in found if m.kind == kind)
                                  for kind in MOMENTS},
        "digits": len(digits), "speech": len(speech), "quick": quick, "engines": {}}
    for name in present(vosk, only):
        its = full if name in (OWN, VOSK) else plain
        engine = open_engine(name, language.pronunciations, vosk, model)
        run = _Run(engine, its, noises, random.Random(seed + 1), tell)
        run.spoken(spoken, len(report["voices"]))
        run.digits(digits)
        hours, taken = run.speech(speech, found)
        alone = run.alone(found)
        engine.close()
        report["engines"][name] = _engine(run.score, hours, taken, alone) | {
            "megabytes": megabytes(name, vosk, model), "depth": asdict(its)}
        tell(f"{name}: done")
    report["seconds"] = round(time.monotonic() - began)
    return report


def _spoken(language: Language, found: list[Moment], depth: Depth, seed: int,
            tell: Callable[[str], None]) -> Iterator[Spoken]:
    for number, (voice, say) in enumerate(speakers().items()):
        rng = random.Random(seed + number)
        for what, placed, most in (
            ("commands", commands(found, language, rng), depth.commands),
            ("hold responses", responses(found), depth.holds),
            ("readings", readings(found, language), depth.readings),
        ):
            for text in sorted(rng.sample(sorted(placed), min(most, len(placed)))):
                # Synthesisers take "psi" for the Greek letter.
                aloud = text.replace("psi", "P S I")
                yield Spoken(what, voice, text, placed[text], framed(say(aloud, rng), rng))
        tell(f"{voice} has spoken")


class _Run:
    """One engine over everything."""

    def __init__(self, engine: Recogniser, depth: Depth, noises: dict[str, Samples],
                 rng: random.Random, tell: Callable[[str], None]) -> None:
        self._engine, self._depth, self._noises, self._rng = engine, depth, noises, rng
        self._told, self._tell = time.monotonic(), tell
        self.score = Score()

    def spoken(self, utterances: list[Spoken], voices: int) -> None:
        """Commands, responses and readings; as many of each voice as the depth says."""
        most = {"commands": self._depth.commands, "hold responses": self._depth.holds,
                "readings": self._depth.readings}
        had: dict[tuple[str, str], int] = {}
        for at, one in enumerate(utterances):
            self._progress("speech", at, len(utterances))
            key = (one.voice, one.what)
            had[key] = had.get(key, 0) + 1
            if had[key] > most[one.what]:
                continue
            self._engine.expect(one.moment.grammar)
            meant = one.moment.meaning(one.text)
            for kind, snr, sound in self._heard_in(one.sound, at):
                heard = self._hear(sound)
                self.score.enter(Condition(one.what, one.voice, kind, snr), heard, one.text, meant,
                                 one.moment.means(heard))

    def digits(self, files: list[tuple[Path, int, str]]) -> None:
        """Human digits, ten of them expected: quiet, and at each ratio in a noise in turn."""
        self._engine.expect(Grammar(frozenset(DIGITS)))
        chosen = self._some(files, self._depth.digits)
        for at, (path, digit, speaker) in enumerate(chosen):
            self._progress("digits", at, len(chosen))
            sound = framed(read(path), self._rng)
            for kind, snr, mixed in self._in_turn(sound, at):
                heard = self._hear(mixed)
                self.score.enter(Condition("human digits", speaker, kind, snr), heard,
                                 DIGITS[digit], DIGITS[digit], getattr(heard, "text", None))

    def speech(self, files: list[Path], found: list[Moment]) -> tuple[float, list[Any]]:
        """Speech that is no command: hours heard, a moment counted apart from another, and what was
        taken or asked about."""
        taken, hours = [], 0.0
        chosen = self._some(files, self._depth.speech)
        kinds = {kind: [m for m in found if m.kind == kind] for kind in MOMENTS}
        for at, path in enumerate(chosen):
            self._progress("no commands", at, len(chosen))
            sound = framed(read(path), self._rng)
            here = MOMENTS if self._depth.all_moments else (MOMENTS[at % len(MOMENTS)],)
            hours += len(here) * seconds(sound) / 3600
            for kind in here:
                moment = kinds[kind][at % len(kinds[kind])]
                self._engine.expect(moment.grammar)
                heard = self._hear(sound)
                means = moment.means(heard)
                self.score.enter(Condition(f"no command, {kind}", "human", "clean", "clean"),
                                 heard, "", None, means)
                if (means is not None and isinstance(heard, Hypothesis)
                        and heard.confidence >= self.score.bands.unsure):
                    sure = heard.confidence >= self.score.bands.certain
                    its_own = kind == "hold" and heard.text == normal(
                        moment.checklist.steps[moment.state.at].respond)
                    taken.append({
                        "file": path.name, "moment": kind, "heard": heard.text,
                        "confidence": round(heard.confidence, 3), "taken": sure,
                        "its own response": its_own})
        return hours, taken

    def alone(self, found: list[Moment]) -> dict[str, int]:
        """Pieces of 3 s of each noise without speech, at a hold point."""
        self._engine.expect(next(m for m in found if m.kind == "hold").grammar)
        pieces: dict[str, int] = {}
        for kind, sound in self._noises.items():
            cut = sound[: self._depth.alone * SAMPLE_RATE]
            for at in range(0, len(cut) - 3 * SAMPLE_RATE + 1, 3 * SAMPLE_RATE):
                heard = self._hear(cut[at : at + 3 * SAMPLE_RATE])
                self.score.enter(Condition("noise alone", "nobody", kind, "noise"), heard, "",
                                 None, getattr(heard, "text", None))
                pieces[kind] = pieces.get(kind, 0) + 1
        return pieces

    def _heard_in(self, sound: Samples, number: int) -> Iterator[tuple[str, str, Samples]]:
        if not self._depth.all_noises:
            yield from self._in_turn(sound, number)
            return
        yield "clean", "clean", sound
        for kind in self._noises:
            for snr in SNRS:
                yield kind, str(snr), self._mixed(sound, kind, snr)

    def _in_turn(self, sound: Samples, number: int) -> Iterator[tuple[str, str, Samples]]:
        """Quiet, and each ratio in one noise: the next one with the next utterance."""
        yield "clean", "clean", sound
        for place, snr in enumerate(SNRS):
            kind = list(self._noises)[(number + place) % len(self._noises)]
            yield kind, str(snr), self._mixed(sound, kind, snr)

    def _mixed(self, sound: Samples, kind: str, snr: float) -> Samples:
        under = self._noises[kind]
        at = self._rng.randrange(max(1, len(under) - len(sound)))
        return mix_at_snr(sound, under[at : at + len(sound)], snr)

    def _hear(self, sound: Samples) -> Heard:
        """One utterance, in pieces as from a microphone, timed."""
        began = time.process_time()
        self._engine.begin()
        early = None
        for at in range(0, len(sound), 640):
            early = self._engine.feed(sound[at : at + 640])
            if early is not None:
                break
        heard = early or self._engine.finish()
        self.score.used_seconds += time.process_time() - began
        self.score.heard_seconds += seconds(sound)
        return heard

    def _some(self, files: list[Any], most: int) -> list[Any]:
        if len(files) <= most:
            return files
        return [files[at * len(files) // most] for at in range(most)]

    def _progress(self, what: str, at: int, of: int) -> None:
        if time.monotonic() - self._told > 10:
            self._told = time.monotonic()
            self._tell(f"{self._engine.name}: {what}, {at} of {of}")


def _engine(score: Score, hours: float, taken: list[Any], alone: dict[str, int]) -> dict[str, Any]:
    everything = [pair for pairs in score.sure.values() for pair in pairs]
    speech = {kind: score.total(what=f"no command, {kind}") for kind in MOMENTS}
    wrong = sum(tally.wrong for tally in speech.values())
    n = sum(tally.n for tally in speech.values())
    return {
        "rows": [asdict(condition) | asdict(tally) for condition, tally in score.tallies.items()],
        "speech that is no command": {
            "hours heard": round(hours, 3), "n": n, "taken": wrong,
            "taken an hour": round(wrong / hours, 2) if hours else None,
            "asked about": sum(tally.asked for tally in speech.values()),
            "hold responses": sum(one["its own response"] and one["taken"] for one in taken),
            "what": taken},
        "noise alone": {"pieces of 3 s": alone, "taken": score.total(what="noise alone").wrong},
        "confused": [[said, heard, n] for (said, heard), n in score.confused.most_common(30)],
        "calibration": {what: calibration(pairs) for what, pairs in score.sure.items()} | {
            "everything": calibration(everything)},
        "seconds a second": round(score.used_seconds / max(score.heard_seconds, 1e-9), 4),
    }


@click.command()
@click.option("--digits", type=click.Path(path_type=Path), metavar="DIR",
              help="Recordings of single digits, named DIGIT_SPEAKER_TAKE.flac (or .wav).")
@click.option("--not-commands", type=click.Path(path_type=Path), metavar="DIR",
              help="Recordings of speech that is no command.")
@click.option("--noise", "noise_file", type=click.Path(path_type=Path), metavar="FILE",
              help="A recorded noise, besides the four that are made here.")
@click.option("--vosk", type=click.Path(path_type=Path), metavar="DIR",
              help="An English Vosk model; one under models/ is found without.")
@click.option("--model", type=click.Path(path_type=Path), metavar="DIR",
              help="Another model of ours than the shipped one.")
@click.option("--engine", "only", multiple=True,
              type=click.Choice(["own", "pocketsphinx", RAW, "vosk"]),
              help="Measure just this one; may be repeated.")
@click.option("--quick", is_flag=True, help="A sample of everything, in about three minutes.")
@click.option("--every-noise", is_flag=True,
              help="Each utterance in every noise at every ratio: four times the work.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here, and a plot beside it (.png).")
def hearing(
    digits: Path | None, not_commands: Path | None, noise_file: Path | None, vosk: Path | None,
    model: Path | None, only: tuple[str, ...], quick: bool, every_noise: bool, out: Path | None,
) -> None:
    """Accuracy by voice, noise and engine; false accepts; calibration; time and memory.

    Voices that built no model speak commands, hold-point responses and readings, each against
    everything that may be said at that moment of a shipped checklist, quiet and at each ratio in
    one of the noises in turn.  Our engine hears every file; the plain ones, slower, a part (see n).
    """
    check_place(out)
    report = bench_hearing(
        Files(digits, not_commands, noise_file), vosk=vosk, model=model, quick=quick,
        every_noise=every_noise, only=only, tell=lambda line: click.echo(line, err=True))
    show(report)
    write_results(out, report)
    if out is not None:
        plot(report, out.with_suffix(".png"))
        click.echo(f"wrote {out.with_suffix('.png')}")
