"""Spoken numbers against published rules and against public libraries."""

from __future__ import annotations

from fractions import Fraction

import pytest
from num2words import num2words

from handsfree.language import Language, load_language, parse_number, say_number

text2num = pytest.importorskip("text_to_num", reason="the extra 'test' is not installed").text2num


@pytest.fixture(scope="module")
def en() -> Language:
    return load_language("en")


@pytest.fixture(scope="module")
def ko() -> Language:
    return load_language("ko")


DIGITS = "zero one two three four five six seven eight niner".split()

ICAO_VECTORS = [
    ("180", "one eight zero"),
    ("800", "eight hundred"),
    ("3400", "three thousand four hundred"),
    ("12000", "one two thousand"),
    ("122.1", "one two two decimal one"),
]
"""ICAO Annex 10 vol. II, 5.2.1.4.1: digits apart; whole hundreds and thousands as such."""


@pytest.mark.parametrize(("number", "words"), ICAO_VECTORS)
def test_icao_digits_are_spoken(en: Language, number: str, words: str) -> None:
    """ICAO Annex 10 vol. II, 5.2.1.4.1.1 and .2: what is spoken, digit by digit."""
    assert say_number(Fraction(number), en, digits=True) == words


@pytest.mark.parametrize(
    ("number", "words"),
    [*ICAO_VECTORS, ("2400", "two four zero zero"), ("10", "zero one zero"),
     ("122.1", "one two two point one"), ("9", "nine"), ("9", "niner")],
)
def test_icao_digits_are_understood(en: Language, number: str, words: str) -> None:
    """ICAO Annex 10 vol. II as above, a transponder code and a heading with its leading zero;
    "point" instead of "decimal" is the practice of FAA AIM 4-2 (from memory)."""
    assert parse_number(words, en) == (Fraction(number),)


def test_icao_nine_is_niner(en: Language) -> None:
    """CAP 413 (2011) table 2, after ICAO: 9 is pronounced NINER, all other digits as words."""
    spoken = [say_number(Fraction(d), en, digits=True) for d in range(10)]
    assert spoken == DIGITS


def test_digit_style_says_each_number_to_9999_back(en: Language) -> None:
    """ICAO style is one-to-one: no two numbers sound the same, and each is understood."""
    for n in range(10_000):
        assert parse_number(say_number(Fraction(n), en, digits=True), en) == (n,), n


def test_we_understand_num2words_english(en: Language) -> None:
    """Every whole number to 9,999 as num2words writes it."""
    for n in range(10_000):
        assert parse_number(num2words(n), en) == (n,), n


def test_we_understand_num2words_decimals(en: Language) -> None:
    """Tenths and hundredths to 200 as num2words writes them; negative ones from -1 down, since
    num2words drops the minus of those between (seen in 0.5.14)."""
    for k in range(0, 20_001, 7):
        assert parse_number(num2words(k / 100), en) == (Fraction(k, 100),), k
        if k >= 100:
            assert parse_number(num2words(-k / 100), en) == (Fraction(-k, 100),), k


def test_text2num_understands_us(en: Language) -> None:
    """Every whole number to 9,999 as we speak it plainly."""
    for n in range(10_000):
        assert text2num(say_number(Fraction(n), en), "en") == n, n


@pytest.mark.parametrize(
    "words",
    ["eighteen hundred", "twelve hundred and five", "one hundred eighteen", "two thousand five",
     "one thousand one hundred", "ninety-nine hundred and ninety-nine", "hundred and five"],
)
def test_text2num_and_we_agree(en: Language, words: str) -> None:
    """Shapes that both libraries take for one cardinal number."""
    try:
        theirs = text2num(words, "en")
    except ValueError:
        pytest.fail(f"text2num does not take {words!r}: no agreement to check")
    assert parse_number(words, en) == (theirs,)


def test_we_understand_num2words_years(en: Language) -> None:
    """Four digits in pairs, as num2words writes years: "eighteen oh-five", "nineteen eighty-four".
    The likeliest reading is the number; where decimals may be meant too, both are given."""
    for n in range(1010, 2000):
        words = num2words(n, to="year")
        readings = parse_number(words, en)
        assert readings[:1] == (n,), (n, words)
        assert set(readings[1:]) <= {Fraction(n, 100), Fraction(n // 100 * 10 + n % 100, 10)}


def test_text2num_and_we_understand_digit_strings(en: Language) -> None:
    """Digit by digit, which text2num sums up as separate digits: joined, they are our number."""
    from text_to_num import alpha2digit

    for n in [*range(10, 10_000, 37), 55, 118, 99]:
        words = " ".join(DIGITS[int(d)] for d in str(n)).replace("niner", "nine")
        theirs = alpha2digit(words, "en").replace(" ", "")
        assert theirs == str(n), words
        assert parse_number(words, en) == (n,), words


def test_num2words_korean_is_what_we_say_and_understand(ko: Language) -> None:
    """Sino-Korean to 9,999: same words, spacing aside; and tenths."""
    for n in range(10_000):
        theirs = num2words(n, lang="ko")
        assert say_number(Fraction(n), ko) == theirs.replace(" ", ""), n
        assert parse_number(theirs, ko) == (n,), n
        assert parse_number(" ".join(theirs.replace(" ", "")), ko) == (n,), n
    for k in range(0, 2_001, 3):
        theirs = num2words(k / 10, lang="ko")
        assert parse_number(theirs, ko) == (Fraction(k, 10),), k
