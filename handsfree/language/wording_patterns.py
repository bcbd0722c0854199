"""Patterns of words: "[all] (done|finished) [with <that>]", as the language's files of sayings have them.

Pure (stdlib only).  [x] may be left out, (x|y) is one of them, <name> is a group, <...> are one to
`FREE` words of any kind, <..> one to three that are not in the group `CLOSED`.  A pattern becomes a
regular expression over words with one blank behind each.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache

FREE = 5
"""So many words "<...>" may be at most."""

CLOSED = "closed words"
"""The group of words that "<..>" does not take."""

_PARTS = re.compile(r"\s*(\[|\]|\(|\)|\||<[^<>]*>|[^\s\[\]()|<>]+)")
_ENDS = {"[": "]", "(": ")"}


class BadPattern(ValueError):
    """What is wrong with a pattern, as a sentence."""


def expression(pattern: str, groups: Mapping[str, str]) -> str:
    """The regular expression of a pattern.

    Args:
        groups: name -> the regular expression of a group that it may use.

    Raises:
        BadPattern: it cannot be read.
    """
    return _read(pattern, groups)[0]


def may_be_nothing(pattern: str, groups: Mapping[str, str]) -> bool:
    """Whether a pattern fits where no word is said.  Raises as `expression`."""
    return _read(pattern, groups)[1]


def _read(pattern: str, groups: Mapping[str, str]) -> tuple[str, bool]:
    parts = _PARTS.findall(pattern)
    if "".join(parts).replace(" ", "") != pattern.replace(" ", ""):
        raise BadPattern(f"'{pattern}' has a sign that means nothing here")
    read, nothing, at = _choices(parts, 0, groups, "")
    if at != len(parts):
        raise BadPattern(f"'{pattern}' closes what was never opened")
    return read, nothing


def _choices(
    parts: list[str], at: int, groups: Mapping[str, str], end: str
) -> tuple[str, bool, int]:
    """Alternatives up to `end`: their expression, whether one of them may be no word at all, and
    the place behind them."""
    options, words = [], ""
    nothing, so_far = False, True
    while at < len(parts) and parts[at] not in ("]", ")"):
        part = parts[at]
        at += 1
        if part == "|":
            options.append(words)
            nothing, so_far, words = nothing or so_far, True, ""
        elif part in _ENDS:
            inside, empty, at = _choices(parts, at, groups, _ENDS[part])
            words += f"{inside}?" if part == "[" else inside
            so_far = so_far and (empty or part == "[")
        elif part == "<...>":
            words += rf"(?:\S+ ){{1,{FREE}}}"
            so_far = False
        elif part == "<..>":
            words += rf"(?:(?!{groups.get(CLOSED, '(?!)')})\S+ ){{1,3}}"
            so_far = False
        elif part.startswith("<"):
            if part[1:-1] not in groups:
                raise BadPattern(f"there is no group '{part}'")
            words += groups[part[1:-1]]
            so_far = so_far and fits(groups[part[1:-1]], ())
        else:
            words += re.escape(part) + " "
            so_far = False
    if end:
        if at == len(parts) or parts[at] != end:
            raise BadPattern(f"'{end}' is missing")
        at += 1
    return f"(?:{'|'.join([*options, words])})", nothing or so_far, at


def fits(expression: str, words: Iterable[str]) -> bool:
    """Whether the words, all of them, are what the expression describes.

    An expression is compiled when it is first asked for: all of a language's take half a second,
    and most sessions ask for few.
    """
    return _compiled(expression).fullmatch("".join(f"{word} " for word in words)) is not None


@cache
def _compiled(expression: str) -> re.Pattern[str]:
    return re.compile(expression)
