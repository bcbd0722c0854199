"""`python -m benchmarks overheard`: people's speech not meant for the program, at every kind of moment.

Each recording is heard at hold points of all shipped checklists, at ordinary steps, where a reading
is due and where one is confirmed, clean and in noise, with all that may be said then; what is taken
is told.  May import everything of the program.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import click
import numpy as np

from benchmarks.baseline_engines import OWN, open_engine
from benchmarks.hearing import DIGITS
from benchmarks.jobs import Share, in_processes
from benchmarks.outdoors import TRAINED
from benchmarks.recordings import read, sounds_in, without_end
from benchmarks.results_file import NowAndThen, check_place, write_results
from benchmarks.speakers import framed
from benchmarks.spoken_phrases import Moment, shipped_moments
from handsfree.audio import SAMPLE_RATE, Samples, silence
from handsfree.engine.state import Confirm, Respond
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Heard, Hypothesis, Recogniser, Rejection, normal
from handsfree.language.loader import load_language
from handsfree.session.understanding import Bands
from handsfree.sound.mixing import mix_at_snr
from handsfree.storage.paths import checklists_folder

KINDS = {
    "hold": ("hold", "remedy hold", "alarm"),
    "step": ("step", "remedy step"),
    "reading": ("reading", "remedy reading"),
    "confirm": ("confirm",),
}
"""Kinds of moments (of `proof.moments`) by the name they are told under."""

MOMENTS = 14
"""So many moments of a kind take turns; as many as the recogniser keeps compiled."""

AROUND = 2.0, 1.2
"""Seconds of noise before and after a recording that is heard live."""


@dataclass(frozen=True)
class Part:
    """What one process hears; `snr` in decibels, `noises` empty for none."""

    share: Share
    folders: tuple[Path, ...]
    noises: tuple[Path, ...]
    snr: float
    kinds: tuple[str, ...]
    times: int
    seed: int
    live: bool = False


@dataclass
class Row:
    """What came of the recordings of one folder at one kind of moment.

    taken: (checklist, recording, phrase, confidence) of what was acted on, be it only by saying
    what is wanted here.  settled: how many of these answered a hold point or an alarm, or confirmed
    what was read back.  asked: asked about.
    """

    folder: str
    kind: str
    noise: str
    times: int = 0
    asked: int = 0
    settled: int = 0
    taken: list[tuple[str, str, str, float]] = field(default_factory=list)

    def add(self, other: Row) -> None:
        """Count what another counted as well."""
        self.times += other.times
        self.asked += other.asked
        self.settled += other.settled
        self.taken += other.taken


def text_of(path: Path) -> str:
    """What is said in a recording by its name, as far as that tells: DIGIT_SPEAKER_TAKE, WORD_TAKE
    or WORDS-OF-IT."""
    first = path.stem.split("_")[0]
    return normal(DIGITS[int(first)] if re.fullmatch("[0-9]", first) else first.replace("-", " "))


def moments_of(kind: str, rng: random.Random) -> list[Moment]:
    """`MOMENTS` moments of a kind: of each checklist in turn, as far as it has such."""
    language, of_list = load_language("en"), []
    for path in sorted(checklists_folder().glob("*.yaml")):
        some = [m for m in shipped_moments(language, (path.stem,)) if m.kind in KINDS[kind]]
        if some:
            of_list.append(rng.sample(some, len(some)))
    rng.shuffle(of_list)
    turns = [some[at] for at in range(MOMENTS) for some in of_list if at < len(some)]
    return turns[:MOMENTS]


def heard(part: Part) -> list[Row]:
    """One process's share: each recording at `times` moments of each kind, clean and in a noise."""
    engine = open_engine(OWN, load_language("en").pronunciations, None, None)
    noises = {path.stem: without_end(path)(60 * SAMPLE_RATE) for path in part.noises}
    found: dict[tuple[str, str, str], Row] = {}
    progress = NowAndThen()
    for kind in part.kinds:
        rng = random.Random(f"{part.seed} {kind}")
        moments = moments_of(kind, rng)
        files = [(folder, path) for folder in part.folders for path in sounds_in(folder)]
        for number in part.share.numbers(len(files)):
            folder, path = files[number]
            for turn in range(part.times):
                moment = moments[(number + turn * 5) % len(moments)]
                if moment.meaning(text_of(path)) is not None:
                    continue  # it may be said here
                around = AROUND if part.live else (0.0, 0.0)
                for name, sound in _sounds(path, noises, part.snr, number + turn, around):
                    row = found.setdefault(
                        (folder.name, kind, name and f"{part.snr:g} dB"),
                        Row(folder.name, kind, f"{part.snr:g} dB" if name else "clean"))
                    about = f"{path.name} {name}".strip()
                    answers = _live(moment, engine, sound) if part.live else [
                        _cut(moment, engine, sound)]
                    _enter(row, moment, answers, about)
            progress.tell(f"{kind}, {part.share}: {number} of {len(files)}")
    engine.close()
    return list(found.values())


