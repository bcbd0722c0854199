"""`python -m benchmarks outdoors`: accuracy live, in recorded noise that trained nothing.

Voices say commands, hold-point responses and readings, and people single words, each at a moment of
a shipped checklist with all that may be said then, in a noise that goes on without a break: through
speech gate, endpointing, early answers and recogniser, as from a microphone.  May import everything
of the program.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import click
import numpy as np

from benchmarks.baseline_engines import OWN, open_engine
from benchmarks.gate import bare
from benchmarks.hearing import DIGITS
from benchmarks.jobs import Share, in_processes
from benchmarks.recordings import digits_in, read, sounds_in, without_end
from benchmarks.results_file import NowAndThen, check_place, write_results
from benchmarks.speakers import speakers
from benchmarks.spoken_phrases import Moment, commands, readings, responses, shipped_moments
from benchmarks.tally import Condition, Score, Tally
from handsfree.audio import FRAME, SAMPLE_RATE, Samples, to_int16
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection
from handsfree.language.loader import load_language
from handsfree.session.understanding import Bands
from handsfree.sound.mixing import gain_for_snr

TRAINED = ("rain", "waves", "city", "wind", "summer-night")
"""Recordings that trained gate and confidence (`recipes/recorded.py`); a test compares."""

SNRS = ("clean", "15", "10", "5")
BEFORE, AFTER = 2.5, 1.5
"""Seconds of noise between one utterance and the next."""

MISSED = Rejection("noise", 0.0, 0.0)
"""Stands for an utterance for which the gate never opened."""

KINDS = ("commands", "hold responses", "readings", "human digits", "human words")
"""What is said."""

LOSSES = ("gate shut", "nothing heard", "another was best", "taken for another", "right but unsure")
"""Why something was not taken rightly."""


@dataclass(frozen=True)
class Said:
    """What is said in a stream: kind, voice, text, moment (None for a closed set of `words`)."""

    what: str
    voice: str
    text: str
    sound: Samples
    moment: Moment | None
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Part:
    """What one process hears.  each: utterances of a kind by a voice, at each ratio."""

    share: Share
    each: int
    noises: dict[str, Path]
    digits: Path | None
    words: Path | None
    people: int
    seed: int
    voices: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    snrs: tuple[str, ...] = ()


@dataclass
class Found:
    """What came of it.  missed: utterances for which the gate did not open, by ratio.
    openings: where nothing was said, by what came of them ("heard", or why it was rejected).
    lost: what was not taken rightly, by kind, ratio and why (`why_lost`).  wrongly: each time that
    something was taken for another.  waited: seconds from the end of what was said to an answer of the
    recogniser, by ratio.  late: what was answered so late, after `AFTER`, that it counts as missed.
    rows: each utterance, for comparing two runs of one seed with each other."""

    score: Score = field(default_factory=Score)
    missed: dict[str, int] = field(default_factory=dict)
    openings: dict[str, int] = field(default_factory=dict)
    lost: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    wrongly: list[str] = field(default_factory=list)
    waited: dict[str, list[float]] = field(default_factory=dict)
    late: dict[str, int] = field(default_factory=dict)
    rows: list[dict[str, Any]] = field(default_factory=list)
    hours: float = 0.0

    def add(self, other: Found) -> None:
        """Count what another counted as well."""
        self.score.add(other.score)
        for snr, count in other.missed.items():
            self.missed[snr] = self.missed.get(snr, 0) + count
        for reason, count in other.openings.items():
            self.openings[reason] = self.openings.get(reason, 0) + count
        self.lost += other.lost
        self.wrongly += other.wrongly
        for snr, some in other.waited.items():
            self.waited.setdefault(snr, []).extend(some)
        for snr, count in other.late.items():
            self.late[snr] = self.late.get(snr, 0) + count
        self.rows += other.rows
        self.hours += other.hours


def utterances(part: Part) -> Iterator[Said]:
    """All that is said, in every share the same."""
    language = load_language("en")
    moments = shipped_moments(language)
    for voice, say in speakers().items():
        if part.voices and voice not in part.voices:
            continue
        rng = random.Random(f"{part.seed} {voice}")
        for what, placed in (
            ("commands", commands(moments, language, rng)),
            ("hold responses", responses(moments)),
            ("readings", readings(moments, language)),
        ):
            for text in rng.sample(sorted(placed), len(placed))[: part.each]:
                sound = say(text.replace("psi", "P S I"), rng)
                yield Said(what, voice, text, bare(sound), placed[text])
    rng = random.Random(part.seed)
    if part.digits:
        files = digits_in(part.digits)
        for path, digit, speaker in rng.sample(files, min(part.people, len(files))):
            yield Said("human digits", speaker, DIGITS[digit], read(path), None, DIGITS)
    if part.words:
        files_ = sounds_in(part.words)
        closed = tuple(sorted({path.stem.rsplit("_", 1)[0] for path in files_}))
        for path in rng.sample(files_, min(part.people, len(files_))):
            yield Said("human words", "many", path.stem.rsplit("_", 1)[0], read(path), None, closed)


def heard(part: Part) -> Found:
    """One process's share: each noise and ratio is a stream of its own."""
    language = load_language("en")
    found, progress = Found(), NowAndThen()
    engine = open_engine(OWN, language.pronunciations, None, None)
    said = [one for one in utterances(part) if not part.kinds or one.what in part.kinds]
    conditions = [("clean", "clean")] + [
        (noise, snr) for noise in part.noises for snr in SNRS[1:]]
    conditions = [one for one in conditions if not part.snrs or one[1] in part.snrs]
    for number in part.share.numbers(len(conditions)):
        noise, snr = conditions[number]
        pull = without_end(part.noises[noise]) if noise in part.noises else None
        ear, level = Listener(engine), level_of(pull) if pull else 1.0
        # In the quiet everything, in each noise its share, so that every noise hears others.
        turn = list(part.noises).index(noise) if pull else 0
        mine = said if pull is None else said[turn :: len(part.noises)]
        for at, one in enumerate(mine):
            _hear(ear, one, pull, level, snr, noise, found)
            progress.tell(f"{noise} {snr}: {at} of {len(mine)}")
    engine.close()
    return found


