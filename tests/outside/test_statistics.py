"""Statistics of the review against published examples and other people's code."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.review import statistics as ours

NUMBERS = st.lists(st.floats(-1e6, 1e6, allow_subnormal=False), min_size=1, max_size=40)


# --- percentiles: Hyndman and Fan, The American Statistician 50 (1996) 361-365, type 7 -----------

def type_7(values: list[float], percent: float) -> float:
    """Straight from the definition: h = (n - 1) p + 1, linear between order statistics."""
    ordered = sorted(values)
    h = (len(ordered) - 1) * percent / 100
    low = math.floor(h)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (h - low) * (ordered[high] - ordered[low])


@given(NUMBERS)
@settings(max_examples=200, deadline=None)
def test_the_percentiles_shown_against_the_definition(values: list[float]) -> None:
    """Those that a summary shows; of 1 to 10 they are 1.9, 5.5 and 9.1 (1.1 and 9.9 by type 6)."""
    slack = 1e-9 * (1 + max(map(abs, values)))
    assert ours.percentiles(np.array(values)) == pytest.approx(
        [type_7(values, percent) for percent in (10, 50, 90)], abs=slack)
    assert ours.percentiles(np.arange(1.0, 11)) == pytest.approx((1.9, 5.5, 9.1))
    assert all(map(math.isnan, ours.percentiles(np.empty(0))))


# --- Theil-Sen -----------------------------------------------------------------------------------

STAYS = list(range(1, 9))
TIMES = [420, 390, 372, 365, 350, 341, 338, 700]


def test_theil_sen_is_not_turned_by_one_outlier() -> None:
    """Own data: 28 pairs, median slope -10.3667, where least squares gives +18.9524."""
    assert ours.theil_sen(STAYS, TIMES) == pytest.approx(-10.3667, abs=5e-5)
    assert np.polyfit(STAYS, TIMES, 1)[0] == pytest.approx(18.9524, abs=5e-5)


@given(st.lists(st.tuples(st.integers(0, 30), st.floats(-1e3, 1e3)), min_size=2, max_size=30))
@settings(max_examples=100, deadline=None)
def test_theil_sen_against_scipy(points: list[tuple[int, float]]) -> None:
    from scipy.stats import theilslopes

    x, y = zip(*points, strict=True)
    if len(set(x)) == 1:
        assert math.isnan(ours.theil_sen(x, y))
        return
    assert ours.theil_sen(x, y) == pytest.approx(theilslopes(y, x).slope, abs=1e-9)


# --- Mann-Kendall: Mann 1945, Kendall 1975 -------------------------------------------------------

def test_mann_kendall_worked_example() -> None:
    """Own data, n = 8 without ties: Var = 8 x 7 x 21 / 18; exact p from the table of orders."""
    found = ours.mann_kendall(TIMES)
    assert (found.s, found.tau) == (-14, -0.5)
    assert found.variance == pytest.approx(65.3333, abs=5e-5)
    assert found.z == pytest.approx(-1.6083, abs=5e-5)
    assert math.erfc(abs(found.z) / math.sqrt(2)) == pytest.approx(0.1078, abs=5e-5)
    assert found.p == pytest.approx(0.1087, abs=5e-5)


def test_mann_kendall_variance_is_corrected_for_ties() -> None:
    """n = 7: 44.3333 without ties; {10, 10, 9, 8, 8, 8, 6} has 39.6667 and S = -17."""
    assert ours.mann_kendall(range(7)).variance == pytest.approx(44.3333, abs=5e-5)
    found = ours.mann_kendall([10, 10, 9, 8, 8, 8, 6])
    assert found.s == -17
    assert found.variance == pytest.approx(39.6667, abs=5e-5)
    assert found.z == pytest.approx(-2.5404, abs=5e-5)


@pytest.mark.parametrize("n", [2, 3, 4, 5, 6, 7])
def test_exact_p_by_counting_every_order(n: int) -> None:
    orders = list(itertools.permutations(range(n)))
    scores = np.array([ours.mann_kendall(order).s for order in orders])
    for order in orders[:: max(1, len(orders) // 60)]:
        found = ours.mann_kendall(order)
        assert found.p == pytest.approx(float(np.mean(np.abs(scores) >= abs(found.s))))


@given(st.lists(st.integers(0, 12), min_size=3, max_size=40))
@settings(max_examples=150, deadline=None)
def test_mann_kendall_against_pymannkendall(values: list[int]) -> None:
    reference = pytest.importorskip("pymannkendall", reason="the extra 'test' is not installed")
    found = ours.mann_kendall(values)
    if len(set(values)) == 1:
        assert (found.s, found.z, found.p) == (0, 0.0, 1.0)
        return
    wanted = reference.original_test(values)
    assert found.s == wanted.s and found.tau == pytest.approx(wanted.Tau)
    assert found.variance == pytest.approx(wanted.var_s)
    assert found.z == pytest.approx(wanted.z)
    if len(set(values)) < len(values):
        assert found.p == pytest.approx(wanted.p, abs=1e-12)


@given(st.lists(st.floats(-100, 100), min_size=4, max_size=12, unique=True))
@settings(max_examples=60, deadline=None)
def test_exact_p_against_scipys_kendall_tau(values: list[float]) -> None:
    from scipy.stats import kendalltau

    wanted = kendalltau(range(len(values)), values, method="exact").pvalue
    assert ours.mann_kendall(values).p == pytest.approx(wanted, abs=1e-9)


# --- many trends at once -------------------------------------------------------------------------

@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
@settings(max_examples=100, deadline=None)
def test_benjamini_hochberg_against_scipy(p: list[float]) -> None:
    from scipy.stats import false_discovery_control

    assert ours.benjamini_hochberg(p) == pytest.approx(false_discovery_control(p), abs=1e-12)


# --- learning curve ------------------------------------------------------------------------------

# Crawford's unit table of the 80 % curve, first unit 100.
UNIT_80 = (100, 80, 70.21, 64, 59.56, 56.17, 53.45, 51.20, 49.29, 47.65)


def test_a_fit_to_the_table_gives_the_curve_back() -> None:
    found = ours.learning_curve(UNIT_80)
    assert found is not None
    assert found.factor == pytest.approx(0.8, abs=1e-4)
    assert found.first == pytest.approx(100, abs=0.01)
    low, high = found.interval
    assert low <= 0.8 <= high and high - low < 1e-3
    assert found.time(4) == pytest.approx(64, abs=0.01)


def test_the_interval_against_scipys_regression() -> None:
    from scipy.stats import linregress
    from scipy.stats import t as student

    rng = np.random.default_rng(5)
    n = np.arange(1, 26)
    times = 90 * n ** math.log2(0.85) * rng.lognormal(0, 0.2, 25)
    found = ours.learning_curve(times)
    fit = linregress(np.log2(n), np.log2(times))
    margin = student.ppf(0.975, 23) * fit.stderr
    assert found is not None
    assert found.factor == pytest.approx(2 ** fit.slope)
    assert found.interval == pytest.approx(
        (2 ** (fit.slope - margin), 2 ** (fit.slope + margin)))


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    rng = np.random.default_rng(6)
    n = np.arange(1, 16)
    hits = 0
    for _ in range(600):
        found = ours.learning_curve(60 * n ** math.log2(0.9) * rng.lognormal(0, 0.25, 15))
        assert found is not None
        hits += found.interval[0] <= 0.9 <= found.interval[1]
    assert hits / 600 == pytest.approx(0.95, abs=0.027)  # three standard errors


def test_no_curve_from_too_little() -> None:
    assert ours.learning_curve([60, 50, 40]) is None
    assert ours.learning_curve([60, 0, -1, 50, 40]) is None


# --- PERT: Malcolm, Roseboom, Clark and Fazar, Operations Research 7 (1959) 646-669 --------------

def test_pert_worked_examples() -> None:
    """Textbook figures, from memory: (2, 4, 12) and (5, 8, 17), and the two in series."""
    assert ours.pert(2, 4, 12) == pytest.approx((5.0, 1.6667), abs=5e-5)
    assert ours.pert(5, 8, 17) == pytest.approx((9.0, 2.0))
    means, sds = zip(ours.pert(2, 4, 12), ours.pert(5, 8, 17), strict=True)
    assert sum(means) == pytest.approx(14.0)
    assert math.hypot(*sds) == pytest.approx(2.6034, abs=5e-5)


def test_the_plan_alone_forecasts_the_sum_of_its_pert_means() -> None:
    """Central limit theorem: the spread of a step's noise aside, 50 steps take 50 means."""
    from handsfree.review.forecast import Past, fit
    from handsfree.review.records import PlanStep

    plan = tuple(PlanStep(f"s{n}", 2, 4, 12) for n in range(50))
    draws = fit(plan, Past.none(50)).totals() / 60
    assert float(np.median(draws)) == pytest.approx(250, rel=0.06)


# --- special functions, against scipy's -----------------------------------------------------------

@given(st.lists(st.floats(-8, 8), min_size=1, max_size=20))
def test_the_normal_distribution_and_its_inverse(scores: list[float]) -> None:
    from scipy.special import ndtr, ndtri

    shares = ours.normal_share(np.array(scores))
    assert np.allclose(shares, ndtr(scores), rtol=1e-12, atol=0)
    middle = np.clip(shares, 1e-12, 1 - 1e-12)
    assert np.allclose(ours.normal_score(middle), ndtri(middle), atol=1e-9)
    assert np.isfinite(ours.normal_score(np.array([0.0, 1.0]))).all()


@given(st.floats(0.1, 500), st.floats(0.1, 500))
def test_the_logarithm_of_the_beta_function(a: float, b: float) -> None:
    from scipy.special import betaln

    assert ours.log_beta(a, b) == pytest.approx(betaln(a, b), rel=1e-9, abs=1e-9)
