"""Korean spelling to sounds, near enough for likeness.

Pure (stdlib only).  Hangul is written as it sounds but for sound changes between syllables; of
these only liaison (a final consonant carried over to a syllable that starts with a vowel) is
followed.  Plain, tense and aspirated consonants become one sound, since they differ least in
noise: our judgement, and on the side of calling words alike.
"""

from __future__ import annotations

import unicodedata

_INITIAL = dict(zip(range(0x1100, 0x1113), (
    "K", "K", "N", "T", "T", "L", "M", "P", "P", "S", "S", "", "CH", "CH", "CH", "K", "T", "P", "HH"
), strict=True))  # fmt: skip
_VOWEL = dict(zip(range(0x1161, 0x1176), (
    "AA", "EH", "Y AA", "Y EH", "AH", "EH", "Y AH", "Y EH", "OW", "W AA", "W EH", "W EH", "Y OW",
    "UW", "W AH", "W EH", "W IY", "Y UW", "UH", "IY", "IY",
), strict=True))  # fmt: skip
_FINAL = dict(zip(range(0x11A8, 0x11C3), (
    "K", "K", "K", "N", "N", "N", "T", "L", "K", "M", "L", "L", "L", "P", "L", "M", "P", "P", "T",
    "T", "NG", "T", "T", "K", "T", "P", "T",
), strict=True))  # fmt: skip
_CARRIED = {
    "\u11ba": "S", "\u11bb": "S", "\u11bd": "CH", "\u11be": "CH", "\u11b9": "P S",
    "\u11ad": "N", "\u11b6": "L", "\u11c2": "",
}  # fmt: skip
"""Finals that sound different before a vowel."""


def hangul_sounds(word: str) -> str:
    """ARPAbet sounds of a word in Hangul; empty if there is any other letter in it."""
    jamo = unicodedata.normalize("NFD", word)
    sounds: list[str] = []
    for i, letter in enumerate(jamo):
        code = ord(letter)
        if code in _INITIAL:
            sounds.append(_INITIAL[code])
        elif code in _VOWEL:
            sounds.append(_VOWEL[code])
        elif code in _FINAL:
            before_vowel = jamo[i + 1 : i + 2] == "\u110b" and letter != "\u11bc"
            sounds.append(_CARRIED.get(letter, _FINAL[code]) if before_vowel else _FINAL[code])
        else:
            return ""
    return " ".join(" ".join(sounds).split())