def _sounds(
    path: Path, noises: dict[str, Samples], snr: float, number: int, around: tuple[float, float]
) -> Iterator[tuple[str, Samples]]:
    """The recording as it is, "" for its noise, and in the noise whose turn it is; so many seconds
    of nothing but noise before and after."""
    rng = random.Random(f"{path.name} {number}")
    before, after = around
    sound = np.concatenate((silence(before), framed(read(path), rng), silence(after)))
    yield "", sound
    if noises:
        name = sorted(noises)[number % len(noises)]
        at = rng.randrange(max(1, len(noises[name]) - len(sound)))
        yield name, mix_at_snr(sound, noises[name][at : at + len(sound)], snr)


def _cut(moment: Moment, engine: Recogniser, sound: Samples) -> Heard:
    engine.expect(moment.grammar)
    engine.begin()
    engine.feed(sound)
    return engine.finish()


def _live(moment: Moment, engine: Recogniser, sound: Samples) -> list[Heard]:
    """Everything that a listener makes of it."""
    ear, answers = Listener(engine), []
    ear.expect(moment.grammar)
    answer = ear.feed(sound)
    while answer is not None:
        answers.append(answer)
        answer = ear.feed(silence(0))
    return answers


def _enter(row: Row, moment: Moment, answers: list[Heard], about: str) -> None:
    row.times += 1
    for answer in answers:
        if isinstance(answer, Rejection):
            came = moment.written(answer)
            if answer.written and came.verdict == "accepted":
                row.settled += isinstance(came.event, (Respond, Confirm))
                row.taken.append((moment.checklist.id, about, f"{answer.written} (written)",
                                  round(answer.sure, 3)))
            row.asked += came.verdict == "asked"
            continue
        if not isinstance(answer, Hypothesis) or moment.means(answer) is None:
            continue
        if answer.confidence >= moment.needs(answer):
            row.settled += moment.settles(answer)
            row.taken.append((moment.checklist.id, about, answer.text, round(answer.confidence, 3)))
        elif answer.confidence >= Bands().unsure:
            row.asked += 1


def show(rows: list[Row]) -> None:
    """By kind of moment and folder."""
    for kind in KINDS:
        some = [row for row in rows if row.kind == kind]
        total = Row("all", kind, "")
        for row in some:
            total.add(row)
        for row in [*some, total] if some else []:
            click.echo(f"{kind:9}{row.folder:20}{row.noise:7}{row.times:6} utterances"
                       f"{len(row.taken):4} taken, {row.settled} of them as the answer"
                       f"{row.asked:4} asked about")
    for row in rows:
        for checklist, about, text, sure in row.taken:
            click.echo(f"  {row.kind}, {checklist}: {about} taken for '{text}' ({sure})")


@click.command()
@click.argument("folders", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("--outdoors", type=click.Path(path_type=Path), metavar="DIR",
              help="Recorded noise, in which each recording is heard besides.")
@click.option("--snr", type=float, default=10.0, show_default=True,
              help="Signal to noise, in decibels.")
@click.option("--kind", "kinds", type=click.Choice(list(KINDS)), multiple=True,
              default=tuple(KINDS), help="Just this kind of moment; may be repeated.")
@click.option("--live", is_flag=True,
              help="Through speech gate and endpointing too, and not as one utterance each.")
@click.option("--times", type=click.IntRange(1), default=1, show_default=True,
              help="Moments of each kind at which a recording is heard.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True,
              help="Processes; each hears its share.")
@click.option("--seed", type=int, default=1, show_default=True, help="Other moments.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here.")
def overheard(
    folders: tuple[Path, ...], outdoors: Path | None, snr: float, kinds: tuple[str, ...],
    live: bool, times: int, jobs: int, seed: int, out: Path | None,
) -> None:
    """What is taken of people's recordings in FOLDERS, which nobody means for the program.

    A recording whose name says that it may be said at a moment (a digit where a reading is due,
    "yes") is not heard there.  Exit status: 1 when anything answered a hold point.
    """
    check_place(out)
    for folder in folders:
        sounds_in(folder)
    noises = tuple(path for path in sounds_in(outdoors) if path.stem not in TRAINED
                   ) if outdoors else ()
    parts = [Part(Share(job, jobs), folders, noises, snr, kinds, times, seed, live)
             for job in range(jobs)]
    total: dict[tuple[str, str, str], Row] = {}
    for _, some in in_processes(jobs, heard, parts):
        for row in some:
            total.setdefault((row.folder, row.kind, row.noise),
                             Row(row.folder, row.kind, row.noise)).add(row)
    rows = list(total.values())
    show(rows)
    report: list[dict[str, Any]] = [asdict(row) for row in rows]
    write_results(out, {"noises": [path.stem for path in noises], "snr": snr, "rows": report})
    if any(row.settled for row in rows if row.kind == "hold"):
        raise SystemExit(1)
