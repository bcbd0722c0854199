"""A second formula or library beside the sums: not the code's own way, for any input that can be.

`BESIDE` says where each stands; a sum that only compares has its boundary tests and none here."""

from __future__ import annotations

import importlib
from itertools import pairwise
from math import cos, isclose, radians, sin
from pathlib import Path

import networkx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants, integrate, optimize

from handsfree.work import (
    battery,
    cord,
    gas,
    levelling,
    power,
    sewer,
    towing,
    voltage,
    water,
)
from handsfree.work.finding import TWINS, Verdict, twin
from handsfree.work.quantities import measure
from handsfree.work.ticket import Weighing, read_ticket

BESIDE = {
    "levelling.rise": "test_second_formula::test_rise_by_turning_a_bar",
    "levelling.angle": "test_second_formula::test_angle_by_searching_for_it",
    "levelling.level_fore": "test_limits_of_the_trade::test_the_jacks_travel_on_both_sides",
    "levelling.steady_ratio": "test_practice::test_a_pile_as_high_as_it_is_wide_slides_before_it_tips",
    "cord.voltage_drop": "test_second_formula::test_drop_by_kirchhoffs_laws",
    "cord.cord_drop": "test_second_formula::test_three_wires_by_kirchhoffs_laws",
    "cord.mains_drop": "test_supply::test_drop_by_the_formula_of_the_wiring_rules",
    "power.load_sum": "test_second_formula::test_legs_by_a_matrix",
    "power.judge_supply": "test_second_formula::test_the_weakest_part_by_the_least_cut",
    "voltage.service_band": "test_second_formula::test_bands_in_percent_of_the_nominal_voltage",
    "voltage.judge_loaded": "test_second_formula::test_loss_on_the_way_by_resistances",
    "tyres.pressure_at": "test_towing::test_pressure_in_si_units",
    "towing.axle_load": "test_second_formula::test_axle_load_by_moments",
    "towing.judge_tongue": "test_second_formula::test_share_on_the_hitch_by_moments",
    "towing.trailer_class": "test_second_formula::test_class_by_bisection",
    "towing.coupler_strength": "test_second_formula::test_coupler_by_bisection",
    "towing.breakaway_hold": "test_second_formula::test_breakaway_by_emptying_it",
    "ticket.read_ticket": "test_second_formula::test_ticket_by_least_squares",
    "battery.peukert_hours": "test_second_formula::test_peukert_by_a_straight_line_in_logarithms",
    "battery.cold_factor": "test_owners_sums::test_between_the_rows_the_cold_takes_what_the_curve_says",
    "water.dose": "test_second_formula::test_bleach_by_moles",
    "water.water_weight": "test_second_formula::test_water_by_mass_and_density",
    "water.tank_days": "test_owners_sums::test_days_of_tank_day_by_day",
    "sewer.hose_slope": "test_second_formula::test_supports_by_interpolation",
    "gas.weigh_cylinder": "test_second_formula::test_a_cylinder_by_volume",
    "gas.furnace_duty": "test_owners_sums::test_a_furnace_burns_as_the_cold_goes",
    "gas.vapour": "test_second_formula::test_boil_off_by_another_interpolation",
    "gas.gas_days": "test_owners_sums::test_the_heat_of_propane",
    "sun.harvest": "test_owners_sums::test_a_clear_day_by_another_library",
    "sun.declination": "test_owners_sums::test_declination_by_the_ephemeris",
    "sun.light_hours": "test_owners_sums::test_day_length_by_the_ephemeris",
    "daylight.civil_dusk": "test_daylight::test_another_ephemeris",
    "generator.run_time": "test_owners_sums::test_a_load_that_goes_up_and_down_burns_as_its_mean",
    "fuel.fuel_range": "test_owners_sums::test_the_range_by_burning_mile_after_mile",
    "fuel.resistance": "test_owners_sums::test_resistance_in_si_units",
    "finding.twin": "test_second_formula::test_twins_by_another_library",
}


def test_each_stands_where_the_table_says() -> None:
    assert len(BESIDE) >= 20
    for name, where in BESIDE.items():
        module, _, function = name.partition(".")
        assert callable(getattr(importlib.import_module(f"handsfree.work.{module}"), function)), name
        file, _, test = where.partition("::")
        assert f"def {test}(" in (Path(__file__).parent / f"{file}.py").read_text("utf-8"), where


# --- levelling ------------------------------------------------------------------------------

