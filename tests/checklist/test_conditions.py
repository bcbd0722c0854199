"""Conditions agree with Python's own `and`, `or`, `not` on every assignment."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.checklist.conditions import (
    ALWAYS,
    All,
    AnyOf,
    Condition,
    Literal,
    both,
    opposite,
    parse,
)

NAMES = ("hitched", "coupler open", "water hose out")
literal = st.builds(Literal, st.sampled_from(NAMES), st.booleans())
conditions: st.SearchStrategy[Condition] = st.recursive(
    literal,
    lambda inner: st.builds(All, st.lists(inner, max_size=3).map(tuple))
    | st.builds(AnyOf, st.lists(inner, max_size=3).map(tuple)),
    max_leaves=8)


def every_assignment():
    for values in product((False, True), repeat=len(NAMES)):
        yield frozenset(name for name, so in zip(NAMES, values, strict=True) if so)


@pytest.mark.parametrize("text, python", [
    ("hitched", "h"),
    ("not hitched", "not h"),
    ("hitched and not coupler open", "h and not c"),
    ("hitched or coupler open and water hose out", "h or c and w"),
    ("(hitched or coupler open) and water hose out", "(h or c) and w"),
    ("not (hitched or not coupler open)", "not (h or not c)"),
    ("not not hitched", "h"),
])
def test_a_condition_means_what_python_means_by_it(text: str, python: str) -> None:
    condition = parse(text)
    for facts in every_assignment():
        values = dict(zip("hcw", (name in facts for name in NAMES), strict=True))
        assert condition.holds(facts) is bool(eval(python, {}, values))


@given(conditions)
def test_the_opposite_is_true_exactly_when_the_condition_is_not(condition: Condition) -> None:
    for facts in every_assignment():
        assert opposite(condition).holds(facts) is not condition.holds(facts)


@given(conditions)
def test_what_is_missing_is_empty_exactly_when_it_holds(condition: Condition) -> None:
    for facts in every_assignment():
        missing = condition.missing(facts)
        if condition.holds(facts):
            assert missing == ()
        for one in missing:
            assert not one.holds(facts)


@given(conditions)
def test_a_printed_condition_reads_back_the_same(condition: Condition) -> None:
    if str(condition) in ("always", "impossible") or "always" in str(condition) \
            or "impossible" in str(condition):
        return
    again = parse(str(condition))
    for facts in every_assignment():
        assert again.holds(facts) is condition.holds(facts)


@given(conditions, conditions)
def test_both_holds_when_each_holds(one: Condition, other: Condition) -> None:
    for facts in every_assignment():
        assert both(one, other).holds(facts) is (one.holds(facts) and other.holds(facts))
    assert both() == ALWAYS


@pytest.mark.parametrize("text", [
    "", "and", "hitched and", "or hitched", "(hitched", "hitched)", "not", "a ( b", "(" * 300])
def test_what_is_no_condition_is_named(text: str) -> None:
    with pytest.raises(ValueError):
        parse(text)


@given(st.text(max_size=80))
def test_no_text_breaks_the_parser(text: str) -> None:
    try:
        parse(text)
    except ValueError:
        pass
