"""What may be said: normal form, and what a grammar allows."""

from __future__ import annotations

import pytest

from handsfree.hearing.types import MOST_NUMBER_WORDS, Grammar, normal

READINGS = Grammar(
    frozenset({"skip this", "one more"}),
    frozenset({"one", "eighteen", "point", "five"}),
    frozenset({"volts", "degrees celsius"}),
)


@pytest.mark.parametrize("written, form", [
    ("  Chocks SET! ", "chocks set"), ("fifty-five", "fifty five"), ("What’s left?", "what's left"),
    ("snake_case", "snake case"), ("완료!", "완료"), ("", ""),
])
def test_normal_form(written: str, form: str) -> None:
    assert normal(written) == form
    assert normal(form) == form


def test_equal_grammars_are_one_key_however_they_were_written() -> None:
    one = Grammar(frozenset({"Skip this.", ""}))
    other = Grammar(frozenset({"skip this"}))
    assert one == other
    assert hash(one) == hash(other)


@pytest.mark.parametrize("text", [
    "skip this", "one eighteen", "one eighteen volts", "volts one eighteen", "eighteen",
    "eighteen point five degrees celsius", " ".join(["one"] * MOST_NUMBER_WORDS),
])
def test_allowed(text: str) -> None:
    assert READINGS.allows(text)


@pytest.mark.parametrize("text", [
    "", "skip", "this skip", "one more one", "volts", "volts one volts", "one volts eighteen",
    "skip this eighteen", "eighteen celsius", "two", " ".join(["one"] * (MOST_NUMBER_WORDS + 1)),
])
def test_not_allowed(text: str) -> None:
    assert not READINGS.allows(text)


def test_number_words_mean_nothing_where_no_reading_is_due() -> None:
    assert not Grammar(frozenset({"done"}), units=frozenset({"volts"})).allows("volts")
    assert not Grammar(frozenset({"done"})).allows("one")
