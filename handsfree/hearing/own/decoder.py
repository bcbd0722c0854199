"""Whisper's decoder in numpy: how probable it is that this text would be written down.

The decoder of tiny.en (Radford et al., "Robust speech recognition via large-scale weak
supervision", 2022; MIT), taken out of a package by `recipes/extract_whisper.py`, weights rounded to
8 bits.  It never writes freely here; it is asked about texts that may be said.  Imports numpy only.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from handsfree.hearing.own.features import Array
from handsfree.hearing.own.layers import Transformer, gelu

START, PLAIN, END = "<|startoftranscript|>", "<|notimestamps|>", "<|endoftext|>"

ENDINGS = (END, ".", "!", "?", ",", "...")
"""What may stand behind a whole text."""

COMMON = 6000
"""So many tokens, the commonest, are always among those that might be written."""

LONGEST = 24
"""Tokens that are written at most."""

SPACE = "Ġ"
"""Stands for the blank before a word in the tokens' spelling (byte-level BPE, as in GPT-2)."""

Tokens = tuple[int, ...]
"""Numbers of tokens one behind the other."""

PIECES = re.compile(r"'(?:s|t|re|ve|m|ll|d)\b| ?[A-Za-z]+| ?[0-9]+| ?[^\sA-Za-z0-9]+")
"""No token reaches over the end of one of these."""


def _repeated(words: str) -> str:
    """What stands twice one behind the other, and makes up all of the words; '' if nothing does."""
    said = [word.strip(",.").lower() for word in words.replace(SPACE, " ").split()]
    half = len(said) // 2
    if half and len(said) % 2 == 0 and said[:half] == said[half:]:
        return SPACE.join(words.replace(SPACE, " ").split()[:half])
    return ""


class Judged(NamedTuple):
    """What the decoder thinks of some texts, each array (texts,): natural log-probability with an
    end behind it; by how much its tokens are less probable than the likeliest one in their place,
    in the mean and at worst."""

    told: npt.NDArray[np.float64]
    short: npt.NDArray[np.float64]
    worst: npt.NDArray[np.float64]


