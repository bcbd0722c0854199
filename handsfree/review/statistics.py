"""The statistics that the review shows, each with its source; numbers in, numbers out.

Pure.  May import numpy and, late, scipy.special.  `scipy.stats` would do most of these, but takes
1.2 s of processor time to import, where summing up a million records, once kept, takes 0.7 in all;
the tests compare.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Numbers = Sequence[float] | NDArray[np.float64]


def percentiles(values: NDArray[np.float64]) -> tuple[float, float, float]:
    """10th, 50th and 90th percentile of type 7, in the unit of `values`; nan if there are none.

    Linear between order statistics at h = (n - 1) p + 1: Hyndman and Fan, "Sample quantiles in
    statistical packages", The American Statistician 50 (1996) 361-365.
    """
    if not len(values):
        return math.nan, math.nan, math.nan
    low, median, high = np.percentile(values, (10, 50, 90), method="linear")
    return float(low), float(median), float(high)


@lru_cache(maxsize=4)
def _pairs(n: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Places of the first and the second of each pair of n; most steps have as many stays."""
    first, second = np.triu_indices(n, 1)
    return first, second


def theil_sen(x: Numbers, y: Numbers) -> float:
    """The median of the slopes of all pairs with different x; nan if there is none.

    Source: Theil 1950; Sen, Journal of the American Statistical Association 63 (1968) 1379-1389.
    Unit: that of y for one of x.  Takes O(n²) memory: pass a few hundred points at most.
    """
    xs, ys = np.asarray(x, float), np.asarray(y, float)
    first, second = _pairs(len(xs))
    run, rise = xs[second] - xs[first], ys[second] - ys[first]
    return float(np.median(rise[run != 0] / run[run != 0])) if np.any(run != 0) else math.nan


@dataclass(frozen=True)
class MannKendall:
    """Result of the test for a monotonic trend."""

    s: int
    """Pairs that rise less pairs that fall."""
    variance: float
    """Of S without a trend, corrected for ties."""
    z: float
    """S with continuity correction over its standard deviation."""
    p: float
    """Two-sided: exact up to 40 values without ties, from the normal distribution otherwise."""
    tau: float
    """S over the number of pairs."""


def mann_kendall(y: Numbers) -> MannKendall:
    """Test whether values in time order rise or fall.

    Source: Mann, Econometrica 13 (1945) 245-259; Kendall, Rank Correlation Methods (1975), with
    his correction for ties.
    """
    ys = np.asarray(y, float)
    n = len(ys)
    if n < 2:
        return MannKendall(0, 0.0, 0.0, 1.0, 0.0)
    first, second = _pairs(n)
    s = int(np.sign(ys[second] - ys[first]).sum())
    ties = np.unique(ys, return_counts=True)[1].astype(float)
    variance = (n * (n - 1) * (2 * n + 5) - float((ties * (ties - 1) * (2 * ties + 5)).sum())) / 18
    z = (s - math.copysign(1, s)) / math.sqrt(variance) if s and variance > 0 else 0.0
    exact = n <= 40 and len(ties) == n
    p = _exact_p(n, s) if exact else math.erfc(abs(z) / math.sqrt(2))
    return MannKendall(s, variance, z, p, s / (n * (n - 1) / 2))


def _exact_p(n: int, s: int) -> float:
    """P(|S| >= |s|) over all orders of n different values, by counting inversions."""
    counts = np.ones(1)
    for length in range(2, n + 1):
        counts = np.convolve(counts, np.ones(length) / length)
    pairs = n * (n - 1) // 2
    scores = pairs - 2 * np.arange(pairs + 1)
    return min(1.0, float(counts[np.abs(scores) >= abs(s)].sum()))


def benjamini_hochberg(p: Numbers) -> NDArray[np.float64]:
    """P values adjusted so that few of many trends that are claimed are false.

    Source: Benjamini and Hochberg, Journal of the Royal Statistical Society B 57 (1995) 289-300.
    """
    ps = np.asarray(p, float)
    order = np.argsort(ps)[::-1]
    scaled = ps[order] * len(ps) / np.arange(len(ps), 0, -1)
    adjusted = np.empty_like(ps)
    adjusted[order] = np.minimum.accumulate(scaled).clip(max=1.0)
    return adjusted


@dataclass(frozen=True)
class LearningCurve:
    """Power law of practice in its unit form: stay n takes first * n ** exponent."""

    first: float
    """Fitted time of the first stay, in the unit of the times."""
    exponent: float
    factor: float
    """What doubling the number of stays multiplies the time by; 0.8 is 'an 80 % curve'."""
    error: float
    """Standard error of `exponent`."""
    n: int

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of `factor`, from Student's distribution."""
        from scipy.special import stdtrit  # takes longer to import than thousands of fits take

        margin = float(stdtrit(self.n - 2, 0.975)) * self.error
        return 2.0 ** (self.exponent - margin), 2.0 ** (self.exponent + margin)

    def time(self, stay: float) -> float:
        """Fitted time of the given stay, from 1."""
        return float(self.first * stay ** self.exponent)


def learning_curve(times: Numbers, stays: Numbers | None = None) -> LearningCurve | None:
    """Fit the power law by least squares of log time on log number; None below four stays.

    The form is that of single units (Crawford), not of running averages (Wright 1936).

    Args:
        times: one for each stay, above zero, any unit.
        stays: their numbers from 1; 1, 2, 3, ... if left out.
    """
    numbers = np.arange(1, len(times) + 1) if stays is None else np.asarray(stays, float)
    values = np.asarray(times, float)
    keep = (values > 0) & (numbers > 0)
    x, y = np.log2(numbers[keep]), np.log2(values[keep])
    n = len(x)
    if n < 4 or np.ptp(x) == 0:
        return None
    spread = float(((x - x.mean()) ** 2).sum())
    slope = float(((x - x.mean()) * (y - y.mean())).sum()) / spread
    level = float(y.mean() - slope * x.mean())
    residual = float(((y - level - slope * x) ** 2).sum())
    return LearningCurve(2.0 ** level, slope, 2.0 ** slope,
                         math.sqrt(residual / (n - 2) / spread), n)


def pert(least: float, likely: float, most: float) -> tuple[float, float]:
    """Mean (a + 4 m + b) / 6 and standard deviation (b - a) / 6, in the unit of the estimates.

    Source: Malcolm, Roseboom, Clark and Fazar, Operations Research 7 (1959) 646-669.
    """
    return (least + 4 * likely + most) / 6, (most - least) / 6


def normal_share(score: NDArray[np.float64]) -> NDArray[np.float64]:
    """The standard normal distribution function, of each element."""
    return 0.5 * np.array([math.erfc(-one / math.sqrt(2)) for one in score], float)


def normal_score(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Its inverse, of each element; shares lie within 0 to 1, and 0 and 1 count as next to them."""
    inverse = NormalDist().inv_cdf
    inside = np.clip(share, np.nextafter(0.0, 1.0), np.nextafter(1.0, 0.0))
    return np.array([inverse(one) for one in inside], float)


def log_beta(a: float, b: float) -> float:
    """Natural logarithm of the beta function."""
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
