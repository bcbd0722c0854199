"""What can be followed by ear along the graphs of words means, as text, what the graph says."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from handsfree.hearing.own.reading_grammar import joins
from handsfree.language.intents import GoTo, Number, Remind, Respond
from handsfree.language.loader import load_language
from handsfree.language.matcher import Expected, Matcher
from handsfree.language.natural_wordings import sayings_of
from handsfree.language.number_words import number_words
from handsfree.language.sentence_graphs import (
    answer_graph,
    command_graph,
    named_graph,
    reading_graph,
)
from handsfree.language.word_graphs import WordGraph, graph_of
from handsfree.language.wording_patterns import expression, fits

ENGLISH = load_language("en")


def walks(graph: WordGraph, count: int, seed: int = 1) -> Iterator[tuple[str, str]]:
    """Sentences by chance: (label, words)."""
    rng = random.Random(seed)
    behind: dict[int, list[tuple[str, int]]] = {}
    for one, word, two in graph.arcs:
        behind.setdefault(one, []).append((word, two))
    for one, two in graph.jumps:
        behind.setdefault(one, []).append(("", two))
    while count:
        node, words = graph.start, []
        for _ in range(60):
            if node in graph.ends and (node not in behind or rng.random() < 0.5):
                count -= 1
                yield graph.ends[node], " ".join(words)
                break
            if node not in behind:
                break
            some = [way for way in behind[node] if bool(way[0]) == (rng.random() < 0.5)]
            word, node = rng.choice(some or behind[node])
            words += [word] if word else []


@pytest.mark.parametrize("pattern", [
    "[all] (done|finished) [with (it|that)]", "(a|b c) [d] e", "a [b [c|d]] (e|f)"])
def test_a_graph_has_the_sentences_of_its_pattern_and_no_others(pattern: str) -> None:
    told = expression(pattern, {})
    said = {words for _, words in walks(graph_of(told), 400)}
    assert len(said) >= 4 and all(fits(told, words.split()) for words in said)
    vocabulary = sorted({word for words in said for word in words.split()})
    rng = random.Random(2)
    for _ in range(2000):
        words = " ".join(rng.choice(vocabulary) for _ in range(rng.randint(1, 4)))
        assert fits(told, words.split()) == (words in said), words


@pytest.mark.parametrize("between_lists", [False, True])
def test_a_sentence_along_the_graph_means_what_its_end_says(between_lists: bool) -> None:
    sayings = sayings_of(ENGLISH)
    for label, words in walks(command_graph(ENGLISH, between_lists), 200):
        if " love " in words or "you know" in words:
            continue  # among the hesitations, which are dropped from what is typed
        assert label in sayings.means(sayings.plain(words), standing_by=between_lists), words


def test_a_reading_along_the_graph_is_its_number_or_none() -> None:
    """With what asks or denies before it, it is none."""
    together = joins(number_words(ENGLISH))
    graph = reading_graph(ENGLISH, together.starts, frozenset(together.follows), together.ends,
                          frozenset({"volts", "volt"}), "volts")
    matcher, expected = Matcher(ENGLISH), Expected(unit="volts")
    found = 0  # most number words by chance are no number
    for label, words in walks(graph, 3000):
        read = isinstance(matcher.interpret(words, expected), Number)
        found += read and label == "reading"
        assert not (read and label == "asked" and {"not", "no", "never"} & {*words.split()}), words
    assert found >= 5


def test_the_answer_of_a_hold_point_is_given_by_all_of_its_words_only() -> None:
    answers = frozenset({"the chocks are set", "no gas smell"})
    matcher = Matcher(ENGLISH)
    expected = Expected(responses=dict.fromkeys(answers, "step"))
    for label, words in walks(answer_graph(ENGLISH, answers), 500):
        said = set(words.split())
        if isinstance(matcher.interpret(words, expected), Respond):
            assert {"chocks", "set"} <= said or {"no", "gas", "smell"} <= said, words
            assert not said & {"not", "never", "almost", "who", "when"}, words
        else:
            assert label.startswith("not ") or said, words


def test_a_name_is_called_and_minutes_are_asked_for() -> None:
    matcher = Matcher(ENGLISH)
    expected = Expected(frozenset({"go_to", "take_back_named", "remind"}), steps={"chock": ("chocks",)})
    kinds = {type(matcher.interpret(words, expected))
             for _, words in walks(named_graph(ENGLISH, frozenset({"chocks"})), 400)}
    assert {GoTo, Remind} <= kinds
