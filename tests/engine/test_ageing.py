"""What grows old while it is relied on: a rule that breaks by it is an alarm at any moment."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.checklist.conditions import parse
from handsfree.checklist.model import Checklist, Evidence, Fact, NeverRule, Step
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import (
    Alarm,
    Confirm,
    Correct,
    Done,
    Event,
    Expired,
    Finish,
    GoTo,
    Mode,
    Pause,
    Respond,
    Resume,
)

RULE = NeverRule("unseen", parse("running and not seen"), "nobody has looked", "Stop it.",
                 "it stands", ends=frozenset({"running"}))


def checklist() -> Checklist:
    """Look, start the machine, and a last step that is read back; it closes once that is done."""
    facts = {"seen": Fact("seen", evidence=Evidence(minutes=10)), "running": Fact("running"),
             "told": Fact("told"), "never": Fact("never")}
    steps = (Step("look", "Look.", gives=frozenset({"seen"})),
             Step("run", "Start it.", needs=parse("seen"), gives=frozenset({"running"})),
             Step("tell", "Tell.", respond="all told", gives=frozenset({"told"})))
    return Checklist("small", "Small", facts, {step.id: step for step in steps},
                     tuple(step.id for step in steps), (RULE,), closes=parse("never"))


@pytest.mark.parametrize(("events", "mode"), [
    ((), Mode.STEP), ((Respond(),), Mode.CONFIRM), ((Respond(), Confirm()), Mode.BLOCKED)])
def test_it_is_an_alarm_at_once(events: tuple[Event, ...], mode: Mode) -> None:
    one = checklist()
    state, _ = begin(one, frozenset())
    for event in (Done(), Done(), *events):
        state, _ = advance(one, state, event)
    assert state.mode is mode
    state, effects = advance(one, state, Expired("seen"))
    assert state.mode is Mode.ALARM and state.broken == "unseen" and Alarm("unseen") in effects
    assert state.pending is None


@pytest.mark.parametrize("away", [Pause(), Finish()])
def test_it_is_one_on_coming_back(away: Event) -> None:
    one = checklist()
    state, _ = begin(one, frozenset())
    for event in (Done(), Done(), away):
        state, _ = advance(one, state, event)
    state, effects = advance(one, state, Expired("seen"))
    assert Alarm("unseen") in effects and state.broken == "unseen"
    state, effects = advance(one, state, Resume())
    assert state.mode is Mode.ALARM and Alarm("unseen") in effects


def test_a_rule_that_no_longer_holds_is_no_alarm_any_more() -> None:
    """Else its immediate action would be taken though nothing calls for it."""
    rule = replace(RULE, when=parse("running and seen"))
    one = replace(checklist(), rules=(rule,))
    state, _ = begin(one, frozenset({"running", "seen"}))
    state, _ = advance(one, replace(state, facts=state.facts | {"seen"}), Correct("told", True))
    assert state.mode is Mode.ALARM
    state, _ = advance(one, state, Expired("seen"))
    assert state.mode is Mode.STEP and state.broken == "" and "running" in state.facts


def test_what_was_closed_is_not_taken_up_again_in_danger() -> None:
    """It grew old after the end: the danger comes first, whatever is gone to."""
    one = replace(checklist(), closes=parse("told"))
    state, _ = begin(one, frozenset())
    for event in (Done(), Done(), Respond(), Confirm()):
        state, _ = advance(one, state, event)
    assert state.mode is Mode.CLOSED
    state, _ = advance(one, state, Expired("seen"))
    state, effects = advance(one, state, GoTo("tell"))
    assert state.mode is Mode.ALARM and Alarm("unseen") in effects


def test_time_can_free_what_was_blocked() -> None:
    """Nothing is left to do, and closing waited for that a look no longer counts."""
    one = replace(checklist(), rules=(), closes=parse("not seen"))
    state, _ = begin(one, frozenset())
    for event in (Done(), Done(), Respond(), Confirm()):
        state, _ = advance(one, state, event)
    assert state.mode is Mode.BLOCKED
    state, _ = advance(one, state, Expired("seen"))
    assert state.mode is Mode.CLOSED
