"""What an extension of a given gauge and length costs in volts, and whether it may carry it.

Pure: standard library, `errors`, `finding`, `power` and `voltage`.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict
from handsfree.work.power import MAINS_V, SUPPLIES
from handsfree.work.region import EUROPE, US
from handsfree.work.voltage import EDITIONS, LOADED_MAINS_V, load_band

OHMS_PER_KFT = MappingProxyType(
    {18: 7.95, 16: 4.99, 14: 3.14, 12: 1.98, 10: 1.24, 8: 0.778, 6: 0.491, 4: 0.308, 3: 0.245,
     2: 0.194, 1: 0.154}
)  # fmt: skip
"""AWG to ohms per 1000 ft: uncoated stranded copper, direct current, 75 C; NFPA 70 (2023),
chapter 9, table 8, as quoted; 18 and 16 AWG from memory."""

CORD_A = MappingProxyType(
    {18: 10, 16: 13, 14: 18, 12: 25, 10: 30, 8: 40, 6: 55, 4: 70, 3: 80, 2: 95, 1: 110}
)
"""AWG to the most amperes in a flexible cord with two current-carrying conductors; NFPA 70,
table 400.5(A): 18 to 12 AWG as quoted, the rest from memory.
The cord's own marking decides, and a coiled cord carries less."""

OHMS_PER_KM = MappingProxyType({1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91, 16: 1.21})
"""Square millimetres to ohms per kilometre: IEC 60228, class 5, plain copper, 20 C (from memory)."""

WARM = 1 + 0.00393 * (60 - 20)
"""Resistance of copper at the 60 C of a rubber cord over that at 20 C: IEC 60287-1-1, table 1 (from
memory)."""

MAINS_CORD_A = MappingProxyType({2.5: 16, 4: 25, 6: 32, 16: 63})
"""Square millimetres to the most amperes of a cord to a trailer: IEC 60364-7-721, table of
connecting cables (from memory).  Nothing thinner is used."""

MAINS_CORD_M = 27.0
"""The longest: IEC 60364-7-721, 25 m and 2 m more at most (from memory)."""

MOST_FT, MOST_A = 1000.0, 200.0
"""Longer, or more current, is a slip of the pen; no source."""

BRANCH_PERCENT, TOTAL_PERCENT = 3.0, 5.0
"""Suggested drop on the branch, and with the feeder: informational notes to NFPA 70 210.19 and
215.2.  Advice, not a rule."""


@dataclass(frozen=True, kw_only=True)
class CordDrop(Finding):
    """``drop_v`` across the whole circuit; ``end_v`` from one leg to neutral at the far end."""

    gauge: int
    cord_a: int
    breaker_a: float | None
    """Of the circuit that feeds it; None where it was not given."""
    drop_v: float
    drop_percent: float
    end_v: float


def voltage_drop(length_ft: float, ohms_per_kft: float, current_a: float) -> float:
    """Volts lost in a two-wire run: 2 x L/1000 x R x I.

    L in feet one way, R in ohms per 1000 ft, I in amperes.  NFPA 70 practice, the form with
    direct-current resistance (from memory).
    """
    return 2.0 * length_ft / 1000.0 * ohms_per_kft * current_a


def _least_breaker(current_a: float) -> float:
    """The smallest breaker of a site that lets this current through."""
    return next((size for size in sorted(SUPPLIES) if size >= current_a), current_a)


