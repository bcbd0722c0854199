"""Tongue weight, axle and tyre loads, chains and breakaway against their ratings.

Pure: standard library, `errors`, `battery`, `finding` and `region`.  Tyre pressure is in `tyres`, the scale ticket
in `ticket`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from handsfree.errors import InputError
from handsfree.work.battery import peukert_hours
from handsfree.work.finding import Finding, Verdict
from handsfree.work.region import EUROPE, US, rule

Hitch = Literal["ball", "fifth-wheel"]

SHARE_PERCENT = MappingProxyType({"ball": (10.0, 15.0), "fifth-wheel": (15.0, 25.0)})
"""Share of the loaded trailer's weight on the hitch.  Ball: common practice; SAE J2807
tests near 10 % (from memory).  Fifth wheel: common practice, from memory."""

CLASS_TOP_LB = (2000.0, 3500.0, 5000.0, 10000.0)
"""Highest gross weight of classes 1 to 4: Maryland COMAR 11.13.08.10, whose numbers match
SAE J684.  Not the same scale as the classes that hitch receivers are sold by."""

CHAIN_LBF = MappingProxyType({1: 2000.0, 2: 3500.0, 3: 5000.0})
"""Least breaking force of a safety chain, classes 1 to 3: SAE J684, as quoted."""

COUPLER_LBF = MappingProxyType({1: 6000.0, 2: 10500.0, 3: 15000.0})
"""Least breaking point of coupler and ball, lengthwise: COMAR 11.13.08.10."""

LEAST_SHARE_PERCENT = 4.0
"""Below this a trailer is not towed at all: UN regulation 55 and StVZO 44(3), from memory.  A
benchmark, not the reader's own law."""

PEUKERT = (1.15, 1.25)
"""Exponents of sealed lead-acid batteries, the best and the worst; from memory."""

MOST_AH, MOST_BRAKES = 200.0, 12
"""More is a slip of the pen."""

BREAKAWAY_HOLD_MIN = 15.0
"""Minutes that breakaway brakes stay applied: South Dakota 32-18-17; 49 CFR 393.43(d).  A
benchmark, not the reader's own law."""


UNBRAKED_LB = MappingProxyType({US: 1500.0, EUROPE: 1653.47})
"""Weight from which laws ask for a trailer's own brakes.  US: California Vehicle Code 26302(c), of camp
trailers, the strictest that we know (many states: 3,000 lb); Europe: above 750 kg, category O1 of UN
Regulation 13.  All from memory; the law of the place decides."""


@dataclass(frozen=True, kw_only=True)
class Tongue(Finding):
    """Share on the hitch and the weights that would be within the usual range."""

    tongue_lb: float
    gross_lb: float
    share_percent: float
    least_lb: float
    most_lb: float


@dataclass(frozen=True, kw_only=True)
class Axles(Finding):
    """The axle that is closest to, or furthest over, its rating, counted from the front."""

    axle: int
    load_lb: float
    rating_lb: float
    per_tyre_lb: float
    spare_lb: float


@dataclass(frozen=True, kw_only=True)
class Chains(Finding):
    """Class of the trailer and the least strengths in pounds-force."""

    trailer_class: int
    chain_lb: float
    least_lb: float


@dataclass(frozen=True, kw_only=True)
class Breakaway(Finding):
    """How long the breakaway battery holds the brakes, by the worst exponent and by the best."""

    hold_min: float
    best_min: float


@dataclass(frozen=True, kw_only=True)
class NutTorque(Finding):
    """From the lowest to the highest of the manual, in foot pounds."""

    least_ftlb: float
    most_ftlb: float


@dataclass(frozen=True, kw_only=True)
class Length(Finding):
    """Of the rig, and of the whole train, in feet."""

    length_ft: float
    total_ft: float


@dataclass(frozen=True, kw_only=True)
class Unbraked(Finding):
    """A trailer without brakes, and from which weight on laws ask for them."""

    weight_lb: float
    limit_lb: float


@dataclass(frozen=True)
class CouplerStrength:
    """Least breaking points in pounds-force; the last three only for class 4."""

    lengthwise_lbf: float
    up_lbf: float | None = None
    down_lbf: float | None = None
    sideways_lbf: float | None = None