def level_of(pull: Callable[[int], Samples]) -> float:
    """RMS of the next half minute of a noise: one loudness for the whole stream."""
    return max(1.0, float(np.sqrt(np.mean(pull(30 * SAMPLE_RATE).astype(np.float64) ** 2))))


def listened(
    ear: Listener, speech: Samples, pull: Callable[[int], Samples] | None, level: float, snr: float
) -> tuple[Heard, float, list[Heard]]:
    """What an ear makes of speech in a stream that goes on: the answer to it (`MISSED` for none),
    seconds from its end to the answer, and what else was heard, where nothing was said.

    pull: the noise, of that level (RMS), in which it is said at `snr` decibels; None for the quiet.
    """
    before, after = round(BEFORE * SAMPLE_RATE), round(AFTER * SAMPLE_RATE)
    total = before + len(speech) + after
    if pull is None:
        sound = np.random.default_rng(len(speech)).normal(0, 3, total)
        sound[before : before + len(speech)] += speech
    else:
        sound = pull(total).astype(np.float64)
        sound *= 1500 / level
        beside = to_int16(sound[before : before + len(speech)])
        gain = gain_for_snr(speech, beside, snr)
        sound[before : before + len(speech)] += speech / max(gain, 1e-6)
        sound *= min(1.0, 30000 / float(np.abs(sound).max()))
    began = ear.now
    first, last = began + BEFORE, began + BEFORE + len(speech) / SAMPLE_RATE
    answer: Heard = MISSED
    waited, others = 0.0, []
    joined = to_int16(sound)
    for at in range(0, total, FRAME):
        some = ear.feed(joined[at : at + FRAME])
        if some is None:
            continue
        if some.start < last and some.end > first - 0.3:
            if answer is MISSED or isinstance(some, Hypothesis):
                answer, waited = some, ear.now - last
        else:
            others.append(some)
    return answer, waited, others


