"""The words of standing by: every language has the same, and none means two things."""

import string
from pathlib import Path
from types import SimpleNamespace

import pytest

from handsfree.cli import wiring
from handsfree.cli.run import _ready
from handsfree.errors import InputError
from handsfree.language.intents import Note
from handsfree.language.loader import language_names, load_language
from handsfree.standby.answering import without_keys
from handsfree.standby.phrases import (
    HEARD,
    Phrases,
    Simple,
    Start,
    good_call,
    languages,
    load_words,
)
from tests.standby.test_in_text import OWN, somebodys_folder

LISTS = {"arrive": ("arrive", "arrival"), "evening": ("evening", "the evening round")}


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def phrases(code: str) -> Phrases:
    words = load_words(code)
    return Phrases(words, load_language(code), words.call, LISTS)


def test_every_language_can_stand_by() -> None:
    assert set(languages()) == set(language_names())


@pytest.mark.parametrize("code", languages())
def test_sentences_and_their_fields_are_the_same(code: str) -> None:
    english, other = load_words("en").said, load_words(code).said
    assert english.keys() == other.keys()
    assert len(load_words(code).examples) == len(load_words("en").examples)
    for key, text in english.items():
        assert fields(other[key]) == fields(text), key


@pytest.mark.parametrize("code", languages())
def test_a_box_without_keys_is_told_nothing_of_keys(code: str) -> None:
    language, words = load_language(code), load_words(code)
    assert set(words.instead) == set(load_words("en").instead) <= set(language.templates)
    for key, text in words.instead.items():
        assert fields(text) <= fields(language.templates[key]) | {"reason"}, key
        for word in ("key", "Space", "Taste", "키", "자판"):
            assert word not in text, text


@pytest.mark.parametrize("code", languages())
def test_a_box_with_a_button_is_told_of_it_where_nothing_else_works(code: str) -> None:
    language, words = load_language(code), load_words(code)
    told = without_keys(language, words, button=True).templates
    for key in ("lost.microphone", "lost.recogniser", "hard keys"):
        assert told[key] != without_keys(language, words).templates[key], key
        assert any(word in told[key].lower() for word in ("button", "knopf", "버튼")), told[key]


def test_a_list_that_is_run_where_nobody_can_type_tells_nothing_of_keys(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`handsfree run` out of a desktop's menu or a script: its standard input is no terminal."""
    data = somebodys_folder(tmp_path, monkeypatch, OWN)
    monkeypatch.setattr(wiring, "to_settle", lambda *some, **more: None)  # another list has settled it
    for typing in (False, True):
        monkeypatch.setattr("sys.stdin", SimpleNamespace(isatty=lambda typing=typing: typing))
        begun = _ready("nest-boxes", None, data, lambda: None, None, resume=False, anew=True, shortest=False)
        told = begun.made.language.templates
        assert ("keys" in told["too loud"] and "Space" in told["lost.microphone"]) is typing, told["too loud"]


def test_every_sentence_that_speaks_of_keys_has_another() -> None:
    of_keys = {key for key, text in load_language("en").templates.items()
               if " keys" in text or "Space" in text or "type it" in text}
    assert of_keys == set(load_words("en").instead)


@pytest.mark.parametrize("code", languages())
def test_each_phrase_means_one_thing(code: str) -> None:
    found, words = phrases(code), load_words(code)
    every = [one for some in words.heard.values() for one in some]
    assert len(every) == len(set(every))
    for name in HEARD:
        for phrase in words.heard[name]:
            assert found.understand(phrase) == Simple(name), phrase
    for phrase in words.go_on:
        assert found.understand(phrase) == Start("", go_on=True), phrase
    for pattern in words.start:
        assert found.understand(pattern.replace("{}", "arrive")) == Start("arrive"), pattern
    for pattern in words.go_on_with:
        assert found.understand(pattern.replace("{}", "evening")) == Start("evening", True)
    assert found.understand(f"{words.note_this[0]} x y") == Note("x y")


@pytest.mark.parametrize("code", languages())
def test_what_is_told_as_an_example_is_understood(code: str) -> None:
    found = phrases(code)
    for example in load_words(code).examples:
        assert found.understand(example.replace("{list}", "arrive")) is not None, example


@pytest.mark.parametrize("code", languages())
def test_a_shipped_call_is_a_good_one(code: str) -> None:
    words, language = load_words(code), load_language(code)
    for call in words.call:
        assert good_call(call, words, language) == call
    with pytest.raises(InputError):
        good_call(words.heard["out"][0], words, language)


def test_a_recogniser_is_given_what_is_understood() -> None:
    found = phrases("en")
    for text in found.awake().phrases:
        assert found.understand(text) is not None, text
    assert found.asleep().phrases == frozenset(["hello trailer"])


def test_politeness_and_articles_change_nothing() -> None:
    found = phrases("en")
    for text in ("please start the evening round", "start evening round please", "start the evening",
                 "the evening round"):
        assert found.understand(text) in (Start("evening"), None), text
    assert found.understand("start evening round please") == Start("evening")
    assert found.understand("start the dishwasher") is not None  # there is no such list, it says
