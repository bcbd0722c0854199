"""Sentences along a graph of words: which one of each meaning explains best what a network heard.

Token passing (Young, Russell and Thornton, 1989), one token a state, all states at once: every arc of
the graph is a chain of phones, in which a phone and the blank behind it are one state.  What is found
is judged elsewhere, by all networks.  Imports numpy only.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import chain
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from handsfree.hearing.own.scoring import BLANK_COST, Phones
from handsfree.language.word_graphs import WordGraph

WORD_COST = 1.0
"""Natural logarithm that each word costs: else words that nobody said cost nothing in noise."""

SILENT = float(np.log(0.98))
"""Log-probability of blank from which a frame is passed over."""


class Found(NamedTuple):
    """A sentence: its log-likelihood by one network, what it is labelled, its words and phones."""

    score: float
    label: str
    text: str
    phones: Phones


class Sentences:
    """graph: see `WordGraph`.  say: pronunciations of a word; a word that has none cannot be said."""

    def __init__(self, graph: WordGraph, say: Callable[[str], Sequence[Phones]]) -> None:
        arcs = [(two, one, word, way) for one, word, two in graph.arcs for way in say(word)]
        arcs.sort(key=lambda arc: arc[0])
        self._words = [(word, way) for _, _, word, way in arcs]
        self._from = np.array([one for _, one, _, _ in arcs], dtype=np.intp)
        self._to = np.array([two for two, _, _, _ in arcs], dtype=np.intp)
        sizes = np.array([len(way) for *_, way in arcs], dtype=np.intp)
        self._last = np.cumsum(sizes) - 1
        self._first = self._last - sizes + 1
        self._classes = np.array([phone for *_, way in arcs for phone in way], dtype=np.intp)
        self._reached, self._groups = np.unique(self._to, return_index=True)
        self._size, self._start, self._ends = graph.size, graph.start, dict(graph.ends)
        self._levels = _levels(graph)
        self._jumps: dict[int, list[int]] = {}
        for one, two in graph.jumps:
            self._jumps.setdefault(two, []).append(one)

    @property
    def states(self) -> int:
        """How many there are."""
        return len(self._classes)

    def best(self, told: npt.NDArray[np.float64], most: int = 5, cost: float = WORD_COST) -> list[Found]:
        """The likeliest sentence of each of the likeliest labels, the best first.

        told: `weighed` log-probabilities of a whole utterance, (frames, classes).
        """
        frames = np.flatnonzero(told[:, 0] + BLANK_COST < SILENT)
        if not len(frames) or not len(self._classes):
            return []
        told = told[frames].astype(np.float32)
        count = len(self._classes)
        score = np.full(count, -np.inf, dtype=np.float32)
        entry = np.zeros(count, dtype=np.int16)
        values = np.full((len(told) + 1, self._size), -np.inf, dtype=np.float32)
        outs = np.full((len(told) + 1, len(self._last)), -np.inf, dtype=np.float32)
        entries = np.zeros((len(told) + 1, len(self._last)), dtype=np.int16)
        values[0, self._start] = 0.0
        self._jump(values[0])
        lead = 0.0
        for t, frame in enumerate(told, start=1):
            before = np.empty_like(score)
            before[1:] = score[:-1]
            before[self._first] = values[t - 1, self._from] - cost
            came = np.empty_like(entry)
            came[1:] = entry[:-1]
            came[self._first] = t
            stays = score + np.maximum(frame, frame[0])[self._classes]
            goes = before + frame[self._classes]
            new = goes > stays
            score = np.where(new, goes, stays)
            entry = np.where(new, came, entry)
            out = score[self._last]
            outs[t], entries[t] = out, entry[self._last]
            lead += float(frame[0])
            values[t, self._reached] = np.maximum.reduceat(out, self._groups)
            values[t, self._start] = lead
            self._jump(values[t])
        ranked = sorted(((float(values[-1, node]), label, node) for node, label in self._ends.items()
                         if values[-1, node] > -np.inf), reverse=True)
        return [Found(score, label, *self._told(node, values, outs, entries))
                for score, label, node in ranked[:most]]

    def _jump(self, values: npt.NDArray[np.float32]) -> None:
        for one, two in self._levels:
            np.maximum.at(values, two, values[one])

    def _told(self, node: int, values: npt.NDArray[np.float32], outs: npt.NDArray[np.float32],
              entries: npt.NDArray[np.int16]) -> tuple[str, Phones]:
        """The words on the best way to a node at the end."""
        words: list[str] = []
        phones: list[Phones] = []
        t = len(values) - 1
        while node != self._start:
            value = values[t, node]
            low, high = np.searchsorted(self._to, (node, node + 1))
            arcs = np.flatnonzero(outs[t, low:high] == value)
            if len(arcs):
                arc = low + int(arcs[0])
                words.append(self._words[arc][0])
                phones.append(self._words[arc][1])
                node, t = int(self._from[arc]), int(entries[t, arc]) - 1
                continue
            node = next(one for one in self._jumps.get(node, ()) if values[t, one] == value)
        return " ".join(reversed(words)), tuple(chain.from_iterable(reversed(phones)))


def _levels(graph: WordGraph) -> list[tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]]:
    """The jumps, those first that lead to others."""
    depth = dict.fromkeys(chain.from_iterable(graph.jumps), 0)
    deeper = True
    while deeper:
        deeper = False
        for one, two in graph.jumps:
            if depth[two] <= depth[one]:
                depth[two], deeper = depth[one] + 1, True
    levels: dict[int, list[tuple[int, int]]] = {}
    for jump in graph.jumps:
        levels.setdefault(depth[jump[0]], []).append(jump)
    return [(np.array([one for one, _ in some], dtype=np.intp), np.array([two for _, two in some], dtype=np.intp))
            for _, some in sorted(levels.items())]
