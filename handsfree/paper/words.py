"""What stands on paper around the checklist's own words, from ``languages/*.paper.yaml``.

May import the language room's labels and errors.
"""

from __future__ import annotations

from pathlib import Path

from handsfree.errors import AuthorError
from handsfree.language.labels import Labels, load_labels

FIELDS: dict[str, frozenset[str]] = {
    **dict.fromkeys(
        ("font", "decimal", "nouns", "legend", "place", "date", "spot", "hold", "question", "yes",
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
    "waits": frozenset({"minutes", "number"}),
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


def load_paper_words(language: str, file: Path | None = None) -> Labels:
    """The words for a language, or those in a file.

    Raises:
        InputError: there is no such file.
        AuthorError: with file, line and mend.
    """
    words = load_labels("paper", language, FIELDS, file)
    if words.words["font"] not in FONTS:
        raise AuthorError(f"the font '{words.words['font']}' is not known",
                          mend=f"use {' or '.join(FONTS)}", file=str(file or ""))
    return words
