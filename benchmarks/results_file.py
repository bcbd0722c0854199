"""Where a benchmark writes what it measured: looked at before the work, written after it.

May import click and errors.
"""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import click

from handsfree.errors import InputError, StorageError


def check_place(out: Path | None) -> None:
    """Before hours of work, whether there is a folder for its results.

    Raises:
        InputError: there is none.
    """
    if out is not None and not out.absolute().parent.is_dir():
        raise InputError(f"there is no folder {out.absolute().parent}; check the path of --json.")


def write_results(out: Path | None, results: Any) -> None:
    """Write them as JSON, and say so.

    Raises:
        StorageError: it cannot be written.
    """
    if out is None:
        return
    try:
        out.write_text(json.dumps(results, indent=1), encoding="utf-8")
    except OSError as problem:
        raise StorageError(f"{out} cannot be written ({problem.strerror}).") from None
    click.echo(f"wrote {out}")


class NowAndThen:
    """Lines about how far it is, not oftener than every ten seconds."""

    def __init__(self) -> None:
        self._last = time.monotonic()

    def tell(self, line: str) -> None:
        """On the terminal's error stream, if it is time."""
        if time.monotonic() - self._last > 10:
            self._last = time.monotonic()
            click.echo(line, err=True)
