"""The sums that owners ask for, against published tables, worked examples, other libraries and physics.

Whatever is "from memory" was not looked up."""

from __future__ import annotations

from datetime import date
from math import pi, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants, integrate

from handsfree.errors import InputError
from handsfree.work import battery, fuel, gas, generator, sun, water
from handsfree.work.finding import Verdict
from handsfree.work.gas import Burner

OK, CAUTION, STOP = Verdict.OK, Verdict.CAUTION, Verdict.STOP


# --- the battery ----------------------------------------------------------------------------

@pytest.mark.parametrize(("fahrenheit", "factor"), ((77, 1.0), (60, 1.11), (50, 1.19), (40, 1.3),
                                                    (25, 1.52), (0, 2.0)))
def test_lead_acid_in_the_cold(fahrenheit: float, factor: float) -> None:
    """IEEE 485, table 1 (from memory); and the curve that a battery sizing program (quoted in a forum of
    electrical engineers) fits to it, y = -2.8117 x^3 + 4.1916 x^2 - 2.4941 x + 1.405, x = C / 100."""
    x = (fahrenheit - 32) / 1.8 / 100
    curve = -2.8117 * x**3 + 4.1916 * x**2 - 2.4941 * x + 1.405
    assert battery.cold_factor(fahrenheit, "lead-acid") == factor
    assert factor == pytest.approx(curve, rel=0.01)


@given(st.floats(0, 76.9))
def test_between_the_rows_the_cold_takes_what_the_curve_says(fahrenheit: float) -> None:
    x = (fahrenheit - 32) / 1.8 / 100
    curve = -2.8117 * x**3 + 4.1916 * x**2 - 2.4941 * x + 1.405
    assert battery.cold_factor(fahrenheit, "lead-acid") == pytest.approx(curve, rel=0.03)


def test_battery_hours_by_the_usual_worked_example() -> None:
    """100 Ah at 20 h, exponent 1.2, 10 A: 8.7 h (general references, from memory); half of it is
    drawn, so 4.35 h, which lies between the worst exponent and the best."""
    found = battery.battery_hours(100, "lead-acid", current_a=10)
    assert found.least_hours < 4.35 < found.most_hours
    assert found.least_hours == pytest.approx(0.5 * 20 * (5 / 10) ** 1.3)
    assert found.left_percent == 50


def test_a_slow_discharge_gives_no_more_than_the_label() -> None:
    """Charge is current x time: at 2.5 A, half of 100 Ah lasts 20 h, whatever Peukert promises."""
    found = battery.battery_hours(100, "lead-acid", current_a=2.5)
    assert found.least_hours == found.most_hours == pytest.approx(20)


@given(st.floats(20, 400), st.floats(0.5, 19.9), st.sampled_from(["lead-acid", "lithium"]),
       st.floats(0, 77))
def test_no_battery_gives_more_than_it_has(
    capacity: float, amps: float, chemistry: str, fahrenheit: float
) -> None:
    """Conservation of charge, and the worst is no better than the best."""
    found = battery.battery_hours(capacity, chemistry, current_a=amps,  # type: ignore[arg-type]
                                  temperature_f=fahrenheit)
    assert found.least_hours <= found.most_hours + 1e-9
    assert found.most_hours * amps <= battery.USABLE[chemistry] * capacity + 1e-6


@pytest.mark.parametrize(("need", "verdict"), ((4.05, OK), (4.07, CAUTION)))
def test_a_battery_that_has_to_last(need: float, verdict: Verdict) -> None:
    """By hand: 0.5 x 20 x 0.5^1.3 = 4.061 h."""
    assert battery.battery_hours(100, "lead-acid", current_a=10, need_hours=need).verdict is verdict


