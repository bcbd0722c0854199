"""The sewer hose: its slope, and how high its supports stand.

Pure: standard library, `errors` and `finding`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict
from handsfree.work.region import EUROPE, US

AIM_IN_PER_FT = 0.25
"""A quarter inch a foot: the safer aim for a 3 in hose; common practice."""

EUROPE_IN_PER_FT = 0.12
"""1 percent: EN 12056-2, branch drains (from memory)."""

MOST_SPANS = 500
"""More supports than any hose has; keeps a slip of the pen from filling the memory."""

_BASIS = (
    "Least slope: IPC table 704.1, EN 12056-2, borrowed: they are for building drains, not for hoses"
)


@dataclass(frozen=True, kw_only=True)
class Slope(Finding):
    """The hose as it would lie, and where its supports go."""

    fall_in: float
    slope_percent: float
    least_in: float
    """Fall that the table asks for over this length."""
    aim_in: float
    """Fall at a quarter inch a foot."""
    first_in: float
    last_in: float
    step_in: float
    """Heights of the first and last support, and how much each is lower than the one before."""
    spacing_ft: float
    supports: tuple[tuple[float, float], ...]
    """(feet along the hose from the trailer, height in inches above the inlet's ground)."""


def least_slope(diameter_in: float, region: str = "") -> float:
    """Least fall in inches a foot: IPC table 704.1 in the US, EN 12056-2 in Europe.

    2 1/2 in and smaller: 1/4; 3 to 6 in: 1/8; 8 in and larger: 1/16.  Between the table's rows
    the steeper one holds.  EN 12056-2 has 1 percent (from memory).  Where the
    region is not known, the strictest: UPC 708.1, 1/4 up to 3 in (from memory).

    Raises:
        InputError: the diameter is not above zero.
    """
    if diameter_in <= 0:
        raise InputError("The hose's diameter must be above zero.")
    american = 1 / 4 if diameter_in < 3 else 1 / 8 if diameter_in < 8 else 1 / 16
    by_region = {US: american, EUROPE: EUROPE_IN_PER_FT}
    strictest = AIM_IN_PER_FT if diameter_in < 4 else american
    return by_region.get(region, max(strictest, *by_region.values()))


def percent(in_per_ft: float) -> float:
    """A slope in inches a foot as percent: / 12 x 100."""
    return in_per_ft / 12 * 100


def hose_slope(
    outlet_in: float,
    inlet_in: float,
    length_ft: float,
    *,
    diameter_in: float = 3.0,
    spacing_ft: float = 2.0,
    region: str = "",
) -> Slope:
    """Judges a hose that runs straight from the trailer's outlet down to the inlet.

    Args:
        outlet_in: height of the trailer's outlet, in inches.
        inlet_in: height of the ground inlet above the same level, in inches.
        length_ft: of the hose, in feet.
        diameter_in: of the hose.
        spacing_ft: the most feet from one support to the next.
        region: of `region.REGIONS`; "" takes the strictest code.

    Returns:
        STOP when it does not fall at all; CAUTION below the borrowed limit or below a quarter
        inch a foot.  No code has a greatest slope for a drain this size (IPC 704.1, from memory);
        that a steep one leaves solids behind has no source, and most sites are steep.

    Raises:
        InputError: a length or spacing that is not above zero.
    """
    if length_ft <= 0 or spacing_ft <= 0:
        raise InputError("The hose's length and the supports' spacing must be above zero.")
    if length_ft / spacing_ft > MOST_SPANS:
        raise InputError(f"More than {MOST_SPANS} supports are no sewer hose: check the length.")
    fall = outlet_in - inlet_in
    rate, least = fall / length_ft, least_slope(diameter_in, region)
    if fall <= 0:
        verdict, say = Verdict.STOP, "sewer.uphill"
    elif rate < least:
        verdict, say = Verdict.CAUTION, "sewer.flat"
    elif rate < AIM_IN_PER_FT:
        verdict, say = Verdict.CAUTION, "sewer.shallow"
    else:
        verdict, say = Verdict.OK, "sewer.good"
    spans = max(1, ceil(length_ft / spacing_ft - 1e-9))
    supports = tuple(
        (length_ft * i / spans, outlet_in - fall * i / spans) for i in range(1, spans)
    )
    if fall <= 0 or not supports:
        supports = ()
    return Slope(
        verdict=verdict,
        say=say,
        basis=_BASIS,
        region=(region or US) if say == "sewer.flat" else "",
        fall_in=fall,
        slope_percent=percent(rate),
        least_in=least * length_ft,
        aim_in=AIM_IN_PER_FT * length_ft,
        first_in=supports[0][1] if supports else outlet_in,
        last_in=supports[-1][1] if supports else inlet_in,
        step_in=fall / spans,
        spacing_ft=length_ft / spans,
        supports=supports,
    )
