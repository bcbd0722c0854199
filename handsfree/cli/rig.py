"""`handsfree rig`: what is on record of a rig, corrections to it, and its file."""

from __future__ import annotations

from pathlib import Path

import click

from handsfree.errors import InputError
from handsfree.storage.paths import checklists_folder, choose_rig, data_folder


@click.group(invoke_without_command=True)
@click.option("--rig", "name", default=None, metavar="NAME", help="Rig file: a name or a path.")
@click.pass_context
def rig(ctx: click.Context, name: str | None) -> None:
    """Show what is on record for the rig: what is out, how things are set, what is not finished."""
    ctx.obj = name
    if ctx.invoked_subcommand is None:
        _show(name)


_rig = click.option("--rig", "own", default=None, metavar="NAME", help="Rig file: a name or a path.")
"""The same behind the subcommand, where most people write it."""


def _all(name: str | None):  # type: ignore[no-untyped-def]
    """(rig file, every checklist that loads with it, its folder, its last session)."""
    from handsfree.checklist.loader import load_checklist
    from handsfree.cli.rigs import rig_named
    from handsfree.storage.record import latest, rig_folder

    data = data_folder()
    loaded = rig_named(choose_rig(name, data), data)
    lists = [load_checklist(path, rig=loaded, library=checklists_folder())
             for path in sorted(checklists_folder().glob("*.yaml"))]
    folder = rig_folder(data, loaded.name)
    return loaded, lists, folder, latest(folder, loaded.name)


def _show(name: str | None) -> None:
    from rich.console import Console
    from rich.table import Table

    from handsfree.checklist.model import Fact, Origin, Travel
    from handsfree.session.expecting import on_this_rig
    from handsfree.session.state_questions_file import load_state_questions
    from handsfree.session.wording import sentence

    loaded, lists, _, last = _all(name)
    known: dict[str, Fact] = {}
    for checklist in lists:
        known |= dict(checklist.facts)
    facts = last.facts if last else frozenset(f.name for f in known.values() if f.start)
    console = Console(highlight=False)
    console.print(f"{loaded.name}")
    rules = {rule.id: rule for checklist in lists for rule in checklist.rules}
    for rule in rules.values():
        if rule.when.holds(facts):
            console.print(f"DANGER: {sentence(rule.because)} {sentence(rule.now)}", style="bold")
    for fault in last.faults if last else ():
        console.print(f"This record cannot be believed: {fault}. 'handsfree run' asks how the"
                      " trailer stands.", style="bold")
    if last is None:
        console.print("Nothing on record yet; these are the values of a rig on the road.")
    else:
        state = "closed" if last.ended else "unfinished: 'handsfree run "\
            f"{last.checklist} --resume' goes on with it"
        console.print(f"Last session: {last.checklist}, {last.began[:16].replace('T', ' ')}, {state}")
    table = Table("", "on record" if last else "not on record", "for the road", box=None, pad_edge=False)
    steps = [step for checklist in lists for step in checklist.steps.values()
             if on_this_rig(checklist, step, loaded.has)]
    spoken_of = frozenset().union(*(step.gives | step.ends for step in steps))
    of_rig = load_state_questions(checklists_folder(), *lists).of_rig
    for fact in known.values():
        so = fact.name in facts
        if fact.origin is Origin.STATE and (fact.name not in spoken_of or fact.name in of_rig
                                            and not of_rig[fact.name].holds(loaded.has)):
            continue  # of gear or parts that this rig does not have
        if fact.origin is Origin.GEAR and so:
            pieces = f" ({fact.count})" if fact.count > 1 else ""
            table.add_row("gear", f"{fact.says or fact.name}{pieces}", "must come back")
        elif fact.origin is Origin.STATE and (so or fact.travel is Travel.MUST):
            text = fact.says if so else (fact.otherwise or f"not so: {fact.says}")
            wrong = (fact.travel is Travel.MUST and not so
                     or fact.travel is Travel.MUST_NOT and so)
            table.add_row("fact", text, "not yet" if wrong else "")
        elif fact.origin is Origin.SITE and so:
            table.add_row("site", fact.says, "")
    console.print(table)
    console.print("Something is different? Say it: handsfree rig change \"I took the step in\"")


@rig.command()
@_rig
@click.pass_obj
def names(name: str | None, own: str | None) -> None:
    """List the names that 'rig set' takes."""
    from handsfree.engine import changes
    from handsfree.spelling import as_spelled

    _, lists, _, _ = _all(own or name)
    for fact in sorted({as_spelled(fact) for checklist in lists for fact in changes.correctable(checklist)}):
        click.echo(fact)


@rig.command("set")
@click.argument("fact")
@click.argument("value", type=click.Choice(["yes", "no"]))
@_rig
@click.pass_obj
def set_fact(name: str | None, own: str | None, fact: str, value: str) -> None:
    """Correct the record: FACT is so (yes) or is not (no).

    The correction is journaled.  What only a look or a test can tell is asked about first.  If it
    breaks a never rule, the rule is told at once with its immediate action, exit status 1, and the
    next session starts with it.
    """
    from handsfree.checklist.yaml_reader import did_you_mean
    from handsfree.engine import changes
    from handsfree.spelling import as_kept

    got = _all(own or name)
    fact = as_kept(fact.lower())
    possible = sorted({f for checklist in got[1] for f in changes.correctable(checklist)})
    if fact not in possible:
        raise InputError(f"nothing on record is called '{fact}'{did_you_mean(fact, possible)};"
                         " 'handsfree rig names' lists all.")
    _ask_for_evidence(got[1], {fact: value == "yes"})
    _correct(got, {fact: value == "yes"})


