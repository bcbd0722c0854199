"""`python -m benchmarks stays`: whole stays in noise, and what was done wrongly because it was misheard.

May import everything of the program; see `staying` for what is simulated and what is real.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from math import inf
from pathlib import Path
from typing import Any

import click

from benchmarks.baseline_engines import ENGINES, OWN, open_engine
from benchmarks.jobs import Share, in_processes
from benchmarks.results_file import NowAndThen, check_place, write_results
from benchmarks.simulated_stay import Ears, Kept, Way, stay
from benchmarks.speakers import check_voices, speakers
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.language.loader import load_language
from handsfree.sound.noise import noise
from handsfree.speaking.normalisation_table import load_normaliser
from handsfree.storage.paths import checklists_folder, find_rig

CHECKLISTS = ("arrive", "depart")
RIGS = ("survey-trailer", "small-single")
NOISES = ("wind", "rain", "engine", "pink")
SNRS = (10, 5)

_NOISE_SECONDS = 60
_WAYS = 12
"""Voices with their noise: the pool grows with them, and so does the time."""


@dataclass(frozen=True)
class Stays:
    """By ratio in dB, and how many utterances were recognised for it."""

    kept: dict[int, Kept]
    recognised: int
    minutes: float


def simulate(
    stays: int, *, engine: str = OWN, seed: int = 1, voices: tuple[str, ...] = (),
    ways: Sequence[int] = range(_WAYS), minutes: float = inf, by_heart: bool = False,
    told: Callable[[int, Ears, dict[int, Kept]], None] = lambda done, ears, kept: None,
) -> Stays:
    """So many stays at each ratio, or as many as the time allows; `voices`: only these speakers.

    Voices with a noise (of these those in `ways`), and rigs, take turns; an operator keeps voice
    and noise for a stay.
    """
    began, language = time.monotonic(), load_language("en")
    recogniser = open_engine(engine, language.pronunciations, None, None)
    mouths = {name: say for name, say in speakers().items() if not voices or name in voices}
    sounds = {kind: noise(kind, _NOISE_SECONDS, seed) for kind in NOISES}
    ears = Ears(recogniser, mouths, sounds, load_normaliser(language.code).say, seed)
    library, rigs = checklists_folder(), [load_rig(find_rig(name)) for name in RIGS]
    lists = {rig.name: tuple(load_checklist(library / f"{name}.yaml", rig=rig, library=library)
                             for name in CHECKLISTS) for rig in rigs}
    chance, kept = random.Random(f"{seed} {ways[0]}"), {snr: Kept() for snr in SNRS}
    names = list(mouths)
    for number in range(stays):
        if (time.monotonic() - began) / 60 > minutes:
            break
        rig = rigs[number % len(rigs)]
        for snr in SNRS:
            turn = ways[number // len(rigs) % len(ways)]
            way = Way(names[turn % len(names)], NOISES[turn % len(NOISES)], snr)
            stay(lists[rig.name], rig, language, ears, way, chance, kept[snr], by_heart)
        told(number + 1, ears, kept)
    recogniser.close()
    return Stays(kept, ears.recognised, (time.monotonic() - began) / 60)


def simulate_at_once(stays: int, jobs: int, engine: str, seed: int, voices: tuple[str, ...],
                     minutes: float, told: Callable[[int], None], by_heart: bool = False) -> Stays:
    """The same in so many processes, each with its share of the ways and of the stays."""
    began, kept, recognised, done = time.monotonic(), {snr: Kept() for snr in SNRS}, 0, 0
    work = partial(_share, stays=stays, engine=engine, seed=seed, voices=voices, minutes=minutes,
                   by_heart=by_heart)
    for _, one in in_processes(jobs, work, [Share(job, jobs) for job in range(jobs)]):
        recognised += one.recognised
        for snr, some in one.kept.items():
            kept[snr].add(some)
            done += some.stays
        told(done)
    return Stays(kept, recognised, (time.monotonic() - began) / 60)


def _share(share: Share, *, stays: int, engine: str, seed: int, voices: tuple[str, ...],
           minutes: float, by_heart: bool) -> Stays:
    return simulate(len(share.numbers(stays)), engine=engine, seed=seed, voices=voices,
                    ways=share.numbers(_WAYS), minutes=minutes, by_heart=by_heart)


def summed_up(kept: Kept) -> dict[str, Any]:
    """What `--json` writes of one ratio."""
    turns, wrong = kept.turns, kept.wrong
    return {
        "stays": kept.stays, "checklists closed": kept.closed, "prompts": kept.prompts,
        "turns at hold points": turns["hold"], "turns elsewhere": turns["elsewhere"],
        "wrong state changes at hold points": wrong["hold"],
        "wrong state changes elsewhere": wrong["elsewhere"],
        "wrong in 1000 prompts": round(1000 * wrong["elsewhere"] / max(kept.prompts, 1), 3),
        "extra turns a step": round(kept.extra / max(kept.steps, 1), 4),
        "not understood": kept.rejected, "asked about": kept.asked,
        "misheard without effect": kept.harmless, "orders refused": kept.refused,
        "answered by key": kept.keyed,
        "mistakes": [[*mistake, n] for mistake, n in kept.mistakes.most_common(40)],
        "misheard": [[*slip, n] for slip, n in kept.slips.most_common(40)],
    }


@click.command("stays")
@click.option("--stays", "count", type=click.IntRange(min=1), default=500, show_default=True,
              help="At each of 10 and 5 dB.")
@click.option("--engine", type=click.Choice(list(ENGINES)), default=OWN, show_default=True,
              help="Recogniser.")
@click.option("--jobs", type=click.IntRange(1, _WAYS), default=1, show_default=True,
              help="Processes; each takes its share of the voices and noises.")
@click.option("--minutes", type=click.FloatRange(min=0.1), default=inf,
              help="Begin no further stay after so long.")
@click.option("--seed", type=int, default=1, show_default=True, help="Other operators.")
@click.option("--voice", "voices", multiple=True, help="Just this voice; may be repeated.")
@click.option("--by-heart", is_flag=True, help="All that may be is done by heart.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here.")
def stays(count: int, engine: str, jobs: int, minutes: float, seed: int, voices: tuple[str, ...],
          by_heart: bool, out: Path | None) -> None:
    """Arrive and depart STAYS times at 10 and at 5 dB, and count what was done by mistake.

    Operators whose voices trained no network speak in wind, rain, engine and pink noise; the real
    recogniser hears them with what may be said at each moment, and the real conversation goes on
    from there.  They chat, ask, skip and misread now and then.  Sounds are drawn from a pool, each
    recognised once.  With 12 processes 490 stays took 8 minutes.
    """
    check_place(out)
    check_voices(voices)
    progress = NowAndThen()

    def told(done: int, ears: Ears, kept: dict[int, Kept]) -> None:
        wrong = {snr: dict(one.wrong) for snr, one in kept.items()}
        progress.tell(f"{2 * done} of {2 * count} stays, {ears.recognised} utterances recognised,"
                      f" wrong so far {wrong}")

    if jobs > 1:
        found = simulate_at_once(
            count, jobs, engine, seed, voices, minutes,
            lambda done: click.echo(f"{done} of {2 * count} stays", err=True), by_heart)
    else:
        found = simulate(
            count, engine=engine, seed=seed, voices=voices, minutes=minutes, by_heart=by_heart,
            told=told)
    report = {f"{snr} dB": summed_up(kept) for snr, kept in found.kept.items()}
    for snr, one in report.items():
        click.echo(f"\nat {snr}")
        for name, value in one.items():
            if name not in ("mistakes", "misheard"):
                click.echo(f"  {name:38}{value:>10}")
        for where, step, said, heard, n in one["mistakes"][:12]:
            click.echo(f"    {where}, at '{step}': '{said}' taken for '{heard}' ({n})")
        for said, heard, n in one["misheard"][:6]:
            click.echo(f"    without effect: '{said}' taken for '{heard}' ({n})")
    click.echo(f"\n{found.recognised} utterances recognised, the others drawn from them;"
               f" {found.minutes:.1f} minutes")
    write_results(out, {
        "engine": engine, "utterances recognised": found.recognised,
        "minutes": round(found.minutes, 1), "by ratio": report})
