"""Operators whose step times have known distributions, to test review and forecast on.

Pure, but for the random generator that is passed in.  May import records and numpy.  They are
drawn from other families than the forecast assumes, so that agreement means something.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.review.records import PlanStep
from handsfree.review.statistics import pert

Array = NDArray[np.float64]

FAMILIES = ("lognormal", "gamma", "beta")


@dataclass(frozen=True)
class SimulatedOperator:
    """How long somebody takes at each step, alike from stay to stay but for day and practice."""

    plan: tuple[PlanStep, ...]
    means: Array
    """(steps,) mean seconds of the first stay on an ordinary day."""
    spread: float
    """Standard deviation over mean, of each step."""
    family: str
    """'lognormal', 'gamma' or 'beta' (on a fifth to twice the mean and beyond)."""
    day: float
    """Standard deviation of the logarithm of the day's common factor: rain, tired, mud."""
    practice: float
    """What doubling the number of stays multiplies times by."""
    pause_chance: float
    pause_mean: float
    """Seconds, exponential."""
    mishap_chance: float
    """For each step: it takes four times as long."""

    def stays(self, rng: np.random.Generator, numbers: Array) -> tuple[Array, Array]:
        """Times of the stays with these numbers (from 1).

        Returns:
            (stays, steps) seconds at each step, and (stays,) seconds of pauses.
        """
        shape = (len(numbers), len(self.means))
        if self.family == "lognormal":
            sigma = np.sqrt(np.log1p(self.spread ** 2))
            unit = rng.lognormal(-sigma ** 2 / 2, sigma, shape)
        elif self.family == "gamma":
            unit = rng.gamma(1 / self.spread ** 2, self.spread ** 2, shape)
        else:  # a beta with mean 1 and the wanted spread, from 0.2 to 3
            mean, width = 0.8 / 2.8, self.spread / 2.8
            weight = mean * (1 - mean) / width ** 2 - 1
            unit = 0.2 + 2.8 * rng.beta(mean * weight, (1 - mean) * weight, shape)
        unit *= np.where(rng.random(shape) < self.mishap_chance, 4.0, 1.0)
        common = np.exp(rng.normal(-self.day ** 2 / 2, self.day, len(numbers)))
        common *= np.asarray(numbers, float) ** np.log2(self.practice)
        pauses = np.where(rng.random(len(numbers)) < self.pause_chance,
                          rng.exponential(self.pause_mean, len(numbers)), 0.0)
        return unit * self.means * common[:, None], pauses


def any_plan(rng: np.random.Generator, steps: int) -> tuple[PlanStep, ...]:
    """A checklist of the usual kind: most steps short, a few long."""
    likely = rng.lognormal(np.log(0.7), 0.6, steps).clip(0.15, 8.0)
    return tuple(
        PlanStep(f"step-{place + 1:02d}", round(m * 0.5, 3), round(m, 3), round(m * 2.2, 3))
        for place, m in enumerate(likely))


def any_operator(rng: np.random.Generator, plan: tuple[PlanStep, ...]) -> SimulatedOperator:
    """Somebody who is not quite as the checklist expects: pace, habits, practice, pauses."""
    expected = np.array([60 * pert(p.least, p.likely, p.most)[0] for p in plan])
    pace = rng.lognormal(0.0, 0.25)
    habits = rng.lognormal(-0.3 ** 2 / 2, 0.3, len(plan))
    return SimulatedOperator(
        plan, expected * pace * habits, spread=rng.uniform(0.2, 0.5),
        family=str(rng.choice(FAMILIES)), day=rng.uniform(0.0, 0.2),
        practice=rng.uniform(0.9, 1.0), pause_chance=rng.uniform(0.0, 0.4),
        pause_mean=rng.uniform(120.0, 600.0), mishap_chance=rng.uniform(0.0, 0.03))
