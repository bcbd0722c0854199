"""When to start so as to be done in time, and how much is left: from own history and the plan.

Pure; its randomness comes from a fixed seed.  May import records, statistics and numpy.

The model has two floors.  Below, each step's usual time: the plan's PERT estimate (Malcolm et al.
1959), moved towards what the steps took, the further the more stays there are (shrinkage; Gelman
et al., Bayesian Data Analysis, 3rd edition 2013, chapter 5).  What sticks out of a step far beyond
its spread was no work on it but an unannounced pause, and counts as time besides.

Above, one number for each stay: the logarithm of what its steps took over what they usually take.
These numbers are a Gaussian process (Rasmussen and Williams, Gaussian Processes for Machine
Learning, 2006, chapter 2) that adds up: the pace common to all, each operator's and each rig's
deviation (so that who or what is new borrows from the others), practice on the logarithm of the
stay's number, a slow drift or one change of pace, and the day's own luck; or none of that but the
pace, of somebody who does it alike every time.  How wide each of these is nobody knows beforehand:
many sets of widths are drawn from the priors in `_PRIOR`, and each speaks with the weight that its
likelihood earns (importance sampling).

Time besides the steps (pauses, chats, remedies) is drawn from the own past, with a first guess
that soon weighs little.

The priors are our own judgement, without a source.  They were chosen on simulated people with
other seeds than the benchmark's, most of them with other numbers of steps and stays and with
effects of other sizes than its scenarios have; `python -m benchmarks forecast` shows what they do.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from handsfree.review.records import PlanStep
from handsfree.review.statistics import log_beta, normal_score, normal_share, pert

Array = NDArray[np.float64]

CHANCES = (0.5, 0.8, 0.95)


@dataclass(frozen=True)
class Past:
    """What is known of earlier stays, oldest first, whoever and whichever rig it was."""

    seconds: Array
    """(stays, steps of the plan) time at hand less pauses; nan where there is none."""
    besides: Array
    """(stays,) everything else: pauses, remedies, time between steps; nan where unknown."""
    numbers: Array
    """(stays,) the number of each among its operator's stays with this checklist, from 1."""
    operators: tuple[str, ...] = ()
    """Of each stay; all the same person if left out."""
    rigs: tuple[str, ...] = ()
    spans: Array = field(default_factory=lambda: np.empty(0))
    """(stays,) of stays by two people: seconds from start to end less pauses; nan of one's."""

    @classmethod
    def none(cls, steps: int) -> Past:
        """No history at all."""
        return cls(np.empty((0, steps)), np.empty(0), np.empty(0))

    @property
    def stays(self) -> int:
        return len(self.numbers)

    def before(self, stay: int) -> Past:
        """The first so many stays."""
        return Past(self.seconds[:stay], self.besides[:stay], self.numbers[:stay],
                    self.operators[:stay], self.rigs[:stay], self.spans[:stay])


