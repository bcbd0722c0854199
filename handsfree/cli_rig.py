"""`handsfree rig`: what is on record of a rig, corrections to it, and its file."""

from __future__ import annotations

from pathlib import Path

import click

from handsfree.errors import InputError
from handsfree.library import data_folder, library_folder


@click.group(invoke_without_command=True)
@click.option("--rig", "name", default=None, metavar="NAME", help="Rig file: a name or a path.")
@click.pass_context
def rig(ctx: click.Context, name: str | None) -> None:
    """Show what is on record of the rig: what is out, what is so, what is unfinished."""
    ctx.obj = name
    if ctx.invoked_subcommand is None:
        _show(name)


def _all(name: str | None):  # type: ignore[no-untyped-def]
    """(rig file, every checklist that loads with it, its folder, its last session)."""
    from handsfree import wiring
    from handsfree.checklist.loader import load_checklist
    from handsfree.session.record import latest, rig_folder

    data = data_folder()
    loaded = wiring.rig_named(wiring.choose_rig(name, data), data)
    lists = [load_checklist(path, rig=loaded, library=library_folder())
             for path in sorted(library_folder().glob("*.yaml"))]
    folder = rig_folder(data, loaded.name)
    return loaded, lists, folder, latest(folder, loaded.name)


def _show(name: str | None) -> None:
    from rich.console import Console
    from rich.table import Table

    from handsfree.checklist.model import Fact, Origin, Travel
    from handsfree.session.expecting import on_this_rig
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
    table = Table("", "on record", "for the road", box=None, pad_edge=False)
    steps = [step for checklist in lists for step in checklist.steps.values()
             if on_this_rig(checklist, step, loaded.has)]
    spoken_of = frozenset().union(*(step.gives | step.ends for step in steps))
    for fact in known.values():
        so = fact.name in facts
        if fact.origin is Origin.STATE and fact.name not in spoken_of:
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
@click.pass_obj
def names(name: str | None) -> None:
    """List every fact and piece of gear by the name that 'rig set' takes."""
    from handsfree.engine import changes

    _, lists, _, _ = _all(name)
    for fact in sorted({fact for checklist in lists for fact in changes.correctable(checklist)}):
        click.echo(fact)


@rig.command("set")
@click.argument("fact")
@click.argument("value", type=click.Choice(["yes", "no"]))
@click.pass_obj
def set_fact(name: str | None, fact: str, value: str) -> None:
    """Correct the record: FACT is so (yes) or is not (no).

    The correction is journaled.  If it breaks a never rule, the rule is told at once with its
    immediate action, exit status 1, and the next session starts with it.
    """
    from handsfree.checklist.reading_yaml import did_you_mean
    from handsfree.engine import changes

    got = _all(name)
    fact = " ".join(fact.lower().split())
    possible = sorted({f for checklist in got[1] for f in changes.correctable(checklist)})
    if fact not in possible:
        raise InputError(f"nothing on record is called '{fact}'{did_you_mean(fact, possible)};"
                         " 'handsfree rig names' lists all.")
    _correct(got, fact, value == "yes")


@rig.command()
@click.argument("words")
@click.option("--yes", "sure", is_flag=True, help="Do not ask whether it was understood.")
@click.pass_obj
def change(name: str | None, words: str, sure: bool) -> None:
    """Say what is different, in plain WORDS: "I took the step in"."""
    from rapidfuzz import fuzz, process

    from handsfree.engine import changes

    got = _all(name)
    clauses: dict[str, tuple[str, bool]] = {}
    for checklist in got[1]:
        for fact in sorted(changes.correctable(checklist)):
            for so in (True, False):
                clauses.setdefault(_clause(checklist, fact, so), (fact, so))
    found = process.extract(words, list(clauses), scorer=fuzz.token_sort_ratio,
                            processor=_plain, limit=3, score_cutoff=60)
    for text, _, _ in found:
        if sure or click.confirm(f"Do you mean: {text}?", default=False):
            _correct(got, *clauses[text])
            return
    raise InputError(f"nothing on record fits '{words}'; 'handsfree rig names' lists everything"
                     " that 'handsfree rig set' can change.")


_LITTLE = frozenset("i i've have has the a is are was were it my took take put now again".split())


def _plain(text: str) -> str:
    return " ".join(word for word in text.lower().rstrip(".").split() if word not in _LITTLE)


def _correct(got, fact: str, yes: bool) -> None:  # type: ignore[no-untyped-def]
    """Journal one correction, as a session of its own."""
    from handsfree.engine.choosing import broken_rule
    from handsfree.session.correcting import correct
    from handsfree.session.record import Record, lock, record_for
    from handsfree.session.wording import sentence

    loaded, lists, folder, last = got
    holder = next(c for c in lists if fact in c.facts)
    with lock(folder):
        parts = [record_for(checklist, loaded, last) for checklist in lists]
        record = Record(frozenset().union(*(part.facts for part in parts)),
                        frozenset().union(*(part.known for part in parts)))
        if (fact in record.facts) is yes:
            click.echo(f"It is on record so already: {_clause(holder, fact, yes)}.")
            return
        correct(folder, last, record, loaded.name, {fact: yes})
    click.echo(f"On record now: {_clause(holder, fact, yes)}.")
    after = record.facts | {fact} if yes else record.facts - {fact}
    for checklist in lists:
        rule = broken_rule(checklist, after)
        if rule:
            click.echo(f"DANGER: {sentence(rule.because)} {sentence(rule.now)}", err=True)
            raise SystemExit(1)


def _clause(checklist, fact: str, so: bool) -> str:  # type: ignore[no-untyped-def]
    found = checklist.facts[fact]
    return found.says if so else (found.otherwise or f"it is not so that {found.says}")


@rig.command()
@click.argument("title")
@click.option("--file", "path", type=click.Path(path_type=Path), default=None,
              help="Where to write it; the data folder otherwise.")
def new(title: str, path: Path | None) -> None:
    """Make a rig file for the rig called TITLE, by answering plain questions.

    Asks what any checklist uses; Enter takes what is in [].  Then how the rig stands now, so that
    its record begins with the truth.
    """
    from handsfree.checklist.loader import load_checklist
    from handsfree.checklist.rig_file import load_rig
    from handsfree.cli_first import ask_how_it_stands, by_keyboard, make_rig

    checklists = [load_checklist(source, library=library_folder())
                  for source in sorted(library_folder().glob("*.yaml"))]
    made = load_rig(make_rig(title, path, data_folder(), checklists, by_keyboard))
    ask_how_it_stands(checklists, made, data_folder(), by_keyboard)