@pytest.mark.parametrize(("fahrenheit", "verdict"), ((32, OK), (31.9, CAUTION)))
def test_lithium_is_not_charged_below_freezing(fahrenheit: float, verdict: Verdict) -> None:
    """Makers' manuals of lithium iron phosphate (from memory): 0 C is the least to charge at."""
    found = battery.battery_hours(100, "lithium", load_w=60, temperature_f=fahrenheit)
    assert found.verdict is verdict


@pytest.mark.parametrize(("amps", "good"), ((100, True), (100.1, False)))
def test_peukert_ends_at_an_hour(amps: float, good: bool) -> None:
    if good:
        battery.battery_hours(100, "lithium", current_a=amps)
    else:
        with pytest.raises(InputError):
            battery.battery_hours(100, "lithium", current_a=amps)


# --- the sun --------------------------------------------------------------------------------

def test_incidence_by_the_textbooks_example() -> None:
    """Duffie and Beckman, Solar Engineering of Thermal Processes, example 1.6.1 (from memory): Madison
    (43 N), February 13, 10:30 solar time, tilt 45, turned 15 west of south: 35 degrees."""
    day = date(2025, 2, 13).timetuple().tm_yday
    cosine = sun.incidence(43, day, -22.5, 45, 15)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(35, abs=0.5)


def test_daily_radiation_outside_the_air_by_the_textbooks_example() -> None:
    """The same, example 1.10.1 (from memory): 43 N, April 15, 33.8 MJ/m2; by integrating the incidence
    on a level square, the constant as the code has it."""
    day = 105
    near = 1 + 0.033 * np.cos(2 * pi * day / 365)
    joule, _ = integrate.quad(lambda h: max(0.0, sun.incidence(43, day, h * 15, 0, 0)), -12, 12,
                              limit=200)
    assert sun.SOLAR_W_M2 * near * joule * 3600 / 1e6 == pytest.approx(33.8, rel=0.01)


@pytest.mark.parametrize("year", (2025, 2026, 2027, 2028))
@pytest.mark.parametrize("day", range(1, 366, 26))
def test_declination_by_the_ephemeris(day: int, year: int) -> None:
    """VSOP87 as in the library ephem, over the four years from one leap day to the next."""
    ephem = pytest.importorskip("ephem", reason="the extra 'test' is not installed")
    noon = date.fromordinal(date(year, 1, 1).toordinal() + day - 1).isoformat() + " 12:00"
    assert sun.declination(day) == pytest.approx(np.degrees(float(ephem.Sun(noon).dec)), abs=0.3)


@pytest.mark.parametrize("latitude", (-35, 0, 25, 40, 52))
@pytest.mark.parametrize("on", ((3, 20), (6, 21), (10, 2), (12, 21)))
@pytest.mark.parametrize("tilt", (0, 30, 60))
def test_a_clear_day_by_another_library(latitude: float, on: tuple[int, int], tilt: float) -> None:
    """pvlib: NREL's sun position, Ineichen's clear sky at a turbidity of 3 (usual of a temperate
    country), isotropic sky; an other model than the code's.  Within 3 percent; in a winter that
    has less than three hours of full sun within 8."""
    pvlib = pytest.importorskip("pvlib", reason="the extra 'test' is not installed")
    pandas = pytest.importorskip("pandas", reason="the extra 'test' is not installed")
    times = pandas.date_range(f"2025-{on[0]:02}-{on[1]:02}", periods=144, freq="10min", tz="UTC")
    place = pvlib.location.Location(latitude, 0, "UTC", 0)
    where = place.get_solarposition(times)
    sky = place.get_clearsky(times, model="ineichen", linke_turbidity=3.0)
    day = date(2025, *on).timetuple().tm_yday
    facing = 180 if latitude >= sun.declination(day) else 0
    plane = pvlib.irradiance.get_total_irradiance(
        tilt, facing, where.apparent_zenith, where.azimuth, sky.dni, sky.ghi, sky.dhi, albedo=0.2)
    there = plane.poa_global.fillna(0).sum() / 6 / 1000
    own = sun.harvest(latitude, day, 100, tilt_deg=tilt).sun_hours
    assert own == pytest.approx(there, rel=0.03 if there > 3 else 0.08)


