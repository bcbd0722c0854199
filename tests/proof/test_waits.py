"""Steps that wait change nothing that is proved about facts, and finishing sees them."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine import changes
from handsfree.proof import prove
from handsfree.proof.stay import Stay
from handsfree.storage.paths import checklist_names, checklists_folder
from tests.outside.promela import orders_model, record_model
from tests.proof import explicit


@cache
def shipped(name: str) -> Checklist:
    return load_checklist(checklists_folder() / f"{name}.yaml", library=checklists_folder())


def without_waits(checklist: Checklist) -> Checklist:
    return replace(checklist, steps={
        name: replace(step, wait=None) for name, step in checklist.steps.items()})


@pytest.mark.parametrize("name", checklist_names())
def test_a_wait_is_no_way_for_a_fact_to_change(name: str) -> None:
    """The table that `advance` obeys and the model for SPIN are the same without any waits."""
    whole = shipped(name)
    plain = without_waits(whole)
    assert list(changes.orders(whole)) == list(changes.orders(plain))
    for model in (orders_model, record_model):
        assert model(Stay.of([whole])) == model(Stay.of([plain]))


def test_the_library_has_steps_that_wait() -> None:
    found = {}
    for name in checklist_names():
        found |= {step.id: step.wait.minutes for step in shipped(name).steps.values() if step.wait}
    assert found == {"joints-again": 10, "first-stop": 20, "next-stop": 60, "heater-drain": 120,
                     "bleach-flush": 240}


ONCE = """\
title: Once
facts:
  lit: {says: it is lit, fresh: true}
  seen: {says: it was looked at, fresh: true}
  spent: {says: it is spent, fresh: true}
steps:
  - {id: light, do: Light it., only if: not lit, gives: lit}
  - {id: look, do: Look at it., only if: lit, needs: not spent, gives: seen, must: yes,
     waits: {after: light, minutes: 5}}
  - {id: use, do: Use it up., ends: seen, gives: spent}
  - {id: out, do: Put it out., ends: lit}
closes when: lit
"""


def test_a_step_that_must_be_done_is_opened_again_and_can_be_a_dead_end(tmp_path: Path) -> None:
    """Looked at, used up, put out and lit again: it must be looked at again, and cannot be."""
    path = tmp_path / "once.yaml"
    path.write_text(ONCE, encoding="utf-8")
    once = load_checklist(path)
    for checklist, stuck in ((once, True), (without_waits(once), False)):
        assert {f.kind for f in prove([checklist]).findings} == ({"dead end"} if stuck else set())
        walked = explicit.walk(checklist, explicit.short_orders, most=100_000)
        assert walked is not None and explicit.dead_end(walked) is stuck
