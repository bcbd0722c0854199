"""`python -m benchmarks faults`: sessions are killed, resumed and compared with ones that were not."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from benchmarks.power_loss import KINDS, Findings, Line
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.errors import InputError
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.language.readings import Reading, say_reading
from handsfree.rehearsal.script import Script
from handsfree.session.expecting import on_this_rig
from handsfree.storage.paths import checklist_names, checklists_folder, find_rig

KILLS_A_CONVERSATION = 12
"""A conversation is killed at most so often; then it is left to end."""


def wayward(
    checklist: Checklist, language: Language, yes: bool, traits: frozenset[str]
) -> Script:
    """An operator who skips, takes back, misjudges the order and reads wrong values.

    What they do is a function of the step alone, so that a conversation comes to the same with
    and without interruptions.
    """
    at: dict[str, tuple[str, ...]] = {}
    readings: dict[str, tuple[str, ...]] = {}
    commands = {name: wordings[0] for name, wordings in language.commands.items()}
    needed = frozenset().union(*(step.needs.names() for step in checklist.steps.values()))
    for number, name in enumerate(checklist.order):
        step = checklist.steps[name]
        limits = step.reading
        if limits and step.remedy and checklist.remedies[step.remedy].steps:
            wrong = limits.low - 5 if limits.low is not None else (limits.high or 0) + 5
            readings[name] = (
                say_reading(Reading(Fraction(round(wrong)), limits.unit), language),)
        elif step.question or limits:
            continue
        elif number % 5 == 4:
            at[name] = (commands["take_back"],)
        elif (number % 7 == 3 and not step.hold and not (step.gives | step.ends) & needed
                and any(_always(checklist, other) for other in checklist.order[number + 1:])):
            # Were nothing else left, the step would come back at once, and an operator who lost
            # the answer could not tell whether to skip it again.
            at[name] = (commands["skip"],)
        elif number % 3 == 1:
            later = [other for other in checklist.order[number + 1:] if checklist.steps[other].hold
                     and on_this_rig(checklist, checklist.steps[other], traits)]
            at[name] = tuple(f"{commands['go_to']} {_called(checklist, other)}"
                             for other in later[:1]) + (commands["repeat"],)
    return Script(answers=dict.fromkeys(checklist.steps, yes), readings=readings, at=at)


def _always(checklist: Checklist, step: str) -> bool:
    """Offered whatever the facts are."""
    found = checklist.steps[step]
    return not found.needs.names() and not found.applicable.names()


def _called(checklist: Checklist, step: str) -> str:
    return checklist.steps[step].names[0] if checklist.steps[step].names else step.replace("-", " ")


def power_losses(
    folder: Path, *, kills: int, seed: int = 1, rig: str = "survey-trailer",
    names: tuple[str, ...] = (), each: int = KILLS_A_CONVERSATION,
    kinds: Sequence[str] = KINDS, by_the_clock: bool = True,
    told: Callable[[Findings], None] = lambda found: None,
) -> Findings:
    """Walk stay after stay on one record, with and without kills, until there were enough, or
    until a session hangs, dies by itself or asks what the operator cannot answer.

    Args:
        folder: an empty one, for the two records.
        kills: how often a process is killed in all.
        names: checklists in the order of the stay; all that come with the program when empty.
        each: at most so many kills in one conversation.
        kinds: of deaths, of which each life gets one by chance.
        by_the_clock: whether "any moment" is after some time, or after so many calls of functions.
        told: is shown the findings after each conversation.
    """
    if not hasattr(os, "fork"):
        raise InputError("this needs processes that can be forked; run it on Linux or macOS.")
    loaded_rig = load_rig(find_rig(rig))
    language = load_language("en")
    killed = Line(folder / "killed", loaded_rig, language, seed, kinds=kinds,
                  by_the_clock=by_the_clock)
    whole = Line(folder / "whole", loaded_rig, language, seed)
    stay = names or (*checklist_names(), "arrive", "depart")
    loaded = {name: load_checklist(checklists_folder() / f"{name}.yaml", rig=loaded_rig,
                                   library=checklists_folder()) for name in set(stay)}
    turn = 0
    while killed.found.kills.total() < kills:
        name = stay[turn % len(stay)]
        checklist = loaded[name]
        script = wayward(checklist, language, yes=turn // len(stay) % 3 != 2,
                         traits=loaded_rig.has)
        left = min(each, kills - killed.found.kills.total())
        try:
            kept, resumed = killed.walk(checklist, script, left)
        except RuntimeError as problem:  # it cannot be gone on with
            killed.found.wrong.append(f"{name}: {problem}")
            break
        _compare(name, whole.walk(checklist, script, 0, resumed)[0], kept, killed.found)
        told(killed.found)
        turn += 1
    return killed.found


def _compare(name: str, whole: list[Any], killed: list[Any], found: Findings) -> None:
    if whole != killed:
        apart = next((i for i, (a, b) in enumerate(zip(whole, killed, strict=False)) if a != b),
                     min(len(whole), len(killed)))
        found.wrong.append(f"{name}: differs from line {apart} on: {whole[apart:apart + 2]}"
                           f" became {killed[apart:apart + 2]}")


@click.command()
@click.option("--kills", type=click.IntRange(min=1), default=1000, show_default=True,
              help="How often a session is killed.")
@click.option("--seed", type=int, default=1, show_default=True, help="Another series of moments.")
@click.option("--rig", default="survey-trailer", show_default=True, help="Rig of the sessions.")
def faults(kills: int, seed: int, rig: str) -> None:
    """Kill sessions at random moments, resume them, and look for what is lost or doubled.

    Every checklist that comes with the program is walked, in words, with its real record on disk,
    once without and once with power losses.  Exit status 1 when the two differ.
    """
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="handsfree-faults-") as folder:
        found = power_losses(
            Path(folder), kills=kills, seed=seed, rig=rig,
            told=lambda now: click.echo(f"\r{now.kills.total()} kills", nl=False, err=True))
    click.echo("", err=True)
    for kind in KINDS:
        click.echo(f"{found.kills[kind]:6d}  killed {'at ' if kind == KINDS[0] else ''}{kind}")
    click.echo(f"{found.cut:6d}  of them lost what was not yet on disk, too")
    click.echo(f"{found.torn:6d}  torn lines set aside and said")
    click.echo(f"{found.conversations:6d}  conversations, each compared with one never killed")
    click.echo(f"{found.confirmed:6d}  confirmations heard by the operator")
    click.echo(f"{len(found.wrong):6d}  reports lost, doubled or different")
    click.echo(f"{time.monotonic() - began:6.0f}  seconds (seed {seed})")
    for line in found.wrong[:20]:
        click.echo(line)
    if found.wrong:
        raise SystemExit(1)