class Decoder(Transformer):
    """path: npz of `recipes/extract_whisper.py`.  Raises InputError when it is none."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, ("tokens", "embedding", "embedding.scale", "places"))
        tokens = [str(token) for token in self._w.pop("tokens")]
        self._number = {token: at for at, token in enumerate(tokens)}
        self._first = [self._number[START], self._number[PLAIN]]
        self._spelled = tokens[:COMMON]
        self._common = self._meaning(range(COMMON))
        self._ends = [self._number[end] for end in ENDINGS]

    def tokens(self, text: str) -> Tokens:
        """A text as numbers of tokens; what has none, or no place, is left out."""
        out: list[int] = []
        for word in PIECES.findall(f" {text}"):
            spelled = word.replace(" ", SPACE)
            parts = [spelled] if spelled in self._number else list(spelled)
            # The pair that was joined first when the tokens were made has the lowest number.
            while len(parts) > 1:
                joined = [self._number.get(a + b, len(self._number))
                          for a, b in itertools.pairwise(parts)]
                at = int(np.argmin(joined))
                if joined[at] == len(self._number):
                    break
                parts[at : at + 2] = [parts[at] + parts[at + 1]]
            out += [self._number[part] for part in parts if part in self._number]
        return tuple(out[: len(self._w["places"]) - len(self._first)])

    def __call__(self, heard: Array, texts: Sequence[str]) -> Judged:
        """How probable each text is.

        heard: output of the encoder's last layer, (frames, width).  Texts that begin alike share
        the work: all go through the layers at once as one tree of tokens, each of which sees
        those before it.  The probabilities are shared among the common tokens and those of the
        texts, not among all that the model was trained with.
        """
        if not len(heard):
            nothing = np.full(len(texts), np.inf)
            return Judged(-nothing, nothing, nothing)
        paths = [(*self._first, *self.tokens(text)) for text in texts]
        told = len(self._first)
        asked = {token for path in paths for token in path[told:]}.union(self._ends)
        tree, scores, column = self._tree(heard, paths, asked)
        likeliest = scores.max(axis=1)
        out = Judged(*(np.empty(len(paths)) for _ in range(3)))
        for at, path in enumerate(paths):
            before = [tree[path[:long]] for long in range(told, len(path))]
            ends = np.logaddexp.reduce(scores[tree[path], [column[end] for end in self._ends]])
            said = scores[before, [column[token] for token in path[told:]]]
            out.told[at] = said.sum() + ends
            lost = np.append(likeliest[before] - said, max(0.0, likeliest[tree[path]] - ends))
            out.short[at], out.worst[at] = lost.mean(), lost.max()
        return out

    def write(self, heard: Array, most: int = LONGEST) -> tuple[str, float]:
        """The words that it would write by itself, the likeliest token by token, and the tokens'
        mean log-probability.  Only of the common tokens; what it begins to repeat is cut off.

        heard: as for a call.  most: tokens, after which it stops.
        """
        if not len(heard):
            return "", -np.inf
        path, told, words = tuple(self._first), 0.0, ""
        ends = sorted(token for token in self._ends if token >= COMMON)
        numbers = [*range(COMMON), *ends]
        stops = {self._number[end] for end in (END, ".", "!", "?")}
        while len(path) < most:
            tree, scores, _ = self._tree(heard, [path], set(self._ends))
            here = scores[tree[path]]
            best = int(here.argmax())
            told += float(here[best])
            if numbers[best] in stops:
                break
            path = (*path, numbers[best])
            words += self._spelled[numbers[best]]
            if whole := _repeated(words):
                words = whole
                break
        return words.replace(SPACE, " ").strip(), told / max(1, len(path) - len(self._first))

    def next_scores(self, heard: Array, text: str, tokens: Sequence[str]) -> Array:
        """Log-probability of each of these tokens behind a text, (tokens,); for checks."""
        path = (*self._first, *(self.tokens(text) if text else ()))
        asked = [self._number[token] for token in tokens]
        tree, scores, column = self._tree(heard, [path], set(asked))
        return np.asarray(scores[tree[path], [column[token] for token in asked]])

    def _tree(
        self, heard: Array, paths: Sequence[Tokens], asked: set[int]
    ) -> tuple[dict[Tokens, int], Array, dict[int, int]]:
        """Row of each beginning of a path; scores; the column in them of each asked token."""
        tree: dict[Tokens, int] = {}
        for path in paths:
            for long in range(1, len(path) + 1):
                tree.setdefault(path[:long], len(tree))
        hidden = np.full((len(tree), len(tree)), -np.inf, dtype=np.float32)
        for path, at in tree.items():
            hidden[at, [tree[path[:long]] for long in range(1, len(path) + 1)]] = 0.0
        rare = sorted(token for token in asked if token >= COMMON)
        column = {token: token for token in asked} | {
            token: COMMON + at for at, token in enumerate(rare)}
        return tree, self._scores(heard, list(tree), hidden, rare), column

    def _scores(
        self, heard: Array, tree: Sequence[Tokens], hidden: Array, rare: Sequence[int]
    ) -> Array:
        """Log-probabilities of the next token behind each path, among the common tokens and these
        rare ones: (paths, COMMON + rare)."""
        w = self._w
        memory = self._normed(heard, "heard.norm")
        x = self._meaning([path[-1] for path in tree]) + w["places"][[len(p) - 1 for p in tree]]
        for layer in range(self._depth):
            normed = self._normed(x, f"{layer}.norm1")
            asks, keys, values = np.split(self._linear(normed, f"{layer}.heard"), 3, axis=-1)
            found = self._attended(asks, keys, values, hidden)
            x = x + self._linear(found, f"{layer}.told")
            asks = self._linear(self._normed(x, f"{layer}.norm2"), f"{layer}.asks")
            keys, values = np.split(self._linear(memory, f"{layer}.memory"), 2, axis=-1)
            x = x + self._linear(self._attended(asks, keys, values), f"{layer}.found")
            inner = gelu(self._linear(self._normed(x, f"{layer}.norm3"), f"{layer}.into"))
            x = x + self._linear(inner, f"{layer}.back")
        x = self._normed(x, "norm")
        logits = np.concatenate((x @ self._common.T, x @ self._meaning(rare).T), axis=-1)
        logits -= logits.max(axis=-1, keepdims=True)
        return np.asarray(logits - np.log(np.exp(logits).sum(axis=-1, keepdims=True)))

    def _meaning(self, tokens: Sequence[int]) -> Array:
        """Their vectors, (tokens, width)."""
        at = np.asarray(tokens, dtype=np.intp)
        scale = self._w["embedding.scale"][at, None]
        return np.asarray(self._w["embedding"][at].astype(np.float32) * scale)
