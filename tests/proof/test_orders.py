"""An own list's step that moves the rig, or touches outlet or dump valve, must declare so."""

from __future__ import annotations

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.proof import step_checks
from handsfree.storage.paths import checklists_folder
from tests.proof.orders import HELD_OUT, NO_ORDERS, TRIED


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> frozenset[str]:
    """What of a list whose steps declare nothing is turned down for its words."""
    said = (*TRIED, *HELD_OUT, *NO_ORDERS)
    path = tmp_path_factory.mktemp("own") / "own.yaml"
    path.write_text("title: My own list\ninclude: shared/standing.yaml\nsteps:\n" + "".join(
        f'  - {{id: own-{number}, do: "{do}"}}\n' for number, do in enumerate(said)),
        encoding="utf-8")
    checklist = load_checklist(path, library=checklists_folder())
    return frozenset(checklist.steps[finding.subject].do
                     for finding in step_checks.judged(checklist)
                     if finding.kind == "undeclared motion")


@pytest.mark.parametrize("do", [*TRIED, *HELD_OUT])
def test_an_order_that_moves_or_exposes_is_found(do: str, found: frozenset[str]) -> None:
    assert do in found


@pytest.mark.parametrize("do", NO_ORDERS)
def test_a_look_or_a_caution_is_no_order(do: str, found: frozenset[str]) -> None:
    assert do not in found
