"""Who works is what they say themselves, by a flag or in a pause; never guessed."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.model import SIDES
from handsfree.cli import main, wiring
from handsfree.errors import InputError
from handsfree.language.loader import load_language
from handsfree.review import history
from handsfree.review.timings import record
from handsfree.session.expecting import OPERATORS
from tests.review.book import Book


def test_the_flag_goes_to_the_first_line_and_the_word_in_a_pause_changes_it() -> None:
    book = Book()
    book.lines[0]["operator"] = {"": "one"}
    assert record(book.offer(0, "chock").lines).operator == "one"
    book.write(10, "operator", name="two").done(20, "chock")
    assert record(book.close(30).lines).operator == "two"
    assert record(Book().lines).operator == "", "nobody said"


def test_two_people_are_named_together_whoever_stands_where() -> None:
    for names in ({"outside": "one", "inside": "two"}, {"outside": "two", "inside": "one"}):
        book = Book()
        book.lines[0] |= {"operator": names, "operators": list(SIDES)}
        found = record(book.lines)
        assert (found.operator, found.operators) == ("one & two", 2)


@pytest.mark.parametrize("junk", [7, "one", {"": 7}, {"": ""}, {"": "a\x1bb"}, [1], None])
def test_a_name_that_makes_no_sense_is_no_name(junk: object) -> None:
    book = Book()
    book.lines[0]["operator"] = junk
    assert record(book.lines).operator == ""


def test_the_flag_is_read_by_side() -> None:
    assert wiring.pseudonyms(["two"], ("",)) == {"": "two"}
    assert wiring.pseudonyms(["inside=b", "outside=a"], SIDES) == {"outside": "a", "inside": "b"}
    for values, sides in ((["a", "b"], ("",)), (["inside=a"], ("",)), (["a"], SIDES),
                          (["=a"], ("",)), ([""], ("",)), (["x" * 41], ("",))):
        with pytest.raises(InputError, match="--operator"):
            wiring.pseudonyms(values, sides)


def test_every_language_has_the_words() -> None:
    for code in ("en", "de", "ko"):
        language = load_language(code)
        assert all(language.commands[name] for name in OPERATORS)
        assert "{name}" in language.templates["operator set"]


def test_a_mistake_is_one_sentence(tmp_path: Path) -> None:
    done = CliRunner(env={"HANDSFREE_DATA": str(tmp_path)}).invoke(
        main, ["run", "arrive", "--rig", "small-single", "--operator", "inside=a"])
    assert done.exit_code == 2 and "--operator inside=a: write --operator NAME" in done.output


def test_who_and_what_was_answered_come_back_from_the_columns(tmp_path: Path) -> None:
    book = Book()
    book.lines[0] |= {"operator": {"outside": "one", "inside": "two"}, "operators": list(SIDES)}
    book.write(1, "changed", on=["frost here answered", "frost here"], off=[])
    book.offer(2, "chock").done(9, "chock").close(10).save(tmp_path)
    for _ in range(2):  # read, then from the cache
        found = history.load(tmp_path).columns.session(0)
        assert (found.operator, found.operators) == ("one & two", 2)
        assert found.answers == {"frost here": True} and found.record == ("hitched",)