@given(st.floats(20, 400), st.floats(0, 15))
def test_rise_by_turning_a_bar(base: float, lean: float) -> None:
    """A bar over the base, turned by a rotation matrix until it lies at the angle, ends so much higher."""
    turned = np.array([[cos(radians(lean)), -sin(radians(lean))],
                       [sin(radians(lean)), cos(radians(lean))]]) @ [base / cos(radians(lean)), 0]
    assert turned[0] == pytest.approx(base)
    assert levelling.rise(base, lean) == pytest.approx(turned[1], abs=1e-9)


@given(st.floats(20, 400), st.floats(0.01, 20))
def test_angle_by_searching_for_it(base: float, rise: float) -> None:
    """The root of base x sin = rise x cos, found by bisection."""
    found = optimize.brentq(lambda a: base * sin(radians(a)) - rise * cos(radians(a)), 0, 89)
    assert levelling.angle(rise, base) == pytest.approx(found, abs=1e-6)


# --- electricity ----------------------------------------------------------------------------

@given(st.floats(1, 300), st.sampled_from(sorted(cord.OHMS_PER_KFT)), st.floats(0.1, 50))
@settings(max_examples=50)
def test_drop_by_kirchhoffs_laws(feet: float, gauge: int, amps: float) -> None:
    """Nodes of a cord cut into five pieces there and five back, by a conductance matrix."""
    ohms, pieces = cord.OHMS_PER_KFT[gauge] * feet / 1000 / 5, 5
    size = 2 * pieces  # out 0..4, back 5..9; the source holds +120 and 0
    a, b = np.zeros((size, size)), np.zeros(size)
    for side, held in ((0, 120.0), (1, 0.0)):
        for i in range(pieces):
            at = side * pieces + i
            before = None if i == 0 else at - 1
            a[at, at] += 1 / ohms
            if before is None:
                b[at] += held / ohms
            else:
                a[at, before] -= 1 / ohms
                a[before, before] += 1 / ohms
                a[before, at] -= 1 / ohms
        b[side * pieces + pieces - 1] += -amps if side == 0 else amps
    volts = np.linalg.solve(a, b)
    arrives = volts[pieces - 1] - volts[size - 1]
    assert cord.voltage_drop(feet, cord.OHMS_PER_KFT[gauge], amps) == pytest.approx(120 - arrives, abs=1e-6)


@given(st.floats(1, 200), st.sampled_from([10, 8, 6]), st.floats(0.1, 30))
@settings(max_examples=50)
def test_three_wires_by_kirchhoffs_laws(feet: float, gauge: int, amps: float) -> None:
    """Two legs of the same current and a neutral: three unknown nodes at the far end, superposed."""
    ohms = cord.OHMS_PER_KFT[gauge] * feet / 1000
    ends = np.linalg.solve(np.eye(3) / ohms, np.array([120, -120, 0]) / ohms - [amps, -amps, 0])
    found = cord.cord_drop(gauge, feet, amps, balanced=True)
    assert found.end_v == pytest.approx(max(0, ends[0] - ends[2]), abs=1e-6)
    assert found.drop_percent == pytest.approx(100 * (240 - (ends[0] - ends[1])) / 240, abs=1e-6)


LOADS = st.lists(st.tuples(st.floats(0, 4000), st.sampled_from([1, 2]), st.booleans()), max_size=6)


@given(LOADS, st.sampled_from([30, 50]))
def test_legs_by_a_matrix(loads: list[tuple[float, int, bool]], amps: int) -> None:
    """Which load hangs on which leg as a matrix, times the currents, times 1.25 for the steady ones."""
    supply = power.SUPPLIES[amps]
    found = power.load_sum([power.Load("x", w, leg, steady) for w, leg, steady in loads], supply)
    on = np.array([[1.0 if supply.legs == 1 or leg == 1 else 0.0,
                    1.0 if supply.legs == 2 and leg == 2 else 0.0] for _, leg, _ in loads]).reshape(-1, 2)
    current = np.array([w / 120 for w, _, _ in loads])
    ruled = (current * np.array([1.25 if steady else 1.0 for _, _, steady in loads])) @ on
    assert [found.leg1_a, found.leg2_a] == pytest.approx(list(current @ on))
    over = float(np.max(ruled, initial=0)) > amps + 1e-6
    if not isclose(float(np.max(ruled, initial=0)), amps, abs_tol=1e-6):
        assert (found.verdict is not Verdict.OK) is over


@given(st.sampled_from([15, 20, 30, 50]), st.dictionaries(
    st.sampled_from(["adapter", "cord", "inlet", "main"]), st.integers(5, 60)))
