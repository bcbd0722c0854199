"""The rig that an option names; apart from `wiring`, so that what only prints need not import what plays.

May import the rig file, the record and paths.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.errors import AuthorError, InputError
from handsfree.storage.paths import find_rig
from handsfree.storage.record import same_name


def rig_named(name: str, data: Path) -> Rig:
    """The rig of a file, whose own name no other file of the operator's has: its record is kept
    under that name.

    Raises:
        InputError: there is no such file, or two rigs would share one record.
        AuthorError: it cannot be read.
    """
    path = find_rig(name)
    rig = load_rig(path)
    if other := named_alike(rig.name, path, data):
        raise InputError(f"{path} and {other} are both named '{rig.name}', so they would share one"
                         " record; give one of them another name.")
    return rig


def named_alike(name: str, path: Path, data: Path) -> Path | None:
    """Another rig file of the operator's, in the same folder, whose rig has the same name."""
    if path.parent != data / "rigs":
        return None
    for other in sorted(path.parent.glob("*.yaml")):
        with suppress(AuthorError):
            if other != path and same_name(load_rig(other).name) == same_name(name):
                return other
    return None
