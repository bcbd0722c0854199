"""Judgements on both sides of the limit that their source gives.  What is from memory says so."""

from __future__ import annotations

from cmath import phase
from math import degrees, exp, log

import pytest

from handsfree.work.battery import judge_battery
from handsfree.work.cord import CORD_A, cord_drop
from handsfree.work.finding import Verdict
from handsfree.work.sewer import hose_slope
from handsfree.work.steps import Given, work_out
from handsfree.work.towing import breakaway_hold, judge_tongue, peukert_hours, without_brakes
from handsfree.work.tyres import judge_tyres
from handsfree.work.water import judge_pressure


@pytest.mark.parametrize(("gauge", "breaker", "good"), (
    (12, 20, True), (12, 25, True), (12, 30, False), (10, 30, True), (14, 15, True),
    (14, 20, False), (10, 50, False), (8, 50, False), (6, 50, True)))
def test_a_cord_is_protected_by_its_breaker(gauge: int, breaker: int, good: bool) -> None:
    """NFPA 70 240.5(A) with table 400.5(A), two current-carrying conductors (from memory): a
    flexible cord carries at least what its breaker lets through; 12 AWG 25 A, 10 AWG 30 A, 6 AWG
    55 A.  240.4(D), 20 A for 12 AWG, is for building wire and not for cords (from memory)."""
    found = cord_drop(gauge, 10, 0.8 * min(breaker, CORD_A[gauge]), breaker_a=breaker)
    assert (found.verdict is not Verdict.STOP) is good
    assert (found.say == "cord.small") is not good


@pytest.mark.parametrize(("gauge", "amps", "say"), (
    (12, 20, "cord.good"), (12, 20.1, "cord.breaker"), (10, 24, "cord.good"),
    (14, 15, "cord.good"), (14, 15.1, "cord.breaker")))
def test_a_cord_whose_breaker_is_not_told_is_not_called_fine_above_it(
    gauge: int, amps: float, say: str
) -> None:
    """Site breakers are of 15, 20, 30 and 50 A: what takes more than 20 A hangs on 30 at least."""
    found = cord_drop(gauge, 10, amps)
    assert found.say == say
    assert (found.verdict is Verdict.CAUTION) is (say == "cord.breaker")


def test_an_extension_in_its_step_is_held_against_the_breaker() -> None:
    """The case that was told 'that is fine': 12 AWG, 25 ft, on 30 A."""
    (found,) = work_out("extension", Given(25, {"cord gauge": 12}, {"supply amps": 30}))
    assert (found.verdict, found.say) == (Verdict.STOP, "cord.small")
    (found,) = work_out("extension", Given(25, {"cord gauge": 12}, {"supply amps": 20}))
    assert found.verdict is not Verdict.STOP


def test_peukert_as_it_is_worked_in_general_references() -> None:
    """The usual worked example (from memory): 100 Ah at 20 h, exponent 1.2, 10 A last 8.7 h."""
    assert peukert_hours(100, 10, 1.2) == pytest.approx(8.7, abs=0.01)
    assert peukert_hours(100, 5, 1.2) == pytest.approx(20)


@pytest.mark.parametrize(("exponent", "minutes"), ((1.15, 7.8), (1.25, 5.0)))
def test_three_ampere_hours_do_not_hold_four_brakes(exponent: float, minutes: float) -> None:
    """t = H (C / I H)^n by logarithms, beside the program's power."""
    by_logs = 60 * exp(log(20) + exponent * (log(3) - log(12 * 20)))
    assert by_logs == pytest.approx(minutes, abs=0.05)
    found = breakaway_hold(3, 4)
    assert found.verdict is Verdict.STOP and found.hold_min == pytest.approx(5.0, abs=0.05)


def test_fifteen_minutes_on_both_sides() -> None:
    """15 minutes: South Dakota 32-18-17, 49 CFR 393.43(d).  Sealed lead-acid has an exponent of
    1.15 to 1.25 (from memory): surely enough by the worst, surely too little by the best."""
    for exponent, verdict in ((1.15, Verdict.STOP), (1.25, Verdict.CAUTION)):
        need = 12 * 20 * (0.25 / 20) ** (1 / exponent)
        assert breakaway_hold(need * 0.999, 4).verdict is verdict
    assert breakaway_hold(need * 1.001, 4).verdict is Verdict.OK


@pytest.mark.parametrize(("reading", "verdict"), (
    (79.0, Verdict.OK), (78.9, Verdict.CAUTION), (80, Verdict.OK), (82, Verdict.OK),
    (84, Verdict.OK), (85.0, Verdict.OK), (85.1, Verdict.CAUTION), (106, Verdict.STOP)))
def test_a_tyre_between_placard_and_the_owners_highest_is_right(
    reading: float, verdict: Verdict
) -> None:
    """Placard 80, the owner's highest 84, a gauge good to 1 psi (common practice)."""
    assert judge_tyres([reading], 80, cold=True, most_psi=84).verdict is verdict


