"""The two spellings of the trade's words: records and rig files keep the British, the voice is American."""

from __future__ import annotations

AMERICAN = {"tyre": "tire", "tyres": "tires", "grey": "gray", "stabiliser": "stabilizer",
            "stabilisers": "stabilizers", "levelling": "leveling"}
"""Word as it is kept to the word as it is shown and spoken."""

_KEPT = {american: kept for kept, american in AMERICAN.items()}


def as_kept(name: str) -> str:
    """The name of a fact, trait or number as records have it, whichever way it is spelled."""
    return " ".join(_KEPT.get(word, word) for word in name.split(" "))


def as_spelled(name: str) -> str:
    """Such a name as it is shown and spoken."""
    return " ".join(AMERICAN.get(word, word) for word in name.split(" "))