def _hear(
    ear: Listener, one: Said, pull: Any, level: float, snr: str, noise: str, found: Found
) -> None:
    ear.expect(one.moment.grammar if one.moment else Grammar(frozenset(one.words)))
    began = ear.now
    answer, waited, others = listened(
        ear, one.sound, pull, level, float(snr) if pull else 0.0)
    for some in others:
        reason = "heard" if isinstance(some, Hypothesis) else some.reason
        found.openings[reason] = found.openings.get(reason, 0) + 1
        found.late[snr] = found.late.get(snr, 0) + (some.start < began - AFTER)
    if answer is not MISSED:
        found.waited.setdefault(snr, []).append(waited)
    found.hours += (ear.now - began) / 3600
    found.missed[snr] = found.missed.get(snr, 0) + (answer is MISSED)
    meant = one.moment.meaning(one.text) if one.moment else one.text
    if one.moment:
        means, needs = one.moment.means(answer), one.moment.needs(answer)
    else:
        means, needs = getattr(answer, "text", None), None
    given = answer if isinstance(answer, Hypothesis) else Rejection(
        answer.reason, answer.start, answer.end)  # a phrase that was rejected is no guess
    found.score.enter(Condition(one.what, one.voice, noise, snr), given, one.text, meant, means,
                      needs)
    best = answer.text if isinstance(answer, Hypothesis) else answer.best
    comes_to = one.moment.meaning(best) if one.moment and best else best or None
    sure = isinstance(answer, Hypothesis) and answer.confidence >= (needs or Bands().certain)
    why = why_lost(answer, comes_to == meant, sure)
    found.rows.append({
        "what": one.what, "voice": one.voice, "noise": noise, "snr": snr, "said": one.text,
        "best": best, "confidence": round(answer.confidence, 3), "why": why,
        "reason": getattr(answer, "reason", ""), "waited": round(waited, 2)})
    if why:
        found.lost[one.what, snr, why] += 1
    if why == "taken for another":
        found.wrongly.append(f"'{one.text}' for '{best}' ({one.what}, {one.voice}, {noise} {snr},"
                             f" {getattr(answer, 'confidence', 0.0):.2f})")


def why_lost(answer: Heard, right: bool, sure: bool) -> str:
    """Why something was not taken rightly, one of `LOSSES`, or "" when it was.

    right: whether the best phrase means what was said, be it rejected.  sure: whether it is taken.
    """
    if answer is MISSED:
        return "gate shut"
    if not (answer.text if isinstance(answer, Hypothesis) else answer.best):
        return "nothing heard"
    if not right:
        return "taken for another" if sure else "another was best"
    return "" if sure else "right but unsure"


