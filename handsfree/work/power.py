"""Whether the loads fit the supply, leg by leg.

Pure: standard library, `errors` and `finding`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict, worst

CONTINUOUS_FACTOR = 1.25
"""NFPA 70 210.20(A): the breaker carries 1.25 x the continuous load (three hours or more,
Article 100) plus the rest; 1 / 1.25 is the 80 % rule.  From memory."""


LEG_V = 120.0
"""Volts from each live leg to neutral."""


@dataclass(frozen=True)
class Supply:
    """A pedestal outlet: breaker in amperes, number of 120 V legs."""

    breaker_a: int
    legs: int
    leg_v: float = LEG_V

    @property
    def power_w(self) -> float:
        """Nameplate power of all legs together, in watts: V x I x legs."""
        return self.breaker_a * self.leg_v * self.legs


SUPPLIES = {15: Supply(15, 1), 20: Supply(20, 1), 30: Supply(30, 1), 50: Supply(50, 2)}
"""By the number on the breaker.  15 to 30 A: 120 V; 50 A: 120/240 V, two legs."""


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

    breaker_a: int
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

    A leg's rule: 1.25 x steady + rest <= breaker (NFPA 70 210.20(A), from memory).  On a
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
        ruled[leg] += amps * (CONTINUOUS_FACTOR if load.steady else 1.0)

    def judged(leg: int) -> Verdict:
        # A hair of room, so that 24 A x 1.25 is 30 A whatever the binary digits say.
        top = supply.breaker_a + 1e-9
        if plain[leg] > top:
            return Verdict.STOP
        return Verdict.CAUTION if ruled[leg] > top else Verdict.OK

    verdict = worst(judged(0), judged(1))
    fuller = max((0, 1), key=lambda leg: (judged(leg) == verdict, ruled[leg], -leg))
    say = {Verdict.OK: "power.fits", Verdict.CAUTION: "power.long", Verdict.STOP: "power.over"}
    return LoadSum(
        verdict=verdict,
        say=say[verdict] + (".leg" if supply.legs == 2 and verdict != Verdict.OK else ""),
        basis="NFPA 70 210.20(A), 1.25 x continuous load, three hours (from memory)",
        breaker_a=supply.breaker_a,
        leg=fuller + 1,
        leg1_a=plain[0],
        leg2_a=plain[1],
        total_w=sum(plain) * supply.leg_v,
        spare_a=supply.breaker_a - ruled[fuller],
    )


@dataclass(frozen=True, kw_only=True)
class Breaker(Finding):
    """The pedestal's breaker and the most that may flow for three hours or more."""

    breaker_a: int
    hours_a: float
    cord_a: float | None
    """What the rig's own cord is made for; None where it is not known."""


def judge_supply(breaker_a: float, *, cord_a: float | None = None) -> Breaker:
    """What the number on a pedestal's breaker allows for hours: breaker / 1.25.

    Args:
        breaker_a: as it stands on its handle.
        cord_a: what the rig's own cord is made for, in amperes; None if unknown.  With an adapter
            between them, the smaller of the two is the limit.

    Returns:
        STOP for a number that no supply of a camp site has (NFPA 70 (2017) 551.71: 20, 30 and 50 A;
        15 A at homes), and for a breaker that lets through more than the cord may carry
        (NFPA 70 240.5(A), from memory), whatever adapter fits.
    """
    known = breaker_a in SUPPLIES
    big = cord_a is not None and breaker_a > cord_a + 1e-9
    say = "power.unknown" if not known else "power.too-big" if big else "power.supply"
    return Breaker(
        verdict=Verdict.OK if known and not big else Verdict.STOP, say=say,
        basis="NFPA 70 210.20(A), 1 / 1.25, and 240.5(A) (from memory); outlets: 551.71 (2017)",
        breaker_a=round(breaker_a), hours_a=continuous_limit(breaker_a), cord_a=cord_a,
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