@rig.command()
@click.argument("words")
@click.option("--yes", "sure", is_flag=True, help="Do not ask whether it understood you.")
@_rig
@click.pass_obj
def change(name: str | None, own: str | None, words: str, sure: bool) -> None:
    """Correct the record in plain WORDS.

    For instance "I took in the awning and the step".

    Say facts, as many as you like in one sentence, with "not" where something is not so.  It tells
    you what it understood, in the record's own words, before it writes anything. It refuses
    anything that could mean two things, even with --yes, and still asks about what only a look or a
    test can tell.
    """
    from handsfree.language.statements import understand
    from handsfree.session.correctable import tellable, told_back
    from handsfree.session.state_questions_file import load_state_questions

    got = _all(own or name)
    possible = load_state_questions(checklists_folder(), *got[1]).possible(got[0].has)
    clauses = tellable(got[1], got[0].has, possible)
    said = understand(words, clauses, got[1][0].language)
    if not said.facts:
        which = f": {' or '.join(f'the {one}' for one in said.choices)}" if said.choices else ""
        raise InputError(f"'{words}' changes nothing: {said.why}{which}. 'handsfree rig names' lists"
                         " what 'handsfree rig set' can change.")
    if not sure:
        click.confirm(f"For the record: {told_back(said.facts, clauses)}?", default=False, abort=True)
    _ask_for_evidence(got[1], said.facts)
    _correct(got, said.facts)


def _ask_for_evidence(lists, so) -> None:  # type: ignore[no-untyped-def]
    """Ask before something is put on record that only a look or a test can tell."""
    from handsfree.language.statements import is_evidence

    for fact, yes in so.items():
        holder = next(c for c in lists if fact in c.facts)
        clause = _clause(holder, fact, yes)
        if is_evidence(clause, holder.language):
            click.echo(f"Careful: what I refuse depends on this.  The record will say that {clause}."
                       "  Say yes only if you have looked, tested or measured here and now.")
            click.confirm("Have you?", default=False, abort=True)


def _correct(got, so) -> None:  # type: ignore[no-untyped-def]
    """Journal corrections, as a session of their own.

    Args:
        so: fact to whether it is so.
    """
    from handsfree.storage.corrections import correct, record_of
    from handsfree.storage.record import lock

    loaded, lists, folder, last = got
    told = {fact: _clause(next(c for c in lists if fact in c.facts), fact, yes)
            for fact, yes in so.items()}
    with lock(folder):
        record = record_of(lists, loaded, last)
        new = {fact: yes for fact, yes in so.items() if (fact in record.facts) is not yes}
        for fact in so.keys() - new.keys():
            click.echo(f"That is already on record: {told[fact]}.")
        if not new:
            return
        facts = correct(folder, lists, last, record, loaded.name, new)
    for fact in new:
        click.echo(f"Recorded: {told[fact]}.")
    for fact in sorted(record.facts - facts - new.keys()):
        holder = next(c for c in lists if fact in c.facts)
        click.echo(f"Check again: {_clause(holder, fact, False)}.")
    _tell_danger(lists, facts)


def _clause(checklist, fact: str, so: bool) -> str:  # type: ignore[no-untyped-def]
    from handsfree.language.statements import Clauses

    found = checklist.facts[fact]
    return Clauses(found.says, found.otherwise).of(so)


@rig.command()
@click.argument("title")
@click.option("--file", "path", type=click.Path(path_type=Path), default=None,
              help="Where to write it; the data folder otherwise.")
def new(title: str, path: Path | None) -> None:
    """Make a rig file from a few plain questions.

    TITLE is what you call your trailer.

    Start from the kind of rig closest to yours, change what is different, and give the figures off
    its placards; Enter takes what is in [], b goes back. Stop any time: the same command picks up
    where you left off. Then say how the rig is set now, so the record starts out right; if that
    breaks a never rule, it says so at once, exit status 1.
    """
    from handsfree.checklist.rig_file import load_rig
    from handsfree.cli.first_questions import Somebody, ask_how_it_stands, by_keyboard, new_rig
    from handsfree.cli.rig_new import by_keyboard as rig_by_keyboard

    data = data_folder()
    made = new_rig(data, Somebody(by_keyboard, rig_by_keyboard), title, path)
    _, lists, _, _ = _all(str(made))
    ask_how_it_stands(lists, load_rig(made), data, by_keyboard)
    _, _, _, last = _all(str(made))
    if last:
        _tell_danger(lists, last.facts)


def _tell_danger(lists, facts) -> None:  # type: ignore[no-untyped-def]
    """Say which never rule the record breaks and what to do now; exit status 1."""
    from handsfree.engine.choosing import broken_rule
    from handsfree.session.wording import sentence

    for checklist in lists:
        rule = broken_rule(checklist, facts)
        if rule:
            click.echo(f"DANGER: {sentence(rule.because)} {sentence(rule.now)}", err=True)
            raise SystemExit(1)
