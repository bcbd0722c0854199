"""Small files of the owner's, written whole or not at all.

Standard library and errors only.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from handsfree.errors import StorageError


def write_atomically(
    target: Path, content: bytes, mend: str = "check the folder's permissions"
) -> None:
    """Write a file for the owner's eyes only; it is on disk when this returns.

    Args:
        mend: what the message says can be done.

    Raises:
        StorageError: it cannot be written; what was there before is there still.
    """
    try:
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, name = tempfile.mkstemp(dir=target.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            os.replace(name, target)
        except OSError:
            os.unlink(name)
            raise
        sync_folder(target.parent)
    except OSError as problem:
        raise StorageError(f"{target} cannot be written ({problem.strerror}); {mend}.") from None


def sync_folder(folder: Path) -> None:
    """So that the file's name outlives a power loss, too."""
    if os.name == "nt":
        return  # folders cannot be opened there; the file system keeps names itself
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
