"""Words that stand around things, from ``languages/CODE.KIND.yaml``: on paper, on the screen.

May import this room's YAML reader and errors.  A kind's table of fields says what its file holds.
"""

from __future__ import annotations

import string
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from handsfree.errors import InputError
from handsfree.language.yaml_entries import Entry, compose

Fields = Mapping[str, frozenset[str]]
"""Every key of a file, with the names in braces that its text must have."""


@dataclass(frozen=True, eq=False)
class Labels:
    """The words of one kind in one language; call it with a key and its fields."""

    words: Mapping[str, str]

    def __call__(self, key: str, **fields: str) -> str:
        return self.words[key].format(**fields)

    def noun(self, unit: str) -> str:
        """A unit as it is written: with a capital where `nouns` says so."""
        capital = self.words.get("nouns") == "capital"
        return unit[:1].upper() + unit[1:] if capital else unit

    def number(self, value: float) -> str:
        """A number in digits, with the language's decimal sign."""
        return f"{value:.10g}".replace(".", self.words.get("decimal", "."))


def load_labels(kind: str, language: str, known: Fields, file: Path | None = None) -> Labels:
    """The labels of a kind, such as ``paper``, for a language.

    Args:
        language: code of a language that comes with the program, such as ``en``.
        known: the keys that the file must have.
        file: read this file instead.

    Raises:
        InputError: there is no such file.
        AuthorError: with file, line and mend.
    """
    path = file or Path(str(resources.files("handsfree") / "languages" / f"{language}.{kind}.yaml"))
    try:
        data = path.read_bytes()
    except OSError:
        raise InputError(
            f"the words of '{kind}' in '{language}' should be in {path}, which cannot be read;"
            f" write that file after en.{kind}.yaml.") from None
    whole = Entry(compose(data, str(path)), str(path), "the file")
    top = whole.table({kind})
    if kind not in top:
        whole.fail(f"'{kind}' is missing", f"put the words under '{kind}:'")
    table = top[kind].table(known)
    for key, needed in known.items():
        if key not in table:
            top[kind].fail(f"'{key}' is missing in '{kind}'", f"add '{key}: …'")
        try:
            used = {name for _, name, _, _ in string.Formatter().parse(table[key].text())
                    if name is not None}
        except ValueError:
            table[key].fail(f"'{key}' has a brace without its partner", "mend the braces")
        if used != needed:
            fields = " ".join(f"{{{name}}}" for name in sorted(needed)) or "no field"
            table[key].fail(f"'{key}' does not have the right fields", f"use {fields}")
    return Labels({key: table[key].text() for key in known})
