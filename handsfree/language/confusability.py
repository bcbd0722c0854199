"""How alike two phrases sound, so that phrases that could be taken for each other are named.

Pure (stdlib only).  Pronunciations come from the caller, in ARPAbet.

The measure: the sounds of both phrases are aligned at the least cost, and

    likeness = exp(-cost)

so a cost is the (negative, natural) logarithm of the odds that one is taken for the other
against being heard right, and costs of different sounds add up as independent mistakes would.
1 is the same sound, 0 is nothing in common; words that both phrases share neither add nor take.

Consonants: weights of five features (voicing, nasality, affrication, duration, place), fitted to
Miller & Nicely, "An analysis of perceptual confusions among some English consonants", JASA 27,
338-352 (1955), their six conditions of flat noise taken together.  Vowels: distance of the first
two formants in Bark, from Peterson & Barney, JASA 24, 175-184 (1952), table II, men; that the
neighbours there are the ones confused is theirs, the scale is ours.  Sounds left out or put in:
our judgement, no published data used.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

Pronunciations = Mapping[str, Sequence[str]]
"""Word to its pronunciations, each a string of ARPAbet sounds: "chocks" to ["CH AA K S"]."""

TOO_ALIKE = 0.2
"""From this likeness on two phrases must not be open at the same time.

It lies just under the likeness of thirteen/thirty to nineteen/ninety, the pairs for which
radiotelephony reads digits one by one.
"""

REPORT_TOO_ALIKE = 0.02
"""The same where one of the two changes the record when it is taken for the other.

Ten times further apart, our choice: the costs above are those of listeners, and a recogniser hears
less.  Ours has taken "hold on" for "all done" (0.024) and been sure of it.
"""

_ANY, _VOICING, _NASALITY, _AFFRICATION, _DURATION, _PLACE = 0.7, 2.6, 2.7, 0.35, 1.0, 0.43
_UNLIKE = 5.0
"""Most that one sound in place of another costs: the rarest confusion that Miller & Nicely count
has odds of exp(-5.2)."""
_BARK = 0.5
_GLIDE = 1.5
_RHOTIC = 1.0
_WEAK, _STRONG, _VOWEL, _REDUCED = 1.5, 2.5, 2.5, 1.8


@dataclass(frozen=True, slots=True)
class Consonant:
    """Features after Miller & Nicely; ``place`` counts from the lips (0) to the throat (3)."""

    voiced: float
    nasal: float
    affricated: float
    long: float
    place: float
    glide: bool = False


CONSONANTS: dict[str, Consonant] = {
    "P": Consonant(0, 0, 0, 0, 0), "B": Consonant(1, 0, 0, 0, 0), "M": Consonant(1, 1, 0, 0, 0),
    "F": Consonant(0, 0, 1, 0, 0.3), "V": Consonant(1, 0, 1, 0, 0.3),
    "TH": Consonant(0, 0, 1, 0, 0.7), "DH": Consonant(1, 0, 1, 0, 0.7),
    "T": Consonant(0, 0, 0, 0, 1), "D": Consonant(1, 0, 0, 0, 1), "N": Consonant(1, 1, 0, 0, 1),
    "S": Consonant(0, 0, 1, 1, 1), "Z": Consonant(1, 0, 1, 1, 1),
    "SH": Consonant(0, 0, 1, 1, 1.5), "ZH": Consonant(1, 0, 1, 1, 1.5),
    "CH": Consonant(0, 0, 0.5, 1, 1.5), "JH": Consonant(1, 0, 0.5, 1, 1.5),
    "K": Consonant(0, 0, 0, 0, 2), "G": Consonant(1, 0, 0, 0, 2), "NG": Consonant(1, 1, 0, 0, 2),
    "HH": Consonant(0, 0, 1, 0, 3),
    "L": Consonant(1, 0.5, 0, 0, 1, True), "R": Consonant(1, 0.5, 0, 0, 1.3, True),
    "W": Consonant(1, 0.5, 0, 0, 0, True), "Y": Consonant(1, 0.5, 0, 0, 1.7, True),
    # T and D between vowels, one sound in much of American English.
    "DX": Consonant(0.5, 0, 0, 0, 1),
}  # fmt: skip

_FORMANTS = {
    "IY": (270, 2290), "IH": (390, 1990), "EH": (530, 1840), "AE": (660, 1720), "AA": (730, 1090),
    "AO": (570, 840), "UH": (440, 1020), "UW": (300, 870), "AH": (640, 1190), "ER": (490, 1350),
}  # fmt: skip
"""Hz, table II of Peterson & Barney (1952), men."""

VOWELS: dict[str, tuple[str, str]] = {
    **{v: (v, v) for v in _FORMANTS},
    "EY": ("EH", "IH"), "AY": ("AA", "IH"), "OY": ("AO", "IH"), "AW": ("AA", "UH"),
    "OW": ("AO", "UH"),
}  # fmt: skip
"""Vowel to where it starts and ends."""

_GLIDES_INTO = {("W", "UW"), ("W", "UH"), ("Y", "IY"), ("Y", "IH"), ("R", "ER")}


def confusability(one: str, other: str, pronunciations: Pronunciations) -> float:
    """Likeness of two phrases in normal form, 0 to 1, the highest over their pronunciations.

    Raises ``ValueError`` naming the words that have no pronunciation.
    """
    missing = unpronounced([one, other], pronunciations)
    if missing:
        raise ValueError(f"no pronunciation for {', '.join(missing)}")
    return confusability_of(_ways(one, pronunciations), _ways(other, pronunciations))


def confusability_of(ones: Sequence[tuple[str, ...]], others: Sequence[tuple[str, ...]]) -> float:
    """Likeness of two phrases by all that they can sound like (see `sounds`); none may be empty."""
    return math.exp(-min(_distance(a, b) for a in ones for b in others))


def sounds(phrase: str, pronunciations: Pronunciations) -> list[tuple[str, ...]]:
    """The strings of sounds that a phrase can be, at most a few; none where a word has none."""
    return [] if unpronounced([phrase], pronunciations) else _ways(phrase, pronunciations)


def unpronounced(phrases: Iterable[str], pronunciations: Pronunciations) -> list[str]:
    """The words of the phrases that have no pronunciation, sorted."""
    return sorted({w for p in phrases for w in p.split() if not pronunciations.get(w)})


def read_dictionary(lines: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """A pronouncing dictionary: "word S OU N D S" a line, alternates as "word(2)".

    Stress digits are dropped; comment lines start with ";;;" or "#".
    """
    found: dict[str, tuple[str, ...]] = {}
    for line in lines:
        word, _, sounds = line.strip().partition(" ")
        if not sounds or word.startswith((";;;", "#")):
            continue
        sounds = " ".join(s.rstrip("012") for s in sounds.split())
        word = word.lower()
        if word.endswith(")"):
            word = word.rpartition("(")[0] or word
        found[word] = (*found.get(word, ()), sounds)
    return found


_MOST_WAYS = 16


def _ways(phrase: str, pronunciations: Pronunciations) -> list[tuple[str, ...]]:
    """The phrase's strings of sounds: all pronunciations of its words, at most a few."""
    ways: list[tuple[str, ...]] = [()]
    for word in phrase.split():
        options = [tuple(p.split()) for p in pronunciations[word]]
        ways = [way + option for way in ways for option in options][:_MOST_WAYS]
    return [_flapped(way) for way in ways]


