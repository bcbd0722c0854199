"""`handsfree forget`: deletes what is on record, and says what is left."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

import click

from handsfree.cli.counted import count
from handsfree.errors import HandsfreeError, InputError, StorageError
from handsfree.storage.half_answered import FILE as HALF_ANSWERED
from handsfree.storage.paths import data_folder


@dataclass(frozen=True)
class _Kept:
    """One session's files: its journal and all that lies beside it under the same name."""

    journal: Path
    files: tuple[Path, ...]
    began: date
    """The day on which it began; of a journal that does not say, that of the file."""
    last: bool
    """The rig's record stands on it."""


@click.command()
@click.option("--before", type=click.DateTime(formats=["%Y-%m-%d"]), default=None,
              metavar="YYYY-MM-DD", help="Sessions begun before this day.")
@click.option("--all", "everything", is_flag=True, help="All sessions, and with them the record.")
@click.option("--rig", default=None, metavar="NAME", help="Only this rig.")
@click.option("--yes", "sure", is_flag=True, help="Do not ask.")
def forget(before: datetime | None, everything: bool, rig: str | None, sure: bool) -> None:
    """Delete sessions with their journals, notes and recordings.

    Give either --before a day or --all; imported sessions count like your own.  A rig's last
    session holds what is out and how things are set, so --before keeps it.  --all deletes it too,
    along with anything else among the sessions and, for all rigs, cached prompts, pending
    reminders, names of places, and what 'tune' has learned of your voice.  --all also deletes a
    draft rig file that 'rig new' kept. Whatever reviews cache is deleted every time.
    Your own rig files, checklists and pronunciations stay.
    """
    if everything is (before is not None):
        raise InputError("say what to forget: --before YYYY-MM-DD, or --all.")
    from handsfree.storage import journal
    from handsfree.storage.record import forget_journals, lock

    data = data_folder()
    folders = list(_rig_folders(data, rig))
    day = before.date() if before else None
    going = [kept for folder in folders for kept in _sessions(folder)
             if day is None or kept.began < day and not kept.last]
    files = {file for kept in going for file in kept.files}
    if everything:
        files |= {file for folder in folders for file in _beside(folder)}
    drafts = _drafts(data, rig) if everything else []
    besides = [path for path in (data / "prompts", data / "imported", data / "voice.json",
                                 data / "reminders.json", data / "places.json")
               if everything and rig is None and path.exists() and not path.is_symlink()] + drafts
    quick = [path for path in (data / "cache",) if path.exists() and not path.is_symlink()]
    if not files and not besides:
        for folder in folders if everything else ():
            with lock(folder):
                forget_journals(folder, ())  # deleted by hand, so that they would be missed
        _delete([], quick)
        click.echo("There is nothing to forget.")
        _tell_rest(data, folders, day)
        return
    what = (f"{count(len(going), 'session')} ({count(len(files), 'file')}) of"
            f" {count(len(folders), 'rig')}")
    if besides:
        what += f", and {' and '.join(path.name for path in besides)}"
    if not sure:
        click.confirm(f"Delete {what}?  This cannot be taken back", abort=True)
    with ExitStack() as locks:
        for folder in folders:
            locks.enter_context(lock(folder))
        last_links = {folder: [links[-1] for kept in going if folder in kept.journal.parents
                               and (links := journal.read(kept.journal).links)]
                      for folder in folders}
        for folder, last in last_links.items():  # before: a kill in between is no missing journal
            forget_journals(folder, last)
        _delete(sorted(files), [*quick, *besides])
        for folder in folders:
            forget_journals(folder, ())
    click.echo(f"Deleted: {what}.")
    _tell_rest(data, folders, day)


def _drafts(data: Path, rig: str | None) -> list[Path]:
    """What was answered to 'rig new' and never became a file, of one rig or of all."""
    from handsfree.storage.record import rig_id

    room = data / "rigs"
    found = [] if room.is_symlink() else sorted(room.glob("*.draft"))
    return [path for path in found if not path.is_symlink()
            and (rig is None or path.stem in (rig, rig_id(rig)))]