@pytest.mark.parametrize("latitude", (0, 25, 40, 52))
@pytest.mark.parametrize("day", (80, 172, 355))
def test_day_length_by_the_ephemeris(latitude: float, day: int) -> None:
    """astral (sunrise to sunset; air and the sun's upper edge add some 7 to 16 minutes)."""
    from astral import Observer
    from astral.sun import sunrise, sunset

    on = date.fromordinal(date(2025, 1, 1).toordinal() + day - 1)
    place = Observer(latitude, 0)
    hours = (sunset(place, on) - sunrise(place, on)).total_seconds() / 3600
    assert sun.light_hours(latitude, day) == pytest.approx(hours, abs=0.27)
    assert sun.light_hours(latitude, day) < hours


def test_overcast_by_its_formula() -> None:
    """Kasten and Czeplak 1980 (from memory): 1 - 0.75 (N/8)^3.4; eight eighths leave a quarter."""
    assert 1 - 0.75 * (8 / 8) ** 3.4 == sun.OVERCAST
    found = sun.harvest(40, 172, 200)
    assert found.dull_wh == pytest.approx(found.clear_wh / 4)


@given(st.floats(-90, 90), st.integers(1, 366), st.floats(0, 90), st.floats(0, 360))
def test_no_panel_gets_more_than_the_sun_sends(
    latitude: float, day: int, tilt: float, facing: float
) -> None:
    """Energy: at most the solar constant (3.3 percent more in January) and a tenth and a fifth of it
    from sky and ground, for as long as the sun is up."""
    found = sun.harvest(latitude, day, 100, tilt_deg=tilt, facing_deg=facing)
    assert 0 <= found.sun_hours <= 1.367 * 1.033 * 1.32 * found.light_hours + 0.2


def test_towards_the_noon_sun_is_best_and_away_from_it_worst() -> None:
    """Symmetry: at 40 N south beats east and west, which are alike, and these north; at 40 S north."""
    by = {facing: sun.harvest(40, 355, 100, tilt_deg=40, facing_deg=facing).clear_wh
          for facing in (0, 90, 180, 270)}
    assert by[180] > by[90] == pytest.approx(by[270]) and by[90] > by[0]
    assert sun.harvest(40, 355, 100, tilt_deg=40).clear_wh == pytest.approx(by[180])
    assert sun.harvest(-40, 172, 100, tilt_deg=40).clear_wh == pytest.approx(
        sun.harvest(-40, 172, 100, tilt_deg=40, facing_deg=0).clear_wh)


def test_what_the_day_takes_on_both_sides() -> None:
    gives = sun.harvest(40, 172, 200).clear_wh
    assert sun.harvest(40, 172, 200, need_wh=gives).verdict is OK
    assert sun.harvest(40, 172, 200, need_wh=gives + 0.1).verdict is CAUTION
    assert sun.harvest(75, 355, 200).say == "sun.none"


# --- propane --------------------------------------------------------------------------------

def test_the_heat_of_propane() -> None:
    """Propane suppliers' data sheets (quoted): 21,548 BTU a pound, 91,502 a gallon of 4.24 lb; and by
    chemistry: 2,219.2 kJ/mol over 44.096 g/mol (NIST, from memory), burned to liquid water."""
    assert gas.BTU_PER_LB == pytest.approx(91502 / 4.24, rel=0.002)
    by_mole = 2219.2e3 / 0.044096 * constants.lb / constants.Btu
    assert gas.BTU_PER_LB == pytest.approx(by_mole, rel=0.006)


def test_gas_by_the_sellers_worked_example() -> None:
    """A seller of tanks (quoted): 45,000 BTU an hour burn a gallon of 91,502 BTU in about two hours."""
    found = gas.gas_days(91502 / 21548, burners=[Burner("heater", 45000, 24)])
    assert found.days * 24 == pytest.approx(2.03, abs=0.01)


