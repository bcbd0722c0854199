"""Readings: number words strung together, with a unit before or after, found in the frames.

Token passing (Young, Russell and Thornton, 1989): every word of the loop is a chain of phones and
blanks; at each frame every state keeps its best token and its history.  Imports numpy only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from handsfree.hearing.own.scoring import Phones
from handsfree.hearing.types import MOST_NUMBER_WORDS

WORD_COST = 0.5
"""Natural logarithm that each further word costs."""

BEFORE, NUMBER, AFTER = 0, 1, 2


class Readings:
    """The loop over number words, and the units on either side of it.

    numbers, units: pronunciations by text.
    """

    def __init__(
        self, numbers: Mapping[str, Sequence[Phones]], units: Mapping[str, Sequence[Phones]]
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
        self.begin()

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

        # From the end of one word to the start of another that may follow it.
        begin = np.full(len(self._first), self._lead)
        begin[self._group == AFTER] = -np.inf
        story = np.full(len(self._first), -1, dtype=np.intp)
        blank, phone = score[self._last], score[self._last - 1]
        for group in (BEFORE, NUMBER):
            followers = self._group == NUMBER
            if group == NUMBER:
                followers = followers | (self._group == AFTER)
            inside = np.flatnonzero(self._group == group)
            if not len(inside):
                continue
            # The best end in a blank; and the two best ends in different phones, since the same
            # phone twice needs a blank between.
            ends = [(float(blank[w]), int(w), int(self._last[w]), -1)
                    for w in (inside[blank[inside].argmax()],)]
            order = inside[np.argsort(phone[inside])[::-1]]
            for w in order[:1]:
                ends.append((float(phone[w]), int(w), int(self._last[w] - 1), int(self._exit[w])))
            other = [w for w in order if self._exit[w] != self._exit[order[0]]][:1]
            for w in other:
                ends.append((float(phone[w]), int(w), int(self._last[w] - 1), int(self._exit[w])))
            for value, word, state, sound in ends:
                if value == -np.inf:
                    continue
                better = followers & (value - WORD_COST > begin)
                if sound >= 0:
                    better &= self._entry != sound
                if better.any():
                    begin[better] = value - WORD_COST
                    self._stories.append((int(past[state]), word))
                    story[better] = len(self._stories) - 1
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
        value = np.where(self._group == BEFORE, -np.inf, value)
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
