"""The program's own recogniser for English: small, open in its vocabulary, firm in noise.

Three networks turn sound into probabilities of phones, two of them by way of encoders that know
human voices; each phrase that may be said now is scored by its phones, readings by a loop over
number words; a decoder that knows how people write gives its opinion on the likeliest; a calibrated
confidence decides.  Needs numpy and rapidfuzz, and the files in `models/en`.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.errors import InputError
from handsfree.hearing.own.confidence import Candidate, Confidence, measures
from handsfree.hearing.own.features import LogMel
from handsfree.hearing.own.lexicon import Lexicon
from handsfree.hearing.own.network import (
    FRAME_SECONDS,
    SECOND_FRAME_SECONDS,
    EmbeddingHead,
    Network,
    WhisperHead,
)
from handsfree.hearing.own.other_words import OtherWords
from handsfree.hearing.own.reading_grammar import joins, meaning
from handsfree.hearing.own.readings import Readings
from handsfree.hearing.own.rescoring import Opinion, Rescorer
from handsfree.hearing.own.scoring import Forward, Free, Phones, weighed
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection, Span, normal
from handsfree.storage.paths import models_folder

TAIL = 0.24
"""Seconds of silence put behind the utterance: the network is causal and answers late."""

SECOND_TAIL = 0.4
"""The same for the second network, whose embedding looks at 0.8 s at once."""

FILES = ("phones.npz", "second.npz", "speech.npz", "third.npz", "whisper.npz", "decoder.npz",
         "confidence.npz")  # fmt: skip
"""What a model's folder holds."""

LEAST = 0.5
"""Below this confidence, what was heard is rejected."""

BETWEEN = 0.24
"""Seconds of sound that go through the first two networks together."""

SURELY = float(np.log(0.5))
"""Log-probability of one phone from which a frame surely is speech.  In 5.7 minutes of ten noises the
first network had such in 0.5 % of its frames, in nearly every word several."""

HEAD = 0.6
"""Seconds before the first sure sound of speech that are kept: the gate's 0.26, and 0.2 (of 96 words at 5
dB the median) by which such a sound comes after the word's start, and a little to spare."""

LITTLE = 0.1
"""Seconds of a pause that need not be heard by the third network once it has heard the rest."""

LIKELY = 128
"""The third network judges so many phone strings, those that the other two find likeliest."""

ASKED = 8
"""The decoder is asked about so many texts, those that the three networks together like best."""

CLIPPED = 1.0
"""What each sound costs that is missing at the end of a word said alone; see `Lexicon.clipped`."""

LEGIBLE = -1.6
"""Least mean log-probability of a token of what is written freely; below it, it is a guess.  It is only
asked about, and only where it fits a known sentence from end to end: of 57 sentences that were no phrase
of their moment, 9 came out right from -0.8 on and 13 from here on, with one misread in both."""

BELIEVED = 0.8
"""A phrase that is believed so surely is not looked for in other words."""

OWN_WORDS = 0.9
"""Least confidence in a sentence of the speaker's own words, with which it is taken to have been said."""

FAR = -5.0
"""Log-likelihood a phone, by all three networks, by which a sentence may be worse than the best string
of phones whatsoever: of 24 that were right none had less than -1.4, of 14 of other people's talk none more
than -8.5."""

BEHIND = 40.0
"""Log-likelihood by which a sentence may be behind the likeliest one by the networks alone; of what is
further behind the decoder is not asked."""

OTHERWISE = 4.3
"""Log-probability by which the decoder may at worst rather have written another token of such a sentence: what
was said may lie beside the graphs, and a sentence on them sounds like it ("please wet a little" for "wait").
Chosen on 35 taught sentences in five voices: of 31 found as they were said one had more, of three
found otherwise all had."""

ALIKE = 32
"""So many texts are looked at for meaning the same as the best one."""

JUDGED = 6
"""So many sentences in the speaker's own words are judged by all networks and the decoder."""

