"""Values to spoken words, for the readback.

Pure (stdlib and this room only).  Plain words by default.  ``digits=True`` reads digit by digit,
with whole hundreds and thousands as such, after ICAO Annex 10 volume II, 5.2.1.4.1: it keeps
"thirteen" and "thirty" apart.
"""

from __future__ import annotations

from fractions import Fraction

from handsfree.language.model import Language, NumberWords

DECIMALS = 3
"""Values that no short decimal expresses are rounded to this many places, half to even."""


def say_number(
    value: Fraction, language: Language, *, digits: bool = False, fractions: bool = False
) -> str:
    """``value`` in words.

    ``fractions`` prefers "two and a quarter" to "two point two five" where the language has the
    denominator.  Values are rounded to ``DECIMALS`` places unless a fraction says them exactly.
    Raises ``ValueError`` for a million and above in size.
    """
    n = language.numbers
    size = abs(value)
    if size >= 1_000_000:
        raise ValueError(f"{value} is too large to be said")
    if fractions and not digits and size.denominator in n.fractions:
        words = _mixed(size, n)
    else:
        words = _decimal(size, n, digits)
        size = round(size, DECIMALS)
    return f"{n.minus[0]} {words}" if value < 0 and size else words


def _mixed(size: Fraction, n: NumberWords) -> str:
    whole, part = divmod(size, 1)
    if not part:
        return cardinal(int(size), n)
    if part == Fraction(1, 2) and n.half_after:
        return f"{cardinal(int(whole), n)} {n.half_after[0]}" if whole else n.half_after[0]
    if n.fraction_of:
        denominator = cardinal(part.denominator, n)
        words = f"{denominator}{n.fraction_of[0]} {cardinal(part.numerator, n)}"
    else:
        forms = n.fractions[part.denominator]
        if part == Fraction(1, 2) and not whole:
            words = forms[0]
        elif part.numerator == 1:
            words = f"{(n.one or n.values[1])[0]} {forms[0]}"
        else:
            words = f"{cardinal(part.numerator, n)} {forms[min(1, len(forms) - 1)]}"
    if not whole:
        return words
    return " ".join([cardinal(int(whole), n), *n.joiner[:1], words])


def _decimal(size: Fraction, n: NumberWords, digits: bool) -> str:
    scaled = round(size * 10**DECIMALS)
    whole, rest = divmod(scaled, 10**DECIMALS)
    tail = f"{rest:0{DECIMALS}d}".rstrip("0")
    if digits:
        words = spell_digits(whole, n) if tail else _digits_or_round(whole, n)
        return " ".join([words, *([n.digit_point, *(n.digits[int(d)] for d in tail)]
                                  if tail else [])])
    words = cardinal(whole, n)
    return " ".join([words, *([n.point[0], *(n.values[int(d)][0] for d in tail)] if tail else [])])


def spell_digits(whole: int, n: NumberWords) -> str:
    """Every digit on its own: 118 is "one one eight"."""
    return " ".join(n.digits[int(d)] for d in str(whole))


def _digits_or_round(whole: int, n: NumberWords) -> str:
    """Digits, but whole hundreds and thousands as such: 3,400 is "three thousand four hundred"."""
    if whole < 100 or whole % 100 or 100 not in n.multipliers or 1_000 not in n.multipliers:
        return spell_digits(whole, n)
    if n.joined:
        return cardinal(whole, n)
    thousands, rest = divmod(whole, 1_000)
    words = [spell_digits(thousands, n), n.multipliers[1_000][0]] if thousands else []
    if rest:
        words += [n.digits[rest // 100], n.multipliers[100][0]]
    return " ".join(words)


def cardinal(whole: int, n: NumberWords) -> str:
    """A whole number from 0 to 999,999 in plain words, as Americans say it: "one hundred five"."""
    gap = "" if n.joined else " "
    if whole in n.values:
        return n.values[whole][0]
    for m in sorted(n.multipliers, reverse=True):
        if whole >= m:
            times, rest = divmod(whole, m)
            head = [] if times == 1 and n.bare_one else [cardinal(times, n)]
            head.append(n.multipliers[m][0])
            return gap.join([*head, *([cardinal(rest, n)] if rest else [])])
    step = 100 if whole >= 100 else 10
    parts = [cardinal(whole // step * step, n), cardinal(whole % step, n)]
    return ("-" if n.tens_hyphen and step == 10 else gap).join(parts)
