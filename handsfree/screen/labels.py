"""The screen's own words, from ``languages/*.screen.yaml``.

May import the language room's labels.
"""

from __future__ import annotations

from handsfree.language.labels import Labels, load_labels

FIELDS: dict[str, frozenset[str]] = {
    **dict.fromkeys(
        ("nouns", "decimal", "step", "hold", "reading", "question", "confirm", "paused", "closing",
         "waiting", "blocked", "alarm", "note", "finished", "caution", "answer", "waits", "say",
         "spoken", "heard", "typing", "nothing heard", "certain", "unsure", "not taken", "listening",
         "hearing", "speaking", "silent", "faint", "quiet", "good", "too loud", "noise"),
        frozenset()),
    "done open": frozenset({"done", "open"}),
    "skipped": frozenset({"count"}),
    "in time": frozenset({"name", "minutes"}),
    "between": frozenset({"low", "high", "unit"}),
    "at least": frozenset({"low", "unit"}),
    "at most": frozenset({"high", "unit"}),
}
"""Every key of the file, and the fields that it must have."""


def load_screen_labels(language: str) -> Labels:
    """The labels for a language.

    Raises:
        InputError, AuthorError: they are missing or not as they should be.
    """
    return load_labels("screen", language, FIELDS)
