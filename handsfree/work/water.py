"""Water pressure, disinfecting the fresh tank, what water weighs, and for how many days it lasts.

Pure: standard library, `errors`, `finding` and `region`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from handsfree.errors import InputError
from handsfree.work.finding import TWINS, Finding, Verdict, worst
from handsfree.work.region import EUROPE, US, rule

CODE_LIMIT_PSI = 80.0
"""Highest static pressure without a regulator: UPC 608.2 (2015), IRC P2903.3.1."""

CODE_PSI: Mapping[str, float] = MappingProxyType({US: CODE_LIMIT_PSI, EUROPE: 72.519})
"""By region, so that 5 bar (72.5189 psi) are not over it; Europe: EN 806-2 (2005), 500 kPa at a tap (from memory)."""

CODES: Mapping[str, str] = MappingProxyType(
    {US: "80 psi: UPC 608.2 (2015), IRC P2903.3.1", EUROPE: "5 bar: EN 806-2 (from memory)"})
"""Their names."""

LEAST_PSI = 15.0
"""What a supply gives at least: UPC 608.1 (from memory)."""

MOST_PSI = 300.0
"""No tap of a site has it; more is a slip of the pen."""

PRACTICE_LIMIT_PSI = 60.0
SETTING_PSI = (40.0, 60.0)
"""What a camper's regulator is usually set to; common practice, no standard found."""

CREEP_PSI = 5.0
"""What gauge and regulator may differ; a margin of our own, no source."""

CHLORINE_SHARE = 70.906 / 74.442
"""Free chlorine (Cl2) in a mass of NaOCl, by molar masses."""

LITRES_PER_GAL = TWINS["gal"][1]

STAND_HOURS: Mapping[float, int] = MappingProxyType({50: 4, 100: 1})
"""Free chlorine in ppm to the least hours it stands.  Common practice, no
source that binds.  Dose x time differs, so nothing between them may be worked out."""

STRENGTH_PERCENT = (1.0, 15.0)
"""Labels outside this are not plain household or pool liquid."""

POUNDS_PER_GAL = 8.345
"""Weight of a US gallon of cold water."""

USE_GAL = 15 / LITRES_PER_GAL
"""A person's water for a day, washing and cooking included: Sphere Handbook (2018), water supply
standard 2.1, 15 litres as the least (from memory).  A careful camper's; a shower takes as much again."""

DRINK_GAL = 1.0
"""What one person needs in a day to drink and wash hands at least: FEMA, emergency water supplies (from memory)."""

