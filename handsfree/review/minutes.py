"""Where the minutes go: by step and by cause, what was refused and why, which stays stand out.

Pure.  May import columns, words, numpy and, late, scipy.stats.  Causes do not overlap and add up to
the whole time.  The next step is at hand as soon as the last is done, so a record cannot tell the
way there from the work: walking is reckoned from where steps are done, if that is given, and is
never more than the time that doing took.  'Between steps' is time in which no step was at hand.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from handsfree.review.columns import Columns
from handsfree.review.translation import say

Array = NDArray[np.float64]

CAUSES = ("doing", "walking there", "being spoken to", "answering", "after a refusal", "in further tries",
          "in remedies", "waiting for the program", "paused", "between steps")
Apart = Mapping[str, Mapping[tuple[str, str], float]]
"""By rig: seconds on foot from one step to another."""
_WORTH = 0.2
"""Share of a step's time from which a cause is named in its sentence."""
_ODD = 3.5
"""Modified z score from which a value stands out; Iglewicz and Hoaglin, How to Detect and Handle
Outliers (1993)."""


@dataclass(frozen=True)
class StepMinutes:
    """One step, over the stays that were closed."""

    step: str
    minutes: float
    """Mean over all those stays, with and without it."""
    share: float
    """Of the mean whole time."""
    spread: float
    """Of the variance of the whole time: covariance of both over it.  All of them, and what lies
    between the steps, add up to 1; below 0 where it is long when the rest is short."""
    causes: tuple[float, ...]
    """Minutes by cause, parallel to `CAUSES`."""


@dataclass(frozen=True)
class Reason:
    """What was missing when something was refused."""

    missing: str
    times: int
    stays: int
    step: str
    """That was wanted most often."""
    before: str
    """What had been settled last, most often; '' at the very beginning."""
    before_times: int
    when: tuple[int, ...]
    """The number of the stay of each, from 1."""


@dataclass(frozen=True)
class Odd:
    """A stay, or a step of the latest stay, that stands out from the others."""

    stay: int
    """Its number among the stays, from 1."""
    step: str
    """'' for the whole stay."""
    minutes: float
    usual: float
    """Median of all."""


@dataclass(frozen=True)
class Minutes:
    """All closed stays of one checklist."""

    stays: int
    whole: float
    """Mean minutes of a stay, pauses and all."""
    steps: tuple[StepMinutes, ...]
    """The one that takes most first."""
    causes: tuple[float, ...]
    """Mean minutes by cause, parallel to `CAUSES`."""
    by_stay: Array
    """(stays, causes) minutes."""
    reasons: tuple[Reason, ...]
    odd: tuple[Odd, ...]


def minutes(columns: Columns, checklist: str, apart: Apart = MappingProxyType({})) -> Minutes | None:
    """Sum up the closed sessions of a checklist, in their order; None if there are none.

    Args:
        apart: how far the steps are apart; of a rig that is not in it walking counts as doing.
    """
    rows = np.flatnonzero((columns.sessions["checklist"] == columns.code(checklist))
                          & columns.sessions["closed"].astype(bool))
    if not len(rows):
        return None
    chosen = columns.choose(rows)
    whole = chosen.sessions["seconds"] / 60
    pair = chosen.sessions["operators"] > 1
    codes, place = np.unique(chosen.steps["step"], return_inverse=True)
    parts = _parts(chosen, apart)
    tables = np.zeros((len(codes), len(chosen), len(CAUSES)))
    np.add.at(tables, (place, chosen.steps["row"]), parts)
    # two people work at once: their minutes are shared out so that they add up to the whole
    own = tables.sum(axis=(0, 2))
    scale = np.where(pair & (own > 0), np.minimum(1.0, whole / np.maximum(own, 1e-9)), 1.0)
    tables *= scale[None, :, None]
    by_stay = tables.sum(axis=0)
    by_stay[:, -1] = np.maximum(0.0, whole - by_stay.sum(axis=1))
    total = float(whole.mean())
    variance = float(whole.var())
    steps = []
    for code, table in zip(codes.tolist(), tables, strict=True):
        taken = table.sum(axis=1)
        spread = float(np.mean((taken - taken.mean()) * (whole - total))) / variance if (
            variance > 0) else math.nan
        steps.append(StepMinutes(chosen.words[code], float(taken.mean()),
                                 float(taken.mean()) / total if total else math.nan, spread,
                                 tuple(map(float, table.mean(axis=0)))))
    steps.sort(key=lambda step: -step.minutes)
    return Minutes(len(chosen), total, tuple(steps), tuple(map(float, by_stay.mean(axis=0))),
                   by_stay, _reasons(chosen), _odd(chosen, whole, codes, tables.sum(axis=2)))


