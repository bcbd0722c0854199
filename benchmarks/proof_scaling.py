"""How the proof's time and memory grow with the number of steps, beside plain search.

May import this room, the checklist model and the engine.  The generated checklists are made of
systems such as a rig has (a hose, its tap, its check), so that their shape is that of real ones.
"""

from __future__ import annotations

import multiprocessing
import time
from collections import deque
from dataclasses import dataclass, replace
from pathlib import Path

import click

from benchmarks.memory import peak_megabytes
from handsfree.checklist.conditions import Literal, both, parse
from handsfree.checklist.model import (
    Checklist,
    Fact,
    NeverRule,
    Origin,
    Reading,
    Remedy,
    Step,
    Travel,
    gear_fact,
    ready_to_travel,
)
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import (
    Confirm,
    Done,
    Event,
    GoTo,
    Problem,
    Read,
    Respond,
    Skip,
    State,
    TakeBack,
)
from handsfree.errors import InputError, StorageError
from handsfree.proof.findings import Report
from handsfree.proof.prover import prove


def generated(steps: int, *, broken: bool = False) -> Checklist:
    """A sound checklist of `steps` steps (at least 10), two facts for three steps.

    Each system is laid out, checked by a reading with a remedy, turned on, turned off and taken
    in; it is on only once checked, out only while the rig is held, and everything is in before
    the rig moves.  `broken` drops the interlock that holds the rig while a system is out.
    """
    facts = [Fact("held"), Fact("level"), Fact("moving", travel=Travel.MUST_NOT),
             Fact("on the spot", start=True)]
    made = [Step("hold", "Hold the rig.", respond="rig is held", needs=parse("not moving"),
                 gives=frozenset({"held"}), must=True),
            Step("level", "Level the rig.", needs=parse("held"), gives=frozenset({"level"})),
            Step("unlevel", "Off the blocks.", needs=parse("held"), ends=frozenset({"level"}))]
    rules: list[NeverRule] = []
    remedies: dict[str, Remedy] = {}
    still: list[Literal] = []
    system = 0
    while len(made) + 2 + 6 <= steps:
        name = f"system {system}"
        out, on = gear_fact(name), f"{name} on"
        checked, drained = f"{name} checked", f"{name} drained"
        facts += [Fact(out, Origin.GEAR, travel=Travel.MUST_NOT), Fact(on), Fact(checked),
                  Fact(drained)]
        inner = Step(f"look-{system}", "Look it over.", needs=parse(f"{out} and not {on}"))
        remedies[f"again-{system}"] = Remedy(f"again-{system}", "Look.", (inner.id,))
        still.append(Literal(out, False))
        group = [
            Step(f"lay-{system}", "Lay it out.", needs=parse("held and level and not moving"),
                 gives=frozenset({out})),
            Step(f"check-{system}", "Read it.", needs=Literal(out), gives=frozenset({checked}),
                 reading=Reading("volts", 104, 127), remedy=f"again-{system}"),
            Step(f"on-{system}", "Turn it on.", needs=parse(f"{out} and {checked}"),
                 gives=frozenset({on}), respond=f"system {system} on"),
            Step(f"off-{system}", "Turn it off.", gives=frozenset({drained}), ends=frozenset({on})),
            Step(f"in-{system}", "Take it in.", needs=parse(f"not {on} or {drained}"),
                 ends=frozenset({out})),
            inner]
        made += group
        rules += [
            NeverRule(f"unchecked-{system}", parse(f"{on} and not {checked}"), "it is unchecked",
                      "Turn it off.", "turned it off", ends=frozenset({on})),
            NeverRule(f"dragged-{system}", parse(f"moving and {out}"), "it is dragged",
                      "Stop.", f"stopped for {system}", ends=frozenset({"moving"}))]
        system += 1
    made += [Step(f"tidy-{number}", "Tidy up.") for number in range(steps - 2 - len(made))]
    release = both(Literal("held"), *(() if broken else still), Literal("level", False))
    made.append(Step("release", "Let the rig go.", needs=release, ends=frozenset({"held"}),
                     gives=frozenset({"moving"})))
    made.append(Step("stop", "Stop the rig.", ends=frozenset({"moving"})))
    steps_by_id = {step.id: step for step in made}
    inners = {remedy.steps[0] for remedy in remedies.values()}
    return Checklist(
        id=f"generated-{steps}", title="Generated", facts={fact.name: fact for fact in facts},
        steps=steps_by_id, order=tuple(name for name in steps_by_id if name not in inners),
        rules=tuple(rules), remedies=remedies,
        closes=ready_to_travel({fact.name: fact for fact in facts}),
        digest=f"{steps} {broken}")


@dataclass(frozen=True)
class Plain:
    """Outcome of plain search: complete, or how far it came before its budget was spent."""

    states: int
    seconds: float
    complete: bool
    found: bool
    """A never rule was broken, or its backstop needed."""


