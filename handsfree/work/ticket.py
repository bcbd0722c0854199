"""What the tickets of a truck scale say: truck alone, hitched, and hitched with the bars on.

Pure: standard library, `errors`, `finding` and `towing`.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict
from handsfree.work.towing import SHARE_PERCENT, Hitch

SCATTER_LB = 100.0
"""Totals of two hitched weighings further apart than this are not of the same load; a margin
of our own: scales print steps of about 20 lb for each of three platforms."""


@dataclass(frozen=True)
class Weighing:
    """One ticket, pounds on each platform."""

    steer_lb: float
    drive_lb: float
    trailer_lb: float = 0.0

    @property
    def truck_lb(self) -> float:
        """On the truck's own axles."""
        return self.steer_lb + self.drive_lb

    @property
    def total_lb(self) -> float:
        """On all axles."""
        return self.truck_lb + self.trailer_lb


@dataclass(frozen=True)
class Ratings:
    """From the placards, in pounds; None where unknown, which leaves that check out."""

    steer_lb: float | None = None
    drive_lb: float | None = None
    truck_lb: float | None = None
    trailer_axles_lb: float | None = None
    trailer_lb: float | None = None
    combined_lb: float | None = None
    hitch_lb: float | None = None


@dataclass(frozen=True, kw_only=True)
class Ticket(Finding):
    """All from differences between the weighings."""

    gross_lb: float
    """The loaded trailer."""
    tongue_lb: float
    share_percent: float
    front_lost_lb: float
    """What hitching took off the steer axle, without bars."""
    front_back_percent: float | None
    """How much of that the bars put back."""
    moved_lb: float | None
    """What the bars moved onto the trailer's axles."""
    what: str
    """The rating most exceeded, or "nothing"."""
    over_lb: float
    unknown: tuple[str, ...]
    """Ratings that were not given and so not checked."""


def read_ticket(
    alone: Weighing,
    hitched: Weighing,
    with_bars: Weighing | None = None,
    *,
    ratings: Ratings = Ratings(),
    hitch: Hitch = "ball",
    share_percent: tuple[float, float] | None = None,
) -> Ticket:
    """Works the tickets out.

    Trailer's gross = total hitched - truck alone.  Tongue = what hitching without bars adds to
    the truck's axles.  Bars: share of the lost front load that came back = (steer with bars -
    steer hitched) / (steer alone - steer hitched).  Statics, and common practice at scales;
    everybody and everything must stay aboard from one weighing to the next.  `share_percent` are
    the rig's own limits for the share on the hitch, in place of the usual range.

    Returns:
        STOP over any rating that was given, judged as it goes on the road (with bars if they
        were weighed), and for a tongue share outside the rig's own limits; CAUTION for one
        outside the usual range, tickets that do not belong together, bars that take more off the
        front or push it above its own weight, and when no rating at all was given.

    Raises:
        InputError: tickets in the wrong order or with the trailer missing.
    """
    weights = [w for w in (alone, hitched, with_bars) if w is not None]
    if any(min(w.steer_lb, w.drive_lb, w.trailer_lb) < 0 for w in weights):
        raise InputError("A weight on a ticket must not be below zero.")
    if alone.trailer_lb or not alone.truck_lb:
        raise InputError("The first ticket must be the truck alone, with no trailer on the scale.")
    if not hitched.trailer_lb or (with_bars is not None and not with_bars.trailer_lb):
        raise InputError("The tickets with the trailer must show a weight on its axles.")
    gross, tongue = hitched.total_lb - alone.total_lb, hitched.truck_lb - alone.truck_lb
    if tongue <= 0:
        raise InputError("The hitched truck is not heavier than the truck alone: check the order.")
    # Rounded, so that exactly ten percent is ten whatever the binary digits say.
    share = round(100.0 * tongue / gross, 6)
    lost = alone.steer_lb - hitched.steer_lb
    back = moved = None
    if with_bars is not None:
        regained = with_bars.steer_lb - hitched.steer_lb
        back = round(100.0 * regained / lost, 6) if lost else None
        moved = with_bars.trailer_lb - hitched.trailer_lb
    road = with_bars or hitched
    loads = {
        "steer": (road.steer_lb, ratings.steer_lb),
        "drive": (road.drive_lb, ratings.drive_lb),
        "truck": (road.truck_lb, ratings.truck_lb),
        "trailer-axles": (road.trailer_lb, ratings.trailer_axles_lb),
        "trailer": (gross, ratings.trailer_lb),
        "combined": (road.total_lb, ratings.combined_lb),
        "hitch": (tongue, ratings.hitch_lb),
    }
    overs = {name: load - top for name, (load, top) in loads.items() if top is not None}
    what = max(overs, key=lambda name: overs[name], default="nothing")
    over = max(overs.get(what, 0.0), 0.0)
    low, high = share_percent or SHARE_PERCENT[hitch]
    astray = Verdict.STOP if share_percent else Verdict.CAUTION
    if over:
        verdict, say = Verdict.STOP, "ticket.over"
    elif with_bars and abs(with_bars.total_lb - hitched.total_lb) > SCATTER_LB:
        verdict, say = Verdict.CAUTION, "ticket.scatter"
    elif share < low:
        verdict, say = astray, "ticket.light"
    elif share > high:
        verdict, say = astray, "ticket.heavy"
    elif back is not None and not 0 <= back <= 100:
        verdict, say = Verdict.CAUTION, "ticket.bars"
    elif not overs:
        verdict, say = Verdict.CAUTION, "ticket.unrated"
    else:
        verdict, say = Verdict.OK, "ticket.good"
    return Ticket(
        verdict=verdict,
        say=say,
        basis=f"Differences of weighings; {low:g} to {high:g} percent: trade practice",
        gross_lb=gross,
        tongue_lb=tongue,
        share_percent=share,
        front_lost_lb=lost,
        front_back_percent=back,
        moved_lb=moved,
        what=what if over else "nothing",
        over_lb=over,
        unknown=tuple(name for name, (_, top) in loads.items() if top is None),
    )
