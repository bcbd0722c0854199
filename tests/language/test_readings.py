"""Readings: number and unit, conversion, the wrong unit, and the readback."""

from __future__ import annotations

from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.language import (
    UNITS,
    Reading,
    WrongUnit,
    convert,
    load_language,
    parse_reading,
    say_reading,
)
from handsfree.language.number_words import number_words

EN = load_language("en")
KO = load_language("ko")


@pytest.mark.parametrize(
    ("words", "unit", "value"),
    [
        ("one eighteen volts", "volts", 118), ("volts one eighteen", "volts", 118),
        ("one eighteen", "volts", 118), ("one volt", "volts", 1), ("118 volts", "volts", 118),
        ("-2 degrees", "degrees", -2), ("minus two degrees", "degrees", -2),
        ("two and a half degrees", "degrees", F(5, 2)), ("sixty psi", "psi", 60),
        ("sixty pounds", "psi", 60), ("sixty pounds", "pounds", 60), ("sixty p s i", "psi", 60),
        ("three quarters of an inch", "inches", F(3, 4)), ("half an inch", "inches", F(1, 2)),
        ("a quarter inch", "inches", F(1, 4)), ("1/4 inch", "inches", F(1, 4)),
        ("an inch", "inches", 1), ("quarter of a mile", "miles", F(1, 4)),
        ("twenty degrees", "celsius", 20), ("seventy degrees", "fahrenheit", 70),
        ("twenty degrees", "degrees", 20), ("eighty percent", "percent", 80),
        ("eighty per cent", "percent", 80), ("psi five five", "psi", 55),
        ("five five", "psi", 55), ("niner volts", "volts", 9), ("one oh niner", "volts", 109),
        ("oh point five degrees", "degrees", F(1, 2)), ("inches three quarters", "inches", F(3, 4)),
        ("two and three quarters of an inch", "inches", F(11, 4)), ("a quarter", "inches", F(1, 4)),
        ("five eighths of an inch", "inches", F(5, 8)),
        ("minus two and a half", "degrees", F(-5, 2)),
    ],
)  # fmt: skip
def test_unit_after_before_or_left_out(words: str, unit: str, value: F | int) -> None:
    """One reading, in the unit that was asked for, taken as said."""
    assert parse_reading(words, EN, unit) == (Reading(F(value), unit),)


@pytest.mark.parametrize(
    ("words", "unit", "value", "said"),
    [
        ("twenty degrees celsius", "fahrenheit", F(68), Reading(F(20), "celsius")),
        ("minus forty degrees fahrenheit", "celsius", F(-40), Reading(F(-40), "fahrenheit")),
        ("two feet", "inches", F(24), Reading(F(2), "feet")),
        ("half an hour", "minutes", F(30), Reading(F(1, 2), "hours")),
        ("two hundred and fifty four centimeters", "inches", F(100),
         Reading(F(254), "centimetres")),
    ],
)
def test_another_unit_of_the_quantity_is_converted(
    words: str, unit: str, value: F, said: Reading
) -> None:
    """Exact arithmetic; what was said is kept, and it is what is read back."""
    (reading,) = parse_reading(words, EN, unit)  # type: ignore[misc]
    assert reading == Reading(value, unit, said)
    assert say_reading(reading, EN) == say_reading(said, EN)


def test_pressure_by_nist() -> None:
    """NIST SP 811, appendix B: 1 psi = 6.894757 kPa; 80 psi are 551.58 kPa; 1 bar = 100 kPa."""
    assert float(convert(F(1), "psi", "kpa")) == pytest.approx(6.894757, abs=5e-7)
    assert float(convert(F(80), "psi", "kpa")) == pytest.approx(551.58, abs=5e-3)
    assert convert(F(1), "bar", "kpa") == 100
    assert float(convert(F(1), "gallons", "litres")) == pytest.approx(3.785412, abs=5e-7)
    assert float(convert(F(1), "foot_pounds", "newton_metres")) == pytest.approx(1.355818, abs=5e-7)


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_conversion_there_and_back_is_exact(unit: str) -> None:
    for other in UNITS:
        if UNITS[other].quantity == UNITS[unit].quantity:
            assert convert(convert(F(37, 5), unit, other), other, unit) == F(37, 5)
        else:
            with pytest.raises(ValueError, match=other):
                convert(F(1), unit, other)