def test_a_tyre_within_the_rigs_limits_is_told_to_let_no_air_out() -> None:
    numbers = {"tyre psi low": 80.0, "tyre psi high": 84.0}
    (found,) = work_out("tyres", Given(82, numbers))
    assert found.say == "tyres.good"
    (found,) = work_out("tyres", Given(86, numbers))
    assert found.say == "tyres.high"


@pytest.mark.parametrize(("share", "verdict"), ((3.9, Verdict.STOP), (4.0, Verdict.CAUTION)))
def test_next_to_nothing_on_the_hitch(share: float, verdict: Verdict) -> None:
    """UN regulation 55 and StVZO 44(3) (from memory): at least 4 % of the trailer's weight."""
    assert judge_tongue(60 * share, 6000).verdict is verdict


@pytest.mark.parametrize(("psi", "say"), ((14.9, "water.low"), (15.0, "water.good")))
def test_pressure_worth_the_name(psi: float, say: str) -> None:
    """UPC 608.1 (from memory): a supply gives at least 15 psi."""
    assert judge_pressure(psi).say == say


def test_a_sewer_hose_that_falls_well_is_no_fault() -> None:
    """Plausible sites: outlet 12 to 18 in, inlet 0 to 4, hose 5 to 20 ft.  No code has a greatest
    slope for a drain of 3 in (IPC 704.1, from memory); that steep hoses leave solids behind has no
    source."""
    for outlet in range(12, 19):
        for inlet in (0, 2, 4):
            for length in (5, 10, 15, 20):
                assert hose_slope(outlet, inlet, length).verdict is Verdict.OK


@pytest.mark.parametrize(("volts", "chemistry", "verdict"), (
    (12.2, "lead-acid", Verdict.OK), (12.1, "lead-acid", Verdict.CAUTION),
    (11.8, "lead-acid", Verdict.STOP), (12.2, "lithium", Verdict.STOP),
    (12.9, "lithium", Verdict.OK), (12.8, "lithium", Verdict.CAUTION),
    (12.4, "lithium", Verdict.STOP), (12.5, "lithium", Verdict.CAUTION)))
def test_a_battery_is_judged_by_its_chemistry(
    volts: float, chemistry: str, verdict: Verdict
) -> None:
    """At rest.  Lead-acid: 12.2 V half full, 11.9 V empty; four lithium iron phosphate cells: 12.9 V
    a fifth, 12.5 V a tenth (makers' tables, from memory)."""
    assert judge_battery(volts, chemistry).verdict is verdict  # type: ignore[arg-type]


def test_front_to_back_without_a_direction_says_nothing_of_going_back() -> None:
    """The reading has no direction: nose high needs no travel upwards, and the truck has gone."""
    (found,) = work_out("lift front", Given(5, {"jack to axle": 200, "jack travel": 10}))
    assert found.say == "level.fore.either.missing" and found.verdict is Verdict.CAUTION
    (found,) = work_out("lift front", Given(1, {"jack to axle": 200, "jack travel": 10}))
    assert found.say == "level.fore.either" and found.verdict is Verdict.OK


@pytest.mark.parametrize(("angle", "more"), ((2.86, False), (2.87, True)))
def test_the_jacks_travel_on_both_sides(angle: float, more: bool) -> None:
    """atan(10 in / 200 in) = 2.8624 degrees (plane trigonometry): by complex numbers, beside the
    program's tangent."""
    assert degrees(phase(complex(200, 10))) == pytest.approx(2.8624, abs=1e-4)
    numbers, facts = {"jack to axle": 200.0, "jack travel": 10.0}, frozenset({"nose low answered"})
    low = Given(angle, numbers, facts=facts | {"nose low"})
    (now,), (later,) = work_out("jack pile", low), work_out("lift front", low)
    assert (now.verdict is Verdict.CAUTION) is more and (now.say == "level.pile.more") is more
    assert (later.verdict is Verdict.STOP) is more
    (high,) = work_out("lift front", Given(angle, numbers, facts=facts))
    assert high.say == "level.fore.down" and high.verdict is Verdict.OK


@pytest.mark.parametrize(("pounds", "region", "say", "whose"), (
    (1499, "US", "unbraked.light", "US"), (1500, "US", "unbraked.heavy", "US"),
    (1653.466966, "Europe", "unbraked.light", "Europe"), (1655, "Europe", "unbraked.heavy", "Europe"),
    (1499, "", "unbraked.light", "US"), (1500, "", "unbraked.heavy", "US")))
def test_the_weight_from_which_laws_ask_for_brakes(pounds: float, region: str, say: str, whose: str) -> None:
    """California Vehicle Code 26302(c): camp trailers of 1,500 lb or more.  UN Regulation 13, category O1:
    750 kg and less (both from memory)."""
    found = without_brakes(pounds, region)
    assert (found.say, found.region) == (say, whose)
