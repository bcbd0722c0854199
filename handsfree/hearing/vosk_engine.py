"""Vosk as a recogniser: a model folder in any language, with a grammar of what may be said now.

May import vosk (late, in this file only: importing it loads a native library and more than is
needed), numpy and this room's types.  The model is always given by its path, because a language
name would make the library download one.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from math import exp
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.errors import InputError
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection, normal

_UNKNOWN = "[unk]"
"""Vosk's name for any word that the grammar lacks; not every model has it."""

_KEPT = 16
"""Compiled grammars that are kept for when they come again."""

_SLOPE, _BIAS = 5.03, -2.52
"""Logistic function from the least posterior of a text's words to the probability that the text
is right.  Fitted to what the Korean model made of 31 commands and 25 sentences that are none, by 8
espeak-ng voices in quiet and at 20 to 5 dB of wind, engine and pink noise (898 utterances, of
which 303 were heard as a command; commands weighted two to one).  Measured in bands of the
posterior: 1.0 is right in 93 %, 0.7 to 0.9 in 68 %, 0.5 to 0.7 in half."""

_LOOKS = 30
"""How many of Vosk's texts are looked through for one that may be said."""

_SECOND_LOOK = 0.55
"""Confidence in such a text, where Vosk's first choice may not be said: to be asked about.  In the
same trial it was there for 26 of 60 commands that were missed at first, right for 19 of them, and
there for 2 of 50 other sentences."""


def is_model(folder: Path) -> bool:
    """True when the folder looks like a Vosk model (newer or older layout)."""
    return (folder / "am" / "final.mdl").is_file() or (folder / "final.mdl").is_file()


@dataclass
class _Ear:
    """The library's recognisers for one grammar.

    It gives either posteriors of words or alternatives, not both; hence two.  `heard` counts the
    samples that the first has ever taken, for its times go on from one utterance to the next.
    """

    words: Any
    texts: Any
    heard: int = 0


class VoskRecogniser:
    """A `Recogniser` over one Vosk model.

    folder: the model.  Raises InputError when it is none.
    """

    name = "vosk"

    def __init__(self, folder: Path) -> None:
        if not folder.is_dir():
            raise InputError(f"there is no model folder {folder}; check the path.")
        if not is_model(folder):
            raise InputError(
                f"{folder} is not a Vosk model: it has no am/final.mdl; unpack a model there, "
                "or give the folder that holds 'am' and 'conf'.")
        import vosk

        vosk.SetLogLevel(-1)
        try:
            self._model = vosk.Model(model_path=str(folder))
        except Exception as error:  # the library raises nothing more special
            raise InputError(
                f"the Vosk model in {folder} cannot be read; it may be cut off, so unpack it "
                "again.") from error
        self._make = vosk.KaldiRecognizer
        self._grammar = Grammar()
        self._kept: dict[Grammar, _Ear | None] = {}
        self._ear: _Ear | None = None
        self._unknown: frozenset[str] = frozenset()
        self._began = 0
        self._pieces: list[Samples] = []
        self._words: list[dict[str, Any]] = []

    def knows(self, word: str) -> bool:
        """True when the model's vocabulary has the word."""
        return bool(self._model.vosk_model_find_word(word) >= 0)

    def unknown_words(self) -> frozenset[str]:
        """Words of the present grammar that the model lacks; their phrases cannot be heard."""
        return self._unknown

    def expect(self, grammar: Grammar) -> None:
        """Take what may be said from the next utterance on."""
        self._grammar = grammar
        self._unknown = frozenset(word for word in grammar.words if not self.knows(word))
        if grammar not in self._kept:
            if len(self._kept) == _KEPT:
                del self._kept[next(iter(self._kept))]
            self._kept[grammar] = self._open(grammar)
        self._ear = self._kept[grammar]

    def _open(self, grammar: Grammar) -> _Ear | None:
        """None when nothing of the grammar can be heard."""
        # Entries may follow one another, so single number words will do for whole readings; what
        # is strung together otherwise is sorted out afterwards.
        entries = sorted(
            phrase for phrase in grammar.phrases | grammar.numbers | grammar.units
            if self._unknown.isdisjoint(phrase.split()))
        if not entries:
            return None
        if self.knows(_UNKNOWN):
            entries.append(_UNKNOWN)
        text = json.dumps(entries, ensure_ascii=False)
        words, texts = (self._make(self._model, SAMPLE_RATE, text) for _ in range(2))
        words.SetWords(True)
        texts.SetMaxAlternatives(_LOOKS)
        return _Ear(words, texts)

    def begin(self) -> None:
        """A new utterance starts."""
        if self._ear is not None:
            self._ear.words.Reset()
            self._began = self._ear.heard
        self._words = []
        self._pieces = []

    def feed(self, samples: Samples) -> Hypothesis | None:
        """Take samples; never certain before the end, since the library goes on revising."""
        self._pieces.append(samples)
        if self._ear is not None:
            self._ear.heard += len(samples)
            if self._ear.words.AcceptWaveform(samples.tobytes()):
                self._words += json.loads(self._ear.words.Result()).get("result", [])
        return None

    def finish(self) -> Heard:
        """The utterance is over: what was it?"""
        length = sum(map(len, self._pieces)) / SAMPLE_RATE
        if self._ear is None:
            return Rejection("unclear", 0.0, length, engine=self.name)
        words = self._words + json.loads(self._ear.words.FinalResult()).get("result", [])
        if not words:
            return Rejection("noise", 0.0, length, engine=self.name)
        began = self._began / SAMPLE_RATE
        start, end = float(words[0]["start"]) - began, float(words[-1]["end"]) - began
        text = " ".join(word["word"] for word in words)
        if self._grammar.allows(text):
            least = min(float(word["conf"]) for word in words)
            sure = 1 / (1 + exp(-_SLOPE * least - _BIAS))
            return Hypothesis(text, sure, start, end, engine=self.name)
        return self._look_again(self._ear.texts, start, end)

    def _look_again(self, texts: Any, start: float, end: float) -> Heard:
        """The likeliest text that may be said, where the likeliest of all may not."""
        texts.Reset()
        texts.AcceptWaveform(np.concatenate(self._pieces).tobytes())
        found = json.loads(texts.FinalResult()).get("alternatives", [])
        for alternative in found:
            text = normal(alternative["text"])
            if self._grammar.allows(text):
                return Hypothesis(text, _SECOND_LOOK, start, end, engine=self.name)
        return Rejection("unclear", start, end, engine=self.name)

    def dictate(self, samples: Samples) -> str:
        """See `Dictates`: the model's whole vocabulary, no grammar.

        How often it is right with people is not measured; of synthetic Korean little is, which the
        same model hears well with a grammar.  So it is written beside the sound, never acted upon.
        """
        free = self._make(self._model, SAMPLE_RATE)
        pieces = []
        for start in range(0, len(samples), SAMPLE_RATE):
            if free.AcceptWaveform(samples[start:start + SAMPLE_RATE].tobytes()):
                pieces.append(json.loads(free.Result()).get("text", ""))
        pieces.append(json.loads(free.FinalResult()).get("text", ""))
        words = " ".join(pieces).split()
        return " ".join(word for word in words if not word.startswith("["))  # no noises

    def close(self) -> None:
        """Give the model back."""
        self._kept.clear()
        self._ear = self._model = None
