"""Number words cut out of a text, each with everything that it can be.

Pure (stdlib and this room only).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from handsfree.language.model import Language

MOST_PIECES = 64
"""More characters than this are no number, where words are joined."""

_ROLES = ("point", "minus", "joiner", "one", "fraction_of", "half_after", "several")


@dataclass(frozen=True)
class Token:
    """One number word with everything that it can be."""

    value: int | None = None
    multiplier: int | None = None
    denominator: int | None = None
    roles: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Lexicon:
    """Spoken forms to tokens; a form is a run of words, or of characters where ``joined``."""

    forms: dict[tuple[str, ...], Token]
    joined: bool
    longest: int

    def tokenise(self, words: tuple[str, ...]) -> list[Token]:
        """The words as tokens, longest forms first, going back where that fails; or none."""
        pieces = tuple("".join(words)) if self.joined else words
        dead: set[int] = set()

        def cut(start: int) -> list[Token] | None:
            if start == len(pieces):
                return []
            for end in range(min(start + self.longest, len(pieces)), start, -1):
                token = self.forms.get(pieces[start:end])
                if token is not None and end not in dead:
                    rest = cut(end)
                    if rest is not None:
                        return [token, *rest]
            dead.add(start)
            return None

        return (cut(0) or []) if len(pieces) <= MOST_PIECES else []


@lru_cache(maxsize=16)
def lexicon(language: Language) -> Lexicon:
    """The number words of a language; kept, since a language never changes."""
    n = language.numbers
    found: dict[tuple[str, ...], dict[str, int]] = {}
    roles: dict[tuple[str, ...], set[str]] = {}

    def key(form: str) -> tuple[str, ...]:
        return tuple("".join(form.split())) if n.joined else tuple(form.split())

    for field, tables in (
        ("value", (n.values, n.understood)),
        ("multiplier", (n.multipliers,)),
        ("denominator", (n.fractions,)),
    ):
        for number, form in _each(*tables):
            found.setdefault(key(form), {})[field] = number
    for role in _ROLES:
        for form in getattr(n, role):
            roles.setdefault(key(form), set()).add(role)
    forms = {
        k: Token(**found.get(k, {}), roles=frozenset(roles.get(k, ())))
        for k in found.keys() | roles.keys()
    }
    return Lexicon(forms, n.joined, max(map(len, forms)))


def number_words(language: Language) -> frozenset[str]:
    """Every single word that can be part of a spoken number or of its link to a unit."""
    n = language.numbers
    forms = [form for _, form in _each(n.values, n.understood, n.multipliers, n.fractions)]
    forms += [*n.point, *n.minus, *n.joiner, *n.one, *n.fraction_of, *n.half_after, *n.unit_links]
    return frozenset(word for form in forms for word in form.split())


def _each(*tables: Mapping[int, tuple[str, ...]]) -> Iterator[tuple[int, str]]:
    for table in tables:
        for number, forms in table.items():
            for form in forms:
                yield number, form
