"""Sunset and dusk against almanac times from memory, and against another ephemeris."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.work.daylight import civil_dusk, sun_height, sunset, until_dark
from handsfree.work.finding import Verdict

MERIDIAN = (51.4779, 0.0)
"""The observatory on the prime meridian, the reference of the almanacs."""


def _minutes(a: datetime | None, b: datetime) -> float:
    assert a is not None
    return abs((a - b).total_seconds()) / 60


@pytest.mark.parametrize(
    ("on", "clock"),
    [(date(2024, 3, 20), time(18, 14)), (date(2024, 6, 21), time(20, 21)),
     (date(2024, 12, 21), time(15, 53))],
)  # fmt: skip
def test_sunset_on_the_meridian(on: date, clock: time) -> None:
    """Published sunset at 51.5 N, 0 E, UTC, at equinox and solstices (from memory)."""
    assert _minutes(sunset(*MERIDIAN, on), datetime.combine(on, clock, UTC)) <= 2


@pytest.mark.parametrize(
    ("on", "clock"), [(date(2024, 6, 21), time(21, 9)), (date(2024, 12, 21), time(16, 34))]
)
def test_civil_dusk_on_the_meridian(on: date, clock: time) -> None:
    """Published end of civil twilight at 51.5 N, 0 E, UTC (from memory)."""
    assert _minutes(civil_dusk(*MERIDIAN, on), datetime.combine(on, clock, UTC)) <= 2


def test_equator() -> None:
    """Almanac rule (from memory): on the equator half the day is 6 h 3 to 4 min, refraction and
    the sun's radius included, counted from solar noon (12:07 mean time at the March equinox).
    """
    on = date(2024, 3, 20)
    assert _minutes(sunset(0, 0, on), datetime(2024, 3, 20, 18, 11, tzinfo=UTC)) <= 1.5


@pytest.mark.parametrize("latitude", [-45.0, -35.0, 0.0, 20.0, 40.0, 51.5, 60.0])
@pytest.mark.parametrize("longitude", [-156.0, -105.0, 0.0, 100.0, 179.0])
def test_another_ephemeris(latitude: float, longitude: float) -> None:
    """VSOP87 as in the library ephem: sun's upper limb at -34', its centre at -6 degrees."""
    ephem = pytest.importorskip("ephem", reason="the extra 'test' is not installed")
    zone = timezone(timedelta(hours=round(longitude / 15)))
    for on in (date(2024, 1, 15), date(2024, 3, 20), date(2024, 6, 21), date(2025, 10, 2)):
        noon = datetime.combine(on, time(12)) - timedelta(hours=longitude / 15)
        for found, horizon, centre in (
            (sunset(latitude, longitude, on, zone), "-0:34", False),
            (civil_dusk(latitude, longitude, on, zone), "-6", True),
        ):
            there = ephem.Observer()
            there.lat, there.lon, there.pressure = str(latitude), str(longitude), 0
            there.horizon, there.date = horizon, noon
            other = there.next_setting(ephem.Sun(), use_center=centre).datetime()
            assert _minutes(found, other.replace(tzinfo=UTC)) < (1.0 if latitude < 55 else 3.0)


@given(st.floats(-48, 48), st.floats(-180, 180), st.dates(date(2000, 1, 1), date(2050, 12, 31)))
@settings(max_examples=60, deadline=None)
def test_evening_by_evening(latitude: float, longitude: float, on: date) -> None:
    """Geometry: away from the poles the sun sets every evening, and 20 to 50 minutes later it
    is six degrees down; at sunset it stands on the horizon.
    """
    zone = timezone(timedelta(hours=round(longitude / 15)))
    down, dark = sunset(latitude, longitude, on, zone), civil_dusk(latitude, longitude, on, zone)
    assert down is not None and dark is not None
    assert down.date() == on == dark.date()
    assert timedelta(minutes=20) < dark - down < timedelta(minutes=50)
    assert sun_height(latitude, longitude, down) == pytest.approx(-0.5, abs=0.5)


def test_polar_summer_and_winter() -> None:
    """Geometry: north of 66.6 degrees the sun stays up at one solstice and down at the other."""
    zone = timezone(timedelta(hours=1))
    summer = until_dark(75, 15, datetime(2024, 6, 21, 20, tzinfo=zone))
    assert (summer.verdict, summer.say, summer.left_min) == (Verdict.OK, "dusk.never", None)
    winter = until_dark(75, 15, datetime(2024, 12, 21, 12, tzinfo=zone))
    assert (winter.verdict, winter.say) == (Verdict.CAUTION, "dusk.always")


def test_dusk_after_midnight_belongs_to_the_evening_before() -> None:
    """Geometry: at 60 N in June the sun sets before midnight and it gets dark after it."""
    zone = timezone(timedelta(hours=2))
    on = date(2024, 6, 21)
    down, dark = sunset(60, 10, on, zone), civil_dusk(60, 10, on, zone)
    assert down is not None and dark is not None
    assert (down.date(), dark.date()) == (on, date(2024, 6, 22))
    evening = until_dark(60, 10, datetime(2024, 6, 21, 23, 50, tzinfo=zone))
    assert evening.left_min is not None and 30 < evening.left_min < 60
    later = until_dark(60, 10, datetime(2024, 6, 22, 0, 10, tzinfo=zone))
    assert later.left_min == evening.left_min - 20
    assert later.sunset == evening.sunset