DIGITS = frozenset(("one", "two", "three", "four", "five", "six", "seven", "eight", "nine"))
"""What is easily lost from the start of a reading."""

_KEPT = 16
"""Compiled grammars that are kept for when they come again."""


def default_model() -> Path:
    """The folder of the shipped model."""
    return models_folder() / "en"


def _silent(seconds: float) -> Samples:
    return np.zeros(round(seconds * SAMPLE_RATE), dtype=np.int16)


def _scored(strings: Sequence[Phones], scores: Sequence[np.ndarray]) -> np.ndarray:
    """Log-likelihoods of phone strings over all that was heard."""
    forward = Forward(strings)
    for some in scores:
        forward.feed(some)
    return forward.scores()


class _Compiled:
    """A grammar as phone strings."""

    def __init__(self, grammar: Grammar, lexicon: Lexicon) -> None:
        lexicon.learn(grammar.words)
        self.texts: list[str] = []
        self.phones: list[Phones] = []
        for phrase in sorted(grammar.phrases):
            for way in lexicon.say(phrase):
                self.texts.append(phrase)
                self.phones.append(way)
        self.known = frozenset(self.texts)
        self.costs = [0.0] * len(self.texts)
        whole = set(self.phones)
        for phrase, way in list(zip(self.texts, self.phones, strict=True)):
            for short in lexicon.clipped(way) if " " not in phrase else ():
                if short not in whole:
                    self.texts.append(phrase)
                    self.phones.append(short)
                    self.costs.append(CLIPPED * (len(way) - len(short)))
        self.unknown = grammar.phrases.difference(self.texts)
        self.forward = Forward(self.phones)
        self.second = Forward(self.phones)
        self.numbers = {word: lexicon.say(word) for word in sorted(grammar.numbers)}
        self.units = _told_apart({unit: lexicon.say(unit) for unit in sorted(grammar.units)})
        units = self.units if self.numbers else {}
        together = joins(grammar.numbers) if self.numbers else None
        self.readings, self.second_readings, self.whole_readings = (
            Readings(self.numbers, units, together) for _ in range(3))
        self._unit = grammar.unit
        self._alike = {text: some for some in grammar.alike for text in some}

    @property
    def fixed(self) -> tuple[object, ...]:
        """What no utterance changes."""
        return self.texts, self.phones, self.numbers, self.units, self._alike

    def meaning(self, text: str) -> Hashable | None:
        """What a text comes to, as far as the grammar tells; None for no phrase and no reading."""
        if text in self.known:
            return self._alike.get(text, text)
        return meaning(text, self._unit)


def _told_apart(spoken: dict[str, list[Phones]]) -> dict[str, list[Phones]]:
    """Without what sounds like another: "per cent" and "percent" would halve each other's share."""
    ways: set[Phones] = set()
    kept: dict[str, list[Phones]] = {}
    for text in sorted(spoken, key=lambda text: (len(text.split()), text)):
        own = [way for way in spoken[text] if way not in ways]
        if own or not spoken[text]:
            kept[text] = own
        ways |= set(own)
    return {text: kept[text] for text in sorted(kept)}


NOTHING = -8.0
"""What `fits` says of a sound in which there is nothing of a phrase."""


