"""Weights, chains and tires against regulations, standards and physics."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from handsfree.errors import InputError
from handsfree.work.finding import TWINS, Verdict
from handsfree.work.ticket import Ratings, Weighing, read_ticket
from handsfree.work.towing import (
    BREAKAWAY_HOLD_MIN,
    CHAIN_LBF,
    axle_load,
    breakaway_hold,
    coupler_strength,
    judge_axles,
    judge_chains,
    judge_tongue,
    trailer_class,
)
from handsfree.work.tyres import judge_tyres, pressure_at


@pytest.mark.parametrize(
    ("pounds", "number"),
    [(2000, 1), (2001, 2), (3500, 2), (3501, 3), (5000, 3), (5001, 4), (10000, 4)],
)
def test_classes(pounds: float, number: int) -> None:
    """Maryland COMAR 11.13.08.10; the numbers match SAE J684 (match from memory)."""
    assert trailer_class(pounds) == number


def test_beyond_the_classes() -> None:
    """Maryland COMAR 11.13.08.10 ends at 10,000 lb."""
    with pytest.raises(InputError, match="10,000"):
        trailer_class(10001)


@pytest.mark.parametrize(
    ("number", "pounds", "kilonewton"), [(1, 2000, 8.9), (2, 3500, 15.6), (3, 5000, 22.2)]
)
def test_chain_strength(number: int, pounds: float, kilonewton: float) -> None:
    """SAE J684 (quoted, the standard itself not seen); pound-force from CODATA in scipy."""
    assert CHAIN_LBF[number] == pounds
    assert pounds * constants.lbf / 1000 == pytest.approx(kilonewton, abs=0.05)
    assert judge_chains(pounds, pounds).verdict is Verdict.OK
    assert judge_chains(pounds - 1, pounds).verdict is Verdict.STOP


def test_class_four_chains() -> None:
    """SAE J684 (quoted, not seen itself): in class 4 each chain holds the trailer's gross weight."""
    assert judge_chains(6999, 7000).verdict is Verdict.STOP
    assert judge_chains(7000, 7000).verdict is Verdict.OK


def test_the_rules_for_chains_conflict() -> None:
    """New Hampshire RSA 266:63: each chain; 49 CFR 393.70(d), guidance: both together."""
    assert judge_chains(3500, 7000, "each").verdict is Verdict.STOP
    combined = judge_chains(3500, 7000, "combined")
    assert combined.verdict is Verdict.OK
    assert "393.70" in combined.basis
    assert "not your law" in combined.basis


@pytest.mark.parametrize(("gross", "pounds"), [(2000, 6000), (3500, 10500), (5000, 15000)])
def test_coupler_lengthwise(gross: float, pounds: float) -> None:
    """Maryland COMAR 11.13.08.10: least breaking points of coupler and ball."""
    assert coupler_strength(gross).lengthwise_lbf == pounds


def test_coupler_class_four() -> None:
    """Maryland COMAR 11.13.08.10: 3, 1.3, 1.4 and 1 x gross; 7,000 lb worked."""
    found = coupler_strength(7000)
    assert found.lengthwise_lbf == pytest.approx(21000)
    assert found.up_lbf == pytest.approx(9100)
    assert found.down_lbf == pytest.approx(9800)
    assert found.sideways_lbf == pytest.approx(7000)


def test_breakaway_time() -> None:
    """South Dakota 32-18-17 and 49 CFR 393.43(d): at least 15 minutes."""
    assert BREAKAWAY_HOLD_MIN * 60 == 900
    assert breakaway_hold(3.0, 4).verdict is Verdict.STOP  # by Peukert, see test_limits_of_the_trade
    assert breakaway_hold(9.0, 4).verdict is Verdict.OK


def test_tongue_share() -> None:
    """10 to 15 %: common practice, no source; SAE J2807 near 10 % (from memory)."""
    found = judge_tongue(700, 6000)
    assert (found.least_lb, found.most_lb) == (600, 900)
    for tenths, verdict in [(99, Verdict.CAUTION), (100, Verdict.OK), (150, Verdict.OK),
                            (151, Verdict.CAUTION)]:  # fmt: skip
        assert judge_tongue(6000 * tenths / 1000, 6000).verdict is verdict


def test_axle_load() -> None:
    """Statics: 6,000 lb at 12 % is 720 on the tongue, 5,280 on the axles, 1,320 on each of four."""
    assert axle_load(6000, 12, 4) == pytest.approx((720, 5280, 1320))


