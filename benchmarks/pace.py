"""`python -m benchmarks pace`: how far a usual stay makes one walk, and how much is said in it.

The walking is of the rigs that come with the program, on the places of `checklists/core/places.yaml`,
with full hook-ups and all going well; it is worked out, not measured on anybody.  The talk is that of
whole conversations at a later stay, with simulated operators: see `paced`.  With `--again`, how long
it takes to find the way anew once the order was left.  May import the checklist loader, the engine, the
room of ways, `paced`; click.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from statistics import median

import click

from benchmarks.paced import PLACE, How, Paced, middle, stays
from handsfree.audio import SAMPLE_RATE
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import Due, Mode, Skip
from handsfree.language.loader import load_language
from handsfree.review.applying import good_event
from handsfree.session.manner import PRACTISED, Manner
from handsfree.speaking.cache import PromptCache
from handsfree.speaking.normalisation_table import load_normaliser
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.way.kept import rerouting, way_of
from handsfree.way.places import load_layout
from handsfree.way.shortest import Way, permuted, usual_record

RIGS = ("small-single", "survey-trailer", "tandem-slide", "fifth-wheel")
STAY = LISTS = ("arrive", "depart")

MANNERS: Mapping[str, Manner] = {
    "long": Manner(), "short": Manner(form="brief"), "by heart": PRACTISED}
"""By heart: all that may be, spoken fast, in the order that walks least, at a place that is known;
else in the list's own, at a place that has no name."""

DRAWS = 3
"""Simulated operators; their medians are told."""

READINGS = {"load": ("six hundred watts",)}
"""A usual evening's; the middle of the limits would be too much for a small breaker."""


def way(rig: Rig, name: str) -> tuple[Way, float]:
    """The way found, and the processor seconds that it took."""
    checklist = load_checklist(checklists_folder() / f"{name}.yaml", rig=rig,
                               library=checklists_folder())
    began = time.process_time()
    return way_of(checklist, rig), time.process_time() - began


def row(rig: str, name: str, found: Way, took: float) -> str:
    """One line of the walking, as Markdown.

    `least` are minutes of walking that no order goes below that keeps what must come first, and
    together; `above` is by how much the way found does, since what waits comes when it is due.
    """
    before, after = found.before, found.after
    least = f"{found.optimum / 60:.1f}" if found.optimum else "-"
    above = f"{100 * (after.seconds / found.optimum - 1):.0f} %" if found.optimum else "-"
    cells = (rig, name, f"{before.feet:.0f}", f"{after.feet:.0f}",
             before.crossings, after.crossings, before.doors, after.doors,
             f"{before.seconds / 60:.1f}", f"{after.seconds / 60:.1f}", f"{before.waited:.1f}",
             f"{after.waited:.1f}", found.method, least, above, f"{took:.1f}")
    return "| " + " | ".join(map(str, cells)) + " |"


def spoken(
    rig: Rig, form: str, ways: Mapping[str, Way], lasting: Callable[[str], float]
) -> dict[str, Paced]:
    """What the lists of a later stay come to in one of `MANNERS`."""
    by_heart = form == "by heart"
    how = How(MANNERS[form], PLACE if by_heart else "",
              {name: found.order for name, found in ways.items()} if by_heart else None, READINGS)
    drawn: dict[str, list[Paced]] = {name: [] for name in STAY}
    for seed in range(DRAWS):
        with tempfile.TemporaryDirectory(prefix="handsfree-pace-") as folder:
            told = stays(rig, STAY * 2, load_language("en"), Path(folder), how, lasting, seed)
        for name, one in zip(STAY, told[len(STAY):], strict=True):
            drawn[name].append(one)
    return {name: middle(some) for name, some in drawn.items()}