class OwnRecogniser:
    """A `Recogniser`.

    folder: holds `FILES`; the shipped model when left out.
    pronunciations: ARPAbet by word, for words that the dictionary lacks or says otherwise.
    Raises InputError when the model cannot be read.
    """

    name = "own"

    def __init__(
        self,
        folder: Path | None = None,
        pronunciations: Mapping[str, Sequence[str]] | None = None,
    ) -> None:
        folder = folder or default_model()
        for file in FILES:
            if not (folder / file).is_file():
                raise InputError(f"there is no {file} in {folder}; reinstall the package.")
        self._network = Network(folder / "phones.npz")
        self._second = EmbeddingHead(folder / "second.npz", folder / "speech.npz")
        self._third = WhisperHead(folder / "third.npz", folder / "whisper.npz")
        self._opinions = Rescorer(folder / "decoder.npz", self._third)
        self._confidence = Confidence(folder / "confidence.npz")
        self._lexicon = Lexicon(self._network.phones, pronunciations or {})
        self._other_words = OtherWords(self._lexicon)
        self._mel = LogMel()
        self._free, self._second_free, self._third_free = Free(), Free(), Free()
        self._kept: dict[Grammar, _Compiled] = {}
        self._grammar = Grammar()
        self._compiled = _Compiled(self._grammar, self._lexicon)
        self.begin()

    def expect(self, grammar: Grammar) -> None:
        """Take what may be said from the next utterance on."""
        if grammar not in self._kept:
            if len(self._kept) == _KEPT:
                del self._kept[next(iter(self._kept))]
            self._kept[grammar] = _Compiled(grammar, self._lexicon)
        self._compiled = self._kept[grammar]
        self._grammar = grammar

    def begin(self) -> None:
        """A new utterance starts."""
        self._network.reset()
        self._mel.reset()
        self._second.reset()
        self._free.begin()
        self._second_free.begin()
        self._compiled.forward.begin()
        self._compiled.second.begin()
        self._compiled.readings.begin()
        self._compiled.second_readings.begin()
        self._scores: list[np.ndarray] = []
        self._second_scores: list[np.ndarray] = []
        self._third_scores: list[np.ndarray] = []
        self._third_heard = np.zeros((0, 1), dtype=np.float32)
        self._third_sure = False
        self._asked: dict[str, Opinion] = {}
        self._sound: list[Samples] = []
        self._first_sound: float | None = None
        self._last_sound: float | None = None
        self._heard_ahead = -SAMPLE_RATE
        self._ranked: list[Candidate] = []
        self._taken = 0
        self._waiting: list[Samples] = []
        self._waits = 0

    def feed(self, samples: Samples) -> Hypothesis | None:
        """Take samples; never ends an utterance by itself (see `partial_result`)."""
        self._taken += len(samples)
        self._sound.append(samples)
        self._waiting.append(samples)
        self._waits += len(samples)
        if self._waits < BETWEEN * SAMPLE_RATE:
            return None
        some = self._pieces()
        self._hear_first(some)
        self._hear_second(some)
        return None

    def finish(self) -> Heard:
        """The utterance is over: what was it?  What is none of what may be said is written down
        freely, so that it can be asked about."""
        cut = self._cut_head()
        heard = self._otherwise(self._finished(True))
        return replace(heard, start=heard.start + cut, end=heard.end + cut) if cut else heard

    def _sure_of(self, words: str) -> float:
        """The confidence in these words, had they been a phrase of this moment beside the others: the
        decoder wrote them, and here the phones of all three networks judge them; 0 where another text
        is likelier or they cannot be said."""
        self._lexicon.learn(frozenset(words.split()))
        ways = self._lexicon.say(words)
        if not ways or not len(self._third_heard):
            return 0.0
        first, second, third = (
            _scored(ways, some) for some in (self._scores, self._second_scores, self._third_scores))
        at = int(np.argmax(first + second + third))
        own = Candidate(words, ways[at], float(first[at]), float(second[at]), float(third[at]),
                        opinion=self._opinions(self._third_heard, [words], ())[words])
        ranked = sorted((own, *self.candidates()), key=lambda c: -c.score)
        return self._confidence(self.measured(ranked)) if ranked[0] is own else 0.0

    def _otherwise(self, heard: Heard) -> Heard:
        """The same, or the sentence that it was where it is no phrase that is believed, or with what the
        decoder would write."""
        if isinstance(heard, Hypothesis) and heard.confidence >= BELIEVED or (
                isinstance(heard, Rejection) and heard.reason != "unclear"):
            return heard
        text, sure = self.in_other_words()
        if sure >= OWN_WORDS:
            return Hypothesis(text, sure, heard.start, heard.end, (), self.name, own_words=True)
        if isinstance(heard, Rejection):
            words, ease = self._opinions.written_freely(self._third_heard)
            if ease >= LEGIBLE:
                return replace(heard, written=normal(words), sure=self._sure_of(normal(words)))
        return heard

    def in_other_words(self) -> tuple[str, float]:
        """The likeliest sentence in the speaker's own words and the confidence in it, by all networks and
        the decoder, among the others and the phrases; "" and 0 where a phrase or nonsense is likelier.

        After `finish`.
        """
        means = self._grammar.means
        if means is None or not len(self._third_heard):
            return "", 0.0
        phrases = self._ranked
        known = {one.text for one in phrases}
        told = [np.concatenate(some) for some in (self._third_scores, self._scores) if some]
        said = [(text, way) for text, way in self._other_words.found(self._grammar, told).items()
                if text not in known]
        ways = [way for _, way in said]
        scores = [_scored(ways, some) for some in (self._scores, self._second_scores, self._third_scores)]
        sentences = sorted((Candidate(text, way, float(one), float(two), float(three))
                            for (text, way), one, two, three in zip(said, *scores, strict=True)),
                           key=lambda c: -c.heard)[:JUDGED]
        free = self._free.score + self._second_free.score + self._third_free.score
        if not sentences or sentences[0].heard - free < FAR * len(sentences[0].phones):
            return "", 0.0  # nothing of the kind
        sentences = [one for one in sentences if one.heard > sentences[0].heard - BEHIND]
        opinions = self._opinions(self._third_heard, [one.text for one in sentences], ())
        ranked = sorted((*(one._replace(opinion=opinions[one.text]) for one in sentences), *phrases),
                        key=lambda c: -c.score)
        best = ranked[0]
        if best.text in known or means(best.text) is None or best.opinion.worst > OTHERWISE:
            return "", 0.0
        return best.text, self._confidence(self.measured(ranked, means))

    def _cut_head(self) -> float:
        """Leave out what came long before the first sound of speech, by so many seconds: the
        confidence knows utterances as a gate cuts them that is sure."""
        first = self._first_sound
        if first is None or first < HEAD + LITTLE:
            return 0.0
        at = round((first - HEAD) * SAMPLE_RATE)
        sound = np.concatenate(self._sound)[at:]
        self.begin()
        self.feed(sound)
        return at / SAMPLE_RATE

    def _finished(self, anew: bool) -> Heard:
        """anew: whether the third network hears it, or what it heard in `prepare` will do."""
        rest = self._pieces()
        self._hear_first(np.concatenate((rest, _silent(TAIL))))
        self._hear_second(np.concatenate((rest, _silent(SECOND_TAIL))))
        if anew and self.heard_speech:
            self._hear_third()
        return self._judge()

    def speech_span(self) -> Span:
        """See `HearsPauses`: by the first two networks."""
        return Span(self._first_sound, self._last_sound, self._free.frames * FRAME_SECONDS)

    def _mark(self, told: np.ndarray, frame: float, before: int) -> None:
        """Where speech was surely heard, in what a network told after so many frames before."""
        sure = np.flatnonzero(told[:, 1:].max(axis=1, initial=-np.inf) > SURELY)
        if len(sure):
            first, last = (float(before + at) * frame for at in (sure[0], sure[-1] + 1))
            self._first_sound = first if self._first_sound is None else min(first, self._first_sound)
            self._last_sound = max(last, self._last_sound or last)

    @property
    def heard_speech(self) -> bool:
        """True when one of the first two networks heard a sound of speech."""
        return bool(self._free.phones or self._second_free.phones)

    def fits(self, samples: Samples) -> float:
        """See `Glances`: by the first network alone, some tenth of the work of hearing it."""
        self.begin()
        self._hear_first(np.concatenate((samples, _silent(TAIL))))
        if not self._free.phones or not self._compiled.phones:
            return NOTHING
        sizes = np.array([len(phones) for phones in self._compiled.phones])
        return float(max(NOTHING, ((self._compiled.forward.scores() - self._free.score)
                                   / sizes).max()))

    def prepare(self) -> None:
        """Hear what there is through the third network and ask the decoder; `partial_result` takes that
        if little is added."""
        self._hear_third()
        self._heard_ahead = self._taken
        self.candidates()

    def partial_result(self) -> Heard:
        """What `finish` would say now; the utterance goes on."""
        shared = (self._confidence, self._lexicon, self._other_words, self._grammar, self._third, self._opinions,
                  *self._network.fixed, *self._second.fixed, *self._compiled.fixed, *self._sound)
        memo: dict[int, object] = {id(part): part for part in shared}
        memo[id(self._kept)] = {}
        added = self._taken - self._heard_ahead
        return copy.deepcopy(self, memo)._finished(added > LITTLE * SAMPLE_RATE)

    def close(self) -> None:
        """Forget the compiled grammars."""
        self._kept.clear()

    def _pieces(self) -> Samples:
        """The sound that waits, taken out."""
        some = np.concatenate([np.zeros(0, dtype=np.int16), *self._waiting])
        self._waiting, self._waits = [], 0
        return some

    def _hear_first(self, samples: Samples) -> None:
        told = self._network.feed(self._mel.feed(samples))
        self._mark(told, FRAME_SECONDS, self._free.frames)
        scores = weighed(told)
        if len(scores):
            self._scores.append(scores)
            self._free.feed(scores)
            self._compiled.forward.feed(scores)
            self._compiled.readings.feed(scores)

    def _hear_second(self, samples: Samples) -> None:
        told = self._second.feed(samples)
        self._mark(told, SECOND_FRAME_SECONDS, self._second_free.frames)
        scores = weighed(told)
        if len(scores):
            self._second_scores.append(scores)
            self._second_free.feed(scores)
            self._compiled.second.feed(scores)
            self._compiled.second_readings.feed(scores)

    def _hear_third(self) -> None:
        """The whole utterance through the third network, anew at each call."""
        told, self._third_heard = self._third(np.concatenate((*self._sound, _silent(TAIL))))
        self._third_sure = bool((told[:, 1:].max(initial=-np.inf) > SURELY).any())
        self._asked = {}
        scores = weighed(told)
        self._third_scores = [scores]
        self._third_free.begin()
        self._third_free.feed(scores)
        self._compiled.whole_readings.begin()
        self._compiled.whole_readings.feed(scores)

    def candidates(self) -> list[Candidate]:
        """Texts that may be said, the best first, each with the phones that fit it best.

        When the utterance is over: after `finish`.
        """
        compiled = self._compiled
        said = list(zip(compiled.texts, compiled.phones, strict=True))
        firsts, seconds = [compiled.forward.scores()], [compiled.second.scores()]
        read: dict[str, Phones] = {}
        for loop in (compiled.readings, compiled.second_readings, compiled.whole_readings):
            read |= self._rivals(loop.best())
        read = {text: phones for text, phones in read.items()
                if text not in compiled.known and compiled.meaning(text) is not None}
        if read:
            strings = list(read.values())
            firsts.append(_scored(strings, self._scores))
            seconds.append(_scored(strings, self._second_scores))
            said += read.items()
        first, second = np.concatenate(firsts), np.concatenate(seconds)
        cost = np.array([*compiled.costs, *[0.0] * len(read)])
        likely = np.argsort(first + second - cost)[::-1][:LIKELY]
        third = _scored([said[at][1] for at in likely], self._third_scores)
        found: dict[str, Candidate] = {}
        for at, last in zip(likely, third, strict=True):
            text, phones = said[at]
            new = Candidate(text, phones, float(first[at]), float(second[at]), float(last),
                            float(cost[at]))  # fmt: skip
            if text not in found or new.heard > found[text].heard:
                found[text] = new
        ranked = sorted(found.values(), key=lambda c: -c.heard)
        return sorted(self._with_opinions(ranked, set(read)), key=lambda c: -c.score)

    def _with_opinions(self, ranked: list[Candidate], readings: set[str]) -> list[Candidate]:
        """The same with the decoder's opinion on the first ones; of the rest it thinks no better
        than of any of these."""
        if not len(self._third_heard):
            return ranked
        asked = [c.text for c in ranked[:ASKED]]
        new = [text for text in asked if text not in self._asked]
        self._asked |= self._opinions(self._third_heard, new, readings)
        told = [self._asked[text] for text in asked]
        least = min((one.lead for one in told), default=0.0)
        told += [Opinion(least)] * (len(ranked) - len(told))
        return [candidate._replace(opinion=one)
                for candidate, one in zip(ranked, told, strict=True)]

    def measured(
        self, ranked: Sequence[Candidate], means: Callable[[str], Hashable] | None = None
    ) -> np.ndarray:
        """What the confidence is reckoned from; ranked: `candidates`, not empty; means: what a text comes
        to, by the grammar alone where left out."""
        frees = self._free, self._second_free, self._third_free
        means = means or self._compiled.meaning
        meant = means(ranked[0].text)
        ranked = [ranked[0], *[other for at, other in enumerate(ranked[1:])
                               if at >= ALIKE or means(other.text) != meant]]
        return measures(ranked, frees, np.concatenate([_silent(0), *self._sound]))

    def _rivals(self, best: list[tuple[str, Phones]]) -> dict[str, Phones]:
        """The best readings, and what is like the best one: one of its words exchanged for another
        or left out, a digit or a unit more, a unit in place of its last word."""
        if not best:
            return {}
        out = dict(best)
        words = tuple(best[0][0].split())
        for changed in self._like(words):
            text = " ".join(changed)
            if text not in out and self._compiled.meaning(text) is not None:
                way = self._say(changed)
                if way:
                    out[text] = way
        return out

    def _like(self, words: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        """Readings, and what is none, one word from these."""
        numbers, units = self._compiled.numbers, self._compiled.units
        for at, word in enumerate(words):
            if word in numbers:
                yield words[:at] + words[at + 1 :]
                for other in numbers:
                    yield (*words[:at], other, *words[at + 1 :])
        for digit in DIGITS & numbers.keys():
            yield digit, *words
        for unit in units:
            yield (*words, *unit.split())
            yield (*words[:-1], *unit.split())

    def _say(self, words: Sequence[str]) -> Phones | None:
        """First pronunciation of these words; None when one of them has none."""
        ways = self._lexicon.say(" ".join(words)) if words else [()]
        return ways[0] if ways else None

    def _judge(self) -> Heard:
        end = self._taken / SAMPLE_RATE
        if not self.heard_speech:
            return Rejection("noise", 0.0, end, engine=self.name)
        free, frame = self._free, FRAME_SECONDS
        if not free.phones:
            free, frame = self._second_free, SECOND_FRAME_SECONDS
        start = max(0.0, free.first * frame - 0.1)
        stop = min(end, (free.last + 1) * frame)
        ranked = self._ranked = self.candidates()
        if not ranked:
            return Rejection("unclear", start, stop, engine=self.name)
        best = ranked[0]
        sure = self._confidence(self.measured(ranked))
        if sure < LEAST:
            spoken = self._last_sound is not None and self._third_sure
            return Rejection("unclear" if spoken else "noise", start, stop, best.text, sure,
                             self.name)
        weights = np.exp([other.score - best.score for other in ranked[1:4]])
        others = tuple(
            (other.text, float(min(1.0 - sure, (1.0 - sure) * weight)))
            for other, weight in zip(ranked[1:4], weights, strict=True)
        )
        return Hypothesis(best.text, sure, start, stop, others, self.name)
