"""Judgements exactly at their limit, and a hair beyond: swapping `<` for `<=` in a calculation fails here.

The limits themselves, and where each is from, stand in `docs/sources.yaml`; what lies well on both sides of them is
tried beside each source.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from handsfree.errors import InputError
from handsfree.work import (
    battery,
    cord,
    daylight,
    fuel,
    gas,
    generator,
    levelling,
    power,
    sewer,
    sun,
    ticket,
    towing,
    tyres,
    voltage,
    water,
)
from handsfree.work.finding import Finding, Verdict
from handsfree.work.levelling import Risers

OK, CAUTION, STOP = Verdict.OK, Verdict.CAUTION, Verdict.STOP
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


# --- levelling ------------------------------------------------------------------------------

def test_a_lean_of_just_half_a_degree_is_level_and_wants_no_ramp() -> None:
    """Half a degree: common practice, no source."""
    at, over = (levelling.level_side(lean, "left", 84, Risers((1.0, 2.0))) for lean in (0.5, 0.5 + HAIR))
    assert (at.say, at.step, at.lift_in) == ("level.side.good", None, 0.0)
    assert over.say == "level.side.step" and over.step == 1
    fore, more = (levelling.level_fore(lean, "front", 200) for lean in (0.5, 0.5 + HAIR))
    assert fore.say == "level.fore.good" and more.say == "level.fore.up"


def test_what_a_step_leaves_may_be_just_as_much_as_counts_for_level(monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit is put where the step leaves the trailer; half a degree is common practice, no source."""
    def judged(*steps: float, **own: float) -> levelling.SideLevel:
        return levelling.level_side(3, "left", 84, Risers(steps, **own))  # type: ignore[arg-type]

    left = abs(judged(3.8).remaining_deg)
    monkeypatch.setattr(levelling, "CLOSE_ENOUGH_DEG", left)
    assert (judged(3.8).verdict, judged(3.8).say) == (OK, "level.side.step")
    loose = judged(3.8, piece_in=1.1, pieces=4)  # four loose pieces come closer, and are less steady than the step
    assert loose.step == 1 and abs(loose.remaining_deg) == left
    monkeypatch.setattr(levelling, "CLOSE_ENOUGH_DEG", left - HAIR)
    assert (judged(3.8).verdict, judged(3.8).say) == (STOP, "level.side.short")
    assert judged(3.8, piece_in=1.1, pieces=4).say == "level.side.pieces"


def test_a_lean_of_just_what_the_rigs_manual_allows() -> None:
    """The rig's own figure."""
    for lean, beyond in ((4.0, False), (4.0 + HAIR, True)):
        side = levelling.level_side(lean, "left", 84, Risers((5.9,)), limit_deg=4)
        fore = levelling.level_fore(lean, "front", 200, limit_deg=4)
        assert (side.say == "level.side.beyond") is beyond is (side.verdict is STOP)
        assert (fore.say == "level.fore.beyond") is beyond is (fore.verdict is STOP)


def test_a_piece_of_just_half_an_inch_may_lie_under_one_wheel_of_two() -> None:
    """Half an inch under one wheel of a tandem: common practice, no source; the axle's manual decides."""
    assert [lift.wheels for lift in levelling.lifts(Risers((), 0.5, 2), 2)] == [0, 1, 2]
    assert [lift.wheels for lift in levelling.lifts(Risers((), 0.5 + HAIR, 2), 2)] == [0, 2]


def test_a_jack_that_just_reaches() -> None:
    """Plane trigonometry: 200 in x tan 2 degrees."""
    move = levelling.rise(200, 2)
    for travel, reaches in ((move, True), (move - HAIR, False)):
        assert (levelling.level_fore(2, "front", 200, travel_in=travel).verdict is OK) is reaches
        assert (levelling.jack_pile(2, "front", 200, travel).say == "level.pile.good") is reaches


