"""Plots of a review as SVG text, in two widths, each with words that say the same.

May import records, summary, minutes, wording, words and, late, matplotlib (extra `plots`). No
pyplot and no global settings.  Colours are those of Okabe and Ito, "Color Universal Design" (2008),
chosen so that colour-blind eyes tell them apart; shape or hatching says again what a colour says.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from handsfree.extras import lacking
from handsfree.review import number_format
from handsfree.review.comparing import ENOUGH, Comparison, sentence
from handsfree.review.forecast import CHANCES
from handsfree.review.minutes import CAUSES, Minutes, apart, reason_told, sentences
from handsfree.review.planned_forecast import WhatIf
from handsfree.review.records import SessionRecord, Stretch, Visit
from handsfree.review.scheduling import Schedule
from handsfree.review.summary import ChecklistSummary
from handsfree.review.translation import language_now, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BLUE, ORANGE, RED = "#0072B2", "#E69F00", "#D55E00"
GREY, DARK, GRID = "#767676", "#1A1A1A", "#E4E4E4"
"""The page gives the last two other tones where it is dark."""
PLOT = "this-plot"
"""What the ids of a plot begin with; a page gives each of its plots another beginning."""
WIDE, NARROW = 7.8, 3.7
"""Inches; at 100 % a narrow plot fits a telephone without its letters shrinking."""
_SECOND = "#009E73"
"""Of two people, the one inside."""
_ROW = 0.24
_POINTS = 30
"""Latest times drawn for each step."""
_FINE = re.compile(r"(<text.*?</text>)|(\d\.\d\d)\d+", re.DOTALL)
"""What is written stays as it is; of all other numbers the third decimal and beyond."""
_ACROSS = 6
"""Entries of a legend side by side on a wide page."""
_LONGEST = 12
"""Steps whose causes are drawn, and latest stays."""
_STAYS = 60
_WORST = 25
"""Steps with near misses that are drawn; the table has them all."""


@dataclass(frozen=True)
class Chart:
    """A plot for wide and for narrow pages, and the same in words."""

    wide: str
    narrow: str
    alt: str


def timeline(session: SessionRecord) -> Chart | None:
    """When which step was at hand; None if none ever was."""
    order = list(dict.fromkeys(visit.step for visit in session.visits))
    if not order:
        return None
    rows = {step: place for place, step in enumerate(order)}
    sides = sorted({visit.who for visit in session.visits}, reverse=True)[:2]  # outside, inside

    def draw(axes: Axes, narrow: bool) -> None:
        for visit in session.visits:
            lane = sides.index(visit.who) if visit.who in sides else 0
            height = 0.62 / len(sides)
            row = rows[visit.step] + height * (lane - (len(sides) - 1) / 2)
            axes.barh(row, (visit.end - visit.begin) / 60, left=visit.begin / 60,
                      height=height, color=(BLUE, _SECOND)[lane], linewidth=0)
            for begin, end in _within(session.talks, visit):
                axes.barh(row, (end - begin) / 60, left=begin / 60, height=height,
                          color=ORANGE, linewidth=0)
            for begin, end in _within(session.pauses, visit):
                axes.barh(row, (end - begin) / 60, left=begin / 60, height=height,
                          facecolor="white", edgecolor=GREY, hatch="////", linewidth=0.8)
        for kind, marker, colour in (("refused", "X", DARK), ("failed", "v", DARK),
                                     ("skipped", ">", GREY)):
            marks = [m for m in session.marks if m.kind == kind and m.step in rows]
            axes.plot([m.at / 60 for m in marks], [rows[m.step] for m in marks], marker,
                      color=colour, markersize=7, markeredgecolor="white", markeredgewidth=0.8)
        _rows(axes, order)
        axes.set_xlim(0, max(*(visit.end / 60 * 1.02 for visit in session.visits), 0.1))
        axes.set_xlabel(say("minutes since the start"))
        active = [("patch", BLUE, "", "active")] if len(sides) < 2 else [
            ("patch", BLUE, "", "outside, upper lane"),
            ("patch", _SECOND, "", "inside, lower lane")]
        _legend(axes, narrow, [*active, ("patch", ORANGE, "", "talking"),
                               ("patch", "white", "////", "paused"), ("X", DARK, "", "refused"),
                               ("v", DARK, "", "failed"), (">", GREY, "", "skipped")])

    longest = sorted(session.steps, key=lambda s: -s.active)[:3]
    refused = [m.step for m in session.marks if m.kind == "refused"]
    alt = (say("Timeline of {title}: {count} steps in {time}. Longest active: {longest}.",
               title=number_format.title(session), count=len(order), time=number_format.span(session.seconds),
               longest=", ".join(f"{s.step} {number_format.span(s.active)}" for s in longest)) + " "
           + (say("Refused: {steps}.", steps=", ".join(refused)) if refused
              else say("Nothing was refused."))
           + (_of_two(session, sides) if len(sides) > 1 else ""))
    return _chart(draw, len(order), alt, extra=1.3, entries=5 + len(sides))


def _of_two(session: SessionRecord, sides: Sequence[str]) -> str:
    """What each of two people had at hand, in words."""
    told = []
    for side in sides:
        own = [visit for visit in session.visits if visit.who == side]
        seconds = sum(visit.end - visit.begin for visit in own)
        told.append(say("{side} {count} steps, {time}", side=say(side),
                        count=len({v.step for v in own}), time=number_format.span(seconds)))
    return " " + say("At hand: {parts}.", parts="; ".join(told))


def spread(found: ChecklistSummary) -> Chart | None:
    """How long each step takes, over all sessions; None without a single time."""
    steps = [step for step in found.steps if len(step.times)]
    if not steps:
        return None
    edge = max(max(step.high for step in steps) * 1.25 / 60, 0.1)

    def draw(axes: Axes, narrow: bool) -> None:
        latest = [step.times[-_POINTS:] / 60 for step in steps]
        minutes = np.concatenate(latest)
        rows = np.repeat(range(len(steps)), [len(times) for times in latest])
        inside = minutes <= edge
        axes.plot(minutes[inside], rows[inside], "o", color=GREY, markersize=3, alpha=0.45,
                  markeredgewidth=0)
        beyond, = axes.plot(np.full((~inside).sum(), edge), rows[~inside], ">", color=GREY,
                            markersize=5, clip_on=False, markeredgewidth=0)
        beyond.set_in_layout(False)  # unclipped marks would push the axis up
        axes.hlines(range(len(steps)), [step.low / 60 for step in steps],
                    [step.high / 60 for step in steps], color=BLUE, linewidth=3)
        axes.plot([step.median / 60 for step in steps], range(len(steps)), "D", color=RED,
                  markersize=5.5, markeredgecolor="white", markeredgewidth=0.8)
        _rows(axes, [step.step for step in steps])
        axes.set_xlim(0, edge)
        axes.set_xlabel(say("active minutes"))
        _legend(axes, narrow, [("D", RED, "", "median"), ("line", BLUE, "", "10th to 90th pct."),
                               ("o", GREY, "", "one stay")])

    slow = found.most("median", 3)
    alt = say(
        "Active time of {count} steps of {title} over {sessions} sessions. Slowest by median:"
        " {slowest}.", count=len(steps), title=found.title, sessions=found.sessions,
        slowest=", ".join(say(
            "{step} {median} (10th to 90th percentile {low} to {high})", step=s.step,
            median=number_format.span(s.median), low=number_format.span(s.low), high=number_format.span(s.high))
            for s in slow))
    return _chart(draw, len(steps), alt, extra=1.1)


def trend(found: ChecklistSummary) -> Chart | None:
    """The time of whole sessions from stay to stay; None below two closed ones."""
    if len(found.minutes) < 2:
        return None

    def draw(axes: Axes, narrow: bool) -> None:
        axes.plot(found.stays, found.minutes, "o", color=BLUE, markersize=4.5, alpha=0.8,
                  markeredgewidth=0)
        entries = [("o", BLUE, "", "one stay")]
        if found.curve:
            axes.plot(found.stays, [found.curve.time(n) for n in found.stays], "--", color=RED,
                      linewidth=1.8)
            entries.append(("dash", RED, "", "learning curve"))
        axes.axhspan(found.low, found.high, color=GREY, alpha=0.15, linewidth=0)
        axes.axhline(found.median, color=GREY, linewidth=1)
        entries.append(("patch", "#dedede", "", "10th to 90th pct., median"))
        axes.set_ylim(0, max(found.minutes) * 1.1 or 1)
        axes.set_xlabel(say("stay number"))
        axes.set_ylabel(say("minutes without pauses"))
        axes.locator_params(axis="x", integer=True)
        axes.grid(True, axis="both", color=GRID, linewidth=0.6)
        _legend(axes, narrow, entries)

    alt = say(
        "Minutes of {count} closed sessions of {title}: median {median:.0f}, 10th to 90th"
        " percentile {low:.0f} to {high:.0f}. Trend: {trend}. Each doubling of the stays:"
        " {practice}.", count=len(found.minutes), title=found.title, median=found.median,
        low=found.low, high=found.high, trend=number_format.trend(found.trend, 60, "min"),
        practice=number_format.practice(found.curve))
    return _chart(draw, 10, alt, extra=0.9)


def misses(found: ChecklistSummary) -> Chart | None:
    """Near misses and what was left out, by step; None if there was nothing of the kind."""
    kinds = (("refusals", RED, "", "refused"), ("skipped", BLUE, "....", "skipped"),
             ("forgotten", GREY, "////", "forgotten"))
    total = {s.step: sum(getattr(s, name) for name, *_ in kinds) for s in found.steps}
    worst = sorted(total, key=lambda step: -total[step])[:_WORST]
    steps = [s for s in found.steps if total[s.step] and s.step in worst]
    if not steps:
        return None

    def draw(axes: Axes, narrow: bool) -> None:
        reach = [0.0] * len(steps)
        for name, colour, hatch, _ in kinds:
            counts = [getattr(step, name) for step in steps]
            axes.barh(range(len(steps)), counts, left=reach, height=0.62, facecolor=colour,
                      edgecolor="white", hatch=hatch, linewidth=0.5)
            reach = [a + b for a, b in zip(reach, counts, strict=True)]
        _rows(axes, [step.step for step in steps])
        axes.set_xlim(0, max(reach) * 1.05)
        axes.locator_params(axis="x", integer=True)
        axes.set_xlabel(say("times"))
        _legend(axes, narrow, [("patch", colour, hatch, label)
                               for _, colour, hatch, label in kinds])

    alt = say("Near misses and steps left out.") + " " + "; ".join(
        say("{step}: refused {refused}, skipped {skipped}, forgotten {forgotten}", step=s.step,
            refused=s.refusals, skipped=s.skipped, forgotten=s.forgotten)
        for s in sorted(steps, key=lambda s: -total[s.step])[:8]) + "."
    return _chart(draw, len(steps), alt, extra=1.1)


_CAUSE_LOOKS = (
    (BLUE, ""), (BLUE, "\\\\\\\\"), ("#56B4E9", ""), ("#009E73", ""), (RED, "xxxx"), (ORANGE, "////"),
    ("#CC79A7", "...."), (GREY, ""), ("white", "////"), ("#F0E442", ""))
"""Colour and hatching, parallel to `minutes.CAUSES`."""


def causes(found: Minutes) -> Chart | None:
    """What the minutes of the longest steps went into; None if nothing took any."""
    steps = [step for step in found.steps[:_LONGEST] if step.minutes > 0]
    if not steps:
        return None

    def draw(axes: Axes, narrow: bool) -> None:
        reach = np.zeros(len(steps))
        for place, (colour, hatch) in enumerate(_CAUSE_LOOKS):
            part = np.array([step.causes[place] for step in steps])
            some = np.flatnonzero(part)
            axes.barh(some, part[some], left=reach[some], height=0.62, facecolor=colour,
                      edgecolor=GREY if colour == "white" else "white", hatch=hatch,
                      linewidth=0.5)
            reach += part
        _rows(axes, [step.step for step in steps])
        axes.set_xlim(0, float(reach.max()) * 1.05)
        axes.set_xlabel(say("minutes a stay"))
        _legend(axes, narrow, _cause_entries(found))

    alt = say("What the minutes of the {count} longest steps went into.",
              count=len(steps)) + " " + " ".join(sentences(found, 3))
    return _chart(draw, len(steps), alt, extra=1.1, entries=len(_cause_entries(found)))


def differences(found: Minutes) -> Chart | None:
    """What each step contributes to the time of a stay and to how stays differ; None below four."""
    steps = apart(found)[:_LONGEST]
    if not steps:
        return None

    def draw(axes: Axes, narrow: bool) -> None:
        rows = np.arange(len(steps))
        for lane, (shares, colour, hatch) in enumerate((
                ([step.spread for step in steps], BLUE, ""),
                ([step.share for step in steps], ORANGE, "////"))):
            axes.barh(rows + 0.32 * (lane - 0.5), [100 * share for share in shares], height=0.3,
                      facecolor=colour, edgecolor="white", hatch=hatch, linewidth=0.5)
        axes.axvline(0, color=GREY, linewidth=0.8)
        _rows(axes, [step.step for step in steps])
        axes.set_xlabel("%")
        _legend(axes, narrow, [("patch", BLUE, "", "of what stays differ by"),
                               ("patch", ORANGE, "////", "of the time of a stay")])

    alt = say("What stays differ by, and what they take.") + " " + "; ".join(
        say("{step}: {spread:.0%} of the difference, {share:.0%} of the time", step=step.step,
            spread=step.spread, share=step.share) for step in steps[:8]) + "."
    return _chart(draw, len(steps), alt, extra=1.1, entries=2)


def over_stays(found: Minutes) -> Chart | None:
    """What the minutes of each stay went into, stay by stay; None below three."""
    if found.stays < 3:
        return None
    first = max(0, found.stays - _STAYS)
    numbers = np.arange(first + 1, found.stays + 1)

    def draw(axes: Axes, narrow: bool) -> None:
        reach = np.zeros(len(numbers))
        for place, (colour, hatch) in enumerate(_CAUSE_LOOKS):
            part = found.by_stay[first:, place]
            some = np.flatnonzero(part)
            axes.bar(numbers[some], part[some], bottom=reach[some], width=0.8, facecolor=colour,
                     edgecolor=GREY if colour == "white" else "white", hatch=hatch, linewidth=0.3)
            reach = reach + part
        odd = [one.stay for one in found.odd if not one.step and one.stay > first]
        axes.plot(odd, [reach[stay - first - 1] + 0.03 * reach.max() for stay in odd], "v", color=DARK,
                  markersize=7)
        axes.set_xlabel(say("stay number"))
        axes.set_ylabel(say("minutes"))
        axes.locator_params(axis="x", integer=True)
        axes.grid(True, axis="y", color=GRID, linewidth=0.6)
        _legend(axes, narrow, [*_cause_entries(found),
                               *([("v", DARK, "", "stands out")] if odd else [])])

    early, late = found.by_stay[: found.stays // 2], found.by_stay[found.stays // 2:]
    alt = say("Minutes of each stay by cause. Mean of the earlier and the later half: {parts}.",
              parts="; ".join(
                  say("{cause} {early:.1f} and {late:.1f}", cause=say(cause),
                      early=early[:, n].mean(), late=late[:, n].mean())
                  for n, cause in enumerate(CAUSES)
                  if max(early[:, n].mean(), late[:, n].mean()) >= 0.05))
    return _chart(draw, 10, alt, extra=0.9, entries=len(_cause_entries(found)) + 1)


def reasons(found: Minutes) -> Chart | None:
    """In which stays something was refused for each reason; None if nothing was."""
    worst = found.reasons[:_LONGEST]
    if not worst:
        return None

    def draw(axes: Axes, narrow: bool) -> None:
        for row, reason in enumerate(worst):
            stays, times = np.unique(reason.when, return_counts=True)
            axes.plot(stays, [row] * len(stays), "X", color=RED, markersize=7,
                      markeredgecolor="white")
            for stay, count in zip(stays[times > 1], times[times > 1], strict=True):
                axes.annotate(f"{count}", (stay, row), (0, 5), textcoords="offset points",
                              ha="center", fontsize=9)
        _rows(axes, [reason.missing for reason in worst])
        axes.set_xlim(0.5, found.stays + 0.5)
        axes.locator_params(axis="x", integer=True)
        axes.set_xlabel(say("stay number"))
        _legend(axes, narrow, [("X", RED, "", "refused, and how often if more than once")])

    return _chart(draw, len(worst), " ".join(reason_told(one, found.stays) for one in worst[:5]),
                  extra=1.1, entries=1)


def _cause_entries(found: Minutes) -> list[tuple[str, str, str, str]]:
    """Legend of those causes that took anything."""
    return [("patch", colour, hatch, cause) for (colour, hatch), cause, took in zip(
        _CAUSE_LOOKS, CAUSES, found.causes, strict=True) if took >= 0.005]


def groups(found: Comparison) -> Chart:
    """Medians with their intervals, of groups with too few stays the median alone, hollow."""
    few = [group.stays < ENOUGH for group in found.groups]

    def draw(axes: Axes, narrow: bool) -> None:
        for row, (group, rare) in enumerate(zip(found.groups, few, strict=True)):
            axes.plot([group.low, group.high], [row, row], color=BLUE, linewidth=3,
                      solid_capstyle="butt")
            axes.plot([group.median], [row], "o" if rare else "D", markersize=6,
                      color="white" if rare else RED, markeredgecolor=GREY if rare else "white")
        _rows(axes, [f"{say(group.name)} ({group.stays})" for group in found.groups])
        axes.set_xlim(0, None)
        axes.set_xlabel(say("minutes without pauses"))
        _legend(axes, narrow, [("D", RED, "", "median"), ("line", BLUE, "", "its 95 % interval"),
                               *([("o", GREY, "", "too few stays to rank")] if any(few) else [])])

    return _chart(draw, len(found.groups), sentence(found), extra=1.1)


def chances(minutes: NDArray[np.float64]) -> Chart:
    """Which share of stays is done within so many minutes."""
    marked = [(chance, float(np.quantile(minutes, chance))) for chance in CHANCES]
    shares = np.linspace(0.005, 0.995, 199)

    def draw(axes: Axes, narrow: bool) -> None:
        axes.plot(np.quantile(minutes, shares), 100 * shares, color=BLUE, linewidth=2.2)
        for chance, at in marked:
            axes.plot([at, at], [0, 100 * chance], color=GREY, linewidth=1)
            axes.plot([at], [100 * chance], "D", color=RED, markersize=6, markeredgecolor="white")
            axes.annotate(f"{chance:.0%}: {at:.0f}", (at, 100 * chance), (6, -12),
                          textcoords="offset points")
        axes.set_xlim(0, None)
        axes.set_ylim(0, 103)
        axes.set_xlabel(say("minutes from the start"))
        axes.set_ylabel(say("% in time"))
        axes.grid(True, axis="both", color=GRID, linewidth=0.6)

    alt = say("Share of stays that are done: {parts}.", parts=", ".join(
        say("{chance:.0%} within {minutes:.0f} minutes", chance=chance, minutes=at)
        for chance, at in marked))
    return _chart(draw, 10, alt, extra=0.6, entries=0)


def course(found: Schedule) -> Chart | None:
    """When which step would come if each took its usual time; None without a step."""
    visits = [visit for visit in found.visits if visit.end > visit.begin]
    order = list(dict.fromkeys(visit.step for visit in visits))
    if not order:
        return None
    sides = sorted({visit.who for visit in visits}, reverse=True)
    critical = set(found.critical) if len(sides) > 1 else set()

    def draw(axes: Axes, narrow: bool) -> None:
        height = 0.62 / len(sides)
        for visit in visits:
            lane = sides.index(visit.who)
            row = order.index(visit.step) + height * (lane - (len(sides) - 1) / 2)
            axes.barh(row, (visit.end - visit.begin) / 60, left=visit.begin / 60, height=height,
                      facecolor=(BLUE, _SECOND)[lane], linewidth=0.3, edgecolor="white",
                      hatch="////" if visit in critical else "")
        _rows(axes, order)
        axes.set_xlim(0, found.seconds / 60 * 1.02)
        axes.set_xlabel(say("minutes from the start"))
        if critical:
            _legend(axes, narrow, [
                ("patch", BLUE, "", "outside, upper lane"),
                ("patch", _SECOND, "", "inside, lower lane"),
                ("patch", BLUE, "////", "hatched: sets the time")])

    alt = say("{count} steps, {minutes:.0f} minutes if each takes its usual time.",
              count=len(order), minutes=found.seconds / 60)
    if critical:
        alt += " " + say("What sets the time: {steps}.", steps=", ".join(
            dict.fromkeys(visit.step for visit in found.critical)))
    return _chart(draw, len(order), alt, extra=0.9, entries=3 if critical else 0)


def lengths(found: WhatIf) -> Chart:
    """Minutes of the usual course, and of the course with each change."""
    bars = [(say("as planned"), found.plain.seconds / 60),
            *((one.label, one.course.seconds / 60) for one in found.changed)]

    def draw(axes: Axes, narrow: bool) -> None:
        for row, (_, minutes) in enumerate(bars):
            axes.barh(row, minutes, height=0.62, color=BLUE if row else GREY)
            axes.annotate(f"{minutes:.0f}", (minutes, row), (4, -4), textcoords="offset points")
        _rows(axes, [label for label, _ in bars])
        axes.set_xlim(0, max(minutes for _, minutes in bars) * 1.12)
        axes.set_xlabel(say("minutes from the start"))

    return _chart(draw, len(bars), " ".join(found.told), extra=0.7, entries=0)


# --- drawing -------------------------------------------------------------------------------------

def _within(stretches: Sequence[Stretch], visit: Visit) -> list[tuple[float, float]]:
    """The operator's own stretches, as far as they fall into the visit."""
    return [(max(s.begin, visit.begin), min(s.end, visit.end)) for s in stretches
            if s.who == visit.who and s.begin < visit.end and s.end > visit.begin]