@dataclass(frozen=True)
class _Prior:
    pace: tuple[float, float] = (0.1, 0.5)
    """Standard deviation of the logarithm of the common pace over the plan's: of a plan that is
    about right, and of one that may be far off."""
    plan_off: float = 0.14
    """Chance of the latter."""
    operator: float = 0.21
    """Scale of that between operators, and the same between rigs."""
    rig: float = 0.1
    habit: float = 0.3
    """Of a step's usual time over the plan's, at a given pace."""
    noise_more: float = 2.2
    """Variance of a step's log time over that of the plan, whose limits are drawn too close."""
    noise_weight: float = 5.0
    """Observations that the plan's spread of a step counts for."""
    day: float = 0.11
    calm: float = 0.25
    """Chance of somebody whose days hardly differ."""
    practice: tuple[float, float] = (-0.04, -0.35)
    """Mean change of log time with each doubling of the stays, of most and of quick learners."""
    practice_sd: tuple[float, float] = (0.04, 0.13)
    learner: tuple[float, float] = (0.1, 0.26)
    """Chance of a quick learner: for somebody's first stays, when nothing can have shown it and a
    promise of it would make them late; and once there are `shown` stays."""
    shown: int = 3
    drift: float = 0.1
    """Chance that there is a drift; and its scale from stay to stay."""
    drift_sd: float = 0.08
    change: float = 0.6
    """Chance that the pace has changed at one stay, rather lately."""
    change_by: float = 0.4
    """Change of log time, up or down, if there was one; and its standard deviation."""
    change_sd: float = 0.2
    personal: float = 0.5
    """Chance that drift or change are one operator's own and nobody else's."""
    sets: int = 1536
    """Sets of widths that are drawn."""
    odd: float = 3.2
    """Standard deviations beyond which a step held an unannounced pause; and seconds at least."""
    odd_seconds: float = 60.0
    pause_chance: float = 0.42
    pause_seconds: float = 460.0
    """Mean length of such a time at first guess."""
    pause_form: float = 2.0
    """Form of the gamma distribution of lengths: nobody drops by for a second."""
    pause_stay: float = 1800.0
    """Seconds of the stay that the first guess of its chance is of."""
    pause_shape: float = 3.0
    """How sure that guess is: stays with such a time that it counts for, and one."""
    pause_own: float = 6.0
    """Own times at which they have as much to say as the curve."""
    pause_weight: float = 2.5
    """Stays that the first guess counts for."""
    same: float = 0.08
    """Chance of somebody who does it alike every time: no good and bad days, no practice, no
    change of pace and hardly a pause; and the stays without a pause that this counts for."""
    rarely: float = 40.0


_PRIOR = _Prior()
_LONG = 30.0
"""Seconds besides the steps from which on they count as a pause."""
_DRAWS = 4096
_DRIFT_STAYS = 8
"""Own stays from which on a drift is looked for."""
_CHANCE = 0.01
"""Share of histories without a drift in which one may be seen."""
_WORTH_TELLING = 0.1
"""Log of the least change of pace that is told."""
_REACH, _LEFT = 1.5, 0.778
"""Standard deviations at which odd times are clipped (Huber, Annals of Mathematical Statistics 35
(1964) 73-101), and what of a normal distribution's variance is left then."""