def talk_row(rig: str, name: str, form: str, told: Paced, found: Way) -> str:
    """One line of the talk, as Markdown; minutes, but for words and utterances."""
    walk = (found.after if form == "by heart" else found.before).seconds
    cells = (rig, name, form, f"{told.talk / 60:.2f}", f"{told.words:.0f}", f"{told.answers:.0f}",
             *(f"{seconds / 60:.1f}" for seconds in (told.waiting, walk, told.work, told.whole)))
    return "| " + " | ".join(cells) + " |"


def found_again(rig: Rig, name: str, order: tuple[str, ...]) -> list[float]:
    """Milliseconds to find the way anew, at each step of a usual stay in this order, were it skipped."""
    library = checklists_folder()
    c = permuted(load_checklist(library / f"{name}.yaml", rig=rig, library=library), order)
    found = rerouting(c, rig)
    assert found is not None
    took = []
    answers = dict.fromkeys(c.steps, True)
    arrive = load_checklist(library / "arrive.yaml", rig=rig, library=library)
    state, _ = begin(c, usual_record(c, rig.has, load_layout(library, rig), {arrive.id: arrive}))
    for _ in range(20 * len(c.steps)):
        if state.mode is Mode.STEP and state.at in c.order:
            left, _ = advance(c, state, Skip())
            if left.mode is Mode.STEP:
                began = time.perf_counter()
                found.next(left)
                took.append(1000 * (time.perf_counter() - began))
        event = Due(min(state.waits)) if state.mode is Mode.WAITING else good_event(c, state, answers, {})
        if event is None:
            break
        state, _ = advance(c, state, event)
    return took


def head(*names: str) -> None:
    """The first two lines of a table."""
    click.echo("| " + " | ".join(names) + " |")
    click.echo("|" + "---|" * len(names))


@click.command()
@click.option("--rig", "rigs", multiple=True, default=RIGS, show_default=True,
              help="Rig to walk with; may be given several times.")
@click.option("--list", "lists", multiple=True, default=LISTS, show_default=True,
              help="Checklist to walk; may be given several times.")
@click.option("--talk/--no-talk", default=True, help="How much is said, too; takes some minutes.")
@click.option("--again", is_flag=True,
              help="Only how long the way takes to be found anew, once a step was skipped.")
def pace(rigs: tuple[str, ...], lists: tuple[str, ...], talk: bool, again: bool) -> None:
    """Feet, crossings, doors and minutes, before and after; and the talk of a later stay."""
    if again:
        head("rig", "list", "moments", "median ms", "longest ms")
        for rig, name in ((rig, name) for rig in rigs for name in lists):
            one = load_rig(find_rig(rig))
            ms = found_again(one, name, way(one, name)[0].order)
            click.echo(f"| {rig} | {name} | {len(ms)} | {median(ms):.1f} | {max(ms):.1f} |")
        return
    head("rig", "list", "feet", "then", "crossings", "then", "doors", "then", "walking min", "then",
         "waiting min", "then", "order", "least min", "above", "found in s")
    loaded = {name: load_rig(find_rig(name)) for name in rigs}
    ways: dict[str, dict[str, Way]] = {rig: {} for rig in rigs}
    for rig in rigs:
        for name in lists:
            ways[rig][name], took = way(loaded[rig], name)
            click.echo(row(rig, name, ways[rig][name], took))
    if not talk:
        return
    reading, language = load_normaliser("en"), load_language("en")
    click.echo("")
    head("rig", "list", "form", "talk min", "words", "utterances", "waiting min", "walking min",
         "work min", "whole min")
    for form, manner in MANNERS.items():
        with (Pyttsx3Voice(VoiceOptions(language=language.voice, rate=manner.rate)) as voice,
              PromptCache(voice) as cache):

            def lasting(text: str, cache: PromptCache = cache) -> float:
                return len(cache.get(reading.say(text))) / SAMPLE_RATE

            for rig in rigs:
                whole = {**{name: way(loaded[rig], name)[0] for name in STAY
                            if name not in ways[rig]}, **ways[rig]}
                for name, told in spoken(loaded[rig], form, whole, lasting).items():
                    if name in lists:
                        click.echo(talk_row(rig, name, form, told, whole[name]))
