"""Review as one page that needs nothing else: plots, tables, words; for screen, phone and paper.

May import records, summary, minutes, comparing, charts, wording and the standard library.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

from handsfree.review import charts, number_format
from handsfree.review.charts import Chart
from handsfree.review.columns import Columns
from handsfree.review.comparing import Comparison, sentence
from handsfree.review.minutes import Minutes, sentences
from handsfree.review.planned_forecast import Kept, Outlook, WhatIf
from handsfree.review.records import SessionRecord
from handsfree.review.summary import ChecklistSummary
from handsfree.review.translation import language_now, say

SESSIONS_SHOWN = 40

_STYLE = """
:root { color-scheme: light dark; --paper: #fff; --ink: #1a1a1a; --soft: #444; --line: #ddd;
  --edge: #767676; --link: #00527f; --grid: #e4e4e4; }
@media screen and (prefers-color-scheme: dark) { :root { --paper: #14181c; --ink: #f0f0f0;
  --soft: #c4c8cc; --line: #3a4046; --edge: #9aa0a6; --link: #8cc8f0; --grid: #3a4046; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 60rem; background: var(--paper); color: var(--ink);
  font: 1rem/1.5 system-ui, "DejaVu Sans", Verdana, sans-serif; }
h1 { font-size: 1.6rem; margin: 0 0 .5rem; }
h2 { font-size: 1.3rem; margin: 2.2rem 0 .4rem; border-top: 2px solid #0072b2; padding-top: .6rem; }
h3 { font-size: 1.05rem; margin: 1.4rem 0 .3rem; }
p { margin: .3rem 0; }
figure { margin: .4rem 0; }
figure svg { display: block; width: 100%; height: auto; }
.wide { max-width: 50rem; } .narrow { display: none; max-width: 26rem; }
figure svg { color: var(--ink); }
figcaption { font-size: .9rem; color: var(--soft); }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; font-size: .9rem; }
th, td { padding: .2rem .6rem; text-align: left; vertical-align: top;
  border-bottom: 1px solid var(--line); }
th { border-bottom: 2px solid var(--edge); } th[scope=row] { font-weight: 600; white-space: nowrap;
  border-bottom: 1px solid var(--line); }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
nav a { margin-right: 1rem; } a { color: var(--link); }
@media screen and (max-width: 40rem) { .wide { display: none; } .narrow { display: block; }
  body { padding: .7rem; } th, td { padding: .2rem .4rem; } }
@media print { body { max-width: none; padding: 0; font-size: 8.5pt; line-height: 1.35; }
  nav { display: none; } h2 { margin-top: .8rem; } h3 { margin: .6rem 0 .2rem; }
  section { columns: 2; column-gap: 7mm; } h2, .scroll { column-span: all; }
  .wide { display: none; } .narrow { display: block; max-width: none; }
  h2, h3 { break-after: avoid; } figure, tr { break-inside: avoid; }
  figure svg { max-height: 23cm; } figcaption { font-size: 7.5pt; }
  .scroll { overflow: visible; }
  a { color: inherit; text-decoration: none; } table { font-size: 7.5pt; width: 100%; }
  th, td { padding: .05rem .4rem; }
  thead { display: table-header-group; } }
"""

_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
"""The page itself forbids the browser to fetch anything."""


@dataclass(frozen=True)
class More:
    """What else there is to say of a checklist."""

    spent: Minutes | None = None
    kept: Kept | None = None
    compared: Sequence[Comparison] = ()


def page(
    columns: Columns, summaries: Sequence[ChecklistSummary], session: SessionRecord | None,
    *, about: str = "", problems: Sequence[str] = (), more: Mapping[str, More] | None = None,
) -> str:
    """The whole page.

    Args:
        columns: the sessions to list, in order.
        summaries: one section for each.
        session: shown step by step.
        about: which sessions were chosen, in words.
        more: by checklist, what else there is to say of it.

    Raises:
        InputError: matplotlib is not installed.
    """
    sections = [_checklist(found, (more or {}).get(found.checklist, More()))
                for found in summaries]
    if session:
        sections.append(_session(session))
    sections.append(_sessions(columns))
    if problems:
        items = "".join(f"<li>{escape(problem)}</li>" for problem in problems)
        sections.append(_section("files", say("Files with problems"), f"<ul>{items}</ul>"))
    links = [*((f"checklist-{_name(s.checklist)}", s.title) for s in summaries),
             *((("session", say("one session")),) if session else ()),
             ("sessions", say("all sessions"))]
    return _document(say("Review: where the time went"), say("Where the time went"), about, links,
                     sections)


def forecast_page(told: Sequence[str], found: Outlook, what_if: WhatIf | None) -> str:
    """A forecast's sentences, and the plots that show the same.

    Raises:
        InputError: matplotlib is not installed.
    """
    drawn = {say("How sure that is"): _drawn(charts.chances(found.totals / 60))}
    if what_if:
        if usual := charts.course(what_if.plain):
            drawn[say("When which step comes")] = _drawn(usual)
        if what_if.changed:
            drawn[say("What would change it")] = _drawn(charts.lengths(what_if), caption=False)
    parts = [_section(f"plot-{number}", heading, plot)
             for number, (heading, plot) in enumerate(drawn.items(), start=1)]
    heading = say("When to start")
    first, *others = told
    items = "".join(f"<li>{escape(sentence)}</li>" for sentence in others)
    return _document(heading, heading, first, [], [f"<ul>{items}</ul>", *parts])


def _document(
    title: str, heading: str, about: str, links: Sequence[tuple[str, str]], parts: Sequence[str]
) -> str:
    here = escape(say("On this page"), quote=True)
    nav = "".join(f'<a href="#{name}">{escape(text)}</a> ' for name, text in links)
    return (
        '<!DOCTYPE html>\n<html lang="' + language_now() + '">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        f"<title>{escape(title)}</title>\n"
        f"<style>{_STYLE}</style>\n</head>\n<body>\n"
        f"<header><h1>{escape(heading)}</h1>\n<p>{escape(about)}</p>\n"
        + (f'<nav aria-label="{here}">{nav}</nav>' if links else "") + "</header>\n<main>\n"
        + _told_apart("\n".join(parts)) + "\n</main>\n</body>\n</html>\n")


def _told_apart(text: str) -> str:
    """The same, each plot with ids of its own."""
    number = itertools.count(1)
    return re.sub(r"<svg\b.*?</svg>",
                  lambda plot: plot[0].replace(f"{charts.PLOT}-", f"plot{next(number)}-"),
                  text, flags=re.DOTALL)


def is_page(path: Path) -> bool:
    """Whether the file is a page that was made here, which may be made anew."""
    try:
        with open(path, "rb") as file:
            return _POLICY.encode() in file.read(1000)
    except OSError:
        return False


def _section(name: str, heading: str, inner: str) -> str:
    return (f'<section id="{name}" aria-labelledby="{name}-h">\n'
            f'<h2 id="{name}-h">{escape(heading)}</h2>\n{inner}\n</section>')


def _name(text: str) -> str:
    return "".join(c if c.isascii() and c.isalnum() else "-" for c in text)


def _figure(heading: str, chart: Chart | None, otherwise: str, *, caption: bool = True) -> str:
    if chart is None:
        return f"<h3>{escape(heading)}</h3>\n<p>{escape(otherwise)}</p>"
    return f"<h3>{escape(heading)}</h3>\n{_drawn(chart, caption=caption)}"


def _drawn(chart: Chart, *, caption: bool = True) -> str:
    """The plot; `caption` where its words do not stand beside it already."""
    alt = escape(chart.alt, quote=True)
    return (f'<figure><div class="wide" role="img" aria-label="{alt}">{chart.wide}</div>'
            f'<div class="narrow" role="img" aria-label="{alt}">{chart.narrow}</div>'
            + (f"<figcaption>{escape(chart.alt)}</figcaption>" if caption else "") + "</figure>")


def _table(caption: str, heads: Sequence[str], rows: Sequence[Sequence[str]], *, words: int) -> str:
    """A table whose first `words` columns are text and whose others are numbers."""
    def cells(row: Sequence[str], tag: str) -> str:
        out = []
        for place, cell in enumerate(row):
            kind = "" if place < words else ' class="n"'
            if tag == "th":
                out.append(f'<th scope="col"{kind}>{escape(cell)}</th>')
            elif place == 0:
                out.append(f'<th scope="row">{escape(cell)}</th>')
            else:
                out.append(f"<td{kind}>{escape(cell)}</td>")
        return f"<tr>{''.join(out)}</tr>"

    label = escape(f"{caption}: {say('table')}", quote=True)
    return (f'<div class="scroll" role="region" tabindex="0" aria-label="{label}"><table>'
            f"<thead>{cells(heads, 'th')}</thead><tbody>"
            + "".join(cells(row, "td") for row in rows) + "</tbody></table></div>")


def _checklist(found: ChecklistSummary, more: More) -> str:
    active, paused, spoken, waiting = found.shares
    counted = (say("1 session, {closed} closed.", closed=found.closed) if found.sessions == 1
               else say("{count} sessions, {closed} closed.", count=found.sessions,
                        closed=found.closed))
    took = say(
        "It took {median} without pauses (median; 10th to 90th percentile {low} to {high}). Of"
        " the time {active:.0%} was active, {spoken:.0%} the program talking, {waiting:.1%}"
        " waiting for it, {paused:.0%} paused.", median=number_format.about_minutes(found.median),
        low=number_format.about_minutes(found.low), high=number_format.about_minutes(found.high),
        active=active, spoken=spoken, waiting=waiting, paused=paused)
    trend = say("Trend: {trend}. Each doubling of the stays: {practice}.",
                trend=number_format.trend(found.trend, 60, "min"),
                practice=number_format.practice(found.curve))
    words = (
        f"<p>{escape(counted)} {escape(took)}</p>\n<p>{escape(trend)}</p>"
        + (f"\n<p>{escape(number_format.kept(more.kept))}</p>" if more.kept else ""))
    rows = [(s.step, str(s.done), number_format.span(s.median), number_format.span(s.low),
             number_format.span(s.high), str(s.refusals or ""), str(s.skipped or ""),
             str(s.forgotten or ""),
             number_format.trend(s.trend) if s.trend and s.trend.says else "") for s in found.steps]
    return _section(f"checklist-{_name(found.checklist)}", found.title, "\n".join((
        words,
        *_spent(more.spent),
        *_compared(more.compared),
        _figure(say("From stay to stay"), charts.trend(found),
                say("A trend can be drawn from two closed sessions on.")),
        _figure(say("How long each step takes"), charts.spread(found),
                say("No step was timed yet.")),
        _figure(say("Near misses and what was left out"), charts.misses(found),
                say("Nothing was refused, skipped or forgotten.")),
        f"<h3>{escape(say('Every step'))}</h3>",
        _table(say("Every step of {title}", title=found.title),
               _said("step", "done", "median", "10 %", "90 %", "refused", "skipped", "forgotten",
                     "trend"), rows, words=1))))


def _said(*heads: str) -> tuple[str, ...]:
    return tuple(say(head) for head in heads)


def _spent(found: Minutes | None) -> list[str]:
    """Sentences first, then the plots."""
    if found is None:
        return []
    said = "".join(f"<li>{escape(sentence)}</li>" for sentence in sentences(found))
    return [f"<h3>{escape(say('Where the minutes go'))}</h3>\n<ul>{said}</ul>" if said else "",
            _figure(say("What they go into"), charts.causes(found),
                    say("No minute was spent yet."), caption=False),
            _figure(say("What makes stays long or short"), charts.differences(found),
                    say("It takes four closed sessions.")),
            _figure(say("The same, stay by stay"), charts.over_stays(found),
                    say("It takes three closed sessions.")),
            _figure(say("What was refused, by what was missing"), charts.reasons(found),
                    say("Nothing was refused."), caption=False)]


def _compared(found: Sequence[Comparison]) -> list[str]:
    if not found:
        return []
    return [f"<h3>{escape(say('Compared'))}</h3>",
            *(f"<p>{escape(sentence(one))}</p>\n{_drawn(charts.groups(one), caption=False)}" for one in found)]


def _session(found: SessionRecord) -> str:
    rows = [(s.step, say("forgotten") if s.forgotten else say(s.outcome.value),
             number_format.span(s.offered),
             number_format.span(s.active), number_format.span(s.paused) if s.paused >= 1 else "",
             number_format.span(s.spoken),
             f"{s.waiting:.1f} s", str(s.refusals or ""), str(s.rejections or ""),
             str(s.repeats or ""), str(s.tries or "")) for s in found.steps]
    notes = "".join(f"<li>{escape(number_format.note(m))}</li>"
                    for m in found.marks if m.kind == "note")
    words = escape(say(
        "{title}: {state}; took {time} without pauses, {active} of it active.",
        title=number_format.title(found), state=number_format.state(found), time=number_format.span(found.elapsed),
        active=number_format.span(found.active)))
    return _section("session", say("One session, step by step"), "\n".join((
        f"<p>{words}</p>",
        _figure(say("Timeline"), charts.timeline(found),
                say("No step was at hand in this session.")),
        f"<h3>{escape(say('Notes'))}</h3><ul>{notes}</ul>" if notes else "",
        _table(say("Steps of the session"),
               _said("step", "outcome", "at", "active", "paused", "talking", "waiting", "refused",
                     "not understood", "repeated", "failed"), rows, words=2))))


def _sessions(columns: Columns) -> str:
    rows, refusals, left_open = [], columns.refusals, columns.left_open
    for row in range(len(columns) - 1, max(-1, len(columns) - 1 - SESSIONS_SHOWN), -1):
        found = columns.session(row, steps=False)
        rows.append((
            f"{found.began:%Y-%m-%d %H:%M}", found.checklist, found.rig, found.place,
            number_format.state(found), number_format.span(found.elapsed),
            number_format.span(found.paused) if found.paused >= 1 else "",
            str(refusals[row] or ""), str(left_open[row] or "")))
    more = len(columns) - len(rows)
    newest = say("The newest {count} of {all}.", count=len(rows), all=len(columns))
    note = f"<p>{escape(newest)}</p>" if more else ""
    return _section("sessions", say("All sessions"), note + _table(
        say("All sessions"), _said("begun", "checklist", "rig", "place", "state", "took", "paused",
                                   "refused", "left open"), rows, words=5))