@dataclass(frozen=True)
class Fitted:
    """Everything that the next stay depends on."""

    plan: tuple[PlanStep, ...]
    usual: Array
    """(steps,) seconds that each usually takes at the common pace."""
    noise: Array
    """(steps,) standard deviation of the logarithm of a step's time."""
    doubt: Array
    """(steps,) the same of `usual` itself, of steps that were never seen; 0 of the others."""
    means: Array
    """(sets,) log pace of the next stay before it begins, by each set of widths."""
    sds: Array
    """(sets,) its standard deviation, the day's luck included."""
    weights: Array
    """(sets,) how much each set has to say; they add up to 1."""
    besides: Array
    """(stays,) seconds besides the steps, unannounced pauses included, without the unknown."""
    seed: int
    length: float = 1800.0
    """Seconds of the stays that the chance of a pause is known of, the first guess among them."""
    same: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, bool))
    """(sets,) whether the set is one of somebody who does it alike every time."""
    change: float = 0.0
    """Log of how much slower (below 0, faster) it goes since `changed`, where that is likely."""
    changed: int = 0
    """Stays ago at which the pace changed; 0 if it probably did not."""
    paces: Array = field(default_factory=lambda: np.empty(0))
    """(own stays,) log pace of the operator's stays, each less the median of its rig."""
    ago: Array = field(default_factory=lambda: np.empty(0))
    """(own stays,) how many stays ago that was, others' included; 1 for the latest."""

    @cached_property
    def drift(self) -> tuple[float, int] | None:
        """Log of how much slower (below 0, faster) the operator became little by little, and over
        how many stays; None where chance would do as well, or one change of pace explains it better.

        Kendall's tau of pace and order, which is the test of Mann (Econometrica 13 (1945)), at
        `_CHANCE`; the slope is that of Theil and Sen (Journal of the American Statistical Association
        63 (1968)).
        """
        if len(self.paces) < _DRIFT_STAYS:
            return None
        from scipy.stats import kendalltau, theilslopes

        order = np.arange(len(self.paces))
        if not kendalltau(order, self.paces).pvalue < _CHANCE:
            return None
        slope, level = theilslopes(self.paces, order)[:2]
        by = float(slope) * (len(order) - 1)
        if abs(by) < _WORTH_TELLING:
            return None
        late = self.ago <= self.changed
        if late.any() and not late.all():
            steps = np.where(late, np.median(self.paces[late]), np.median(self.paces[~late]))
            line = level + slope * order
            if np.abs(self.paces - steps).sum() < np.abs(self.paces - line).sum():
                return None
        return by, len(order)

    def totals(self, applies: Collection[str] | None = None, *, ratio: float = 1.0) -> Array:
        """(n,) draws of the seconds that the next stay takes.

        Args:
            applies: ids of the steps that will apply; by default those the plan says.
            ratio: what two people's common time is of the sum of their steps; 1 for one.
        """
        if applies is None:
            applies = {p.step for p in self.plan if p.applies}
        rng = np.random.default_rng([self.seed, 2])
        pace, same = self._pace(rng, {})
        times = self._times(rng, self._columns(applies), pace)
        whole = float(self.usual[self._columns(applies)].sum()) * ratio * np.exp(pace)
        return np.asarray(times.sum(axis=1) * ratio + self._extra(rng, whole, same))

    def remaining(
        self, left: Collection[str], *, at: str = "", at_seconds: float = 0.0,
        done: Mapping[str, float] | None = None, ratio: float = 1.0,
    ) -> Array:
        """(n,) draws of the seconds that a session which is under way still takes.

        Args:
            left: steps that are open and will apply, the step at hand among them.
            at: the step at hand, and `at_seconds` the time already spent on it.
            done: seconds that steps took today; they tell what kind of day it is.
            ratio: as for `totals`.
        """
        rng = np.random.default_rng([self.seed, 2])  # with nothing done the same as `totals`
        pace, same = self._pace(rng, done or {})
        columns = self._columns(left)
        times = self._times(rng, columns, pace)
        if at and at_seconds > 0 and at in self._places and self._places[at] in columns:
            spot = list(columns).index(self._places[at])
            times[:, spot] = self._rest(self._places[at], at_seconds, pace, rng)
        expected = float(self.usual[self._columns(
            {p.step for p in self.plan if p.applies} | set(left))].sum())
        share = float(self.usual[columns].sum()) / max(1.0, expected)
        whole = expected * ratio * np.exp(pace)
        return np.asarray(times.sum(axis=1) * ratio + self._extra(rng, whole, same, share))

    # --- parts -----------------------------------------------------------------------------

    @property
    def _places(self) -> dict[str, int]:
        return {planned.step: place for place, planned in enumerate(self.plan)}

    def _columns(self, names: Collection[str]) -> NDArray[np.int64]:
        wanted = set(names)
        return np.array([place for name, place in self._places.items() if name in wanted], int)

    def _pace(
        self, rng: np.random.Generator, done: Mapping[str, float]
    ) -> tuple[Array, NDArray[np.bool_]]:
        """Draws of today's log pace, given what steps took so far, and whose kind they are of."""
        means, variances, weights = self.means, self.sds ** 2, self.weights
        known = [(self._places[name], taken) for name, taken in done.items()
                 if name in self._places and taken > 0]
        if known:
            columns = np.array([place for place, _ in known])
            taken = np.array([seconds for _, seconds in known])
            usual = self.usual[columns]
            centre = float(np.median(np.log(taken / usual)))
            far = np.log(taken / usual) - centre > _PRIOR.odd * self.noise[columns]
            taken = np.where(far, usual * math.exp(centre), taken)
            share = usual / usual.sum()
            spread = float((share ** 2 * (self.noise ** 2 + self.doubt ** 2)[columns]).sum())
            seen = math.log(taken.sum() / usual.sum())
            weights = weights * np.exp(-0.5 * (seen - means) ** 2 / (variances + spread)) / np.sqrt(
                variances + spread)
            weights = weights / weights.sum() if weights.sum() > 0 else self.weights
            pull = variances / (variances + spread)
            means, variances = means + pull * (seen - means), variances * (1 - pull)
        sets = rng.choice(len(weights), _DRAWS, p=weights)
        pace = means[sets] + np.sqrt(variances[sets]) * rng.standard_normal(_DRAWS)
        return np.asarray(pace), self.same[sets]

    def _times(
        self, rng: np.random.Generator, columns: NDArray[np.int64], pace: Array
    ) -> Array:
        """(draws, steps) seconds; a step's luck changes its time, not its mean."""
        spread = np.hypot(self.noise, self.doubt)[columns]
        luck = rng.standard_normal((_DRAWS, len(columns))) * spread - spread ** 2 / 2
        return np.asarray(self.usual[columns] * np.exp(pace[:, None] + luck))

    def _rest(self, place: int, spent: float, pace: Array, rng: np.random.Generator) -> Array:
        """Draws of the seconds left of a step that has taken `spent` already."""
        noise = max(float(np.hypot(self.noise[place], self.doubt[place])), 0.05)
        level = math.log(self.usual[place]) + pace - noise ** 2 / 2
        bound = (math.log(spent) - level) / noise
        below = normal_share(bound)
        inside = normal_score(below + (1 - below) * rng.uniform(1e-12, 1, len(level)))
        beyond = bound + rng.exponential(1.0, len(level)) / np.maximum(bound, 1.0)
        score = np.where(bound < 5.0, inside, beyond)  # the quantile is exact only near the middle
        return np.maximum(0.0, np.exp(level + noise * score) - spent)

    def _extra(
        self, rng: np.random.Generator, whole: Array, same: NDArray[np.bool_],
        share: float = 1.0,
    ) -> Array:
        """Draws of the time besides the steps.

        Args:
            whole: seconds that the whole stay takes in each draw.
            same: which draws are of somebody who does it alike every time.
            share: how much of the stay is still to come.
        """
        known = self.besides
        long = known[known > _LONG]
        short = known[known <= _LONG]
        chance = np.where(same, *(rng.beta(a + len(long), b + len(short), _DRAWS)
                                  for a, b in _pausing()))
        # some interruptions come by the hour, others by the stay: between both lies the root
        chance = 1 - (1 - chance) ** np.sqrt(whole / self.length)
        sizes = guess = _first_guess(long, rng)
        if len(long):  # own ones, blurred: the next is never quite like one before
            own = long[rng.integers(0, len(long), _DRAWS)] * np.exp(
                0.3 * rng.standard_normal(_DRAWS))
            sizes = np.where(rng.random(_DRAWS) < len(long) / (len(long) + _PRIOR.pause_own),
                             own, guess)
        usual = short[rng.integers(0, len(short), _DRAWS)] if len(short) else np.zeros(_DRAWS)
        happens = rng.random(_DRAWS) < chance
        still = rng.random(_DRAWS) < share  # as likely to come in any part of the stay
        return np.where(happens, np.where(still, sizes, 0.0), usual * share)


