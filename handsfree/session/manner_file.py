"""The manner of speaking, kept between sessions in the data folder; a convenience, never a must.

May import manner, errors, `atomic_write` and the standard library.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterable
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from pathlib import Path

from handsfree.errors import StorageError
from handsfree.session.manner import FORMS, LOUDER, RATES, Manner
from handsfree.storage.atomic_write import write_atomically
from handsfree.storage.record import is_of

OFTEN = 5
"""Sessions of a checklist after which its operator counts as experienced."""

AWAY = timedelta(days=31)
"""After so long without the checklist whoever never chose hears the usual form again."""

_FILE = "manner.json"


def remembered(data: Path, sessions: Iterable[Path], checklist: str, now: datetime) -> Manner:
    """The manner to begin with: what was chosen is kept for good.

    Without a choice the form is brief for whoever has walked this checklist `OFTEN` times, unless
    that was long ago.

    Args:
        sessions: journals of the rig.
        now: with a time zone.
    """
    manner, form = _read(data)
    if not form:
        walked = []
        for path in sessions:
            if is_of(path, checklist):
                with contextlib.suppress(OSError):
                    walked.append(path.stat().st_mtime)
        recent = walked and now.timestamp() - max(walked) <= AWAY.total_seconds()
        form = "brief" if recent and len(walked) >= OFTEN else "usual"
    return replace(manner, form=form)


def remember(data: Path, manner: Manner, before: Manner) -> None:
    """Keep it for the next time; of the form, only what the operator chose just now."""
    form = manner.form if manner.form != before.form else _read(data)[1]
    with contextlib.suppress(StorageError):
        write_atomically(data / _FILE, json.dumps(asdict(replace(manner, form=form))).encode())


def _read(data: Path) -> tuple[Manner, str]:
    """What is kept, and the chosen form ('' for none); the usual where nothing usable is kept."""
    usual = Manner()
    try:
        kept = json.loads((data / _FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        kept = {}
    if not isinstance(kept, dict):
        kept = {}
    rate, louder, form, by_heart = (kept.get(key) for key in ("rate", "louder", "form", "by_heart"))
    return (Manner(rate if rate in RATES else usual.rate,
                   float(louder) if louder in LOUDER else usual.louder,
                   by_heart=by_heart if isinstance(by_heart, bool) else None),
            str(form) if form in FORMS else "")
