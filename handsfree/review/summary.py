"""All sessions of one checklist, summed up step by step; and the history that a forecast needs.

Pure.  May import history, columns, statistics, forecast's `Past`, and numpy.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.review.columns import OUTCOMES, Columns
from handsfree.review.forecast import Past
from handsfree.review.records import Outcome, PlanStep
from handsfree.review.statistics import (
    LearningCurve,
    benjamini_hochberg,
    learning_curve,
    mann_kendall,
    percentiles,
    theil_sen,
)

Array = NDArray[np.float64]

TREND_STAYS = 200
"""A trend is looked for over this many of the latest stays."""
FORECAST_STAYS = 40
"""A forecast looks back on this many of the latest stays."""
_CLAIM = 0.05
_SUMMED = ("row", "step", "outcome", "restarted", "active", "refusals", "rejections", "tries",
           "repeats", "skips")


@dataclass(frozen=True)
class Trend:
    """Whether something gets faster or slower from stay to stay."""

    slope: float
    """Theil-Sen, seconds a stay."""
    p: float
    """Mann-Kendall, two-sided; among steps adjusted after Benjamini and Hochberg."""
    stays: int

    @property
    def says(self) -> str:
        """'faster', 'slower' or '' where five in a hundred chance trends would look like it."""
        if self.p >= _CLAIM or not self.slope or math.isnan(self.slope):
            return ""
        return "faster" if self.slope < 0 else "slower"


@dataclass(frozen=True)
class StepSummary:
    """One step over many sessions; times are active seconds of the times it was done."""

    step: str
    sessions: int
    """Sessions in which it was at hand, refused or left open."""
    done: int
    times: Array
    """(n,) active seconds in order of the stays, without those that a restart cut short."""
    stays: Array
    """(n,) the numbers of their stays, from 1."""
    median: float
    low: float
    """10th percentile."""
    high: float
    """90th percentile."""
    refusals: int
    rejections: int
    tries: int
    repeats: int
    skipped: int
    """Sessions in which it was skipped at least once."""
    forgotten: int
    """Sessions that were closed with it open although nobody had skipped it."""
    left: int
    """Sessions that were closed with it open."""
    trend: Trend | None
    curve: LearningCurve | None

    @property
    def variability(self) -> float:
        """(90th - 10th percentile) / median; nan without two times."""
        return (self.high - self.low) / self.median if len(self.times) > 1 and self.median else (
            math.nan)


@dataclass(frozen=True)
class ChecklistSummary:
    """All sessions of one checklist."""

    checklist: str
    title: str
    sessions: int
    closed: int
    minutes: Array
    """(closed sessions,) minutes less pauses, in order."""
    stays: Array
    low: float
    median: float
    high: float
    """10th, 50th and 90th percentile of `minutes`."""
    shares: tuple[float, float, float, float]
    """Active, paused, spoken and waiting time, as shares of all time."""
    trend: Trend | None
    curve: LearningCurve | None
    steps: tuple[StepSummary, ...]
    """In the order of the latest plan, then steps of remedies."""

    def most(self, what: str, count: int = 5) -> tuple[StepSummary, ...]:
        """Steps with the highest `what` (a field or property of `StepSummary`), none of zero."""
        ranked = [s for s in self.steps
                  if not math.isnan(getattr(s, what)) and getattr(s, what) > 0]
        return tuple(sorted(ranked, key=lambda s: -getattr(s, what))[:count])


def summarise(columns: Columns, checklist: str) -> ChecklistSummary:
    """Sum up the sessions of a checklist, which must be in the order in which they were begun.

    Rehearsals count if they are among `columns`.
    """
    rows = np.flatnonzero(columns.sessions["checklist"] == columns.code(checklist))
    chosen = columns.choose(rows)
    sessions, steps = chosen.sessions, chosen.steps
    numbers = np.arange(1, len(chosen) + 1, dtype=float)
    closed = sessions["closed"].astype(bool)
    minutes = ((sessions["seconds"] - sessions["paused"]) / 60)[closed]
    low, median, high = percentiles(minutes)
    total = float(sessions["seconds"].sum()) or 1.0
    shares = tuple(float(sessions[name].sum()) / total
                   for name in ("active", "paused", "spoken", "waiting"))
    order = _sorted(steps["step"])
    by_step = {name: steps[name][order] for name in _SUMMED}
    codes, starts = np.unique(by_step["step"], return_index=True)
    found = [_step(chosen.words[code], {name: column[begin:end] for name, column in by_step.items()},
                   numbers)
             for code, begin, end in zip(codes.tolist(), starts, [*starts[1:], len(order)],
                                         strict=True)] if len(codes) else []  # no step ever applied
    place = dict(zip(codes.tolist(), _positions(chosen, codes), strict=True))
    ranked = [summary for _, summary in sorted(
        zip((place[code] for code in codes.tolist()), found, strict=True), key=lambda x: x[0])]
    return ChecklistSummary(
        checklist=checklist, title=str(chosen.text("title")[-1]) if len(chosen) else checklist,
        sessions=len(chosen), closed=int(closed.sum()), minutes=minutes, stays=numbers[closed],
        low=low, median=median, high=high, shares=shares,  # type: ignore[arg-type]
        trend=_trend(numbers[closed], minutes * 60), curve=learning_curve(minutes, numbers[closed]),
        steps=_adjusted(ranked))


def _sorted(codes: NDArray[Any]) -> NDArray[np.intp]:
    """Places in the order of the codes, stable; of small codes numpy sorts far faster."""
    small = len(codes) and codes.max() <= np.iinfo("u2").max
    return np.argsort(codes.astype("u2") if small else codes, kind="stable")


def _positions(chosen: Columns, codes: NDArray[np.generic]) -> list[int]:
    """Where each step stands in the latest plan that has it; steps of remedies come last."""
    steps, positions = chosen.steps["step"], chosen.steps["position"]
    planned = positions >= 0
    latest = np.full(len(chosen.words), 10_000)
    latest[steps[planned]] = positions[planned]  # of a step's places the last one stays
    return [int(place) for place in latest[codes]]


def _step(step: str, column: Mapping[str, NDArray[Any]], numbers: Array) -> StepSummary:
    """Of the step's lines alone."""
    done = column["outcome"] == OUTCOMES.index(Outcome.DONE)
    left = column["outcome"] == OUTCOMES.index(Outcome.LEFT)
    timed = done & ~column["restarted"] & (column["active"] > 0)
    times = column["active"][timed].astype(float)
    stays = numbers[column["row"][timed]]
    low, median, high = percentiles(times)
    return StepSummary(
        step=step, sessions=len(done), done=int(done.sum()),
        times=times, stays=stays, median=median, low=low, high=high,
        refusals=int(column["refusals"].sum()), rejections=int(column["rejections"].sum()),
        tries=int(column["tries"].sum()), repeats=int(column["repeats"].sum()),
        skipped=int((column["skips"] > 0).sum()), left=int(left.sum()),
        forgotten=int((left & (column["skips"] == 0)).sum()),
        trend=_trend(stays, times), curve=learning_curve(times, stays))


