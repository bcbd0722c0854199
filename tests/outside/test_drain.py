"""Slope of the drain against the plumbing code; borrowed, for a hose is no building drain."""

from __future__ import annotations

import pytest

from handsfree.work.finding import Verdict
from handsfree.work.sewer import hose_slope, least_slope, percent


@pytest.mark.parametrize(
    ("inches", "slope"),
    [(1.5, 1 / 4), (2.5, 1 / 4), (3, 1 / 8), (4, 1 / 8), (6, 1 / 8), (8, 1 / 16), (10, 1 / 16)],
)
def test_least_slope(inches: float, slope: float) -> None:
    """IPC table 704.1, as in Chicago's plumbing code: 1/4, 1/8 and 1/16 inch a foot by size."""
    assert least_slope(inches, "US") == slope


@pytest.mark.parametrize(("slope", "as_percent"), [(1 / 4, 2.083), (1 / 8, 1.042), (1 / 16, 0.521)])
def test_slope_in_percent(slope: float, as_percent: float) -> None:
    """Arithmetic; the code prints 2, 1 and 0.5 %."""
    assert percent(slope) == pytest.approx(as_percent, abs=5e-4)
    assert round(percent(slope) * 2) / 2 == {1 / 4: 2, 1 / 8: 1, 1 / 16: 0.5}[slope]


def test_falls_over_a_length() -> None:
    """Arithmetic: 10 ft at 1/4 are 2.5 in, 20 ft 5 in; 20 ft at 1/8 are 2.5 in."""
    assert hose_slope(10, 0, 10).aim_in == 2.5
    assert hose_slope(10, 0, 20).aim_in == 5.0
    assert hose_slope(10, 0, 20, region="US").least_in == 2.5


@pytest.mark.parametrize(
    ("fall", "verdict", "say"),
    [(2.4, Verdict.CAUTION, "sewer.flat"), (2.5, Verdict.CAUTION, "sewer.shallow"),
     (4.9, Verdict.CAUTION, "sewer.shallow"), (5.0, Verdict.OK, "sewer.good"),
     (10.0, Verdict.OK, "sewer.good"), (10.1, Verdict.OK, "sewer.good"),
     (0.0, Verdict.STOP, "sewer.uphill"), (-1.0, Verdict.STOP, "sewer.uphill")],
)  # fmt: skip
def test_three_inch_hose(fall: float, verdict: Verdict, say: str) -> None:
    """IPC table 704.1: 1/8 in a foot is the limit for 3 in (other codes: 1/4), and there is no
    greatest slope.
    """
    found = hose_slope(12 + fall, 12, 20, diameter_in=3, region="US")
    assert (found.verdict, found.say) == (verdict, say)


def test_the_limit_is_marked_as_borrowed() -> None:
    """Scope of the IPC table (from memory): building drains."""
    assert "borrowed" in hose_slope(12, 6, 10).basis


def test_a_hose_that_is_all_but_nothing_has_no_supports() -> None:
    """No calculation stops at a length that rounds to none."""
    assert hose_slope(12, 0, 1e-140).supports == ()