@pytest.mark.parametrize(("side", "fore"), ((3, 0), (-3, 0), (0, 6), (0, -6)))
def test_a_fridge_at_its_own_limit(side: float, fore: float) -> None:
    """Three degrees across, six along: common practice, no source; the unit's own manual decides."""
    assert levelling.fridge(side, fore).verdict is OK
    over = 1 + HAIR
    assert levelling.fridge(side * over, fore * over).verdict is STOP


# --- power ----------------------------------------------------------------------------------

def test_loads_that_come_to_the_breaker_to_the_last_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    """NFPA 70 210.20(A), from memory: 1.25 x what runs for hours, and the rest, up to the breaker. 24 A for hours
    are 30 A; 3,600 W are 30 A at 120 V."""
    monkeypatch.setattr(power, "_HAIR", 0.0)
    post = power.SUPPLIES[30]
    for watts, steady, beyond in ((3600.0, False, STOP), (2880.0, True, CAUTION)):
        at, over = (power.load_sum([power.Load("all", one, steady=steady)], post) for one in (watts, watts + 1e-3))
        assert (at.verdict, over.verdict) == (OK, beyond)


@pytest.mark.parametrize("part", ("adapter", "cord", "inlet"))
def test_a_part_that_carries_just_what_the_breaker_lets_through(
    part: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """NFPA 70 240.5(A), IEC 60364-4-43, 433.1; from memory."""
    monkeypatch.setattr(power, "_HAIR", 0.0)
    at, below = (power.judge_supply(30, parts={part: amps}) for amps in (30.0, 30.0 - 1e-6))
    assert (at.verdict, at.say) == (OK, "power.supply") and (below.verdict, below.say) == (STOP, "power.too-big")


# --- sewer ----------------------------------------------------------------------------------

@pytest.mark.parametrize(("inches", "region", "least"), (
    (3, "US", 1 / 8), (3 - HAIR, "US", 1 / 4), (8, "US", 1 / 16), (8 - HAIR, "US", 1 / 8),
    (4, "", 1 / 8), (4 - HAIR, "", 1 / 4)))
def test_the_rows_of_the_tables_of_drains(inches: float, region: str, least: float) -> None:
    """IPC table 704.1: 2 1/2 in and smaller 1/4, 3 to 6 in 1/8, 8 in and larger 1/16 in a foot; UPC 708.1: 1/4
    up to 3 in. Both from memory."""
    assert sewer.least_slope(inches, region) == least


def test_a_hose_that_lies_level_runs_uphill_and_one_at_the_aim_is_good() -> None:
    """A quarter inch a foot: common practice."""
    level = sewer.hose_slope(5, 5, 20)
    assert (level.verdict, level.say, level.supports) == (STOP, "sewer.uphill", ())
    assert sewer.hose_slope(5 + HAIR, 5, 20).say == "sewer.flat"
    at, below = (sewer.hose_slope(fall, 0, 20, region="US") for fall in (5.0, 5.0 - HAIR))
    assert (at.say, below.say) == ("sewer.good", "sewer.shallow")


# --- sun ------------------------------------------------------------------------------------

def test_a_clear_day_that_gives_just_what_it_takes() -> None:
    gives = sun.harvest(40, 172, 200).clear_wh
    assert sun.harvest(40, 172, 200, need_wh=gives).say == "sun.gives"
    assert sun.harvest(40, 172, 200, need_wh=gives + HAIR * gives).say == "sun.short"


def test_a_day_that_is_worth_one_watt_hour(monkeypatch: pytest.MonkeyPatch) -> None:
    """Less than one counts as no sun; a figure of our own, no source."""
    monkeypatch.setattr(sun, "DERATE", 0.5)
    for hours, say in ((1.0, "sun.gives"), (1.0 - HAIR, "sun.none")):
        monkeypatch.setattr(sun, "sun_hours", lambda *_, hours=hours: hours)
        assert sun.harvest(70, 355, 2.0).say == say


# --- the ticket of a scale ------------------------------------------------------------------

ALONE = ticket.Weighing(3000, 3000)


def weighed(tongue: float, gross: float, **more: object) -> ticket.Ticket:
    """A ticket of a trailer like this, a third of whose tongue comes off the steer axle."""
    hitched = ticket.Weighing(3000 - tongue / 3, 3000 + tongue * 4 / 3, gross - tongue)
    return ticket.read_ticket(ALONE, hitched, **more)  # type: ignore[arg-type]


RATED = ticket.Ratings(hitch_lb=900.0, trailer_lb=6000.0)


@pytest.mark.parametrize(("tongue", "say"), (
    (600, "ticket.good"), (599, "ticket.light"), (900, "ticket.good"), (901, "ticket.heavy")))
def test_a_share_of_just_ten_and_of_just_fifteen_percent(tongue: float, say: str) -> None:
    """10 to 15 percent: common practice; SAE J2807 tests near 10 (from memory)."""
    found = weighed(tongue, 6000, ratings=ticket.Ratings(trailer_lb=6000.0))
    assert found.say == say
    own = weighed(tongue, 6000, ratings=ticket.Ratings(trailer_lb=6000.0), share_percent=(10.0, 15.0))
    assert own.verdict is (OK if say == "ticket.good" else STOP)
    assert towing.judge_tongue(tongue, 6000).say == say.replace("ticket", "tongue")


def test_a_weight_of_just_its_rating() -> None:
    """The ratings on the placards."""
    assert weighed(900, 6000, ratings=RATED).verdict is OK
    assert weighed(900, 6000 + 1e-6, ratings=RATED).say == "ticket.over"
    assert weighed(900 + 1e-6, 6000, ratings=RATED).say == "ticket.over"
    assert towing.judge_tongue(600, 6000, rating_lb=600).verdict is OK
    assert towing.judge_tongue(600 + 1e-6, 6000, rating_lb=600).say == "tongue.rating"


@pytest.mark.parametrize(("more", "say"), ((100, "ticket.good"), (100.5, "ticket.scatter")))
def test_weighings_that_are_just_a_hundred_pounds_apart(more: float, say: str) -> None:
    """A margin of our own, no source."""
    hitched = ticket.Weighing(2800, 3800, 5400)
    bars = ticket.Weighing(2900, 3700, 5400 + more)
    assert ticket.read_ticket(ALONE, hitched, bars, ratings=ticket.Ratings(combined_lb=20000)).say == say


@pytest.mark.parametrize(("steer", "say"), (
    (2800, "ticket.good"), (2799, "ticket.bars"), (3000, "ticket.good"), (3001, "ticket.bars")))
def test_bars_that_put_back_nothing_and_all_of_it(steer: float, say: str) -> None:
    """From none of what hitching took off the front, to all of it: statics; beyond is a bar set wrong."""
    hitched = ticket.Weighing(2800, 3800, 5400)
    bars = ticket.Weighing(steer, 3800 - (steer - 2800), 5400)
    assert ticket.read_ticket(ALONE, hitched, bars, ratings=ticket.Ratings(combined_lb=20000)).say == say


# --- towing ---------------------------------------------------------------------------------

def test_a_share_of_just_four_percent() -> None:
    """UN regulation 55 and StVZO 44(3), from memory."""
    at, below = (towing.judge_tongue(pounds, 10000) for pounds in (400, 399))
    assert (at.say, below.say) == ("tongue.light", "tongue.none")


@pytest.mark.parametrize(("region", "pounds"), (("US", 1500.0), ("Europe", 1653.47)))
def test_a_trailer_without_brakes_of_just_the_weight_that_asks_for_them(region: str, pounds: float) -> None:
    """California Vehicle Code 26302(c); UN Regulation 13, category O1: above 750 kg, 1,653.47 lb. From memory."""
    assert towing.without_brakes(pounds, region).verdict is CAUTION
    assert towing.without_brakes(pounds - HAIR * pounds, region).verdict is OK


@pytest.mark.parametrize(("load", "axle", "tyre", "say"), (
    (4000, 4400, 2000, "axles.tyre"), (3500, 3500, 2000, "axles.over"), (1900, 4000, 2000, "axles.tyres-small"),
    (3800, 4000, 2000, "axles.near")))
def test_an_axle_at_each_of_its_limits(load: float, axle: float, tyre: float, say: str) -> None:
    """49 CFR 571.120 (from memory): tires of an axle rated for the axle; placard ratings; 95 percent is a margin of
    our own. Two tires an axle."""
    if say == "axles.tyres-small":
        assert towing.judge_axles([load], axle, tyre).say == "axles.good"
        assert towing.judge_axles([load], axle, tyre - HAIR * tyre).say == say
    else:
        assert towing.judge_axles([load], axle, tyre).say != say
        assert towing.judge_axles([load + HAIR * load], axle, tyre).say == say


@pytest.mark.parametrize(("pounds", "number"), ((2000, 1), (3500, 2), (5000, 3), (10000, 4)))
def test_a_trailer_at_the_top_of_its_class(pounds: float, number: int) -> None:
    """COMAR 11.13.08.10."""
    assert towing.trailer_class(pounds) == number
    if number < 4:
        assert towing.trailer_class(pounds + HAIR * pounds) == number + 1


def test_a_chain_that_just_holds() -> None:
    """SAE J684, class 2 (quoted): 3,500 lbf; 49 CFR 393.70(d), guidance: half the gross weight each."""
    for rule, least in (("each", 3500.0), ("combined", 1500.0)):
        at, below = (towing.judge_chains(pounds, 3000, rule) for pounds in (least, least - 1e-6))  # type: ignore[arg-type]
        assert (at.verdict, below.verdict) == (OK, STOP)


def test_brakes_that_hold_for_just_the_minutes_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """The 15 minutes of South Dakota 32-18-17 and 49 CFR 393.43(d), put where the battery ends."""
    found = towing.breakaway_hold(5, 2)
    for minutes, at, below in ((found.hold_min, OK, CAUTION), (found.best_min, CAUTION, STOP)):
        monkeypatch.setattr(towing, "BREAKAWAY_HOLD_MIN", minutes)
        assert towing.breakaway_hold(5, 2).verdict is at
        monkeypatch.setattr(towing, "BREAKAWAY_HOLD_MIN", minutes + HAIR * minutes)
        assert towing.breakaway_hold(5, 2).verdict is below


def test_a_manual_with_one_torque_figure_has_a_range_of_that_figure() -> None:
    assert (towing.set_torque(90, 90).say, towing.set_torque(90, 90.5).say) == ("nuts.figure", "nuts.range")


# --- tires ----------------------------------------------------------------------------------

def cold(*readings: float, placard: float = 64, most: float | None = None) -> tyres.Tyres:
    return tyres.judge_tyres(readings, placard, cold=True, most_psi=most)


def test_a_tire_just_a_quarter_under_its_placard() -> None:
    """FMVSS 138: a quarter under (from memory), borrowed; 3/4 of 64 is 48."""
    assert (cold(48).say, cold(48.01).say) == ("tyres.far-under", "tyres.low")
    assert (cold(48, 90).say, cold(48, 90).tyre) == ("tyres.far-under", 1)
    assert (cold(48.01, 90).say, cold(48.01, 90).tyre) == ("tyres.far-over", 2)


def test_a_tire_just_a_quarter_over_what_it_may_have() -> None:
    """A margin of our own, no source; 5/4 of 64 is 80."""
    assert (cold(80).say, cold(80.01).say) == ("tyres.high", "tyres.far-over")
    assert (cold(60, 80).say, cold(60, 80.01).say) == ("tyres.low", "tyres.far-over")


def test_a_gauge_may_be_one_psi_off_either_way() -> None:
    """A hand gauge: common practice, no source."""
    assert (cold(63).say, cold(62.99).say) == ("tyres.good", "tyres.low")
    assert (cold(65).say, cold(65.01).say) == ("tyres.good", "tyres.high")
    assert (cold(71, most=70).say, cold(71.01, most=70).say) == ("tyres.good", "tyres.high")
    assert (cold(63, 68).say, cold(62.99, 68).say) == ("tyres.high", "tyres.low"), "a low one is told first"


# --- voltage --------------------------------------------------------------------------------

@pytest.mark.parametrize(("volts", "band"), (
    (114, "A"), (126, "A"), (114 - 1e-6, "B"), (126 + 1e-6, "B"), (110, "B"), (127, "B"),
    (110 - 1e-6, "outside"), (127 + 1e-6, "outside")))
def test_the_edges_of_the_service_ranges(volts: float, band: str) -> None:
    """ANSI C84.1, table 1, from memory; 240 V: twice that."""
    assert voltage.service_band(volts) == voltage.service_band(2 * volts, 240) == band


@pytest.mark.parametrize(("edition", "a", "b"), (("2006", 110, 106), ("2011", 108, 104)))
def test_the_lowest_at_the_load_by_edition(edition: str, a: float, b: float) -> None:
    """ANSI C84.1, table 1, 1995 and 2006, 2011 and later; from memory."""
    for volts, band in ((a, "A"), (a - 1e-6, "B"), (b, "B"), (b - 1e-6, "outside")):
        assert voltage.judge_voltage([volts], edition=edition).band == band


def test_a_230_volt_outlet_at_its_limits_and_where_the_meter_leaves_doubt(monkeypatch: pytest.MonkeyPatch) -> None:
    """EN 50160, 4.2.2: 207 to 253 V (from memory); a meter that is one volt off for the test."""
    monkeypatch.setattr(voltage, "METER_SHARE", 0.0)
    monkeypatch.setattr(voltage, "METER_COUNTS_V", 1.0)
    for volts, verdict in ((207, CAUTION), (207 - 1e-6, STOP), (253, CAUTION), (253 + 1e-6, STOP),
                           (208, OK), (208 - 1e-6, CAUTION), (252, OK), (252 + 1e-6, CAUTION)):
        assert voltage.judge_mains(volts).verdict is verdict, volts


@pytest.mark.parametrize(("volts", "mains"), ((104, False), (127, False), (198, True), (253, True)))
def test_volts_under_load_at_their_limits(volts: float, mains: bool) -> None:
    """ANSI C84.1 (2011), table 1; IEC 60038, table A.1; from memory."""
    assert voltage.judge_loaded(volts, None, mains=mains).verdict is OK
    off = 1e-6 if volts in (127, 253) else -1e-6
    assert voltage.judge_loaded(volts + off, None, mains=mains).verdict is STOP


def test_a_drop_of_just_five_percent_under_load() -> None:
    """NFPA 70 215.2, informational note; from memory: 6 V of 120 V."""
    assert voltage.judge_loaded(114, 120).say == "loaded.good"
    assert voltage.judge_loaded(114 - 1e-6, 120).say == "loaded.drop"


def test_a_leg_of_just_20_volts_is_low_and_below_it_dead() -> None:
    """20 V: generic, from memory."""
    assert (voltage.judge_voltage([20]).say, voltage.judge_voltage([19.99]).say) == ("volts.too-low", "volts.dead")
    assert voltage.judge_voltage([20, 120]).say != "volts.dead" == voltage.judge_voltage([19.99, 120]).say
    assert voltage.judge_voltage([120, 120], between_v=20).say == "volts.between"
    assert voltage.judge_voltage([120, 120], between_v=19.99).say == "volts.same-leg"


@pytest.mark.parametrize(("legs", "say"), (
    ((117.0, 127.0), "volts.high"), ((116.9, 127.0), "volts.neutral"),  # 10 V apart, one above range A
    ((115.0, 126.0), "volts.uneven"), ((115.9, 126.1), "volts.neutral"),  # above 126 V, range A's highest
    ((115.0, 125.0), "volts.good"), ((114.9, 125.0), "volts.uneven"),
    ((104.0, 115.0), "volts.uneven"), ((103.9, 115.0), "volts.too-low")))  # 104 V, range B's lowest at the load
def test_two_legs_at_what_only_a_pair_shows(legs: tuple[float, float], say: str) -> None:
    """10 V apart: generic, from memory; the ranges: ANSI C84.1, table 1, from memory."""
    assert voltage.judge_voltage(legs).say == say


def test_leg_to_leg_is_held_to_95_percent_of_both() -> None:
    """120/208 V from three phases reads 208, 87 percent; 95 is common practice. 0.95 x 240 is 228."""
    assert voltage.judge_voltage([120, 120], between_v=228).say == "volts.good"
    assert voltage.judge_voltage([120, 120], between_v=227.99).say == "volts.between"
    assert voltage.judge_voltage([120, 127], between_v=200).say == "volts.between", "127 V is still in range B"


# --- water ----------------------------------------------------------------------------------

@pytest.mark.parametrize(("region", "psi"), (("US", 80.0), ("Europe", 72.519)))
def test_pressure_of_just_what_the_code_allows(region: str, psi: float) -> None:
    """UPC 608.2 (2015), IRC P2903.3.1: 80 psi; EN 806-2: 5 bar (from memory)."""
    assert not water.over_code(psi, region) and water.over_code(psi + 1e-6, region)
    own = water.judge_pressure(psi + 0.5, limit_psi=psi, region=region)
    assert own.say == "water.limit", "a manual's limit that is the code's is told as the rig's own"


@pytest.mark.parametrize(("psi", "own", "say"), (
    (15, None, "water.good"), (15 - 1e-6, None, "water.low"),  # UPC 608.1, from memory
    (60, None, "water.good"), (60 + 1e-6, None, "water.high"),  # common practice, no standard found
    (45, 45, "water.good"), (45 + 1e-6, 45, "water.limit")))  # the rig's own figure
def test_pressure_at_each_limit(psi: float, own: float | None, say: str) -> None:
    assert water.judge_pressure(psi, limit_psi=own, region="US").say == say


@pytest.mark.parametrize(("psi", "good"), ((40, True), (40 - 1e-6, False), (60, True), (60 + 1e-6, False)))
def test_a_regulator_at_the_ends_of_its_usual_setting(psi: float, good: bool) -> None:
    """40 to 60 psi: common practice, no standard found."""
    found = water.judge_pressure(70, setting_psi=psi, limit_psi=75, region="US")
    assert (found.say == "water.good") is good


def test_a_gauge_that_shows_just_five_more_than_the_regulator() -> None:
    """A margin of our own, no source."""
    at, over = (water.judge_gauge(psi, setting_psi=45) for psi in (50, 50.01))
    assert (at.say, over.say) == ("water.good", "water.creeps")


def test_water_that_just_lasts_and_a_days_drinking_water() -> None:
    """A gallon a person and day to drink: FEMA, from memory."""
    days = water.tank_days(2, fresh_gal=30).days
    assert water.tank_days(2, fresh_gal=30, need_days=days).say == "tank.lasts"
    assert water.tank_days(2, fresh_gal=30, need_days=days + HAIR).say == "tank.short"
    assert (water.tank_days(2, fresh_gal=2).say, water.tank_days(2, fresh_gal=1.99).say) == (
        "tank.lasts", "tank.drink")


def test_a_gray_tank_lasts_for_ever_where_all_goes_into_the_black_one() -> None:
    """A gallon a person and day into the black tank: common practice, no source."""
    found = water.tank_days(1, grey_gal=10, black_gal=5, use_gal=1)
    assert (found.what, found.days) == ("black", 5)
    assert water.tank_days(1, grey_gal=10, black_gal=500, use_gal=1 + 1e-3).what == "black"


# --- generator ------------------------------------------------------------------------------

def test_a_generator_at_what_it_gives_and_for_as_long_as_it_has_to() -> None:
    """The data sheet's rating; the run time follows from its two figures."""
    def found(load: float, **more: float) -> Finding:
        return generator.run_time(1.0, 1.0, 1600, 4, load, quarter_hours=8, **more)

    assert (found(1600).say, found(1600 + 1e-6).say) == ("generator.runs", "generator.over")
    hours = found(800).run_hours  # type: ignore[attr-defined]
    assert found(800, need_hours=hours).say == "generator.runs"
    assert found(800, need_hours=hours + HAIR).say == "generator.short"
