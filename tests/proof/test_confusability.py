"""Phrases that sound alike are named wherever both may be said, and only there."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.cli.check import _spoken, stay
from handsfree.engine.state import Mode
from handsfree.language.loader import load_language
from handsfree.proof.moments import moments
from tests.proof.test_spoken_text import GOOD, checked


def test_all_that_is_shipped_is_clean() -> None:
    """Every kind of moment of every checklist."""
    given, _ = stay((), None)
    assert [str(found) for found in _spoken(given) if found.kind == "alike"] == []


@pytest.mark.parametrize(("old", "new", "said"), [
    ("respond: chocks set", "respond: say a gain", "'say a gain' and 'say again'"),
    ("respond: chocks set", "respond: chalks set", ""),  # nothing else there sounds like it
    ("respond: chocks set", "respond: that is bright", "'that is bright' and 'that is right'"),
    ("respond: chocks set", "respond: [chocks set, say a gain]", "'say a gain' and 'say again'"),
    ("{id: mat,", "{id: gage,", "'go to gage' and 'go to gauge'"),
    ("{id: mat,", "{id: mat, names: [chalk],", "'go to chalk' and 'go to chock'"),
])
def test_what_sounds_alike_at_a_moment(tmp_path: Path, old: str, new: str, said: str) -> None:
    """At a hold point, after its readback, and between two steps that can be called."""
    assert old in GOOD
    status, output = checked(tmp_path, GOOD.replace(old, new))
    if said:
        assert status == 1 and said in output and "line " in output, output
    else:
        assert "sound alike" not in output, output


def test_hold_on_and_all_done_are_told_apart_no_longer_by_luck(tmp_path: Path) -> None:
    """The pair that a recogniser took for each other, each in the other's place: found again when
    a response is worded so."""
    status, output = checked(tmp_path, GOOD.replace("respond: chocks set", "respond: all done"))
    assert status == 1 and "'all done' and 'hold on'" in output, output
    assert "all done" not in load_language("en").commands["done"]


def test_every_mode_has_its_moments() -> None:
    from handsfree.storage.paths import checklists_folder

    checklist = load_checklist(checklists_folder() / "arrive.yaml", library=checklists_folder())
    found = list(moments(checklist, frozenset()))
    modes = {moment.state.mode for moment in found}
    assert modes >= set(Mode) - {Mode.CLOSED} - {m for m in Mode if m.name == "WAITING"}
    steps = {moment.step for moment in found if moment.kind != "confirm"} - {""}
    assert steps >= set(checklist.order)
    inner = {name for remedy in checklist.remedies.values() for name in remedy.steps}
    assert inner <= steps
    assert {moment.rule for moment in found} - {""} == {rule.id for rule in checklist.rules}
