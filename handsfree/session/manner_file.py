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

OFTEN = 5
"""Sessions of a checklist after which its operator counts as experienced."""

AWAY = timedelta(days=31)
"""After so long without the checklist the usual form returns."""

_FILE = "manner.json"


def remembered(
    data: Path, sessions: Iterable[Path], checklist: str, now: datetime
) -> Manner:
    """The manner to begin with.

    Rate and loudness are as they were left.  The form is what the operator chose; without a
    choice, brief for whoever has walked this checklist `OFTEN` times.  After a month away from
    it, it is the usual one.

    Args:
        sessions: journals of the rig; the name of each ends in its checklist.
        now: with a time zone.
    """
    rate, louder, form = _read(data)
    times = []
    for path in sessions:
        if path.stem.split("-", 1)[-1] == checklist:
            with contextlib.suppress(OSError):
                times.append(path.stat().st_mtime)
    if not times or now.timestamp() - max(times) > AWAY.total_seconds():
        form = "usual"
    elif not form:
        form = "brief" if len(times) >= OFTEN else "usual"
    return Manner(rate, louder, form)


def remember(data: Path, manner: Manner, before: Manner) -> None:
    """Keep it for the next time; of the form, only what the operator chose just now."""
    form = manner.form if manner.form != before.form else _read(data)[2]
    with contextlib.suppress(StorageError):
        write_atomically(data / _FILE, json.dumps(asdict(replace(manner, form=form))).encode())


def _read(data: Path) -> tuple[int, float, str]:
    """Rate, loudness and chosen form ('' for none); the usual where nothing usable is kept."""
    usual = Manner()
    try:
        kept = json.loads((data / _FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        kept = {}
    if not isinstance(kept, dict):
        kept = {}
    rate, louder, form = (kept.get(key) for key in ("rate", "louder", "form"))
    return (rate if rate in RATES else usual.rate,
            float(louder) if louder in LOUDER else usual.louder,
            str(form) if form in FORMS else "")
