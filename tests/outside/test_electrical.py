"""Power, cords and voltage against published tables and physics."""

from __future__ import annotations

from itertools import product
from math import pi

import pytest
from scipy import constants

from handsfree.work.cord import CORD_A, OHMS_PER_KFT, cord_drop, voltage_drop
from handsfree.work.finding import Verdict
from handsfree.work.power import (
    SUPPLIES,
    Load,
    continuous_limit,
    judge_supply,
    judge_total,
    load_sum,
)
from handsfree.work.tester import Lamp, Wiring, read_tester
from handsfree.work.voltage import EDITIONS, judge_voltage, load_band, meter_guard, service_band


@pytest.mark.parametrize(
    ("volts", "band"),
    [(109.9, "outside"), (110.0, "B"), (113.9, "B"), (114.0, "A"), (120.0, "A"), (126.0, "A"),
     (126.1, "B"), (127.0, "B"), (127.1, "outside")],
)  # fmt: skip
def test_service_voltage_120(volts: float, band: str) -> None:
    """ANSI C84.1, table 1, service voltage, 120 V nominal (from memory)."""
    assert service_band(volts) == band


@pytest.mark.parametrize(
    ("volts", "band"),
    [(219.9, "outside"), (220.0, "B"), (227.9, "B"), (228.0, "A"), (252.0, "A"), (252.1, "B"),
     (254.0, "B"), (254.1, "outside")],
)  # fmt: skip
def test_service_voltage_240(volts: float, band: str) -> None:
    """ANSI C84.1, table 1, service voltage, 120/240 V (from memory): twice the 120 V entries."""
    assert service_band(volts, 240) == band


@pytest.mark.parametrize(
    ("edition", "volts", "band"),
    [("2006", 110.0, "A"), ("2006", 109.9, "B"), ("2006", 106.0, "B"), ("2006", 105.9, "outside"),
     ("2011", 108.0, "A"), ("2011", 107.9, "B"), ("2011", 104.0, "B"), ("2011", 103.9, "outside")],
)  # fmt: skip
def test_lowest_utilization_voltage_by_edition(edition: str, volts: float, band: str) -> None:
    """ANSI C84.1, table 1, lowest utilization voltage; 1995/2006 and 2011 on (from memory)."""
    assert load_band(volts, EDITIONS[edition]) == band


def test_one_reading_two_editions() -> None:
    """ANSI C84.1, table 1 (from memory): 105 V is outside in 2006, in range B from 2011 on."""
    assert judge_voltage([105.0], edition="2006").verdict is Verdict.STOP
    assert judge_voltage([105.0], edition="2011").verdict is Verdict.CAUTION
    assert "2006" in judge_voltage([105.0], edition="2006").basis


def test_meter_tolerance() -> None:
    """Common practice, data sheets of plain meters: a true 120 V shows as 118.96 to 121.04 V."""
    assert 120 - meter_guard(120) == pytest.approx(118.96, abs=0.001)
    assert 120 + meter_guard(120) == pytest.approx(121.04, abs=0.001)
    assert judge_voltage([125.5]).say == "volts.near"
    assert judge_voltage([124.0]).say == "volts.good"


def test_outlets_on_offer() -> None:
    """NFPA 70 (2017) 551.71, as quoted: sites have 20 A, at least 70 % of them 30 A; 50 A at 20 % of
    existing sites and 40 % of new ones.  15 A is a home's."""
    assert sorted(SUPPLIES) == [15, 20, 30, 50]
    assert [SUPPLIES[a].legs for a in (20, 30, 50)] == [1, 1, 2]


def test_nameplate_power() -> None:
    """Arithmetic: 30 A x 120 V, and 50 A x 240 V in two legs of 6,000 W."""
    assert SUPPLIES[30].power_w == 3600
    assert SUPPLIES[50].power_w == 12000
    assert SUPPLIES[50].breaker_a * SUPPLIES[50].leg_v == 6000


def test_one_leg_is_refused_though_the_total_fits() -> None:
    """Arithmetic: 7,000 W is below 12,000 W but above the 6,000 W of one leg."""
    found = load_sum([Load("all on one", 7000.0, leg=2)], SUPPLIES[50])
    assert (found.verdict, found.leg) == (Verdict.STOP, 2)
    split = [Load("a", 3500.0, leg=1), Load("b", 3500.0, leg=2)]
    assert load_sum(split, SUPPLIES[50]).verdict is Verdict.OK