def test_a_furnace_burns_as_the_cold_goes() -> None:
    """Newton's law of cooling, as a differential equation: a room of time constant tau, cut in at 64 and
    out at 66 F by a furnace that just holds it at 0 F, burns the share that the rule says."""
    tau, dt, heat = 2.0, 0.001, 65.0  # hours; degrees above the outside that it holds
    for outside in (0.5, 30.0, 50.0):
        room, on, burned, hours = 65.0, True, 0.0, 60.0
        for _ in range(int(hours / dt)):
            room += (outside + heat * on - room) / tau * dt
            on = room < 66 if on else room < 64
            burned += on * dt
        assert burned / hours == pytest.approx(gas.furnace_duty(outside, 65, 0), abs=0.02)


@pytest.mark.parametrize(("outside", "say"), ((0, "gas.lasts"), (-0.1, "gas.cold")))
def test_colder_than_the_furnace_holds(outside: float, say: str) -> None:
    """Both sides of the temperature at which it runs all the time."""
    found = gas.gas_days(100, furnace_btuh=20000, outside_f=outside, capacity_lb=100)
    assert found.say == say and found.duty_percent == pytest.approx(100, abs=0.01)
    assert found.days == pytest.approx(100 * 21548 / (20000 * 24), rel=0.001)


def test_a_warm_day_needs_no_furnace() -> None:
    assert gas.furnace_duty(65) == 0 and gas.furnace_duty(64.9) > 0
    with pytest.raises(InputError, match="Nothing burns"):
        gas.gas_days(20, furnace_btuh=20000, outside_f=70)


@pytest.mark.parametrize(("pounds", "outside", "btuh"), (
    (100, 0, 113000), (100, 70, 300000), (50, 20, 94000), (20, 0, 36000), (10, 60, 60000)))
def test_boil_off_by_the_trades_table(pounds: float, outside: float, btuh: float) -> None:
    """Kohler, TP-6727 10/11, appendix D: vaporization rate of 100 lb cylinders (seen as quoted)."""
    assert gas.vapour(pounds, 100, outside) == pytest.approx(btuh)


def test_boil_off_by_the_trades_formula() -> None:
    """The formula beside that table: diameter x length x K at 0 F (K 60 at 20 percent, 100 at 60),
    nothing at -20.  Of a cylinder of 14.5 x 45 in within a third."""
    for pounds, k in ((20, 60), (40, 80), (50, 90)):
        assert gas.vapour(pounds, 100, 0) == pytest.approx(14.5 * 45 * k, rel=0.34)
    assert gas.vapour(50, 100, -20) == 0 < gas.vapour(50, 100, -19)


@pytest.mark.parametrize(("pounds", "inches"), ((20, 12.2), (30, 12.4), (40, 14.5)))
def test_a_smaller_cylinder_boils_off_as_it_is_wetted(pounds: float, inches: float) -> None:
    """Geometry of an upright cylinder with a flat bottom: wetted side and bottom at the same share of
    its fill, against 14.5 in of the 100 lb one; usual diameters, from memory.  Never promised more."""
    def wetted(held: float, across: float) -> float:
        area = pi / 4 * across**2
        return area + pi * across * (held / 4.24 * 231 / area)

    for share in (0.3, 1.0):
        ratio = wetted(pounds * share, inches) / wetted(100 * share, 14.5)
        ours = gas.vapour(pounds * share, pounds, 20) / gas.vapour(100 * share, 100, 20)
        assert 0.65 * ratio < ours <= ratio * 1.001


def test_more_burners_than_it_boils_off() -> None:
    boils = gas.vapour(10, 20, 20)
    for draw, say in ((boils, "gas.lasts"), (boils + 1, "gas.slow")):
        assert gas.gas_days(10, burners=[Burner("all", draw, 1)], outside_f=20).say == say


# --- water ----------------------------------------------------------------------------------

