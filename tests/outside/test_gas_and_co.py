"""Cylinders and alarms against their standards; nothing here says that air is safe."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.work.finding import Verdict
from handsfree.work.gas import alarm_window, fill_limit, weigh_cylinder
from handsfree.work.quantities import measure


def test_twenty_pound_cylinder() -> None:
    """NFPA 58, filling density of propane (from memory): 42 % of 47.6 lb of water, 19.99 lb."""
    assert fill_limit(47.6) == pytest.approx(19.99, abs=0.003)
    assert weigh_cylinder(17 + 19.9, 17, 47.6).verdict is Verdict.OK
    over = weigh_cylinder(17 + 20.1, 17, 47.6)
    assert (over.verdict, over.say) == (Verdict.STOP, "gas.over")


def test_eighty_percent_by_volume_is_the_same_limit() -> None:
    """The trade's shorthand, common practice: 80 % by volume.  With propane at 0.51 kg/L near 15 C and water
    at 1 (from memory) that is 41 % by weight, within the shorthand's rounding.
    """
    assert 0.80 * 0.51 == pytest.approx(fill_limit(1.0), abs=0.015)


@pytest.mark.parametrize(
    ("ppm", "earliest", "latest"), [(70, 60, 240), (150, 10, 50), (400, 4, 15)]
)
def test_alarm_windows(ppm: float, earliest: int, latest: int) -> None:
    """UL 2034 (quoted, the standard itself not seen)."""
    found = alarm_window(ppm)
    assert (found.earliest_min, found.latest_min) == (earliest, latest)
    assert found.verdict is Verdict.STOP


def test_silent_at_thirty() -> None:
    """UL 2034 (quoted, the standard itself not seen): at 30 ppm no alarm for 30 days."""
    found = alarm_window(30)
    assert found.latest_min is None
    assert found.verdict is Verdict.CAUTION
    assert "30 days" in found.basis


@given(st.floats(0, 100_000))
def test_no_level_is_called_safe(ppm: float) -> None:
    """UL 2034 sets alarms, not safe air."""
    assert alarm_window(ppm).verdict is not Verdict.OK


@given(st.floats(0, 2000), st.floats(0, 2000))
def test_more_gas_is_never_heard_later(one: float, other: float) -> None:
    """UL 2034: windows shorten as the level rises."""
    low, high = sorted((one, other))
    slow, quick = alarm_window(low).latest_min, alarm_window(high).latest_min
    assert slow is None or (quick is not None and quick <= slow)


def test_freezing_points() -> None:
    """Physical data (from memory): water 32 F = 0 C; propane boils at -44 F = -42 C, butane near
    31 F = -0.5 C.  Checks the temperatures that we read.
    """
    assert measure("0 C", "f") == pytest.approx(32)
    assert measure("-42 C", "f") == pytest.approx(-44, abs=0.5)
    assert measure("-0.5 C", "f") == pytest.approx(31, abs=0.2)
