"""A checklist in the order that walks least on a rig: found once, then taken from the data folder.

May import the checklist room, storage and this room.
"""

from __future__ import annotations

from pathlib import Path

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.storage import ways
from handsfree.storage.paths import checklists_folder
from handsfree.way.pair import Pair, together
from handsfree.way.places import FILE, Layout, load_layout
from handsfree.way.rerouting import Rerouting
from handsfree.way.shortest import Way, permuted, shortest, usual_record
from handsfree.way.walking import walk


def way_of(checklist: Checklist, rig: Rig) -> Way:
    """The order that walks least in a usual stay, worked out anew.

    Raises:
        AuthorError: the places cannot be read, or the rig's are wrong.
    """
    layout, record = _usually(checklist, rig)
    return shortest(checklist, layout, record)


def pair_of(checklist: Checklist, rig: Rig) -> Pair | None:
    """The best schedule of two people that is found; see `pair.together`.

    Raises:
        AuthorError: as `way_of`.
    """
    return together(checklist, *_usually(checklist, rig))


def _usually(checklist: Checklist, rig: Rig) -> tuple[Layout, frozenset[str]]:
    """Where things are, and what is so as the list begins."""
    library = checklists_folder()
    layout = load_layout(library, rig)
    arrive = load_checklist(library / "arrive.yaml", rig=rig, library=library)
    return layout, usual_record(checklist, rig.has, layout, {arrive.id: arrive})


def rerouting(checklist: Checklist, rig: Rig) -> Rerouting | None:
    """The way from wherever somebody stands; None for a list that does not close in a usual stay.

    Raises:
        AuthorError: as `way_of`.
    """
    layout, record = _usually(checklist, rig)
    usual = walk(checklist, record, layout.usually_no, clock=False)
    steps = [visit.step for visit in usual.visits]
    whole = usual.complete and len(set(steps)) == len(steps) and set(steps) <= set(checklist.order)
    return Rerouting(checklist, layout, record, usual) if whole else None


def in_shortest_order(checklist: Checklist, rig: Rig, data: Path) -> Checklist:
    """The same checklist, offered in the order that walks least; it may take some seconds once.

    Raises:
        AuthorError: as `way_of`.
        StorageError: what was found cannot be written.
    """
    places = (checklists_folder() / FILE).read_text("utf-8")
    ground = ways.ground([checklist.id, checklist.digest, places, *sorted(rig.has),
                          *map(str, sorted(rig.places.items())), *map(str, sorted(rig.sides.items()))])
    order = ways.kept(data, ground)
    if order is None or sorted(order) != sorted(checklist.order):
        order = way_of(checklist, rig).order
        ways.keep(data, ground, order)
    return permuted(checklist, order)
