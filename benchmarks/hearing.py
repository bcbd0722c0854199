"""`python -m benchmarks hearing`: every engine present over the same sound, in one run.

Commands, hold-point responses and readings by voices that trained no network of ours, each at a
moment of a shipped checklist with everything that may be said then; human digits; human speech that
is no command; noise alone.  May import everything of the program.
"""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import click

from benchmarks.baseline_engines import ENGINES, OWN, VOSK, megabytes, open_engine, present
from benchmarks.hearing_report import plot, show
from benchmarks.jobs import Of, Share, in_processes
from benchmarks.recordings import digits_in, read, sounds_in
from benchmarks.results_file import NowAndThen, check_place, write_results
from benchmarks.speakers import framed, speakers
from benchmarks.spoken_phrases import Moment, commands, readings, responses, shipped_moments
from benchmarks.tally import Condition, Score, calibration
from handsfree.audio import SAMPLE_RATE, Samples, seconds
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

@dataclass(frozen=True)
class Depth:
    """How much is heard.  `commands`, `holds`, `readings`: of each voice.  `all_noises`: every
    utterance in every noise at every ratio, or in a noise of its own at each ratio.  `digits` and
    `speech`: files at most.  `alone`: seconds of each noise without speech.  `noise`: seconds of each
    noise, from which all of it is taken."""

    commands: int = 14
    holds: int = 14
    readings: int = 8
    all_noises: bool = False
    digits: int = 1_000_000
    speech: int = 1_000_000
    all_moments: bool = True
    alone: int = 120
    noise: int = 120

    def most(self, what: str) -> int:
        """Of commands, hold responses or readings, so many of each voice."""
        return {"commands": self.commands, "hold responses": self.holds,
                "readings": self.readings}[what]


FULL = Depth()
PLAIN = Depth(commands=5, holds=5, readings=5, digits=150, speech=110, all_moments=False, alone=30)
"""For the engines that ours is compared with, which take several times as long."""
QUICK = Depth(3, 3, 2, False, 40, 20, False, 15)
QUICK_PLAIN = Depth(2, 2, 1, False, 20, 8, False, 6)


@dataclass(frozen=True)
class Spoken:
    """One utterance: `what` is commands, hold responses or readings; `number` among all, `place`
    among those of its kind and voice."""

    number: int
    place: int
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


@dataclass
class Found:
    """What one engine did with its share."""

    score: Score = field(default_factory=Score)
    hours: float = 0.0
    taken: list[dict[str, Any]] = field(default_factory=list)
    pieces: Counter[str] = field(default_factory=Counter)

    def add(self, other: Found) -> None:
        """Count what another found as well."""
        self.score.add(other.score)
        self.hours += other.hours
        self.taken += other.taken
        self.pieces += other.pieces


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
    jobs: int = 1,
) -> dict[str, Any]:
    """Measure, and return what `--json` writes; `depth` is another than the usual ones, `jobs` the
    number of processes, which changes nothing but the time.

    Raises:
        InputError: a folder or file that cannot be used.
    """
    began = time.monotonic()
    digits = digits_in(files.digits) if files.digits else []
    speech = sounds_in(files.speech) if files.speech else []
    recorded = read(files.noise) if files.noise else None
    full, plain = (depth, depth) if depth else (QUICK, QUICK_PLAIN) if quick else (FULL, PLAIN)
    if every_noise:
        full, plain = replace(full, all_noises=True), replace(plain, all_noises=True)
    depths = {name: full if name in (OWN, VOSK) else plain for name in present(vosk, only)}
    parts = [_Part(Share(job, jobs), depths, vosk, model, seed, recorded, digits, speech)
             for job in range(jobs)]
    found = {name: Found() for name in depths}
    for _, its in in_processes(jobs, _heard, parts):
        for name, one in its.items():
            found[name].add(one)
    moments = shipped_moments(load_language("en"))
    return {
        "voices": sorted(speakers()),
        "noises": [*NOISES, *(["recorded"] if recorded is not None else [])],
        "phrases at one moment": {
            kind: max(len(m.grammar.phrases) for m in moments if m.kind == kind)
            for kind in MOMENTS},
        "digits": len(digits), "speech": len(speech), "quick": quick,
        "engines": {name: _engine(one) | {
            "megabytes": megabytes(name, vosk, model), "depth": asdict(depths[name])}
            for name, one in found.items()},
        "seconds": round(time.monotonic() - began)}


