"""Orders of checklists that walk least, kept in the data folder by all that they hang on.

Standard library and this room.  Whoever asks gives the digest of the checklist, the rig and the
places; the program's own text is added here.  A damaged file only costs the time to find them anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from pathlib import Path

from handsfree.storage.atomic_write import write_atomically
from handsfree.storage.verdicts import program

FILE = "ways.json"

_FINDING = ("way", "engine", "checklist/conditions.py", "review/applying.py")
"""What of the program has a part in an order."""

_MOST = 60
"""Orders that are kept."""


def ground(parts: Iterable[str]) -> str:
    """The digest of all that decides an order."""
    return hashlib.sha256(json.dumps([program(parts=_FINDING), *parts]).encode()).hexdigest()


def kept(data: Path, on: str) -> tuple[str, ...] | None:
    """The order that was found on this ground; None where there is none."""
    return _read(data).get(on)


def keep(data: Path, on: str, order: Sequence[str]) -> None:
    """Keep an order.

    Raises:
        StorageError: it cannot be written.
    """
    known = {key: value for key, value in _read(data).items() if key != on}
    latest = [*known.items(), (on, tuple(order))][-_MOST:]
    write_atomically(data / FILE, (json.dumps({"ways": dict(latest)}, indent=1) + "\n").encode())


def _read(data: Path) -> dict[str, tuple[str, ...]]:
    try:
        found = json.loads((data / FILE).read_bytes())["ways"]
        return {str(key): tuple(map(str, value)) for key, value in found.items()
                if isinstance(value, list)}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}
