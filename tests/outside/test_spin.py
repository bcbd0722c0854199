"""Never rules held against SPIN, an independent model checker (Debian's package `spin`).

Holzmann, G. J., "The model checker SPIN", IEEE Transactions on Software Engineering 23 (5),
279-295 (1997).  The same changes are written as a Promela model; its verdicts, and the number of
states that it stores, must be the prover's.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest

from benchmarks.proof_scaling import generated
from handsfree.checklist.conditions import NEVER
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.choosing import rules_about
from handsfree.proof import Budget, prove, safety
from handsfree.proof.interlocks import each_interlock, without
from handsfree.proof.state_space import open_space
from handsfree.proof.stay import Stay
from handsfree.storage.paths import checklists_folder, find_rig
from tests.depth import cases
from tests.outside.promela import orders_model, record_model

MISSING = [tool for tool in ("spin", "gcc") if shutil.which(tool) is None]


@pytest.fixture(autouse=True)
def _spin_is_there() -> None:
    """Without SPIN there is nothing to check against."""
    if MISSING:
        pytest.skip(f"{' and '.join(MISSING)} not installed (Debian: spin, gcc)")


@dataclass(frozen=True)
class Verdict:
    """What SPIN says of a model."""

    safe: bool
    states: int


def spin(model: str, folder: Path) -> Verdict:
    """Verify every state; write-only variables are kept (-o2) so that states can be compared."""
    (folder / "model.pml").write_text(model, encoding="utf-8")
    for command in (["spin", "-a", "-o2", "model.pml"],
                    ["gcc", "-O0", "-DSAFETY", "-DNOREDUCE", "-w", "-o", "pan", "pan.c"]):
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
        assert "error" not in done.stdout.lower(), done.stdout
    told = subprocess.run(["./pan", "-E", "-m1000000"], cwd=folder, capture_output=True,
                          text=True, check=True).stdout
    assert "max search depth too small" not in told
    errors = re.search(r"errors: (\d+)", told)
    states = re.search(r"(\d+) states, stored", told)
    assert errors and states, told
    assert errors.group(1) == "0" or "assertion violated" in told, told
    return Verdict(errors.group(1) == "0", int(states.group(1)))


@cache
def _library() -> dict[str, Checklist]:
    folder = checklists_folder()
    return {path.stem: load_checklist(path, library=folder)
            for path in sorted(folder.glob("*.yaml"))}


def _safe(*checklists: Checklist) -> bool:
    """The proof's verdict on one forward move from any record that breaks no rule."""
    space = open_space(Stay.of(checklists), Budget())
    sound = safety.sound_records(space)
    found = (*safety.one_move_breaches(space, space.stay.forward, sound),
             *safety.misconduct(space, space.stay.forward, sound))
    return not found


@pytest.mark.long
def test_the_shipped_checklists_keep_every_never_rule(tmp_path: Path) -> None:
    checklists = list(_library().values())
    verdict = spin(record_model(Stay.of(checklists)), tmp_path)
    assert verdict.safe and _safe(*checklists)
    assert verdict.states > 1000  # it did look at something


@pytest.mark.parametrize("name", [
    "bring-back", "dump-station", "storm", pytest.param("store-for-winter", marks=pytest.mark.long)])
def test_it_reaches_as_many_states_as_the_prover(name: str, tmp_path: Path) -> None:
    """Of shipped checklists for one rig, in every order; exactly as many."""
    rig = load_rig(find_rig("small-single"))
    stay = Stay.of([_library()[name]], (), rig)
    space = open_space(stay, Budget())
    verdict = spin(orders_model(stay), tmp_path)
    assert verdict.safe
    assert verdict.states == space.count(space.reach(stay.forward, space.start()))


@pytest.mark.parametrize("broken", [False, True])
def test_orders_of_a_generated_checklist(broken: bool, tmp_path: Path) -> None:
    """Sound and with an interlock missing: the verdict, and the states of the sound one."""
    checklist = generated(18, broken=broken)
    stay = Stay.of([checklist])
    verdict = spin(orders_model(stay), tmp_path)
    assert verdict.safe is not broken
    assert any(f.ring == 1 for f in prove([checklist], count=False).findings) is broken
    if not broken:
        space = open_space(stay, Budget())
        assert verdict.states == space.count(space.reach(stay.forward, space.start()))


def _mutants() -> Iterator[tuple[str, Checklist]]:
    """Every so many interlocks, gives and never rules of the shipped checklists, dropped."""
    library = _library()
    chosen = [library[name] for name in ("dump-station", "bring-back", "storm")]
    interlocks = [(checklist, step, part) for checklist in chosen
                  for step, part in each_interlock(checklist)]
    guarded = [one for one in interlocks if rules_about(one[0], one[1])]
    for checklist, step, part in (*interlocks[::max(1, len(interlocks) // 12)],
                                  *guarded[::max(1, len(guarded) // 10)]):
        yield f"{checklist.id}: {step.id} without {part}", without(checklist, step, part)
    gives = [(checklist, step, fact) for checklist in chosen
             for step in checklist.steps.values() for fact in sorted(step.gives)
             if not step.question]
    for checklist, step, fact in gives[::max(1, len(gives) // 8)]:
        less = replace(step, gives=step.gives - {fact})
        yield (f"{checklist.id}: {step.id} no longer gives {fact}",
               replace(checklist, steps={**checklist.steps, step.id: less}))
    for checklist in chosen:
        good = checklist.facts["outlet good"]
        lasting = replace(good, evidence=replace(good.evidence, unless=NEVER))
        yield (f"{checklist.id}: time ends the outlet's test while it is in use",
               replace(checklist, facts={**checklist.facts, good.name: lasting}))
        rule = checklist.rules[len(checklist.rules) // 2]
        kept = tuple(other for other in checklist.rules if other is not rule)
        yield f"{checklist.id}: no rule {rule.id}", replace(checklist, rules=kept)


def test_verdicts_agree_on_mutants(tmp_path: Path) -> None:
    """Of each kind, some of them safe and some not."""
    mutants = list(_mutants())[::cases(3, 1)]
    folders = [tmp_path / str(number) for number in range(len(mutants))]
    for folder in folders:
        folder.mkdir()
    models = [record_model(Stay.of([mutant])) for _, mutant in mutants]
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(spin, models, folders))
    verdicts = {name: verdict.safe
                for (name, _), verdict in zip(mutants, found, strict=True)}
    for name, mutant in mutants:
        assert verdicts[name] is _safe(mutant), name
    assert len(verdicts) >= cases(12, 30)
    assert sum(verdicts.values()) >= cases(3, 5)
    assert sum(not safe for safe in verdicts.values()) >= cases(3, 5)