@dataclass(frozen=True)
class _Part:
    """What one process hears, with each engine to its depth."""

    share: Share
    depths: dict[str, Depth]
    vosk: Path | None
    model: Path | None
    seed: int
    recorded: Samples | None
    digits: list[tuple[Path, int, str]]
    speech: list[Path]

    def chance(self, *what: str) -> random.Random:
        """The chance of what is named so, whichever process it falls to."""
        return random.Random(" ".join((str(self.seed), *what)))


def _heard(part: _Part) -> dict[str, Found]:
    language = load_language("en")
    moments = shipped_moments(language)
    length = max(depth.noise for depth in part.depths.values())
    noises = {kind: noise(kind, length, part.seed) for kind in NOISES}
    if part.recorded is not None:
        noises["recorded"] = part.recorded
    spoken, found = list(_spoken(moments, language, part)), {}
    for name, depth in part.depths.items():
        engine = open_engine(name, language.pronunciations, part.vosk, part.model)
        run = _Run(engine, depth, part, noises)
        run.spoken(spoken)
        run.digits(part.digits)
        run.speech(part.speech, moments)
        run.alone(moments)
        engine.close()
        found[name] = run.found
    return found


def _spoken(moments: Sequence[Moment], language: Language, part: _Part) -> Iterator[Spoken]:
    """What the voices say in this share, as much as any engine hears."""
    number = 0
    for voice, say in speakers().items():
        rng = part.chance(voice)
        for what, placed in (
            ("commands", commands(moments, language, rng)),
            ("hold responses", responses(moments)),
            ("readings", readings(moments, language)),
        ):
            most = max(depth.most(what) for depth in part.depths.values())
            for place, text in enumerate(rng.sample(sorted(placed), len(placed))[:most]):
                if part.share.has(number):
                    chance = part.chance(voice, text)
                    # Synthesisers take "psi" for the Greek letter.
                    sound = framed(say(text.replace("psi", "P S I"), chance), chance)
                    yield Spoken(number, place, what, voice, text, placed[text], sound)
                number += 1


