"""The guards of rules and interlocks: by truth tables, and in the words in which they are written."""

from __future__ import annotations

from itertools import product

import pytest

from handsfree.checklist.conditions import (
    ALWAYS,
    NEVER,
    All,
    AnyOf,
    Condition,
    Literal,
    both,
    given,
    literals,
    opposite,
    parse,
    possible,
)

A, B, C = Literal("a"), Literal("b"), Literal("c")
NOT_A, NOT_B = Literal("a", False), Literal("b", False)
TABLES = (
    ("a", lambda a, b, c: a), ("not a", lambda a, b, c: not a),
    ("a and b", lambda a, b, c: a and b), ("a or b", lambda a, b, c: a or b),
    ("a or b and c", lambda a, b, c: a or (b and c)),
    ("(a or b) and c", lambda a, b, c: (a or b) and c),
    ("not (a and b)", lambda a, b, c: not (a and b)),
    ("not (a or b) or c", lambda a, b, c: not (a or b) or c),
    ("not not a and (b or (c))", lambda a, b, c: a and (b or c)))
"""Boolean algebra, as Python has it."""

FACTS = [frozenset(name for name, so in zip("abc", row, strict=True) if so)
         for row in product((False, True), repeat=3)]


@pytest.fixture(autouse=True)
def nothing_was_read_before() -> None:
    """What is remembered of a text is not what reading it would give."""
    parse.cache_clear()


@pytest.mark.parametrize(("text", "table"), TABLES, ids=[text for text, _ in TABLES])
def test_a_rule_holds_where_its_table_says(text: str, table) -> None:  # type: ignore[no-untyped-def]
    condition = parse(text)
    for facts in FACTS:
        so = bool(table("a" in facts, "b" in facts, "c" in facts))
        assert condition.holds(facts) is so and opposite(condition).holds(facts) is not so
        assert (condition.missing(facts) == ()) is so
        known = {name: name in facts for name in "abc"}
        assert given(condition, known) == (ALWAYS if so else NEVER)
        assert possible(condition, facts, ()) is so and possible(condition, facts, "abc")
        some = {"a": "a" in facts}
        assert given(condition, some).holds(facts) is so
        assert "a" not in given(condition, some).names()
    assert parse(str(condition)) == condition


def test_what_is_missing_is_told_once_in_order_and_by_the_shortest_way() -> None:
    assert All((A, NOT_B, A)).missing({"b"}) == (A, NOT_B)
    assert AnyOf((All((A, B)), C)).missing(()) == (C,)
    assert NEVER.missing(()) == () and NOT_A.missing({"a"}) == (NOT_A,)


def test_what_may_yet_come_is_possible_and_what_cannot_is_not() -> None:
    assert possible(A, (), {"a"}) and not possible(A, (), {"b"})
    assert possible(All((A, NOT_B)), {"a"}, {"b"}) and not possible(All((A, B)), {"a"}, {"c"})
    assert possible(AnyOf((A, B)), (), {"b"}) and not possible(AnyOf((A, B)), (), ())


def test_a_part_that_is_known_drops_out() -> None:
    assert given(All((A, B)), {"a": True}) == B and given(All((A, B)), {"a": False}) == NEVER
    assert given(AnyOf((A, B)), {"a": False}) == B and given(AnyOf((A, B)), {"a": True}) == ALWAYS
    assert given(All((A, B, C)), {"b": True}) == All((A, C))
    assert given(AnyOf((A, B, C)), {"b": False}) == AnyOf((A, C))
    assert given(A, {"b": True}) is A and given(NOT_A, {"a": False}) == ALWAYS


def test_conjunctions_are_flat_and_say_nothing_twice() -> None:
    assert both(All((A, B)), ALWAYS, B, C) == All((A, B, C))
    assert both(A, ALWAYS, A) == A and both() == ALWAYS
    assert both(AnyOf((A, B)), C) == All((AnyOf((A, B)), C))


@pytest.mark.parametrize(("condition", "text"), [
    (ALWAYS, "always"), (NEVER, "impossible"), (All((A, AnyOf((B, C)))), "a and (b or c)"),
    (AnyOf((All((A, NOT_B)), C)), "(a and not b) or c"), (All((A, AnyOf((B,)))), "a and b")])
def test_a_rule_is_written_as_it_is_read(condition: Condition, text: str) -> None:
    assert str(condition) == text


def test_names_and_literals_are_all_that_it_speaks_of() -> None:
    condition = parse("water hose out and not (a or not b)")
    hose = Literal("water hose out")
    assert tuple(literals(condition)) == (hose, NOT_A, B)
    assert condition.names() == {"water hose out", "a", "b"}
    assert parse("a and not a") == All((A, NOT_A)) and hash(parse("a or b")) == hash(AnyOf((A, B)))


@pytest.mark.parametrize(("text", "told"), [
    ("", "a fact is missing at the end of the condition"),
    ("a and", "a fact is missing at the end of the condition"),
    ("or a", "a fact is missing before 'or'"), ("not and a", "a fact is missing before 'and'"),
    (") a", "a fact is missing before ')'"),
    ("(a", "a ')' is missing"), ("(a (b)", "a ')' is missing"),
    ("a ) b", "'a ) b' does not read as a condition at ')'"),
    ("(" * 41 + "a" + ")" * 41, "the condition is nested too deeply"),
    ("not " * 41 + "a", "the condition is nested too deeply")])
def test_what_is_no_condition_is_told_in_one_phrase(text: str, told: str) -> None:
    with pytest.raises(ValueError) as raised:
        parse(text)
    assert str(raised.value) == told


def test_forty_brackets_are_read() -> None:
    assert parse("(" * 40 + "a" + ")" * 40) == A and parse("not " * 40 + "a") == A


def test_a_hash_does_not_leave_its_process() -> None:
    """Another process gives strings other hashes, and would not find what it has."""
    assert hash(A) and "_hash" in vars(A) and A.names() and A.__getstate__() == {
        "fact": "a", "wanted": True}
