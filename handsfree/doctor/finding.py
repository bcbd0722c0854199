"""What one look at the machine came to, and the one line in which all of them end.

Pure: standard library only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum


class Verdict(Enum):
    """How a part is; the words are shown."""

    GOOD = "good"
    NOTE = "note"
    BAD = "to do"


@dataclass(frozen=True)
class Finding:
    """One part, how it is, what was seen, and (unless it is good) what mends it."""

    part: str
    verdict: Verdict
    says: str
    mend: str = ""


def conclusion(findings: Sequence[Finding]) -> str:
    """One line: ready, or the one thing to do next.  The first thing found is the first to do."""
    first = next((found for found in findings if found.verdict is Verdict.BAD), None)
    if first is not None:
        return f"Next: {first.mend}"
    notes = sum(found.verdict is Verdict.NOTE for found in findings)
    if notes:
        return f"Ready, with {notes} note{'s' if notes > 1 else ''} above."
    return "Ready."


def ready(findings: Sequence[Finding]) -> bool:
    """Whether nothing has to be done first."""
    return all(found.verdict is not Verdict.BAD for found in findings)
