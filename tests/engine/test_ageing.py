"""What grows old while it is relied on: a rule that breaks by it is an alarm, whatever is under way."""

from __future__ import annotations

import pytest

from handsfree.checklist.conditions import parse
from handsfree.checklist.model import Checklist, Evidence, Fact, NeverRule, Step
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import (
    Alarm,
    Confirm,
    Done,
    Event,
    Expired,
    Finish,
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
