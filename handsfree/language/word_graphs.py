"""Patterns of words as graphs of words, along which somebody's sentence can be followed.

A graph is made from the regular expressions of `wording_patterns`; words that stand for any word are
left out, since nothing could be listened for there.  Pure (stdlib only).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

_TOKENS = re.compile(r"\(\?:|\(\?!|\(\?<=|\)|\||\*\?|[*+?]|\{\d+,\d+\}|\\S\+ |(?:\\.|[^\\()|*+?{ ])+ |.")

Node: TypeAlias = tuple["str | Node | list[list[Node]]", ...]
"""A part of an expression: its kind, and what it is made of."""


@dataclass
class WordGraph:
    """arcs: (from, word, to); start; ends: label by node, "" for a graph of one meaning."""

    arcs: list[tuple[int, str, int]] = field(default_factory=list)
    jumps: list[tuple[int, int]] = field(default_factory=list)
    """Ways that need no word: (from, to)."""
    start: int = 0
    ends: dict[int, str] = field(default_factory=dict)
    size: int = 1

    def node(self) -> int:
        """A new one."""
        self.size += 1
        return self.size - 1

    def add(self, other: WordGraph, begin: int) -> int:
        """Put another graph behind a node of this one; returns the node behind it."""
        at = self.size
        self.size += other.size
        end = self.node()
        self.arcs += [(one + at, word, two + at) for one, word, two in other.arcs]
        self.jumps += [(one + at, two + at) for one, two in other.jumps]
        self.jumps.append((begin, other.start + at))
        self.jumps += [(one + at, end) for one in other.ends]
        return end

    def optional(self, other: WordGraph, begin: int, most: int) -> int:
        """The same, up to so many times."""
        end = self.node()
        self.jumps.append((begin, end))
        for _ in range(most):
            begin = self.add(other, begin)
            self.jumps.append((begin, end))
        return end

    def say(self, begin: int, words: Iterable[str]) -> int:
        """Put words behind a node; returns the node behind them."""
        for word in words:
            end = self.node()
            self.arcs.append((begin, word, end))
            begin = end
        return begin


def graph_of(expression: str) -> WordGraph:
    """The least deterministic graph of what fits an expression, but for what takes any word."""
    tokens = _TOKENS.findall(expression)
    node, at = _choices(tokens, 0)
    if at != len(tokens):
        raise ValueError(f"'{expression}' is no expression of `wording_patterns`")
    graph = _Loose()
    start, end = graph.node(), graph.node()
    graph.put(node, start, end)
    return _least(*graph.determined(start, end))


def _choices(tokens: list[str], at: int) -> tuple[Node, int]:
    options: list[list[Node]] = [[]]
    while at < len(tokens) and tokens[at] != ")":
        token = tokens[at]
        at += 1
        if token == "|":
            options.append([])
            continue
        node: Node
        if token == "(?:":
            node, at = _choices(tokens, at)
            at += 1
        elif token in ("(?!", "(?<="):
            _, at = _choices(tokens, at)
            at += 1
            node = ("never",) if token == "(?!" else ("choice", [[]])
        elif token == r"\S+ ":
            node = ("never",)
        else:
            words = re.sub(r"\\(.)", r"\1", token[:-1]).split()
            node = ("choice", [[("word", word) for word in words]])
        while at < len(tokens) and tokens[at][0] in "*+?{":
            kind = tokens[at]
            at += 1
            node = ("optional", node) if kind == "?" else ("again", node, kind) if (
                kind[0] in "*+") else node
        options[-1].append(node)
    return ("choice", options), at


class _Loose:
    """A graph with steps that need no word."""

    def __init__(self) -> None:
        self.steps: list[list[int]] = []
        self.arcs: list[list[tuple[str, int]]] = []

    def node(self) -> int:
        self.steps.append([])
        self.arcs.append([])
        return len(self.steps) - 1

    def put(self, node: Node, begin: int, end: int) -> None:
        kind = node[0]
        if kind == "choice":
            assert isinstance(node[1], list)
            for option in node[1]:
                at = begin
                for part in option:
                    behind = self.node()
                    self.put(part, at, behind)
                    at = behind
                self.steps[at].append(end)
        elif kind == "word":
            assert isinstance(node[1], str)
            self.arcs[begin].append((node[1], end))
        elif kind in ("optional", "again"):
            assert isinstance(node[1], tuple)
            first, last = self.node(), self.node()
            self.steps[begin].append(first)
            self.put(node[1], first, last)
            self.steps[last].append(end)
            if kind == "optional" or str(node[2])[0] == "*":
                self.steps[begin].append(end)
            if kind == "again":
                self.steps[last].append(first)

    def _reached(self, nodes: Iterable[int]) -> frozenset[int]:
        found, todo = set(nodes), list(nodes)
        while todo:
            for behind in self.steps[todo.pop()]:
                if behind not in found:
                    found.add(behind)
                    todo.append(behind)
        return frozenset(found)

    def determined(self, start: int, end: int) -> tuple[list[dict[str, int]], list[bool]]:
        """By the construction of subsets: arcs of each node, and whether one may end there."""
        first = self._reached([start])
        number, todo = {first: 0}, [first]
        arcs: list[dict[str, int]] = []
        ends: list[bool] = []
        while todo:
            here = todo.pop(0)
            behind: dict[str, set[int]] = {}
            for node in here:
                for word, to in self.arcs[node]:
                    behind.setdefault(word, set()).add(to)
            row = {}
            for word, some in behind.items():
                reached = self._reached(some)
                if reached not in number:
                    number[reached] = len(number)
                    todo.append(reached)
                row[word] = number[reached]
            arcs.append(row)
            ends.append(end in here)
        return arcs, ends


def _least(arcs: list[dict[str, int]], ends: list[bool]) -> WordGraph:
    """Without nodes from which no end is reached, and with those that are alike as one (Moore)."""
    alive = {at for at, last in enumerate(ends) if last}
    while more := {at for at, row in enumerate(arcs) if at not in alive and alive & {*row.values()}}:
        alive |= more
    arcs = [{word: to for word, to in row.items() if to in alive} for row in arcs]
    kinds, count = [int(last) for last in ends], len({*ends})
    while True:
        known: dict[object, int] = {}
        kinds = [known.setdefault((kinds[at], frozenset((w, kinds[to]) for w, to in row.items())),
                                  len(known)) for at, row in enumerate(arcs)]
        if len(known) == count:
            break
        count = len(known)
    found = {(kinds[at], word, kinds[to]) for at, row in enumerate(arcs) for word, to in row.items()}
    return WordGraph(sorted(found), [], kinds[0], {kinds[at]: "" for at in sorted(alive) if ends[at]},
                     count)


def shortened(graph: WordGraph, short: Mapping[str, str], endings: Mapping[str, str],
              known: Iterable[str]) -> None:
    """Add the contractions, as people say them, beside the words that they stand for; those with
    an ending only where they are known words."""
    behind: dict[int, list[tuple[str, int]]] = {}
    for one, word, two in graph.arcs:
        behind.setdefault(one, []).append((word, two))
    known = frozenset(known)
    first: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    for form, words in short.items():
        first.setdefault(words.split()[0], []).append((form, tuple(words.split()[1:])))
    added: set[tuple[int, str, int]] = set()
    for one, word, two in graph.arcs:
        for form, rest in first.get(word, ()):
            nodes = {two}
            for next_word in rest:
                nodes = {to for at in nodes for w, to in behind.get(at, ()) if w == next_word}
            added |= {(one, form, node) for node in nodes}
        for ending, meant in endings.items():
            if word + ending in known:
                added |= {(one, word + ending, to) for w, to in behind.get(two, ()) if w == meant}
    graph.arcs += sorted(added)
