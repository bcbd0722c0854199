"""When to start so as to be done in time, and how much is left: from own history and the plan.

Pure; its randomness comes from a fixed seed.  May import records, statistics, numpy and, late,
scipy.special.

The model is a hierarchy on the logarithm of step times:

    log seconds(stay i, step j) = plan(j) + habit(j) + practice * log2(i / next) + day(i) + noise(j)

`plan` is the lognormal with the mean and variance of the checklist's PERT estimate (Malcolm et
al. 1959).  A habit is drawn around the operator's pace; spreads are drawn around the plan's,
times a common factor.  So with no history the plan speaks, widened by not knowing the operator;
with thirty stays the history does; between them each gets the weight that its spread earns.  It
is fitted by Gibbs sampling, since every conditional is conjugate (Gelman et al., Bayesian Data
Analysis, 3rd edition 2013, chapters 5, 11 and 15).  The day's spread, which may well be nothing,
has a half-t prior (Gelman, Bayesian Analysis 1 (2006) 515-534).  The widths of the priors, in
`_PRIOR`, are our own judgement, without a source; `handsfree bench forecast` shows what they do.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from handsfree.review.records import PlanStep
from handsfree.review.statistics import pert

Array = NDArray[np.float64]

CHANCES = (0.5, 0.8, 0.95)


@dataclass(frozen=True)
class Past:
    """What is known of earlier stays, oldest first."""

    seconds: Array
    """(stays, steps of the plan) time at hand less pauses; nan where there is none."""
    besides: Array
    """(stays,) everything else: pauses, remedies, time between steps; nan where unknown."""
    numbers: Array
    """(stays,) the number of each among all stays with this checklist, from 1."""

    @classmethod
    def none(cls, steps: int) -> Past:
        """No history at all."""
        return cls(np.empty((0, steps)), np.empty(0), np.empty(0))

    @property
    def stays(self) -> int:
        return len(self.numbers)


@dataclass(frozen=True)
class _Prior:
    pace: float = 0.35
    """Standard deviation of the logarithm of an operator's pace over the plan's."""
    habit: float = 0.3
    habit_weight: float = 8.0
    day: float = 0.07
    day_weight: float = 4.0
    practice: float = -0.04
    practice_sd: float = 0.05
    """Of the change of log time with each doubling of the stays."""
    noise_weight: float = 5.0
    """Stays that the plan's spread of a step counts for; its variance is the prior's mean."""
    noise_factor_weight: float = 2.0
    pause_chance: float = 0.3
    pause_weight: float = 0.5
    """Stays that the first guess at time besides the steps counts for."""
    pause_share: float = 0.1
    """Mean of the first guess at time besides the steps, as a share of the plan."""


_PRIOR = _Prior()
_CHAINS, _BURN, _KEPT, _THIN, _COPIES = 64, 60, 16, 3, 8


@dataclass(frozen=True)
class Fitted:
    """Draws of everything that the next stay depends on."""

    plan: tuple[PlanStep, ...]
    levels: Array
    """(draws, steps) mean log seconds on an ordinary day."""
    noise: Array
    """(draws, steps) standard deviation of log seconds."""
    day: Array
    """(draws,) standard deviation of the day's log factor."""
    besides: Array
    """(stays,) seconds, as in `Past`, without the unknown."""
    seed: int

    def totals(self, applies: Collection[str] | None = None) -> Array:
        """(n,) draws of the seconds that the next stay takes.

        Args:
            applies: ids of the steps that will apply; by default those the plan says.
        """
        if applies is None:
            applies = {p.step for p in self.plan if p.applies}
        rng = np.random.default_rng([self.seed, 2])
        logs, columns = self._logs(applies, rng)
        return np.exp(logs).sum(axis=1) + self._extra(rng, len(logs), self._expected(columns))

    def remaining(
        self, left: Collection[str], *, at: str = "", at_seconds: float = 0.0,
        done: Mapping[str, float] | None = None,
    ) -> Array:
        """(n,) draws of the seconds that a session which is under way still takes.

        Args:
            left: steps that are open and will apply, the step at hand among them.
            at: the step at hand, and `at_seconds` the time already spent on it.
            done: seconds that steps took today; they tell what kind of day it is.
        """
        rng = np.random.default_rng([self.seed, 3])
        day = self._today(done or {}, rng)
        logs, columns = self._logs(left, rng, day)
        times = np.exp(logs)
        if at and at_seconds > 0 and at in self._places and self._places[at] in columns:
            spot = columns.index(self._places[at])
            times[:, spot] = self._rest(self._places[at], at_seconds, day, rng)
        expected = self._expected(columns)
        extra = self._extra(rng, len(logs), expected)
        share = expected / max(1.0, self._expected(range(len(self.plan))))
        return times.sum(axis=1) + extra * min(1.0, share)

    # --- parts -----------------------------------------------------------------------------

    @property
    def _places(self) -> dict[str, int]:
        return {planned.step: place for place, planned in enumerate(self.plan)}

    def _expected(self, columns: Sequence[int]) -> float:
        chosen = list(columns)
        return float(np.exp(self.levels[:, chosen]).mean(axis=0).sum()) if chosen else 0.0

    def _logs(
        self, names: Collection[str], rng: np.random.Generator, day: Array | None = None
    ) -> tuple[Array, list[int]]:
        columns = [place for name, place in self._places.items() if name in set(names)]
        levels = np.repeat(self.levels[:, columns], _COPIES, axis=0)
        noise = np.repeat(self.noise[:, columns], _COPIES, axis=0)
        if day is None:
            day = rng.normal(0.0, np.repeat(self.day, _COPIES))
        return levels + day[:, None] + noise * rng.standard_normal(levels.shape), columns

    def _today(self, done: Mapping[str, float], rng: np.random.Generator) -> Array:
        """Draws of today's log factor, given what steps took so far."""
        known = [(self._places[name], math.log(taken)) for name, taken in done.items()
                 if name in self._places and taken > 0]
        precision = 1 / self.day ** 2
        pull = np.zeros_like(self.day)
        for place, log_taken in known:
            weight = 1 / self.noise[:, place] ** 2
            precision = precision + weight
            pull = pull + weight * (log_taken - self.levels[:, place])
        mean, sd = pull / precision, 1 / np.sqrt(precision)
        return rng.normal(np.repeat(mean, _COPIES), np.repeat(sd, _COPIES))

    def _rest(
        self, place: int, spent: float, day: Array, rng: np.random.Generator
    ) -> Array:
        """Draws of the seconds left of a step that has taken `spent` already."""
        from scipy.special import ndtr, ndtri

        level = np.repeat(self.levels[:, place], _COPIES) + day
        noise = np.repeat(self.noise[:, place], _COPIES)
        bound = (math.log(spent) - level) / noise
        below = ndtr(bound)
        inside = ndtri(below + (1 - below) * rng.uniform(1e-12, 1, len(level)))
        beyond = bound + rng.exponential(1.0, len(level)) / np.maximum(bound, 1.0)
        score = np.where(bound < 5.0, inside, beyond)  # the quantile is exact only near the middle
        return np.maximum(0.0, np.exp(level + noise * score) - spent)

    def _extra(self, rng: np.random.Generator, count: int, expected: float) -> Array:
        """Time besides the steps: that of own past stays, and a guess that soon weighs little."""
        guess = np.where(
            rng.random(count) < _PRIOR.pause_chance,
            rng.exponential(max(60.0, _PRIOR.pause_share * expected), count), 0.0)
        known = len(self.besides)
        if not known:
            return guess
        own = self.besides[rng.integers(0, known, count)]
        from_own = rng.random(count) < known / (known + _PRIOR.pause_weight)
        return np.where(from_own, own, guess)


