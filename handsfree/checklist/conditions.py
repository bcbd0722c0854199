"""Conditions over facts: `hitched and not (chocked or coupler open)`.

Pure.  May import errors only.  A fact's name is one or more plain words; `and`, `or`, `not`
and parentheses are the grammar, with the usual precedence.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

_TOKEN = re.compile(r"\(|\)|[^\s()]+")
_WORDS = {"and", "or", "not", "(", ")"}
_DEEPEST = 40


@dataclass(frozen=True)
class Condition:
    """Base: true or false of a set of facts.

    Remembers its hash and its names: a proof asks for them a hundred thousand times.
    """

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash(tuple(self.__getstate__().values()))

    @cached_property
    def _names(self) -> frozenset[str]:
        return frozenset(literal.fact for literal in literals(self))

    def __getstate__(self) -> dict[str, object]:
        return {name: value for name, value in vars(self).items()
                if not name.startswith("_")}  # a hash is good in its own process only

    def holds(self, facts: Collection[str]) -> bool:
        """Whether the condition is true when exactly `facts` are true."""
        raise NotImplementedError

    def names(self) -> frozenset[str]:
        """Every fact that the condition mentions."""
        return self._names

    def missing(self, facts: Collection[str]) -> tuple[Literal, ...]:
        """Literals that stand between `facts` and the condition; empty when it holds."""
        raise NotImplementedError


@dataclass(frozen=True)
class Literal(Condition):
    """One fact, or its negation."""

    fact: str
    wanted: bool = True

    __hash__ = Condition.__hash__

    def holds(self, facts: Collection[str]) -> bool:
        return (self.fact in facts) is self.wanted

    def missing(self, facts: Collection[str]) -> tuple[Literal, ...]:
        return () if self.holds(facts) else (self,)

    def __str__(self) -> str:
        return self.fact if self.wanted else f"not {self.fact}"


@dataclass(frozen=True)
class All(Condition):
    """Every part holds; `All(())` is always true."""

    parts: tuple[Condition, ...] = ()

    __hash__ = Condition.__hash__

    def holds(self, facts: Collection[str]) -> bool:
        return all(part.holds(facts) for part in self.parts)

    def missing(self, facts: Collection[str]) -> tuple[Literal, ...]:
        return tuple(dict.fromkeys(m for part in self.parts for m in part.missing(facts)))

    def __str__(self) -> str:
        return " and ".join(map(_bracketed, self.parts)) or "always"


@dataclass(frozen=True)
class AnyOf(Condition):
    """At least one part holds; `AnyOf(())` is never true."""

    parts: tuple[Condition, ...] = ()

    __hash__ = Condition.__hash__

    def holds(self, facts: Collection[str]) -> bool:
        return any(part.holds(facts) for part in self.parts)

    def missing(self, facts: Collection[str]) -> tuple[Literal, ...]:
        if self.holds(facts):
            return ()
        ways = [part.missing(facts) for part in self.parts]
        return min(ways, key=len, default=())

    def __str__(self) -> str:
        return " or ".join(map(_bracketed, self.parts)) or "impossible"


ALWAYS = All(())
NEVER = AnyOf(())


def _bracketed(part: Condition) -> str:
    return f"({part})" if isinstance(part, (All, AnyOf)) and len(part.parts) > 1 else str(part)


def possible(condition: Condition, facts: Collection[str], open_: Collection[str]) -> bool:
    """Whether the condition may be true when `facts` are, and those of `open_` true or false.

    Rather yes than no: each mention of an open fact is taken by itself.
    """
    if isinstance(condition, Literal):
        return condition.fact in open_ or condition.holds(facts)
    parts = (possible(part, facts, open_) for part in condition.parts)  # type: ignore[attr-defined]
    return all(parts) if isinstance(condition, All) else any(parts)


def conjuncts(condition: Condition) -> tuple[Condition, ...]:
    """What has to hold, all of it, for the condition to hold."""
    return condition.parts if isinstance(condition, All) else (condition,)


def both(*parts: Condition) -> Condition:
    """Conjunction, flattened, without the parts that always hold."""
    flat: list[Condition] = []
    for part in parts:
        flat.extend(conjuncts(part))
    unique = tuple(dict.fromkeys(flat))
    return unique[0] if len(unique) == 1 else All(unique)


def given(condition: Condition, known: Mapping[str, bool]) -> Condition:
    """The condition once some facts are known."""
    if isinstance(condition, Literal):
        if condition.fact not in known:
            return condition
        return ALWAYS if known[condition.fact] is condition.wanted else NEVER
    parts = [given(part, known) for part in condition.parts]  # type: ignore[attr-defined]
    kind, absorbing, neutral = ((All, NEVER, ALWAYS) if isinstance(condition, All)
                                else (AnyOf, ALWAYS, NEVER))
    if absorbing in parts:
        return absorbing
    parts = [part for part in parts if part != neutral]
    return parts[0] if len(parts) == 1 else kind(tuple(parts))


def opposite(condition: Condition) -> Condition:
    """Negation, pushed down to the literals."""
    if isinstance(condition, Literal):
        return Literal(condition.fact, not condition.wanted)
    if isinstance(condition, All):
        return AnyOf(tuple(map(opposite, condition.parts)))
    assert isinstance(condition, AnyOf)
    return All(tuple(map(opposite, condition.parts)))


@lru_cache(maxsize=4096)
def parse(text: str) -> Condition:
    """Read a condition; what is written alike in many files is one and the same.

    Raises:
        ValueError: one phrase that says what is wrong with `text`.
    """
    tokens = _merge(_TOKEN.findall(text))
    condition, rest = _either(tokens, 0)
    if rest:
        raise ValueError(f"'{text}' does not read as a condition at '{rest[0]}'")
    return condition


def _merge(raw: list[str]) -> list[str]:
    """Join the words of a fact's name: ['not', 'coupler', 'open'] -> ['not', 'coupler open']."""
    merged: list[str] = []
    for token in raw:
        if merged and token not in _WORDS and merged[-1] not in _WORDS:
            merged[-1] = f"{merged[-1]} {token}"
        else:
            merged.append(token)
    return merged


