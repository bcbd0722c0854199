"""Where things are: checklists, rigs, models, languages, and the operator's own data.

May import pathlib, platformdirs and errors.  Looks, but opens nothing.
"""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_data_path
from rapidfuzz import process

from handsfree.errors import InputError

_PACKAGE = Path(__file__).resolve().parent.parent


def _beside(name: str) -> Path:
    """A folder inside the package once installed, or beside it in a checkout.

    The inner one is looked for first: it is ours, whatever lies beside an installed package.
    """
    inside = _PACKAGE / f"_{name}"
    return inside if inside.is_dir() else _PACKAGE.parent / name


def checklists_folder() -> Path:
    """The checklists that come with the program."""
    return _beside("checklists")


def models_folder() -> Path:
    """Recognition models that come with the program, or that an owner has put there."""
    return _beside("models")


def benchmarks_folder() -> Path:
    """The benchmarks of a checkout; an installed program has none."""
    return _PACKAGE.parent / "benchmarks"


def data_folder() -> Path:
    """The operator's data: HANDSFREE_DATA, or the platform's place for it."""
    named = os.environ.get("HANDSFREE_DATA")
    return Path(named) if named else user_data_path("handsfree", appauthor=False)


def checklist_names() -> list[str]:
    """Ids of the checklists that come with the program."""
    return sorted(path.stem for path in checklists_folder().glob("*.yaml"))


def checklist_files() -> dict[str, Path]:
    """Every checklist that can be named, by its name: the operator's own stand before others."""
    return _named((data_folder() / "checklists", checklists_folder()))


def find_checklist(name: str) -> Path:
    """The file of a checklist: a path, a name among the operator's own, or a library name.

    Raises:
        InputError: there is none; the message lists what there is.
    """
    return _find(name, "checklist", (data_folder() / "checklists", checklists_folder()))


def find_rig(name: str) -> Path:
    """The file of a rig: a path, a name among the operator's own, or a library name.

    Raises:
        InputError: there is none; the message lists what there is.
    """
    return _find(name, "rig", (data_folder() / "rigs", checklists_folder() / "rigs"))


def choose_rig(named: str | None, data: Path) -> str:
    """The rig to use: the one named, or the only one that the operator has.

    Raises:
        InputError: none, or several.
    """
    if named:
        return named
    own = sorted(path.stem for path in (data / "rigs").glob("*.yaml"))
    if len(own) == 1:
        return own[0]
    if own:
        raise InputError(f"which rig? Name one with --rig: {', '.join(own)}.")
    raise InputError(
        "there is no rig file yet; make one with 'handsfree rig new', or try --rig small-single.")


def _find(name: str, what: str, folders: tuple[Path, ...]) -> Path:
    if name.endswith((".yaml", ".yml")) or os.sep in name:
        path = Path(name)
        if path.is_file():
            return path
        raise InputError(f"there is no {what} file {name}; check the path.")
    known = _named(folders)
    if name in known:
        return known[name]
    close = process.extractOne(name, list(known), score_cutoff=60)
    hint = f"did you mean '{close[0]}'?" if close else f"there are: {', '.join(known) or 'none'}."
    raise InputError(f"there is no {what} '{name}'; {hint}")


def _named(folders: tuple[Path, ...]) -> dict[str, Path]:
    known: dict[str, Path] = {}
    for folder in folders:
        for path in sorted(folder.glob("*.yaml")):
            known.setdefault(path.stem, path)
    return known
