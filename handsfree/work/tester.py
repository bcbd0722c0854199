"""What the three lamps of a plug-in outlet tester mean.

Pure: standard library and `finding`.  Generic: the order and colour of the lamps differ from
tester to tester, so lamps are named by the two slots they sit between, and the legend on the
tester wins.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType

from handsfree.work.finding import Finding, Verdict


class Lamp(Enum):
    """The two slots that a lamp is wired across."""

    HOT_NEUTRAL = "hot-neutral"
    HOT_GROUND = "hot-ground"
    NEUTRAL_GROUND = "neutral-ground"
    """On most testers the red one."""


class Wiring(Enum):
    """What a pattern stands for."""

    CORRECT = "correct"
    OPEN_GROUND = "open ground"
    OPEN_NEUTRAL = "open neutral"
    OPEN_HOT = "open hot"
    HOT_GROUND_REVERSED = "hot and ground reversed"
    HOT_NEUTRAL_REVERSED = "hot and neutral reversed"
    UNKNOWN = "no known pattern"


_HN, _HG, _NG = Lamp

PATTERNS = MappingProxyType(
    {
        frozenset({_HN, _HG}): Wiring.CORRECT,
        frozenset({_HN}): Wiring.OPEN_GROUND,
        frozenset({_HG}): Wiring.OPEN_NEUTRAL,
        frozenset(): Wiring.OPEN_HOT,
        frozenset({_HG, _NG}): Wiring.HOT_GROUND_REVERSED,
        frozenset({_HN, _NG}): Wiring.HOT_NEUTRAL_REVERSED,
    }
)
"""Lamps that are lit.  Follows from where the potentials are."""


@dataclass(frozen=True, kw_only=True)
class Outlet(Finding):
    """What the lamps say; ``wiring`` is the value of a `Wiring`."""

    wiring: str


def read_tester(lit: frozenset[Lamp]) -> Outlet:
    """The meaning of the lamps that are lit; STOP for everything but the one good pattern.

    Even the good pattern proves little: these lamps cannot tell neutral from ground, a weak
    ground from a strong one, or what happens under load.
    """
    wiring = PATTERNS.get(lit, Wiring.UNKNOWN)
    return Outlet(
        verdict=Verdict.OK if wiring is Wiring.CORRECT else Verdict.STOP,
        say=f"tester.{wiring.value.replace(' ', '-')}",
        basis="Generic patterns of a three-lamp tester; no standard: the tester's legend wins",
        wiring=wiring.value,
    )
