"""A session from a journal of which some events cannot be replayed: nothing counts as done that no
line says was done, and nothing that is out is forgotten."""

from __future__ import annotations

from typing import Any

import pytest

from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode, Status
from handsfree.hearing.types import Hypothesis
from handsfree.session.conversation import Conversation
from handsfree.storage.journal_recovery import rebuilt, replayable
from handsfree.storage.lines import Line, from_plain
from handsfree.testing import MemoryLog
from tests.core.parts import english

VOLTS = ("yes", "chocks set", "that is right", "done", "done", "done")
GOOD = (*VOLTS, "one hundred twenty", "that is right", "done")


def as_read(*lines: dict[str, Any]) -> list[Line]:
    return list(map(from_plain, lines))


def talked(stay: Checklist, *words: str) -> tuple[Conversation, list[Line]]:
    log = MemoryLog()
    talk = Conversation(stay, english(), log)
    talk.begin(stay.start_facts, 0.0)
    for t, said in enumerate(words):
        talk.hear(Hypothesis(said, 1.0, float(t), float(t)), float(t))
    return talk, log.lines


@pytest.mark.parametrize("words", [
    (), ("no",), VOLTS, GOOD, ("yes", "skip this"), ("yes", "skip this", "skip this"),
    (*VOLTS, "one hundred", "that is right"), (*GOOD, english().commands["take_back"][0]),
    (*GOOD, "done", "done"), ("yes", "chocks set"),
    (*VOLTS, "problem", "done", "done", "done", "problem"),
    (*GOOD, "skip this", "skip this", "skip this")])
def test_what_the_lines_tell_is_what_was(stay: Checklist, words: tuple[str, ...]) -> None:
    talk, lines = talked(stay, *words)
    state = rebuilt(stay, stay.start_facts, lines)
    now = talk.state
    assert state.facts == now.facts and state.mode is Mode.PAUSED and state.pending is None
    assert state.reports == now.reports and state.waits == now.waits and state.tries == now.tries
    for name in stay.steps:
        was, told = now.statuses[stay.index[name]], state.statuses[stay.index[name]]
        offered = (Status.OPEN, Status.SKIPPED)  # asked again, never assumed
        assert told is was or told in offered, (name, was, told)
    assert state.at in (now.at, "") or state.statuses[stay.index[state.at]] is not Status.DONE


def test_what_a_remedy_undid_has_to_be_done_again(stay: Checklist) -> None:
    _, lines = talked(stay, *VOLTS, "one hundred", "that is right", "done")
    state = rebuilt(stay, stay.start_facts, lines)
    assert state.statuses[stay.index["breaker"]] is Status.OPEN
    assert "breaker on" not in state.facts


def test_a_danger_is_chosen_anew_and_not_walked_past(stay: Checklist) -> None:
    state = rebuilt(stay, stay.start_facts, as_read(
        {"what": "changed", "on": [], "off": ["hitched"]}, {"what": "offered", "step": "mat"}))
    assert state.at == "" and state.mode is Mode.PAUSED and "hitched" not in state.facts


def test_a_step_that_this_list_does_not_know_is_passed_over(stay: Checklist) -> None:
    state = rebuilt(stay, stay.start_facts, as_read(
        {"what": "offered", "step": "of old"}, {"what": "reported", "step": "of old",
                                                "kind": "report"}))
    assert state.at == "water here" and state.reports == ()


def test_a_report_of_a_kind_that_it_does_not_know_leaves_the_step_open(stay: Checklist) -> None:
    state = rebuilt(stay, stay.start_facts, as_read(
        {"what": "reported", "step": "chock", "kind": "something new"}))
    assert state.statuses[stay.index["chock"]] is Status.OPEN and state.reports == ()


def test_how_often_a_step_has_failed_is_not_forgotten(stay: Checklist) -> None:
    """Else a bad outlet is tried for ever."""
    for tried, count in ((2, 2), (None, 1)):
        state = rebuilt(stay, stay.start_facts, as_read(
            {"what": "failed", "step": "volts", "band": "low", "try": tried}))
        assert state.tries == (("volts", count),)


@pytest.mark.parametrize(("line", "whole"), [
    ({"what": "event", "event": {"type": "Done"}}, True),
    ({"what": "event", "event": {"type": "Levitate"}}, False),
    ({"what": "event", "event": {"type": "GoTo", "step": 3}}, False),
    ({"what": "event", "event": "Done"}, False),
    ({"what": "event"}, False),
    ({"what": "event", "event": {"type": "Read", "band": "low"},
      "reading": {"value": "1/0", "unit": "volts"}}, False),
    ({"what": "event", "event": {"type": "Read", "band": "low"},
      "reading": {"value": "118", "unit": "volts"}}, True),
    ({"what": "event", "event": {"type": "Read", "band": "low"}, "reading": {"value": "1"}}, False),
    ({"what": "something new"}, True)])
def test_a_journal_is_replayed_only_if_every_event_is_understood(
    line: dict[str, Any], whole: bool
) -> None:
    assert replayable(as_read(line)) is whole
