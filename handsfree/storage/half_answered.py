"""Answers about how a rig stands, until all are given: what a power loss must not take.

Standard library, errors and `atomic_write` only.  They say how it stood then; whoever goes on with them
asks first whether that is still so.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path

from handsfree.errors import StorageError
from handsfree.storage.atomic_write import write_atomically

FILE = "how-it-stands.draft"
"""In the rig's folder."""


class HalfAnswered:
    """The answers to these questions, by id."""

    def __init__(self, path: Path, questions: Iterable[tuple[str, str]]) -> None:
        """`questions`: id and text of each; answers to any others are of no use."""
        self._path = path
        self._digest = hashlib.sha256(repr(list(questions)).encode()).hexdigest()
        self.answers: Mapping[str, bool] = self._read()

    def _read(self) -> Mapping[str, bool]:
        try:
            kept = json.loads(self._path.read_text("utf-8"))
            answers = kept["answers"] if kept["questions"] == self._digest else {}
            return {str(name): so for name, so in answers.items() if isinstance(so, bool)}
        except (OSError, ValueError, TypeError, KeyError, AttributeError):
            return {}

    def keep(self, answers: Mapping[str, bool]) -> None:
        """These are all that were given."""
        if answers != self.answers:
            self.answers = dict(answers)
            with suppress(StorageError):  # a convenience; the record itself says when it cannot be written
                write_atomically(self._path, json.dumps(
                    {"questions": self._digest, "answers": self.answers}).encode())

    def forget(self) -> None:
        """They are of no use any more, or on record."""
        self.answers = {}
        with suppress(OSError):  # who goes on with them is asked first whether they still hold
            self._path.unlink(missing_ok=True)
