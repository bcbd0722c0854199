"""The files of sayings: patterns, and every mistake in them named by file, line and mend."""

from __future__ import annotations

import pytest

from handsfree.errors import AuthorError
from handsfree.language.loader import language_names, load_language
from handsfree.language.natural_wordings import parse_sayings, sayings_of

GOOD = """\
short: {i'm: i am}
hesitations: [um]
before: [okay]
after: [please]
closed: [is, not]
groups:
  that: (it|that)
  thing: (it|the <..>)
commands:
  done: ["[<that> is] (done|finished)"]
  problem: ["<thing> (leaks|is wet)"]
  note: ["note <...>"]
"""


@pytest.mark.parametrize(("words", "meaning"), [
    ("done", ("done",)), ("Um, okay, it is finished, please.", ("done",)), ("it done", ()),
    ("is it done", ()), ("done it", ()), ("the sink leaks", ("problem",)),
    ("the sink is not wet", ()), ("the very old kitchen sink leaks", ()),
    ("note one two three four five", ("note",)), ("note one two three four five six", ()), ("", ()),
])
def test_a_pattern_fits_from_the_first_word_to_the_last(
    words: str, meaning: tuple[str, ...]
) -> None:
    sayings = parse_sayings(GOOD.encode(), "x").knowing({})
    assert sayings.means(sayings.plain(words)) == meaning


@pytest.mark.parametrize(("old", "new", "line", "problem"), [
    ("(done|finished)", "(done|finished", 10, "')' is missing"),
    ("(done|finished)", "done|finished)", 10, "closes what was never opened"),
    ("<that> is", "<those> is", 10, "there is no group '<those>'"),
    ("(done|finished)", "[done|finished]", 10, "no word at all"),
    ("problem:", "trouble:", 11, "'trouble' is not known"),
    ("(it|that)", "(it|<thing>)", 7, "there is no group '<thing>'"),
])
def test_a_mistake_is_named_with_its_line(old: str, new: str, line: int, problem: str) -> None:
    assert old in GOOD
    with pytest.raises(AuthorError) as raised:
        parse_sayings(GOOD.replace(old, new).encode(), "x.sayings.yaml")
    assert problem in str(raised.value) and f"x.sayings.yaml, line {line}" in str(raised.value)
    assert raised.value.mend


@pytest.mark.parametrize("code", language_names())
def test_no_saying_of_a_language_is_a_bare_filler(code: str) -> None:
    sayings = sayings_of(load_language(code))
    assert sayings.means(()) == ()
    for command, wordings in load_language(code).commands.items():
        if command in sayings.commands:
            for phrase in wordings:
                assert command in sayings.means(sayings.plain(phrase)), phrase


@pytest.mark.parametrize(("said", "counts"), [
    ("okay chocks are set", True), ("both the chocks are set now", True), ("i set the chocks", True),
    ("are the chocks set", False), ("chocks not set", False), ("i set now the chocks", False),
    ("the chocks are set when you come", False), ("set chocks", False), ("chocks", False),
    ("chocks set chocks", False), ("should the chocks be set", False),
])
def test_an_answer_counts_in_its_own_words_only(said: str, counts: bool) -> None:
    sayings = sayings_of(load_language("en"))
    assert sayings.responds(sayings.plain(said), "chocks set") is counts


def test_what_is_listened_for_is_the_answer_and_its_denials_are_not() -> None:
    sayings = sayings_of(load_language("en"))
    for response in ("chocks set", "truck is parked", "chocks hold", "no gas smell"):
        assert sayings.ways(response)[0] == response
        assert all(sayings.responds(sayings.plain(way), response)
                   for way in sayings.ways(response))
        assert not any(sayings.responds(sayings.plain(way), response)
                       for way in sayings.denied(response))