def _parts(chosen: Columns, apart: Apart) -> Array:
    """(step records, causes) minutes."""
    steps = chosen.steps
    remedy = steps["position"] < 0
    doing = np.maximum(0.0, steps["active"] - steps["answering"] - steps["refusing"]
                       - steps["retrying"])
    work = np.where(remedy, 0.0, doing)
    walking = np.minimum(work, _walking(chosen, apart))
    parts = np.column_stack([
        work - walking, walking, steps["spoken"], steps["answering"], steps["refusing"],
        steps["retrying"], np.where(remedy, doing, 0.0), steps["waiting"], steps["paused"],
        np.zeros(len(doing))])
    return np.asarray(parts / 60)


def _walking(chosen: Columns, apart: Apart) -> Array:
    """(step records,) seconds on foot from the step that was settled before; 0 if unknown."""
    steps = chosen.steps
    seconds = np.zeros(len(steps["row"]))
    codes = {word: code for code, word in enumerate(chosen.words)}
    both = steps["who"] == codes.get("both", -1)  # whoever is outside has the longer way to it
    whose = np.where(both, codes.get("outside", -1), steps["who"])
    for rig, ways in apart.items():
        placed = [step for step in dict.fromkeys(one for one, _ in ways) if step in codes]
        table = np.array([[ways[one, other] for other in placed] for one in placed])
        place = np.full(len(codes), -1)
        place[[codes[step] for step in placed]] = np.arange(len(placed))
        at = place[steps["step"]]
        mine = np.flatnonzero((at >= 0) & np.isfinite(steps["acknowledged"]) & (
            chosen.sessions["rig"][steps["row"]] == codes.get(rig, -1)))
        lane = np.column_stack([steps["row"], whose])[mine]
        order = np.lexsort((steps["acknowledged"][mine], lane[:, 1], lane[:, 0]))
        same = (lane[order[1:]] == lane[order[:-1]]).all(axis=1)
        before, after = mine[order[:-1]][same], mine[order[1:]][same]
        if len(after):
            seconds[after] = table[at[before], at[after]]
    return seconds


def _reasons(chosen: Columns) -> tuple[Reason, ...]:
    misses = chosen.misses
    words, found = chosen.words, []
    for code in np.unique(misses["reason"]).tolist():
        own = misses["reason"] == code
        rows = misses["row"][own]
        wanted = Counter(misses["step"][own].tolist()).most_common(1)[0][0]
        before, times = Counter(misses["before"][own].tolist()).most_common(1)[0]
        found.append(Reason(
            words[code] or "something", int(own.sum()), len(set(rows.tolist())), words[wanted],
            words[before], times, tuple((rows + 1).tolist())))
    return tuple(sorted(found, key=lambda reason: (-reason.times, reason.missing)))


def _odd(
    chosen: Columns, whole: Array, codes: NDArray[np.generic], steps: Array
) -> tuple[Odd, ...]:
    """Stays that stand out, and what does so in the latest; times compared as logarithms."""
    found = [Odd(int(stay) + 1, "", float(whole[stay]), float(np.median(whole)))
             for stay in _outliers(whole)]
    last = len(whole) - 1
    for code, taken in zip(codes.tolist(), steps, strict=True):
        there = np.flatnonzero(taken > 0)
        if len(there) and there[-1] == last and len(there) - 1 in _outliers(taken[there]):
            found.append(Odd(last + 1, chosen.words[code], float(taken[last]),
                             float(np.median(taken[there]))))
    return tuple(found)


def _outliers(values: Array) -> list[int]:
    """Places of values that stand out from at least six others, by a minute or more."""
    if len(values) < 7 or np.any(values <= 0):
        return []
    logs = np.log(values)
    middle = np.median(logs)
    deviation = float(np.median(np.abs(logs - middle)))
    score = 0.6745 * np.abs(logs - middle) / max(deviation, 0.02)
    far = (score > _ODD) & (np.abs(values - np.median(values)) >= 1.0)
    return [int(place) for place in np.flatnonzero(far)]


# --- in sentences --------------------------------------------------------------------------------

