"""What a running session is told of the time still to come."""

from pathlib import Path

from handsfree.checklist.loader import load_checklist
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import Answer, Confirm, Done, Finish, Respond, Resume
from handsfree.review.applying import remaining
from handsfree.review.time_left import TimeLeft
from handsfree.storage.paths import checklists_folder

LIST = """\
title: Small
facts:
  chocked: the wheels are chocked
questions:
  water here: {ask: "Is there water?", says: there is water}
steps:
  - ask: water here
  - {id: chock, do: Chock., respond: chocks set, gives: chocked, takes: [5, 10, 20]}
  - {id: hose, do: Hose., only if: water here, takes: [5, 10, 20]}
  - {id: mat, do: Mat., takes: [5, 10, 20]}
"""


def test_the_steps_that_still_come_follow_the_engine(tmp_path: Path) -> None:
    path = tmp_path / "small.yaml"
    path.write_text(LIST)
    checklist = load_checklist(path, library=checklists_folder())
    state, _ = begin(checklist, frozenset())
    assert remaining(checklist, state) == ("water here", "chock", "mat")
    assert remaining(checklist, state, {"water here": True}) == (
        "water here", "chock", "hose", "mat")
    for event in (Answer(True), Respond(), Confirm()):
        state, _ = advance(checklist, state, event)
    assert remaining(checklist, state) == ("hose", "mat")
    state, _ = advance(checklist, state, Finish())
    assert remaining(checklist, state) == ("hose", "mat")
    for event in (Resume(), Done(), Done()):
        state, _ = advance(checklist, state, event)
    assert remaining(checklist, state) == ()


def test_without_history_the_expected_times_are_told_and_shrink_as_steps_are_done(
    tmp_path: Path
) -> None:
    path = tmp_path / "small.yaml"
    path.write_text(LIST)
    checklist = load_checklist(path, library=checklists_folder())
    left = TimeLeft(checklist, frozenset(), tmp_path / "data")
    assert left.ready(60)
    state, _ = begin(checklist, frozenset())
    told = left(state)
    assert told is not None and 12 <= told[0] <= 35  # two steps of about ten minutes
    for event in (Answer(False), Respond(), Confirm()):
        state, _ = advance(checklist, state, event)
    later = left(state)
    assert later is not None and later[0] < told[0]
    state, _ = advance(checklist, state, Done())
    assert left(state) is None
