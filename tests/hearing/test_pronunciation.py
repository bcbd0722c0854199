"""How words sound: against the pronouncing dictionary that the recogniser carries."""

from __future__ import annotations

import random

import pytest
from pocketsphinx import get_model_path
from rapidfuzz.distance import Levenshtein

from handsfree.errors import DeviceError
from handsfree.hearing.pronunciation import ARPABET, pronounce, to_arpabet


@pytest.mark.parametrize("word, sounds", [
    ("chocks", "CH AA K S"), ("jackstand", "JH AE K S T AE N D"),
    ("unhitched", "AH N HH IH CH T"), ("leveler", "L EH V AH L ER"), ("water", "W AO T ER"),
])
def test_words_of_the_trade(word: str, sounds: str) -> None:
    assert pronounce([word]) == {word: sounds}


def test_agrees_with_the_dictionary() -> None:
    """CMU pronouncing dictionary: of 400 words by chance, at most 14 % of the sounds differ.

    Names and loan words are among them; over the language file's own words it is 2 %.
    """
    ways: dict[str, list[list[str]]] = {}
    with open(get_model_path("en-us/cmudict-en-us.dict"), encoding="utf-8") as file:
        for line in file:
            word, *sounds = line.split()
            ways.setdefault(word.split("(")[0], []).append(sounds)
    words = random.Random(4).sample(sorted(w for w in ways if w.isalpha() and len(w) > 2), 400)
    said = pronounce(words)
    wrong = sum(min(Levenshtein.distance(said[w].split(), way) for way in ways[w]) for w in words)
    assert wrong / sum(len(ways[w][0]) for w in words) < 0.14
    assert {sound for way in said.values() for sound in way.split()} <= set(ARPABET)


def test_what_cannot_be_said() -> None:
    assert pronounce([]) == {}
    assert to_arpabet("") == ""
    with pytest.raises(DeviceError, match="cannot tell how to say 'chocks'"):
        pronounce(["chocks"], "no such voice")