FLUSH_GAL = 1.0
"""What a person adds to the black tank in a day; common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Pressure(Finding):
    """What the tap gives, what the trailer gets, and the limit it was held against."""

    tap_psi: float
    trailer_psi: float
    limit_psi: float
    code_psi: float
    """What the code of the region allows without a regulator."""
    usual_least_psi: float = SETTING_PSI[0]
    usual_most_psi: float = SETTING_PSI[1]
    """What a regulator is usually set to."""


@dataclass(frozen=True, kw_only=True)
class Dose(Finding):
    """Bleach for one tank and how long it stands."""

    bleach_ml: float
    bleach_cups: float
    target_ppm: float
    stand_hours: int
    strength_percent: float


@dataclass(frozen=True, kw_only=True)
class WaterWeight(Finding):
    """What the water adds to the load."""

    volume_gal: float
    weight_lb: float


def over_code(static_psi: float, region: str = "") -> bool:
    """True above what the code of the region allows without a regulator; `CODE_PSI`."""
    return static_psi > rule(CODE_PSI, region)[0]


def judge_pressure(
    tap_psi: float, *, setting_psi: float | None = None, limit_psi: float | None = None,
    region: str = "",
) -> Pressure:
    """Judges a gauge reading taken with all taps closed (static means no flow).

    Args:
        tap_psi: at the park's tap, gauge.
        setting_psi: what the regulator at the tap is set to; None without a regulator.
        limit_psi: from the rig's manual; None if unknown.
        region: of `region.REGIONS`; "" takes the stricter code.

    Returns:
        STOP over the manual's limit, or over the code's (`CODE_PSI`) without a regulator.  Without a
        manual's limit, over 60 psi is a CAUTION: common practice, no standard found.  So is next
        to no pressure: the tap may be shut, or the gauge dead.

    Raises:
        InputError: a pressure that is not above zero, or below zero at the tap.
    """
    if tap_psi < 0 or (setting_psi is not None and setting_psi <= 0):
        raise InputError("A pressure reading must not be below zero, nor a regulator set to zero.")
    if limit_psi is not None and limit_psi <= 0:
        raise InputError("The rig's pressure limit must be above zero.")
    if max(tap_psi, setting_psi or 0.0, limit_psi or 0.0) > MOST_PSI:
        raise InputError(f"No tap has more than {MOST_PSI:g} psi: read it again.")
    code, whose = rule(CODE_PSI, region)
    trailer = tap_psi if setting_psi is None else min(tap_psi, setting_psi)
    limit = PRACTICE_LIMIT_PSI if limit_psi is None else limit_psi
    if tap_psi < LEAST_PSI:
        verdict, say = Verdict.CAUTION, "water.low"
    elif limit_psi is not None and trailer > limit_psi <= code:  # the nearer reason is told
        verdict, say = Verdict.STOP, "water.limit"
    elif over_code(trailer, region):
        verdict, say = Verdict.STOP, "water.code"
    elif trailer > limit:
        verdict = Verdict.CAUTION if limit_psi is None else Verdict.STOP
        say = "water.high" if limit_psi is None else "water.limit"
    elif setting_psi is not None and not SETTING_PSI[0] <= setting_psi <= SETTING_PSI[1]:
        verdict, say = Verdict.CAUTION, "water.setting"
    else:
        verdict, say = Verdict.OK, "water.good"
    return Pressure(
        verdict=verdict,
        say=say,
        basis=f"{CODES[whose]}; 40 to 60 psi: common practice, no source",
        region=whose if say == "water.code" else "",
        code_psi=code,
        tap_psi=tap_psi,
        trailer_psi=trailer,
        limit_psi=limit,
    )


def judge_gauge(
    gauge_psi: float, *, setting_psi: float | None = None, limit_psi: float | None = None,
    region: str = "",
) -> Pressure:
    """Judges a gauge behind the regulator, read with nothing flowing.

    `judge_pressure` of what the trailer would feel, and besides: a gauge that shows more than the
    regulator is set to means that it creeps (a worn seat lets the tap's pressure through).

    Args:
        gauge_psi: what the gauge shows.
        setting_psi: what the regulator is set to; None if unknown.
        limit_psi: from the rig's manual; None if unknown.
        region: as there.

    Returns:
        As `judge_pressure`; CAUTION more than `CREEP_PSI` above the setting.

    Raises:
        InputError: as `judge_pressure`.
    """
    found = judge_pressure(gauge_psi, limit_psi=limit_psi, region=region)
    if setting_psi is not None and gauge_psi > setting_psi + CREEP_PSI:
        say = "water.creeps" if found.verdict is not Verdict.STOP else found.say
        return replace(found, verdict=worst(found.verdict, Verdict.CAUTION), say=say,
                       region=found.region if say == found.say else "")
    return found


def chlorine_ppm(bleach_ml: float, water_gal: float, strength_percent: float) -> float:
    """Free chlorine in mg/L: mL x strength x 10 mg/mL x 0.9525 / L.

    Strength is taken as NaOCl by weight over volume; a label by weight reads 7 to 10 % stronger
    in truth.  Molar masses: 70.906 / 74.442 = 0.9525.
    """
    return bleach_ml * strength_percent * 10 * CHLORINE_SHARE / (water_gal * LITRES_PER_GAL)


def dose(water_gal: float, strength_percent: float | None, target_ppm: float = 50) -> Dose:
    """How much plain household bleach disinfects a full fresh tank.

    The inverse of `chlorine_ppm`.  The strength must come from the label: the handy "quarter
    cup to 15 gallons" is 50 ppm for 5 to 5.25 % bleach only, and 82 ppm for 8.25 %.

    Args:
        water_gal: US gallons in the tank.
        strength_percent: NaOCl by the label.
        target_ppm: 50 (stands four hours) or 100 (stands one hour).

    Raises:
        InputError: the strength is unknown or not that of plain bleach, the tank is empty, or
            the target is not one of the two with a known standing time.
    """
    if strength_percent is None:
        raise InputError("Read the strength off the bleach's label first: no dose without it.")
    low, high = STRENGTH_PERCENT
    if not low <= strength_percent <= high:
        raise InputError(
            f"A strength of {strength_percent:g} percent is not plain bleach ({low:g} to {high:g})."
        )
    if water_gal <= 0:
        raise InputError("The tank's volume must be above zero.")
    stand = STAND_HOURS.get(round(target_ppm, 6))
    if stand is None:
        raise InputError("The target must be 50 or 100 ppm: no standing time is known for others.")
    millilitres = target_ppm / chlorine_ppm(1.0, water_gal, strength_percent)
    return Dose(
        verdict=Verdict.OK,
        say="water.dose",
        basis="50 ppm, four hours: common practice, no source; scaled by molar masses",
        bleach_ml=millilitres,
        bleach_cups=millilitres / (LITRES_PER_GAL * 1000 / 16),
        target_ppm=target_ppm,
        stand_hours=stand,
        strength_percent=strength_percent,
    )


def water_weight(volume_gal: float) -> WaterWeight:
    """Weight of water: 8.345 lb for each US gallon (about 0.9999 kg/L).

    Raises:
        InputError: a volume below zero.
    """
    if volume_gal < 0:
        raise InputError("The volume must not be below zero.")
    return WaterWeight(
        verdict=Verdict.OK, say="water.weight", basis="8.345 lb to the US gallon",
        volume_gal=volume_gal, weight_lb=volume_gal * POUNDS_PER_GAL,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class TankDays(Finding):
    """How many days the tanks will last, and which ends first."""

    days: float
    what: str
    people: int
    use_gal: float
    """What one person uses in a day."""


def tank_days(
    people: int, *, fresh_gal: float | None = None, grey_gal: float | None = None,
    black_gal: float | None = None, use_gal: float = USE_GAL, need_days: float | None = None,
) -> TankDays:
    """How long what is in the fresh tank lasts, and what is left in the others takes.

    All that is used runs into the grey tank; a black tank of its own takes `FLUSH_GAL` of it.

    Args:
        people: how many.
        fresh_gal: in the tank now; None where there is a hose.
        grey_gal, black_gal: room that is left; None where it runs off.
        use_gal: a person's for a day.
        need_days: how long it has to last; None if unknown.

    Returns:
        CAUTION when it does not last, and when less than a day's drinking water is left.

    Raises:
        InputError: nobody, no tank, or a volume that cannot be.
    """
    given = {"fresh": fresh_gal, "grey": grey_gal, "black": black_gal}
    known = {name: gal for name, gal in given.items() if gal is not None}
    if people < 1 or not known or min(known.values()) < 0 or use_gal <= 0:
        raise InputError("Give people, their use above zero, and at least one tank.")
    flush = min(FLUSH_GAL, use_gal) if black_gal is not None else 0.0
    a_day = {"fresh": use_gal, "grey": use_gal - flush, "black": flush}
    lasts = {name: gal / (people * a_day[name]) for name, gal in known.items() if a_day[name] > 0}
    what = min(lasts, key=lambda name: lasts[name])
    if fresh_gal is not None and fresh_gal < people * DRINK_GAL:
        verdict, say = Verdict.CAUTION, "tank.drink"
    elif need_days is not None and lasts[what] < need_days:
        verdict, say = Verdict.CAUTION, "tank.short"
    else:
        verdict, say = Verdict.OK, "tank.lasts"
    return TankDays(
        verdict=verdict, say=say, days=lasts[what], what=what, people=people, use_gal=use_gal,
        basis="15 liters a person and day: Sphere Handbook 2018 (from memory), unless you gave your own",
    )  # fmt: skip