@pytest.mark.parametrize(
    ("words", "unit", "heard"),
    [("sixty psi", "volts", {"psi"}), ("sixty pounds", "volts", {"psi", "pounds"}),
     ("two degrees", "volts", {"degrees", "celsius", "fahrenheit"}),
     ("120 volts", "psi", {"volts"})],
)
def test_a_unit_of_something_else_is_told_apart(words: str, unit: str, heard: set[str]) -> None:
    """Never taken for the number alone."""
    wrong = parse_reading(words, EN, unit)
    assert isinstance(wrong, WrongUnit)
    assert wrong.wanted == unit
    assert {r.unit for r in wrong.readings} == heard


@pytest.mark.parametrize(
    "words",
    ["", "volts", "volts volts", "one eighteen volts volts", "one two volts three", "118V", "40%",
     "1,200 volts", "a", "of an inch", "two of an inch", "done", "2 1/2 inches"],
)
def test_what_is_no_reading(words: str) -> None:
    for unit in ("volts", "inches", "percent"):
        assert parse_reading(words, EN, unit) == ()


def test_both_readings_stay_open() -> None:
    """With or without a unit, "twelve six" is asked about."""
    for words in ("twelve six", "twelve six volts"):
        assert parse_reading(words, EN, "volts") == (
            Reading(F(126), "volts"), Reading(F("12.6"), "volts"),
        )  # fmt: skip


@pytest.mark.parametrize(
    ("reading", "said", "digits"),
    [
        (Reading(F(118), "volts"), "one hundred eighteen volts", "one one eight volts"),
        (Reading(F(1), "volts"), "one volt", "one volt"),
        (Reading(F(5, 2), "inches"), "two and a half inches", "two decimal five inches"),
        (Reading(F(1, 2), "inches"), "half of an inch", "zero decimal five inches"),
        (Reading(F(3, 4), "inches"), "three quarters of an inch", "zero decimal seven five inches"),
        (Reading(F(-5, 2), "degrees"), "minus two point five degrees",
         "minus two decimal five degrees"),
        (Reading(F(50), "psi"), "fifty psi", "five zero psi"),
        (Reading(F(15), "psi"), "fifteen psi", "one five psi"),
    ],
)  # fmt: skip
def test_readback(reading: Reading, said: str, digits: str) -> None:
    assert say_reading(reading, EN) == said
    assert say_reading(reading, EN, digits=True) == digits


@pytest.mark.parametrize("language", [EN, KO], ids=["en", "ko"])
@pytest.mark.parametrize("unit", sorted(UNITS))
@pytest.mark.parametrize("digits", [False, True])
def test_each_readback_means_what_was_measured(language: object, unit: str, digits: bool) -> None:
    """For every unit of both languages: what is read back is understood as the same reading.

    Korean "il" is both one and day, so there the number alone is a second reading.
    """
    assert language in (EN, KO)
    for value in (F(1), F(2), F(15), F(50), F(118), F(1, 2), F(3, 4), F(63, 5), F(-5, 2)):
        reading = Reading(value, unit)
        spoken = say_reading(reading, language, digits=digits)  # type: ignore[arg-type]
        found = parse_reading(spoken, language, unit)  # type: ignore[arg-type]
        if language is KO and unit == "days":
            assert reading in found  # type: ignore[operator]
        else:
            assert found == (reading,), spoken


@pytest.mark.parametrize(
    ("words", "unit", "value"),
    [("백십팔 볼트", "volts", 118), ("백 십 팔 볼트", "volts", 118), ("백십팔볼트", "volts", 118),
     ("볼트 백십팔", "volts", 118), ("육십 파운드", "psi", 60), ("섭씨 이십 도", "celsius", 20),
     ("이십 도", "fahrenheit", 20), ("이 점 오 도", "degrees", F(5, 2)), ("십 분", "minutes", 10),
     ("한 시간", "minutes", 60), ("시속 사십 킬로미터", "kilometres_per_hour", 40)],
)  # fmt: skip
def test_korean(words: str, unit: str, value: F | int) -> None:
    found = parse_reading(words, KO, unit)
    assert isinstance(found, tuple)
    assert [r.value for r in found] == [value]


WORDS = [*sorted(number_words(EN)), "volts", "inch", "of an", "psi", "degrees", "5", "-", "/", "."]


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from(WORDS), max_size=16).map(" ".join), st.sampled_from(sorted(UNITS)))
def test_any_words_are_answered(text: str, unit: str) -> None:
    found = parse_reading(text, EN, unit)
    assert isinstance(found, (tuple, WrongUnit))
    if isinstance(found, tuple):
        assert all(r.unit == unit for r in found)
        assert len({r.value for r in found}) == len(found)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_answered(text: str) -> None:
    for language in (EN, KO):
        assert isinstance(parse_reading(text, language, "volts"), (tuple, WrongUnit))
