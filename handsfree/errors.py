"""The errors that `handsfree` raises on purpose, and the exit statuses that go with them.

Imports nothing, so that everything may import it.

    HandsfreeError                  exit  what the operator should know
    ├── AuthorError                  2    a file that an owner wrote: names file, line and mend
    ├── InputError                   2    a command, option, path or folder that cannot be used
    ├── DeviceError                  3    sound card, microphone, voice engine: what to do now
    └── StorageError                 4    disk full, no permission, locked by another process

A message is one sentence of what is wrong and what mends it.  Any other exception that reaches
the operator is a bug.
"""

from __future__ import annotations


class HandsfreeError(Exception):
    """Base of everything raised on purpose."""

    exit_status = 1


class AuthorError(HandsfreeError):
    """A mistake in a file that somebody wrote by hand."""

    exit_status = 2

    def __init__(self, problem: str, *, mend: str, file: str = "", line: int = 0) -> None:
        self.problem, self.mend, self.file, self.line = problem, mend, file, line
        where = f"{file}, line {line}: " if file and line else f"{file}: " if file else ""
        super().__init__(f"{where}{problem}; {mend}.")


class InputError(HandsfreeError):
    """A command, option, path or folder that cannot be used as given."""

    exit_status = 2


class DeviceError(HandsfreeError):
    """A sound card, microphone or voice engine that does not work."""

    exit_status = 3


class StorageError(HandsfreeError):
    """The record could not be written or is in use by another process."""

    exit_status = 4

    def __init__(self, message: str, *, why: str = "") -> None:
        """`why` names the template that says the reason aloud: "no space", "read only" …"""
        self.why = why
        super().__init__(message)