class _Run:
    """One engine over its share of everything."""

    def __init__(self, engine: Recogniser, depth: Depth, part: _Part, noises: dict[str, Samples]
                 ) -> None:
        self._engine, self._depth, self._part, self._noises = engine, depth, part, noises
        self.found = Found()
        self._score = self.found.score
        self._progress = NowAndThen()

    def spoken(self, utterances: list[Spoken]) -> None:
        """Commands, responses and readings: each in the same noises for every engine."""
        for one in utterances:
            if one.place >= self._depth.most(one.what):
                continue
            self._tell(one.voice)
            self._engine.expect(one.moment.grammar)
            meant = one.moment.meaning(one.text)
            chance = self._part.chance(one.voice, one.text)
            for kind, snr, sound in self._heard_in(one.sound, one.number, chance):
                heard = self._hear(sound)
                self._score.enter(Condition(one.what, one.voice, kind, snr), heard, one.text,
                                  meant, one.moment.means(heard), one.moment.needs(heard))

    def digits(self, files: list[tuple[Path, int, str]]) -> None:
        """Human digits, ten of them expected."""
        self._engine.expect(Grammar(frozenset(DIGITS)))
        for at, (path, digit, speaker) in self._some(files, self._depth.digits):
            self._tell(f"digits, {at} of {len(files)}")
            chance = self._part.chance(path.name)
            sound = framed(read(path), chance)
            for kind, snr, mixed in self._heard_in(sound, at, chance):
                heard = self._hear(mixed)
                self._score.enter(Condition("human digits", speaker, kind, snr), heard,
                                  DIGITS[digit], DIGITS[digit], getattr(heard, "text", None))

    def speech(self, files: list[Path], moments: Sequence[Moment]) -> None:
        """Speech that is no command, a moment counted apart from another; what was taken or asked
        about is listed."""
        kinds = {kind: [m for m in moments if m.kind == kind] for kind in MOMENTS}
        for at, path in self._some(files, self._depth.speech):
            self._tell(f"no commands, {at} of {len(files)}")
            sound = framed(read(path), self._part.chance(path.name))
            here = MOMENTS if self._depth.all_moments else (MOMENTS[at % len(MOMENTS)],)
            self.found.hours += len(here) * seconds(sound) / 3600
            for kind in here:
                moment = kinds[kind][at % len(kinds[kind])]
                self._engine.expect(moment.grammar)
                heard = self._hear(sound)
                means, needs = moment.means(heard), moment.needs(heard)
                self._score.enter(Condition(f"no command, {kind}", "human", "clean", "clean"),
                                  heard, "", None, means, needs)
                if (means is not None and isinstance(heard, Hypothesis)
                        and heard.confidence >= self._score.bands.unsure):
                    its_own = kind == "hold" and heard.text == normal(
                        moment.checklist.steps[moment.state.at].respond)
                    self.found.taken.append({
                        "file": path.name, "moment": kind, "heard": heard.text,
                        "confidence": round(heard.confidence, 3),
                        "taken": heard.confidence >= needs,
                        "its own response": its_own})

    def alone(self, moments: Sequence[Moment]) -> None:
        """Pieces of 3 s of each noise without speech, at a hold point."""
        self._engine.expect(next(m for m in moments if m.kind == "hold").grammar)
        for kind, sound in self._noises.items():
            pieces = min(self._depth.alone, int(seconds(sound))) // 3
            for at in self._part.share.numbers(pieces):
                began = at * 3 * SAMPLE_RATE
                heard = self._hear(sound[began : began + 3 * SAMPLE_RATE])
                self._score.enter(Condition("noise alone", "nobody", kind, "noise"), heard, "",
                                  None, getattr(heard, "text", None))
                self.found.pieces[kind] += 1

    def _heard_in(self, sound: Samples, number: int, chance: random.Random
                  ) -> Iterator[tuple[str, str, Samples]]:
        """Quiet, and at each ratio in every noise, or in one: the next one with the next
        utterance."""
        yield "clean", "clean", sound
        names = list(self._noises)
        for place, snr in enumerate(SNRS):
            turn = [names[(number + place) % len(names)]]
            for kind in names if self._depth.all_noises else turn:
                under = self._noises[kind]
                at = chance.randrange(max(1, len(under) - len(sound)))
                yield kind, str(snr), mix_at_snr(sound, under[at : at + len(sound)], snr)

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
        self._score.used_seconds += time.process_time() - began
        self._score.heard_seconds += seconds(sound)
        return heard

    def _some(self, files: list[Of], most: int) -> Iterator[tuple[int, Of]]:
        """At most so many of them, of these its share, with their number."""
        if len(files) > most:
            files = [files[at * len(files) // most] for at in range(most)]
        return ((at, files[at]) for at in self._part.share.numbers(len(files)))

    def _tell(self, doing: str) -> None:
        share = self._part.share
        which = f", {share}" if share.of > 1 else ""
        self._progress.tell(f"{self._engine.name}{which}: {doing}")


def _engine(found: Found) -> dict[str, Any]:
    score = found.score
    everything = [pair for pairs in score.sure.values() for pair in pairs]
    speech = {kind: score.total(what=f"no command, {kind}") for kind in MOMENTS}
    wrong = sum(tally.wrong for tally in speech.values())
    n = sum(tally.n for tally in speech.values())
    return {
        "rows": [asdict(condition) | asdict(tally) for condition, tally in score.tallies.items()],
        "speech that is no command": {
            "hours heard": round(found.hours, 3), "n": n, "taken": wrong,
            "taken an hour": round(wrong / found.hours, 2) if found.hours else None,
            "asked about": sum(tally.asked for tally in speech.values()),
            "hold responses": sum(one["its own response"] and one["taken"] for one in found.taken),
            "what": found.taken},
        "noise alone": {
            "pieces of 3 s": dict(found.pieces), "taken": score.total(what="noise alone").wrong},
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
              type=click.Choice(ENGINES),
              help="Measure just this one; may be repeated.")
@click.option("--quick", is_flag=True, help="A sample of everything, in about three minutes.")
@click.option("--every-noise", is_flag=True,
              help="Each utterance in every noise at every ratio: four times the work.")
@click.option("--jobs", type=click.IntRange(min=1), default=1, show_default=True,
              help="Processes; each hears its share.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here, and a plot beside it (.png).")
def hearing(
    digits: Path | None, not_commands: Path | None, noise_file: Path | None, vosk: Path | None,
    model: Path | None, only: tuple[str, ...], quick: bool, every_noise: bool, jobs: int,
    out: Path | None,
) -> None:
    """Accuracy by voice, noise and engine; false accepts; calibration; time and memory.

    Voices that trained no network speak commands, hold-point responses and readings, each against
    everything that may be said at that moment of a shipped checklist, quiet and at each ratio in
    one of the noises in turn.  Our engine hears every file; the plain ones, slower, a part (see n).
    """
    check_place(out)
    report = bench_hearing(
        Files(digits, not_commands, noise_file), vosk=vosk, model=model, quick=quick,
        every_noise=every_noise, only=only, jobs=jobs)
    show(report)
    write_results(out, report)
    if out is not None:
        plot(report, out.with_suffix(".png"))
        click.echo(f"wrote {out.with_suffix('.png')}")
