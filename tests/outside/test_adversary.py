"""Random events against the real engine, judged by an evaluator that shares no code with it.

A few tens of thousands of events here; half a million by `python -m tests.outside.adversary`.
"""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import pytest

from handsfree.checklist.conditions import ALWAYS, both
from handsfree.checklist.model import Checklist, Step
from handsfree.engine import advance as engine
from handsfree.engine import passing
from handsfree.engine.law import Does
from tests.depth import cases
from tests.outside import world
from tests.outside.adversary import LIBRARY, attack, shipped
from tests.outside.world import Disagreement, condition

FEW = ("arrive", "depart", "freezing-night")


def test_the_evaluator_shares_no_code_with_what_it_judges() -> None:
    tree = ast.parse(Path(world.__file__).read_text(encoding="utf-8"))
    imported = {name.name for node in ast.walk(tree) if isinstance(node, ast.Import)
                for name in node.names}
    imported |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert not any(name.startswith("handsfree") for name in imported)


def test_conditions_are_read_by_pythons_own_parser() -> None:
    holds = condition("hitched and not (water hose out or not latch locked)")
    assert holds({"hitched", "latch locked"})
    assert not holds({"hitched"})
    assert not holds({"hitched", "latch locked", "water hose out"})


@pytest.mark.parametrize("seed", range(1, cases(1, 4) + 1))
def test_no_order_of_events_gets_past_the_files(seed: int) -> None:
    tally = attack(8_000, seed, names=FEW)
    counts = tally.counts
    assert counts["done that moves or exposes"] > 100
    assert counts["refused"] > 50
    assert counts["failed"] > 50
    assert counts["grown old"] > 50
    assert {two for _, _, two in tally.ran} == {1, 2}


def _with(checklist: Checklist, change) -> Checklist:  # type: ignore[no-untyped-def]
    steps = {name: change(step) for name, step in checklist.steps.items()}
    return replace(checklist, steps=steps, digest=checklist.digest + " spoilt")


def _spoilt(change):  # type: ignore[no-untyped-def]
    spoilt: dict[tuple[str, str], Checklist] = {}

    def load(name: str, rig: str) -> Checklist:
        if (name, rig) not in spoilt:
            spoilt[name, rig] = _with(shipped(name, rig), change)
        return spoilt[name, rig]
    return load


def _no_interlock(step: Step) -> Step:
    return replace(step, needs=ALWAYS) if "unhitching" in step.acts else step


def _own_interlock_only(step: Step) -> Step:
    return replace(step, needs=both(step.own, step.after))


def _nothing_void(step: Step) -> Step:
    return replace(step, voids=frozenset())


@pytest.mark.parametrize("fault", [_no_interlock, _own_interlock_only, _nothing_void])
def test_an_engine_that_is_given_less_than_the_files_say_is_found_out(fault) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(Disagreement):
        attack(10_000, 3, load=_spoilt(fault), names=("arrive", "depart"))


def test_an_engine_that_forgets_that_time_passes_is_found_out(
    monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(
        engine._HANDLERS, Does.EXPIRE, lambda checklist, state, event: (state, ()))
    with pytest.raises(Disagreement):
        attack(10_000, 4, names=("depart",))


def test_an_engine_that_counts_looks_across_a_pause_is_found_out(
    monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(passing, "_aged", lambda checklist, state: (state, ()))
    with pytest.raises(Disagreement):
        attack(10_000, 5, names=("depart",))


@pytest.mark.parametrize("name", ["arrive", "before-leaving-home", "bring-back", "store-for-winter",
                                  "freezing-night"])
def test_each_bank_has_the_steps_of_its_own_chemistry(name: str) -> None:
    """The fifth wheel's file: house lithium 200 Ah, starter flooded 80 Ah; of the others nothing is asked."""
    judge, checklist = world.World(LIBRARY / f"{name}.yaml", LIBRARY, LIBRARY / "rigs/fifth-wheel.yaml"), (
        shipped(name, "fifth-wheel"))
    assert judge.banks == {"house": "lithium battery", "starter": "flooded battery"}
    assert checklist.steps.keys() <= judge.deeds.keys()
    brought = {step.id for step in checklist.steps.values() if step.item in judge.banks}
    other = {name for name in judge.deeds.keys() - checklist.steps.keys() if not judge.deeds[name].question}
    assert brought and all(judge.deeds[name].made_of for name in brought | other)
    words = {"lithium": "lithium battery", "sealed": "sealed battery"}
    for one in other:  # the files have it for a battery that the bank is not
        about = next((made for word, made in words.items() if one.endswith(word)), "")
        assert judge.deeds[one].made_of != about, one