def _rig_folders(data: Path, rig: str | None) -> Iterator[Path]:
    """Folders of sessions; never through a link out of the data folder."""
    from handsfree.storage.record import rig_folder

    rooms = [room for room in (data / "rigs", data / "imported" / "rigs")
             if not any(path.is_symlink() for path in (room, room.parent) if path != data)]
    found = sorted(path for room in rooms for path in room.glob("*")
                   if ((path / "sessions").is_dir() or (path / HALF_ANSWERED).is_file())
                   and not path.is_symlink()
                   and not (path / "sessions").is_symlink())
    if rig is None:
        yield from found
        return
    wanted = rig_folder(data, _name_of(rig)).name
    fit = [path for path in found if re.fullmatch(rf"{re.escape(wanted)}(-\d+)?", path.name)
           and (path.name == wanted or path.parent != data / "rigs")]
    if not fit:
        known = ", ".join(dict.fromkeys(path.name for path in found)) or "none"
        raise InputError(f"nothing is on record of a rig '{rig}'; there are: {known}.")
    yield from fit


def _name_of(rig: str) -> str:
    """The name under which the rig's sessions lie: its file's, if there is one."""
    from handsfree.checklist.rig_file import load_rig
    from handsfree.storage.paths import find_rig

    try:
        return load_rig(find_rig(rig)).name
    except HandsfreeError:
        return rig  # its file is gone; the folder may still be there


def _beside(folder: Path) -> list[Path]:
    """Every file among a rig's sessions, whatever it is called, and answers that wait to become one."""
    return [path for path in (folder / HALF_ANSWERED, *(folder / "sessions").rglob("*"))
            if path.is_symlink() or path.is_file()]


def _sessions(folder: Path) -> Iterator[_Kept]:
    from handsfree.storage import journal
    from handsfree.storage.record import latest, session_paths

    imported = folder.parent.parent.name == "imported"
    newest = None if imported else latest(folder)
    beside = [path for path in (folder / "sessions").glob("*") if path.is_file()]
    for path in session_paths(folder):
        stem = path.stem
        lines = journal.read(path).raw
        heard = {str(line["audio"]) for line in lines if line.get("audio")}
        files = tuple(file for file in beside if file.stem == stem or file.name in heard
                      or not imported and file.name.startswith(f"{stem}-"))
        first = next(iter(lines), {})
        try:
            began = datetime.fromisoformat(str(first.get("at"))).date()
        except ValueError:
            began = date.fromtimestamp(path.stat().st_mtime)
        yield _Kept(path, files, began, last=newest is not None and path == newest.path)


def _delete(files: list[Path], folders: list[Path]) -> None:
    try:
        for file in files:
            file.unlink(missing_ok=True)
        for folder in folders:
            shutil.rmtree(folder) if folder.is_dir() else folder.unlink()
    except OSError as problem:
        raise StorageError(
            f"{problem.filename} cannot be deleted ({problem.strerror}); check its permissions"
            " and forget again.") from None


def _tell_rest(data: Path, folders: list[Path], day: date | None) -> None:
    """What is left, and why."""
    kept = [one for folder in folders if folder.is_dir() for one in _sessions(folder)]
    held = [one for one in kept if one.last and day and one.began < day]
    for one in held:
        click.echo(f"Kept: {one.journal}, since the record of the rig stands on it"
                   " (--all deletes it, too).")
    if len(kept) > len(held):
        click.echo(f"Left: {len(kept) - len(held)} later sessions.")
    others = [path for path in sorted(data.rglob("*")) if path.is_file()
              and path.name not in ("in-use", "seal", "forgotten")
              and not any(path in one.files for one in kept)]
    for path in others[:20]:
        click.echo(f"Left: {path}")
    if len(others) > 20:
        click.echo(f"Left: {len(others) - 20} more files under {data}.")
    if not kept and not others:
        click.echo(f"Nothing is left under {data}.")
