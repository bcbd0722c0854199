"""Keys as a terminal sends them, by name; pure.

Two published conventions: the control sequences of ECMA-48 as terminals have long used them for
keys (CSI 6 ~ for Page Down, SS3 P for F1), and the "CSI u" protocol of progressive enhancement,
which also tells when a key is let go and knows media keys.  Where a terminal has only the first,
nothing says that a key was let go, and media keys do not arrive.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

ASK_FOR_RELEASES = "\x1b[>27u"
"""Asks a terminal that can for CSI u: unambiguous, with releases, all keys, their text (1+2+8+16)."""

AS_BEFORE = "\x1b[<u"
"""Takes that back."""

_FINAL = {"A": "up", "B": "down", "C": "right", "D": "left", "F": "end", "H": "home", "P": "f1",
          "Q": "f2", "R": "f3", "S": "f4"}
_TILDE = {1: "home", 2: "insert", 3: "delete", 4: "end", 5: "pageup", 6: "pagedown", 7: "home",
          8: "end", 11: "f1", 12: "f2", 13: "f3", 14: "f4", 15: "f5", 17: "f6", 18: "f7", 19: "f8",
          20: "f9", 21: "f10", 23: "f11", 24: "f12", 25: "f13", 26: "f14", 28: "f15", 29: "f16",
          31: "f17", 32: "f18", 33: "f19", 34: "f20"}
_CODES = {9: "tab", 13: "enter", 27: "escape", 32: "space", 127: "backspace",
          57428: "media-play", 57429: "media-pause", 57430: "media-play-pause",
          57432: "media-stop", 57435: "media-next", 57436: "media-previous",
          **{57376 + number: f"f{13 + number}" for number in range(23)}}
PLAIN = {"\t": "tab", "\r": "enter", "\n": "enter", " ": "space", "\x7f": "backspace",
          "\b": "backspace", "\x1b": "escape"}

NAMES = frozenset({*_FINAL.values(), *_TILDE.values(), *_CODES.values()})
"""Keys that have a name; all others are called by their character."""

_SEQUENCE = re.compile(r"\x1b(?:\[([0-9;:<=>?]*)([ -/]*[@-~])|O([@-~]))")
_BEGUN = re.compile(r"\x1b(?:\[[0-9;:<=>?]*[ -/]*|O)?\Z")


@dataclass(frozen=True)
class Key:
    """A key that went down or up; `text` is what it types, if anything."""

    name: str
    text: str = ""
    up: bool = False
    tells: bool = False
    """Whether the terminal will tell when it is let go."""


def keys_in(received: str) -> tuple[list[Key], str]:
    """The keys in what a terminal sent, and the beginning of a sequence that is not complete."""
    found: list[Key] = []
    place = 0
    while place < len(received):
        sequence = _SEQUENCE.match(received, place)
        if sequence:
            key = _named(sequence)
            if key:
                found.append(key)
            place = sequence.end()
        elif received[place] == "\x1b" and _BEGUN.match(received, place):
            return found, received[place:]
        else:
            letter = received[place]
            found.append(Key(PLAIN.get(letter, letter.lower()), letter))
            place += 1
    return found, ""


def _named(sequence: re.Match[str]) -> Key | None:
    """The key of one sequence; None for one that is no key of ours."""
    given, final, single = sequence.groups()
    if single:
        return Key(_FINAL[single]) if single in _FINAL else None
    fields = [part.split(":") for part in given.split(";")] if given else [["1"]]
    code = _number(fields[0][0], 1)
    event = _number(fields[1][1], 0) if len(fields) > 1 and len(fields[1]) > 1 else 0
    up, tells = event == 3, event > 0
    if final == "u":
        typed = "".join(chr(_number(c, 0)) for c in fields[2] if _number(c, 0)) if (
            len(fields) > 2) else ""
        name = _CODES.get(code) or (chr(code).lower() if 32 < code < 0x110000 else "")
        own = {"enter": "\n", "escape": "\x1b", "backspace": "\x7f", "tab": "\t"}.get(name, typed)
        return Key(name, "" if up else own, up, True) if name else None
    name = _TILDE.get(code, "") if final == "~" else _FINAL.get(final, "")
    return Key(name, "", up, tells) if name else None


def _number(text: str, otherwise: int) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 8 else otherwise
