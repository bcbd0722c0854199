"""`python -m benchmarks pace`: how far a usual stay makes one walk, as written and at the least.

The figures are of the rigs that come with the program, on the places of `checklists/core/places.yaml`,
with full hook-ups and all going well; they are worked out, not measured on anybody.  May import the
checklist loader and the room of ways; click.
"""

from __future__ import annotations

import time

import click

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.way.kept import way_of

RIGS = ("small-single", "survey-trailer", "tandem-slide", "fifth-wheel")
LISTS = ("arrive", "depart")


def row(rig_name: str, name: str) -> str:
    """One line of the table, as Markdown.

    `least` are minutes of walking that no order goes below that keeps what must come first, and
    together; `above` is by how much the way found does, since what waits comes when it is due.
    """
    rig = load_rig(find_rig(rig_name))
    checklist = load_checklist(checklists_folder() / f"{name}.yaml", rig=rig,
                               library=checklists_folder())
    began = time.process_time()
    found = way_of(checklist, rig)
    took = time.process_time() - began
    before, after = found.before, found.after
    least = f"{found.optimum / 60:.1f}" if found.optimum else "-"
    above = f"{100 * (after.seconds / found.optimum - 1):.0f} %" if found.optimum else "-"
    cells = (rig_name, name, f"{before.feet:.0f}", f"{after.feet:.0f}",
             before.crossings, after.crossings, before.doors, after.doors,
             f"{before.seconds / 60:.1f}", f"{after.seconds / 60:.1f}", f"{before.waited:.1f}",
             f"{after.waited:.1f}", found.method, least, above, f"{took:.1f}")
    return "| " + " | ".join(map(str, cells)) + " |"


@click.command()
@click.option("--rig", "rigs", multiple=True, default=RIGS, show_default=True,
              help="Rig to walk with; may be given several times.")
@click.option("--list", "lists", multiple=True, default=LISTS, show_default=True,
              help="Checklist to walk; may be given several times.")
def pace(rigs: tuple[str, ...], lists: tuple[str, ...]) -> None:
    """Feet, crossings, passages through the door and minutes, before and after."""
    heads = ("rig", "list", "feet", "then", "crossings", "then", "doors", "then", "walking min",
             "then", "waiting min", "then", "order", "least min", "above", "found in s")
    click.echo("| " + " | ".join(heads) + " |")
    click.echo("|" + "---|" * len(heads))
    for rig in rigs:
        for name in lists:
            click.echo(row(rig, name))
