"""`handsfree check`: prove checklists.

May import click, rich, the checklist room, the proof room and the library's folders.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handsfree.errors import InputError
from handsfree.storage import verdicts
from handsfree.storage.paths import checklist_files, checklists_folder, find_checklist, find_rig

if TYPE_CHECKING:
    from handsfree.checklist.model import Checklist
    from handsfree.checklist.rig_file import Rig
    from handsfree.proof import Finding, Interlock, Report

_MILLIONS = 200
"""Nodes of diagrams that a proof may take, unless the user says otherwise."""


@click.command()
@click.argument("files", nargs=-1, metavar="[FILE]...")
@click.option("--rig", default=None, metavar="NAME",
              help="Prove it for this rig only (by name or path); otherwise for every rig.")
@click.option("--alone", is_flag=True, help="Leave the other checklists out of the stay.")
@click.option("--again", is_flag=True,
              help="Prove it again, even if nothing has changed since the last proof.")
@click.option("--interlocks", "list_interlocks", is_flag=True,
              help="List each interlock and the never rules that depend on it.")
@click.option("--case", "case_path", type=click.Path(path_type=Path), default=None,
              metavar="FILE", help="Also write the safety case here (.html or .txt).")
@click.option("--count", is_flag=True,
              help="Also count the possible orders and combinations of facts.")
@click.option("--nodes", type=click.IntRange(1, 1_000_000), metavar="MILLIONS",
              default=_MILLIONS, show_default=True,
              help="Give up (unproved) once decision diagrams take this many million nodes.")
@click.option("--ship", is_flag=True,
              help="Prove the library alone and write the verdicts that are shipped with it.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def check(
    files: tuple[str, ...], rig: str | None, alone: bool, again: bool, list_interlocks: bool,
    count: bool, nodes: int, ship: bool, as_json: bool, case_path: Path | None = None,
) -> None:
    """Prove that no order of events breaks a never rule, and that everything can be finished.

    FILE is a checklist's name or path; without one, all that 'run' knows by name: your own, and
    those that come with the program.  A checklist is proved together with those that belong to
    the same stay: what arrival puts out, departure brings back.

    A proof is kept until a checklist, or the program, changes.

    Exit status: 0 proved, 1 a finding, 2 a file that does not load.
    """
    from handsfree.checklist.rig_file import load_rig

    _check_case(case_path, list_interlocks)
    if ship:
        _ship(files, rig, nodes)
        return
    owner = load_rig(find_rig(rig)) if rig else None
    if list_interlocks:
        from handsfree.proof import interlocks

        _show_interlocks(interlocks(stay(files, owner, alone=alone)[0], owner), as_json)
        return
    ground = _ground(files, owner)
    known = None if alone or again or count or case_path else verdicts.remembered(
        ground, [path.stem for path in _paths(files)])
    if known is not None:
        _show_known(known, len(_paths(files)), owner, as_json)
        return
    given, context = stay(files, owner, alone=alone)
    report = _proved(given, context, owner, nodes, count=count)
    if case_path is not None:
        _write_case(case_path, [*given, *context], owner, report, nodes)
        click.echo(f"Written: {case_path}", err=True)
    if as_json:
        click.echo(json.dumps(_as_data(report) | {"remembered": False}, indent=2))
    else:
        _show(report, owner)
    if not report.sound:
        click.get_current_context().exit(1)
    if not alone and ground == _ground(files, owner):  # nothing was edited meanwhile
        _remember(ground, report)


def _proved(
    given: Sequence[Checklist], context: Sequence[Checklist], rig: Rig | None, nodes: int, *,
    count: bool = False,
) -> Report:
    from dataclasses import replace

    from handsfree.proof import Budget, prove
    from handsfree.proof.step_checks import judged
    from handsfree.proof.tracing import traced

    try:
        budget = Budget(work=nodes * 1_000_000)
        report = prove(given, rig, context=context, budget=budget, count=count)
        of_the_files = (finding for one in given for finding in judged(one))
        worded = (*of_the_files, *traced(given, context, budget), *_spoken(given))
        return replace(report, findings=(*report.findings, *(one for one in worded if _heard(one, given, rig))))
    except KeyboardInterrupt:
        raise click.ClickException("stopped by you; nothing counts as proved.") from None


def _heard(finding: Finding, given: Sequence[Checklist], rig: Rig | None) -> bool:
    """Whether the rig has what the step is about: how it is worded matters to nobody else."""
    wanted = [one.traits_wanted[finding.subject] for one in given if finding.subject in one.steps]
    return rig is None or not wanted or any(condition.holds(rig.has) for condition in wanted)


def _check_case(target: Path | None, list_interlocks: bool) -> None:
    if target is None:
        return
    if list_interlocks:
        raise InputError("--interlocks proves nothing, so there is no case to write; leave one of"
                         " --interlocks and --case away.")
    if target.suffix.lower() not in (".html", ".txt"):
        raise InputError(f"'{target}' is neither a page nor a text; end its name in .html or .txt.")


def _write_case(
    target: Path, checklists: Sequence[Checklist], rig: Rig | None, report: Report, nodes: int
) -> None:
    from handsfree.proof import Budget
    from handsfree.proof.case import TITLE, safety_case
    from handsfree.proof.document import as_html, as_text
    from handsfree.storage.atomic_write import write_atomically

    blocks = safety_case(checklists, report, rig, Budget(work=nodes * 1_000_000))
    form = as_html if target.suffix.lower() == ".html" else as_text
    write_atomically(target, form(TITLE, blocks).encode(), "name another file")


def _ground(files: Sequence[str], rig: Rig | None) -> str:
    from handsfree.checklist.loader import load_checklist

    elsewhere = [load_checklist(path, rig=rig, library=checklists_folder()) for path in _paths(files)
                 if not verdicts.found_by_name(path)]
    return verdicts.ground([(one.id, one.digest) for one in elsewhere], rig)


def _remember(ground: str, report: Report) -> None:
    """A proof that cannot be remembered is a proof all the same."""
    from handsfree.errors import StorageError

    try:
        verdicts.remember(ground, _to_keep(report))
    except StorageError as problem:
        click.echo(f"Not remembered: {problem}", err=True)


def _ship(files: tuple[str, ...], rig: str | None, nodes: int) -> None:
    """For who changes the library."""
    from handsfree.checklist.loader import load_checklist
    from handsfree.checklist.rig_file import load_rig
    from handsfree.storage.paths import data_folder

    if files or rig:
        raise InputError("--ship is for the whole library and every rig; leave FILE and --rig out.")
    library = checklists_folder()
    own = data_folder()
    if any((own / "checklists").glob("*.yaml")):
        raise InputError(f"--ship proves the library alone, and there are checklists in {own};"
                         " let HANDSFREE_DATA name another folder.")
    shipped = [load_rig(path) for path in sorted((library / "rigs").glob("*.yaml"))]
    found = []
    for one in (None, *filter(verdicts.several, shipped)):
        given = [load_checklist(path, rig=one, library=library) for path in sorted(library.glob("*.yaml"))]
        report = _proved(given, [], one, nodes)
        _show(report, one)
        if not report.sound:
            click.get_current_context().exit(1)
        found.append((verdicts.ground(rig=one), _to_keep(report)))
    click.echo(f"Written: {verdicts.ship(found)}")


def _to_keep(report: Report) -> dict[str, Any]:
    """Without what would be otherwise the next time, or is not always counted."""
    data = _as_data(report)
    return {name: data[name] for name in sorted(data.keys() - {"seconds", "orders", "reachable"})}


def _as_data(report: Report) -> dict[str, Any]:
    """As JSON has it."""
    from dataclasses import asdict

    data: dict[str, Any] = json.loads(json.dumps(asdict(report) | {"sound": report.sound}))
    return data


def _spoken(given: Sequence[Checklist]) -> Iterator[Finding]:
    """Findings about what is spoken, each checklist in its own language."""
    from handsfree.hearing.own.lexicon import dictionary
    from handsfree.hearing.pronunciation import pronounce
    from handsfree.language.confusability import read_dictionary
    from handsfree.language.hangul import hangul_sounds
    from handsfree.language.loader import load_language
    from handsfree.proof.confusability import alike, near, vocabulary
    from handsfree.proof.spoken_text import spoken

    for code in sorted({checklist.language for checklist in given}):
        language = load_language(code)
        ours = [checklist for checklist in given if checklist.language == code]
        words = frozenset(word for one in ours for phrase in vocabulary(one, language)
                          for word in phrase.split())
        known: dict[str, tuple[str, ...]] = {}
        if code == "en":
            ours_alone = (line for line in dictionary().splitlines()
                          if line.partition(" ")[0].partition("(")[0] in words)
            known = read_dictionary(ours_alone) | dict(language.pronunciations)
            known |= {word: (said,) for word, said in pronounce(words - known.keys()).items()
                      if said}
        elif code == "ko":
            known = {word: (said,) for word in words if (said := hangul_sounds(word))}
        found = near(ours, language, known)
        for checklist in ours:
            yield from spoken(checklist)
            yield from alike(checklist, language, found)


def _paths(files: Sequence[str]) -> list[Path]:
    """Of the named checklists, or of all that can be named."""
    named = [find_checklist(name) for name in files]
    return list(dict.fromkeys(named)) or [path for _, path in sorted(checklist_files().items())]


def stay(
    files: tuple[str, ...], rig: Rig | None, *, alone: bool = False
) -> tuple[list[Checklist], list[Checklist]]:
    """The named checklists (all that can be named if none), and the others of the same stay.

    To the stay of a file belongs every checklist that 'run' finds by its name and that shares
    facts with it, or with another that does; a file that has the name of one of them stands in
    for it.

    Raises:
        AuthorError, InputError: a file that does not load, or is not there.
    """
    from handsfree.checklist.loader import load_checklist

    library = checklists_folder()
    given = [load_checklist(path, rig=rig, library=library) for path in _paths(files)]
    if alone or not files:
        return given, []
    named = {checklist.id for checklist in given}
    left = [load_checklist(path, rig=rig, library=library)
            for name, path in sorted(checklist_files().items()) if name not in named]
    facts = {fact for checklist in given for fact in checklist.facts}
    context: list[Checklist] = []
    while joined := [other for other in left if facts & other.facts.keys()]:
        context += joined
        left = [other for other in left if other not in joined]
        facts |= {fact for other in joined for fact in other.facts}
    return given, context


def _show_known(known: verdicts.Report, asked: int, rig: Rig | None, as_json: bool) -> None:
    """A proof of before, for the same files, of these and perhaps more checklists."""
    if as_json:
        click.echo(json.dumps({**known, "seconds": 0.0, "remembered": True}, indent=2))
        return
    more = f"{asked} of " if asked < len(known["checklists"]) else ""
    click.secho("Proved before", fg="green", bold=True, nl=False)
    click.echo(f", and nothing has changed since, over every order of events, for {_whose(rig)}:"
               f" {more}{_what(known)}.  --again proves it anew.")


def _what(report: Mapping[str, Any]) -> str:
    return ", ".join((
        _count(len(report["checklists"]), "checklist"), _count(report["steps"], "step"),
        _count(report["facts"], "fact"), _count(report["rules"], "never rule"),
        _count(report["changes"], "change")))


def _whose(rig: Rig | None) -> str:
    return f"the rig {rig.name}" if rig else "every rig"


def _show(report: Report, rig: Rig | None) -> None:
    for finding in report.findings:
        _show_finding(finding)
    what = _what(vars(report))
    if report.sound:
        click.secho("Proved", fg="green", bold=True, nl=False)
        click.echo(f" over every order of events, for {_whose(rig)}: {what}; "
                   f"{report.seconds:.2f} s.")
        click.echo(f"  From each of {_large(report.records)} records that break no rule"
                   + (f"; {_large(report.reachable)} can be reached, alarms included."
                      if report.reachable is not None else "."))
        if report.orders:
            click.echo("  Complete orders, begun with a rig that nothing is recorded about:")
        for name, orders in report.orders.items():
            click.echo(f"    {name}: {orders}")
    else:
        click.secho(f"{_count(len(report.findings), 'finding')}", fg="red", bold=True, nl=False)
        click.echo(f" ({what}; {report.seconds:.2f} s).")


def _show_finding(finding: Finding) -> None:
    click.secho(f"{finding.kind}: ", fg="red", bold=True, nl=False)
    click.echo(str(finding))
    for line in finding.dialogue:
        click.echo(f"    {line}")
    click.echo()


def _show_interlocks(found: list[Interlock], as_json: bool) -> None:
    if as_json:
        rows: list[dict[str, Any]] = [
            {"checklist": one.checklist, "step": one.step, "interlock": str(one.part),
             "protects": list(one.protects), "file": one.file, "line": one.line} for one in found]
        click.echo(json.dumps(rows, indent=2))
        return
    for one in found:
        click.echo(f"{one.checklist}: {one.step} needs '{one.part}': "
                   + (", ".join(one.protects) or "no never rule hangs on it alone"))


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" + ("" if number == 1 else "s")


def _large(number: int) -> str:
    return f"{number:,}" if number < 10**9 else f"{float(number):.2e}"
