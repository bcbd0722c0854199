"""What hearing is asked for and what it answers: the values and the `Recogniser` Protocol.

Pure: standard library only (numpy's array type is named for the type checker alone).  Every
other module of this room, and everybody who listens, imports from here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol, TypeAlias, runtime_checkable

if TYPE_CHECKING:
    from handsfree.audio import Samples

SILENT_DBFS = -96.0
"""Stands for "no level known" and for digital silence: below one step of 16-bit sound."""

MOST_NUMBER_WORDS = 12
"""How many number words may be strung together in one reading."""

Reason = Literal["unclear", "noise", "too short", "too long", "too loud"]
"""Why an utterance was not taken.

unclear    speech, but none of the phrases that may be said now, or none of them surely enough
noise      sound that is no speech
too short  shorter than any command
too long   longer than anything that may be said; cut off
too loud   the surroundings are so loud that nothing can be heard safely
"""


@lru_cache(maxsize=1 << 14)
def normal(text: str) -> str:
    """The form in which phrases are compared: lower case, no punctuation, single blanks.

    A hyphen parts words ("fifty-five" is "fifty five"); an apostrophe inside a word stays.
    """
    return " ".join(re.sub(r"[^\w' ]|_", " ", text.lower().replace("’", "'")).split())


@dataclass(frozen=True)
class Grammar:
    """What may be said at this moment; hashable, so that a recogniser may keep what it compiled.

    phrases: whole utterances.
    numbers: the words of which 1 to `MOST_NUMBER_WORDS` may be strung together as a reading;
        empty when no reading is due.
    units: phrases one of which may stand before or after those number words, or be left out.
    alike: sets of phrases that come to the same, so that it does not matter which of them was said.
    unit: id of the unit in which a reading is asked for, if one is.
    answers: the answers of the hold point or alarm at hand.
    names: what can be called by its name: steps, or lists.
    between_lists: whether nothing is under way, so that sentences have other meanings.
    means: what a sentence in any words comes to at this moment, None for nothing: where it is given,
        what is no phrase may be looked for in words of the speaker's own.

    All of the sets are brought to `normal` form; empty ones are dropped.
    """

    phrases: frozenset[str] = frozenset()
    numbers: frozenset[str] = frozenset()
    units: frozenset[str] = frozenset()
    alike: frozenset[frozenset[str]] = frozenset()
    unit: str = ""
    answers: frozenset[str] = frozenset()
    names: frozenset[str] = frozenset()
    between_lists: bool = False
    means: Callable[[str], Hashable] | None = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        for name in ("phrases", "numbers", "units", "answers", "names"):
            given = getattr(self, name)
            object.__setattr__(self, name, frozenset(normal(p) for p in given) - {""})
        sets = frozenset(frozenset(map(normal, some)) for some in self.alike)
        object.__setattr__(self, "alike", sets)

    @property
    def words(self) -> frozenset[str]:
        """Every single word that occurs in it."""
        return frozenset(
            word for group in (self.phrases, self.numbers, self.units)
            for phrase in group for word in phrase.split()
        )

    def allows(self, text: str) -> bool:
        """True when `text`, in `normal` form, is a phrase or a reading of this grammar."""
        return text in self.phrases or any(
            0 < len(words) <= MOST_NUMBER_WORDS and self.numbers.issuperset(words)
            for words in self._without_unit(text.split())
        )

    def _without_unit(self, words: list[str]) -> Iterator[list[str]]:
        """The words as they are, and without each unit that stands before or after them."""
        yield words
        for unit in self.units:
            form = unit.split()
            if words[: len(form)] == form:
                yield words[len(form):]
            if words[-len(form):] == form:
                yield words[: -len(form)]


@dataclass(frozen=True)
class Hypothesis:
    """What was said, as far as a recogniser can tell.

    text: one of the grammar's phrases, or a reading (number words with or without a unit), or a sentence
        in `own_words` that means something to the grammar.
    confidence: estimated probability that `text` is what was said, 0 to 1; comparable between
        engines, because each engine calibrates its own scores.
    start, end: seconds of audio time.  A recogniser counts from its `begin`, a listener from
        its first sample.
    alternatives: other texts with their confidence, best first, without `text`.
    engine: name of the recogniser.
    level_dbfs: RMS level of the utterance.
    """

    text: str
    confidence: float
    start: float
    end: float
    alternatives: tuple[tuple[str, float], ...] = ()
    engine: str = ""
    level_dbfs: float = SILENT_DBFS
    own_words: bool = False


@dataclass(frozen=True)
class Rejection:
    """Something was heard that must never change state.

    best, confidence: the nearest phrase and its confidence, for the record and for a question
    such as "did you say …?"; never to be acted upon.  Times, engine and level as in
    `Hypothesis`.
    written: the words as the engine would write them freely, in `normal` form, where it can; what
        they mean may be answered or asked about, and done only where they are `sure`.
    sure: the confidence that those words would have had as a phrase of this moment, by their sounds.
    """

    reason: Reason
    start: float
    end: float
    best: str = ""
    confidence: float = 0.0
    engine: str = ""
    level_dbfs: float = SILENT_DBFS
    written: str = ""
    sure: float = 0.0


Heard: TypeAlias = Hypothesis | Rejection
"""What came of one utterance."""


class Span(NamedTuple):
    """Where in an utterance speech was surely heard, in seconds from its `begin`.

    first, last: the first and the last sound of it; None where there was none so far.  heard: how
    far it was listened to.
    """

    first: float | None
    last: float | None
    heard: float


@runtime_checkable
class HearsPauses(Protocol):
    """An engine that can say, while it listens, when it last heard a sound of speech."""

    def speech_span(self) -> Span | None:
        """Of the utterance under way; None where it cannot tell."""
        ...


@runtime_checkable
class Dictates(Protocol):
    """An engine that can write down free speech, besides hearing what may be said."""

    def dictate(self, samples: Samples) -> str:
        """The words of a whole sound, as far as they are words; '' for none."""
        ...


@runtime_checkable
class Glances(Protocol):
    """An engine that can say cheaply how well a short sound fits what may be said."""

    def fits(self, samples: Samples) -> float:
        """Natural logarithm of the likelihood that the best phrase loses against any sounds at
        all, for each of its phones; 0 fits best.  An utterance under way is forgotten."""
        ...


class Recogniser(Protocol):
    """Streaming speech recogniser that is told what may be said.

    Order of calls: `expect` at any time between utterances; then for each utterance `begin`,
    `feed` for each piece of sound (any length), `finish`.  An implementation returns a
    `Hypothesis` only for something that the grammar allows, and a `Rejection` for all else.
    """

    name: str
    """Short name for the record, such as "vosk"."""

    def expect(self, grammar: Grammar) -> None:
        """Take what may be said from the next utterance on."""

    def begin(self) -> None:
        """A new utterance starts; forget the one before, finished or not."""

    def feed(self, samples: Samples) -> Hypothesis | None:
        """Take samples of the utterance.

        Returns the hypothesis early only when it is certain that the utterance is complete;
        the utterance is over then and `finish` need not be called.  May always return None.
        """

    def finish(self) -> Heard:
        """The utterance is over: what was it?"""

    def close(self) -> None:
        """Give back what the engine holds.  Nothing may be called afterwards."""
