"""Phones of the recogniser: 39 of ARPAbet without stress, and how other alphabets map to them.

The 39 are those of the CMU pronouncing dictionary as PocketSphinx ships it, so that any word of
that dictionary can be scored.  Imports the standard library only.
"""

from __future__ import annotations

PHONES = [
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH",
    "IH", "IY", "JH", "K", "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH",
    "UW", "V", "W", "Y", "Z", "ZH",
]
"""Output classes 1 to 39 of the network; class 0 is the blank of CTC."""

CLASS = {phone: number for number, phone in enumerate(PHONES, start=1)}

_MISAKI = {
    "A": "EY", "I": "AY", "O": "OW", "Q": "OW", "W": "AW", "Y": "OY", "T": "T", "ɾ": "T", "ʔ": "T",
    "ʤ": "JH", "ʧ": "CH", "ə": "AH", "ᵊ": "AH", "ɐ": "AH", "ʌ": "AH", "ɪ": "IH", "ᵻ": "IH",
    "i": "IY", "ɛ": "EH", "æ": "AE", "a": "AE", "ɑ": "AA", "ɒ": "AA", "ɔ": "AO", "u": "UW",
    "ʊ": "UH", "ɜ": "ER", "ŋ": "NG", "θ": "TH", "ð": "DH", "ʒ": "ZH", "ʃ": "SH", "ɡ": "G",
    "ɹ": "R", "j": "Y", "h": "HH", "b": "B", "d": "D", "f": "F", "k": "K", "l": "L", "m": "M",
    "n": "N", "p": "P", "s": "S", "t": "T", "v": "V", "w": "W", "z": "Z",
}  # fmt: skip


def from_misaki(spoken: str) -> list[str]:
    """Phones of a string in the alphabet of the misaki lexicon (IPA with capitals for diphthongs).

    Schwa or open-mid central vowel with r becomes ER, as in the CMU dictionary.  Stress marks,
    length marks, blanks and punctuation are dropped.
    """
    phones: list[str] = []
    previous = ""
    for sign in spoken:
        if sign == "ɹ" and previous in ("ə", "ɜ", "ɚ"):
            phones[-1] = "ER"
        elif sign in _MISAKI:
            phones.append(_MISAKI[sign])
        elif sign not in "ˈˌː":
            previous = ""
            continue
        else:
            continue
        previous = sign
    return phones


def to_ipa(spoken: str) -> str:
    """The same string in plain IPA as espeak-ng writes American English (for Piper voices)."""
    for sign, ipa in (
        ("A", "eɪ"), ("I", "aɪ"), ("O", "oʊ"), ("W", "aʊ"), ("Y", "ɔɪ"), ("T", "ɾ"), ("ʤ", "dʒ"),
        ("ʧ", "tʃ"), ("ɜɹ", "ɜː"), ("əɹ", "ɚ"), ("ᵊ", "ə"), ("ɑ", "ɑː"), ("ɔ", "ɔː"), ("u", "uː"),
        ("i", "iː"), ("ɑːɹ", "ɑːɹ"),
    ):  # fmt: skip
        spoken = spoken.replace(sign, ipa)
    return spoken


def without_r(spoken: str) -> str:
    """The same string as a speaker who drops r before consonants and pauses would say it."""
    out: list[str] = []
    vowels = "əɜɪiɛæɑɔuʊʌAIOWYɐᵊᵻ"
    for at, sign in enumerate(spoken):
        if sign == "ɹ" and out and out[-1] in vowels + "ː":
            following = spoken[at + 1 :].lstrip(" ˈˌ")[:1]
            if following not in vowels or not following:
                if out[-1] in "ɑɔɜ":
                    out.append("ː")
                elif out[-1] in "ɪɛʊ":
                    out.append("ə")
                continue
        out.append(sign)
    return "".join(out).replace("ɑ", "ɒ", 1) if "ɑː" not in "".join(out) else "".join(out)