def plain_search(checklist: Checklist, seconds: float, most: int = 2_000_000) -> Plain:
    """Breadth-first over the states of `advance` itself, bookkeeping and all.

    In its favour, the order of past reports, which decides nothing, is left out.
    """
    began = time.monotonic()
    first, _ = begin(checklist, checklist.start_facts)
    seen: set[State] = {first}
    ahead = deque(seen)
    found = False
    while ahead and len(seen) < most and time.monotonic() - began < seconds:
        state = ahead.popleft()
        for events in _orders(checklist, state):
            after = state
            for event in events:
                after, effects = advance(checklist, after, event)
                found = found or any(getattr(effect, "backstop", False) for effect in effects)
            after = replace(after, reports=tuple(sorted(after.reports)))
            if after not in seen:
                seen.add(after)
                ahead.append(after)
    return Plain(len(seen), time.monotonic() - began, not ahead, found)


def _orders(checklist: Checklist, state: State) -> list[tuple[Event, ...]]:
    if state.broken:
        return [(Respond(), Confirm())]
    orders: list[tuple[Event, ...]] = [(GoTo(name),) for name in checklist.steps]
    orders += [(TakeBack(name),) for name in checklist.steps]
    step = checklist.steps.get(state.at)
    if step is not None:
        orders += [(Skip(),), (Problem(),)]
        orders.append((Read("within"), Confirm()) if step.reading
                      else (Respond(), Confirm()) if step.hold else (Done(),))
    return orders


@dataclass(frozen=True)
class Row:
    """One size: the proof (sound, and with an interlock missing), and plain search beside it."""

    steps: int
    facts: int
    rules: int
    records: int
    seconds: float
    sound: bool
    broken_seconds: float
    counterexample: int
    """Words of the operator in the shortest counterexample."""
    megabytes: float
    """Peak memory of the process that proved it, Python and all."""
    plain: Plain


def measure(steps: int, plain_seconds: float) -> Row:
    """One size, the proof in a process of its own so that its memory is known."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        good, bad, megabytes = pool.apply(_proved, (steps,))
    checklist = generated(steps)
    first = next((finding for finding in bad.findings if finding.kind == "never rule"), None)
    said = sum(line.who == "you" for line in first.dialogue) if first else 0
    return Row(len(checklist.steps), len(checklist.facts), len(checklist.rules), good.records,
               good.seconds, good.sound, bad.seconds, said, megabytes,
               plain_search(checklist, plain_seconds))


def _proved(steps: int) -> tuple[Report, Report, float]:
    good = prove([generated(steps)], count=False)
    bad = prove([generated(steps, broken=True)], finishing=False, count=False)
    return good, bad, peak_megabytes()


@click.command()
@click.option("--steps", default="10,20,30,40,60,80,100,120", show_default=True, metavar="LIST",
              help="Sizes, separated by commas.")
@click.option("--plain", "plain_seconds", type=click.FloatRange(min=0.1), default=5.0,
              show_default=True, help="Seconds for plain search at each size.")
@click.option("--csv", "csv_path", type=click.Path(path_type=Path), default=None,
              help="Also write the table here.")
def proof(steps: str, plain_seconds: float, csv_path: Path | None) -> None:
    """Time and memory of the proof against the number of steps, beside plain search.

    Generated checklists of systems that are laid out, read, turned on, off and taken in.  "found"
    is the time to the shortest counterexample when one interlock is missing.  Plain search is
    breadth-first over the live engine's own states.
    """
    try:
        sizes = [int(part) for part in steps.split(",")]
    except ValueError:
        raise InputError(f"'{steps}' is not a list of sizes; write e.g. 10,60,120.") from None
    if any(size < 10 or size > 200 for size in sizes):
        raise InputError("a size is from 10 to 200 steps; write e.g. 10,60,120.")
    lines = ["steps,facts,rules,records,proof s,found s,peak MB,plain states,plain s,plain"]
    click.echo(f"{'steps':>5} {'facts':>5} {'rules':>5} {'records':>9} {'proof':>8} {'found':>8} "
               f"{'memory':>8}   plain search")
    for size in sizes:
        row = measure(size, plain_seconds)
        plain = row.plain
        how = "complete" if plain.complete else "given up"
        proved = f"{row.seconds:.2f} s" if row.sound else "unproved"
        click.echo(f"{row.steps:>5} {row.facts:>5} {row.rules:>5} {float(row.records):>9.1e} "
                   f"{proved:>8} {row.broken_seconds:>6.2f} s {row.megabytes:>5.0f} MB   "
                   f"{plain.states:,} states in {plain.seconds:.1f} s, {how}")
        lines.append(f"{row.steps},{row.facts},{row.rules},{row.records},{row.seconds:.3f},"
                     f"{row.broken_seconds:.3f},{row.megabytes:.0f},{plain.states},"
                     f"{plain.seconds:.2f},{how}")
    if csv_path is not None:
        try:
            csv_path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        except OSError as problem:
            raise StorageError(f"{csv_path} cannot be written ({problem.strerror}); "
                               "name another file.") from None
