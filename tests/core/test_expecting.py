"""What may be said: whatever guards somebody is listened for, and nothing that could pass for it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.checklist.conditions import parse
from handsfree.checklist.model import Checklist
from handsfree.engine.state import (
    Answer,
    Confirm,
    Correct,
    Deny,
    Done,
    Event,
    Mode,
    Read,
    Respond,
    Resume,
    Skip,
    State,
    Status,
)
from handsfree.session.expecting import expected, likely, on_this_rig, plain_yes
from tests.core.parts import at

ALWAYS = frozenset({"repeat", "help", "time", "remaining", "status", "finish"})


def in_mode(stay: Checklist, mode: Mode, step: str = "", **more: object) -> State:
    return replace(at(stay, step), mode=mode, **more)  # type: ignore[arg-type]


def test_a_hold_point_listens_for_its_response_and_little_else(stay: Checklist) -> None:
    told = expected(stay, at(stay, "chock"))
    assert told.responses == {"chocks set": "chock"} and told.unit is None
    assert told.commands == ALWAYS | {"skip", "detail", "why", "problem", "take_back",
                                      "take_back_named", "pause", "note", "go_to"}
    assert told.heard == {"done", "yes"} and told.waits == frozenset()
    assert told.counts == {} and told.maybe == {"back": "take_back"}


def test_an_ordinary_step_takes_done_and_asks_about_what_may_mean_it(stay: Checklist) -> None:
    told = expected(stay, at(stay, "mat"))
    assert "done" in told.commands and told.responses == {} and told.heard == frozenset()
    assert not told.commands & {"yes", "no", "confirm", "deny", "resume"}
    assert told.maybe == {"back": "take_back", "yes": "done", "confirm": "done",
                          "acknowledged": "done", "resume": "done"}
    assert told.counts == {} and "remind" in told.commands


def test_a_question_takes_yes_and_no_and_is_never_skipped(stay: Checklist) -> None:
    told = expected(stay, at(stay, "water here"))
    assert told.commands >= {"yes", "no", "confirm", "deny"}
    assert not told.commands & {"skip", "problem", "done"}
    assert told.commands >= ALWAYS | {"pause", "detail", "why", "take_back", "go_to"}
    assert told.counts == {"confirm": "yes", "deny": "no"} and told.heard == {"done"}


def test_a_reading_takes_a_number_in_its_unit_and_no_word_for_it(stay: Checklist) -> None:
    told = expected(stay, at(stay, "volts"))
    assert told.unit == "volts" and told.instead is None
    assert not told.commands & {"done", "yes", "no", "confirm"}
    assert told.counts == {"blank": "problem"} and told.heard == {"done", "yes"}


def test_only_a_reading_that_need_not_be_exact_is_answered_with_that_of_last_time(
    stay: Checklist,
) -> None:
    """Whoever says "same as last time" of the volts has not looked."""
    rough = {**stay.steps, "volts": replace(stay.steps["volts"], rough="hose length")}
    assert "same" in expected(replace(stay, steps=rough), at(stay, "volts")).commands
    assert "same" not in expected(stay, at(stay, "volts")).commands


def test_a_step_that_asks_takes_yes_for_done_and_no_for_a_problem(stay: Checklist) -> None:
    steps = {**stay.steps, "breaker": replace(stay.steps["breaker"], do="Is it on?",
                                              remedy="bad outlet")}
    told = expected(replace(stay, steps=steps), at(stay, "breaker"))
    assert told.counts == {"yes": "done", "confirm": "done", "deny": "no"}
    assert told.commands >= ALWAYS | {"no", "done", "skip", "problem", "pause"}
    plain = {**stay.steps, "breaker": replace(stay.steps["breaker"], do="Is it on?")}
    assert "no" not in expected(replace(stay, steps=plain), at(stay, "breaker")).commands


def test_an_angle_may_be_told_in_inches_of_a_level_whose_length_is_known(stay: Checklist) -> None:
    reading = replace(stay.steps["volts"].reading, unit="degrees")  # type: ignore[type-var]
    steps = {**stay.steps, "volts": replace(stay.steps["volts"], reading=reading)}
    for length, instead in ((None, None), (0.0, None), (1.0, "inches"), (24.0, "inches")):
        known = {} if length is None else {"level length": length}
        one = replace(stay, steps=steps, numbers=known)
        assert expected(one, at(one, "volts")).instead == instead
        assert expected(one, in_mode(one, Mode.CONFIRM, "volts", pending=Read("low"))).instead == (
            instead)


@pytest.mark.parametrize(("pending", "step", "yes"), [
    (Respond(), "chock", False), (Correct("chocked", False), "mat", False),
    (Read("within"), "volts", False), (Answer(True), "chock", False), (Skip(), "chock", True),
    (Done(), "mat", True), (Skip(), "", True), (Read("within"), "", True)])
def test_a_short_yes_confirms_nothing_grave(
    stay: Checklist, pending: Event, step: str, yes: bool
) -> None:
    """A gust could be taken for it."""
    state = in_mode(stay, Mode.CONFIRM, step, pending=pending)
    assert plain_yes(stay, state) is yes
    told = expected(stay, state)
    assert ("yes" in told.commands) is yes and ("yes" in told.heard) is not yes
    assert told.commands - {"yes"} == {"confirm", "deny", "repeat", "help", "no"}
    assert told.counts == ({"done": "confirm"} if pending == Done() else {})
    assert told.heard >= {"done"}


def test_in_danger_no_short_yes_counts_and_the_response_may_be_said_again(stay: Checklist) -> None:
    danger = in_mode(stay, Mode.CONFIRM, pending=Respond(), broken="roll")
    assert not plain_yes(stay, danger)
    assert not plain_yes(stay, replace(danger, pending=Skip()))
    assert expected(stay, danger).responses == {"wheels are chocked": "again"}
    alarm = expected(stay, in_mode(stay, Mode.ALARM, broken="roll"))
    assert alarm.responses == {"wheels are chocked": "rule"} and alarm.heard == {"done", "yes"}
    assert alarm.commands == {"repeat", "help", "why", "finish"} and alarm.steps == {}


def test_what_was_read_back_may_be_said_again(stay: Checklist) -> None:
    told = expected(stay, in_mode(stay, Mode.CONFIRM, "chock", pending=Respond()))
    assert told.responses == {"chocks set": "again"} and told.unit is None
    told = expected(stay, in_mode(stay, Mode.CONFIRM, "volts", pending=Read("low")))
    assert told.unit == "volts" and told.responses == {}
    assert expected(stay, in_mode(stay, Mode.CONFIRM, "volts", pending=Skip())).unit is None


def test_elsewhere(stay: Checklist) -> None:
    paused = {"resume", "finish", "remaining", "status", "time", "remind", "operator_one",
              "operator_two", "operator_three"}
    assert expected(stay, in_mode(stay, Mode.PAUSED, "mat")).commands == paused
    assert expected(stay, in_mode(stay, Mode.SUSPENDED)).commands == paused - {"remind", "finish"}
    assert expected(stay, in_mode(stay, Mode.CLOSED)).commands == frozenset()
    closing = expected(stay, in_mode(stay, Mode.CLOSING))
    assert closing.commands == ALWAYS | {"yes", "no", "confirm", "deny", "go_to", "take_back",
                                         "pause"}
    assert closing.counts == {"confirm": "yes", "deny": "no"} and "mat" in closing.steps
    blocked = expected(stay, in_mode(stay, Mode.BLOCKED))
    assert blocked.commands == ALWAYS | {"go_to", "take_back", "take_back_named", "pause"}
    assert "mat" in blocked.steps
    waiting = expected(stay, in_mode(stay, Mode.WAITING))
    assert waiting.commands >= ALWAYS | {"done", "skip", "go_to", "pause", "note", "remind"}
    assert not waiting.commands & {"detail", "why", "problem", "yes"} and "mat" in waiting.steps


def test_an_order_that_must_be_refused_can_be_said(stay: Checklist) -> None:
    """So that it is heard and refused, not taken for another."""
    told = expected(stay, at(stay, "chock")).steps
    assert told["pull away"] == ("pull away",) and told["chock"] == ("chocks", "chock")
    assert set(told) == set(stay.order)


def test_the_steps_of_a_remedy_can_be_named_while_it_is_under_way(stay: Checklist) -> None:
    state = at(stay, "volts")
    assert "breaker off" in expected(stay, replace(state, remedies=("volts",))).steps
    assert "breaker off" in expected(stay, replace(state, reports=("breaker off",))).steps
    away = {**stay.remedies, "away": replace(
        stay.remedies["bad outlet"], id="away", steps=("other outlet",))}
    steps = {**stay.steps, "volts": replace(stay.steps["volts"], stop="away")}
    two = replace(stay, steps=steps, remedies=away, digest="two")
    failed = replace(state, remedies=("volts",))
    assert "breaker off" in expected(two, failed).steps
    assert "breaker off" not in expected(two, replace(failed, stopped=frozenset({"volts"}))).steps


def test_what_is_waited_for_can_be_called_for(stay: Checklist) -> None:
    done = list(at(stay, "mat").statuses)
    done[stay.index["hose"]] = Status.DONE
    state = replace(at(stay, "mat", frozenset({"hose out"})), statuses=tuple(done))
    assert expected(stay, state).waits == {"drip"}
    assert expected(stay, replace(state, at="", mode=Mode.WAITING)).waits == {"drip"}
    dry = {**stay.steps, "drip": replace(stay.steps["drip"], only_if=parse("water here"))}
    here = replace(state, facts=state.facts | {"water here"})
    assert expected(replace(stay, steps=dry), here).waits == {"drip"}
    assert expected(replace(stay, steps=dry), state).waits == frozenset()
    assert expected(stay, at(stay, "mat")).waits == frozenset()
    assert expected(stay, replace(state, at="drip")).waits == frozenset()
    assert expected(stay, replace(state, at="chock")).waits == frozenset()
    over = list(done)
    over[stay.index["drip"]] = Status.DONE
    assert expected(stay, replace(state, statuses=tuple(over))).waits == frozenset()


def test_what_the_rig_lacks_is_no_step_of_it(stay: Checklist) -> None:
    from handsfree.checklist.model import Fact, Origin
    facts = {**stay.facts, "slide": Fact("slide", Origin.TRAIT)}
    for text, has, lacks in (("slide", True, False), ("not slide", False, True),
                             ("slide and chocked", True, False), ("chocked", True, True)):
        mat = replace(stay.steps["mat"], only_if=parse(text))
        one = replace(stay, facts=facts, steps={**stay.steps, "mat": mat})
        for traits, there in ((frozenset({"slide"}), has), (frozenset(), lacks)):
            assert on_this_rig(one, mat, traits) is there
            state = at(one, "chock")
            state = replace(state, facts=state.facts | traits)
            assert ("mat" in expected(one, state).steps) is there


def test_a_step_is_called_by_its_names_and_its_id(stay: Checklist) -> None:
    step = replace(stay.steps["mat"], id="lay-mat", names=("mat", "lay mat"))
    assert step.spoken_names == ("mat", "lay mat")


def test_what_is_likely_next_is_made_ready(stay: Checklist) -> None:
    assert likely(stay, at(stay, "chock")) == (Respond(), Skip())
    assert likely(stay, at(stay, "mat")) == (Done(), Skip())
    assert likely(stay, at(stay, "volts")) == ()
    assert likely(stay, at(stay, "water here")) == (Answer(True), Answer(False))
    assert likely(stay, in_mode(stay, Mode.CONFIRM, "mat", pending=Skip())) == (Confirm(), Deny())
    assert likely(stay, in_mode(stay, Mode.PAUSED)) == (Resume(),)
    assert likely(stay, in_mode(stay, Mode.ALARM, broken="roll")) == (Respond(),)
    assert likely(stay, in_mode(stay, Mode.WAITING)) == ()
