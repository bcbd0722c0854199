"""`handsfree print`: checklists on paper for the glove box."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from handsfree.cli.complete import checklists as checklists_
from handsfree.cli.complete import rigs
from handsfree.errors import InputError
from handsfree.storage.paths import (
    checklist_names,
    checklists_folder,
    choose_rig,
    data_folder,
    find_checklist,
    find_rig,
)


@click.command("print")
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("checklists", nargs=-1, shell_complete=checklists_)
@click.option("--rig", default=None, metavar="NAME", shell_complete=rigs,
              help="Rig file: a name or a path.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter",
              show_default=True, help="Size of the sheets.")
def print_(file: Path, checklists: tuple[str, ...], rig: str | None, paper: str) -> None:
    """Write CHECKLISTS to FILE, a PDF for the glove box; arrive and depart if you name none.

    Only the steps that can come up on this rig are printed, with hold points, limits, cautions,
    remedies, never rules, and boxes to tick.  Print it again after you change a checklist or the
    rig.
    """
    from handsfree.checklist.loader import load_checklist
    from handsfree.checklist.rig_file import load_rig
    from handsfree.language.loader import load_language
    from handsfree.paper.conditions import one_rig
    from handsfree.paper.pdf import missing_letters, render
    from handsfree.paper.sheet import make_sheet
    from handsfree.paper.words import load_paper_words

    if file.suffix.lower() != ".pdf":
        raise InputError(f"the paper is written as a PDF, but '{file}' does not end in .pdf;"
                         " name the file first, then the checklists.")
    if not file.parent.is_dir():
        raise InputError(f"there is no folder {file.parent}; make it, or choose another place.")
    loaded_rig = load_rig(find_rig(choose_rig(rig, data_folder())))
    library = checklists_folder()
    wanted = [load_checklist(find_checklist(name), rig=loaded_rig, library=library)
              for name in checklists or ("arrive", "depart")]
    # What a rig's gear and facts can be follows from all that can be done with it.
    all_known = [load_checklist(find_checklist(name), rig=loaded_rig, library=library)
                 for name in checklist_names()]
    one = one_rig(loaded_rig.has, (*wanted, *all_known))
    sheets = [make_sheet(c, loaded_rig.name, one, load_language(c.language),
                         load_paper_words(c.language)) for c in wanted]
    try:
        file.write_bytes(render(sheets, size=paper, date=date.today().isoformat()))
    except OSError as problem:
        raise InputError(f"{file} cannot be written ({problem.strerror});"
                         " close it elsewhere, or choose another place.") from None
    missing = missing_letters(sheets)
    if missing:
        click.echo(f"The font lacks these letters, so they are left blank: {missing}", err=True)
    steps = sum(len(sheet.lines) for sheet in sheets)
    click.echo(f"Written: {file}  ({', '.join(c.title for c in wanted)}; {steps} steps for"
               f" {loaded_rig.name})")
