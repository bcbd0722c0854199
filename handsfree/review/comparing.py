"""Operators, rigs, places and seasons compared: with intervals, and ranked only on evidence.

Pure.  May import columns, words, numpy and, late, scipy.stats.  Stays are compared as they came:
where one operator has always had the longer rig, neither can be told from the other, and it is
said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.review.columns import Columns
from handsfree.review.translation import say

KINDS = ("operator", "rig", "place", "season")
ENOUGH = 6
"""Stays that a group needs to be ranked: of five, no interval of the median reaches 95 %."""
_MANY = 8
"""Groups with too few stays from which on they are only counted."""
_CLAIM = 0.05
_SEASONS = ("December to February", "March to May", "June to August", "September to November")


@dataclass(frozen=True)
class Group:
    """The closed stays of one operator, rig, place or season; minutes without pauses."""

    name: str
    stays: int
    median: float
    low: float
    """95 % interval of the median; nan below `ENOUGH` stays."""
    high: float


@dataclass(frozen=True)
class Comparison:
    """All groups of one kind: the quickest first of those with enough stays, the others by name."""

    kind: str
    groups: tuple[Group, ...]
    p: float
    """That groups which are alike differ so much; nan where fewer than two can be ranked."""
    tied: str = ""
    """Another kind that goes along with this one, so that neither can be told from the other."""

    @property
    def differ(self) -> bool:
        """Whether the order of the ranked groups means anything."""
        return self.p < _CLAIM

    @property
    def ranked(self) -> tuple[Group, ...]:
        return tuple(group for group in self.groups if group.stays >= ENOUGH)


def compare(columns: Columns, checklist: str) -> tuple[Comparison, ...]:
    """Compare the closed sessions of a checklist by each kind of which there are two groups.

    The interval of a median is that of the binomial order statistics (Conover, Practical
    Nonparametric Statistics, 3rd edition 1999, section 3.2); groups are tested by Kruskal and
    Wallis, Journal of the American Statistical Association 47 (1952) 583-621, and the p values
    adjusted for there being several kinds (Benjamini and Hochberg 1995).
    """
    from scipy.stats import false_discovery_control, kruskal

    rows = np.flatnonzero((columns.sessions["checklist"] == columns.code(checklist))
                          & columns.sessions["closed"].astype(bool))
    chosen = columns.choose(rows)
    minutes = (chosen.sessions["seconds"] - chosen.sessions["paused"]) / 60
    labels = _labels(chosen)
    found: list[Comparison] = []
    for kind in KINDS:
        names = labels[kind]
        groups = [_group(name, minutes[names == name]) for name in dict.fromkeys(names) if name]
        if len(groups) < 2:
            continue
        ranked = [minutes[names == group.name] for group in groups if group.stays >= ENOUGH]
        p = math.nan
        if len(ranked) > 1:
            alike = len(np.unique(np.concatenate(ranked))) == 1
            p = 1.0 if alike else float(kruskal(*ranked).pvalue)
        groups.sort(key=lambda group: (0, group.median, "") if group.stays >= ENOUGH
                    else (1, 0.0, group.name))
        found.append(Comparison(kind, tuple(groups), p, _tied(kind, labels)))
    tested = [one for one in found if not math.isnan(one.p)]
    if tested:
        adjusted = iter(false_discovery_control([one.p for one in tested]))
        found = [one if math.isnan(one.p) else Comparison(
            one.kind, one.groups, float(next(adjusted)), one.tied) for one in found]
    return tuple(found)


def sentence(found: Comparison) -> str:
    """What it comes to, in one or two sentences."""
    def told(group: Group) -> str:
        if group.stays < ENOUGH:
            return say("{name} {median:.0f} min ({stays})", name=say(group.name),
                       median=group.median, stays=_stays(group.stays))
        return say("{name} {median:.0f} min (95 %: {low:.0f} to {high:.0f}, {stays})",
                   name=say(group.name), median=group.median, low=group.low, high=group.high,
                   stays=_stays(group.stays))

    ranked, few = found.ranked, [g for g in found.groups if g.stays < ENOUGH]
    parts = []
    if len(ranked) > 1:
        verdict = (say("they differ (p = {p:.3f})", p=max(found.p, 0.001)) if found.differ
                   else say("no clear difference (p = {p:.2f})", p=found.p))
        parts.append(say("By {kind}, median without pauses: {groups}; {verdict}.",
                         kind=say(found.kind), groups=", ".join(map(told, ranked)),
                         verdict=verdict))
    elif ranked:
        parts.append(say("By {kind}, only {group} has {enough} stays or more.",
                         kind=say(found.kind), group=told(ranked[0]), enough=ENOUGH))
    if len(few) > _MANY:
        parts.append(say("{count} have too few stays to rank by {kind}; it takes {enough} each.",
                         count=len(few), kind=say(found.kind), enough=ENOUGH))
    elif few:
        parts.append(say("Too few stays to rank by {kind}: {groups}; it takes {enough}.",
                         kind=say(found.kind), groups=", ".join(map(told, few)), enough=ENOUGH))
    if found.differ and found.tied:
        parts.append(say("Each {kind} came with its own {other}, so it may be that.",
                         kind=say(found.kind), other=say(found.tied)))
    return " ".join(parts)


def _stays(count: int) -> str:
    return say("{count} stay", count=count) if count == 1 else say("{count} stays", count=count)


def _labels(chosen: Columns) -> Mapping[str, NDArray[np.object_]]:
    local = chosen.sessions["began"] + chosen.sessions["offset"]
    months = (local * 1e3).astype("datetime64[ms]").astype("datetime64[M]").astype(int) % 12
    seasons = np.array(_SEASONS, dtype=object)[(months + 1) % 12 // 3]
    return {**{kind: chosen.text(kind) for kind in KINDS[:3]}, "season": seasons}


def _group(name: str, minutes: NDArray[np.float64]) -> Group:
    from scipy.stats import quantile_test

    low = high = math.nan
    if len(minutes) >= ENOUGH:
        tested = quantile_test(minutes, q=float(np.median(minutes)), p=0.5)
        interval: Any = tested.confidence_interval()
        low, high = float(interval.low), float(interval.high)
    return Group(str(name), len(minutes), float(np.median(minutes)), low, high)


def _tied(kind: str, labels: Mapping[str, NDArray[np.object_]]) -> str:
    """A kind of which each group here has one of its own."""
    for other in KINDS[:3]:
        if other == kind or len(set(labels[other])) < 2:
            continue
        pairs = set(zip(labels[kind], labels[other], strict=True))
        if len(pairs) == len({one for one, _ in pairs}) == len({two for _, two in pairs}):
            return other
    return ""
