"""What mutmut left alive: `python -m tests.core.mutants`, after `mutmut run`; `--law` for the law.

Counts the mutants of the safety core, a row a module, and shows each survivor that `equivalent.toml`
does not list with why it changes nothing that anybody could notice.  Exit status 1 where there is
one, or where an entry is about no mutant any more.

mutmut changes functions alone, so the cells of the law, which is data, are taken away here: one at a
time, in a process of its own (POSIX only), against the same tests.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

import pytest

from handsfree.engine.law import LAW, Moment
from handsfree.engine.state import Event

LISTED = Path(__file__).with_name("equivalent.toml")
KILLED = ("killed", "timeout", "caught by type check", "segfault")


def found() -> dict[str, str]:
    """Each mutant's name and what became of it."""
    told = subprocess.run([sys.executable, "-m", "mutmut", "results", "--all", "true"],
                          capture_output=True, text=True, check=True).stdout
    lines = (line.strip().rpartition(": ") for line in told.splitlines())
    return {name: status for name, _, status in lines if name}


def function(mutant: str) -> str:
    """'handsfree.engine.law.x_cell__mutmut_1' -> 'handsfree.engine.law.cell'."""
    module, _, name = mutant.rpartition("__mutmut_")[0].rpartition(".")
    return f"{module}.{name[2:].replace('ǁ', '.')}"  # x_function, xǁClassǁmethod


def change(mutant: str) -> tuple[str, str]:
    """What stands in the code and what in the mutant, each as one line."""
    from mutmut.mutation.diff_apply import get_diff_for_mutant  # of the extra `mutants`

    lines = [line for line in get_diff_for_mutant(mutant).splitlines()
             if not line.startswith(("---", "+++", "@@"))]
    return tuple(" ".join(" ".join(line[1:] for line in lines if line.startswith(sign)).split())
                 for sign in "-+")  # type: ignore[return-value]


def makes(was: str, now: str, old: str, new: str) -> bool:
    """Whether the line `was` becomes the line `now` by having `new` for `old` in one place."""
    return any(was[:at] + new + was[at + len(old):] == now
               for at in range(len(was)) if was.startswith(old, at))


def law() -> int:
    """Take each cell of the law away."""
    if _tests():
        return 1
    cells = [(now, event) for now, row in LAW.items() for event in row]
    left = 0
    for now, event in cells:
        if _passes_without(now, event):
            left += 1
            print(f"{event.__name__} at {now.value}: survived", flush=True)
    print(f"{len(cells)} cells of the law taken away; {left} survived")
    return 1 if left else 0


def _tests() -> int:
    return int(pytest.main(["-x", "-q", "-o", "addopts=", "-p", "no:cacheprovider",
                            str(LISTED.parent)]))


def _passes_without(now: Moment, event: type[Event]) -> bool:
    child = os.fork()
    if not child:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        del LAW[now][event]  # type: ignore[attr-defined]
        os._exit(_tests())
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def main() -> int:
    """The command line."""
    if "--law" in sys.argv[1:]:
        return law()
    listed = tomllib.loads(LISTED.read_text(encoding="utf-8")).get("mutant", [])
    used: list[dict[str, str]] = []
    tally: dict[str, Counter[str]] = {}
    for mutant, status in found().items():
        where = function(mutant)
        module = tally.setdefault(".".join(where.split(".")[:3]), Counter())
        if status == "not checked":
            module["untried"] += 1
        elif status in KILLED:
            module["killed"] += 1
        else:
            was, now = change(mutant)
            reasons = [entry for entry in listed
                       if where in entry["in"] and makes(was, now, entry["was"], entry["now"])]
            used += reasons
            module["listed" if reasons else "left"] += 1
            if not reasons:
                print(f"{mutant}: {status}\n  - {was}\n  + {now}")
    columns = ("killed", "listed", "left", "untried")
    print("| module | mutants |", " | ".join(columns), "|")
    for name, module in (*sorted(tally.items()), ("all", sum(tally.values(), Counter()))):
        print(f"| {name} | {module.total()} |", " | ".join(str(module[one]) for one in columns), "|")
    unused = [entry for entry in listed if entry not in used]
    for entry in unused:
        print(f"{LISTED.name}: nothing survives at '{entry['was']}' in {entry['in']}; remove it.")
    return 1 if unused or any(module["left"] for module in tally.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
