"""Properties that hold for all inputs: inverses, monotony, totals."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import InputError
from handsfree.work.cord import OHMS_PER_KFT, cord_drop
from handsfree.work.daylight import until_dark
from handsfree.work.finding import Verdict
from handsfree.work.gas import alarm_window, fill_limit, weigh_cylinder
from handsfree.work.levelling import Risers, angle, level_fore, level_side, rise
from handsfree.work.power import SUPPLIES, Load, load_sum
from handsfree.work.sewer import hose_slope
from handsfree.work.ticket import Ratings, Weighing, read_ticket
from handsfree.work.towing import (
    axle_load,
    breakaway_hold,
    judge_axles,
    judge_chains,
    judge_tongue,
    trailer_class,
)
from handsfree.work.tyres import judge_tyres, pressure_at
from handsfree.work.voltage import judge_voltage, service_band
from handsfree.work.water import chlorine_ppm, dose, judge_pressure, water_weight

GRAVITY = list(Verdict).index
LEAN, BASE = st.floats(0, 15), st.floats(50, 400)
STEPS = st.lists(st.floats(0.5, 8), max_size=5).map(tuple)


@given(LEAN, BASE)
def test_rise_and_angle_are_inverse(lean: float, base: float) -> None:
    assert angle(rise(base, lean), base) == pytest.approx(lean, abs=1e-9)


@given(LEAN, BASE, STEPS, st.integers(0, 8), st.integers(1, 3))
def test_no_lift_is_worse_than_the_one_offered(
    lean: float, track: float, steps: tuple[float, ...], pieces: int, wheels: int
) -> None:
    found = level_side(lean, "left", track, Risers(steps, 0.5, pieces), wheels=wheels)
    left = abs(found.rise_in - found.lift_in)
    # Every lift there is, counted here anew: nothing, a step, whole layers, one piece under some.
    layers = [0.5 * n for n in range(1, pieces // wheels + 1)]
    thin = [0.5 * under / wheels for under in range(1, wheels) if under <= pieces]
    every = [0.0, *steps, *layers, *thin]
    closest = min(abs(found.rise_in - one) for one in every)
    if found.say != "level.side.good":
        close = abs(angle(left, track)) <= 0.5
        by_steps = [abs(found.rise_in - step) for step in steps]
        preferred = close and found.step and found.rise_in >= min(steps)
        assert left <= (min(by_steps) if preferred else closest) + 1e-6
        assert any(abs(found.lift_in - one) < 1e-9 for one in every)
        if any(abs(angle(abs(found.rise_in - one), track)) <= 0.5 - 1e-9 for one in every):
            assert close, "one of them brings it close enough"
    assert found.remaining_deg == pytest.approx(angle(found.rise_in - found.lift_in, track))
    assert (found.layers or 0) * (found.wheels or 0) <= pieces
    if found.step:
        assert found.lift_in == sorted(steps)[found.step - 1]
    if found.verdict is Verdict.OK:
        assert abs(found.remaining_deg) <= 0.5


@given(LEAN, BASE, STEPS, st.floats(0, 15))
def test_beyond_the_limit_is_always_refused(
    lean: float, track: float, steps: tuple[float, ...], limit: float
) -> None:
    found = level_side(lean, "right", track, Risers(steps), limit_deg=limit)
    assert (found.verdict is Verdict.STOP) == (lean > limit)
    fore = level_fore(lean, "rear", track, limit_deg=limit)
    assert (fore.verdict is Verdict.STOP) == (lean > limit)


@given(LEAN, BASE, st.floats(0, 30))
def test_the_jack_is_never_sent_beyond_its_travel(lean: float, base: float, travel: float) -> None:
    found = level_fore(lean, "front", base, travel_in=travel)
    if found.verdict is Verdict.OK and found.say != "level.fore.good":
        assert found.move_in <= travel
    assert found.missing_in == pytest.approx(max(0, found.move_in - travel))


LOADS = st.lists(
    st.builds(Load, st.just("x"), st.floats(0, 4000), st.sampled_from([1, 2]), st.booleans()),
    max_size=6,
)


@given(LOADS, st.sampled_from(sorted(SUPPLIES)), st.randoms())
def test_loads_in_any_order(loads: list[Load], amps: int, random: object) -> None:
    one = load_sum(loads, SUPPLIES[amps])
    shuffled = list(loads)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    other = load_sum(shuffled, SUPPLIES[amps])
    assert other.total_w == pytest.approx(one.total_w) == pytest.approx(
        sum(load.power_w for load in loads)
    )
    assert max(other.leg1_a, other.leg2_a) == pytest.approx(max(one.leg1_a, one.leg2_a))


@given(LOADS, st.sampled_from(sorted(SUPPLIES)), st.floats(0, 4000), st.sampled_from([1, 2]))
def test_more_load_is_never_better(loads: list[Load], amps: int, more: float, leg: int) -> None:
    before = load_sum(loads, SUPPLIES[amps])
    after = load_sum([*loads, Load("more", more, leg)], SUPPLIES[amps])
    assert GRAVITY(after.verdict) >= GRAVITY(before.verdict)
    if before.verdict is Verdict.OK:
        assert max(before.leg1_a, before.leg2_a) <= amps + 1e-6
        assert before.spare_a >= -1e-6


@given(LOADS)
def test_an_adapter_to_one_leg_adds_both(loads: list[Load]) -> None:
    one = load_sum(loads, SUPPLIES[30])
    assert one.leg2_a == 0
    assert one.leg1_a * 120 == pytest.approx(sum(load.power_w for load in loads))


@given(
    st.sampled_from(sorted(OHMS_PER_KFT)), st.floats(1, 300), st.floats(0, 60), st.floats(1, 2)
)
def test_a_longer_cord_is_never_better(
    gauge: int, feet: float, amps: float, factor: float
) -> None:
    short, long = cord_drop(gauge, feet, amps), cord_drop(gauge, feet * factor, amps)
    assert long.drop_v == pytest.approx(short.drop_v * factor)
    assert GRAVITY(long.verdict) >= GRAVITY(short.verdict)
    assert cord_drop(gauge, feet, amps, balanced=True).end_v >= short.end_v - 1e-9


@given(st.floats(0, 300), st.floats(0, 300), st.none() | st.floats(0, 500))
def test_a_pair_is_never_better_than_its_worse_leg(
    one: float, other: float, between: float | None
) -> None:
    pair = judge_voltage([one, other], between_v=between)
    single = max((judge_voltage([v]).verdict for v in (one, other)), key=GRAVITY)
    assert GRAVITY(pair.verdict) >= GRAVITY(single)
    swapped = judge_voltage([other, one], between_v=between)
    assert (swapped.verdict, swapped.say) == (pair.verdict, pair.say)
    if pair.verdict is Verdict.OK:
        assert 108 <= min(one, other) and max(one, other) <= 126 and abs(one - other) <= 10


@given(st.floats(15, 200), st.floats(0, 60), st.none() | st.floats(20, 120))
def test_more_pressure_is_never_better(psi: float, more: float, limit: float | None) -> None:
    low, high = judge_pressure(psi, limit_psi=limit), judge_pressure(psi + more, limit_psi=limit)
    assert GRAVITY(high.verdict) >= GRAVITY(low.verdict)


@given(st.floats(1, 200), st.floats(1, 15), st.sampled_from([50.0, 100.0]))
def test_dose_and_concentration_are_inverse(gallons: float, percent: float, ppm: float) -> None:
    found = dose(gallons, percent, ppm)
    assert chlorine_ppm(found.bleach_ml, gallons, percent) == pytest.approx(ppm)


@given(st.floats(0, 60), st.floats(0, 30), st.floats(1, 60), st.floats(0.5, 10))
def test_supports_go_downhill_in_even_steps(
    outlet: float, inlet: float, length: float, spacing: float
) -> None:
    found = hose_slope(outlet, inlet, length, spacing_ft=spacing)
    points = [(0.0, outlet), *found.supports, (length, inlet)]
    if found.verdict is Verdict.STOP:
        assert outlet <= inlet and not found.supports
        return
    for (a, high), (b, low) in pairwise(points):
        assert 0 < b - a <= spacing + 1e-6
        assert high - low == pytest.approx(found.step_in, abs=1e-6)


@given(st.floats(0, 120), st.floats(-40, 130), st.floats(-40, 130))
def test_heating_and_cooling_are_inverse(psi: float, one: float, other: float) -> None:
    there = pressure_at(psi, one, other)
    assert pressure_at(there, other, one) == pytest.approx(psi, abs=1e-6)
    assert (there >= psi) == (other >= one) or there == pytest.approx(psi)


@given(st.lists(st.floats(0, 120), min_size=1, max_size=6), st.floats(20, 110), st.booleans())
def test_one_bad_tyre_spoils_the_set(readings: list[float], placard: float, cold: bool) -> None:
    whole = judge_tyres(readings, placard, cold=cold)
    each = [judge_tyres([psi], placard, cold=cold).verdict for psi in readings]
    assert whole.verdict is max(each, key=GRAVITY)
    assert whole.reading_psi == readings[whole.tyre - 1]


@given(st.lists(st.floats(0, 6000), min_size=1, max_size=3), st.floats(1000, 6000))
def test_an_overloaded_axle_is_never_passed(loads: list[float], rating: float) -> None:
    found = judge_axles(loads, rating, rating / 2)
    assert (found.verdict is Verdict.STOP) == (max(loads) > rating / 2 * 2)
    assert found.load_lb == max(loads)


@pytest.mark.parametrize(
    "call",
    [
        lambda: level_side(-1, "left", 96),
        lambda: level_side(1, "left", 0),
        lambda: level_side(1, "left", 96, wheels=0),
        lambda: level_fore(50, "front", 240),
        lambda: angle(1, 0),
        lambda: load_sum([Load("x", -1)], SUPPLIES[30]),
        lambda: load_sum([Load("x", 1, leg=3)], SUPPLIES[30]),
        lambda: cord_drop(11, 10, 10),
        lambda: cord_drop(10, 0, 10),
        lambda: cord_drop(10, 10, 10, edition="1984"),
        lambda: judge_voltage([]),
        lambda: judge_voltage([1, 2, 3]),
        lambda: judge_voltage([-1]),
        lambda: judge_voltage([120], edition="1984"),
        lambda: service_band(120, 100),
        lambda: water_weight(-1),
        lambda: axle_load(6000, 120),
        lambda: trailer_class(0),
        lambda: breakaway_hold(0, 4),
        lambda: fill_limit(0),
        lambda: weigh_cylinder(10, 17, 47.6),
        lambda: alarm_window(-1),
        lambda: until_dark(51, 0, datetime(2024, 6, 21)),
        lambda: judge_pressure(-1),
        lambda: judge_pressure(50, limit_psi=0),
        lambda: dose(0, 6),
        lambda: hose_slope(10, 0, 0),
        lambda: hose_slope(10, 0, 10, diameter_in=0),
        lambda: judge_tongue(7000, 6000),
        lambda: judge_chains(0, 6000),
        lambda: judge_axles([], 3500, 1800),
        lambda: judge_tyres([], 65, cold=True),
        lambda: pressure_at(50, -460, 70),
        lambda: read_ticket(Weighing(3000, 3000, 1), Weighing(2700, 4020, 5280)),
        lambda: read_ticket(Weighing(3000, 3000), Weighing(2700, 4020)),
        lambda: read_ticket(Weighing(3000, 3000), Weighing(2700, 3000, 5000)),
        lambda: read_ticket(Weighing(3000, 3000), Weighing(2700, -4020, 5000)),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(call: object) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    message = str(caught.value)
    assert message.endswith(".") and message.count(". ") == 0


def test_without_a_known_limit_a_lean_that_stays_is_refused() -> None:
    owned = Risers((3.0,))
    assert level_side(4, "left", 96, owned).verdict is Verdict.STOP
    assert level_side(4, "left", 96, owned, limit_deg=6).verdict is Verdict.CAUTION


def test_the_worse_leg_speaks() -> None:
    found = judge_voltage([100, 95])
    assert (found.reading_v, found.other_v, found.leg) == (95, 100, 2)
    found = judge_voltage([106, 118])
    assert (found.reading_v, found.leg, found.verdict) == (106, 1, Verdict.CAUTION)


def test_a_dead_leg_is_called_dead_whatever_the_other_reads() -> None:
    assert judge_voltage([0, 130]).say == "volts.dead"
    assert judge_voltage([130, 110]).say == "volts.neutral"


def test_a_regulator_does_not_raise_the_pressure() -> None:
    assert judge_pressure(30, setting_psi=50).trailer_psi == 30
    assert judge_pressure(70, setting_psi=50).trailer_psi == 50


def test_the_road_weight_is_judged_with_the_bars_on() -> None:
    ratings = Ratings(drive_lb=3800, trailer_lb=6000)
    without = read_ticket(Weighing(3000, 3000), Weighing(2700, 4020, 5280), ratings=ratings)
    assert (without.verdict, without.what, without.over_lb) == (Verdict.STOP, "drive", 220)
    bars = Weighing(2880, 3700, 5420)
    fixed = read_ticket(Weighing(3000, 3000), Weighing(2700, 4020, 5280), bars, ratings=ratings)
    assert (fixed.verdict, fixed.what, fixed.front_back_percent) == (Verdict.OK, "nothing", 60)
    assert "steer" in fixed.unknown and "drive" not in fixed.unknown
