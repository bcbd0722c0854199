"""Files that somebody asked for, such as exports: whole or not at all, and the owner's alone.

May import errors and the standard library.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from handsfree.errors import InputError, StorageError


@contextmanager
def whole_file(path: Path, *, replace: bool) -> Iterator[Path]:
    """A file beside `path` to write to; it takes that name once all went well.

    Args:
        replace: whether a file that is there already may be replaced.

    Raises:
        InputError: there is such a file, and it is to stay.
        StorageError: it cannot be written; whatever was there before is there still.
    """
    if not replace and (path.exists() or path.is_symlink()):
        raise InputError(f"{path} is there already; name another file, or add --force to"
                         " replace it.")
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}-",
                                        suffix=path.suffix)
        os.close(handle)
        try:
            yield Path(name)
            os.replace(name, path)
        except BaseException:
            with suppress(OSError):
                os.unlink(name)
            raise
    except OSError as problem:
        raise StorageError(
            f"{path} cannot be written ({problem.strerror or problem}); name another file."
        ) from None