def test_tyres_must_carry_the_axle() -> None:
    """49 CFR 571.120 (from memory): an axle's tires are rated for at least the axle's rating."""
    assert judge_axles([2000], 3500, 1750).verdict is Verdict.OK
    assert judge_axles([2000], 3500, 1749).say == "axles.tyres-small"
    assert judge_axles([2000], 3500, 1749).verdict is Verdict.STOP


def test_a_quarter_under() -> None:
    """FMVSS 138 (from memory; trailers exempt): warning at 25 % under, 48.75 of 65 psi."""
    assert judge_tyres([48.75], 65, cold=True).verdict is Verdict.STOP
    assert judge_tyres([48.80], 65, cold=True).verdict is Verdict.CAUTION


def test_pressures_are_cold() -> None:
    """NHTSA, tyre safety (from memory): cold is three hours parked; hot reads high."""
    assert judge_tyres([65], 65, cold=True).verdict is Verdict.OK
    hot = judge_tyres([70], 65, cold=False)
    assert (hot.verdict, hot.say) == (Verdict.CAUTION, "tyres.hot")


@pytest.mark.parametrize(("psi", "gain"), [(35, 0.94), (50, 1.22), (65, 1.50), (80, 1.79)])
def test_ten_degrees_warmer(psi: float, gain: float) -> None:
    """Ideal gas from 70 F: "one psi in ten degrees" is a rule for car tires."""
    assert pressure_at(psi, 70, 80) - psi == pytest.approx(gain, abs=0.006)


@given(st.floats(0, 120), st.floats(-40, 130), st.floats(-40, 130))
def test_pressure_in_si_units(psi: float, before: float, after: float) -> None:
    """Gay-Lussac's law in pascals and kelvins, constants of scipy (CODATA)."""
    kelvin = [constants.convert_temperature(t, "F", "K") for t in (before, after)]
    absolute = (psi * constants.psi + constants.atm) * kelvin[1] / kelvin[0]
    assert pressure_at(psi, before, after) == pytest.approx(
        (absolute - constants.atm) / constants.psi, abs=1e-3
    )


def test_pounds_and_feet() -> None:
    """International yard and pound (1959), exact, as in scipy."""
    assert TWINS["lb"][1] == pytest.approx(constants.lb, rel=1e-12)
    assert TWINS["in"][1] == pytest.approx(constants.inch * 100, rel=1e-12)
    assert TWINS["ft"][1] == pytest.approx(constants.foot, rel=1e-12)
    assert TWINS["ml"][1] == pytest.approx(1e-6 / constants.fluid_ounce, rel=1e-9)


def test_the_rigs_own_share_is_a_limit() -> None:
    """10 to 15 %: common practice, no source; a limit of the rig's own manual is more than advice."""
    alone, light = Weighing(3000, 2800), Weighing(2900, 3300, 5600)
    ratings = Ratings(combined_lb=20000)
    assert read_ticket(alone, light, ratings=ratings).verdict is Verdict.CAUTION
    own = read_ticket(alone, light, ratings=ratings, share_percent=(10, 15))
    assert (own.verdict, own.say) == (Verdict.STOP, "ticket.light")


@given(
    st.floats(2500, 7000), st.floats(2500, 7000), st.floats(2000, 12000), st.floats(10, 14.9),
    st.floats(3, 5), st.floats(10, 14), st.floats(0, 99),
)  # fmt: skip
def test_ticket_against_a_beam(
    steer: float, drive: float, gross: float, share: float, overhang: float, base: float,
    back: float,
) -> None:  # fmt: skip
    """Statics of a beam on two supports: a load behind the rear axle lifts the front by
    load x overhang / wheelbase; bars move load forward without changing the total.

    The ticket must give back what the beam was made from.
    """
    tongue = gross * share / 100
    lifted = min(tongue * overhang / base, steer)
    hitched = Weighing(steer - lifted, drive + tongue + lifted, gross - tongue)
    put_back = lifted * back / 100
    moved = put_back / 2
    bars = Weighing(
        hitched.steer_lb + put_back,
        hitched.drive_lb - put_back - moved,
        hitched.trailer_lb + moved,
    )
    found = read_ticket(
        Weighing(steer, drive), hitched, bars, ratings=Ratings(combined_lb=50000)
    )
    assert found.gross_lb == pytest.approx(gross)
    assert found.tongue_lb == pytest.approx(tongue)
    assert found.share_percent == pytest.approx(share)
    assert found.front_lost_lb == pytest.approx(lifted)
    assert found.front_back_percent == pytest.approx(back, abs=1e-3)
    assert found.moved_lb == pytest.approx(moved, abs=1e-3)
    assert found.verdict is Verdict.OK
