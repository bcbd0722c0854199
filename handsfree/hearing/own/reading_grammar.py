"""What a reading comes to, and which number words may follow one another in it.

Imports the language room.
"""

from __future__ import annotations

import itertools
from collections.abc import Hashable, Iterable
from functools import lru_cache

from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.language.natural_wordings import sayings_of
from handsfree.language.number_words import Token, lexicon
from handsfree.language.numbers import ends_in_fraction, parse_words
from handsfree.language.readings import WrongUnit, parse_reading

NO_UNIT = "times"
"""Stands for the unit where nobody said which one is asked for."""

Pair = tuple[str, str]
"""Two words, one behind the other."""

_BEFORE = ("", "one", "two", "twenty", "two hundred", "two and", "minus", "one point")
_BEHIND = ("", "five", "hundred", "quarters", "eighth", "and five", "point five")
"""Between these, one of each, two words that may follow each other make a number."""


@lru_cache(maxsize=1)
def english() -> Language:
    """The language of the model."""
    return load_language("en")


@lru_cache(maxsize=20_000)
def meaning(text: str, unit: str) -> Hashable | None:
    """What a text in `normal` form comes to where a reading in `unit` (a unit id, or "") is due;
    None for what is no reading.  "About" and its like say nothing."""
    leads = [lead for lead in sayings_of(english()).number_leads if text.startswith(f"{lead} ")]
    if leads:
        text = text[len(max(leads, key=len)) + 1:]
    read = parse_reading(text, english(), unit or NO_UNIT)
    if isinstance(read, WrongUnit):
        return read
    return tuple((reading.value, reading.unit) for reading in read) or None


class Joins:
    """How number words are strung together.

    starts, ends: words with which the number in a reading may begin and end; the unit stands before
    the one and behind the other.  follows: pairs of words, side by side in some number or in what
    ties it to its unit.
    """

    def __init__(self, words: Iterable[str], language: Language) -> None:
        kinds: dict[Hashable, list[str]] = {}
        for word in sorted(words):
            kinds.setdefault(_kind(word, language), []).append(word)
        forms = lexicon(language).forms

        def least(word: str) -> tuple[int, str]:
            """Two before nine: more of what begins with it is a number, such as two thirds."""
            return int(forms.get((word,), Token()).value or 0), word

        first = {kind: min(some, key=least) for kind, some in kinds.items()}
        self.starts: set[str] = set()
        self.ends: set[str] = set()
        self.follows: set[Pair] = set()
        for kind, one in first.items():
            if any(_number(f"{one} {behind}", language) for behind in _BEHIND):
                self.starts |= set(kinds[kind])
            if any(_number(f"{before} {one}", language) for before in _BEFORE):
                self.ends |= set(kinds[kind])
            for other, two in first.items():
                if any(_number(f"{before} {one} {two} {behind}", language)
                       for before, behind in itertools.product(_BEFORE, _BEHIND)):
                    self.follows |= set(itertools.product(kinds[kind], kinds[other]))
        self._link([word for some in kinds.values() for word in some], language)

    def _link(self, words: list[str], language: Language) -> None:
        """The words that tie a fraction to its unit."""
        links = [tuple(link.split()) for link in language.numbers.unit_links]
        fractions = [word for word in words if ends_in_fraction((word,), language)]
        for link in links:
            self.follows |= {(word, link[0]) for word in fractions}
            self.follows |= set(itertools.pairwise(link))
            self.ends.add(link[-1])


@lru_cache(maxsize=8)
def joins(words: frozenset[str]) -> Joins:
    """`Joins` of these English number words."""
    return Joins(words, english())


def _number(text: str, language: Language) -> bool:
    return bool(parse_words(tuple(text.split()), language))


def _kind(word: str, language: Language) -> Hashable:
    """Words of one kind stand in the same places."""
    token = lexicon(language).forms.get((word,), Token())
    if token == Token():
        return word
    value = token.value
    size = value if value is None or value < 2 else (
        2 if value < 10 else 10 if value < 20 else 20 + (value % 10 > 0))
    return size, token.multiplier, token.denominator is not None, token.roles