def _flapped(sounds: tuple[str, ...]) -> tuple[str, ...]:
    out = list(sounds)
    for i, (a, b) in enumerate(pairwise(sounds), 1):
        between = (a in VOWELS or a == "R") and sounds[i + 1 : i + 2] and sounds[i + 1] in VOWELS
        if b in ("T", "D") and between:
            out[i] = "DX"
    return tuple(out)


@lru_cache(maxsize=8192)
def _distance(a: tuple[str, ...], b: tuple[str, ...]) -> float:
    """Least cost of turning one string of sounds into the other.

    What both begin and end with costs nothing and is left out first: no sound costs more to drop
    than another with which it is changed and that is dropped then.
    """
    start, most = 0, min(len(a), len(b))
    while start < most and a[start] == b[start]:
        start += 1
    end = 0
    while end < most - start and a[-1 - end] == b[-1 - end]:
        end += 1
    a, b = a[start:len(a) - end], b[start:len(b) - end]
    costs = [dropped(y) for y in b]
    row = [0.0]
    for cost in costs:
        row.append(row[-1] + cost)
    for x in a:
        leaving = dropped(x)
        before, row = row, [row[0] + leaving]
        for j, y in enumerate(b):
            row.append(min(
                before[j] + instead(x, y), before[j + 1] + leaving, row[j] + costs[j]))
    return row[-1]


@lru_cache(maxsize=256)
def dropped(sound: str) -> float:
    """Cost of a sound left out or put in: our judgement.  Hissing and vowels are heard best."""
    if sound in VOWELS:
        return _REDUCED if sound in ("AH", "IH") else _VOWEL
    return _STRONG if _consonant(sound).long else _WEAK


@lru_cache(maxsize=4096)
def instead(a: str, b: str) -> float:
    """Cost of one sound in place of the other; symmetric.  ``ValueError`` for no ARPAbet sound."""
    if a == b:
        return 0.0
    if a in VOWELS and b in VOWELS:
        starts, ends = (_formant_distance(x, y)
                        for x, y in zip(VOWELS[a], VOWELS[b], strict=True))
        rhotic = _RHOTIC * ((a == "ER") != (b == "ER"))
        return min(_UNLIKE, _ANY + _BARK * (starts + ends) / 2 + rhotic)
    if a in VOWELS or b in VOWELS:
        return _GLIDE if (a, b) in _GLIDES_INTO or (b, a) in _GLIDES_INTO else _UNLIKE
    x, y = _consonant(a), _consonant(b)
    return min(_UNLIKE, _ANY
               + _VOICING * abs(x.voiced - y.voiced) + _NASALITY * abs(x.nasal - y.nasal)
               + _AFFRICATION * abs(x.affricated - y.affricated)
               + _DURATION * abs(x.long - y.long) + _PLACE * abs(x.place - y.place))


def _consonant(sound: str) -> Consonant:
    try:
        return CONSONANTS[sound]
    except KeyError:
        raise ValueError(f"'{sound}' is not an ARPAbet sound") from None


def _formant_distance(a: str, b: str) -> float:
    return math.dist(*([_bark(f) for f in _FORMANTS[v]] for v in (a, b)))


def _bark(hz: float) -> float:
    """Traunmüller, JASA 88, 97-100 (1990)."""
    return 26.81 * hz / (1960 + hz) - 0.53