def _first_guess(long: Array, rng: np.random.Generator) -> Array:
    """Draws of the seconds of a longer time besides the steps, as a family of curves has them.

    Gamma, with a scale that has an inverse gamma distribution and learns from `long` (conjugate;
    Gelman et al. 2013, section 2.6).
    """
    prior = _PRIOR
    form = prior.pause_form
    shape = prior.pause_shape + form * len(long)
    scale = (prior.pause_shape - 1) * prior.pause_seconds / form + float(long.sum())
    return np.asarray(rng.gamma(form, 1.0, _DRAWS) * scale / rng.gamma(shape, 1.0, _DRAWS))


def _pausing() -> tuple[tuple[float, float], tuple[float, float]]:
    """Beta distributions of the chance that a stay has a longer time besides its steps: of
    somebody who does it alike every time, and of anybody else."""
    prior = _PRIOR
    return (1.0, prior.rarely), (prior.pause_weight * prior.pause_chance,
                                 prior.pause_weight * (1 - prior.pause_chance))


def _odds_of_pausing(besides: Array) -> float:
    """How much more likely these times are of somebody who does it alike every time than of
    anybody else: the quotient of two beta-binomial likelihoods."""
    with_one = int((besides > _LONG).sum())
    same, other = (log_beta(a + with_one, b + len(besides) - with_one) - log_beta(a, b)
                   for a, b in _pausing())
    return math.exp(same - other)