def _either(tokens: list[str], depth: int) -> tuple[Condition, list[str]]:
    return _chain(tokens, depth, "or", _each, AnyOf)


def _each(tokens: list[str], depth: int) -> tuple[Condition, list[str]]:
    return _chain(tokens, depth, "and", _single, All)


def _chain(
    tokens: list[str], depth: int, word: str,
    inner: Callable[[list[str], int], tuple[Condition, list[str]]],
    kind: Callable[[tuple[Condition, ...]], Condition],
) -> tuple[Condition, list[str]]:
    first, tokens = inner(tokens, depth)
    parts = [first]
    while tokens and tokens[0] == word:
        part, tokens = inner(tokens[1:], depth)
        parts.append(part)
    return (first if len(parts) == 1 else kind(tuple(parts))), tokens


def _single(tokens: list[str], depth: int) -> tuple[Condition, list[str]]:
    if depth > _DEEPEST:
        raise ValueError("the condition is nested too deeply")
    if not tokens:
        raise ValueError("a fact is missing at the end of the condition")
    head, rest = tokens[0], tokens[1:]
    if head == "not":
        condition, rest = _single(rest, depth + 1)
        return opposite(condition), rest
    if head == "(":
        condition, rest = _either(rest, depth + 1)
        if not rest or rest[0] != ")":
            raise ValueError("a ')' is missing")
        return condition, rest[1:]
    if head in _WORDS:
        raise ValueError(f"a fact is missing before '{head}'")
    return Literal(head), rest


def literals(condition: Condition) -> Iterator[Literal]:
    """Every literal in the condition, left to right."""
    if isinstance(condition, Literal):
        yield condition
    else:
        for part in condition.parts:  # type: ignore[attr-defined]
            yield from literals(part)