def fit(plan: Sequence[PlanStep], past: Past, *, seed: int = 1, chains: int = _CHAINS) -> Fitted:
    """Fit the model to a plan and a history.

    Args:
        plan: the checklist's steps, in the order of the columns of `past.seconds`.
        chains: independent chains; 16 draws are kept of each.

    Raises:
        ValueError: a plan without steps or with impossible times, or columns that differ from it.
    """
    if not plan:
        raise ValueError("the checklist has no steps that apply")
    if past.seconds.shape[1] != len(plan):
        raise ValueError("the history's columns are not the plan's steps")
    mean, sd = np.array([pert(p.least, p.likely, p.most) for p in plan]).T * 60.0
    if not (np.all(mean > 0) and np.all(sd >= 0)):
        raise ValueError("every step needs expected minutes above zero, smallest first")
    spread = np.maximum(np.log1p((sd / mean) ** 2), 0.05 ** 2)
    base = np.log(mean) - spread / 2 - _PRIOR.habit ** 2 / 2  # over all habits the plan is right
    rng = np.random.default_rng([seed, 1])
    levels, noise, day = _sample(base, spread, past, rng, chains)
    besides = past.besides[np.isfinite(past.besides)].clip(min=0.0)
    return Fitted(tuple(plan), levels, noise, day, besides, seed)