def show(found: Found) -> None:
    """By kind and ratio, by noise, by voice."""
    kinds = sorted({c.what for c in found.score.tallies})
    for what in kinds:
        cells = [found.score.total(what=what, snr=snr) for snr in SNRS]
        click.echo(f"{what:16}" + "".join(
            f"  {snr:>5}: {_shares(tally)}" for snr, tally in zip(SNRS, cells, strict=True)))
        for snr, tally in zip(SNRS, cells, strict=True):
            lost = ", ".join(f"{found.lost[what, snr, why]} {why}" for why in LOSSES
                             if found.lost[what, snr, why])
            click.echo(f"    lost at {snr:>5}: {tally.n - tally.right}" + (lost and f": {lost}"))
    for by in ("noise", "voice"):
        for name in sorted({getattr(c, by) for c in found.score.tallies}):
            for what in kinds:
                rows = [(snr, found.score.total(**{"what": what, "snr": snr, by: name}))
                        for snr in SNRS]
                if any(tally.n for _, tally in rows):
                    click.echo(f"  {name:16}{what:16}" + "".join(
                        f"  {snr:>5}: {_shares(tally)}" for snr, tally in rows if tally.n))
    for one in sorted(found.wrongly):
        click.echo(f"taken wrongly: {one}")
    click.echo("gate did not open: " + ", ".join(
        f"{snr} {found.missed.get(snr, 0)}" for snr in SNRS))
    for snr in SNRS:
        if some := found.waited.get(snr):
            click.echo(f"answered after, {snr:>5}: median {np.median(some):.2f} s, 95 %"
                       f" {np.quantile(some, 0.95):.2f} s; after more than a second"
                       f" {sum(one > 1 for one in some)} of {len(some)}, too late"
                       f" {found.late.get(snr, 0)}")
    told = ", ".join(f"{count} {reason}" for reason, count in sorted(found.openings.items()))
    click.echo(f"where nothing was said, in {found.hours:.2f} h: {told or 'no opening'}")


def _shares(tally: Tally) -> str:
    n = max(tally.n, 1)
    return f"{tally.best / n:.3f} {tally.right / n:.3f} wrong {tally.wrong / n:.3f} (n {tally.n})"


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--all-noises", is_flag=True,
              help="The recordings too with which gate and confidence were trained.")
@click.option("--digits", type=click.Path(path_type=Path), metavar="DIR",
              help="People's digits, named DIGIT_SPEAKER_TAKE.flac (or .wav).")
@click.option("--words", type=click.Path(path_type=Path), metavar="DIR",
              help="People's words, named WORD_TAKE.flac (or .wav): each against all of them.")
@click.option("--each", type=click.IntRange(1), default=14, show_default=True,
              help="Commands, responses and readings of each voice.")
@click.option("--people", type=click.IntRange(1), default=600, show_default=True,
              help="Digits and words at most.")
@click.option("--voice", "voices", multiple=True, help="Just this voice; may be repeated.")
@click.option("--kind", "kinds", multiple=True, type=click.Choice(KINDS),
              help="Just this; may be repeated.")
@click.option("--snr", "snrs", multiple=True, type=click.Choice(SNRS),
              help="Just at this ratio; may be repeated.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True,
              help="Processes; each hears its share.")
@click.option("--seed", type=int, default=1, show_default=True, help="Other texts.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here.")
def outdoors(
    folder: Path, all_noises: bool, digits: Path | None, words: Path | None, each: int,
    people: int, voices: tuple[str, ...], kinds: tuple[str, ...], snrs: tuple[str, ...],
    jobs: int, seed: int, out: Path | None,
) -> None:
    """Accuracy through gate, endpointing and recogniser, in the noises recorded in FOLDER.

    Each kind is told as: best guess (not rejected), taken and right, taken wrongly, and why the
    others were lost: gate, another phrase, or right but not surely enough.  In the quiet
    everything is said, in each noise at each ratio its share of it.
    """
    check_place(out)
    noises = {path.stem: path for path in sounds_in(folder)
              if all_noises or path.stem not in TRAINED}
    parts = [Part(Share(job, jobs), each, noises, digits, words, people, seed, voices, kinds,
                  snrs) for job in range(jobs)]
    found = Found()
    for _, some in in_processes(jobs, heard, parts):
        found.add(some)
    show(found)
    write_results(out, {
        "noises": sorted(noises), "missed": found.missed, "openings": found.openings,
        "hours": round(found.hours, 3), "lost": [[*key, n] for key, n in found.lost.items()],
        "wrongly": sorted(found.wrongly), "late": found.late, "utterances": found.rows,
        "rows": [asdict(c) | asdict(t) for c, t in found.score.tallies.items()]})
