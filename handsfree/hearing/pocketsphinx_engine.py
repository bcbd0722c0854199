"""PocketSphinx as a recogniser: English out of the box, with the model that its wheel carries.

May import pocketsphinx (late), numpy, and this room's cleaning, pronounce, confidence and types.

An utterance is gathered, cleaned and decoded when it is over: the mean of the features is then
that of the whole utterance, which hears more than the running mean of live decoding (76 against
69 % of commands by espeak-ng at 10 dB, 53 against 39 % at 5 dB, both without cleaning), and how
the sound was cut makes no difference.
Two more decodings of the same sound say how sure the first is: one in which the first result is
forbidden, and one by bare sounds.  See `confidence`.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from math import log
from pathlib import Path

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, silence
from handsfree.errors import InputError
from handsfree.hearing.confidence import Decoding, Piece, is_noise, measures, probability
from handsfree.hearing.noise_reduction import clean
from handsfree.hearing.pronunciation import ARPABET, pronounce
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Reason, Rejection

ACCEPTED = 0.35
"""A hypothesis with less confidence is a rejection; what lies between this and certainty is for
the conversation to ask about."""

_KEPT = 64
"""Compiled grammars that the decoder keeps."""

_SHORTEST = 0.15
"""Seconds below which there is nothing to decode."""

Pronunciations = Mapping[str, str | Sequence[str]]
"""Word to one or more pronunciations in ARPAbet, sounds parted by blanks."""


class SphinxRecogniser:
    """A `Recogniser` for English.

    pronunciations: of words that the pronouncing dictionary lacks or says otherwise; they are
        used besides the dictionary's.  Raises InputError for a sound that is no ARPAbet.
    voice: espeak-ng's voice that is asked for words that are in neither.
    """

    name = "pocketsphinx"

    def __init__(self, pronunciations: Pronunciations | None = None, voice: str = "en-us") -> None:
        from pocketsphinx import Decoder, get_model_path

        model = Path(get_model_path("en-us"))
        self._decoder = Decoder(
            hmm=str(model / "en-us"),
            dict=str(model / "cmudict-en-us.dict"),
            lm=None,
            loglevel="FATAL",
            topn=8,
            # The best path through the word lattice is a worse one than the first pass found:
            # 0.70 against 0.84 of the commands right at 5 dB.
            bestpath=False,
        )
        self._decoder.add_allphone_file("sounds", str(model / "en-us-phone.lm.bin"))
        self._voice = voice
        self._given = {
            word: (said,) if isinstance(said, str) else tuple(said)
            for word, said in (pronunciations or {}).items()
        }
        for word, ways in self._given.items():
            for way in ways:
                wrong = [sound for sound in way.split() if sound not in ARPABET]
                if wrong or not way.split():
                    raise InputError(
                        f"the pronunciation {way!r} of {word!r} has the sound "
                        f"{(wrong or [''])[0]!r}; use the 39 sounds of ARPAbet without stress.")
        self._sayable: dict[str, bool] = {}
        self._searches: OrderedDict[Grammar, str] = OrderedDict()
        self._made = 0
        self._grammar = Grammar()
        self._pieces: list[Samples] = []

    def expect(self, grammar: Grammar) -> None:
        """Take what may be said from the next utterance on."""
        self._grammar = grammar
        self._add_words(grammar.words)
        self._search(grammar)

    def begin(self) -> None:
        """A new utterance starts."""
        self._pieces = []

    def feed(self, samples: Samples) -> Hypothesis | None:
        """Take samples of the utterance; never certain before its end."""
        self._pieces.append(samples)
        return None

    def finish(self) -> Heard:
        """The utterance is over: what was it?"""
        sound = np.concatenate((silence(0), *self._pieces))
        self._pieces = []
        length = len(sound) / SAMPLE_RATE
        if not self._grammar.words or length < _SHORTEST:
            reason: Reason = "too short" if length < _SHORTEST else "unclear"
            return Rejection(reason, 0.0, length, engine=self.name)
        best, second, bare = self.decodings(sound)
        if best is None or bare is None or is_noise(best, bare):
            return Rejection("noise", 0.0, length, engine=self.name)
        sure = probability(measures(best, second, bare))
        start, end = best.span
        if not self._grammar.allows(best.text) or sure < ACCEPTED:
            return Rejection("unclear", start, end, best.text, sure, self.name)
        alternatives: tuple[tuple[str, float], ...] = ()
        if second and second.span[1]:
            alternatives = ((second.text, probability(measures(second, best, bare))),)
        return Hypothesis(best.text, sure, start, end, alternatives, self.name)

    def decodings(
        self, sound: Samples,
    ) -> tuple[Decoding | None, Decoding | None, Decoding | None]:
        """The best path through the present grammar, through the grammar without what that
        found, and through bare sounds; None where there is no path."""
        sound = clean(sound)
        best = self._decode(sound, self._search(self._grammar))
        if best is None:
            return None, None, None
        others = self._without(best.text)
        second = self._decode(sound, self._search(others)) if others.words else None
        return best, second, self._decode(sound, "sounds")

    def close(self) -> None:
        """Give the decoder back."""
        self._searches.clear()
        self._decoder = None

    def _without(self, text: str) -> Grammar:
        """The present grammar without one phrase, or without readings when `text` is one."""
        grammar = self._grammar
        if text in grammar.phrases:
            return Grammar(grammar.phrases - {text}, grammar.numbers, grammar.units)
        return Grammar(grammar.phrases)

    def _add_words(self, words: frozenset[str]) -> None:
        """Put words into the decoder's dictionary: the caller's ways, the dictionary's, or
        espeak-ng's."""
        new = sorted(words - self._sayable.keys())
        missing = [word for word in new
                   if word not in self._given and self._decoder.lookup_word(word) is None]
        spoken = pronounce(missing, self._voice)
        for word in new:
            ways = [*self._given.get(word, ()), *filter(None, [spoken.get(word)])]
            known = self._decoder.lookup_word(word) is not None
            for way in ways:
                name, number = word, 1
                while self._decoder.lookup_word(name) is not None:
                    number += 1
                    name = f"{word}({number})"
                self._decoder.add_word(name, way, True)
            self._sayable[word] = known or bool(ways)

    def _search(self, grammar: Grammar) -> str:
        """Name of the decoder's search for a grammar, compiled when it is new."""
        if grammar in self._searches:
            self._searches.move_to_end(grammar)
            return self._searches[grammar]
        if len(self._searches) >= _KEPT:
            _, oldest = self._searches.popitem(last=False)
            self._decoder.remove_search(oldest)
        self._made += 1
        name = f"g{self._made}"
        self._decoder.add_jsgf_string(name, jsgf(grammar, self._can_be_said))
        self._searches[grammar] = name
        return name

    def _can_be_said(self, phrase: str) -> bool:
        return all(self._sayable.get(word, False) for word in phrase.split())

    def _decode(self, sound: Samples, search: str) -> Decoding | None:
        """Best path through one search; None when there is none."""
        decoder = self._decoder
        decoder.reinit_feat()  # else the features remember the utterance before
        decoder.activate_search(search)
        decoder.start_utt()
        decoder.process_raw(sound.tobytes(), full_utt=True)
        decoder.end_utt()
        best = decoder.hyp()
        if best is None or not best.hypstr:
            return None
        # The library gives likelihoods, whose logarithm is scaled down by 2 to the 10th.
        pieces = tuple(
            Piece(piece.word, piece.start_frame, piece.end_frame + 1, 1024 * log(piece.ascore))
            for piece in decoder.seg())
        return Decoding(best.hypstr, 1024 * log(best.best_score), pieces)


def jsgf(grammar: Grammar, sayable: Callable[[str], bool] = lambda phrase: True) -> str:
    """The grammar in the Java Speech Grammar Format, without phrases that are not sayable.

    A grammar of which nothing is left accepts silence alone.
    """
    choices = sorted(filter(sayable, grammar.phrases))
    rules = []
    numbers = sorted(filter(sayable, grammar.numbers))
    if numbers:
        rules.append(f"<number> = ({' | '.join(numbers)})+;")
        choices.append("<number>")
        units = sorted(filter(sayable, grammar.units))
        if units:
            rules.append(f"<unit> = {' | '.join(units)};")
            choices += ["<number> <unit>", "<unit> <number>"]
    top = f"public <said> = {' | '.join(choices) or '<NULL>'};"
    return "\n".join(("#JSGF V1.0;", "grammar said;", *rules, top, ""))