def fit(
    plan: Sequence[PlanStep], past: Past, *, operator: str = "", rig: str = "",
    ratio: float = 1.0, seed: int = 1,
) -> Fitted:
    """Fit the model to a plan and a history.

    Args:
        plan: the checklist's steps, in the order of the columns of `past.seconds`.
        operator: whose the next stay is, and `rig` with which; as in `past`.
        ratio: what two people's common time is of the sum of their steps.

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
    steps = _steps(mean, sd, past)
    stays = _stays(steps, past, ratio)
    numbers = past.numbers[np.array([name == operator for name in past.operators], bool)] if (
        past.operators) else past.numbers
    number = float(numbers.max()) + 1 if len(numbers) else 1.0
    means, sds, weights, same, change, changed = _paces(
        stays, past, operator, rig, number, np.random.default_rng([seed, 1]))
    besides = past.besides + stays.odd
    known = np.isfinite(besides)
    besides = besides[known].clip(min=0.0)
    lengths = np.nansum(steps.work, axis=1)
    if len(past.spans):
        lengths = np.where(np.isfinite(past.spans), past.spans, lengths)
    lengths = lengths[known]
    weight = _PRIOR.pause_weight
    length = (weight * _PRIOR.pause_stay + float(lengths.sum())) / (weight + len(lengths))
    weights = np.where(same, _odds_of_pausing(besides), 1.0) * weights
    return Fitted(tuple(plan), steps.usual, steps.noise, steps.doubt, means, sds,
                  weights / weights.sum(), besides, seed, length, same, change, changed,
                  *_own_paces(stays.pace, past, operator))


def _own_paces(pace: Array, past: Past, operator: str) -> tuple[Array, Array]:
    """Log paces of the operator's stays, each less the median of its rig, and how long ago."""
    known = np.isfinite(pace)
    ago = np.cumsum(known[::-1])[::-1].astype(float)
    own = known & np.array([name == operator for name in past.operators or [operator] * past.stays],
                           bool)
    values, rigs = pace[own], np.array(past.rigs or [""] * past.stays)[own]
    for rig in np.unique(rigs):
        values[rigs == rig] -= np.median(values[rigs == rig])
    return values, ago[own]


@dataclass(frozen=True)
class _Steps:
    usual: Array
    noise: Array
    doubt: Array
    work: Array
    """(stays, steps) seconds without unannounced pauses; nan where there is none."""


def _steps(mean: Array, sd: Array, past: Past) -> _Steps:
    """The lower floor: what each step usually takes, and how much it varies."""
    prior = _PRIOR
    spread = np.maximum(np.log1p((sd / mean) ** 2), 0.15 ** 2) * prior.noise_more
    base = np.log(mean) - spread / 2
    seen = np.isfinite(past.seconds) & (past.seconds > 0)
    if not past.stays or not seen.any():
        return _Steps(mean, np.sqrt(spread), np.full(len(mean), prior.habit),
                      np.where(seen, past.seconds, np.nan))
    logs = np.where(seen, np.log(np.where(seen, past.seconds, 1.0)) - base, np.nan)
    counts = seen.sum(axis=0)
    habit, variance = np.zeros(len(mean)), spread
    for _ in range(4):
        centre = _medians(logs - habit, axis=1)
        residual = logs - centre[:, None]
        middle = _medians(residual, axis=0)
        reach = _REACH * np.sqrt(variance)
        clipped = np.where(seen, np.clip(residual - middle, -reach, reach), 0.0)
        own = middle + clipped.sum(axis=0) / np.maximum(counts, 1)
        habit = own * counts / (counts + variance / prior.habit ** 2)
        squares = np.where(seen, np.clip(residual - own, -reach, reach), 0.0) ** 2
        squares = squares.sum(axis=0) / _LEFT
        free = np.maximum(counts - 1.0, 0.0)
        common = float((squares.sum() + spread.sum()) / ((spread * free).sum() + spread.sum()))
        scaled = spread * common
        variance = (prior.noise_weight * scaled + squares) / (prior.noise_weight + free)
    expected = np.exp(base + habit + centre[:, None])
    far = residual - habit > prior.odd * np.sqrt(variance)
    odd = seen & far & (past.seconds - expected > prior.odd_seconds)
    work = np.where(odd, expected, np.where(seen, past.seconds, np.nan))
    return _Steps(np.exp(base + habit + variance / 2),
                  _noise(work / np.exp(base + habit + centre[:, None]), spread),
                  np.where(counts > 0, 0.0, prior.habit), work)


