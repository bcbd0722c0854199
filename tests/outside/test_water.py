"""Pressure, disinfection and weight of water against codes, trade practice and chemistry."""

from __future__ import annotations

import pytest
from scipy import constants

from handsfree.errors import InputError
from handsfree.work.finding import TWINS, Verdict
from handsfree.work.quantities import measure
from handsfree.work.water import (
    CHLORINE_SHARE,
    CODE_LIMIT_PSI,
    chlorine_ppm,
    dose,
    judge_gauge,
    judge_pressure,
    over_code,
    water_weight,
)

CUP_ML, GALLON_ML = 236.588, 3785.412


def test_highest_static_pressure() -> None:
    """UPC 608.2 (2015), IRC P2903.3.1: 80 psi = 552 kPa; above it a regulator."""
    assert not over_code(80.0, "US")
    assert over_code(80.1, "US")
    assert measure("552 kPa", "psi") == pytest.approx(CODE_LIMIT_PSI, abs=0.1)
    assert judge_pressure(80.1).verdict is Verdict.STOP
    assert judge_pressure(80.1, setting_psi=50).verdict is Verdict.OK


def test_psi_in_bar() -> None:
    """UPC 608.2 (2015): 80 psi is 551.58 kPa, 100 psi 689.5 kPa; factor by CODATA in scipy."""
    assert TWINS["psi"][1] == pytest.approx(constants.psi / constants.bar, rel=1e-12)
    assert 8000 * TWINS["psi"][1] == pytest.approx(551.58, abs=0.005)
    assert 10000 * TWINS["psi"][1] == pytest.approx(689.5, abs=0.05)


def test_regulator_setting_is_a_soft_warning() -> None:
    """40 to 60 psi, 275.8 to 413.7 kPa: common practice, no standard found."""
    assert 4000 * TWINS["psi"][1] == pytest.approx(275.8, abs=0.05)
    assert 6000 * TWINS["psi"][1] == pytest.approx(413.7, abs=0.05)
    assert judge_pressure(100, setting_psi=60).verdict is Verdict.OK
    assert judge_pressure(100, setting_psi=39).verdict is Verdict.CAUTION
    assert judge_pressure(100, setting_psi=61).verdict is Verdict.CAUTION
    assert judge_pressure(70).verdict is Verdict.CAUTION


def test_the_manuals_limit_is_hard() -> None:
    """Common practice: not above 50 to 60 psi unless the manual says otherwise; no source."""
    assert judge_pressure(55, limit_psi=50).verdict is Verdict.STOP
    assert judge_pressure(70, limit_psi=75).verdict is Verdict.OK
    assert judge_pressure(85, limit_psi=100).verdict is Verdict.STOP


def test_a_gauge_behind_the_regulator() -> None:
    """UPC 608.2 (2015): 80 psi; 60 psi and a regulator that holds its setting: common practice,
    no source (5 psi between two gauges is a margin of our own).
    """
    assert judge_gauge(50, setting_psi=50, limit_psi=60).verdict is Verdict.OK
    assert judge_gauge(55, setting_psi=50, limit_psi=60).verdict is Verdict.OK
    creeps = judge_gauge(56, setting_psi=50, limit_psi=60)
    assert (creeps.verdict, creeps.say) == (Verdict.CAUTION, "water.creeps")
    assert judge_gauge(61, setting_psi=50, limit_psi=60).verdict is Verdict.STOP
    assert judge_gauge(61, setting_psi=50).say == "water.creeps"
    assert judge_gauge(81, setting_psi=50).say == "water.code"


def test_free_chlorine_in_hypochlorite() -> None:
    """Standard atomic weights (from memory): Cl 35.453, Na 22.990, O 15.999; Cl2 / NaOCl."""
    assert CHLORINE_SHARE == pytest.approx(2 * 35.453 / (22.990 + 15.999 + 35.453), abs=1e-5)
    assert CHLORINE_SHARE == pytest.approx(0.9525, abs=5e-5)