def _sample(
    base: Array, spread: Array, past: Past, rng: np.random.Generator, chains: int
) -> tuple[Array, Array, Array]:
    """Gibbs sampling, all chains at once: draws of level, noise and day."""
    prior, steps, stays = _PRIOR, len(base), past.stays
    seen = np.isfinite(past.seconds) & (past.seconds > 0)
    y = np.where(seen, np.log(np.where(seen, past.seconds, 1.0)) - base, 0.0)
    doublings = np.log2(past.numbers / (past.numbers.max() + 1)) if stays else np.empty(0)
    counts = seen.sum(axis=0)
    known = counts > 0  # only these say anything of what steps have in common
    mask = seen.astype(float)

    pace = rng.normal(0, prior.pace, (chains, 1))
    habit = pace + rng.normal(0, prior.habit, (chains, steps))
    noise2 = np.tile(spread, (chains, 1))
    habit2 = np.full((chains, 1), prior.habit ** 2)
    day2 = np.full((chains, 1), prior.day ** 2)
    day_scale = np.full((chains, 1), prior.day ** -2)
    factor = np.ones((chains, 1))
    practice = np.full((chains, 1), prior.practice)
    day = np.zeros((chains, stays))
    kept: list[tuple[Array, Array, Array]] = []
    for sweep in range(_BURN + _KEPT * _THIN):
        trend = practice * doublings + day                                  # (chains, stays)
        # sums over stays of the masked residuals, without building a (chains, stays, steps) array
        pulled = y.sum(axis=0) - trend @ mask                               # (chains, steps)
        precision = counts / noise2 + 1 / habit2
        habit = (pulled / noise2 + pace / habit2) / precision \
            + rng.standard_normal((chains, steps)) / np.sqrt(precision)
        weight = known.sum() / habit2 + 1 / prior.pace ** 2
        pace = habit[:, known].sum(axis=1, keepdims=True) / habit2 / weight \
            + rng.standard_normal((chains, 1)) / np.sqrt(weight)
        habit2 = ((prior.habit_weight - 2) * prior.habit ** 2
                  + ((habit[:, known] - pace) ** 2).sum(axis=1, keepdims=True)) \
            / rng.chisquare(prior.habit_weight + known.sum(), (chains, 1))
        fresh = pace + rng.standard_normal((chains, steps)) * np.sqrt(habit2)
        habit = np.where(known, habit, fresh)
        if stays:
            inverse = 1 / noise2
            strength = inverse @ mask.T                                     # (chains, stays)
            off = inverse @ y.T - (habit * inverse) @ mask.T                # of habits alone
            weight = strength + 1 / day2
            day = (off - practice * doublings * strength) / weight \
                + rng.standard_normal((chains, stays)) / np.sqrt(weight)
            weight1 = (strength * doublings ** 2).sum(axis=1, keepdims=True) \
                + 1 / prior.practice_sd ** 2
            practice = (((off - day * strength) * doublings).sum(axis=1, keepdims=True)
                        + prior.practice / prior.practice_sd ** 2) / weight1 \
                + rng.standard_normal((chains, 1)) / np.sqrt(weight1)
        # half-t for the day's spread, which may be nothing: as a scale mixture it stays conjugate
        day2 = (2 * prior.day_weight / day_scale + (day ** 2).sum(axis=1, keepdims=True)) \
            / rng.chisquare(prior.day_weight + stays, (chains, 1))
        day_scale = 2 * (prior.day_weight / day2 + 1 / prior.day ** 2) \
            / rng.chisquare(prior.day_weight + 1, (chains, 1))
        trend = practice * doublings + day
        squares = (y ** 2).sum(axis=0) - 2 * trend @ y + trend ** 2 @ mask \
            - 2 * habit * (y.sum(axis=0) - trend @ mask) + habit ** 2 * counts
        noise2 = ((prior.noise_weight - 2) * factor * spread + squares.clip(min=0.0)) \
            / rng.chisquare(prior.noise_weight + counts, (chains, steps))
        share = ((prior.noise_weight - 2) * spread / noise2)[:, known].sum(axis=1, keepdims=True)
        factor = rng.gamma(prior.noise_factor_weight + known.sum() * prior.noise_weight / 2,
                           1 / (prior.noise_factor_weight + share / 2))
        if sweep >= _BURN and (sweep - _BURN) % _THIN == 0:
            kept.append((base + habit, np.sqrt(noise2), np.sqrt(day2[:, 0])))
    levels, noises, days = zip(*kept, strict=True)
    return np.concatenate(levels), np.concatenate(noises), np.concatenate(days)


