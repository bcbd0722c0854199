"""`handsfree way`: the order of a checklist that walks least, and its way on a plan of the rig."""

from __future__ import annotations

from pathlib import Path

import click

from handsfree.cli.complete import checklists, rigs
from handsfree.errors import InputError
from handsfree.storage.paths import choose_rig, data_folder, find_checklist, find_rig


@click.command()
@click.argument("checklist", shell_complete=checklists)
@click.option("--rig", default=None, metavar="NAME", shell_complete=rigs,
              help="Rig file: a name or a path.")
@click.option("--svg", type=click.Path(path_type=Path), default=None, metavar="FILE",
              help="Draw both ways on a plan of the rig.")
@click.option("--two", is_flag=True,
              help="Instead: who does what when, so that two people finish soonest.")
def way(checklist: str, rig: str | None, svg: Path | None, two: bool) -> None:
    """How far CHECKLIST makes you walk, and the order that walks least.

    The order is one the list's interlocks permit, for an ordinary stay with full hook-ups where all
    goes well; no step moves past one in which the trailer moves. `order: shortest` in the
    rig file, or --shortest with run and rehearse, offers the steps in it; every interlock and never
    rule holds as before. Places are the usual ones for that kind of rig; `sides:` and `places:` in
    the rig file say where yours are.

    With --two, it looks for the fastest schedule for two people, one outside and one inside,
    walking included, and says how close that is to the least possible. It is only a plan: sessions
    for two keep the list's order.
    """
    from handsfree.checklist.loader import load_checklist
    from handsfree.checklist.rig_file import load_rig
    from handsfree.storage.atomic_write import write_atomically
    from handsfree.storage.paths import checklists_folder
    from handsfree.way import pair
    from handsfree.way.drawing import drawn, in_words
    from handsfree.way.kept import pair_of, way_of
    from handsfree.way.places import load_layout

    if svg and not svg.resolve().parent.is_dir():
        raise InputError(f"there is no folder {svg.parent}; make it, or choose another place.")
    loaded = load_rig(find_rig(choose_rig(rig, data_folder())))
    library = checklists_folder()
    found = load_checklist(find_checklist(checklist), rig=loaded, library=library)
    title = f"{found.title}, {loaded.name}"
    click.echo(title)
    if two:
        both = pair_of(found, loaded)
        if both is None:
            raise InputError(f"'{found.id}' does not close by itself in a usual stay, or a step comes"
                             " twice in it, so there is no schedule to look for.")
        told, picture = pair.in_words(both), pair.drawn(both, title)
    else:
        on_foot = way_of(found, loaded)
        told, picture = in_words(on_foot), drawn(on_foot, load_layout(library, loaded), title)
    for line in told:
        click.echo(line)
    if svg:
        write_atomically(svg, picture.encode(), "choose another place")
        click.echo(f"Drawn: {svg}")
