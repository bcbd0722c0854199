"""What may have been said that is no phrase of the moment: sentences in the speaker's own words.

Imports this room and the language's graphs of words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from handsfree.hearing.own.lexicon import Lexicon
from handsfree.hearing.own.reading_grammar import english, joins
from handsfree.hearing.own.scoring import Phones
from handsfree.hearing.own.sentences import Sentences
from handsfree.hearing.types import Grammar
from handsfree.language.natural_wordings import sayings_of
from handsfree.language.sentence_graphs import (
    answer_graph,
    command_graph,
    named_graph,
    reading_graph,
)
from handsfree.language.word_graphs import WordGraph

WAYS = 2
"""Pronunciations of a word that are followed."""

LIKELIEST = 5
"""So many sentences of each search are judged."""


KEPT = 12
"""Graphs that are kept for when they are needed again."""


class OtherWords:
    """Looks for such sentences; the graphs are made when they are first needed, and kept."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._lexicon = lexicon
        self._known: dict[object, Sentences] = {}

    def found(
        self, grammar: Grammar, told: Sequence[npt.NDArray[np.float64]]
    ) -> dict[str, Phones]:
        """Text to phones.  told: `weighed` log-probabilities of the networks that are asked, the best one
        first, which alone is asked about the smaller graphs."""
        out: dict[str, Phones] = {}
        for at, search in enumerate(self._searches(grammar)):
            for scores in told[: 1 if at else None]:
                for one in search.best(scores, LIKELIEST):
                    out.setdefault(one.text, one.phones)
        return out

    def _searches(self, grammar: Grammar) -> Iterator[Sentences]:
        between = grammar.between_lists
        yield self._kept(("commands", between), lambda: command_graph(english(), between))
        yield self._kept((grammar.names, between), lambda: named_graph(english(), grammar.names, between))
        if grammar.numbers:
            together = joins(grammar.numbers)
            units = grammar.units - set(sayings_of(english()).number_leads)
            yield self._kept((grammar.unit, units), lambda: reading_graph(
                english(), together.starts, frozenset(together.follows), together.ends, units, grammar.unit))
        if grammar.answers:
            yield self._kept(grammar.answers, lambda: answer_graph(english(), grammar.answers))

    def _kept(self, key: object, make: Callable[[], WordGraph]) -> Sentences:
        if key not in self._known:
            if len(self._known) == KEPT:
                del self._known[next(iter(self._known))]
            graph = make()
            self._lexicon.learn(frozenset(word for _, word, _ in graph.arcs))
            self._known[key] = Sentences(graph, lambda word: self._lexicon.say(word)[:WAYS])
        return self._known[key]
