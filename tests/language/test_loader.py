"""Language files: what is shipped loads; every mistake is one sentence with file and line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.errors import AuthorError, InputError
from handsfree.language import COMMANDS, PREFIXES, SUFFIXES, UNITS, language_names, load_language
from handsfree.language.loader import parse_language
from handsfree.language.yaml_entries import MOST_BYTES

EN = Path(__file__).parents[2] / "handsfree" / "languages" / "en.yaml"
TEXT = EN.read_text("utf-8")


def test_languages_are_found() -> None:
    """Only language files, not what else lies beside them."""
    assert {"en", "ko"} <= set(language_names())
    assert not [name for name in language_names() if "." in name]


@pytest.mark.parametrize("name", language_names())
def test_shipped_languages_are_complete(name: str) -> None:
    language = load_language(name)
    assert set(language.commands) == {*COMMANDS, *PREFIXES, *SUFFIXES}
    assert set(language.units) == set(UNITS)
    assert language.name
    assert language.voice


def test_a_language_of_the_users_own_is_loaded_by_path(tmp_path: Path) -> None:
    copy = tmp_path / "xx.yaml"
    copy.write_text(TEXT, "utf-8")
    assert load_language(copy).code == "xx"
    assert load_language(str(copy)).commands == load_language("en").commands


def test_a_word_that_yaml_takes_for_something_else_stays_a_word(tmp_path: Path) -> None:
    """YAML 1.1 reads yes, no and on as truth values; here they are words."""
    text = TEXT.replace('"no": ["no",', "no: [no,")
    assert text != TEXT
    assert "no" in parse_language(text.encode(), code="en", file="x").commands["no"]


@pytest.mark.parametrize("name", ["eng", "../en", "en/../en", "klingon", "", "en.speech"])
def test_an_unknown_language(name: str) -> None:
    with pytest.raises(InputError, match="There is no language") as caught:
        load_language(name)
    assert caught.value.exit_status == 2


def test_an_unreadable_file(tmp_path: Path) -> None:
    for path in (tmp_path / "none.yaml", tmp_path):
        with pytest.raises(InputError):
            load_language(path)


def _swap(old: str, new: str) -> Callable[[str], str]:
    def change(text: str) -> str:
        assert old in text, old
        return text.replace(old, new, 1)

    return change


BAD: list[tuple[Callable[[str], str], str, str]] = [
    (_swap("  done: [", "  dine: ["), "'dine' is not known", "done: ["),
    (_swap("commands:", "comands:"), "did you mean 'commands'?", "commands:"),
    (_swap("  skip: [", "  done: ["), "'done' stands twice", "skip: ["),
    (_swap("[done, it is done,", "[done, done,"), "'done' stands twice", "done: ["),
    (_swap("[done, it is done,", "[done, say again,"), "means both 'done' and 'repeat'", "repeat: ["),
    (_swap("  time: [how much time, time so far, how long so far]", "  time: []"),
     "is empty", "time: ["),
    (_swap("  time: [how much time, time so far, how long so far]", "  time: {a: b}"),
     "is not a list", "time: ["),
    (_swap("  time: [how much time, time so far, how long so far]", "  time: [a, [b]]"),
     "is not a text", "time: ["),
    (_swap("  time: [how much time, time so far, how long so far]", "  time: ['...']"),
     "has no word in it", "time: ["),
    (_swap("  time: [how much time, time so far, how long so far]\n", ""),
     "'time' has no wording", "  done: ["),
    (_swap("    7: [seven]\n", ""), "the word for 7 is missing", "    0: ["),
    (_swap("    7: [seven]", "    seven: [seven]"), "is not a value", "    7: ["),
    (_swap("    7: [seven]", "    7000: [seven]"), "is not below 1,000", "    7: ["),
    (_swap("    100: [hundred]", "    120: [hundred]"), "not a power of ten", "    100: ["),
    (_swap("    2: [half, halves]", "    1: [half, halves]"), "is no denominator", "    2: [half"),
    (_swap("pairs: true", "pairs: perhaps"), "neither true nor false", "pairs: true"),
    (_swap("{9: niner}", "{9: nein}"), "is not a word for 9", "{9: niner}"),
    (_swap("digit_point: decimal", "digit_point: comma"), "not a point word", "digit_point:"),
    (_swap("  volts: {one: volt, many", "  volt: {one: volt, many"), "did you mean 'volts'?",
     "  volts: {"),
    (_swap("  volts: {one: volt, many: volts}", "  volts: {many: volts}"), "its form for 'one'",
     "  volts: {"),
    (_swap("  volts: {one: volt, many: volts}", "  volts: {one: volt, many: '{} volts'}"),
     "both sides", "  volts: {"),
    (_swap("chocks: [CH AA K S]", "chocks: [CH AAA K S]"), "'AAA' is not an ARPAbet", "chocks: ["),
    (_swap("name: English", "name: [English"), "not YAML", ""),
    (_swap("name: English", "name: English\n\tx: y"), "not YAML", ""),
    (_swap("name: English", "name:"), "is not a text", "name: English"),
    (_swap("name: English\n", ""), "'name' is missing", ""),
]


@pytest.mark.parametrize(("change", "problem", "at"), BAD)
def test_a_bad_file_is_named_by_line(change: Callable[[str], str], problem: str, at: str) -> None:
    """One sentence: file, line, what is wrong, what mends it."""
    with pytest.raises(AuthorError) as caught:
        parse_language(change(TEXT).encode(), code="en", file="mine.yaml")
    message = str(caught.value)
    assert problem in message
    assert message.startswith("mine.yaml, line ")
    assert "\n" not in message
    assert message.endswith(".")
    if at:
        line = next(i for i, text in enumerate(TEXT.splitlines(), 1) if at in text)
        assert caught.value.line == line, message


def test_aliases_are_refused() -> None:
    """So a small file cannot stand for a huge one."""
    text = "name: x\ncommands: &a [b]\nnumbers: *a\n"
    with pytest.raises(AuthorError, match=r"m\.yaml, line 3: '\*a' is an alias"):
        parse_language(text.encode(), code="m", file="m.yaml")


@pytest.mark.parametrize(
    "data",
    [b"", b"# nothing\n", b"- a\n- b\n", b"just words", b"\xff\xfe\x00", b"name: \x00", b"a: b: c",
     b"[" * 5_000, b"{a: " * 5_000, b"x" * (MOST_BYTES + 1), b"--- a\n--- b\n", b"? [a]\n: b\n",
     b"!!python/object:os.system x", b"name: x\ncommands:\n", b"%YAML 9.9\n---\na"],
    ids=range(15),
)  # fmt: skip
def test_what_is_no_language_file_at_all(data: bytes) -> None:
    with pytest.raises(AuthorError, match=r"^m\.yaml"):
        parse_language(data, code="m", file="m.yaml")


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_file_loads_or_is_refused_in_words(data: st.DataObject) -> None:
    """Fuzz: lines dropped, doubled, cut or swapped; never another exception."""
    lines = TEXT.splitlines(keepends=True)[:110]
    for _ in range(data.draw(st.integers(1, 4))):
        i = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.integers(0, 3)):
            case 0:
                lines[i] = ""
            case 1:
                lines[i] += lines[i]
            case 2:
                lines[i] = lines[i][: data.draw(st.integers(0, len(lines[i])))]
            case _:
                lines[i] = data.draw(st.text(max_size=20))
    try:
        parse_language("".join(lines).encode(errors="ignore"), code="m", file="m.yaml")
    except AuthorError as error:
        assert str(error).startswith("m.yaml")