def test_the_weakest_part_by_the_least_cut(breaker: int, parts: dict[str, int]) -> None:
    """Max-flow min-cut (networkx) over post, adapter, cord, inlet and main in a row."""
    row = [("breaker", breaker), *parts.items()]
    graph = networkx.DiGraph()
    for number, (_, amps) in enumerate(row):
        graph.add_edge(number, number + 1, capacity=amps)
    flow = networkx.maximum_flow_value(graph, 0, len(row))
    found = power.judge_supply(breaker, parts={k: float(v) for k, v in parts.items()})
    if found.verdict is Verdict.OK:  # else a part burns before the least of them is reached
        assert found.limit_a == flow
    else:
        assert flow < breaker


@given(st.floats(100, 140))
def test_bands_in_percent_of_the_nominal_voltage(volts: float) -> None:
    """ANSI C84.1 (from memory) has its ranges in percent as well: A 95 to 105, B 91.7 to 105.8."""
    percent = volts / 120 * 100
    band = "A" if 95 <= percent <= 105 else "B" if 91.67 <= percent <= 105.83 else "outside"
    if min(abs(volts - edge) for edge in (110, 114, 126, 127)) > 0.01:
        assert voltage.service_band(volts) == band
        assert voltage.service_band(2 * volts, 240) == band


@given(st.floats(110, 127), st.floats(0.01, 1), st.floats(4, 100))
def test_loss_on_the_way_by_resistances(source: float, way: float, load: float) -> None:
    """A voltage divider: what arrives is source x load / (load + way), the loss way / (load + way)."""
    found = voltage.judge_loaded(source * load / (load + way), source)
    assert found.drop_percent == pytest.approx(100 * way / (load + way))


# --- towing ---------------------------------------------------------------------------------

@given(st.floats(500, 20000), st.floats(1, 40), st.floats(100, 300))
def test_axle_load_by_moments(gross: float, percent: float, length: float) -> None:
    """Two supports of a beam whose weight lies so far before the axle: forces and moments as a system
    of equations."""
    before = length * percent / 100
    tongue, axles = np.linalg.solve([[1, 1], [length, 0]], [gross, gross * before])
    assert towing.axle_load(gross, percent, 4) == pytest.approx((tongue, axles, axles / 4))


@given(st.floats(500, 20000), st.floats(0, 0.4), st.floats(100, 300))
def test_share_on_the_hitch_by_moments(gross: float, part: float, length: float) -> None:
    """Where the weight lies, from the two weights on hitch and axle: the share is that length's."""
    tongue, axles = gross * part, gross * (1 - part)
    before = np.average([length, 0], weights=[tongue, axles])
    assert towing.judge_tongue(tongue, gross).share_percent == pytest.approx(
        100 * before / length, abs=1e-4)


@given(st.floats(1, 10000))
def test_class_by_bisection(gross: float) -> None:
    """numpy's search in COMAR 11.13.08.10's tops, written down anew."""
    assert towing.trailer_class(gross) == 1 + np.searchsorted([2000, 3500, 5000, 10000], gross)


@given(st.floats(1, 10000))
def test_coupler_by_bisection(gross: float) -> None:
    """COMAR 11.13.08.10 (seen): three times the top of a class's range, and of the weight in class 4."""
    tops = np.array([2000, 3500, 5000, gross])
    top = tops[np.searchsorted(tops[:3], gross)]
    assert towing.coupler_strength(gross).lengthwise_lbf == pytest.approx(3 * top)


@given(st.floats(1, 50), st.integers(1, 6))
@settings(max_examples=30)
def test_breakaway_by_emptying_it(capacity: float, brakes: int) -> None:
    """Peukert as a differential equation: what is left falls by I (I / I20)^(n - 1) an hour."""
    amps, slow = 3.0 * brakes, capacity / 20
    found = towing.breakaway_hold(capacity, brakes)
    for exponent, minutes in ((1.25, found.hold_min), (1.15, found.best_min)):
        rate = amps * (amps / slow) ** (exponent - 1)
        hours, _ = integrate.quad(lambda left, r=rate: 1 / r, 0, capacity)
        assert minutes == pytest.approx(60 * hours, rel=1e-6)


