"""Sets of fact assignments: exact counts, and the same verdicts without the compiled library."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.proof_scaling import generated, plain_search
from handsfree.checklist.conditions import parse
from handsfree.checklist.model import Checklist, Fact, NeverRule, Step
from handsfree.proof import Budget, prove
from handsfree.proof.state_space import open_space
from handsfree.proof.stay import Stay


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.sets(st.integers(0, 255)))
def test_counts_are_exact(members: set[int]) -> None:
    space = open_space(Stay.of([generated(18)]), Budget())
    names = space.names[:8]
    node = space.none
    for member in members:
        node = node | space.cube({name: bool(member >> bit & 1)
                                  for bit, name in enumerate(names)})
    assert space.count(node) == len(members) << (len(space.names) - 8)


ROOT = Path(__file__).parents[2]
"""Where the benchmarks lie."""

_WITHOUT = """
import sys
sys.modules["dd.cudd"] = None
from handsfree.proof import prove, state_space
from benchmarks.proof_scaling import generated
assert state_space.engine().__name__ == "dd.autoref"
for broken in (False, True):
    report = prove([generated(24, broken=broken)])
    print(report.records, report.reachable, report.work,
          sorted((f.kind, f.subject) for f in report.findings))
"""


def test_the_pure_python_diagrams_say_the_same() -> None:
    pytest.importorskip("dd.cudd")
    told = subprocess.run([sys.executable, "-c", _WITHOUT], capture_output=True, text=True,
                          check=True, cwd=ROOT).stdout.splitlines()
    for line, broken in zip(told, (False, True), strict=True):
        report = prove([generated(24, broken=broken)])
        kinds = sorted((f.kind, f.subject) for f in report.findings)
        assert line == f"{report.records} {report.reachable} {report.work} {kinds}"


_LIBRARY = """
import sys
if len(sys.argv) > 1:
    sys.modules["dd.cudd"] = None
from benchmarks.memory import peak_megabytes
from handsfree.cli.check import stay
from handsfree.proof import prove
report = prove(stay((), None)[0], count=False)
print(report.sound, report.records, report.work)
print(peak_megabytes(), file=sys.stderr)
"""


@pytest.mark.long
def test_the_library_is_proved_in_pure_python_too_and_in_little_memory() -> None:
    """The same verdict at the same cost, in less than 500 MB, Python and all."""
    pytest.importorskip("dd.cudd")
    compiled, pure = (subprocess.run([sys.executable, "-c", _LIBRARY, *how], capture_output=True,
                                     text=True, check=True, cwd=ROOT) for how in ([], ["pure"]))
    assert compiled.stdout.startswith("True ") and compiled.stdout == pure.stdout
    assert float(pure.stderr) < 500


@pytest.mark.parametrize("steps", [10, 18, 60, 120])
def test_generated_checklists_are_sound_and_their_broken_twins_are_not(steps: int) -> None:
    assert prove([generated(steps)], count=False).sound
    if steps >= 18:
        found = prove([generated(steps, broken=True)], finishing=False, count=False).findings
        assert found and all(f.rule.startswith("dragged") for f in found)


def test_plain_search_ends_on_a_tiny_list_and_gives_up_on_a_large_one() -> None:
    facts = {name: Fact(name) for name in ("a", "b")}
    steps = {
        "one": Step("one", "Do one.", gives=frozenset({"a"})),
        "two": Step("two", "Do two.", gives=frozenset({"b"}))}
    rule = NeverRule("order", parse("b and not a"), "it hurts", "Undo it.", "order mended",
                     ends=frozenset({"b"}))
    tiny = Checklist("tiny", "Tiny", facts, steps, ("one", "two"), (rule,))
    told = plain_search(tiny, seconds=float("inf"))
    assert told.complete and told.found and not prove([tiny]).sound
    assert not plain_search(generated(60), seconds=0.1).complete
