"""How the program speaks to this operator: how fast, how loud, in how many words.

Pure.  Imports nothing of ours.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeVar

RATES = (110, 125, 145, 165, 190, 215, 245)
"""Words a minute, as the voice engine counts them."""

LOUDER = (-9.0, -6.0, -3.0, 0.0, 3.0, 6.0)
"""Decibels over what the noise asks for."""

FORMS = ("brief", "usual", "full")
"""brief: the challenge and its caution; usual: and how to answer; full: and the detail."""

BY_HEART = {"by_heart": True, "step_by_step": False}
"""Commands that say whether what is known by heart is asked together."""

COMMANDS = frozenset({"slower", "faster", "shorter", "longer", "louder", "softer", *BY_HEART})
"""Commands that change it."""

_T = TypeVar("_T")


@dataclass(frozen=True)
class Manner:
    """One way of speaking; each value is one of the steps above."""

    rate: int = 165
    louder: float = 0.0
    form: str = "usual"
    by_heart: bool | None = None
    """Whether what the operator knows by heart is asked together; None while never chosen."""


PRACTISED = Manner(rate=215, form="brief", by_heart=True)
"""How whoever knows a list by heart likes it."""


def adjusted(manner: Manner, command: str) -> Manner:
    """One step on; the same manner where there is no further step.

    Raises:
        ValueError: no such command.
    """
    if command in ("slower", "faster"):
        return replace(manner, rate=_step(RATES, manner.rate, command == "faster"))
    if command in ("softer", "louder"):
        return replace(manner, louder=_step(LOUDER, manner.louder, command == "louder"))
    if command in ("shorter", "longer"):
        return replace(manner, form=_step(FORMS, manner.form, command == "longer"))
    if command in BY_HEART:
        return replace(manner, by_heart=BY_HEART[command])
    raise ValueError(command)


def _step(steps: tuple[_T, ...], now: _T, up: bool) -> _T:
    place = steps.index(now) + (1 if up else -1)
    return steps[max(0, min(len(steps) - 1, place))]
