"""People whose times are known, to judge forecasts by: a world of its own.

Imports numpy and the standard library only, so that nothing here can agree with the forecast's
model because both call the same code.  Times come from other families than the model assumes
(lognormal, gamma, beta, by turns), and every width below is invented, without a source.

A scenario is one way in which stays differ from one another.  In each, a person has a pace and
habits of their own, good and bad days, a little practice, announced pauses and mishaps; the
scenario adds what it is called after.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Scenario:
    """What is particular; factors multiply times."""

    about: str
    stays: tuple[int, ...] = (3, 10, 30)
    """Lengths of history to be judged after."""
    steady: bool = False
    """No good and bad days, practice, pauses, mishaps."""
    practice: tuple[float, float] = (0.9, 1.0)
    """Range of what doubling the stays multiplies times by."""
    plan_off: float = 1.0
    """What the person's times are of the plan's."""
    chat: float = 0.0
    """Chance of a stay that somebody drops by and talks, unannounced, within a step."""
    change: float = 1.0
    """Factor of pace since `since` stays before the one to be forecast."""
    since: int = 4
    turns: int = 1
    """People who take turns, each with their own pace and habits."""
    strangers: bool = False
    """The next stay is somebody else's, of whom there is no stay."""
    other_rig: bool = False
    """All but the latest stay were with another rig, on which the work takes another time."""


SCENARIOS: Mapping[str, Scenario] = {
    "ordinary": Scenario("good and bad days, practice, pauses, mishaps"),
    "steady": Scenario("nothing varies from day to day and nobody pauses", steady=True,
                       stays=(10, 30)),  # after three stays nobody can know that
    "learning": Scenario("each doubling of the stays takes 15 to 30 % off", practice=(0.7, 0.85)),
    "by turns": Scenario("two people take turns", turns=2, stays=(4, 10, 30)),
    "chat": Scenario("now and then somebody drops by, unannounced", chat=0.35),
    "faster": Scenario("for four stays everything has taken 30 % less", change=0.7,
                       stays=(8, 14, 30)),
    "slower": Scenario("for four stays everything has taken 40 % more", change=1.4,
                       stays=(8, 14, 30)),
    "plan too short": Scenario("everything takes twice what the plan says", plan_off=2.0),
    "plan too long": Scenario("everything takes half of what the plan says", plan_off=0.5),
    "new person": Scenario("somebody of whom nothing is known yet", strangers=True,
                           stays=(10, 30)),
    "new rig": Scenario("one stay with this rig, the others with another", other_rig=True,
                        stays=(10, 30)),
    "cold start": Scenario("no stay, or one", stays=(0, 1)),
}


@dataclass(frozen=True)
class World:
    """One history and what may come next."""

    plan: Array
    """(steps, 3) least, likely and most minutes of each step."""
    seconds: Array
    """(stays, steps) time at each step."""
    besides: Array
    """(stays,) seconds of announced pauses."""
    people: tuple[str, ...]
    rigs: tuple[str, ...]
    numbers: Array
    """(stays,) the how-manieth of this person."""
    person: str
    """Whose the next stay is."""
    rig: str
    later: Array
    """(draws,) seconds that the next stay may take."""

    @property
    def totals(self) -> Array:
        """(stays,) seconds of each, pauses and all."""
        return np.asarray(self.seconds.sum(axis=1) + self.besides)


@dataclass(frozen=True)
class _Person:
    means: Array
    spread: float
    family: str
    day: float
    practice: float
    pause: float
    pause_mean: float
    mishap: float

    def stay(
        self, rng: np.random.Generator, numbers: Array, chat: float, factor: float
    ) -> tuple[Array, Array]:
        shape = (len(numbers), len(self.means))
        if self.family == "lognormal":
            sigma = np.sqrt(np.log(1 + self.spread ** 2))
            unit = np.exp(rng.normal(-sigma ** 2 / 2, sigma, shape))
        elif self.family == "gamma":
            unit = rng.gamma(1 / self.spread ** 2, self.spread ** 2, shape)
        else:  # a beta from 0.2 to 3 with mean 1
            mean, width = 0.8 / 2.8, self.spread / 2.8
            weight = mean * (1 - mean) / width ** 2 - 1
            unit = 0.2 + 2.8 * rng.beta(mean * weight, (1 - mean) * weight, shape)
        unit = np.where(rng.random(shape) < self.mishap, 4 * unit, unit)
        common = np.exp(rng.normal(-self.day ** 2 / 2, self.day, len(numbers)))
        common *= numbers ** (np.log(self.practice) / np.log(2)) * factor
        seconds = unit * self.means * common[:, None]
        talks = rng.random(len(numbers)) < chat
        where = rng.integers(0, shape[1], len(numbers))
        seconds[np.arange(len(numbers)), where] += talks * (
            120 + rng.exponential(360, len(numbers)))
        pauses = np.where(rng.random(len(numbers)) < self.pause,
                          rng.exponential(self.pause_mean, len(numbers)), 0.0)
        return seconds, pauses


def world(
    rng: np.random.Generator, scenario: Scenario, stays: int, *, steps: int = 40,
    draws: int = 400,
) -> World:
    """A history of so many stays, and `draws` stays that may follow it."""
    likely = np.exp(rng.normal(np.log(0.7), 0.6, steps)).clip(0.15, 8.0)
    plan = np.column_stack([likely * 0.5, likely, likely * 2.2])
    expected = 60 * (plan @ np.array([1.0, 4.0, 1.0])) / 6 * scenario.plan_off
    names = ["one", "two", "three"][:scenario.turns + scenario.strangers]
    crew = {name: _person(rng, expected, scenario) for name in names}
    turns = names[:scenario.turns]
    whose = [turns[n % len(turns)] for n in range(stays)]
    following = names[-1] if scenario.strangers else turns[stays % len(turns)]
    rigs = ["old" if scenario.other_rig and n < stays - 1 else "new" for n in range(stays)]
    old = float(np.exp(rng.normal(0, 0.25)))
    seconds, besides = np.empty((stays, steps)), np.empty(stays)
    numbers = np.array([1.0 + whose[:n].count(name) for n, name in enumerate(whose)])
    for n, name in enumerate(whose):
        factor = scenario.change if n >= stays - scenario.since else 1.0
        factor *= old if rigs[n] == "old" else 1.0
        own, pause = crew[name].stay(rng, numbers[n:n + 1], scenario.chat, factor)
        seconds[n], besides[n] = own[0], pause[0]
    number = 1.0 + whose.count(following)
    own, pauses = crew[following].stay(
        rng, np.full(draws, number), scenario.chat, scenario.change)
    return World(plan, seconds, besides, tuple(whose), tuple(rigs), numbers, following, "new",
                 own.sum(axis=1) + pauses)


def _person(rng: np.random.Generator, expected: Array, scenario: Scenario) -> _Person:
    pace = np.exp(rng.normal(0, 0.25))
    habits = np.exp(rng.normal(-0.3 ** 2 / 2, 0.3, len(expected)))
    person = _Person(
        expected * pace * habits, spread=rng.uniform(0.2, 0.5),
        family=str(rng.choice(["lognormal", "gamma", "beta"])), day=rng.uniform(0.0, 0.2),
        practice=rng.uniform(*scenario.practice), pause=rng.uniform(0.0, 0.4),
        pause_mean=rng.uniform(120.0, 600.0), mishap=rng.uniform(0.0, 0.03))
    if scenario.steady:
        person = replace(person, day=0.0, practice=1.0, pause=0.0, mishap=0.0)
    return person
