"""Names for the shell's completion: checklists, rigs, and files where a path is typed.

May import click and the library's places.
"""

from __future__ import annotations

import os

import click
from click.shell_completion import CompletionItem

from handsfree.storage.paths import checklist_names, checklists_folder, data_folder


def checklists(ctx: click.Context, param: click.Parameter, typed: str) -> list[CompletionItem]:
    """Checklists of the operator's own and of the library."""
    own = [path.stem for path in (data_folder() / "checklists").glob("*.yaml")]
    return _names([*own, *checklist_names()], typed)


def rigs(ctx: click.Context, param: click.Parameter, typed: str) -> list[CompletionItem]:
    """Rigs of the operator's own and of the library."""
    folders = (data_folder() / "rigs", checklists_folder() / "rigs")
    return _names([path.stem for folder in folders for path in folder.glob("*.yaml")], typed)


def places(ctx: click.Context, param: click.Parameter, typed: str) -> list[CompletionItem]:
    """Places that are on record."""
    from handsfree.errors import HandsfreeError
    from handsfree.storage.places import known, load_names, visits

    try:
        names = load_names(data_folder())
        return _names(known(names, visits(data_folder(), names)), typed)
    except HandsfreeError:
        return []


def _names(names: list[str], typed: str) -> list[CompletionItem]:
    if os.sep in typed or typed.startswith("."):
        return [CompletionItem(typed, type="file")]
    return [CompletionItem(name) for name in sorted(set(names)) if name.startswith(typed)]
