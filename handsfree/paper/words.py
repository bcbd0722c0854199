"""What stands on paper around the checklist's own words, from ``languages/*.paper.yaml``.

May import the language room's YAML reader and errors.
"""

from __future__ import annotations

import string
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from handsfree.errors import InputError
from handsfree.language.yaml_entries import Entry, compose

FIELDS: dict[str, frozenset[str]] = {
    **dict.fromkeys(
        ("font", "decimal", "legend", "place", "date", "spot", "hold", "question", "yes",
         "no", "reading", "closing", "never", "gear", "thing", "pieces", "out", "back",
         "own gear", "other rig"), frozenset()),
    "between": frozenset({"low", "high", "unit"}),
    "at least": frozenset({"low", "unit"}),
    "at most": frozenset({"high", "unit"}),
    "only if": frozenset({"facts"}),
    "both": frozenset({"one", "other"}),
    "either": frozenset({"one", "other"}),
    "any of": frozenset({"facts"}),
    "first": frozenset({"facts"}),
    "caution": frozenset({"caution"}),
    "fails": frozenset({"says"}),
    "fails as": frozenset({"number"}),
    "gives up": frozenset({"tries", "gives_up"}),
    "never when": frozenset({"facts", "because"}),
    "at once": frozenset({"now"}),
    "page": frozenset({"page", "pages"}),
    "printed": frozenset({"date"}),
}
"""Every entry of the file, and the fields that it must have."""

FONTS = ("latin", "korean")


@dataclass(frozen=True, eq=False)
class PaperWords:
    """The words of one language; call it with a key and its fields."""

    words: dict[str, str]

    def __call__(self, key: str, **fields: str) -> str:
        return self.words[key].format(**fields)

    def number(self, value: float) -> str:
        """A number in digits, with the language's decimal sign."""
        return f"{value:.10g}".replace(".", self.words["decimal"])


def load_paper_words(language: str, file: Path | None = None) -> PaperWords:
    """The words for a language.

    Args:
        language: code of a language that comes with the program, such as ``en``.
        file: read this file instead.

    Raises:
        InputError: there is no such file.
        AuthorError: with file, line and mend.
    """
    path = file or Path(str(resources.files("handsfree") / "languages" / f"{language}.paper.yaml"))
    try:
        data = path.read_bytes()
    except OSError:
        raise InputError(
            f"what stands on paper in '{language}' should be in {path}, which cannot be read;"
            " write that file after en.paper.yaml.") from None
    top = Entry(compose(data, str(path)), str(path), "the file").table({"paper"})
    if "paper" not in top:
        Entry(compose(data, str(path)), str(path), "the file").fail(
            "'paper' is missing", "put the words under 'paper:'")
    table = top["paper"].table(FIELDS)
    for key, needed in FIELDS.items():
        if key not in table:
            top["paper"].fail(f"'{key}' is missing in 'paper'", f"add '{key}: …'")
        try:
            used = {name for _, name, _, _ in string.Formatter().parse(table[key].text())
                    if name is not None}
        except ValueError:
            table[key].fail(f"'{key}' has a brace without its partner", "mend the braces")
        if used != needed:
            fields = " ".join(f"{{{name}}}" for name in sorted(needed)) or "no field"
            table[key].fail(f"'{key}' does not have the right fields", f"use {fields}")
    if table["font"].text() not in FONTS:
        table["font"].fail("this font is not known", f"use {' or '.join(FONTS)}")
    return PaperWords({key: table[key].text() for key in FIELDS})
