"""One finding for every sentence that the calculations can say."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

from handsfree.work.battery import battery_hours, judge_battery
from handsfree.work.cord import cord_drop, mains_drop
from handsfree.work.daylight import until_dark
from handsfree.work.finding import Finding
from handsfree.work.fuel import fuel_range
from handsfree.work.gas import Burner, alarm_window, gas_days, weigh_cylinder
from handsfree.work.generator import run_time
from handsfree.work.levelling import Risers, fridge, jack_pile, level_fore, level_side, untold
from handsfree.work.power import SUPPLIES, Load, judge_supply, load_sum
from handsfree.work.sewer import hose_slope
from handsfree.work.sun import harvest
from handsfree.work.tester import Lamp, read_tester
from handsfree.work.ticket import Ratings, Weighing, read_ticket
from handsfree.work.towing import breakaway_hold, judge_axles, judge_chains, judge_tongue
from handsfree.work.tyres import judge_tyres
from handsfree.work.voltage import judge_loaded, judge_voltage
from handsfree.work.water import dose, judge_pressure, tank_days, water_weight

ALONE = Weighing(3000, 3000)
HITCHED = Weighing(2700, 4020, 5280)
BARS = Weighing(2880, 3700, 5420)
RATED = Ratings(trailer_axles_lb=7000)


def _levels() -> list[Finding]:
    return [
        level_side(0.4, "left", 96),
        level_side(2, "left", 96, Risers((3.0,))),
        level_side(1, "right", 96, Risers(pieces=8), wheels=2),
        level_side(4, "left", 96, Risers((3.0,))),
        level_side(4, "left", 96),
        untold(level_side(4, "left", 96)),
        level_side(4, "left", 96, limit_deg=3),
        level_fore(0.4, "front", 240),
        level_fore(2, "front", 240),
        level_fore(2, "rear", 240),
        level_fore(2, "front", 240, travel_in=6),
        level_fore(2, "rear", 240, travel_in=6),
        level_fore(2, "either", 240, travel_in=6),
        level_fore(1, "either", 240, travel_in=6),
        jack_pile(2, "front", 240, 6),
        jack_pile(2, "rear", 240, 6),
        level_fore(8, "rear", 240, limit_deg=6),
        fridge(1, 1),
        fridge(4, 1),
    ]


def _electrical() -> list[Finding]:
    steady = [Load("heater", 25 * 120, steady=True)]
    two_steady = [Load("heater", 45 * 120, leg=2, steady=True)]
    lamps = [
        {Lamp.HOT_NEUTRAL, Lamp.HOT_GROUND}, {Lamp.HOT_NEUTRAL}, {Lamp.HOT_GROUND}, set(),
        {Lamp.HOT_GROUND, Lamp.NEUTRAL_GROUND}, {Lamp.HOT_NEUTRAL, Lamp.NEUTRAL_GROUND}, set(Lamp),
    ]  # fmt: skip
    return [
        load_sum([Load("kettle", 1500)], SUPPLIES[30]),
        load_sum(steady, SUPPLIES[30]),
        load_sum(two_steady, SUPPLIES[50]),
        load_sum([Load("all", 3700)], SUPPLIES[30]),
        load_sum([Load("all", 7000, leg=2)], SUPPLIES[50]),
        cord_drop(10, 25, 30),
        cord_drop(10, 50, 30),
        cord_drop(10, 90, 30),
        cord_drop(10, 90, 30, source_v=110),
        cord_drop(14, 10, 30),
        cord_drop(12, 10, 24, breaker_a=30),
        cord_drop(12, 10, 24),
        *(judge_battery(v, "lead-acid") for v in (12.6, 12.0, 11.0)),
        *(judge_voltage([v]) for v in (120, 125.5, 106, 126.5, 100, 130, 0)),
        judge_voltage([131, 109]),
        *(judge_supply(a) for a in (30, 40)),
        *(judge_supply(50, parts={part: 30}) for part in ("cord", "main")),
        judge_supply(7, mains=True),
        mains_drop(1.5, 60, 10),
        mains_drop(2.5, 90, 10),
        *(judge_loaded(volts, 120) for volts in (119, 110, 100, 130)),
        judge_voltage([124, 110]),
        judge_voltage([120, 120], between_v=1),
        judge_voltage([120, 120], between_v=208),
        *(read_tester(frozenset(lit)) for lit in lamps),
    ]


def _water_and_drain() -> list[Finding]:
    return [
        judge_pressure(55),
        judge_pressure(0),
        judge_pressure(70),
        judge_pressure(70, limit_psi=60),
        judge_pressure(90),
        judge_pressure(90, setting_psi=35),
        dose(40, 6),
        water_weight(40),
        *(hose_slope(12 + fall, 12, 20, region="US") for fall in (6, 4, 2, -1)),
    ]


def _towing() -> list[Finding]:
    return [
        *(judge_tongue(t, 6000) for t in (720, 500, 1000, 100)),
        judge_tongue(720, 6000, rating_lb=700),
        judge_axles([3000], 3500, 1800),
        judge_axles([3400], 3500, 1800),
        judge_axles([3550], 3500, 1800),
        judge_axles([3700], 3500, 1800),
        judge_axles([3000], 3500, 1600),
        judge_chains(7000, 6000),
        judge_chains(5000, 6000),
        breakaway_hold(9, 4),
        breakaway_hold(6.7, 4),
        breakaway_hold(1, 4),
        *(judge_tyres([p], 65, cold=True) for p in (65, 60, 70, 45, 90)),
        judge_tyres([60], 65, cold=False),
        judge_tyres([70], 65, cold=False),
        read_ticket(ALONE, HITCHED, BARS, ratings=RATED),
        read_ticket(ALONE, HITCHED, BARS),
        read_ticket(ALONE, HITCHED, BARS, ratings=Ratings(trailer_lb=5500)),
        read_ticket(ALONE, Weighing(2900, 3600, 5280), ratings=RATED),
        read_ticket(ALONE, Weighing(2600, 4500, 5280), ratings=RATED),
        read_ticket(ALONE, HITCHED, Weighing(3200, 3300, 5500), ratings=RATED),
        read_ticket(ALONE, HITCHED, Weighing(2880, 3700, 5920), ratings=RATED),
    ]


def _air_and_light() -> list[Finding]:
    zone = timezone(timedelta(hours=1))
    evening = datetime(2024, 6, 21, 19, tzinfo=UTC)
    return [
        weigh_cylinder(30, 17, 47.6),
        weigh_cylinder(40, 17, 47.6),
        alarm_window(20),
        alarm_window(80),
        until_dark(51.5, 0, evening, need_min=60),
        until_dark(51.5, 0, evening, need_min=200),
        until_dark(51.5, 0, evening.replace(hour=23)),
        until_dark(75, 15, datetime(2024, 6, 21, 20, tzinfo=zone)),
        until_dark(75, 15, datetime(2024, 12, 21, 12, tzinfo=zone)),
    ]


def _camping() -> list[Finding]:
    stove = [Burner("stove", 7000, 1)]
    generator = {"fuel_gal": 0.8, "tank_gal": 1, "rated_w": 1800, "full_hours": 4}
    rig = {"weight_lb": 12000.0, "height_ft": 11.0}
    return [
        battery_hours(100, "lead-acid", load_w=60),
        battery_hours(100, "lead-acid", load_w=60, need_hours=15),
        battery_hours(100, "lithium", load_w=60, temperature_f=20),
        harvest(40, 172, 200), harvest(40, 355, 200, need_wh=1000), harvest(75, 355, 200),
        gas_days(20, burners=stove),
        gas_days(20, burners=stove, need_days=90),
        gas_days(4, furnace_btuh=20000, outside_f=10),
        gas_days(20, furnace_btuh=20000, outside_f=-5),
        tank_days(2, fresh_gal=40, grey_gal=30),
        tank_days(2, fresh_gal=40, grey_gal=30, need_days=7),
        tank_days(2, fresh_gal=1),
        run_time(**generator, load_w=600),
        run_time(**generator, load_w=600, need_hours=9),
        run_time(**generator, load_w=1900),
        fuel_range(20, 10, 60, 20, **rig),
        fuel_range(20, 10, 60, 20, **rig, distance_mi=150),
    ]


def every_finding() -> list[Finding]:
    """At least one finding for every key under ``say:``."""
    return [*_levels(), *_electrical(), *_water_and_drain(), *_towing(), *_air_and_light(),
            *_camping()]
