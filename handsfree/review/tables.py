"""Review as tables for the terminal; colour only repeats what the words say.

May import records, summary, wording, history and rich.  rich itself keeps to NO_COLOR and to
terminals that can do nothing; there are no box lines, so that any encoding will do.
"""

from __future__ import annotations

import io
import math
import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from handsfree.review import number_format
from handsfree.review.history import History
from handsfree.review.minutes import Minutes, apart, sentences
from handsfree.review.planned_forecast import Kept
from handsfree.review.records import Outcome, SessionRecord, StepRecord
from handsfree.review.summary import ChecklistSummary, StepSummary

_MOST_BARS, _BAR = 8, 20
"""Steps that are drawn, and characters of the whole."""


def console() -> Console:
    """A console on standard output; 100 columns where it is not a terminal."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a name that it cannot show must not end us
    width = None if sys.stdout.isatty() or "COLUMNS" in os.environ else 100
    return Console(highlight=False, width=width, markup=False, emoji=False)


def _table(*columns: str, right: Iterable[str] = (), whole: Iterable[str] = ()) -> Table:
    """A table without lines; columns in `right` are numbers, those in `whole` never wrap."""
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="bold underline")
    for column in columns:
        number = column in right
        table.add_column(column, justify="right" if number else "left",
                         no_wrap=number or column in whole)
    return table


def sessions(history: History, *, limit: int) -> RenderableType:
    """Sessions, newest first; `limit` of them, or all if it is 0."""
    count = len(history) if limit <= 0 else min(limit, len(history))
    table = _table("session", "begun", "checklist", "rig", "place", "took", "paused", "remarks",
                   right=("took", "paused"), whole=("session", "begun", "checklist"))
    columns = history.columns
    refusals, left_open = columns.refusals, columns.left_open
    for row in range(len(columns) - 1, len(columns) - 1 - count, -1):
        session = columns.session(row, steps=False)
        refused, left = refusals[row], left_open[row]
        table.add_row(
            session.session[:8] or f"#{session.number}", f"{session.began:%Y-%m-%d %H:%M}",
            session.checklist, session.rig, session.place, number_format.span(session.elapsed),
            number_format.span(session.paused) if session.paused >= 1 else "",
            ", ".join([number_format.state(session), *([f"{refused} refused"] if refused else []),
                       *([f"{left} left open"] if left else [])]))
    parts: list[RenderableType] = [table]
    if count < len(history):
        parts.append(Text(f"{count} of {len(history)} sessions; --limit 0 shows all.\n"))
    return Group(*parts)


def session(found: SessionRecord) -> RenderableType:
    """One session step by step, in the order in which the steps were taken."""
    table = _table("step", "at", "active", "paused", "talk", "wait", "outcome", "remarks",
                   right=("at", "active", "paused", "talk", "wait"), whole=("step", "outcome"))
    for step in found.steps:
        style = "bold red" if step.outcome in (Outcome.LEFT, Outcome.FAILED) else ""
        table.add_row(
            step.step, number_format.span(step.offered), number_format.span(step.active),
            number_format.span(step.paused) if step.paused >= 1 else "",
            number_format.span(step.spoken) if step.spoken >= 0.5 else "",
            f"{step.waiting:.1f}" if step.waiting >= 0.05 else "",
            "forgotten" if step.forgotten else step.outcome.value,
            ", ".join(_remarks(step)), style=style)
    head = [
        Text(number_format.title(found), style="bold"),
        Text(f"{number_format.state(found)}; took {number_format.span(found.elapsed)} without pauses:"
             f" active {number_format.span(found.active)}, program talking {number_format.span(found.spoken)},"
             f" waiting for the program {number_format.span(found.waiting)};"
             f" paused {number_format.span(found.paused)}."),
    ]
    if found.restarts:
        head.append(Text("The program was restarted: time while it was not running is in no"
                         " figure, and steps marked so are too short."))
    if found.clock_jump >= 60:
        head.append(Text(f"The wall clock jumped by {number_format.span(found.clock_jump)} meanwhile;"
                         " durations do not depend on it."))
    kept = [mark for mark in found.marks if mark.kind == "note"]
    notes = [Text(f"note at {number_format.note(mark)}") for mark in kept]
    if any(mark.audio for mark in kept):
        notes.append(Text(f"The sound files lie in {Path(found.path).parent}."))
    misses = [Text(f"refused at {number_format.span(m.at)}: {m.step}"
                   + (f" (missing: {m.text})" if m.text else ""))
              for m in found.marks if m.kind == "refused"]
    return Group(*head, Text(), table, *misses, *notes)


def _remarks(step: StepRecord) -> list[str]:
    counted = (("refused", step.refusals), ("not understood", step.rejections),
               ("asked", step.asked), ("repeated", step.repeats), ("failed", step.tries),
               ("skipped", step.skips))
    words = [f"{word} {count} times" if count > 1 else word for word, count in counted if count]
    if step.visits > 1:
        words.append(f"taken up {step.visits} times")
    if step.restarted:
        words.append("no time of its own")
    return words


def checklist(
    found: ChecklistSummary, kept: Kept | None = None, spent: Minutes | None = None
) -> RenderableType:
    """All sessions of a checklist: the whole, the ranking, every step.

    Args:
        kept: how often the forecast's own times were met.
        spent: where the minutes went.
    """
    active, paused, spoken, waiting = found.shares
    told = sentences(spent) if spent else []
    lines = [
        Text(f"{found.title}: {_count(found.sessions, 'session')}, {found.closed} closed",
             style="bold"),
        Text(f"took {number_format.about_minutes(found.median)} without pauses (median;"
             f" 10th to 90th percentile {number_format.about_minutes(found.low)} to"
             f" {number_format.about_minutes(found.high)})."),
        Text(f"of the time: {active:.0%} active, {spoken:.0%} program talking, {waiting:.1%}"
             f" waiting for it, {paused:.0%} paused."),
        Text(f"trend: {number_format.trend(found.trend, 60, 'min')};"
             f" each doubling of the stays: {number_format.practice(found.curve)}."),
        *([Text(number_format.kept(kept))] if kept else []),
        *([Text("\nWhere the minutes go", style="bold"), *map(Text, told)] if told else []),
    ]
    ranking = _table("most", "steps", whole=("most",))
    rankings: tuple[tuple[str, str, Callable[[Any], str]], ...] = (
        ("slowest", "median", lambda s: number_format.span(s.median)),
        ("most variable", "variability", lambda s: f"{s.variability:.1f}"),
        ("most refused (near misses)", "refusals", lambda s: str(s.refusals)),
        ("most often skipped", "skipped", lambda s: str(s.skipped)),
        ("most often forgotten", "forgotten", lambda s: str(s.forgotten)),
        ("least understood", "rejections", lambda s: str(s.rejections)))
    for label, what, show in rankings:
        top = found.most(what)
        if top:
            ranking.add_row(label, ", ".join(f"{s.step} ({show(s)})" for s in top))
    steps = _table("step", "done", "median", "10 %", "90 %", "refused", "skipped",
                   "forgotten", "trend", "doubling",
                   right=("done", "median", "10 %", "90 %", "refused", "skipped", "forgotten",
                          "doubling"), whole=("step",))
    for step in found.steps:
        steps.add_row(
            step.step, str(step.done), *map(number_format.span, (step.median, step.low, step.high)),
            *(str(n) if n else "" for n in (step.refusals, step.skipped, step.forgotten)),
            _short_trend(step), f"{step.curve.factor:.2f}" if step.curve else "")
    return Group(*lines, *_differences(spent), Text(), ranking, Text(), steps)


def _differences(spent: Minutes | None) -> list[RenderableType]:
    """What each step contributes to how stays differ and to their time, with bars; below 0 is what
    is short when the rest is long."""
    found = apart(spent)[:_MOST_BARS] if spent else []
    if not found:
        return []
    table = _table("step", "differ", "", "take", "", right=("differ", "take"), whole=("step", ""))
    for step in found:
        table.add_row(step.step, f"{step.spread:.0%}", _bar(step.spread), f"{step.share:.0%}",
                      _bar(step.share))
    return [Text("\nWhat stays differ by, and what they take", style="bold"), table]


def _bar(share: float) -> str:
    return ("#" if share > 0 else "-") * round(min(abs(share), 1.0) * _BAR)


def _short_trend(step: StepSummary) -> str:
    if step.trend is None or not step.trend.says or math.isnan(step.trend.slope):
        return ""
    return f"{step.trend.says} {10 * abs(step.trend.slope):.0f} s in 10"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
