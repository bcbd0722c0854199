"""What mutmut left alive: `python -m tests.core.mutants`, after `mutmut run`; `--law` for the law.

Counts the mutants of the safety core and shows each survivor that `equivalent.toml` does not list,
with why it changes nothing that anybody could notice.  Exit status 1 where there is one, or where
an entry is about no mutant any more.

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


def mutmut(*words: str) -> str:
    """What it prints."""
    return subprocess.run([sys.executable, "-m", "mutmut", *words], capture_output=True, text=True,
                          check=True).stdout


def found() -> dict[str, str]:
    """Each mutant's name and what became of it."""
    lines = (line.strip().rpartition(": ") for line in mutmut("results", "--all", "true").splitlines())
    return {name: status for name, _, status in lines if name}


def change(mutant: str) -> tuple[str, str]:
    """The lines that it replaces, and by what, without blanks at their ends."""
    lines = [line for line in mutmut("show", mutant).splitlines()
             if not line.startswith(("---", "+++", "@@", "#"))]
    return tuple("\n".join(line[1:].strip() for line in lines if line.startswith(sign))
                 for sign in "-+")  # type: ignore[return-value]


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
    listed = {(one["in"], one["was"].strip(), one["now"].strip()): one["why"]
              for one in tomllib.loads(LISTED.read_text(encoding="utf-8")).get("mutant", ())}
    results, used, left = found(), set(), 0
    for name, status in results.items():
        if status in KILLED:
            continue
        function = name.rpartition("__mutmut_")[0]
        key = (function, *change(name))
        if key in listed:
            used.add(key)
            continue
        left += 1
        print(f"{name}: {status}\n  - {key[1]}\n  + {key[2]}")
    tally = Counter("killed" if status in KILLED else status for status in results.values())
    print(f"{len(results)} mutants: {dict(tally)}; {len(used)} listed as equivalent, {left} left")
    for function, was, _ in listed.keys() - used:
        print(f"{LISTED.name}: nothing survives in {function} at '{was}' any more; remove it.")
    return 1 if left or listed.keys() - used else 0


if __name__ == "__main__":
    sys.exit(main())