def _trend(stays: Array, seconds: Array) -> Trend | None:
    """Over the latest stays; None below four, where no order of them would be significant."""
    if len(seconds) < 4:
        return None
    x, y = stays[-TREND_STAYS:], seconds[-TREND_STAYS:]
    return Trend(theil_sen(x, y), mann_kendall(y).p, len(y))


def _adjusted(steps: Sequence[StepSummary]) -> tuple[StepSummary, ...]:
    """The same with the trends' p values adjusted for looking at so many steps."""
    tested = [s.trend for s in steps if s.trend]
    p = iter(benjamini_hochberg([t.p for t in tested])) if tested else iter(())
    return tuple(
        replace(s, trend=replace(s.trend, p=float(next(p)))) if s.trend else s for s in steps)


def step_done(columns: Columns) -> dict[str, int]:
    """How many sessions did each step."""
    steps = columns.steps
    done = steps["outcome"] == OUTCOMES.index(Outcome.DONE)
    codes, counts = np.unique(steps["step"][done], return_counts=True)
    return {columns.words[code]: int(count)
            for code, count in zip(codes.tolist(), counts.tolist(), strict=True)}


def past(columns: Columns, checklist: str, plan: Sequence[PlanStep]) -> Past:
    """What earlier stays say about the steps of a plan: the latest, without rehearsals."""
    rows = np.flatnonzero((columns.sessions["checklist"] == columns.code(checklist))
                          & ~columns.sessions["rehearsal"].astype(bool))
    whose = columns.sessions["operator"][rows]
    numbers = np.empty(len(rows))
    for code in np.unique(whose):
        own = whose == code
        numbers[own] = np.arange(1, own.sum() + 1)
    chosen = columns.choose(rows[-FORECAST_STAYS:])
    steps, sessions = chosen.steps, chosen.sessions
    elapsed = steps["active"] + steps["spoken"] + steps["waiting"]
    both = steps["who"] == chosen.code("both")
    elapsed = np.where(both, elapsed / 2, elapsed)  # two people's time at one step
    planned = np.zeros(len(chosen))
    np.add.at(planned, steps["row"], np.where(steps["position"] >= 0, elapsed, 0.0))
    whole = sessions["closed"].astype(bool)
    pair = sessions["operators"] > 1
    besides = np.where(pair, sessions["paused"], sessions["seconds"] - planned)
    besides = np.where(whole, besides, np.nan)
    spans = np.where(whole & pair, sessions["seconds"] - sessions["paused"], np.nan)
    places = {planned_step.step: place for place, planned_step in enumerate(plan)}
    column = np.array([places.get(chosen.words[code], -1) for code in steps["step"]], int)
    good = ((column >= 0) & (steps["outcome"] == OUTCOMES.index(Outcome.DONE))
            & ~steps["restarted"].astype(bool))
    seconds = np.full((len(chosen), len(plan)), np.nan)
    seconds[steps["row"][good], column[good]] = elapsed[good]
    return Past(seconds, besides, numbers[-FORECAST_STAYS:], tuple(chosen.text("operator")),
                tuple(chosen.text("rig")), spans)
