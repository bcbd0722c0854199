"""Spoken numbers to values: every reading of the words, never a guess.

Pure (stdlib and this room only).  The words and how they combine are data of the language;
this file knows only how tens, hundreds and fractions are built.

    number    = [minus] size
    size      = whole | whole point tail | point tail | fraction | whole [joiner] fraction
                | whole half_after
    whole     = cardinal | sequence
    cardinal  = "one hundred and eighteen", "eighteen hundred", "one two thousand"
    sequence  = digits and, where the language says numbers in pairs, groups of two digits set
                side by side: "one one eight", "one eighteen", "twenty one fifteen"
    tail      = sequence or one group
    fraction  = [numerator] denominator ("three quarters"), or denominator-of-numerator

What is exposed as ambiguous: exactly two groups of which the first has two digits ("twelve six")
may be set side by side (126) or be a whole and its decimals (12.6), since people say both.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

from handsfree.language.model import Language, NumberWords
from handsfree.language.words import normalise

MOST_TOKENS = 24
"""More words than this are no number."""

_NUMERAL = re.compile(r"([0-9]{1,9})(?:[.,]([0-9]{1,6}))?")
_TYPED = re.compile(
    r"\s*([-\u2212+]?)\s*([0-9]{1,9}(?:[.,][0-9]{1,6})?)(?:\s*/\s*([0-9]{1,4}))?\s*"
)


def parse_number(text: str, language: Language) -> tuple[Fraction, ...]:
    """All readings of a spoken (or typed) number, the likeliest first; empty if it is none.

    Never raises for any text.
    """
    typed = _TYPED.fullmatch(text)
    if typed:
        return _typed(*typed.groups())
    return parse_words(tuple(normalise(text).split()), language)


def parse_words(words: tuple[str, ...], language: Language) -> tuple[Fraction, ...]:
    """As ``parse_number``, for words in normal form."""
    if not 0 < len(words) <= MOST_TOKENS:
        return ()
    lexicon = _lexicon(language)
    found: dict[Fraction, None] = {}
    for tokens in lexicon.tokenise(words):
        for value in _Parse(tokens, language.numbers).number():
            found[value] = None
    return tuple(found)


def number_words(language: Language) -> frozenset[str]:
    """Every single word that can be part of a spoken number or of its link to a unit."""
    n = language.numbers
    forms = [form for table in (n.values, n.multipliers, n.fractions) for fs in table.values()
             for form in fs]
    forms += [*n.point, *n.minus, *n.joiner, *n.one, *n.fraction_of, *n.half_after, *n.unit_links]
    return frozenset(word for form in forms for word in form.split())


def ends_in_fraction(words: tuple[str, ...], language: Language) -> bool:
    """Whether the last word is one of a fraction: then "of an" may link it to its unit."""
    return bool(words) and any(words[-1] == form.split()[-1]
                               for forms in language.numbers.fractions.values() for form in forms)


def _typed(sign: str, size: str, denominator: str | None) -> tuple[Fraction, ...]:
    value = Fraction(size.replace(",", "."))
    if denominator is not None:
        if int(denominator) == 0:
            return ()
        value /= int(denominator)
    return (-value if sign in ("-", "\u2212") else value,)


@dataclass(frozen=True)
class _Token:
    """One number word with everything that it can be."""

    value: int | None = None
    multiplier: int | None = None
    denominator: int | None = None
    roles: frozenset[str] = frozenset()
    numeral: Fraction | None = None


@dataclass
class _Lexicon:
    """Spoken forms to tokens.  ``joined`` forms may stand in the midst of a longer word."""

    forms: dict[tuple[str, ...], _Token]
    joined: bool
    longest: int = field(init=False)

    def __post_init__(self) -> None:
        key = max(self.forms, key=lambda form: len(form) if not self.joined else len(form[0]))
        self.longest = len(key[0]) if self.joined else len(key)

    def tokenise(self, words: tuple[str, ...]) -> Iterator[list[_Token]]:
        """The ways of cutting the words into known forms, at most a few."""
        if self.joined:
            words = tuple("".join(words)) if all(map(str.isalnum, words)) else ()
        yield from _cut(self, words)


def _cut(lexicon: _Lexicon, units: tuple[str, ...]) -> Iterator[list[_Token]]:
    """Longest forms first, backtracking; memory of dead ends keeps it from exploding."""
    dead: set[int] = set()

    def cut(start: int) -> list[_Token] | None:
        if start == len(units):
            return []
        if start in dead:
            return None
        for length in range(min(lexicon.longest, len(units) - start), 0, -1):
            piece = units[start : start + length]
            token = lexicon.forms.get(("".join(piece),) if lexicon.joined else piece)
            if token is None and length == 1 and not lexicon.joined:
                token = _numeral(piece[0])
            if token is not None:
                rest = cut(start + length)
                if rest is not None:
                    return [token, *rest]
        dead.add(start)
        return None

    if units:
        tokens = cut(0)
        if tokens is not None:
            yield tokens


def _numeral(word: str) -> _Token | None:
    return _Token(numeral=Fraction(word.replace(",", "."))) if _NUMERAL.fullmatch(word) else None


@lru_cache(maxsize=16)
def _lexicon(language: Language) -> _Lexicon:
    n = language.numbers
    parts: dict[tuple[str, ...], dict[str, object]] = {}

    def add(form: str, **what: object) -> None:
        key = ("".join(form.split()),) if n.joined else tuple(form.split())
        entry = parts.setdefault(key, {"roles": frozenset()})
        roles = entry["roles"] | what.pop("roles", frozenset())  # type: ignore[operator]
        entry.update(what, roles=roles)

    for name in ("values", "multipliers", "fractions"):
        kind = {"values": "value", "multipliers": "multiplier", "fractions": "denominator"}[name]
        for number, forms in getattr(n, name).items():
            for form in forms:
                add(form, **{kind: number})
    for role in ("point", "minus", "joiner", "one", "fraction_of", "half_after"):
        for form in getattr(n, role):
            add(form, roles=frozenset({role}))
    return _Lexicon({key: _Token(**what) for key, what in parts.items()}, n.joined)  # type: ignore[arg-type]


_Ends = Iterator[tuple[int, int]]


class _Parse:
    """One way of cutting the words, parsed: methods yield (end, value) for a start."""

    def __init__(self, tokens: list[_Token], words: NumberWords) -> None:
        self.tokens, self.words = tokens, words
        self.end = len(tokens)
        self.multipliers = sorted(words.multipliers, reverse=True)
        self.top = self.multipliers[0] ** 2 if self.multipliers else 1_000

    def is_role(self, i: int, role: str) -> bool:
        return i < self.end and role in self.tokens[i].roles

    def number(self) -> Iterator[Fraction]:
        minus = self.is_role(0, "minus")
        start = int(minus)
        if start < self.end and self.tokens[start].numeral is not None:
            sizes = iter([self.tokens[start].numeral] if start + 1 == self.end else [])
        else:
            sizes = self.size(start)
        for value in sizes:
            assert value is not None
            yield -value if minus else value

    def size(self, i: int) -> Iterator[Fraction]:
        for end, value in self.cardinals(i):
            yield from self.after_whole(end, Fraction(value))
        groups = list(self.groups(i))
        if len(groups) >= 2:
            for k in range(2, len(groups) + 1):
                text = "".join(digits for _, digits in groups[:k])
                yield from self.after_whole(groups[k - 1][0], Fraction(int(text)))
            if len(groups) == 2 and groups[1][0] == self.end:
                first, second = groups[0][1], groups[1][1]
                if len(first) == 2 and first[0] != "0":
                    yield Fraction(f"{first}.{second}")
        if self.is_role(i, "point"):
            yield from self.tails(i + 1, "0")
        yield from self.fractions(i)

    def after_whole(self, i: int, whole: Fraction) -> Iterator[Fraction]:
        """What may follow a whole number, up to the last token."""
        if i == self.end:
            yield whole
        elif self.is_role(i, "point"):
            yield from self.tails(i + 1, str(whole))
        if self.is_role(i, "half_after") and i + 1 == self.end:
            yield whole + Fraction(1, 2)
        if self.is_role(i, "joiner"):
            for part in self.fractions(i + 1):
                if part < 1:
                    yield whole + part

    def tails(self, i: int, whole: str) -> Iterator[Fraction]:
        """Decimals: groups of digits up to the last token."""
        groups = list(self.groups(i))
        if groups and groups[-1][0] == self.end:
            yield Fraction(f"{whole}.{''.join(digits for _, digits in groups)}")

    def fractions(self, i: int) -> Iterator[Fraction]:
        """"three quarters", "a half", "half"; or denominator, of, numerator; to the last token."""
        last = self.tokens[self.end - 1] if i < self.end else _Token()
        if last.denominator is not None:
            if i + 1 == self.end:
                if last.denominator == 2 or not self.words.one:
                    yield Fraction(1, last.denominator)
                elif self.words.one:
                    yield Fraction(1, last.denominator)
            elif self.is_role(i, "one") and i + 2 == self.end:
                yield Fraction(1, last.denominator)
            else:
                for end, top in self.cardinals(i):
                    if end + 1 == self.end and (top < 10 or top < last.denominator):
                        yield Fraction(top, last.denominator)
        if self.words.fraction_of:
            for end, bottom in self.cardinals(i):
                if self.is_role(end, "fraction_of") and bottom >= 2:
                    for stop, top in self.cardinals(end + 1):
                        if stop == self.end:
                            yield Fraction(top, bottom)

    def groups(self, i: int) -> Iterator[tuple[int, str]]:
        """Digits and two-digit groups from ``i`` as far as they go: (end, digits)."""
        while i < self.end:
            value = self.tokens[i].value
            if value is None or value > 99:
                return
            if value < 10:
                if (value == 0 and self.words.pairs and i + 2 == self.end
                        and 0 < (self.tokens[i + 1].value or 0) < 10):
                    yield i + 2, f"0{self.tokens[i + 1].value}"
                    return
                i += 1
                yield i, str(value)
                continue
            if not self.words.pairs:
                return
            i, value = max(self.below_hundred(i))
            yield i, str(value)

    def below_hundred(self, i: int) -> _Ends:
        """"eighteen", "fifty", "fifty five"."""
        value = self.tokens[i].value if i < self.end else None
        if value is None or value > 99:
            return
        yield i + 1, value
        if value >= 20 and value % 10 == 0:
            j = i + 1
            digit = self.tokens[j].value if j < self.end else None
            if digit is not None and 0 < digit < 10:
                yield j + 1, value + digit

    def cardinals(self, i: int) -> _Ends:
        """Cardinal numbers from ``i``, the longest first."""
        found = set(self.cardinal(i, self.top, first=True))
        yield from sorted(found, reverse=True)

    def cardinal(self, i: int, limit: int, first: bool = False) -> _Ends:
        """Cardinals below ``limit``; "hundred" and "a hundred" only where a number begins."""
        for end, value in self.below_hundred(i):
            if value < limit:
                yield end, value
        value = self.tokens[i].value if i < self.end else None
        if value is not None and 100 <= value < limit:
            yield i + 1, value
            yield from self.rest(i + 1, value, 100)
        for m in self.multipliers:
            if m < limit:
                for end, times in self.coefficients(i, m, first):
                    if times * m < limit:
                        yield end, times * m
                        yield from self.rest(end, times * m, m)

    def rest(self, i: int, so_far: int, below: int) -> _Ends:
        start = i + 1 if self.is_role(i, "joiner") else i
        for end, value in self.cardinal(start, below):
            if value:
                yield end, so_far + value

    def coefficients(self, i: int, m: int, first: bool) -> _Ends:
        """How often the multiplier ``m`` is said to be there; ends after the multiplier."""
        if self.multiplier(i) == m and (first or self.words.bare_one):
            yield i + 1, 1
        if self.is_role(i, "one") and self.multiplier(i + 1) == m:
            yield i + 2, 1
        for end, times in set(self.cardinal(i, m)):
            if times and self.multiplier(end) == m:
                yield end + 1, times
        if m >= 1_000 and self.words.pairs:
            end, text = i, ""
            for end, digits in self.groups(i):
                text += digits
                if len(digits) > 1 or len(text) > 3:
                    return
                if len(text) > 1 and text[0] != "0" and self.multiplier(end) == m:
                    yield end + 1, int(text)

    def multiplier(self, i: int) -> int | None:
        return self.tokens[i].multiplier if i < self.end else None
