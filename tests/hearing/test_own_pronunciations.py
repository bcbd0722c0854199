"""Pronunciations that the owner gives: written rightly, kept privately, used by the recogniser."""

from pathlib import Path

import pytest

from handsfree.errors import InputError, StorageError
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.own_pronunciations import keep_saying, parsed, sayings
from handsfree.hearing.types import Grammar, Hypothesis
from tests.hearing.speech import say


@pytest.mark.parametrize(("given", "kept"), [
    ("chocks=CH AA K S", ("chocks", "CH AA K S")), ("Chocks = ch aa  k s", ("chocks", "CH AA K S")),
    ("o'brien=OW B R AY AH N", ("o'brien", "OW B R AY AH N"))])
def test_a_pronunciation_is_a_word_and_its_sounds(given: str, kept: tuple[str, str]) -> None:
    assert parsed(given) == kept


@pytest.mark.parametrize(("given", "told"), [
    ("chocks", "write one word"), ("=CH", "write one word"), ("chocks=", "write one word"),
    ("two words=CH AA", "write one word"), ("chocks=CH OO K", "'OO'"), ("", "write one word")])
def test_anything_else_is_told_how_it_is_written(given: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        parsed(given)


def test_it_is_kept_privately_and_can_be_forgotten(tmp_path: Path) -> None:
    data = tmp_path / "data"
    assert sayings(data) == {}
    keep_saying(data, "chocks", "CH AA K S")
    keep_saying(data, "mat", "M AE T")
    assert sayings(data) == {"chocks": ("CH AA K S",), "mat": ("M AE T",)}
    (file,) = data.iterdir()
    assert file.stat().st_mode & 0o077 == 0
    keep_saying(data, "chocks", "")
    assert sayings(data) == {"mat": ("M AE T",)}


@pytest.mark.parametrize("text", ["", "[]", "{", '{"a": 3}', '{"a": "XX"}', '{"a": null}', "3"])
def test_a_damaged_file_is_named_with_the_mend(tmp_path: Path, text: str) -> None:
    (tmp_path / "pronunciations.json").write_text(text)
    with pytest.raises(InputError, match=r"pronunciations\.json cannot be used .* delete it"):
        sayings(tmp_path)


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match="cannot be written"):
        keep_saying(tmp_path / "file", "mat", "M AE T")


def test_the_recogniser_hears_the_word_as_it_is_said(tmp_path: Path) -> None:
    """"Kwyjel" said as "done deal": nothing but the given pronunciation makes this match."""
    grammar = Grammar(frozenset({"the kwyjel", "what is left", "hold on", "chocks set"}))
    heard = []
    for given in (False, True):
        if given:
            keep_saying(tmp_path, "kwyjel", "D AH N D IY L")
        ear = open_recogniser("own", "en", None, {}, user_data=tmp_path)
        ear.expect(grammar)
        ear.begin()
        ear.feed(say("the done deal")[3_200:-8_000])
        heard.append(ear.finish())
        ear.close()
    without, with_it = heard
    assert isinstance(with_it, Hypothesis) and with_it.text == "the kwyjel"
    assert with_it.confidence > 0.8
    assert not isinstance(without, Hypothesis) or without.confidence < 0.8


def test_a_recogniser_that_is_none_is_a_sentence() -> None:
    with pytest.raises(InputError, match="no recognizer 'nonsense'; there are: vosk, own"):
        open_recogniser("nonsense", "en", None, {})