def cord_drop(
    gauge: int,
    length_ft: float,
    current_a: float,
    *,
    breaker_a: float | None = None,
    source_v: float = 120.0,
    balanced: bool = False,
    edition: str = "2011",
) -> CordDrop:
    """Judges an extension.

    Args:
        gauge: AWG number, a key of `OHMS_PER_KFT`.
        length_ft: one way, in feet.
        current_a: amperes in the loaded conductor.
        breaker_a: of the outlet that it is plugged into, in amperes; None if unknown.  The breaker
            is what protects the cord, so the cord has to carry as much as it lets through: NFPA 70
            240.5(A), by table 400.5(A) (from memory).  A listed extension set goes by its listing.
        source_v: leg to neutral at the pedestal, in volts.
        balanced: the same current on both legs of a 120/240 V supply, so that the neutral
            carries none and the drop is shared by the legs.
        edition: which lowest voltages to hold the far end against; a key of `EDITIONS`.

    Returns:
        STOP when the cord would run hot, carries less than its breaker lets through, or the far
        end falls outside range B; CAUTION over 3 % (advice), and where the breaker is not known
        and no site has one for this current that the cord could carry.

    Raises:
        InputError: an unknown gauge or edition, or a number that cannot be.
    """
    if gauge not in OHMS_PER_KFT:
        known = ", ".join(str(size) for size in OHMS_PER_KFT)
        raise InputError(f"No resistance is on file for {gauge} AWG; use one of {known}.")
    if length_ft <= 0 or current_a < 0 or source_v <= 0:
        raise InputError("Length and voltage must be above zero, and the current not below it.")
    if length_ft > MOST_FT or current_a > MOST_A:
        raise InputError(f"A cord is at most {MOST_FT:g} ft long and carries at most {MOST_A:g} A"
                         " here: check both.")
    if breaker_a is not None and breaker_a <= 0:
        raise InputError("The breaker's amps must be above zero.")
    if edition not in EDITIONS:
        raise InputError(f"Edition '{edition}' is not known; use {' or '.join(EDITIONS)}.")
    drop = voltage_drop(length_ft, OHMS_PER_KFT[gauge], current_a)
    percent = 100.0 * drop / (source_v * 2 if balanced else source_v)
    end = max(0.0, source_v - (drop / 2 if balanced else drop))
    if current_a > CORD_A[gauge]:
        verdict, say = Verdict.STOP, "cord.hot"
    elif breaker_a is not None and CORD_A[gauge] < breaker_a:
        verdict, say = Verdict.STOP, "cord.small"
    elif end < EDITIONS[edition].lowest_b_v:
        verdict, say = Verdict.STOP, "cord.starved"
    elif breaker_a is None and _least_breaker(current_a) > CORD_A[gauge]:
        verdict, say = Verdict.CAUTION, "cord.breaker"
    elif percent > TOTAL_PERCENT:
        verdict, say = Verdict.CAUTION, "cord.far-over"
    elif percent > BRANCH_PERCENT or load_band(end, EDITIONS[edition]) != "A":
        verdict, say = Verdict.CAUTION, "cord.over"
    else:
        verdict, say = Verdict.OK, "cord.good"
    return CordDrop(
        verdict=verdict,
        say=say,
        basis=(
            "NFPA 70 (2023) chapter 9 table 8; 3 and 5 percent are advice in its notes; "
            "cord current by table 400.5(A), against its breaker by 240.5(A), partly from memory"
        ),
        region=US if say in ("cord.hot", "cord.small", "cord.breaker", "cord.far-over") else "",
        gauge=gauge,
        cord_a=CORD_A[gauge],
        breaker_a=breaker_a,
        drop_v=drop,
        drop_percent=percent,
        end_v=end,
    )


@dataclass(frozen=True, kw_only=True)
class MainsDrop(Finding):
    """As `CordDrop`, for a cord in square millimetres on 230 V."""

    cord_a: int
    breaker_a: float | None
    drop_v: float
    drop_percent: float
    end_v: float


def mains_drop(
    area_mm2: float, length_ft: float, current_a: float, *, breaker_a: float | None = None,
    source_v: float = MAINS_V,
) -> MainsDrop:
    """Judges a cord or extension of a 230 V supply: two wires, 2 x L x R x I at 60 C.

    Args:
        area_mm2: cross-section of a conductor; between two of the table the thinner one counts.
        length_ft: one way, in feet.
        current_a, breaker_a: as for `cord_drop`; without a breaker the current is held against the
            cord.
        source_v: at the post, in volts.

    Returns:
        STOP for a cord that is thinner than any that the code names, for a breaker that lets through
        more than it may carry, and where too little arrives; CAUTION over 3 and 5 percent
        (IEC 60364-5-52, annex G, from memory), and for more than `MAINS_CORD_M` of it.

    Raises:
        InputError: a number that cannot be.
    """
    if area_mm2 <= 0 or length_ft <= 0 or current_a < 0 or source_v <= 0:
        raise InputError("Length, cross-section and voltage must be above zero.")
    if length_ft > MOST_FT or current_a > MOST_A or (breaker_a is not None and breaker_a <= 0):
        raise InputError(f"A cord is at most {MOST_FT:g} ft long and carries at most {MOST_A:g} A"
                         " here: check both.")
    ohms = OHMS_PER_KM[max((a for a in OHMS_PER_KM if a <= area_mm2), default=min(OHMS_PER_KM))]
    carries = max((amps for a, amps in MAINS_CORD_A.items() if a <= area_mm2), default=0)
    metres = length_ft * 0.3048
    drop = 2.0 * metres / 1000.0 * ohms * WARM * current_a
    percent, end = 100.0 * drop / source_v, max(0.0, source_v - drop)
    if not carries:
        verdict, say = Verdict.STOP, "cord.thin"
    elif carries < (current_a if breaker_a is None else breaker_a):
        verdict, say = Verdict.STOP, "cord.small" if breaker_a is not None else "cord.hot"
    elif end < LOADED_MAINS_V[0]:
        verdict, say = Verdict.STOP, "cord.starved"
    elif metres > MAINS_CORD_M:
        verdict, say = Verdict.CAUTION, "cord.long"
    elif percent > TOTAL_PERCENT:
        verdict, say = Verdict.CAUTION, "cord.far-over"
    elif percent > BRANCH_PERCENT:
        verdict, say = Verdict.CAUTION, "cord.over"
    else:
        verdict, say = Verdict.OK, "cord.good"
    return MainsDrop(
        verdict=verdict, say=say, cord_a=carries,
        region="" if say in ("cord.good", "cord.starved") else EUROPE, breaker_a=breaker_a, drop_v=drop,
        drop_percent=percent, end_v=end,
        basis="IEC 60228 class 5 at 60 C; IEC 60364-7-721 and IEC 60364-5-52 annex G (from memory);"
              " your country's code comes first")