def _noise(ratio: Array, spread: Array) -> Array:
    """(steps,) noise, from the times over those expected: by their variance and not by that of
    their logarithms, since it is sums of them that count."""
    prior = _PRIOR
    seen = np.isfinite(ratio)
    counts = seen.sum(axis=0)
    filled = np.where(seen, ratio, 0.0)
    middle = np.where(counts > 0, filled.sum(axis=0) / np.maximum(counts, 1), 1.0)
    squares = (np.where(seen, ratio / middle - 1, 0.0) ** 2).sum(axis=0)
    free = np.maximum(counts - 1.0, 0.0)
    planned = np.expm1(spread)
    common = float((squares.sum() + planned.sum()) / ((planned * free).sum() + planned.sum()))
    pooled = (prior.noise_weight * planned * common + squares) / (prior.noise_weight + free)
    return np.asarray(np.sqrt(np.log1p(pooled)))


def _medians(values: Array, axis: int) -> Array:
    """Medians without nan; 0 where there is nothing else."""
    empty = ~np.isfinite(values).any(axis=axis)
    filled = np.where(np.expand_dims(empty, axis), 0.0, values)
    return np.asarray(np.nanmedian(filled, axis=axis))


@dataclass(frozen=True)
class _Stays:
    pace: Array
    """(stays,) log of what the steps took over what they usually take; nan where unknown."""
    luck: Array
    """(stays,) variance of that which is the steps' own luck."""
    odd: Array
    """(stays,) seconds of unannounced pauses within steps."""


def _stays(steps: _Steps, past: Past, ratio: float) -> _Stays:
    seen = np.isfinite(steps.work)
    usual = np.where(seen, steps.usual, 0.0)
    expected = usual.sum(axis=1)
    work = np.where(seen, steps.work, 0.0).sum(axis=1)
    odd = np.where(seen, past.seconds, 0.0).sum(axis=1) - work
    if len(past.spans):
        two = np.isfinite(past.spans)
        work = np.where(two, past.spans - odd, work)
        expected = np.where(two, expected * ratio, expected)
    known = (expected > 0) & (work > 0)
    pace = np.full(past.stays, np.nan)
    pace[known] = np.log(work[known] / expected[known])
    share = usual / np.maximum(usual.sum(axis=1, keepdims=True), 1e-9)
    luck = (share ** 2 * steps.noise ** 2).sum(axis=1)
    return _Stays(pace, luck, odd)


