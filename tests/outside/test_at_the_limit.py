"""Judgements exactly at their limit, and a hair beyond: swapping `<` for `<=` in a calculation fails here.

The limits themselves, and where each is from, stand in `docs/sources.yaml`; what lies well on both sides of them is
tried beside each source.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from handsfree.errors import InputError
from handsfree.work import battery, cord, daylight, fuel, gas
from handsfree.work.finding import Verdict

HAIR = 1e-9


def test_a_battery_that_lasts_just_as_long_as_it_has_to() -> None:
    least = battery.battery_hours(100, "sealed", load_w=60).least_hours
    assert battery.battery_hours(100, "sealed", load_w=60, need_hours=least).verdict is Verdict.OK
    assert battery.battery_hours(100, "sealed", load_w=60, need_hours=least + HAIR).verdict is Verdict.CAUTION


@pytest.mark.parametrize(("edition", "lowest"), (("2006", 106.0), ("2011", 104.0)))
def test_what_arrives_at_the_lowest_of_range_b(edition: str, lowest: float) -> None:
    """ANSI C84.1, table 1; without a current nothing is lost on the way."""
    at, below = (cord.cord_drop(10, 25, 0, source_v=volts, breaker_a=30, edition=edition)  # type: ignore[arg-type]
                 for volts in (lowest, lowest - 1e-6))
    assert at.say != "cord.starved" and below.say == "cord.starved"


def test_what_arrives_at_the_lowest_of_230_volts() -> None:
    """IEC 60038: 198 V at the load."""
    at, below = (cord.mains_drop(2.5, 25, 0, source_v=volts) for volts in (198.0, 198.0 - 1e-6))
    assert at.say != "cord.starved" and below.say == "cord.starved"


@pytest.mark.parametrize(("limit", "over"), (("BRANCH_PERCENT", "cord.over"), ("TOTAL_PERCENT", "cord.far-over")))
@pytest.mark.parametrize("mains", (False, True))
def test_a_drop_of_just_so_many_percent_is_not_over_it(
    limit: str, over: str, mains: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Drop that comes to the limit to the last bit: the limit is put where the drop is."""
    def judged() -> cord.CordDrop | cord.MainsDrop:
        return (cord.mains_drop(2.5, 80, 10, breaker_a=16) if mains else
                cord.cord_drop(10, 60, 12, source_v=126, breaker_a=30))

    drop = judged().drop_percent
    other = "TOTAL_PERCENT" if limit == "BRANCH_PERCENT" else "BRANCH_PERCENT"
    monkeypatch.setattr(cord, other, 99.0)
    monkeypatch.setattr(cord, limit, drop)
    assert judged().say == "cord.good"
    monkeypatch.setattr(cord, limit, drop - HAIR)
    assert judged().say == over


def test_dusk_with_not_a_minute_to_spare() -> None:
    now = datetime(2026, 6, 1, 18, tzinfo=UTC)
    left = daylight.until_dark(50, 0, now).left_min
    assert left is not None and left > 60
    assert daylight.until_dark(50, 0, now, need_min=left).verdict is Verdict.OK
    assert daylight.until_dark(50, 0, now, need_min=left + 1).verdict is Verdict.CAUTION
    assert daylight.until_dark(50, 0, now + timedelta(minutes=left + 1)).say == "dusk.dark"


def test_fuel_that_just_reaches_and_an_economy_that_just_can_be() -> None:
    rig = {"weight_lb": 12000.0, "height_ft": 11.0}
    most = (1 - fuel.RESERVE) * fuel.fuel_range(20, 10, 60, 20, **rig).least_mi
    assert fuel.fuel_range(20, 10, 60, 20, distance_mi=most, **rig).verdict is Verdict.OK
    assert fuel.fuel_range(20, 10, 60, 20, distance_mi=most + HAIR, **rig).verdict is Verdict.CAUTION


def test_a_cylinder_filled_to_the_last_digit_of_its_collar() -> None:
    """NFPA 58: 42 percent of the water capacity; a collar is stamped to a tenth of a pound."""
    limit = gas.fill_limit(47.6)
    assert gas.weigh_cylinder(17 + limit, 17, 47.6).verdict is Verdict.OK
    assert gas.weigh_cylinder(17 + limit + 0.1, 17, 47.6).verdict is Verdict.STOP


def test_a_furnace_holds_below_what_it_is_set_to() -> None:
    assert gas.furnace_duty(40, 65, 64.9) == pytest.approx(25 / 0.1)
    with pytest.raises(InputError):
        gas.furnace_duty(40, 65, 65)


def test_boil_off_is_whole_at_the_tables_coldest_row() -> None:
    """Kohler TP-6727 10/11, appendix D: 0 F is its first column, and below it less boils off."""
    at, below = gas.vapour(100, 100, 0), gas.vapour(100, 100, -1)
    assert at == 113000 and below < at
