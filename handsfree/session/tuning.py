"""What one operator's own voice asks for: thresholds of confidence, and the level of the voice.

May import hearing's types, understanding, `atomic_write`, standard library.  Kept in the data folder,
never needed.  A hold point, and all that settles a fact, is never taken on less than the usual
confidence, whatever stands here (`understanding.understand` sees to it).
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median, quantiles

from handsfree.errors import StorageError
from handsfree.hearing.types import SILENT_DBFS, Heard, Hypothesis
from handsfree.session.understanding import LONE, Bands
from handsfree.storage.atomic_write import write_atomically

LEAST, MOST = 0.65, 0.97
"""A personal threshold lies between these."""

ENOUGH = 20
"""So many commands have to be heard right before the threshold is lowered."""

FILE = "voice.json"


@dataclass(frozen=True)
class Said:
    """A command that the operator was asked for, what was heard, and the voice's level."""

    phrase: str
    heard: Heard | None
    level_dbfs: float = SILENT_DBFS

    @property
    def right(self) -> float:
        """Confidence in the right phrase; 0 where it was not heard."""
        good = isinstance(self.heard, Hypothesis) and self.heard.text == self.phrase
        return self.heard.confidence if good and self.heard else 0.0

    @property
    def wrong(self) -> float:
        """Confidence in something else."""
        other = isinstance(self.heard, Hypothesis) and self.heard.text != self.phrase
        return self.heard.confidence if other and self.heard else 0.0


@dataclass(frozen=True)
class Tuned:
    """engine: whose confidence it is.  certain: see `Bands`.  voice_dbfs: usual level of the voice;
    floor_dbfs: of the surroundings then.  said, right: commands asked for, and heard right."""

    engine: str
    certain: float
    voice_dbfs: float
    floor_dbfs: float
    said: int
    right: int
    on: str = ""

    @property
    def bands(self) -> Bands:
        """The thresholds."""
        return Bands(certain=self.certain)


def _placed(sure: float, words: str) -> float:
    """The confidence as one of several words: a single word needs more (`Bands.needed`)."""
    return sure if " " in words else max(0.0, sure - LONE)


def tuned(said: Sequence[Said], engine: str, floor_dbfs: float, on: str = "") -> Tuned:
    """What follows from the commands that were said.

    Above the highest confidence in something wrong, where that would have been acted on; otherwise
    so low that nine in ten of the commands heard right are acted on, if enough of them were and
    nothing wrong came so high; the usual threshold is never raised for the latter.
    """
    usual = Bands().certain
    right = [_placed(one.right, one.phrase) for one in said if one.right]
    highest = max((_placed(one.wrong, getattr(one.heard, "text", "")) for one in said),
                  default=0.0)
    certain = usual
    if highest >= usual:
        certain = highest + 0.01
    elif len(right) >= ENOUGH:
        certain = min(usual, max(quantiles(right, n=10)[0] - 0.02, highest + 0.05))
    levels = [one.level_dbfs for one in said if one.right]
    return Tuned(engine, round(min(MOST, max(LEAST, certain)), 3),
                 round(median(levels), 1) if levels else SILENT_DBFS, round(floor_dbfs, 1),
                 len(said), len(right), on)


def keep(data: Path, found: Tuned) -> None:
    """Store it, for the owner's eyes only.

    Raises:
        StorageError: it cannot be written.
    """
    write_atomically(data / FILE, json.dumps(asdict(found)).encode())


def kept(data: Path) -> Tuned | None:
    """What is stored; None where there is nothing usable."""
    with contextlib.suppress(OSError, ValueError, TypeError):
        found = Tuned(**json.loads((data / FILE).read_text(encoding="utf-8")))
        numbers = (found.certain, found.voice_dbfs, found.floor_dbfs)
        if LEAST <= found.certain <= MOST and all(
                isinstance(one, float) and SILENT_DBFS <= one <= 1.0 for one in numbers):
            return found
    return None


def forget(data: Path) -> bool:
    """Delete it; whether there was anything.

    Raises:
        StorageError: it cannot be deleted.
    """
    try:
        (data / FILE).unlink()
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError as problem:
        raise StorageError(f"{data / FILE} cannot be deleted ({problem.strerror}); check the"
                           " folder's permissions.") from None
    return True
