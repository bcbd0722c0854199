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
    NeverRule: ("because", "now", "respond"),
    Remedy: ("says", "gives_up"),
    Step: ("do", "detail", "why", "caution", "respond"),
}
_CLAIMED = ("title", "says", "defers", "closing")


def in_its_words(checklist: Checklist, words: Mapping[str, str]) -> Checklist:
    """The checklist with each of `words` (lower case, singular) replaced wherever it is spoken."""
    pattern = re.compile(rf"\b({'|'.join(map(re.escape, words))})(s?)\b", re.IGNORECASE)

    def change(found: re.Match[str]) -> str:
        word = words[found[1].lower()]
        return (word.capitalize() if found[1][0].isupper() else word) + found[2]

    def said(value: Any) -> Any:
        if isinstance(value, Mapping):
            return {key: said(one) for key, one in value.items()}
        if isinstance(value, tuple):
            return tuple(said(one) for one in value)
        keys = _SPOKEN.get(type(value), ())
        return replace(value, **{key: pattern.sub(change, getattr(value, key))
                                 for key in keys}) if keys else value

    assert is_dataclass(checklist)
    whole = {one.name: said(getattr(checklist, one.name)) for one in fields(checklist)}
    return replace(checklist, **whole | {
        key: pattern.sub(change, getattr(checklist, key)) for key in _CLAIMED})
