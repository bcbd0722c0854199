"""Time and memory of loading and summing up many sessions, each in a process of its own.

May import simulated operators and journals, and the standard library.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click
import numpy as np

from benchmarks.simulated_journal import SOME, session_lines, write_journal
from benchmarks.simulated_operator import any_operator, any_plan

_CHILD = """
import json, os, resource, sys
from pathlib import Path
from benchmarks.memory import peak_megabytes
from handsfree.review.history import load
from handsfree.review.summary import summarise
folder = Path(sys.argv[1])
history = load(folder, jobs=min(os.cpu_count() or 1, 8))
assert len(history) == len(list(folder.rglob("*.jsonl"))), "each journal is a session"
sums = [summarise(history.columns, name) for name in history.checklists()]
assert all(s.sessions for s in sums)
used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
print(json.dumps([len(history), len(history.columns.steps['row']),
                  sum(one.ru_utime + one.ru_stime for one in used),
                  peak_megabytes()]))
"""


_RIGS, _OPERATORS = 20, 40


@dataclass(frozen=True)
class Measured:
    """One run; memory is the largest resident size of the whole process."""

    label: str
    seconds: float
    processor: float
    """Seconds of processor time, which other work on the machine does not lengthen."""
    megabytes: float
    """Of a million bytes."""
    sessions: int
    steps: int


def write_many(folder: Path, sessions: int, steps: int, seed: int = 1, *, before: int = 0) -> None:
    """Fill a data folder with sessions unlike one another: 20 rigs, 40 operators, three checklists.

    Args:
        before: sessions of this seed that lie there already; as many fewer are written.
    """
    rng = np.random.default_rng(seed)
    lists = [(name, any_plan(rng, steps)) for name in ("arrive", "depart", "road-stop")]
    operators = [[any_operator(rng, plan) for _, plan in lists] for _ in range(_OPERATORS)]
    first = datetime(2020, 1, 1, 8, tzinfo=UTC)
    for number in range(sessions):
        rig, which, who = number % _RIGS, number // _RIGS % 3, 7 * number % _OPERATORS
        name, plan = lists[which]
        seconds, pauses = operators[who][which].stays(
            rng, np.array([1.0 + number // (3 * _OPERATORS)]))
        lines = session_lines(
            plan, seconds[0], checklist=name, rig=f"rig {rig + 1}", place=f"reserve {number % 7}",
            began=first + timedelta(hours=9 * number), pause=float(pauses[0]), mishaps=SOME,
            rng=rng)
        lines[0]["operator"] = {"": f"operator {who + 1}"}
        if number >= before:
            write_journal(folder / "rigs" / f"rig-{rig + 1}", number // _RIGS + 1, lines, linked=True)


def measure(sessions: int, steps: int, tell: Callable[[str], object]) -> Iterator[Measured]:
    """Write the sessions, then load them without a store, with one, and after one more session."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        began = time.perf_counter()
        write_many(folder, sessions, steps)
        size = sum(path.stat().st_size for path in folder.rglob("*.jsonl")) / 1e6
        tell(f"wrote {size:.0f} MB of journals in {time.perf_counter() - began:.0f} s")
        yield _run("first time, every journal read", folder)
        yield _run("from then on, from the store", folder)
        write_many(folder, sessions + 1, steps, before=sessions)
        yield _run("after one more session", folder)


def _run(label: str, folder: Path) -> Measured:
    began = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", _CHILD, str(folder)], check=True,
                          capture_output=True, text=True, cwd=Path(__file__).parents[1])
    seconds = time.perf_counter() - began
    sessions, steps, processor, megabytes = json.loads(done.stdout)
    return Measured(label, seconds, processor, megabytes, sessions, steps)


@click.command("review")
@click.option("--sessions", type=click.IntRange(min=1), default=5000, show_default=True,
              help="How many sessions are made up and loaded.")
@click.option("--steps", type=click.IntRange(min=1), default=50, show_default=True,
              help="Steps of each session.")
@click.option("--growth", is_flag=True,
              help="Half as many first; then how many times as long the whole takes, 2 if it is linear.")
def review(sessions: int, steps: int, growth: bool) -> None:
    """Write many invented sessions; measure loading and summing up, in processes of their own."""
    half = list(measure(sessions // 2, steps, tell=click.echo)) if growth else []
    whole = list(measure(sessions, steps, tell=click.echo))
    for before, after in zip(half, whole, strict=False):
        click.echo(f"{after.label:<34} {after.processor / before.processor:7.2f} times the processor time"
                   f" of half as many, {after.megabytes / before.megabytes:.2f} times the memory")
    for row in whole:
        click.echo(f"{row.label:<34} {row.seconds:7.2f} s   processor"
                   f" {row.processor:6.2f} s   {row.megabytes:6.0f} MB"
                   f"   {row.sessions} sessions, {row.steps} step records")
