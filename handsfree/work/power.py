"""Whether the loads fit the supply, leg by leg.

Pure: standard library, `errors`, `finding` and `region`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict, worst
from handsfree.work.region import EUROPE, US

CONTINUOUS_FACTOR = 1.25
"""NFPA 70 210.20(A): the breaker carries 1.25 x the continuous load (three hours or more,
Article 100) plus the rest; 1 / 1.25 is the 80 % rule.  From memory."""


LEG_V = 120.0
"""Volts from each live leg to neutral."""


MAINS_V = 230.0
"""IEC 60038, table 1: nominal voltage, line to neutral (from memory)."""

MAINS_CONTINUOUS = 1.0
"""IEC 60898-1, 3.5.1: a breaker carries its rated current without interruption (from memory).  Where
the region is not known, 230 V is loaded like 120 V, which is stricter."""

HOUSE_SOCKET_A = 10.0
"""For hours on a 230 V house socket, though it is made for 16 A; common practice, no source."""


@dataclass(frozen=True)
class Supply:
    """A pedestal outlet: breaker in amperes, number of legs, volts of each, and what a load that
    runs for hours counts for."""

    breaker_a: float
    legs: int
    leg_v: float = LEG_V
    continuous: float = CONTINUOUS_FACTOR

    @property
    def power_w(self) -> float:
        """Nameplate power of all legs together, in watts: V x I x legs."""
        return self.breaker_a * self.leg_v * self.legs


SUPPLIES = {15: Supply(15, 1), 20: Supply(20, 1), 30: Supply(30, 1), 50: Supply(50, 2)}
"""By the number on the breaker.  15 to 30 A: 120 V; 50 A: 120/240 V, two legs."""

ONE_LEG_A = 30.0
"""At 120 V plugs for so many amperes or less have one live leg, and those for 50 A two: NEMA WD 6, TT-30 and 14-50
(from memory)."""

MAINS_A = (2, 3, 4, 6, 8, 10, 13, 16, 20, 25, 32)
"""Breakers of 230 V sites, by the number on them: IEC 60898-1, 5.3.3, preferred values from 6 A on
(from memory); smaller ones are common practice."""

MAINS: Mapping[int, Supply] = MappingProxyType(
    {amps: Supply(amps, 1, MAINS_V, MAINS_CONTINUOUS) for amps in MAINS_A})
"""The same for 230 V."""


_HAIR = 1e-9
"""Room for binary digits."""


@dataclass(frozen=True)
class Load:
    """One appliance that runs at the same time as the others.

    Attributes:
        name: what the owner calls it.
        power_w: watts.
        leg: which 120 V leg of the trailer it hangs on, 1 or 2.
        steady: runs for three hours or more.
    """

    name: str
    power_w: float
    leg: int = 1
    steady: bool = False


@dataclass(frozen=True, kw_only=True)
class LoadSum(Finding):
    """Currents on each leg, what the fuller leg has left, and the most that may run for hours."""

    breaker_a: float
    leg: int
    """The fuller leg."""
    leg1_a: float
    leg2_a: float
    total_w: float
    spare_a: float
    """What the fuller leg has left under the rule; below zero when it is over."""


def continuous_limit(breaker_a: float) -> float:
    """The most amperes that may flow for three hours or more: breaker / 1.25."""
    return breaker_a / CONTINUOUS_FACTOR


def load_sum(loads: Sequence[Load], supply: Supply) -> LoadSum:
    """Adds up what runs at once and judges it against the supply.

    A leg's rule at 120 V: 1.25 x steady + rest <= breaker (NFPA 70 210.20(A), from memory).  On a
    supply with one leg both legs of the trailer hang on the same conductor and add up.

    Returns:
        STOP when a leg's plain sum is over the breaker, CAUTION when only the rule for
        continuous loads is broken.

    Raises:
        InputError: a negative power, or a leg other than 1 or 2.
    """
    plain, ruled = [0.0, 0.0], [0.0, 0.0]
    for load in loads:
        if load.power_w < 0:
            raise InputError(f"The power of {load.name} is below zero.")
        if load.leg not in (1, 2):
            raise InputError(f"The leg of {load.name} must be 1 or 2.")
        leg = load.leg - 1 if supply.legs == 2 else 0
        amps = load.power_w / supply.leg_v
        plain[leg] += amps
        ruled[leg] += amps * (supply.continuous if load.steady else 1.0)

    def judged(leg: int) -> Verdict:
        # A hair of room, so that 24 A x 1.25 is 30 A whatever the binary digits say.
        top = supply.breaker_a + _HAIR
        if plain[leg] > top:
            return Verdict.STOP
        return Verdict.CAUTION if ruled[leg] > top else Verdict.OK

    verdict = worst(judged(0), judged(1))
    fuller = max((0, 1), key=lambda leg: (judged(leg) == verdict, ruled[leg], -leg))
    say = {Verdict.OK: "power.fits", Verdict.CAUTION: "power.long", Verdict.STOP: "power.over"}
    return LoadSum(
        verdict=verdict,
        say=say[verdict] + (".leg" if supply.legs == 2 and verdict != Verdict.OK else ""),
        basis=("US: NFPA 70 210.20(A), 1.25 x continuous load, three hours (from memory)"
               if supply.leg_v == LEG_V else "IEC 60898-1, rated current (from memory)"),
        breaker_a=supply.breaker_a,
        region=US if verdict is Verdict.CAUTION and supply.continuous == CONTINUOUS_FACTOR else "",
        leg=fuller + 1,
        leg1_a=plain[0],
        leg2_a=plain[1],
        total_w=sum(plain) * supply.leg_v,
        spare_a=supply.breaker_a - ruled[fuller],
    )


@dataclass(frozen=True, kw_only=True)
class Chain(Finding):
    """The way from the post to the trailer, and what its weakest part allows."""

    part: str
    """The weakest: breaker, adapter, cord, inlet, or main (the trailer's own breaker)."""
    breaker_a: float
    limit_a: float
    """What the weakest part carries."""
    hours_a: float
    """The most that may flow for three hours or more."""
    limit_w: float
    """Watts for hours, all legs together."""


def judge_supply(
    breaker_a: float, *, parts: Mapping[str, float] | None = None, legs: int = 0,
    mains: bool = False, house: bool = False, region: str = "",
) -> Chain:
    """What the number on a pedestal's breaker allows, behind all that hangs on it.

    Args:
        breaker_a: as it stands on its handle.
        parts: amperes that adapter, cord, inlet and main are made for, as far as they are known.
        legs: of the way as a whole; 0 for as many as all that is known can have (`ONE_LEG_A`).
        mains: a 230 V supply by IEC 60364-7-708, else 120 V or 120/240 V by NFPA 70 article 551.
        house: a house socket, which is not made to carry its breaker's current for hours.
        region: of `region.REGIONS`; "" takes the stricter rule for loads that last for hours.

    Returns:
        STOP for a number that no supply of a camp site has (NFPA 70 (2017) 551.71: 20, 30 and 50 A;
        15 A at homes; 230 V: `MAINS_A`), and for a breaker that lets through more than adapter, cord
        or inlet may carry (NFPA 70 240.5(A); IEC 60364-4-43, 433.1; from memory).  The trailer's own
        breaker protects itself: where it is the smallest, it is the limit.
    """
    supplies = MAINS if mains else SUPPLIES
    supply = supplies.get(int(breaker_a)) if breaker_a == int(breaker_a) else None
    known = {"breaker": breaker_a, **(parts or {})}
    part = min(known, key=lambda name: known[name])  # of equals the first: the breaker
    bare = {name: amps for name, amps in known.items() if name not in ("breaker", "main")}
    thin = min(bare, key=lambda name: bare[name], default="")
    if supply is None:
        say, part = "power.unknown-mains" if mains else "power.unknown", "breaker"
    elif thin and bare[thin] < breaker_a - _HAIR:
        say, part = "power.too-big", thin
    else:
        say = "power.supply" if part == "breaker" else "power.weakest"
    limit = known[part]
    lasting = MAINS_CONTINUOUS if mains and region == EUROPE else CONTINUOUS_FACTOR
    hours = limit / lasting
    if house:
        hours = min(hours, HOUSE_SOCKET_A)
    if not legs:  # cord or inlet tell how many the trailer's own breaker has; it tells itself where neither is known
        told = [amps for name, amps in known.items() if name != "main" or not {"cord", "inlet"} & known.keys()]
        legs = 1 if mains or min(told) <= ONE_LEG_A else 2
    return Chain(
        verdict=Verdict.OK if say in ("power.supply", "power.weakest") else Verdict.STOP, say=say,
        basis=(
            "IEC 60898-1 and IEC 60364-4-43, 433.1; sites by IEC 60364-7-708 (from memory); your"
            " country's code comes first" if mains else
            "US: NFPA 70 210.20(A), 1 / 1.25, and 240.5(A) (from memory); outlets: 551.71 (2017)"),
        region=EUROPE if lasting == MAINS_CONTINUOUS else US,
        part=part, breaker_a=breaker_a, limit_a=limit, hours_a=hours,
        limit_w=hours * (MAINS_V if mains else LEG_V) * legs,
    )  # fmt: skip


def judge_total(watts: float, supply: Supply) -> LoadSum:
    """Judges watts of which only the sum is known, all of them for hours.

    On a supply with two legs nobody knows how they are spread.  What fits on one leg fits; what
    fits only when both legs share it evenly is a CAUTION; more than that is STOP.

    Raises:
        InputError: a negative power.
    """
    found = load_sum([Load("everything", watts, steady=True)], supply)
    if supply.legs == 1 or found.verdict is Verdict.OK:
        return found
    even = load_sum([Load("everything", watts / 2, leg, steady=True) for leg in (1, 2)], supply)
    if even.verdict is Verdict.OK:
        return replace(even, verdict=Verdict.CAUTION, say="power.spread")
    return replace(even, say=even.say.removesuffix(".leg"))
