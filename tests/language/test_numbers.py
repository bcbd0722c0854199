"""Numbers by voice: every reading, never a guess, never a crash."""

from __future__ import annotations

import random
from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.language import Language, load_language, parse_number, say_number
from handsfree.language.number_words import number_words

EN = load_language("en")
KO = load_language("ko")


@pytest.mark.parametrize("language", [EN, KO], ids=["en", "ko"])
def test_each_whole_number_to_9999_is_said_and_understood(language: Language) -> None:
    """Plain words have one reading only, the number itself."""
    for n in range(10_000):
        assert parse_number(say_number(F(n), language), language) == (n,), n


@pytest.mark.parametrize("language", [EN, KO], ids=["en", "ko"])
@pytest.mark.parametrize("step", [F(1, 4), F(1, 10)], ids=["quarters", "tenths"])
@pytest.mark.parametrize("style", [{}, {"fractions": True}, {"digits": True}], ids=str)
def test_each_quarter_and_tenth_to_200(
    language: Language, step: F, style: dict[str, bool]
) -> None:
    """Said in any style, both signs, each comes back as its only reading."""
    for k in range(int(200 / step) + 1):
        for value in (k * step, -k * step):
            assert parse_number(say_number(value, language, **style), language) == (value,)


@pytest.mark.parametrize(
    ("words", "values"),
    [
        ("one eighteen", [118]),
        ("one hundred and eighteen", [118]),
        ("one hundred eighteen", [118]),
        ("a hundred and eighteen", [118]),
        ("hundred and eighteen", [118]),
        ("one one eight", [118]),
        ("fifty-five", [55]),
        ("Fifty five.", [55]),
        ("five five", [55]),
        ("two and a half", [F(5, 2)]),
        ("two and three quarters", [F(11, 4)]),
        ("one point five", [F(3, 2)]),
        ("one point oh five", [F(21, 20)]),
        ("one point fifteen", [F(23, 20)]),
        ("point five", [F(1, 2)]),
        ("one decimal five", [F(3, 2)]),
        ("minus two", [-2]),
        ("negative two point five", [F(-5, 2)]),
        ("minus a half", [F(-1, 2)]),
        ("three quarters", [F(3, 4)]),
        ("a quarter", [F(1, 4)]),
        ("quarter", [F(1, 4)]),
        ("half", [F(1, 2)]),
        ("fifteen sixteenths", [F(15, 16)]),
        ("niner", [9]),
        ("oh", [0]),
        ("one oh five", [105]),
        ("one hundred and eighteen and a half", [F(237, 2)]),
        ("one eighteen point five", [F(237, 2)]),
        ("four ten", [410]),
        ("twenty one hundred", [2100]),
        ("one zero thousand", [10_000]),
        ("one two oh five", [1205]),
        ("one one eight oh five", [11_805]),
        ("two seventy", [270]),
        ("twelve", [12]),
        ("118", [118]),
        ("-12.5", [F(-25, 2)]),
        ("1/4", [F(1, 4)]),
    ],
)
def test_what_people_say(words: str, values: list[F]) -> None:
    """One reading each, and the right one."""
    assert parse_number(words, EN) == tuple(values)


@pytest.mark.parametrize(
    ("words", "values"),
    [
        ("twelve six", [126, F(63, 5)]),
        ("twenty one fifteen", [2115, F("21.15")]),
        ("thirteen eighty", [1380, F("13.8")]),
        ("twelve oh five", [1205, F("12.05")]),
        ("one eighteen five", [1185, F("118.5")]),
        ("twenty twenty", [2020, F("20.2")]),
        ("twelve oh", [120, 12]),
    ],
)
def test_what_can_mean_two_things_is_given_as_two(words: str, values: list[F]) -> None:
    """Groups side by side, or a whole and its decimals: both, the operator is asked."""
    assert parse_number(words, EN) == tuple(values)