@pytest.mark.parametrize(
    ("percent", "ppm"), [(5, 49.6), (5.25, 52.1), (6, 59.5), (7.5, 74.4), (8.25, 81.9)]
)
def test_quarter_cup_to_fifteen_gallons(percent: float, ppm: float) -> None:
    """Stoichiometry, NaOCl x 0.9525: the trade's 50 ppm holds for 5 to 5.25 % bleach only."""
    assert chlorine_ppm(CUP_ML / 4, 15, percent) == pytest.approx(ppm, abs=0.06)


@pytest.mark.parametrize(
    ("percent", "millilitres"), [(5, 59.6), (5.25, 56.8), (6, 49.7), (7.5, 39.7), (8.25, 36.1)]
)
def test_dose_scales_with_the_label(percent: float, millilitres: float) -> None:
    """Stoichiometry: 50 mg/L of free chlorine in 15 gallons."""
    assert dose(15, percent).bleach_ml == pytest.approx(millilitres, abs=0.06)


def test_dose_of_trade_practice() -> None:
    """Common practice, no source that binds: a quarter cup to 15 gal, one cup to 60, four hours or more."""
    quarter, whole = dose(15, 5.0), dose(60, 5.0)
    assert quarter.bleach_cups == pytest.approx(0.25, rel=0.01)
    assert whole.bleach_cups == pytest.approx(1.0, rel=0.01)
    assert whole.stand_hours == 4


def test_faster_variant() -> None:
    """Common practice, no source: half a cup to 15 gal, 100 ppm, one hour; others have no time."""
    fast = dose(15, 5.0, 100)
    assert fast.bleach_cups == pytest.approx(0.5, rel=0.01)
    assert fast.stand_hours == 1
    assert 50 * 4 != 100 * 1
    with pytest.raises(InputError, match="50 or 100"):
        dose(15, 5.0, 75)


@pytest.mark.parametrize("strength", [None, 0.0, 0.5, 16.0, 100.0])
def test_unknown_strength_is_refused(strength: float | None) -> None:
    """Follows from the spread above: 50 to 82 ppm for the same cup."""
    with pytest.raises(InputError):
        dose(15, strength)


def test_drinking_water_drops_agree() -> None:
    """US EPA, emergency disinfection of drinking water: 8 drops a gallon of 6 % bleach, 6 drops at
    8.25 % (from memory).

    At 0.05 mL a drop the two are 6.34 and 6.54 mg/L of hypochlorite (NaOCl, not free chlorine):
    within 4 % of each other.
    """
    eight, six = chlorine_ppm(8 * 0.05, 1, 6), chlorine_ppm(6 * 0.05, 1, 8.25)
    assert eight / CHLORINE_SHARE == pytest.approx(6.34, abs=0.005)
    assert six / CHLORINE_SHARE == pytest.approx(6.54, abs=0.005)
    assert six / eight == pytest.approx(1, abs=0.04)


def test_weight_of_water() -> None:
    """8.345 lb to the gallon: 40 gal weigh 333.8 lb; 0.99997 kg/L at 4 C (from memory)."""
    assert water_weight(40).weight_lb == pytest.approx(333.8)
    litres = constants.gallon * 1000
    assert water_weight(1).weight_lb * constants.lb == pytest.approx(0.99997 * litres, rel=1e-4)


def test_volumes() -> None:
    """US gallon of 231 cubic inches, exact: 15 gal are 56.78 L; a quarter cup is 59.15 mL."""
    assert TWINS["gal"][1] == pytest.approx(constants.gallon * 1000, rel=1e-9)
    assert 15 * TWINS["gal"][1] == pytest.approx(56.78, abs=0.005)
    assert measure("1/4 cup", "gal") * GALLON_ML == pytest.approx(59.15, abs=0.005)
