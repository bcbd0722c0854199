"""`handsfree review`, `forecast`, `export` and `import`."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from handsfree.cli.counted import count
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
_rig = click.option("--rig", default="", metavar="NAME",
                    help="Only this rig: its file, by name or path, or its name in the sessions.")
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


def _outside(file: Path, data: Path | None) -> None:
    """What was made for others may not lie where `forget` has to leave nothing.

    Raises:
        InputError: it would.
    """
    folder = (data or data_folder()).resolve()
    if file.resolve().is_relative_to(folder):
        raise InputError(f"{file} would lie in the data folder {folder}, and 'forget' deletes only"
                         " what the program keeps there; name a file elsewhere.")


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
    rig = _as_recorded(found, rig)
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
    have, rigs = (sorted(set(found.columns.text(name))) for name in ("checklist", "rig"))
    return (f"None of the {count(len(found), 'session')} in {found.data} fits ({about});"
            f" checklists there: {', '.join(have)}; rigs: {', '.join(rigs)}.")


def _as_recorded(found: History, rig: str) -> str:
    """The name that a rig has in the sessions, where its file was named as elsewhere."""
    from handsfree.checklist.rig_file import load_rig
    from handsfree.storage.paths import find_rig

    if not rig or rig in found.columns.text("rig"):
        return rig
    try:
        return load_rig(find_rig(rig)).name
    except InputError:
        return rig


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
    if page:
        _outside(page, data)
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
        known = _at_hand(checklist)
        target.print(tables.checklist(
            summarise(real.columns, checklist), kept_promises(real.columns, checklist, known),
            minutes(real.columns, checklist, _apart(real, checklist, known))))
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


def _apart(real: History, name: str, checklist: Checklist | None) -> dict[str, dict[tuple[str, str], float]]:
    """By rig: seconds on foot between the steps, by its traits and by its file, if there is one."""
    from handsfree.checklist.rig_file import Rig, load_rig
    from handsfree.storage.paths import checklists_folder
    from handsfree.way.places import load_layout
    from handsfree.way.walking import seconds_apart

    columns = real.only(checklist=name).columns
    known: dict[str, Rig] = {}
    for file in sorted((data_folder() / "rigs").glob("*.yaml")):
        with suppress(HandsfreeError):  # the way is reckoned by the usual places then
            own = load_rig(file)
            known[own.name] = own
    made: dict[tuple[str, str], dict[tuple[str, str], float]] = {}
    found = {}
    newest = dict(zip(columns.text("rig"), columns.text("record"), strict=True))
    if checklist is None:
        return {}
    for name, record in newest.items():
        key = (name if name in known else "", record)
        if key not in made:
            facts = frozenset(json.loads(record or "[]"))
            layout = load_layout(checklists_folder(), known.get(name) or Rig(name, has=facts))
            made[key] = seconds_apart(checklist, layout, facts)
        found[name] = made[key]
    return found


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
    raise InputError(f"'{named}' fits {count(len(rows), 'session')}: {several}; type more of"
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

    real = fit if rehearsals else fit.only(rehearsals=False)
    names = [checklist] if checklist else list(real.checklists())
    summaries = [summarise(real.columns, name) for name in names if len(real)]
    at_hand = {name: _at_hand(name) for name in names if len(real)}
    more = {name: html.More(minutes(real.columns, name, _apart(real, name, known)),
                            kept_promises(real.columns, name, known), compare(real.columns, name))
            for name, known in at_hand.items()}
    shown = fit.session(_row(fit, session or "last"))
    spoken = real.columns.text("language")[-1] if len(real) else shown.language
    with spoken_in(spoken):
        counted = say("{count} sessions", count=len(fit)) if len(fit) != 1 else say("1 session")
        text = html.page(
            fit.columns, summaries, shown, about=counted + (f": {about}" if about else ""),
            problems=[str(problem) for problem in fit.problems], more=more)
    _write_html(page, text)


def _write_html(page: Path, text: str) -> None:
    from handsfree.review.html import is_page
    from handsfree.review.whole_file import whole_file

    with whole_file(page, replace=is_page(page)) as part:
        part.write_text(text, encoding="utf-8")
    click.echo(f"Wrote {page}; open it in a browser.")


# --- forecast ------------------------------------------------------------------------------------

@click.command()
@click.argument("checklist")
@click.option("--by", required=True, metavar="HH:MM", help="When to be rolling.")
@click.option("--on", type=_DATE, default=None, metavar="YYYY-MM-DD",
              help="On which day; otherwise the next time the clock reads HH:MM.")
@click.option("--rig", default=None, metavar="NAME",
              help="Rig file, by name or path; or a rig that has sessions on record.")
@click.option("--operator", default="", metavar="NAME", help="Who will work: their pseudonym.")
@click.option("--place", default="", metavar="NAME", help="Where; the answers about that site are then known.")
@click.option("--two", is_flag=True, help="Two people, one inside and one outside.")
@click.option("--yes", "yes", multiple=True, metavar="QUESTION",
              help="A site question whose answer is yes; may be repeated.")
@click.option("--no", "no", multiple=True, metavar="QUESTION",
              help="A site question whose answer is no; may be repeated.")
@click.option("--after", default=None, metavar="CHECKLIST",
              help="Plan as if this checklist had just been done, not from the record as it is.")
@click.option("--without", multiple=True, metavar="STEP",
              help="Also say what it takes without this step; may be repeated.")
@click.option("--first", multiple=True, metavar="STEP",
              help="Also say what it takes if these steps come as early as they may, in this order.")
@click.option("--as-is", is_flag=True,
              help="Plan from the record even if earlier stays started out differently.")
@click.option("--html", "page", type=click.Path(path_type=Path, dir_okay=False), default=None,
              metavar="FILE", help="Also write it as a page with plots.")
@_data
def forecast(
    checklist: str, by: str, on: datetime | None, rig: str | None, operator: str, place: str,
    two: bool, yes: tuple[str, ...], no: tuple[str, ...], after: str | None,
    without: tuple[str, ...], first: tuple[str, ...], as_is: bool, page: Path | None,
    data: Path | None,
) -> None:
    """When to start a checklist in order to finish on time.

    It works out which steps apply, from the rig's record and the answers about the site, and adds
    up the times of this operator and rig.  If there are too few, it fills in with other people's
    times and the checklist's own estimates. It says what it assumes. It leaves out steps that wait
    on the clock, such as the leak check ten minutes later: they hold nobody up.
    """
    from handsfree.review.departure import sentences
    from handsfree.review.planned_forecast import Whose

    if page:
        _outside(page, data)
    now = datetime.now().astimezone()
    wanted = _moment(by, _day(on), now)
    whose = Whose(operator, rig or "", place, 2 if two else 1)
    name, found = _outlook(checklist, whose, data, {
        **dict.fromkeys(yes, True), **dict.fromkeys(no, False)}, after, as_is, (*without, *first))
    if not found.applies:
        raise InputError(f"no step of '{checklist}' applies to the rig as it is on record;"
                         " 'handsfree rig' shows what is, --after CHECKLIST plans as after"
                         " another checklist.")
    what_if = found.what_if(without, first)
    for sentence in sentences(name, found, what_if, wanted, now):
        click.echo(sentence)
    if page:
        from handsfree.review import html
        from handsfree.review.translation import spoken_in

        with spoken_in(found.checklist.language if found.checklist else "en"):
            text = html.forecast_page(sentences(name, found, what_if, wanted, now), found, what_if)
        _write_html(page, text)


def _moment(by: str, on: date | None, now: datetime) -> datetime:
    """The next local time of day `by`, or that of the given day.

    Raises:
        InputError: `by` is no time of day.
    """
    try:
        clock = datetime.strptime(by, "%H:%M").time()
    except ValueError:
        raise InputError(f"'{by}' is not a time of day; write it like 11:00.") from None
    moment = datetime.combine(on or now.date(), clock).astimezone()
    if on is None and moment <= now:
        moment = datetime.combine(now.date() + timedelta(days=1), clock).astimezone()
    return moment


def _outlook(
    name: str, whose: Whose, data: Path | None, answers: dict[str, bool], after: str | None,
    as_is: bool, asked: tuple[str, ...],
) -> tuple[str, Outlook]:
    """The checklist's id and its forecast.

    A rig file gives the steps exactly.  Without one (another machine's data, say) the latest
    stays have to do, and then no site question can be answered.
    """
    from handsfree.checklist.yaml_reader import did_you_mean
    from handsfree.cli import wiring
    from handsfree.review.applying import after_walking
    from handsfree.review.planned_forecast import from_history, outlook, will_come
    from handsfree.storage.record import latest, record_for

    folder = data or data_folder()
    try:
        file = wiring.choose_rig(whose.rig or None, folder)
        made = wiring.plan(name, file, folder)
    except InputError as problem:
        real = _load(data).only(rehearsals=False)
        known = dict.fromkeys(real.only(checklist=name).columns.text("rig")[::-1])
        if after and known:
            raise InputError("--after plans from what a rig would be left with, so it needs a rig file:"
                             f" {problem}") from None
        if answers or after or not known or whose.rig and whose.rig not in known:
            raise problem from None
        rig = whose.rig or next(iter(known))
        if not whose.rig and len(known) > 1:
            click.echo(f"Of {len(known)} rigs on record this is for the latest, {rig}; --rig"
                       " names another.")
        will_come(asked, None)
        made_up = from_history(name, real.columns, replace(whose, rig=rig))
        if made_up is None:
            raise problem from None
        return name, made_up
    questions = [q.id for q in made.checklist.steps.values() if q.question]
    unknown = sorted(set(answers) - set(questions))
    if unknown:
        raise InputError(f"'{unknown[0]}' is not a question in '{name}';"
                         f" it asks: {', '.join(questions) or 'nothing'}.")
    if strange := [step for step in asked if step not in made.checklist.steps]:
        raise InputError(f"'{strange[0]}' is not a step in '{name}'"
                         f"{did_you_mean(strange[0], list(made.checklist.steps))};"
                         f" 'handsfree say {name} --text' shows them all.")
    real = _load(data).only(rehearsals=False)
    whose = replace(whose, rig=made.rig.name)
    facts, said = record_for(made.checklist, made.rig, latest(made.folder)).facts, ""
    if after:
        before = wiring.plan(after, file, folder)
        facts = after_walking(before.checklist, wiring.on_record(before)) | made.rig.has
        said = before.checklist.id
    return made.checklist.id, outlook(made.checklist, facts, real.columns, whose,
                                      answers=answers, as_is=as_is, after=said,
                                      asked=asked)


# --- export and import ---------------------------------------------------------------------------

@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--table", "what", type=click.Choice(["steps", "sessions", "notes", "lines"]),
              default="steps", show_default=True, help="A row for each of these (not in XES).")
@click.option("--force", is_flag=True, help="Replace FILE if it exists.")
@click.option("--anonymous", is_flag=True,
              help="Without rig, place, note, words, path: steps and sessions only. The steps' names and"
                   " the times of day remain.")
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

    Only you can read FILE afterwards; an existing file is kept unless you give --force.  A table
    of notes has each note's step, time, words where there are any, and sound file.
    """
    from handsfree.review import export as exports
    from handsfree.review.xes import write_xes

    suffix = file.suffix.lower()
    if suffix not in (".csv", ".parquet", ".xes"):
        raise InputError(f"'{file.name}' has no format; end it in .csv, .parquet or .xes.")
    if anonymous and what in ("notes", "lines"):
        raise InputError(f"a table of {what} is what was said; --anonymous writes steps or"
                         " sessions.")
    _outside(file, data)
    found = _load(data)
    fit, about = _chosen(found, checklist, rig, place, since, until)
    if not len(fit):
        click.echo(_nothing(found, about))
        return
    nameless = exports.anonymous(fit.columns) if anonymous else None
    if nameless and suffix != ".xes":
        fit = replace(fit, columns=nameless)
    if suffix == ".xes":
        number, noun = write_xes(fit, file, replace=force, nameless=nameless), "events"
    elif suffix == ".csv":
        number, noun = exports.write_csv(fit, file, what, replace=force), "rows"
    else:
        number, noun = exports.write_parquet(fit, file, what, replace=force), "rows"
    click.echo(f"Wrote {number} {noun} of {count(len(fit), 'session')} to {file}.")


@click.command("import")
@click.argument("source", type=click.Path(path_type=Path))
@_data
def import_(source: Path, data: Path | None) -> None:
    """Merge journals of another machine: a data folder, a folder of journals, or one file.

    They count in reviews and forecasts, and never change a rig's record. Nothing counts twice if
    you import it again.
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
