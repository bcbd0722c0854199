"""A checklist in the words of a rig that is no trailer: a camper, a motorhome.

Pure.  May import the model.  What is spoken and answered changes, never a name of a fact or a step.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any

from handsfree.checklist.model import Act, Checklist, Fact, NeverRule, Remedy, Step

_SPOKEN = {
    Act: ("says", "clear"),
    Fact: ("says", "otherwise"),
    NeverRule: ("because", "now", "respond", "also"),
    Remedy: ("says", "gives_up"),
    Step: ("do", "detail", "why", "caution", "respond", "also"),
}
_CLAIMED = ("title", "says", "defers", "closing")


def called(text: str, words: Mapping[str, str]) -> str:
    """The text with each of `words` (lower case, singular) replaced, in singular and plural."""
    def change(found: re.Match[str]) -> str:
        word = words[found[1].lower()]
        return (word.capitalize() if found[1][0].isupper() else word) + found[2]

    return re.sub(rf"\b({'|'.join(map(re.escape, words))})(s?)\b", change, text,
                  flags=re.IGNORECASE) if words else text


def in_its_words(checklist: Checklist) -> Checklist:
    """The checklist with each word of its `calls` replaced wherever it is spoken."""
    words = checklist.calls
    if not words:
        return checklist

    def said(value: Any) -> Any:
        if isinstance(value, Mapping):
            return {key: said(one) for key, one in value.items()}
        if isinstance(value, tuple):
            return tuple(said(one) for one in value)
        keys = _SPOKEN.get(type(value), ())
        return replace(value, **{key: texts(getattr(value, key)) for key in keys}) if keys else value

    def texts(value: str | tuple[str, ...]) -> str | tuple[str, ...]:
        return (called(value, words) if isinstance(value, str)
                else tuple(called(one, words) for one in value))

    assert is_dataclass(checklist)
    whole = {one.name: said(getattr(checklist, one.name)) for one in fields(checklist)}
    return replace(checklist, **whole | {key: called(getattr(checklist, key), words) for key in _CLAIMED})