def test_continuous_load() -> None:
    """NFPA 70 210.20(A), Article 100 (from memory): three hours or more, at most 80 %."""
    assert continuous_limit(30) == pytest.approx(24.0)
    assert continuous_limit(30) * 120 == pytest.approx(2880)
    assert continuous_limit(50) == pytest.approx(40.0)
    assert continuous_limit(50) * 240 == pytest.approx(9600)

    def verdict(amps: float) -> Verdict:
        return load_sum([Load("heat", amps * 120, steady=True)], SUPPLIES[30]).verdict

    assert verdict(24.0) is Verdict.OK
    assert verdict(24.1) is Verdict.CAUTION
    assert verdict(30.1) is Verdict.STOP


def test_a_breakers_number() -> None:
    """NFPA 70 (2017) 551.71 (outlets of sites) and 210.20(A): 30 A gives 24 A for hours, 50 A 40 A."""
    assert [judge_supply(a).hours_a for a in (20, 30, 50)] == pytest.approx([16, 24, 40])
    assert judge_supply(30).verdict is Verdict.OK
    assert judge_supply(40).verdict is Verdict.STOP


def test_a_total_of_which_nobody_knows_the_legs() -> None:
    """NFPA 70 210.20(A) (from memory) and arithmetic: 40 A x 120 V is 4,800 W on a leg for hours,
    9,600 W on both together.
    """
    fifty = SUPPLIES[50]
    assert judge_total(4800, fifty).verdict is Verdict.OK
    spread = judge_total(4801, fifty)
    assert (spread.verdict, spread.say) == (Verdict.CAUTION, "power.spread")
    assert judge_total(9600, fifty).say == "power.spread"
    assert judge_total(9601, fifty).say == "power.long"
    assert judge_total(12001, fifty).verdict is Verdict.STOP
    assert judge_total(2880, SUPPLIES[30]).verdict is Verdict.OK
    assert judge_total(2881, SUPPLIES[30]).say == "power.long"


TABLE_8 = {14: 3.14, 12: 1.98, 10: 1.24, 8: 0.778, 6: 0.491, 4: 0.308, 3: 0.245, 2: 0.194,
           1: 0.154}  # fmt: skip


@pytest.mark.parametrize(("gauge", "ohms"), TABLE_8.items())
def test_conductor_resistance(gauge: int, ohms: float) -> None:
    """NFPA 70 (2023) chapter 9 table 8, as quoted; the next test holds it against physics."""
    assert OHMS_PER_KFT[gauge] == ohms


@pytest.mark.parametrize("gauge", OHMS_PER_KFT)
def test_resistance_follows_from_the_wire(gauge: int) -> None:
    """ASTM B258 diameters (0.005 in x 92^((36-n)/39)) and IACS copper, 1.7241e-8 ohm m at 20 C,
    0.00393 per kelvin, at 75 C (from memory); lay of the strands adds about 2 %.
    """
    diameter = 0.005 * constants.inch * 92 ** ((36 - gauge) / 39)
    ohms_per_m = 1.7241e-8 * (1 + 0.00393 * 55) / (pi / 4 * diameter**2)
    assert OHMS_PER_KFT[gauge] / (ohms_per_m * 1000 * constants.foot) == pytest.approx(
        1.02, abs=0.015
    )


def test_two_gauges_are_a_factor() -> None:
    """ASTM B258 (from memory): two steps change the area by 92^(4/39) = 1.59."""
    for thin, thick in [(12, 10), (10, 8), (8, 6), (6, 4)]:
        assert OHMS_PER_KFT[thin] / OHMS_PER_KFT[thick] == pytest.approx(92 ** (4 / 39), rel=0.01)


@pytest.mark.parametrize(
    ("gauge", "amps", "feet", "volts", "percent"),
    [(10, 30, 25, 1.860, 1.55), (10, 30, 50, 3.720, 3.10), (10, 24, 50, 2.976, 2.48),
     (12, 12, 50, 2.376, 1.98)],
)  # fmt: skip
def test_drop_on_one_leg(
    gauge: int, amps: float, feet: float, volts: float, percent: float
) -> None:
    """NFPA 70 (2023) chapter 9 table 8 with 2 x L/1000 x R x I (form from memory)."""
    found = cord_drop(gauge, feet, amps)
    assert found.drop_v == pytest.approx(volts, abs=5e-4)
    assert found.drop_percent == pytest.approx(percent, abs=5e-3)
    assert found.end_v == pytest.approx(120 - volts, abs=5e-4)


