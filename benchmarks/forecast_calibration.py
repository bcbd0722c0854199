"""Back-test of the forecast: are its promises kept, and is it better than a plain guess?

May import forecast, the simulated people, records and numpy.  The rivals are reckoned here with
numpy alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import click
import numpy as np
from numpy.typing import NDArray

from benchmarks.simulated_people import SCENARIOS, Scenario, World, world
from handsfree.errors import HandsfreeError, InputError
from handsfree.review.forecast import CHANCES, Past, fit
from handsfree.review.records import PlanStep

Array = NDArray[np.float64]

_DRIFTS = (0.01, 0.02, -0.02)
"""More log time with each stay."""
_NORMAL = (0.0, 0.8416212, 1.6448536)
"""Quantiles of the standard normal distribution at `CHANCES`."""


@dataclass(frozen=True)
class Calibration:
    """How often the start times of each chance were met, after so many stays of history."""

    scenario: str
    stays: int
    histories: int
    met: tuple[float, ...]
    """Share of later stays that were in time, for each of `CHANCES`."""
    spread: float
    """Standard deviation between histories of that share at 80 %."""
    loss: Mapping[str, float]
    """Pinball loss in minutes, mean over `CHANCES`: of the forecast ('ours') and its rivals."""

    @property
    def error(self) -> float:
        """Standard error of the share that was in time at 80 %: other people, another share."""
        return float(self.spread / self.histories ** 0.5)

    @property
    def beaten(self) -> tuple[str, ...]:
        """Rivals that did no worse."""
        return tuple(name for name, loss in self.loss.items()
                     if name != "ours" and loss <= self.loss["ours"])


def pinball(chance: float, limit: float, taken: Array) -> float:
    """Mean loss of having named `limit` as the quantile `chance` of what then was `taken`.

    Source: Koenker and Bassett, "Regression quantiles", Econometrica 46 (1978) 33-50.
    Unit: that of the times.
    """
    over = taken - limit
    return float(np.mean(np.maximum(chance * over, (chance - 1) * over)))


def back_test(
    scenarios: Sequence[str] = tuple(SCENARIOS), stays: Sequence[int] = (), *,
    histories: int = 100, steps: int = 40, seed: int = 1,
) -> Iterator[Calibration]:
    """For each scenario and length of history: forecast many, then look what really happens.

    Args:
        stays: lengths of history; by default the scenario's own.
        histories: simulated histories, each of other people with a checklist of their own.
    """
    for name in scenarios:
        scenario = SCENARIOS[name]
        for count in stays or scenario.stays:
            yield _row(name, scenario, count, histories, steps, seed)


def _row(
    name: str, scenario: Scenario, stays: int, histories: int, steps: int, seed: int
) -> Calibration:
    met: list[list[float]] = []
    losses: dict[str, list[float]] = {}
    for history in range(histories):
        place = list(SCENARIOS).index(name)
        found = world(np.random.default_rng([seed, place, stays, history]), scenario, stays,
                      steps=steps)
        limits = _limits(found, history)
        met.append([float(np.mean(found.later <= limit)) for limit in limits["ours"]])
        for rival, named in limits.items():
            losses.setdefault(rival, []).append(float(np.mean([
                pinball(chance, limit, found.later)
                for chance, limit in zip(CHANCES, named, strict=True)])) / 60)
    shares = np.array(met)
    return Calibration(
        name, stays, histories, tuple(map(float, shares.mean(axis=0))),
        float(shares[:, 1].std()), {rival: float(np.mean(all_)) for rival, all_ in losses.items()})


def told_of(by: float, *, histories: int = 100, stays: int = 24, seed: int = 1) -> tuple[float, float]:
    """Shares of histories in which a slow drift is told, and a change of pace at once.

    Args:
        by: how much more log time each stay takes than the one before; 0 for histories in which
            nothing changes but days, pauses and mishaps.
    """
    still = replace(SCENARIOS["ordinary"], practice=(1.0, 1.0))
    drifted = changed = 0
    for history in range(histories):
        found = world(np.random.default_rng([seed, 1000, history]), still, stays)
        past = Past(found.seconds * np.exp(by * np.arange(stays))[:, None], found.besides,
                    found.numbers, found.people, found.rigs)
        fitted = fit(_plan(found), past, operator=found.person, rig=found.rig, seed=history)
        right = fitted.drift and (not by or (fitted.drift[0] > 0) == (by > 0))
        drifted += bool(right)
        changed += bool(fitted.changed and not fitted.drift)
    return drifted / histories, changed / histories


def _plan(found: World) -> tuple[PlanStep, ...]:
    return tuple(PlanStep(f"step-{n}", float(least), float(likely), float(most))
                 for n, (least, likely, most) in enumerate(found.plan))


def _limits(found: World, seed: int) -> dict[str, list[float]]:
    """What each names as the times of `CHANCES`, seconds."""
    past = Past(found.seconds, found.besides, found.numbers, found.people, found.rigs)
    draws = fit(_plan(found), past, operator=found.person, rig=found.rig, seed=seed).totals()
    mean = 60 * float((found.plan @ np.array([1.0, 4.0, 1.0])).sum()) / 6
    sd = 60 * float(np.sqrt((((found.plan[:, 2] - found.plan[:, 0]) / 6) ** 2).sum()))
    limits = {"ours": list(np.quantile(draws, CHANCES)), "PERT": [mean + z * sd for z in _NORMAL]}
    if len(found.seconds):
        totals = found.totals
        limits |= {"mean": [float(totals.mean())] * 3, "maximum": [float(totals.max())] * 3,
                   "quantile": list(np.quantile(totals, CHANCES))}
    return limits


@click.command("forecast")
@click.option("--histories", type=click.IntRange(min=1), default=100, show_default=True,
              help="Simulated histories for each scenario and length.")
@click.option("--scenario", "scenarios", multiple=True, metavar="NAME",
              help="Only this one; may be repeated.")
@click.option("--seed", type=int, default=1, show_default=True, help="Another seed, other people.")
def forecast(histories: int, scenarios: tuple[str, ...], seed: int) -> None:
    """How often promised times are kept, by simulated people whose times are known.

    The simulation shares no code with the forecast.  The pinball loss, in minutes, is the mean
    over the 50, 80 and 95 % times; ± is the standard error of the 80 % column, by which it moves
    from seed to seed; its rivals are the mean, the maximum and the same quantiles of
    the stays so far, and the plan's PERT estimate.  Last, how often a slow drift is told
    where there is one and where there is none.
    """
    unknown = [name for name in scenarios if name not in SCENARIOS]
    if unknown:
        raise InputError(f"there is no scenario '{unknown[0]}'; choose of:"
                         f" {', '.join(SCENARIOS)}.")
    chosen = scenarios or tuple(SCENARIOS)
    for name in chosen:
        click.echo(f"{name}: {SCENARIOS[name].about}")
    click.echo(f"{histories} histories for each row; 400 later stays judge each forecast.")
    click.echo("scenario         stays  50 % met  80 % met    ±    95 % met   loss:  ours   mean"
               "    max  quant.  PERT")
    off, lost = [], []
    for row in back_test(chosen, histories=histories, seed=seed):
        half, most, nearly = (f"{share:>8.1%}" for share in row.met)
        met = f"{half}  {most}  {row.error:5.1%}  {nearly}"
        loss = "  ".join(f"{row.loss[name]:5.2f}" if name in row.loss else "    -"
                         for name in ("ours", "mean", "maximum", "quantile", "PERT"))
        click.echo(f"{row.scenario:<16} {row.stays:>5}  {met}          {loss}")
        if abs(row.met[1] - 0.8) > 0.05:
            off.append(f"{row.scenario} after {row.stays}")
        lost += [f"{row.scenario} after {row.stays}: {name}" for name in row.beaten]
    if not scenarios:
        for by in (0.0, *_DRIFTS):
            drifted, changed = told_of(by, histories=histories, seed=seed)
            click.echo(f"24 stays, each {math.expm1(by):+.0%} on the one before: a slow drift is"
                       f" told in {drifted:.1%}, a change at once in {changed:.1%}.")
    for what, rows in (("The 80 % time is not met in 80 ± 5 %", off),
                       ("Another guess loses less", lost)):
        if rows:
            click.echo(f"{what}: {'; '.join(rows)}.")
    if off or lost:
        raise HandsfreeError("the forecast does not keep all of its promises.")
    click.echo("Each 80 % time is met in 80 ± 5 % of stays, and no other guess loses less.")
