"""Verdicts of `handsfree check`, remembered by all that decides them.

Standard library, `atomic_write` and `paths` only: neither a checklist is loaded nor the proof.

A verdict is kept with its *ground*, one digest of

- every checklist file that a stay can read: the library's and the owner's folder, byte for byte;
- the checklists that lie elsewhere, as they were read, includes and all;
- the rig, if the proof is for one;
- the text of the program that decides: the rooms below, not what they rest on from elsewhere
  (Python, dd, rapidfuzz, the recogniser's dictionary), whose versions are bounded.

While all of that is unchanged the verdict is, too.  Only proofs are kept, never findings.  Each
entry bears a seal over ground and report: one that was damaged or edited, or whose ground is
another, is not used, and the proof is done anew.  The shipped verdicts lie beside the checklists
(`handsfree check --ship` writes them), the owner's in the data folder.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from handsfree.storage.atomic_write import write_atomically
from handsfree.storage.paths import checklist_files, checklists_folder, data_folder

FILE = "verdicts.json"

DECIDING = ("checklist", "engine", "proof", "language", "languages", "session/expecting.py",
            "hearing/pronunciation.py", "cli/check.py")
"""What of the program has a part in a verdict."""

_NO_CHECKLISTS = {"rigs", "scripts", "prompts", "imported", "models"}
"""Folders of library and owner from which nothing can be included."""

_MOST = 40
"""Verdicts that are kept for an owner."""

Report = Mapping[str, Any]
"""A proof's report, as JSON has it."""


def shipped_file() -> Path:
    """Beside the checklists that come with the program."""
    return checklists_folder() / FILE


def own_file() -> Path:
    """In the owner's data folder."""
    return data_folder() / FILE


def found_by_name(path: Path) -> bool:
    """Whether a checklist is the one that its name stands for; `ground` covers it by itself."""
    known = checklist_files().get(path.stem)
    return known is not None and known.resolve() == path.resolve()


def ground(elsewhere: Iterable[tuple[str, str]] = (), rig: object = None) -> str:
    """The digest of all that decides a verdict.

    Args:
        elsewhere: (id, digest) of the proved checklists that are not found by their names.
        rig: what the proof is for (`has`, `limits` and `several` count); None: for every rig that
            has no more than one of a kind.
    """
    facts = [] if rig is None else [
        sorted(rig.has), sorted(rig.limits.items()), *several(rig)]  # type: ignore[attr-defined]
    told = json.dumps([program(), _lists(checklists_folder()), _lists(data_folder()),
                       sorted(elsewhere), facts])
    return hashlib.sha256(told.encode()).hexdigest()


def several(rig: Any) -> list[Any]:
    """What makes another rig of one, where it has more than one of a kind."""
    return [[kind, names] for kind, names in sorted(rig.several.items()) if len(names) > 1]


@cache
def program(
    package: Path = Path(__file__).resolve().parent.parent,  # noqa: B008  (frozen)
    parts: tuple[str, ...] = DECIDING,
) -> str:
    """Digest of parts of the program's own text; the same in a checkout and installed."""
    found: list[Path] = []
    for name in parts:
        part = package / name
        found += [part] if part.suffix else [
            path for path in part.rglob("*")
            if path.suffix in (".py", ".yaml") and "." not in path.stem]  # no xx.speech.yaml
    return _digest(package, found)


def _lists(folder: Path) -> str:
    """Digest of the YAML files of a folder in which checklists and their parts may lie."""
    return _digest(folder, _yaml(folder))


def _yaml(folder: Path) -> Iterator[Path]:
    yield from folder.glob("*.yaml")
    if folder.is_dir():
        for inner in folder.iterdir():
            if inner.is_dir() and inner.name not in _NO_CHECKLISTS:
                yield from inner.rglob("*.yaml")


def _digest(folder: Path, files: Iterable[Path]) -> str:
    """Of names and texts; the ends of lines do not count."""
    whole = hashlib.sha256()
    for path in sorted(files):
        try:
            text = path.read_bytes().replace(b"\r\n", b"\n")
        except OSError:
            text = b"cannot be read"
        for part in (os.fsencode(path.relative_to(folder).as_posix()), text):
            whole.update(len(part).to_bytes(8, "big") + part)
    return whole.hexdigest()


# --- kept ---------------------------------------------------------------------------------------

def remembered(ground: str, checklists: Collection[str]) -> Report | None:
    """The report of a proof of (at least) these checklists on this ground, if one is kept."""
    for path in (shipped_file(), own_file()):
        for entry in _entries(path):
            if entry["ground"] == ground and set(checklists) <= set(entry["report"]["checklists"]):
                return dict(entry["report"])
    return None


def remember(ground: str, report: Report) -> None:
    """Keep a proof's report for the owner.

    Raises:
        StorageError: it cannot be written.
    """
    kept = [entry for entry in _entries(own_file())
            if entry["ground"] != ground
            or not set(entry["report"]["checklists"]) <= set(report["checklists"])]
    write_atomically(own_file(), _written([*kept, _entry(ground, report)][-_MOST:]))


def ship(found: Iterable[tuple[str, Report]]) -> Path:
    """Write the verdicts, each with its ground, that are shipped with the checklists."""
    write_atomically(shipped_file(), _written([_entry(ground, report) for ground, report in found]))
    return shipped_file()


def _entry(ground: str, report: Report) -> dict[str, Any]:
    return {"ground": ground, "report": report, "seal": _seal(ground, report)}


def _seal(ground: str, report: Report) -> str:
    told = json.dumps([ground, report], sort_keys=True)
    return hashlib.sha256(told.encode()).hexdigest()


def _written(entries: list[dict[str, Any]]) -> bytes:
    return (json.dumps({"verdicts": entries}, indent=1, sort_keys=True) + "\n").encode()


def _entries(path: Path) -> list[dict[str, Any]]:
    """Those of a file that can be used; none where it is missing or damaged."""
    try:
        entries = json.loads(path.read_bytes())["verdicts"]
        return [entry for entry in entries
                if entry["seal"] == _seal(entry["ground"], entry["report"])
                and entry["report"]["sound"] is True and not entry["report"]["findings"]
                and all(isinstance(name, str) for name in entry["report"]["checklists"])]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return []


# --- before a session ---------------------------------------------------------------------------

def unproved(checklist: Any, rig: object) -> str:
    """One line for who is about to run a checklist that is not proved as it stands; '' if it is."""
    file = Path(checklist.file)
    if checklists_folder() / "lessons" in file.parents:  # about a pot of tea: nothing to hurt anyone
        return ""
    inside = found_by_name(file)
    elsewhere = () if inside else ((checklist.id, checklist.digest),)
    alone = rig is not None and bool(several(rig))
    whose = (rig,) if alone else (None, rig)
    if any(remembered(ground(elsewhere, one), [checklist.id]) for one in whose):
        return ""
    name = f"{checklist.id if inside else file}{' --rig ' + Path(rig.file).stem if alone else ''}"  # type: ignore[attr-defined]
    return (f"'{checklist.id}' was not proved since it changed, or a list of the same stay did: "
            f"'handsfree check {name}' looks for orders that hurt someone.")
