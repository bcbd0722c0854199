"""`handsfree bench`: the benchmarks, where the program runs from its source."""

from __future__ import annotations

import sys

import click

from handsfree.errors import InputError
from handsfree.storage.paths import benchmarks_folder


@click.command(context_settings={"ignore_unknown_options": True, "help_option_names": []})
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED)
def bench(arguments: tuple[str, ...]) -> None:
    """The same as `python -m benchmarks` in the folder of the source.

    Raises:
        InputError: the program was installed without its source.
    """
    folder = benchmarks_folder()
    if not folder.is_dir():
        raise InputError("the benchmarks come with the source, not with the installed program;"
                         " run 'python -m benchmarks' in its folder.")
    if str(folder.parent) not in sys.path:
        sys.path.append(str(folder.parent))
    from benchmarks.__main__ import main

    main(list(arguments), prog_name="python -m benchmarks", standalone_mode=False)