def _rows(axes: Axes, names: Sequence[str]) -> None:
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.grid(True, axis="x", color=GRID, linewidth=0.6)
    axes.tick_params(axis="y", length=0)


def _legend(axes: Axes, narrow: bool, entries: list[tuple[str, str, str, str]]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Any] = []
    for shape, colour, hatch, label in entries:
        if shape == "patch":
            edge = GREY if colour == "white" else "white"
            handles.append(Patch(facecolor=colour, edgecolor=edge, hatch=hatch, label=say(label)))
        elif shape in ("line", "dash"):
            handles.append(Line2D([], [], color=colour, linewidth=2.2, label=say(label),
                                  linestyle="--" if shape == "dash" else "-"))
        else:
            handles.append(Line2D([], [], marker=shape, color=colour, linestyle="",
                                  label=say(label)))
    axes.figure.legend(
        handles=handles, loc="upper left", ncols=2 if narrow else min(_ACROSS, len(handles)),
        frameon=False, fontsize=9, handlelength=1.6, columnspacing=1.2, borderpad=0.1)


def _chart(
    draw: Callable[[Axes, bool], None], rows: int, alt: str, *, extra: float, entries: int = 6,
) -> Chart:
    """Draw in both widths; `extra` inches of height for axis and legend."""
    try:
        import matplotlib
        from matplotlib.backends.backend_svg import FigureCanvasSVG
        from matplotlib.figure import Figure
    except ImportError as error:
        raise lacking(error) or error from None
    drawn: list[str] = []
    for width in (WIDE, NARROW):
        narrow = width == NARROW
        columns = 2 if narrow else _ACROSS
        legend = 0.02 + 0.2 * -(-entries // columns)
        height = rows * _ROW + extra + legend
        settings: dict[Any, Any] = {
            "svg.fonttype": "none", "svg.hashsalt": f"{alt}{width}", "text.parse_math": False,
            "font.family": _fonts(language_now()), "font.size": 9.5 if narrow else 10,
            "hatch.linewidth": 0.7, "text.color": DARK, "axes.labelcolor": DARK,
            "xtick.color": DARK, "ytick.color": DARK,
            "axes.spines.top": False, "axes.spines.right": False, "axes.edgecolor": GREY}
        with matplotlib.rc_context(settings):
            figure = Figure(figsize=(width, height), facecolor="none")
            axes = figure.subplots()
            axes.set_facecolor("none")
            axes.set_axisbelow(True)
            draw(axes, narrow)
            out = io.StringIO()
            with warnings.catch_warnings():  # the browser has the letters that are missing here
                warnings.filterwarnings("ignore", message="Glyph .* missing from font")
                figure.tight_layout(rect=(0, 0, 1, 1 - legend / height), pad=0.3)
                # savefig would draw it a second time, for a layout that is made already
                canvas: Any = FigureCanvasSVG(figure)  # its methods have no types
                canvas.print_svg(out, metadata={
                    "Date": None, "Creator": None, "Format": None, "Type": None})
        drawn.append(_inline(out.getvalue(), PLOT))
    return Chart(drawn[0], drawn[1], alt)


@cache
def _fonts(language: str) -> list[str]:
    """Families to measure letters by; the page's own browser chooses what it shows them in."""
    if language != "ko":
        return ["DejaVu Sans"]
    from matplotlib import font_manager

    path = str(files("handsfree") / "paper" / "fonts" / "NotoSansKR-Regular.ttf")
    font_manager.fontManager.addfont(path)
    return ["DejaVu Sans", font_manager.FontProperties(fname=path).get_name()]


def _inline(svg: str, name: str) -> str:
    """The <svg> element alone, scaling to its place, its ids unlike those of other plots."""
    svg = svg[svg.index("<svg"):]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'(<svg[^>]*?) width="[^"]*"', r"\1", svg, count=1)
    svg = re.sub(r'(<svg[^>]*?) height="[^"]*"', r"\1", svg, count=1)
    svg = _FINE.sub(lambda found: found[1] or found[2], svg)  # a hundredth of a point is enough
    svg = re.sub(r'\bid="', f'id="{name}-', svg)
    svg = re.sub(r'href="#', f'href="#{name}-', svg)
    svg = re.sub(r"url\(#", f"url(#{name}-", svg)
    svg = re.sub(DARK, "currentColor", svg, flags=re.IGNORECASE)
    svg = re.sub(GRID, f"var(--grid, {GRID})", svg, flags=re.IGNORECASE)
    svg = svg.replace("'DejaVu Sans'", "'DejaVu Sans', Verdana, sans-serif")
    return svg.strip()