def test_days_of_tank_day_by_day() -> None:
    """Counted down litre by litre: 151 l fresh, 114 l of grey, two people of 15 l a day."""
    fresh, grey, days = 40 * 3.785411784, 30 * 3.785411784, 0.0
    while fresh > 0 and grey > 0:
        fresh, grey, days = fresh - 2 * 15 / 100, grey - 2 * 15 / 100, days + 0.01
    found = water.tank_days(2, fresh_gal=40, grey_gal=30)
    assert found.days == pytest.approx(days, abs=0.011) and found.what == "grey"


def test_people_and_litres() -> None:
    """Sphere Handbook 2018, water supply 2.1 (from memory): at least 15 litres a person and day."""
    assert water.USE_GAL * 231 * 0.0254**3 * 1000 == pytest.approx(15)
    one, four = (water.tank_days(n, fresh_gal=60).days for n in (1, 4))
    assert one == pytest.approx(4 * four)


@pytest.mark.parametrize(("gallons", "say"), ((4.0, "tank.lasts"), (3.9, "tank.drink")))
def test_a_days_drinking_water(gallons: float, say: str) -> None:
    """FEMA, emergency water supplies (from memory): a gallon a person and day."""
    assert water.tank_days(4, fresh_gal=gallons).say == say


@pytest.mark.parametrize(("need", "verdict"), ((5.04, OK), (5.05, CAUTION)))
def test_how_long_the_water_has_to_last(need: float, verdict: Verdict) -> None:
    """By hand: 40 gal are 151.4 l, over 30 l a day 5.047 days."""
    assert water.tank_days(2, fresh_gal=40, need_days=need).verdict is verdict


def test_a_black_tank_of_its_own_takes_its_share() -> None:
    found = water.tank_days(2, black_gal=20, grey_gal=100)
    assert (found.what, found.days) == ("black", 10)


# --- the generator --------------------------------------------------------------------------

SHEET = {"tank_gal": 1.0, "rated_w": 1800.0, "full_hours": 4.0, "quarter_hours": 8.0}


@pytest.mark.parametrize(("load", "hours"), ((1800, 4.0), (450, 8.0), (1125, 16 / 3)))
def test_a_generator_runs_as_its_data_sheet_says(load: float, hours: float) -> None:
    """Willans' line: fuel is straight in the load, through both of the sheet's run times; half way
    between a quarter and full load it burns the mean of the two."""
    found = generator.run_time(1.0, load_w=load, **SHEET)  # type: ignore[arg-type]
    assert found.run_hours == pytest.approx(hours)


def test_a_load_that_goes_up_and_down_burns_as_its_mean() -> None:
    """Integrated over a day of two loads, since the line is straight."""
    burn = [generator.run_time(1.0, load_w=w, **SHEET).burn_gal  # type: ignore[arg-type]
            for w in (300, 1500, 900)]
    assert (burn[0] + burn[1]) / 2 == pytest.approx(burn[2])


@pytest.mark.parametrize(("load", "verdict"), ((1485, OK), (1486, STOP)))
def test_thin_air_takes_power(load: float, verdict: Verdict) -> None:
    """Makers' manuals (from memory): 3.5 percent for each 1,000 ft; 1,800 W at 5,000 ft are 1,485 W.
    By physics air at 5,000 ft is 86 percent as dense as at the sea (standard atmosphere)."""
    found = generator.run_time(1.0, load_w=load, altitude_ft=5000, **SHEET)  # type: ignore[arg-type]
    assert found.verdict is verdict and found.limit_w == pytest.approx(1485)
    dense = (1 - 0.0065 * 1524 / 288.15) ** 4.2559
    assert found.limit_w / 1800 == pytest.approx(dense, abs=0.04) and found.limit_w / 1800 < dense


