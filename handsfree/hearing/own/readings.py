"""Readings: number words strung together, with a unit before or after, found in the frames.

Token passing (Young, Russell and Thornton, 1989): every word of the loop is a chain of phones and
blanks; at each frame every state keeps its best token and its history.  Imports numpy only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from handsfree.hearing.own.reading_grammar import Joins
from handsfree.hearing.own.scoring import Phones
from handsfree.hearing.types import MOST_NUMBER_WORDS

WORD_COST = 0.5
"""Natural logarithm that each further word costs."""

BEFORE, NUMBER, AFTER = 0, 1, 2


class Readings:
    """The loop over number words, and the units on either side of it.

    numbers, units: pronunciations by text.  joins: which numbers follow each other, and which come
    first and last; any, when left out.
    """

    def __init__(
        self, numbers: Mapping[str, Sequence[Phones]], units: Mapping[str, Sequence[Phones]],
        joins: Joins | None = None,
    ) -> None:
        words: list[tuple[str, int, Phones]] = [
            (text, group, way)
            for group, texts in ((NUMBER, numbers), (BEFORE, units), (AFTER, units))
            for text, ways in texts.items() for way in ways
        ]  # fmt: skip
        self._texts = [text for text, _, _ in words]
        self._group = np.array([group for _, group, _ in words], dtype=np.intp)
        classes: list[int] = []
        first, last, skips = [], [], []
        for _, _, way in words:
            first.append(len(classes))
            for at, phone in enumerate(way):
                skips.append(0.0 if at and way[at - 1] != phone else -np.inf)
                classes += [phone, 0]
                skips.append(-np.inf)
            last.append(len(classes) - 1)  # the blank after the last phone
        self._classes = np.array(classes, dtype=np.intp)
        self._skips = np.array(skips)
        self._first = np.array(first, dtype=np.intp)
        self._last = np.array(last, dtype=np.intp)
        self._starts = np.zeros(len(classes), dtype=bool)
        if words:
            self._starts[self._first] = True
            self._entry = self._classes[self._first]
            self._exit = self._classes[self._last - 1]
            self._join(joins)
        self.begin()

    def _join(self, joins: Joins | None) -> None:
        """What each word costs behind each other, (words, words), and first of all, (words,)."""
        free = np.full((len(self._texts), len(self._texts)), -np.inf)
        self._leads = np.full(len(self._texts), -np.inf)
        self._may_end = np.zeros(len(self._texts), dtype=bool)
        for two, (text, group) in enumerate(zip(self._texts, self._group, strict=True)):
            number = group == NUMBER
            starts = joins is None or text in joins.starts
            if group == BEFORE or number and starts:
                self._leads[two] = 0.0
            self._may_end[two] = group == AFTER or number and (joins is None or text in joins.ends)
            for one, (before, kind) in enumerate(zip(self._texts, self._group, strict=True)):
                if kind == BEFORE:
                    may = number and starts
                elif kind == NUMBER and number:
                    may = joins is None or (before, text) in joins.follows
                else:
                    may = kind == NUMBER and group == AFTER and (
                        joins is None or before in joins.ends)
                if may:
                    free[one, two] = -WORD_COST
        self._joined = free
        self._joined_close = np.where(self._exit[:, None] == self._entry[None, :], -np.inf, free)

    def begin(self) -> None:
        """A new utterance."""
        self._score = np.full(len(self._classes), -np.inf)
        self._past = np.full(len(self._classes), -1, dtype=np.intp)
        self._lead = 0.0
        self._stories: list[tuple[int, int]] = []  # (story before, word)

    def _leaving(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.intp]]:
        """Best score of each word at its end, and the state that holds it."""
        blank, phone = self._score[self._last], self._score[self._last - 1]
        return np.maximum(blank, phone), np.where(blank >= phone, self._last, self._last - 1)

    def feed(self, scores: npt.NDArray[np.float64]) -> None:
        """Take frames of `weighed` log-probabilities."""
        if not len(self._classes):
            return
        for frame in scores:
            self._step(frame)

    def _step(self, frame: npt.NDArray[np.float64]) -> None:
        score, past = self._score, self._past
        one = np.concatenate(([-np.inf], score[:-1]))
        one[self._starts] = -np.inf
        two = np.concatenate(([-np.inf, -np.inf], score[:-2])) + self._skips
        options = np.stack((score, one, two))
        came = options.argmax(axis=0)
        at = np.arange(len(score))
        new = options[came, at]
        new_past = past[np.maximum(at - came, 0)]

        # From the end of one word to the start of another that may follow it: from its blank, or
        # from its last phone, if the other does not begin with the same.
        blank, phone = score[self._last], score[self._last - 1]
        ends = np.stack((blank[:, None] + self._joined, phone[:, None] + self._joined_close))
        flat = ends.reshape(-1, len(blank))
        came_from = flat.argmax(axis=0)
        begin = flat[came_from, np.arange(len(blank))]
        leads = self._leads + self._lead
        follows = begin > leads
        begin = np.where(follows, begin, leads)
        story = np.full(len(blank), -1, dtype=np.intp)
        known: dict[int, int] = {}
        for word in np.flatnonzero(follows & (begin > new[self._first])):
            came_word = int(came_from[word])
            if came_word not in known:
                own = came_word % len(blank)
                state = self._last[own] - came_word // len(blank)
                self._stories.append((int(past[state]), own))
                known[came_word] = len(self._stories) - 1
            story[word] = known[came_word]
        takes = begin > new[self._first]
        new[self._first[takes]] = begin[takes]
        new_past[self._first[takes]] = story[takes]
        self._score = new + frame[self._classes]
        self._past = new_past
        self._lead += float(frame[0])

    def best(self, count: int = 6) -> list[tuple[str, Phones]]:
        """The best readings that end in different words, best first: text and phones."""
        if not len(self._classes):
            return []
        value, state = self._leaving()
        value = np.where(self._may_end, value, -np.inf)
        found: dict[str, Phones] = {}
        for word in np.argsort(value)[::-1]:
            if value[word] == -np.inf or len(found) == count:
                break
            words = [int(word)]
            story = int(self._past[state[word]])
            while story >= 0:
                story, before = self._stories[story]
                words.append(before)
            words.reverse()
            if sum(self._group[w] == NUMBER for w in words) > MOST_NUMBER_WORDS:
                continue
            phones = tuple(p for w in words for p in self.phones(w))
            found.setdefault(" ".join(self._texts[w] for w in words), phones)
        return list(found.items())

    def phones(self, word: int) -> Phones:
        """The phones of a word of the loop."""
        return tuple(self._classes[self._first[word] : self._last[word] : 2].tolist())
