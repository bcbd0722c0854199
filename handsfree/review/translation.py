"""The review's sentences in the language of the checklist that it is about.

May import errors, yaml and the standard library.  Sentences stand in the code in English; a file
`languages/xx.review.yaml` gives each of them in another language, with the same fields.  What no
file has is said in English.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from importlib.resources import files

import yaml

_NOW: ContextVar[str] = ContextVar("language of the review", default="en")


@contextmanager
def spoken_in(language: str) -> Iterator[None]:
    """Within it, `say` speaks this language, or English where there is no file for it."""
    before = _NOW.set(language if language in languages() else "en")
    try:
        yield
    finally:
        _NOW.reset(before)


def language_now() -> str:
    """The language that is spoken now: 'en', 'de', ..."""
    return _NOW.get()


def say(text: str, /, **fields: object) -> str:
    """An English sentence in the language of now, its `{fields}` filled in."""
    template = translations(_NOW.get()).get(text, text)
    return template.format(**fields) if fields else template


@cache
def languages() -> frozenset[str]:
    """Languages that can be spoken."""
    folder = files("handsfree") / "languages"
    return frozenset({"en"} | {entry.name.removesuffix(".review.yaml")
                               for entry in folder.iterdir()
                               if entry.name.endswith(".review.yaml")})


@cache
def translations(language: str) -> Mapping[str, str]:
    """English sentence to that of the language; nothing for English."""
    if language == "en":
        return {}
    file = files("handsfree") / "languages" / f"{language}.review.yaml"
    return dict(yaml.safe_load(file.read_text(encoding="utf-8")))
