"""Back-test of the forecast: are its promises kept on operators whose times are known?

May import forecast, simulated operators, records and numpy.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from handsfree.review.forecast import CHANCES, Past, fit
from handsfree.review.simulated_operator import any_operator, any_plan, without_variation


@dataclass(frozen=True)
class Calibration:
    """How often the start times of each chance were met, after so many stays of history."""

    stays: int
    operators: int
    met: tuple[float, ...]
    """Share of later stays that were in time, for each of `CHANCES`."""
    spread: tuple[float, ...]
    """Standard deviation of that share between operators."""
    early: tuple[float, ...]
    """Median minutes between being done and the time to be done by."""
    width: float
    """Median of (80 % time - 50 % time) over the 50 % time."""


def back_test(
    stays: Sequence[int] = (0, 1, 3, 10, 30), *, operators: int = 200, steps: int = 40,
    later: int = 400, seed: int = 1, chains: int = 64, steady: bool = False,
) -> Iterator[Calibration]:
    """For each length of history: forecast for many operators, then look what they really do.

    Args:
        stays: lengths of the history.
        operators: simulated operators, each with a checklist of their own.
        later: next stays that are drawn of each operator, to judge one forecast.
        steady: operators without good and bad days, practice, pauses and mishaps.
    """
    for count in stays:
        met, early, width = [], [], []
        for number in range(operators):
            rng = np.random.default_rng([seed, number, count])
            plan = any_plan(rng, steps)
            operator = any_operator(rng, plan)
            if steady:
                operator = without_variation(operator)
            numbers = np.arange(1, count + 1, dtype=float)
            seconds, pauses = operator.stays(rng, numbers)
            fitted = fit(plan, Past(seconds, pauses, numbers), seed=number, chains=chains)
            draws = fitted.totals()
            promised = np.quantile(draws, CHANCES)
            times, pauses = operator.stays(rng, np.full(later, count + 1.0))
            taken = times.sum(axis=1) + pauses
            met.append([float(np.mean(taken <= limit)) for limit in promised])
            early.append([float(np.median(limit - taken)) / 60 for limit in promised])
            width.append((promised[1] - promised[0]) / promised[0])
        shares = np.array(met)
        yield Calibration(
            count, operators, tuple(map(float, shares.mean(axis=0))),
            tuple(map(float, shares.std(axis=0))),
            tuple(map(float, np.median(early, axis=0))), float(np.median(width)))