# --- what is said about it -----------------------------------------------------------------------

@dataclass(frozen=True)
class StartTime:
    """Start then, and this share of stays is done in time."""

    chance: float
    start: datetime
    minutes: float
    """From the start to the time to be done by."""


def start_times(
    totals: Array, by: datetime, chances: Sequence[float] = CHANCES
) -> tuple[StartTime, ...]:
    """When to start, to the whole minute, earlier rather than later.

    Args:
        totals: draws from `Fitted.totals`, seconds.
        by: when to be rolling, with its time zone.
    """
    found = []
    for chance in chances:
        seconds = float(np.quantile(totals, chance))
        start = (by.astimezone(UTC) - timedelta(seconds=seconds)).replace(second=0, microsecond=0)
        local = start.astimezone(by.tzinfo)
        found.append(StartTime(chance, local, (by - local).total_seconds() / 60))
    return tuple(found)


def chance_in_time(totals: Array, seconds: float) -> float:
    """The share of draws that take no longer than `seconds`."""
    return float(np.mean(totals <= seconds))


@dataclass(frozen=True)
class Remaining:
    """Minutes left of a session: the median, and the 10th and 90th percentile."""

    minutes: float
    low: float
    high: float

    @property
    def rounded(self) -> int:
        """As it is spoken: to the minute below ten, to five minutes above."""
        return round(self.minutes) if self.minutes < 10 else 5 * round(self.minutes / 5)


def minutes_left(
    fitted: Fitted, left: Collection[str], *, at: str = "", at_seconds: float = 0.0,
    done: Mapping[str, float] | None = None,
) -> Remaining:
    """What is left of a session under way; arguments as for `Fitted.remaining`."""
    draws = fitted.remaining(left, at=at, at_seconds=at_seconds, done=done) / 60
    low, middle, high = (float(np.quantile(draws, chance)) for chance in (0.1, 0.5, 0.9))
    return Remaining(middle, low, high)
