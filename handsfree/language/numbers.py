"""Spoken numbers to values: every reading of the words, never a guess.

Pure (stdlib and this room only).  The words and how they combine are data of the language;
this file knows only how tens, hundreds and fractions are built.

    number    = [minus] size
    size      = whole | whole point tail | point tail | fraction | whole [joiner] fraction
                | whole half_after
    whole     = cardinal | sequence
    cardinal  = "one hundred and eighteen", "eighteen hundred", "one two thousand"
    sequence  = up to six digits ("one one eight"); or, where the language says numbers in pairs,
                [digit] pair [pair or digit], up to four digits: "one eighteen", "twenty one
                fifteen", "twelve oh five".  Longer strings of number words mean nothing.
    tail      = sequence or one group
    fraction  = [numerator] denominator ("three quarters", less than one; a plural only behind
                more than one), or denominator-of-numerator

What is exposed as ambiguous: a last group after one of two digits ("twelve six", "one eighteen
five") may be set beside the others (126, 1185) or be the decimals (12.6, 118.5): people say both.

Numbers that are typed stand alone: "118", "-12.5", "1/4".  A comma is refused, since it parts
thousands here and decimals there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from handsfree.language.model import Language, NumberWords
from handsfree.language.number_words import MOST_PIECES, Token, lexicon
from handsfree.language.words import normalise

MOST_TOKENS = 24
"""More words than this are no number."""

MOST_DIGITS, MOST_IN_PAIRS = 6, 4
"""Digits of a number that is said digit by digit, or with pairs in it."""

_TYPED = re.compile(
    r"\s*([-\u2212+]?)\s*([0-9]{1,9}(?:\.[0-9]{1,6})?)(?:\s*/\s*([0-9]{1,4}))?\s*"
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
    if not 0 < len(words) <= (MOST_PIECES if language.numbers.joined else MOST_TOKENS):
        return ()
    tokens = lexicon(language).tokenise(words)
    return tuple(dict.fromkeys(_Parse(tokens, language.numbers).number()))


def ends_in_fraction(words: tuple[str, ...], language: Language) -> bool:
    """Whether the last word is one of a fraction: then "of an" may link it to its unit."""
    return bool(words) and any(words[-1] == form.split()[-1]
                               for forms in language.numbers.fractions.values() for form in forms)


def split_typed(text: str) -> tuple[tuple[Fraction, ...], str] | None:
    """The value and the rest of a text that starts with a typed number; None for any other."""
    typed = _TYPED.match(text)
    if not typed or text[typed.end() : typed.end() + 1] in tuple("0123456789.,/-"):
        return None
    return _typed(*typed.groups()), text[typed.end() :]


def _typed(sign: str, size: str, denominator: str | None) -> tuple[Fraction, ...]:
    value = Fraction(size)
    if denominator is not None:
        if int(denominator) == 0:
            return ()
        value /= int(denominator)
    return (-value if sign in ("-", "\u2212") else value,)


def _sensible(groups: list[str]) -> bool:
    """Whether people set these groups of digits side by side to say one number."""
    pairs = [at for at, digits in enumerate(groups) if len(digits) == 2 and digits[0] != "0"]
    count = sum(map(len, groups))
    if not pairs:
        return count <= MOST_DIGITS
    return pairs[0] <= 1 and len(groups) - pairs[0] <= 2 and count <= MOST_IN_PAIRS


_Ends = Iterator[tuple[int, int]]


class _Parse:
    """One way of cutting the words, parsed: methods yield (end, value) for a start."""

    def __init__(self, tokens: list[Token], words: NumberWords) -> None:
        self.tokens, self.words = tokens, words
        self.end = len(tokens)
        self.multipliers = sorted(words.multipliers, reverse=True)
        self.top = self.multipliers[0] ** 2 if self.multipliers else 1_000

    def is_role(self, i: int, role: str) -> bool:
        return i < self.end and role in self.tokens[i].roles

    def number(self) -> Iterator[Fraction]:
        minus = self.is_role(0, "minus")
        for value in self.size(int(minus)):
            yield -value if minus else value

    def size(self, i: int) -> Iterator[Fraction]:
        for end, value in self.cardinals(i):
            yield from self.after_whole(end, Fraction(value))
        groups = list(self.groups(i))
        if len(groups) >= 2:
            for k in range(2, len(groups) + 1):
                if not _sensible([digits for _, digits in groups[:k]]):
                    continue
                text = "".join(digits for _, digits in groups[:k])
                yield from self.after_whole(groups[k - 1][0], Fraction(int(text)))
            end, last = groups[-1]
            if (end == self.end and len(groups[-2][1]) == 2 and groups[-2][1][0] != "0"
                    and _sensible([digits for _, digits in groups])):
                whole = "".join(digits for _, digits in groups[:-1])
                yield Fraction(f"{whole}.{last}")
        if self.is_role(i, "point"):
            yield from self.tails(i + 1, "0")
        if self.is_role(i, "half_after") and i + 1 == self.end:
            yield Fraction(1, 2)
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
        if groups and groups[-1][0] == self.end and _sensible([digits for _, digits in groups]):
            yield Fraction(f"{whole}.{''.join(digits for _, digits in groups)}")
        elif not self.words.pairs:
            for end, value in self.cardinal(i, 100):
                if end == self.end:
                    yield Fraction(f"{whole}.{value}")

    def fractions(self, i: int) -> Iterator[Fraction]:
        """"three quarters", "a half", "half"; or denominator, of, numerator; to the last token."""
        last = self.tokens[self.end - 1] if i < self.end else Token()
        if last.denominator is not None:
            numerators = self.end - 1 - i
            if numerators == 0 or (numerators == 1 and self.is_role(i, "one")):
                if "several" not in last.roles:  # "three quarters" without its "three"
                    yield Fraction(1, last.denominator)
            else:
                for end, top in self.cardinals(i):
                    if (end + 1 == self.end and 0 < top < last.denominator
                            and not (top == 1 and "several" in last.roles)):
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
            i, fused = max(self.below_hundred(i))
            yield i, str(fused)

    def below_hundred(self, i: int) -> _Ends:
        """"eighteen", "fifty", "fifty five"."""
        value = self.tokens[i].value if i < self.end else None
        if value is None or value > 99:
            return
        yield i + 1, value
        teens_are_built = 11 not in self.words.values
        if value >= (10 if teens_are_built else 20) and value % 10 == 0:
            j = i + 1
            digit = (self.tokens[j].value or 0) if j < self.end else 0
            if 0 < digit < 10:
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
        hundreds = (self.tokens[i].value or 0) if i < self.end else 0
        if 100 <= hundreds < limit:
            yield i + 1, hundreds
            yield from self.rest(i + 1, hundreds, 100)
        for m in self.multipliers:
            if m < limit:
                for end, times in self.coefficients(i, m, first):
                    if times * m < limit:
                        yield end, times * m
                        yield from self.rest(end, times * m, m)

    def rest(self, i: int, partial_result: int, below: int) -> _Ends:
        start = i + 1 if self.is_role(i, "joiner") else i
        for end, value in self.cardinal(start, below):
            if value:
                yield end, partial_result + value

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
