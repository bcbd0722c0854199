"""When the sun sets and when it is dark, at a place and a date.

The only file that imports astral, and only when asked.  It reads no clock: the moment comes in.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict

YEARS = (1901, 2099)
"""For which the formulas of the sun are good: Meeus, Astronomical Algorithms, from memory."""

CIVIL_DEG = 6.0
"""Civil dusk: the sun's centre six degrees under the horizon; after it work outdoors needs a
lamp."""


@dataclass(frozen=True, kw_only=True)
class Dusk(Finding):
    """Local times as ``HH:MM``; None where the sun does not set or it does not get dark."""

    sunset: str | None
    dusk: str | None
    left_min: int | None
    """Minutes from the moment asked about to civil dusk; below zero after it."""
    spare_min: int | None
    """The same less what the work needs."""
    dusk_at: datetime | None


def sunset(latitude: float, longitude: float, on: date, zone: tzinfo = UTC) -> datetime | None:
    """Sunset on a local date: upper limb on the horizon, standard refraction; None if none.

    Args:
        latitude: degrees, north positive.
        longitude: degrees, east positive.
        on: the date at the place.
        zone: the place's time zone.

    Raises:
        InputError: coordinates that do not exist.
    """
    return _event("sunset", latitude, longitude, on, zone)


def civil_dusk(latitude: float, longitude: float, on: date, zone: tzinfo = UTC) -> datetime | None:
    """The end of civil twilight that evening; None where it does not end or never begins."""
    return _event("dusk", latitude, longitude, on, zone)


def sun_height(latitude: float, longitude: float, at: datetime) -> float:
    """Degrees of the sun's centre over the horizon, refraction included."""
    from astral import Observer
    from astral.sun import elevation

    _check(latitude, longitude)
    return float(elevation(Observer(latitude, longitude), at))


def until_dark(
    latitude: float, longitude: float, now: datetime, *, need_min: float | None = None
) -> Dusk:
    """How long the daylight lasts, counted to civil dusk.

    Args:
        latitude: degrees, north positive.
        longitude: degrees, east positive.
        now: the moment asked about, with its time zone.
        need_min: minutes that the work takes; None if unknown.

    Returns:
        CAUTION when it is dark already or the work would end in the dark.

    Raises:
        InputError: coordinates that do not exist, a moment without a time zone, or outside `YEARS`.
    """
    if now.tzinfo is None:
        raise InputError("The time must come with its time zone.")
    if not YEARS[0] <= now.year <= YEARS[1]:
        raise InputError(f"Dusk is worked out for the years {YEARS[0]} to {YEARS[1]} only.")
    zone = now.tzinfo
    today, yesterday = now.date(), now.date() - timedelta(days=1)
    setting, dusk = (event(latitude, longitude, today, zone) for event in (sunset, civil_dusk))
    # A summer's dusk past midnight belongs to the evening before.
    before = civil_dusk(latitude, longitude, yesterday, zone)
    if before is not None and before > now:
        setting, dusk = sunset(latitude, longitude, yesterday, zone), before
    left = spare = None
    if dusk is not None:
        left = round((dusk - now).total_seconds() / 60)
        spare = None if need_min is None else round(left - need_min)
    high = sun_height(latitude, longitude, now)
    if dusk is None:
        dark = high < -CIVIL_DEG
        verdict = Verdict.CAUTION if dark else Verdict.OK
        say = "dusk.always" if dark else "dusk.never"
    elif high < -CIVIL_DEG or (left is not None and left <= 0):
        verdict, say = Verdict.CAUTION, "dusk.dark"
    elif spare is not None and spare < 0:
        verdict, say = Verdict.CAUTION, "dusk.short"
    else:
        verdict, say = Verdict.OK, "dusk.left"
    return Dusk(
        verdict=verdict,
        say=say,
        basis="Civil dusk, sun 6 degrees down; flat horizon: hills and trees bring it earlier",
        sunset=f"{setting:%H:%M}" if setting else None,
        dusk=f"{dusk:%H:%M}" if dusk else None,
        left_min=left,
        spare_min=spare,
        dusk_at=dusk,
    )


def _event(
    name: str, latitude: float, longitude: float, on: date, zone: tzinfo
) -> datetime | None:
    from astral import Observer, sun

    _check(latitude, longitude)
    place = Observer(latitude, longitude)
    noon = sun.noon(place, on, tzinfo=zone)
    # For a date astral gives the event that falls between its two midnights.  In a northern
    # summer that is the evening before's; ours is the first after that day's noon.
    for day in (on, on + timedelta(days=1)):
        try:
            found: datetime = getattr(sun, name)(place, day, tzinfo=zone)
        except ValueError:
            continue
        if noon < found < noon + timedelta(days=1):
            return found
    return None


def _check(latitude: float, longitude: float) -> None:
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise InputError("Latitude goes from -90 to 90 degrees, longitude from -180 to 180.")