@pytest.mark.parametrize(
    "words",
    ["", " ", "done", "a", "and", "point", "minus", "one hundred and", "two and five", "and a half",
     "two point", "two point five and a half", "one two hundred", "two three quarters", "a a half",
     "one hundred eighteen five", "two thousand three thousand", "minus minus two", "five volts",
     "1,200", "12,6", "1/0", "--2", "1/2/3", "\u00bd", "\u0665", "1" * 50, "five " * 30, "hundred hundred",
     "two and three halves", "eight quarters", "oh half", "two and zero quarters",
     "zero hundred", "one million", "twelve thirteen fourteen",
     "six one six ten", "eighty eighty eighty", "one two three four five six seven",
     "one two eighteen", "eighteen one two", "two point twelve thirteen fourteen",
     # strings that a recogniser made of talk while it listened for a number
     "hundred and a zero a quarter a three minus and", "nineteen an a a seventy",
     "minus an a minus ten third half six one an six ten",
     "quarters quarters half half a and an hundred and", "two nine half a a a one an a",
     # "three quarters" and the like, heard without their numerator
     "quarters", "halves", "one eighths", "a thirds", "two and quarters", "minus quarters"],
)  # fmt: skip
def test_what_is_no_number_has_no_reading(words: str) -> None:
    """Nothing is made of a part of it; the operator is asked to say it again."""
    assert parse_number(words, EN) == ()


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("백십팔", 118), ("백 십 팔", 118), ("오십오", 55), ("일 점 오", F(3, 2)),
        ("영 점 이오", F(1, 4)), ("마이너스 이", -2), ("영하 오", -5), ("사분의 삼", F(3, 4)),
        ("반", F(1, 2)), ("이 반", F(5, 2)), ("이와 사분의 일", F(9, 4)), ("일 일 팔", 118),
        ("하나 하나 팔", 118), ("공 하나 둘", 12), ("스물다섯", 25), ("열 다섯", 15),
        ("만 이천 삼백 사십오", 12_345), ("육십", 60), ("륙", 6),
    ],
)  # fmt: skip
def test_korean(words: str, value: F | int) -> None:
    """Sino-Korean with any spacing, digits one by one, native numerals, fractions."""
    assert parse_number(words, KO) == (value,)


def test_values_that_no_short_decimal_says_are_rounded() -> None:
    """Half to even at the third place; no minus before nothing."""
    assert say_number(F(100, 3), EN) == "thirty-three point three three three"
    assert say_number(F(1, 3), EN, fractions=True) == "a third"
    assert say_number(F(-1, 10_000), EN) == "zero"
    with pytest.raises(ValueError, match="too large"):
        say_number(F(1_000_000), EN)


WORDS = sorted(number_words(EN)) + ["volts", "-", ".", "5", "/", "done"]


@settings(max_examples=400, deadline=None)
@given(st.lists(st.sampled_from(WORDS), max_size=30).map(" ".join))
def test_any_number_words_are_answered_quickly(text: str) -> None:
    """No traceback, no hang, a few readings at most, and each a different one."""
    readings = parse_number(text, EN)
    assert len(readings) <= 4
    assert len(set(readings)) == len(readings)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(sorted(number_words(KO))), max_size=60).map("".join))
def test_any_korean_number_words_are_answered_quickly(text: str) -> None:
    assert len(parse_number(text, KO)) <= 4


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=300))
def test_any_text_is_answered(text: str) -> None:
    for language in (EN, KO):
        assert isinstance(parse_number(text, language), tuple)


@settings(max_examples=400, deadline=None)
@given(st.lists(st.sampled_from(sorted(number_words(EN))), min_size=4, max_size=12))
def test_what_has_a_reading_is_built_like_a_number(words: list[str]) -> None:
    """Whatever the words: one minus at most, and first; one fraction, last; one point; "a" and "an"
    only before a fraction or a multiplier."""
    if not parse_number(" ".join(words), EN):
        return
    minus = [at for at, word in enumerate(words) if word in ("minus", "negative")]
    assert minus in ([], [0])
    parts = {form for forms in EN.numbers.fractions.values() for form in forms}
    multipliers = {"hundred", "thousand"}
    assert [at for at, word in enumerate(words) if word in parts] in ([], [len(words) - 1])
    assert sum(word in ("point", "decimal") for word in words) <= 1
    for at, word in enumerate(words):
        if word in ("a", "an"):
            assert words[at + 1] in parts | multipliers


def test_number_words_at_random_mean_nothing() -> None:
    """Of five to eight number words strung together by chance, one in 200 at most is a number (11
    of these 4,000 when this was written, each well formed: "sixty thirty and one third")."""
    chance, known = random.Random(7), sorted(number_words(EN))
    strings = [" ".join(chance.choices(known, k=chance.randint(5, 8))) for _ in range(4_000)]
    assert sum(bool(parse_number(text, EN)) for text in strings) / len(strings) < 0.005