@given(st.floats(2500, 7000), st.floats(2500, 7000), st.floats(300, 1000), st.floats(2500, 9000))
def test_ticket_by_least_squares(steer: float, drive: float, tongue: float, axles: float) -> None:
    """Truck, tongue and trailer's axles as unknowns of three readings, by least squares."""
    truck_alone, truck_hitched, on_axles = steer + drive, steer + drive + tongue, axles
    unknown, *_ = np.linalg.lstsq(np.array([[1, 0, 0], [1, 1, 0], [0, 0, 1]]),
                                  np.array([truck_alone, truck_hitched, on_axles]), rcond=None)
    found = read_ticket(Weighing(steer, drive), Weighing(steer, drive + tongue, axles))
    assert (found.tongue_lb, found.gross_lb) == pytest.approx((unknown[1], unknown[1] + unknown[2]))


@given(st.floats(10, 400), st.floats(0.5, 200), st.floats(1, 1.4))
def test_peukert_by_a_straight_line_in_logarithms(capacity: float, amps: float, exponent: float) -> None:
    """log t falls straight with log I, by the exponent, through 20 hours at the rated current."""
    line = np.poly1d([-exponent, np.log(20) + exponent * np.log(capacity / 20)])
    assert battery.peukert_hours(capacity, amps, exponent) == pytest.approx(
        float(np.exp(line(np.log(amps)))), rel=1e-9)


# --- water, drain, gas ---------------------------------------------------------------

@given(st.floats(5, 200), st.floats(1, 15))
def test_bleach_by_moles(gallons: float, percent: float) -> None:
    """Chlorine wanted in moles of Cl2, one mole of NaOCl for each, that mass from the bottle."""
    litres = gallons * constants.gallon * 1000
    moles = 0.050 * litres / 70.906
    assert water.dose(gallons, percent).bleach_ml == pytest.approx(moles * 74.442 / (percent / 100), rel=1e-6)


@given(st.floats(0, 300))
def test_water_by_mass_and_density(gallons: float) -> None:
    """999.97 kg/m3 at 4 C (from memory), by scipy's gallon and pound."""
    assert water.water_weight(gallons).weight_lb == pytest.approx(
        gallons * constants.gallon * 999.97 / constants.lb, rel=1e-4)


@given(st.floats(1, 40), st.floats(0, 0.9), st.floats(2, 40), st.floats(0.5, 5))
def test_supports_by_interpolation(outlet: float, part: float, length: float, spacing: float) -> None:
    """numpy's straight line between the two ends of the hose."""
    inlet = outlet * part
    found = sewer.hose_slope(outlet, inlet, length, spacing_ft=spacing)
    for at, high in found.supports:
        assert high == pytest.approx(np.interp(at, [0, length], [outlet, inlet]), abs=1e-9)
    places = [at for at, _ in found.supports]
    assert all(b - a <= spacing + 1e-9 for a, b in pairwise([0, *places, length]))


@given(st.floats(10, 100), st.floats(0.05, 0.95))
def test_a_cylinder_by_volume(capacity_lb: float, level: float) -> None:
    """Propane of 0.504 kg/L at 60 F fills 83 percent of the room that 42 percent of its water weighs (data
    sheets, quoted): a level of that volume is that share of a full cylinder."""
    litres = capacity_lb * constants.lb / 0.99997
    full = 0.42 * 0.99997 / 0.504 * litres
    held = level * full * 0.504 / constants.lb
    assert gas.weigh_cylinder(17 + held, 17, capacity_lb).left_percent == pytest.approx(100 * level, rel=1e-3)


@given(st.floats(10, 100), st.floats(0, 70))
def test_boil_off_by_another_interpolation(pounds: float, fahrenheit: float) -> None:
    """scipy's interpolator over the same table, rows and columns at once."""
    rows = sorted(gas.VAPOUR_BTUH)
    from scipy.interpolate import RegularGridInterpolator

    table = RegularGridInterpolator((rows, gas.VAPOUR_F), [gas.VAPOUR_BTUH[row] for row in rows])
    assert gas.vapour(pounds, 100, fahrenheit) == pytest.approx(float(table([[pounds, fahrenheit]])[0]), rel=1e-9)


@given(st.sampled_from(["in", "ft", "lb", "psi", "gal", "mph", "mi", "f"]), st.floats(0, 500))
@settings(deadline=None)
def test_twins_by_another_library(ending: str, value: float) -> None:
    """pint, which reads what is typed: there and back."""
    unit = {"cm": "cm", "m": "m", "kg": "kg", "bar": "bar", "l": "litres", "kmh": "km/h", "km": "km",
            "c": "C"}[TWINS[ending][0]]
    there = twin(ending, value)
    back = measure(f"{'-' if there < 0 else ''}{abs(there):.9f} {unit}", ending)
    assert back == pytest.approx(value, abs=1e-5)
