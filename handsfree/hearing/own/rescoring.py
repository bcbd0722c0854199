"""What Whisper's decoder thinks of texts that may be said: how much the sound speaks for each.

A text is written as people write it ("That's right", "118 volts"), and its log-probability
behind the utterance compared with that behind mere hiss: rare words are no worse off than common
ones.  Imports this room and the language's numbers.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import numpy as np

from handsfree.audio import SAMPLE_RATE
from handsfree.hearing.own.decoder import Decoder
from handsfree.hearing.own.features import Array
from handsfree.hearing.own.network import WhisperHead
from handsfree.language.loader import load_language
from handsfree.language.number_words import number_words
from handsfree.language.numbers import parse_number

ANY_READING = -14.0
"""Log-probability that stands for every reading before anything is heard, so that figures that
are rarer than others in what people write are no better off; chosen on voices held out."""


class Opinion(NamedTuple):
    """lead: natural logarithm by which the sound speaks for the text.  ease: log-probability of
    the text behind the sound, a token.  short, worst: by how much its tokens are less probable than
    what the decoder would rather have written there, in the mean and at worst."""

    lead: float
    ease: float = 0.0
    short: float = 0.0
    worst: float = 0.0


class Rescorer:
    """path: the decoder's npz.  third: through whose encoder sound is heard.  Raises InputError
    when the file is none.
    """

    def __init__(self, path: Path, third: WhisperHead) -> None:
        self._decoder = Decoder(path)
        self._third = third
        self._language = load_language("en")
        self._number_words = number_words(self._language)
        self._before: dict[str, float] = {}
        self._hiss: Array | None = None

    def __call__(
        self, heard: Array, texts: Sequence[str], readings: Collection[str]
    ) -> dict[str, Opinion]:
        """heard: output of the encoder's last layer.  readings: those of the texts that are."""
        ways = {text: self.written(text) for text in texts}
        if not ways:
            return {}
        self._learn({text: ways[text] for text in texts
                     if text not in readings and text not in self._before})  # fmt: skip
        out = {}
        for text, behind in self._judged(heard, ways).items():
            before = ANY_READING if text in readings else self._before[text]
            out[text] = behind._replace(lead=behind.lead - before)
        return out

    def written_freely(self, heard: Array) -> tuple[str, float]:
        """See `Decoder.write`."""
        return self._decoder.write(heard)

    def _learn(self, ways: dict[str, list[str]]) -> None:
        """How probable the texts are when there is nothing but hiss."""
        if not ways:
            return
        if self._hiss is None:
            noise = np.random.default_rng(1).normal(0, 100, int(1.2 * SAMPLE_RATE))
            self._hiss = self._third(noise.astype(np.int16))[1]
        judged = self._judged(self._hiss, ways)
        self._before |= {text: behind.lead for text, behind in judged.items()}

    def _judged(self, heard: Array, ways: dict[str, list[str]]) -> dict[str, Opinion]:
        """Log-probability of each text in all its ways, and the ease of the likeliest of them."""
        flat = [way for some in ways.values() for way in some]
        judged = self._decoder(heard, flat)
        place = {way: at for at, way in enumerate(flat)}
        out = {}
        for text, some in ways.items():
            places = [place[way] for way in some]
            likely = max(places, key=lambda at: judged.told[at])
            tokens = len(self._decoder.tokens(flat[likely])) + 1
            out[text] = Opinion(
                float(np.logaddexp.reduce(judged.told[places])), float(judged.told[likely]) / tokens,
                float(judged.short[likely]), float(judged.worst[likely]))
        return out

    def written(self, text: str) -> list[str]:
        """Ways to write a text in `normal` form, without an end: "Six", "six", "6"."""
        said = text.split()
        words = [word.upper() if len(word) == 1 and word != "a" else word for word in said]
        plain = " ".join(words)
        out = [plain[:1].upper() + plain[1:], plain]
        inside = [at for at, word in enumerate(said) if word in self._number_words]
        if inside:
            first, last = inside[0], inside[-1] + 1
            for value in parse_number(" ".join(said[first:last]), self._language)[:1]:
                if (value * 100).denominator == 1:
                    out.append(" ".join([*words[:first], _figures(value), *words[last:]]))
        return list(dict.fromkeys(out))


def _figures(value: Fraction) -> str:
    """118, 2.5."""
    return f"{float(value):.2f}".rstrip("0").rstrip(".")