def test_no_generator_makes_more_than_its_fuel_holds() -> None:
    """EPA, 33.7 kWh a gallon of petrol (from memory), a third and a bit of it at most: 1,800 W on a
    gallon for 6.55 h, no longer."""
    longest = 33.7e3 * 0.35 / 1800
    generator.run_time(1, 1, 1800, longest - 0.01, 100)
    with pytest.raises(InputError, match="No engine"):
        generator.run_time(1, 1, 1800, longest + 0.01, 100)


@pytest.mark.parametrize(("need", "verdict"), ((4.0, OK), (4.01, CAUTION)))
def test_how_long_it_has_to_run(need: float, verdict: Verdict) -> None:
    found = generator.run_time(1.0, load_w=1800, need_hours=need, **SHEET)  # type: ignore[arg-type]
    assert found.verdict is verdict


# --- against the wind -----------------------------------------------------------------------

RIG = {"weight_lb": 12000.0, "height_ft": 11.0}


@given(st.floats(35, 75), st.floats(0, 60), st.floats(3000, 25000), st.floats(5, 13))
def test_a_head_wind_takes_no_more_than_physics_allows(
    speed: float, wind: float, weight: float, height: float
) -> None:
    """Were rolling all, the range stayed; were drag, it fell with the square of the air's speed."""
    found = fuel.fuel_range(20, 6, speed, wind, weight_lb=weight, height_ft=height)
    least = found.still_mi * (speed / (speed + wind)) ** 2
    assert least - 1e-6 <= found.least_mi <= found.most_mi + 1e-9
    assert found.most_mi <= found.still_mi + 1e-9


def test_resistance_in_si_units() -> None:
    """F = 1/2 rho Cd A v^2 + Crr m g (textbook mechanics), with scipy's units: 60 mph and 20 against
    it, 12,000 lb, 88 square feet."""
    speed, area = 80 * constants.mph, 88 * constants.foot**2
    newton = (0.5 * 1.225 * 0.8 * area * speed**2
              + 0.01 * 12000 * constants.lb * constants.g)
    assert fuel.resistance(60, 20, 12000, 88, 0.8, 0.01) == pytest.approx(newton, rel=1e-9)


def test_the_range_by_burning_mile_after_mile() -> None:
    """Work done mile by mile until the fuel's share of heat is gone: the heat that still air's miles
    took, spent against the wind."""
    per_mile = [fuel.resistance(60, wind, 12000, 88, 1.0, 0.008) * constants.mile for wind in (0, 20)]
    heat, miles = 200 * per_mile[0], 0.0
    while heat > 0:
        heat, miles = heat - per_mile[1] / 100, miles + 0.01
    assert fuel.fuel_range(20, 10, 60, 20, **RIG).least_mi == pytest.approx(miles, abs=0.02)


def test_an_economy_that_no_engine_reaches_is_refused() -> None:
    """Diesel of 37.9 kWh a gallon (EPA, from memory), 45 percent of it at most, against the least
    resistance: both sides."""
    newton = fuel.resistance(60, 0, 12000, 88, 0.6, 0.008)
    top = 37.9 * 0.45 * 3.6e6 / newton / constants.mile
    fuel.fuel_range(20, top * 0.999, 60, 0, **RIG)
    with pytest.raises(InputError, match="no engine"):
        fuel.fuel_range(20, top * 1.001, 60, 0, **RIG)


def test_the_next_fuel_on_both_sides() -> None:
    """A tenth stays in the tank (a margin of our own)."""
    least = fuel.fuel_range(20, 10, 60, 20, **RIG).least_mi
    assert fuel.fuel_range(20, 10, 60, 20, **RIG, distance_mi=0.899 * least).verdict is OK
    assert fuel.fuel_range(20, 10, 60, 20, **RIG, distance_mi=0.901 * least).verdict is CAUTION


def test_radians_are_not_degrees() -> None:
    """A panel on edge towards a sun on the horizon gets all of the beam (geometry)."""
    assert sun.incidence(0, 80, 90, 90, 90) == pytest.approx(1, abs=0.001)
    assert sin(radians(90)) == 1
