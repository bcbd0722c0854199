"""Text to plain words: the one form in which phrases are compared.

Pure (stdlib only).
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_DASHES = re.compile(r"[-\u2010-\u2015_/]+")
_NOT_WORD = re.compile(r"[^\w\s.']|_")
_ASKS = re.compile(r"[?\uff1f\u061f\u2047-\u2049]")
_LONE_DOT = re.compile(r"(?<![0-9])\.|\.(?![0-9])")
_QUOTE = re.compile(r"(?<!\w)'|'(?!\w)")


@lru_cache(maxsize=4096)
def normalise(text: str) -> str:
    """Lower case, no punctuation or hyphens, single spaces.

    Apostrophes inside words and points inside numerals stay; a minus before a numeral does not
    (see ``numbers`` for typed numerals).
    """
    # Not casefold: that writes "dreissig", which no German model knows.
    text = unicodedata.normalize("NFC", text).lower().replace("\u2019", "'")
    text = _DASHES.sub(" ", text)
    text = _NOT_WORD.sub(" ", text)
    text = _LONE_DOT.sub(" ", text)
    text = _QUOTE.sub(" ", text)
    return " ".join(text.split())


def asks(text: str) -> bool:
    """Whether a question mark stands in a text, of whatever script; `normalise` drops it."""
    return _ASKS.search(text) is not None
