"""A closed checklist can be reopened: the last report may be the mistaken one."""

from __future__ import annotations

from handsfree.checklist.model import Checklist, Fact, Step
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import Done, GoTo, Mode, Reply, Say, Skip, TakeBack

_LIST = Checklist(
    id="one", title="One", facts={"a": Fact("a")},
    steps={"give": Step("give", "Give it.", gives=frozenset({"a"}))}, order=("give",))


def _closed():
    return advance(_LIST, begin(_LIST, frozenset())[0], Done())[0]


def test_the_last_report_can_be_taken_back_after_closing() -> None:
    state, _ = advance(_LIST, _closed(), TakeBack("give"))
    assert state.facts == frozenset()
    assert state.mode is Mode.STEP and state.at == "give"


def test_a_step_can_be_gone_to_after_closing() -> None:
    state, _ = advance(_LIST, _closed(), GoTo("give"))
    assert state.mode is Mode.STEP and state.at == "give"


def test_it_stays_closed_when_that_is_refused_and_for_everything_else() -> None:
    closed = _closed()
    for event in (TakeBack("nothing"), GoTo("nowhere"), Skip(), Done()):
        state, effects = advance(_LIST, closed, event)
        assert state == closed and effects
    assert advance(_LIST, closed, Done())[1] == (Say(Reply.CLOSED_ALREADY),)