def _paces(
    stays: _Stays, past: Past, operator: str, rig: str, number: float, rng: np.random.Generator
) -> tuple[Array, Array, Array, NDArray[np.bool_], float, int]:
    """The upper floor: log pace of the next stay by each set of widths, and a change of it."""
    prior, sets = _PRIOR, _PRIOR.sets
    known = np.isfinite(stays.pace)
    y, n = stays.pace[known], int(known.sum())
    whose = np.array([*np.array(past.operators or [operator] * past.stays)[known], operator])
    which = np.array([*np.array(past.rigs or [rig] * past.stays)[known], rig])
    doublings = np.log2(np.array([*past.numbers[known], number]))
    same = rng.random(sets) < prior.same
    day = np.abs(rng.standard_t(4, sets)) * np.where(
        rng.random(sets) < prior.calm, 0.2, 1.0) * np.where(same, 0.1, 1.0) * prior.day
    apart = np.abs(rng.standard_t(8, sets)) * prior.operator
    other = np.abs(rng.standard_t(2, sets)) * prior.rig
    learner = rng.random(sets) < prior.learner[number > prior.shown]
    practice = np.where(learner, prior.practice_sd[1], prior.practice_sd[0])
    towards = np.where(learner, prior.practice[1], prior.practice[0])
    practice, towards = np.where(same, 0.01, practice), np.where(same, 0.0, towards)
    drifts = (rng.random(sets) < prior.drift) & ~same
    drift = np.where(drifts, np.abs(rng.normal(0, prior.drift_sd, sets)), 0.0)
    changes = (rng.random(sets) < prior.change) & ~drifts & ~same
    # one odd day is no change: it takes two stays to tell
    ago = np.floor(np.exp(rng.uniform(np.log(2), np.log(max(3, min(n, 20))), sets))).astype(int)
    place = np.maximum(n - ago, 1)  # the stay from which on
    changes &= n > 3
    step = np.where(changes, prior.change_sd, 0.0)
    jump = np.where(changes, rng.choice([-1.0, 1.0], sets) * prior.change_by, 0.0)

    same_who = whose[:, None] == whose[None, :]
    same_rig = which[:, None] == which[None, :]
    order = np.arange(n + 1.0)
    walk = np.minimum(order[:, None], order[None, :])
    own = rng.random(sets) < prior.personal  # a new pace is then only theirs who have it
    after = (order[None, :] >= place[:, None]).astype(float)
    after *= np.where(own[:, None], same_who[np.minimum(place, n)], 1.0)
    pace = np.where(rng.random(sets) < prior.plan_off, *prior.pace[::-1])
    cov = ((pace ** 2)[:, None, None] + (apart ** 2)[:, None, None] * same_who
           + (other ** 2)[:, None, None] * same_rig
           + (practice ** 2)[:, None, None] * np.outer(doublings, doublings)
           + (drift ** 2)[:, None, None] * walk * np.where(own[:, None, None], same_who, 1.0)
           + (step ** 2)[:, None, None] * after[:, :, None] * after[:, None, :])
    mean = towards[:, None] * doublings + jump[:, None] * after
    if not n:
        sds = np.sqrt(cov[:, 0, 0] + day ** 2)
        return mean[:, 0], sds, np.full(sets, 1 / sets), same, 0.0, 0
    luck = stays.luck[known]
    inner = cov[:, :n, :n] + np.eye(n) * (day[:, None, None] ** 2 + np.diag(luck))
    off = y - mean[:, :n]
    root = np.linalg.cholesky(inner)
    white = np.linalg.solve(root, np.concatenate(
        [off[:, :, None], cov[:, :n, n:]], axis=2))
    alpha, reach = white[:, :, 0], white[:, :, 1]
    likelihood = -0.5 * (alpha ** 2).sum(axis=1) - np.log(
        np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    weights = np.exp(likelihood - likelihood.max())
    weights /= weights.sum()
    means = mean[:, n] + (reach * alpha).sum(axis=1)
    variances = np.maximum(cov[:, n, n] - (reach ** 2).sum(axis=1), 0.0)
    # what the change itself comes to, freed of whose stays those are and of practice
    size = jump + step ** 2 * (np.linalg.solve(np.swapaxes(root, 1, 2), alpha[:, :, None])[:, :, 0]
                               * after[:, :n]).sum(axis=1)
    told, when = _change(weights, changes, place, n, size * after[:, n])
    return means, np.sqrt(variances + day ** 2), weights, same, told, when


def _change(
    weights: Array, changes: NDArray[np.bool_], place: NDArray[np.int64], n: int, sizes: Array
) -> tuple[float, int]:
    """The change of pace that is probable, and how many stays ago; (0, 0) if none is.

    Args:
        sizes: (sets,) the change of log pace that each set of widths believes in.
    """
    if n < 4 or float(weights[changes].sum()) < 0.8:
        return 0.0, 0
    at = int(np.bincount(place[changes], weights[changes], n).argmax())
    there = changes & (place == at)
    size = float(np.average(sizes[there], weights=weights[there]))
    return (size, n - at) if abs(size) > _WORTH_TELLING else (0.0, 0)


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
    done: Mapping[str, float] | None = None, ratio: float = 1.0,
) -> Remaining:
    """What is left of a session under way; arguments as for `Fitted.remaining`."""
    if not left:
        return Remaining(0.0, 0.0, 0.0)
    draws = fitted.remaining(left, at=at, at_seconds=at_seconds, done=done, ratio=ratio) / 60
    low, middle, high = (float(np.quantile(draws, chance)) for chance in (0.1, 0.5, 0.9))
    return Remaining(middle, low, high)
