"""The whole way from the post to the trailer, 120 and 230 V, against published figures and a second
formula.  Everything "from memory" was not looked up."""

from __future__ import annotations

import pytest

from handsfree.work.cord import cord_drop, mains_drop
from handsfree.work.finding import Verdict
from handsfree.work.power import MAINS, SUPPLIES, Supply, judge_supply, judge_total
from handsfree.work.voltage import judge_loaded, judge_mains

OK, CAUTION, STOP = Verdict.OK, Verdict.CAUTION, Verdict.STOP


# --- the chain, and its weakest part --------------------------------------------------------

@pytest.mark.parametrize("part", ("adapter", "cord", "inlet"))
def test_a_part_that_nothing_protects_stops_the_breaker(part: str) -> None:
    """NFPA 70 240.5(A); IEC 60364-4-43, 433.1, In <= Iz (both from memory): both sides of the limit."""
    assert judge_supply(30, parts={part: 30.0}).verdict is OK
    found = judge_supply(30, parts={part: 29.9, "main": 30.0})
    assert (found.verdict, found.say, found.part) == (STOP, "power.too-big", part)


def test_the_weakest_of_several_is_named() -> None:
    """By hand: the smallest of the chain's figures."""
    parts = {"adapter": 20.0, "cord": 30.0, "inlet": 15.0}
    assert judge_supply(30, parts=parts).part == "inlet"
    assert judge_supply(30, parts={"cord": 30.0}).part == "breaker"
    main = judge_supply(50, parts={"cord": 50.0, "main": 30.0})
    assert (main.verdict, main.say, main.part, main.hours_a) == (OK, "power.weakest", "main", 24.0)


def test_a_breaker_further_on_limits_the_load_and_stops_nothing() -> None:
    """It opens by itself: 30 A behind 50 A is no overload of anything (arithmetic)."""
    assert judge_supply(50, parts={"main": 49.9}).say == "power.weakest"
    assert judge_supply(50, parts={"main": 50.0}).say == "power.supply"


@pytest.mark.parametrize("amps", (6, 10, 16))
def test_what_a_230_volt_post_gives(amps: int) -> None:
    """P = U I at 230 V; IEC 60898-1: a breaker carries its rated current without interruption (from
    memory), so there is no 80 percent rule.  6 A: 1,380 W; 10 A: 2,300 W; 16 A: 3,680 W."""
    found = judge_supply(amps, parts={"cord": 16.0}, mains=True, region="Europe")
    assert found.verdict is OK and found.hours_a == amps
    assert found.limit_w == pytest.approx({6: 1380, 10: 2300, 16: 3680}[amps])


@pytest.mark.parametrize(("amps", "say"), (
    (7, "power.unknown-mains"), (15, "power.unknown-mains"), (30, "power.unknown-mains"),
    (20, "power.too-big"), (32, "power.too-big"), (16, "power.supply")))
def test_a_16_amp_cord_hangs_on_no_bigger_post(amps: int, say: str) -> None:
    """IEC 60898-1, 5.3.3, preferred rated currents 6, 8, 10, 13, 16, 20, 25, 32 (from memory)."""
    assert judge_supply(amps, parts={"cord": 16.0}, mains=True).say == say


@pytest.mark.parametrize(("amps", "say"), ((6, "power.unknown"), (10, "power.unknown"), (16, "power.unknown"),
                                           (20, "power.supply")))
def test_the_two_systems_are_not_mixed(amps: int, say: str) -> None:
    assert judge_supply(amps).say == say


def test_a_house_socket_gives_less_for_hours() -> None:
    """Common practice: 10 A for hours on a socket made for 16 A."""
    assert judge_supply(16, parts={"cord": 16.0}, mains=True, house=True,
                        region="Europe").hours_a == 10
    assert judge_supply(6, parts={"cord": 16.0}, mains=True, house=True,
                        region="Europe").hours_a == 6


@pytest.mark.parametrize(("watts", "supply", "say"), (
    (3680, MAINS[16], "power.fits"), (3681, MAINS[16], "power.over"),
    (1380, MAINS[6], "power.fits"), (1381, MAINS[6], "power.over"),
    (2300, Supply(16, 1, 230.0, 1.6), "power.fits"), (2301, Supply(16, 1, 230.0, 1.6), "power.long"),
    (2880, SUPPLIES[30], "power.fits"), (2881, SUPPLIES[30], "power.long")))
def test_what_may_run_at_once(watts: float, supply: Supply, say: str) -> None:
    """P = U I, both sides."""
    assert judge_total(watts, supply).say == say


# --- volts ----------------------------------------------------------------------------------

