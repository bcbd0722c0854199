"""Disk, clock and rig files: what the record needs.

May import the session's record, the rig file, the library's places and errors.
"""

from __future__ import annotations

import shutil
import tempfile
from datetime import datetime, timedelta
from pathlib import Path

from handsfree.checklist.rig_file import load_rig
from handsfree.doctor.finding import Finding, Verdict
from handsfree.errors import HandsfreeError
from handsfree.storage.record import latest

LEAST_MB, EASY_MB = 50, 500
"""Free megabytes below which a session should not begin, and below which it is worth a note.

A session's journal has about 100 kB, a minute of notes 2 MB, the prompts at most 128 MB.
"""

OLDEST = datetime(2024, 1, 1).astimezone()
"""A clock before this was never set: the program is younger."""


def disk(data: Path) -> Finding:
    """Whether the data folder can be written, and has room."""
    try:
        data.mkdir(parents=True, exist_ok=True, mode=0o700)
        with tempfile.TemporaryFile(dir=data) as trial:
            trial.write(b"handsfree")
        free = shutil.disk_usage(data).free // 2**20
    except OSError as problem:
        return Finding("disk", Verdict.BAD, f"{data} cannot be written ({problem.strerror})",
                       f"let {data} be written, or name another folder with HANDSFREE_DATA.")
    says = f"{free:,} MB free in {data}"
    if free < LEAST_MB:
        return Finding("disk", Verdict.BAD, says, f"free some space: {data} has {free} MB left.")
    if free < EASY_MB:
        return Finding("disk", Verdict.NOTE, says, "free some space soon.")
    return Finding("disk", Verdict.GOOD, says)


def clock(data: Path, now: datetime) -> Finding:
    """Whether the clock is set, and not behind what is on record already."""
    says = f"it is {now:%Y-%m-%d %H:%M %z}"
    if now < OLDEST:
        return Finding("clock", Verdict.BAD, says,
                       "set the clock of this machine; the record would be dated wrongly.")
    newest: datetime | None = None
    for folder in (data / "rigs").glob("*"):
        last = latest(folder)
        try:
            began = datetime.fromisoformat(last.began) if last else None
        except ValueError:
            continue
        if began and began.tzinfo and (newest is None or began > newest):
            newest = began
    if newest and newest > now + timedelta(minutes=5):
        return Finding(
            "clock", Verdict.BAD, f"{says}, but the record has a session of {newest:%Y-%m-%d %H:%M}",
            "set the clock of this machine; it is behind its own record.")
    return Finding("clock", Verdict.GOOD, says)


def record(data: Path) -> Finding:
    """Whether what is on record of each rig can be believed."""
    for folder in sorted(path for path in (data / "rigs").glob("*") if path.is_dir()):
        last = latest(folder)
        if last and last.faults:
            return Finding("record", Verdict.BAD, f"{folder / 'sessions' / str(last.faults[0])}",
                           "start any list: nothing of that record is believed, and it asks how"
                           " the trailer stands.")
    return Finding("record", Verdict.GOOD, "nothing damaged")


def rigs(data: Path) -> Finding:
    """Whether there is a rig file of one's own, and it can be read."""
    files = sorted((data / "rigs").glob("*.yaml"))
    names = []
    for file in files:
        try:
            names.append(load_rig(file).name)
        except HandsfreeError as problem:
            return Finding("rig", Verdict.BAD, f"{file.name} cannot be used", f"mend {problem}")
    if not names:
        return Finding("rig", Verdict.BAD, "no rig file of your own yet",
                       "make a rig file: handsfree rig new \"My trailer\"")
    return Finding("rig", Verdict.GOOD, ", ".join(names))
