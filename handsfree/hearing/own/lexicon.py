"""Words to phone strings: the language file's, the pronouncing dictionary's, the synthesiser's.

Imports this room and the folder of the models.
"""

from __future__ import annotations

import gzip
import itertools
from collections.abc import Mapping, Sequence

from handsfree.hearing.own.scoring import Phones
from handsfree.hearing.pronunciation import pronounce
from handsfree.storage.paths import models_folder

MOST = 16
"""Pronunciations of one phrase that are scored at most."""


def dictionary() -> str:
    """The CMU pronouncing dictionary, a pronunciation a line; 3.3 MB of text."""
    packed = (models_folder() / "en" / "cmudict.dict.gz").read_bytes()
    return gzip.decompress(packed).decode("utf-8")


MANY = 40
"""So many words are looked for line by line, fewer one by one."""

OBSTRUENTS = frozenset(("P", "B", "T", "D", "K", "G", "CH", "JH", "F", "V", "TH", "DH", "S", "Z",
                        "SH", "ZH", "HH"))  # fmt: skip
"""Sounds that a threshold of loudness may cut off the end of a word."""


class Lexicon:
    """Pronunciations by word.

    phones: names of the network's classes 1 and up.  given: words that the dictionary lacks or
    says otherwise, as lists of ARPAbet strings; they come first.
    """

    def __init__(self, phones: Sequence[str], given: Mapping[str, Sequence[str]]) -> None:
        self._class = {phone: number for number, phone in enumerate(phones, start=1)}
        self._weak = {self._class[phone] for phone in OBSTRUENTS if phone in self._class}
        self._known: dict[str, list[Phones]] = {
            word.lower(): [self._classes(text) for text in texts] for word, texts in given.items()
        }
        # Kept as one text and searched: parsed it would take ten times the memory.
        self._text = "\n" + dictionary()

    def _classes(self, arpabet: str) -> Phones:
        sounds = (sound.rstrip("012") for sound in arpabet.split())
        return tuple(self._class[s] for s in sounds if s in self._class)

    def learn(self, words: frozenset[str]) -> None:
        """Find the pronunciations of these words; those in no dictionary from espeak-ng."""
        missing = []
        wanted = words - self._known.keys()
        if len(wanted) > MANY:
            wanted = self._learn_many(wanted)
        for word in sorted(wanted):
            found = []
            at = self._text.find(f"\n{word} ")
            while at >= 0:
                end = self._text.find("\n", at + 1)
                found.append(self._classes(self._text[at + 1 : end].split(" ", 1)[1]))
                # Other pronunciations, "word(2)" and so on, stand on the next lines.
                at = end if self._text.startswith(f"\n{word}(", end) else -1
            if found:
                self._known[word] = found
            else:
                missing.append(word)
        if missing:
            for word, arpabet in pronounce(missing).items():
                self._known[word] = [self._classes(arpabet)] if arpabet else []

    def _learn_many(self, words: frozenset[str]) -> frozenset[str]:
        """The same, line by line; returns those that are not in the dictionary."""
        found: dict[str, list[Phones]] = {}
        for line in self._text.split("\n"):
            word, _, sounds = line.partition(" ")
            if (word := word.partition("(")[0]) in words:
                found.setdefault(word, []).append(self._classes(sounds))
        self._known |= found
        return words - found.keys()

    def say(self, phrase: str) -> list[Phones]:
        """All ways to say a phrase, the dictionary's first choice first; empty when unknown."""
        ways = [self._known.get(word, []) for word in phrase.split()]
        said = {
            tuple(itertools.chain.from_iterable(way)): None
            for way in itertools.islice(itertools.product(*ways), MOST)
        }
        return [way for way in said if way]

    def clipped(self, way: Phones, most: int = 2) -> list[Phones]:
        """`way` without its last obstruents, one less and so on, two phones at least left."""
        ends = [len(way) - cut for cut in range(1, most + 1) if len(way) - cut >= 2]
        return [way[:end] for end in ends if self._weak.issuperset(way[end:])]