@pytest.mark.parametrize(("volts", "verdict"), (
    (206.9, STOP), (207, CAUTION), (208.6, CAUTION), (209, OK), (230, OK), (251, OK), (252, CAUTION),
    (253, CAUTION), (253.1, STOP), (0, STOP)))
def test_230_volts_at_the_outlet(volts: float, verdict: Verdict) -> None:
    """EN 50160 and IEC 60038: 230 V, plus and minus 10 percent (from memory); CAUTION where a plain
    meter (0.7 percent and 0.2 V, common practice) may be off across the limit."""
    assert judge_mains(volts).verdict is verdict


@pytest.mark.parametrize(("volts", "mains", "verdict"), (
    (103.9, False, STOP), (104, False, OK), (127, False, OK), (127.1, False, STOP),
    (197.9, True, STOP), (198, True, OK), (253, True, OK), (253.1, True, STOP)))
def test_volts_that_arrive_under_load(volts: float, mains: bool, verdict: Verdict) -> None:
    """ANSI C84.1 table 1 (2011 on), utilization range B, 104 to 127 V; IEC 60038 table A.1, lowest
    utilization voltage 198 V (from memory)."""
    assert judge_loaded(volts, None, mains=mains).verdict is verdict


@pytest.mark.parametrize(("outlet", "loaded", "say"), (
    (120, 114, "loaded.good"), (120, 113.9, "loaded.drop"), (230, 218.5, "loaded.good"),
    (230, 218, "loaded.drop"), (120, 121, "loaded.good")))
def test_a_drop_of_more_than_five_percent_is_told(outlet: float, loaded: float, say: str) -> None:
    """NFPA 70 215.2 informational note, and IEC 60364-5-52 annex G (from memory): 5 percent."""
    assert judge_loaded(loaded, outlet, mains=outlet > 200).say == say


# --- the cord in square millimetres ---------------------------------------------------------

@pytest.mark.parametrize("area", (2.5, 4, 6))
def test_drop_by_the_formula_of_the_wiring_rules(area: float) -> None:
    """IEC 60364-5-52 annex G (from memory): u = 2 rho L I / S, rho = 0.0225 ohm mm2/m, which is 1.25
    times that at 20 degrees C; another resistance than the code's, by IEC 60228.  Within 4 percent."""
    metres, amps = 25.0, 10.0
    found = mains_drop(area, metres / 0.3048, amps, breaker_a=16)
    assert found.drop_v == pytest.approx(2 * 0.0225 * metres * amps / area, rel=0.04)


def test_a_cord_of_two_and_a_half_agrees_with_twelve_and_fourteen_gauge() -> None:
    """ASTM B258: 12 AWG is 3.31 mm2, 14 AWG 2.08 mm2, so 2.5 mm2 lies between (area)."""
    drop = {name: cord_drop(gauge, 80, 10).drop_v for name, gauge in (("12", 12), ("14", 14))}
    assert drop["12"] < mains_drop(2.5, 80, 10).drop_v < drop["14"]


@pytest.mark.parametrize(("area", "breaker", "say"), (
    (2.5, 16, "cord.good"), (2.5, 17, "cord.small"), (4, 25, "cord.good"), (4, 26, "cord.small"),
    (1.5, 6, "cord.thin"), (2.4, 6, "cord.thin")))
def test_the_cords_least_cross_section(area: float, breaker: float, say: str) -> None:
    """IEC 60364-7-721, table of connecting cables: 16 A 2.5, 25 A 4, 32 A 6 mm2 (from memory)."""
    assert mains_drop(area, 20, 6, breaker_a=breaker).say == say


@pytest.mark.parametrize(("metres", "say"), ((27, "cord.good"), (27.2, "cord.long")))
def test_one_cord_is_25_metres(metres: float, say: str) -> None:
    """IEC 60364-7-721: 25 m, 2 m more or less (from memory)."""
    assert mains_drop(6, metres / 0.3048, 6, breaker_a=6).say == say


@pytest.mark.parametrize(("breaker", "parts", "watts"), (
    (50, {}, 9600), (50, {"main": 30}, 2880), (50, {"cord": 50, "main": 30}, 5760),
    (50, {"inlet": 50, "main": 30}, 5760),
    (30, {"adapter": 30, "cord": 50, "inlet": 50, "main": 50}, 2880), (50, {"cord": 50, "inlet": 30}, 2880),
    (20, {"cord": 30}, 1920)))
def test_the_watts_of_a_way_count_the_legs_that_all_of_it_has(
    breaker: float, parts: dict[str, float], watts: float
) -> None:
    """NEMA WD 6 (from memory): TT-30 and below have one live blade, 14-50 two; 80 percent x 120 V x legs. A trailer's
    30 A breaker behind a cord for 50 A is in both legs."""
    assert judge_supply(breaker, parts=parts).limit_w == pytest.approx(watts)
