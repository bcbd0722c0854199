"""`handsfree review`, `forecast`, `export` and `import`."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from handsfree.errors import HandsfreeError, InputError
from handsfree.storage.paths import data_folder

if TYPE_CHECKING:
    from handsfree.checklist.model import Checklist
    from handsfree.review.history import History
    from handsfree.review.planned_forecast import Outlook, Whose

_MANY = 500
"""Sessions whose reading takes long enough to be told of."""
_DATE = click.DateTime(formats=["%Y-%m-%d"])
_data = click.option("--data", type=click.Path(path_type=Path), default=None, metavar="DIR",
                     help="Data folder; by default your own.")
_rig = click.option("--rig", default="", metavar="NAME", help="Only this rig.")
_place = click.option("--place", default="", metavar="TEXT",
                      help="Only places whose name contains this.")
_since = click.option("--since", type=_DATE, default=None, metavar="YYYY-MM-DD",
                      help="Only sessions begun on this day or later.")
_until = click.option("--until", type=_DATE, default=None, metavar="YYYY-MM-DD",
                      help="Only sessions begun on this day or earlier.")
_checklist = click.option("--checklist", default="", metavar="NAME", help="Only this checklist.")


def _load(data: Path | None) -> History:
    """The history of a data folder, with what is wrong with its files told on standard error."""
    from handsfree.review import history

    folder = data or data_folder()
    if data and not data.is_dir():
        raise InputError(f"there is no folder {data}; check the path given with --data.")
    found = history.load(folder, jobs=min(os.cpu_count() or 1, 8), tell=_progress())
    for problem in found.problems[:10]:
        click.echo(f"handsfree: {problem}", err=True)
    if len(found.problems) > 10:
        click.echo(f"handsfree: ... and {len(found.problems) - 10} more files with problems.",
                   err=True)
    return found


def _progress() -> Callable[[int, int], None]:
    """A bar on standard error while many journals are read; nothing where that is no terminal."""
    if not sys.stderr.isatty():
        return lambda done, of: None

    def tell(done: int, of: int) -> None:
        if of < _MANY:
            return
        width = 30 * done // of
        click.echo(f"\rreading {of:,} sessions  [{'#' * width:<30}] {done / of:4.0%}"
                   + ("\n" if done >= of else ""), nl=False, err=True)

    return tell


def _day(value: datetime | None) -> date | None:
    return value.date() if value else None


def _chosen(
    found: History, checklist: str, rig: str, place: str, since: datetime | None,
    until: datetime | None,
) -> tuple[History, str]:
    """The sessions that fit, and which those are in words; empty is said in one sentence."""
    fit = found.only(checklist=checklist, rig=rig, place=place, since=_day(since),
                     until=_day(until))
    words = [f"{label} {value}" for label, value in (
        ("checklist", checklist), ("rig", rig), ("place", place),
        ("since", _day(since)), ("until", _day(until))) if value]
    return fit, ", ".join(words)


def _nothing(found: History, about: str) -> str:
    if not len(found):
        return (f"No sessions are recorded in {found.data} yet;"
                " the first 'handsfree run' makes one.")
    have = sorted(set(found.columns.text("checklist")))
    return (f"None of the {len(found)} sessions in {found.data} fits ({about});"
            f" checklists there: {', '.join(have)}.")


@click.command()
@click.argument("session", required=False, metavar="[SESSION]")
@_checklist
@_rig
@_place
@_since
@_until
@click.option("--html", "page", type=click.Path(path_type=Path, dir_okay=False), default=None,
              metavar="FILE", help="Write a page with plots instead.")
@click.option("--limit", type=click.IntRange(min=0), default=20, show_default=True,
              help="Sessions to list; 0 for all.")
@click.option("--rehearsals", is_flag=True, help="Count rehearsals in the sums too.")
@click.option("--compare", is_flag=True,
              help="With --checklist: by operator, rig, place and season.")
@_data
def review(
    session: str | None, checklist: str, rig: str, place: str, since: datetime | None,
    until: datetime | None, page: Path | None, limit: int, rehearsals: bool, compare: bool,
    data: Path | None,
) -> None:
    """Show where the time went.

    Without arguments: the sessions, newest first.  With SESSION, one of them step by step, with its
    notes: the first characters of its id, its number, 'last', or a journal file.  With --checklist,
    all sessions of a checklist summed up.
    """
    if compare and not checklist:
        raise InputError("--compare needs --checklist NAME: whose stays are to be compared.")
    if session and not page and Path(session).suffix == ".jsonl":
        _show_file(Path(session))
        return
    found = _load(data)
    fit, about = _chosen(found, checklist, rig, place, since, until)
    if not len(fit):
        click.echo(_nothing(found, about))
        return
    if page:
        _write_page(fit, session, checklist, about, page, rehearsals)
        return
    from handsfree.review import tables
    from handsfree.review.minutes import minutes
    from handsfree.review.planned_forecast import kept_promises
    from handsfree.review.summary import summarise

    target = tables.console()
    if session:
        target.print(tables.session(fit.session(_row(fit, session))))
    elif checklist:
        real = fit if rehearsals else fit.only(rehearsals=False)
        if not len(real):
            click.echo("Only rehearsals fit; --rehearsals counts them.")
            return
        if compare:
            from handsfree.review.comparing import compare as compared
            from handsfree.review.comparing import sentence

            found_ = compared(real.columns, checklist)
            for one in found_:
                click.echo(sentence(one))
            if not found_:
                click.echo("There is only one operator, rig, place and season so far.")
            return
        target.print(tables.checklist(summarise(real.columns, checklist),
                                      kept_promises(real.columns, checklist, _at_hand(checklist)),
                                      minutes(real.columns, checklist)))
    else:
        target.print(tables.sessions(fit, limit=limit))


def _at_hand(name: str) -> Checklist | None:
    """The checklist of that id; None where it cannot be found or read."""
    from handsfree.checklist.loader import load_checklist
    from handsfree.storage.paths import checklists_folder, find_checklist

    try:
        return load_checklist(find_checklist(name), library=checklists_folder())
    except HandsfreeError:
        return None


def _show_file(path: Path) -> None:
    from handsfree.review import tables
    from handsfree.review.timings import read_session

    found, problems = read_session(path)
    for problem in problems:
        click.echo(f"handsfree: {problem}", err=True)
    target = tables.console()
    target.print(tables.session(found))


def _row(fit: History, named: str) -> int:
    """The row of a session named by id, number or 'last'.

    Raises:
        InputError: none, or several.
    """
    if named == "last":
        return len(fit) - 1
    ids = fit.columns.text("session")
    rows: list[int] = []
    number = named.removeprefix("#")
    if number.isdigit() and len(number) <= 6:
        rows = [row for row, had in enumerate(fit.columns.sessions["number"]) if had == int(number)]
    if not rows:
        rows = [row for row, name in enumerate(ids) if name.startswith(named)]
    if len(rows) == 1:
        return rows[0]
    if not rows:
        raise InputError(f"there is no session '{named}'; 'handsfree review' lists their ids.")
    several = ", ".join(f"{ids[row][:13]} ({fit.columns.text('rig')[row]})" for row in rows[:5])
    raise InputError(f"'{named}' fits {len(rows)} sessions: {several}; type more of"
                     " the id, or add --rig.")


def _write_page(
    fit: History, session: str | None, checklist: str, about: str, page: Path, rehearsals: bool
) -> None:
    from handsfree.review import html
    from handsfree.review.comparing import compare
    from handsfree.review.minutes import minutes
    from handsfree.review.planned_forecast import kept_promises
    from handsfree.review.summary import summarise
    from handsfree.review.translation import say, spoken_in
    from handsfree.review.whole_file import whole_file

    real = fit if rehearsals else fit.only(rehearsals=False)
    names = [checklist] if checklist else list(real.checklists())
    summaries = [summarise(real.columns, name) for name in names if len(real)]
    more = {name: html.More(minutes(real.columns, name),
                            kept_promises(real.columns, name, _at_hand(name)),
                            compare(real.columns, name)) for name in names if len(real)}
    shown = fit.session(_row(fit, session or "last"))
    spoken = real.columns.text("language")[-1] if len(real) else shown.language
    with spoken_in(spoken):
        counted = say("{count} sessions", count=len(fit)) if len(fit) != 1 else say("1 session")
        text = html.page(
            fit.columns, summaries, shown, about=counted + (f": {about}" if about else ""),
            problems=[str(problem) for problem in fit.problems], more=more)
    with whole_file(page, replace=html.is_page(page)) as part:
        part.write_text(text, encoding="utf-8")
    click.echo(f"Wrote {page}; open it in a browser.")


# --- forecast ------------------------------------------------------------------------------------

@click.command()
@click.argument("checklist")
@click.option("--by", required=True, metavar="HH:MM", help="When to be rolling.")
@click.option("--on", type=_DATE, default=None, metavar="YYYY-MM-DD",
              help="On which day; by default the next time that the clock shows --by.")
@click.option("--rig", default=None, metavar="NAME",
              help="Rig file, a name or a path; or a rig of which there are sessions.")
@click.option("--operator", default="", metavar="NAME", help="Who will work: their pseudonym.")
@click.option("--place", default="", metavar="NAME", help="Where; its answers are known then.")
@click.option("--two", is_flag=True, help="Two people, one inside and one outside.")
@click.option("--yes", "yes", multiple=True, metavar="QUESTION",
              help="Answer a site question with yes; may be repeated.")
@click.option("--no", "no", multiple=True, metavar="QUESTION", help="The same with no.")
@click.option("--after", default=None, metavar="CHECKLIST",
              help="Plan as after this checklist, not from the record as it is now.")
@click.option("--without", multiple=True, metavar="STEP",
              help="Also say what it takes without this step; may be repeated.")
@click.option("--first", multiple=True, metavar="STEP",
              help="Also say what it takes with these steps as early as they may come, in order.")
@click.option("--as-is", is_flag=True,
              help="Plan from the record even if earlier stays began from another state.")
@_data
def forecast(
    checklist: str, by: str, on: datetime | None, rig: str | None, operator: str, place: str,
    two: bool, yes: tuple[str, ...], no: tuple[str, ...], after: str | None,
    without: tuple[str, ...], first: tuple[str, ...], as_is: bool, data: Path | None,
) -> None:
    """When to start a checklist in order to finish on time.

    Counts the steps that apply by what is on record of the rig and by the site's answers, with
    the times of this operator and rig; where there are few, those of others and the checklist's
    expected times fill in.  What it assumes, it says.  Steps that wait for the clock, such as the
    leak check ten minutes later, hold nobody up and are left out.
    """
    from handsfree.review import forecast as model
    from handsfree.review.planned_forecast import Whose

    now = datetime.now().astimezone()
    wanted = _moment(by, _day(on), now)
    whose = Whose(operator, rig or "", place, 2 if two else 1)
    name, found = _outlook(checklist, whose, data, {
        **dict.fromkeys(yes, True), **dict.fromkeys(no, False)}, after, as_is)
    if not found.applies:
        raise InputError(f"no step of '{checklist}' applies to the rig as it is on record;"
                         " 'handsfree rig' shows what is, --after CHECKLIST plans as after"
                         " another checklist.")
    click.echo(f"{name}: {len(found.applies)} steps apply,"
               f" {found.stays} earlier stay{'s' if found.stays != 1 else ''}.")
    for sentence in found.told:
        click.echo(sentence)
    if found.answers:
        click.echo("Assuming " + ", ".join(
            f"{question}: {'yes' if answer else 'no'}"
            for question, answer in found.answers.items())
            + " (as the place mostly was, else as last time, else the longer way; change with"
              " --yes or --no).")
    if not found.complete:
        click.echo("The checklist cannot be closed from what is on record, so more may come.")
    for start in model.start_times(found.totals, wanted):
        late = "   already past" if start.start < now else ""
        click.echo(f"{start.chance:>4.0%} in time: start by {start.start:%H:%M}"
                   f"  ({_days(start.start, now)}{_span(start.minutes)} before {by}){late}")
    left = (wanted - now).total_seconds()
    if left < model.start_times(found.totals, wanted)[-1].minutes * 60:
        click.echo(f"Starting now, {model.chance_in_time(found.totals, left):.0%} of departures"
                   " would be in time.")
    for sentence in found.what_if(without, first):
        click.echo(sentence)
    if found.stays < 5:
        click.echo("With so few stays on record, most of this is the checklist's expectation.")


def _span(minutes: float) -> str:
    from handsfree.review.number_format import about_minutes

    return about_minutes(minutes)


def _days(start: datetime, now: datetime) -> str:
    return "" if start.date() == now.date() else f"{start:%A}, "


def _moment(by: str, on: date | None, now: datetime) -> datetime:
    """The next local time of day `by`, or that of the given day.

    Raises:
        InputError: `by` is no time of day.
    """
    try:
        clock = datetime.strptime(by, "%H:%M").time()
    except ValueError:
        raise InputError(f"'{by}' is no time of day; write it as in 11:00.") from None
    moment = datetime.combine(on or now.date(), clock).astimezone()
    if on is None and moment <= now:
        moment = datetime.combine(now.date() + timedelta(days=1), clock).astimezone()
    return moment


def _outlook(
    name: str, whose: Whose, data: Path | None, answers: dict[str, bool], after: str | None,
    as_is: bool,
) -> tuple[str, Outlook]:
    """The checklist's id and its forecast.

    A rig file gives the steps exactly.  Without one (another machine's data, say) the latest
    stays have to do, and then no site question can be answered.
    """
    from handsfree.cli import wiring
    from handsfree.review.applying import after_walking
    from handsfree.review.planned_forecast import from_history, outlook
    from handsfree.storage.record import latest, record_for

    found = _load(data)
    folder = data or data_folder()
    real = found.only(rehearsals=False)
    try:
        file = wiring.choose_rig(whose.rig or None, folder)
        made = wiring.plan(name, file, folder)
    except InputError as problem:
        known = dict.fromkeys(real.only(checklist=name).columns.text("rig")[::-1])
        if answers or after or not known or whose.rig and whose.rig not in known:
            raise problem from None
        rig = whose.rig or next(iter(known))
        if not whose.rig and len(known) > 1:
            click.echo(f"Of {len(known)} rigs on record this is for the latest, {rig}; --rig"
                       " names another.")
        made_up = from_history(name, real.columns, replace(whose, rig=rig))
        if made_up is None:
            raise problem from None
        return name, made_up
    asked = [q.id for q in made.checklist.steps.values() if q.question]
    unknown = sorted(set(answers) - set(asked))
    if unknown:
        raise InputError(f"'{unknown[0]}' is no question of '{name}';"
                         f" it asks: {', '.join(asked) or 'nothing'}.")
    whose = replace(whose, rig=made.rig.name)
    facts, said = record_for(made.checklist, made.rig, latest(made.folder)).facts, ""
    if after:
        before = wiring.plan(after, file, folder)
        facts = after_walking(before.checklist, wiring.on_record(before)) | made.rig.has
        said = f"as after a usual '{before.checklist.id}'"
    return made.checklist.id, outlook(made.checklist, facts, real.columns, whose,
                                      answers=answers, as_is=as_is, after=said)


# --- export and import ---------------------------------------------------------------------------

@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--table", "what", type=click.Choice(["steps", "sessions", "notes", "lines"]),
              default="steps", show_default=True, help="A row for each of these (not in XES).")
@click.option("--force", is_flag=True, help="Replace FILE if it is there already.")
@click.option("--anonymous", is_flag=True,
              help="Without rig, place, note, words, path: steps and sessions only.")
@_checklist
@_rig
@_place
@_since
@_until
@_data
def export(
    file: Path, what: str, force: bool, anonymous: bool, checklist: str, rig: str, place: str,
    since: datetime | None, until: datetime | None, data: Path | None,
) -> None:
    """Write records to FILE: .csv, .parquet, or .xes (event log, IEEE 1849).

    Only you can read FILE afterwards; a file that is there already stays, unless --force.  A table
    of notes has each note's step, time, words where there are any, and sound file.
    """
    from handsfree.review import export as exports
    from handsfree.review.xes import write_xes

    suffix = file.suffix.lower()
    if suffix not in (".csv", ".parquet", ".xes"):
        raise InputError(f"'{file.name}' says no format; end it in .csv, .parquet or .xes.")
    if anonymous and what in ("notes", "lines"):
        raise InputError(f"a table of {what} is what was said; --anonymous writes steps or"
                         " sessions.")
    found = _load(data)
    fit, about = _chosen(found, checklist, rig, place, since, until)
    if not len(fit):
        click.echo(_nothing(found, about))
        return
    nameless = exports.anonymous(fit.columns) if anonymous else None
    if nameless and suffix != ".xes":
        fit = replace(fit, columns=nameless)
    if suffix == ".xes":
        count, noun = write_xes(fit, file, replace=force, nameless=nameless), "events"
    elif suffix == ".csv":
        count, noun = exports.write_csv(fit, file, what, replace=force), "rows"
    else:
        count, noun = exports.write_parquet(fit, file, what, replace=force), "rows"
    click.echo(f"Wrote {count} {noun} of {len(fit)} sessions to {file}.")


@click.command("import")
@click.argument("source", type=click.Path(path_type=Path))
@_data
def import_(source: Path, data: Path | None) -> None:
    """Merge journals of another machine: a data folder, a folder of journals, or one file.

    They count in reviews and forecasts and change no rig's record.  Importing the same again
    counts nothing twice.
    """
    from handsfree.review.importing import import_journals

    done = import_journals(source, data or data_folder())
    for problem in done.problems[:20]:
        click.echo(f"handsfree: {problem}", err=True)
    if len(done.problems) > 20:
        click.echo(f"handsfree: ... and {len(done.problems) - 20} more problems.", err=True)
    click.echo(f"{len(done.new)} new, {len(done.longer)} longer than before,"
               f" {done.known} known already, {len(done.problems)} with problems;"
               f" {done.sounds} sound files of notes.")
    if done.problems and not (done.new or done.longer or done.known):
        raise HandsfreeError(f"nothing could be imported from {source}.")
