"""How many of a thing, in English: `1 list`, `2 lists`."""

from __future__ import annotations


def count(number: int, what: str) -> str:
    """A number with its noun, of which the plural ends in s."""
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