def test_drop_balanced_and_unbalanced() -> None:
    """NFPA 70 (2023) chapter 9 table 8: 6 AWG, 50 ft, 50 A, 2.455 V of 240 or of 120."""
    balanced, alone = cord_drop(6, 50, 50, balanced=True), cord_drop(6, 50, 50)
    assert balanced.drop_v == pytest.approx(2.455) == alone.drop_v
    assert balanced.drop_percent == pytest.approx(1.023, abs=5e-4)
    assert alone.drop_percent == pytest.approx(2.046, abs=5e-4)
    assert 120 - balanced.end_v == pytest.approx((120 - alone.end_v) / 2)


def test_suggested_drop_is_advice() -> None:
    """NFPA 70 210.19 and 215.2, informational notes: 3 and 5 %; never a violation."""
    assert cord_drop(10, 48, 30).verdict is Verdict.OK
    over = cord_drop(10, 50, 30)
    assert (over.verdict, over.say) == (Verdict.CAUTION, "cord.over")
    far = cord_drop(10, 90, 30)
    assert far.drop_percent > 5
    assert (far.verdict, far.say) == (Verdict.CAUTION, "cord.far-over")


def test_drop_is_ohms_law() -> None:
    """Ohm's law: there and back through a resistance."""
    assert voltage_drop(500, 1.0, 7.0) == pytest.approx(7.0)


@pytest.mark.parametrize(
    ("gauge", "amps"), [(18, 10), (16, 13), (14, 18), (12, 25), (10, 30), (8, 40), (6, 55)]
)
def test_cord_ampacity(gauge: int, amps: int) -> None:
    """NFPA 70 table 400.5(A), two current-carrying conductors: 18 to 12 AWG as quoted, the
    rest from memory.  A short thin cord drops little and burns.
    """
    assert CORD_A[gauge] == amps
    assert cord_drop(gauge, 3, amps, breaker_a=amps).verdict is Verdict.OK
    hot = cord_drop(gauge, 3, amps + 1)
    assert hot.drop_percent < 3
    assert (hot.verdict, hot.say) == (Verdict.STOP, "cord.hot")


# Potential of what each slot is wired to; None where nothing is connected.
_WIRED = {
    Wiring.CORRECT: (120.0, 0.0, 0.0),
    Wiring.OPEN_GROUND: (120.0, 0.0, None),
    Wiring.OPEN_NEUTRAL: (120.0, None, 0.0),
    Wiring.OPEN_HOT: (None, 0.0, 0.0),
    Wiring.HOT_GROUND_REVERSED: (0.0, 0.0, 120.0),
    Wiring.HOT_NEUTRAL_REVERSED: (0.0, 120.0, 0.0),
}


@pytest.mark.parametrize("wiring", _WIRED)
def test_tester_lamps_follow_from_the_potentials(wiring: Wiring) -> None:
    """Circuit theory: a lamp lights between two connected slots at different potentials.

    Generic: the legend on the tester wins.
    """
    hot, neutral, ground = _WIRED[wiring]
    pairs = {
        Lamp.HOT_NEUTRAL: (hot, neutral),
        Lamp.HOT_GROUND: (hot, ground),
        Lamp.NEUTRAL_GROUND: (neutral, ground),
    }
    lit = frozenset(lamp for lamp, (a, b) in pairs.items() if None not in (a, b) and a != b)
    found = read_tester(lit)
    assert found.wiring == wiring.value
    assert (found.verdict is Verdict.OK) == (wiring is Wiring.CORRECT)


def test_only_one_pattern_of_eight_is_good() -> None:
    """Generic, from memory: what the legend does not print is a reason to stop."""
    patterns = [
        frozenset(lamp for lamp, on in zip(Lamp, lamps, strict=True) if on)
        for lamps in product((False, True), repeat=3)
    ]
    found = [read_tester(lit) for lit in patterns]
    assert sum(f.verdict is Verdict.OK for f in found) == 1
    assert sum(f.wiring == Wiring.UNKNOWN.value for f in found) == 2
    assert len({f.wiring for f in found}) == 7