def judge_tongue(
    tongue_lb: float, gross_lb: float, *, hitch: Hitch = "ball", rating_lb: float | None = None,
    share_percent: tuple[float, float] | None = None,
) -> Tongue:
    """Judges the share of the loaded trailer that rests on the hitch: tongue / gross x 100.

    Args:
        tongue_lb: on the ball, or on the pin of a fifth wheel.
        gross_lb: of the loaded trailer, tongue included.
        hitch: picks the usual range out of `SHARE_PERCENT`.
        rating_lb: the hitch's own; None if unknown.
        share_percent: the rig's own limits, in place of the usual range.

    Returns:
        STOP over the hitch's rating, below 4 % (`LEAST_SHARE_PERCENT`) and outside the rig's own
        limits; CAUTION outside the usual range.

    Raises:
        InputError: weights that cannot be.
    """
    if not 0 <= tongue_lb < gross_lb:
        raise InputError("The tongue weight must be at least zero and below the gross weight.")
    low, high = share_percent or SHARE_PERCENT[hitch]
    astray = Verdict.STOP if share_percent else Verdict.CAUTION
    # Rounded, so that exactly ten percent is ten whatever the binary digits say.
    share = round(100.0 * tongue_lb / gross_lb, 6)
    if rating_lb is not None and tongue_lb > rating_lb:
        verdict, say = Verdict.STOP, "tongue.rating"
    elif share < LEAST_SHARE_PERCENT:
        verdict, say = Verdict.STOP, "tongue.none"
    elif share < low:
        verdict, say = astray, "tongue.light"
    elif share > high:
        verdict, say = astray, "tongue.heavy"
    else:
        verdict, say = Verdict.OK, "tongue.good"
    return Tongue(
        verdict=verdict, say=say, basis=f"{low:g} to {high:g} percent: trade practice, no standard",
        region=EUROPE if say == "tongue.none" else "", tongue_lb=tongue_lb, gross_lb=gross_lb, share_percent=share,
        least_lb=gross_lb * low / 100, most_lb=gross_lb * high / 100,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Clearance(Finding):
    """Measured to the highest point, in feet."""

    height_ft: float


def clearance(height_ft: float) -> Clearance:
    """How high the rig stands; information only.

    Raises:
        InputError: a height not above zero.
    """
    if height_ft <= 0:
        raise InputError("The rig's height must be above zero.")
    return Clearance(verdict=Verdict.OK, say="height.told", basis="Measured by the owner",
                     height_ft=height_ft)


def length(own_ft: float, other_ft: float = 0.0) -> Length:
    """How long the rig is, alone and with what pulls it or is towed; information only.

    Raises:
        InputError: a length not above zero, or the other's below it.
    """
    if own_ft <= 0 or other_ft < 0:
        raise InputError("The rig's length must be above zero.")
    return Length(verdict=Verdict.OK, say="length.both" if other_ft else "length.told",
                  basis="Measured by the owner", length_ft=own_ft, total_ft=own_ft + other_ft)


def without_brakes(weight_lb: float, region: str = "") -> Unbraked:
    """Whether a trailer without brakes of its own is below the weight from which laws ask for them.

    Args:
        weight_lb: loaded, or the most that it may weigh.
        region: whose limit counts; "" where nobody said, and the stricter one does.

    Returns:
        CAUTION from the limit on: the law of the place decides, and the truck's manual.

    Raises:
        InputError: a weight not above zero.
    """
    if weight_lb <= 0:
        raise InputError("The trailer's weight must be above zero.")
    limit, whose = rule(UNBRAKED_LB, region)
    heavy = weight_lb >= limit
    return Unbraked(
        verdict=Verdict.CAUTION if heavy else Verdict.OK, say="unbraked.heavy" if heavy else "unbraked.light",
        basis="California Vehicle Code 26302(c); UN Regulation 13, category O1 (from memory)",
        region=whose, weight_lb=weight_lb, limit_lb=limit,
    )  # fmt: skip


def set_torque(least_ftlb: float, most_ftlb: float) -> NutTorque:
    """What the torque wrench is set to, from the manual; information only.

    Raises:
        InputError: a torque not above zero, or the lowest above the highest.
    """
    if not 0 < least_ftlb <= most_ftlb:
        raise InputError("The lowest nut torque must be above zero and not above the highest.")
    one = least_ftlb == most_ftlb
    return NutTorque(
        verdict=Verdict.OK, say="nuts.figure" if one else "nuts.range",
        basis="The rig's own manual", least_ftlb=least_ftlb, most_ftlb=most_ftlb,
    )  # fmt: skip


def axle_load(gross_lb: float, tongue_percent: float, tyres: int = 4) -> tuple[float, float, float]:
    """Pounds on the tongue, on all axles, and on each tyre: axles = gross - tongue.

    Raises:
        InputError: a share outside 0 to 100, or no tyres.
    """
    if not 0 <= tongue_percent <= 100 or tyres < 1 or gross_lb <= 0:
        raise InputError("Gross weight, tongue share and number of tires must make sense.")
    tongue = gross_lb * tongue_percent / 100
    return tongue, gross_lb - tongue, (gross_lb - tongue) / tyres


def judge_axles(
    loads_lb: Sequence[float], gawr_lb: float, tyre_rating_lb: float, tyres_per_axle: int = 2
) -> Axles:
    """Holds each axle against its rating (GAWR) and each tyre against its own.

    A tyre carries load / tyres.  The tyres of an axle must together be rated for the axle
    (49 CFR 571.120, from memory).

    Returns:
        STOP over a rating, or when the tyres are rated for less than the axle; CAUTION above
        95 % of the lower of the two (a margin of our own, no source).

    Raises:
        InputError: no load, or a number that cannot be.
    """
    if not loads_lb or min(loads_lb) < 0 or min(gawr_lb, tyre_rating_lb, tyres_per_axle) <= 0:
        raise InputError("Give each axle's load, and ratings above zero.")
    tyres_lb = tyre_rating_lb * tyres_per_axle
    limit = min(gawr_lb, tyres_lb)
    index = max(range(len(loads_lb)), key=lambda i: (loads_lb[i], -i))
    load = loads_lb[index]
    if load > tyres_lb:
        verdict, say = Verdict.STOP, "axles.tyre"
    elif load > gawr_lb:
        verdict, say = Verdict.STOP, "axles.over"
    elif tyres_lb < gawr_lb:
        verdict, say = Verdict.STOP, "axles.tyres-small"
    elif load > 0.95 * limit:
        verdict, say = Verdict.CAUTION, "axles.near"
    else:
        verdict, say = Verdict.OK, "axles.good"
    return Axles(
        verdict=verdict, say=say, basis="Ratings on the placard; 49 CFR 571.120 (from memory)",
        axle=index + 1, load_lb=load, rating_lb=limit, per_tyre_lb=load / tyres_per_axle,
        spare_lb=limit - load,
    )  # fmt: skip


def trailer_class(gross_lb: float) -> int:
    """Class 1 to 4 by gross weight: COMAR 11.13.08.10 (up to 2,000, 3,500, 5,000, 10,000 lb).

    Raises:
        InputError: not above zero, or beyond the table.
    """
    if gross_lb <= 0:
        raise InputError("The gross weight must be above zero.")
    for number, top in enumerate(CLASS_TOP_LB, start=1):
        if gross_lb <= top:
            return number
    raise InputError("The class table ends at 10,000 lb: ask the maker of hitch and trailer.")


def coupler_strength(gross_lb: float) -> CouplerStrength:
    """Least breaking points of coupler and ball: COMAR 11.13.08.10.

    Class 4: 3 x gross lengthwise, 1.3 x up, 1.4 x down, 1 x sideways.
    """
    number = trailer_class(gross_lb)
    if number < 4:
        return CouplerStrength(COUPLER_LBF[number])
    return CouplerStrength(3.0 * gross_lb, 1.3 * gross_lb, 1.4 * gross_lb, gross_lb)


def judge_chains(
    chain_lb: float, gross_lb: float, rule: Literal["each", "combined"] = "each"
) -> Chains:
    """Holds the strength of one of two chains against a rule; rules differ by place.

    ``each``: SAE J684 by class (class 4: the trailer's gross weight), and at least the gross
    weight, as New Hampshire RSA 266:63 asks.  ``combined``: both together hold the gross
    weight, 49 CFR 393.70(d) with its guidance, for commercial vehicles.

    Raises:
        InputError: weights that cannot be.
    """
    number = trailer_class(gross_lb)
    if chain_lb <= 0:
        raise InputError("The chain's breaking strength must be above zero.")
    each = max(CHAIN_LBF.get(number, gross_lb), gross_lb)
    least = each if rule == "each" else gross_lb / 2
    good = chain_lb >= least
    return Chains(
        verdict=Verdict.OK if good else Verdict.STOP,
        say="chains.good" if good else "chains.weak",
        basis=(
            "SAE J684 (quoted) and NH RSA 266:63: each chain"
            if rule == "each"
            else "49 CFR 393.70(d), guidance: both together; commercial vehicles"
        )
        + ". A benchmark, not your law",
        region=US, trailer_class=number,
        chain_lb=chain_lb,
        least_lb=least,
    )


def breakaway_hold(battery_ah: float, brakes: int, amps_each: float = 3.0) -> Breakaway:
    """Minutes for which a charged breakaway battery feeds the brake magnets, by Peukert's law.

    About 3 A a magnet at 12 V is common practice, no source.  A fast discharge gives far less than
    the label: 3 Ah and four brakes last five to eight minutes, not fifteen.  The law of the place
    decides what is needed.

    Returns:
        OK when it lasts 15 minutes by the worst exponent of `PEUKERT`, STOP when it does not by the
        best, CAUTION between.

    Raises:
        InputError: a number that is not above zero, or beyond any trailer's.
    """
    if battery_ah <= 0 or brakes < 1 or amps_each <= 0:
        raise InputError("Battery capacity, brakes and their current must be above zero.")
    if battery_ah > MOST_AH or brakes > MOST_BRAKES:
        raise InputError(f"A breakaway battery has at most {MOST_AH:g} Ah and a trailer at most"
                         f" {MOST_BRAKES} brakes: check both.")
    best, least = (60 * peukert_hours(battery_ah, brakes * amps_each, n) for n in PEUKERT)
    if least >= BREAKAWAY_HOLD_MIN:
        verdict, say = Verdict.OK, "breakaway.good"
    elif best >= BREAKAWAY_HOLD_MIN:
        verdict, say = Verdict.CAUTION, "breakaway.near"
    else:
        verdict, say = Verdict.STOP, "breakaway.short"
    return Breakaway(
        verdict=verdict, say=say,
        basis="Peukert, 20 h, exponent 1.15 to 1.25 (from memory); 15 minutes: SD 32-18-17, 49 CFR"
              " 393.43(d). A benchmark, not your law",
        region="" if say == "breakaway.good" else US, hold_min=least, best_min=best,
    )  # fmt: skip