def sentences(found: Minutes, most: int = 5) -> list[str]:
    """What it comes to, the largest first."""
    told = [_step(step) for step in found.steps[:most] if step.minutes >= 0.5]
    on_foot = found.causes[CAUSES.index("walking there")]
    if on_foot >= 0.5:
        told.append(say("Walking from step to step takes about {time} a stay, by where they are"
                        " usually done.", time=_about(on_foot)))
    told += _spread(found)
    told += _over_time(found)
    told += [reason_told(reason, found.stays) for reason in found.reasons[:most]]
    told += [_stands_out(odd) for odd in found.odd[:most]]
    return told


def _step(step: StepMinutes) -> str:
    besides = [(part, cause) for part, cause in zip(step.causes, CAUSES, strict=True)
               if cause != "doing" and part >= max(_WORTH * step.minutes, 0.25)]
    if not besides:
        return say("{step} costs you {time} a stay.", step=step.step, time=_about(step.minutes))
    parts = [say("{part} {cause}", part=_part(part), cause=say(cause))
             for part, cause in sorted(besides, reverse=True)[:2]]
    return say("{step} costs you {time} a stay, {parts}.", step=step.step,
               time=_about(step.minutes), parts=say(" and ").join(parts))


def apart(found: Minutes) -> list[StepMinutes]:
    """The steps by what they contribute to how stays differ, the most first; none below four stays,
    or if all took the same time."""
    if found.stays < 4:
        return []
    return sorted((step for step in found.steps if not math.isnan(step.spread)),
                  key=lambda step: -step.spread)


def _spread(found: Minutes) -> list[str]:
    worst = [step for step in apart(found)[:3] if step.spread >= _WORTH / 2]
    if not worst or worst[0].spread < _WORTH:
        return []
    first, *others = worst
    told = say("{step} makes up {share:.0%} of the difference between short and long stays",
               step=first.step, share=first.spread)
    if others:
        told += say(", {others}", others=say(" and ").join(
            f"{step.step} {step.spread:.0%}" for step in others))
    return [told + "."]


def _over_time(found: Minutes) -> list[str]:
    """Causes that take clearly more or less in the later half than in the earlier."""
    half = found.stays // 2
    if half < 4:
        return []
    told = []
    for place, cause in enumerate(CAUSES):
        early, late = found.by_stay[:half, place], found.by_stay[-half:, place]
        change = float(late.mean() - early.mean())
        if abs(change) < 0.5:
            continue
        from scipy.stats import mannwhitneyu  # takes longer to import than all the rest of a review

        if mannwhitneyu(early, late).pvalue < 0.05 / len(CAUSES):
            noun = say(_NOUNS.get(cause, cause))
            told.append(say(
                "In the later half of the stays {time} more a stay went into {cause}.",
                time=_about(change), cause=noun) if change > 0 else say(
                "In the later half of the stays {time} less a stay went into {cause}.",
                time=_about(-change), cause=noun))
    return told


_NOUNS = {"walking there": "walking from step to step",
          "after a refusal": "what followed refusals", "in further tries": "further tries",
          "in remedies": "remedies", "paused": "pauses", "between steps": "time between steps"}


def reason_told(reason: Reason, stays: int) -> str:
    """Why something was refused, how often, and what had been done just before."""
    text = say("Refused {times} in {some} of {stays} stays because of '{missing}', mostly at"
               " {step}", times=_times(reason.times), some=reason.stays, stays=stays,
               missing=reason.missing, step=reason.step)
    if reason.before and reason.before_times > 1:
        text += say(", {times} right after {step}", times=_times(reason.before_times),
                    step=reason.before)
    if reason.times > 2 and max(reason.when) <= stays / 2:
        text += say("; not in the later half")
    return text + "."


def _stands_out(odd: Odd) -> str:
    if odd.step:
        return say("{step} in the latest stay took {time}; usual are {usual}.", step=odd.step,
                   time=_about(odd.minutes), usual=_about(odd.usual))
    return say("Stay {number} took {time}; usual are {usual}.", number=odd.stay,
               time=_about(odd.minutes), usual=_about(odd.usual))


def _times(count: int) -> str:
    return {1: say("once"), 2: say("twice")}.get(count, say("{count} times", count=count))


def _about(minutes: float) -> str:
    return say("{count} seconds", count=5 * round(minutes * 12)) if minutes < 1.5 else (
        say("{count:.0f} minutes", count=minutes))


def _part(minutes: float) -> str:
    return say("{count} seconds of it", count=5 * round(minutes * 12)) if minutes < 1.5 else (
        say("{count:.0f} of them", count=minutes))
