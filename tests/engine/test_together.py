"""Two operators on one checklist: alone as safe as one, together at what needs both."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import BOTH, INSIDE, OUTSIDE, SIDES, Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine import together
from handsfree.engine.changes import Kind
from handsfree.engine.choosing import broken_rule, permitted, status
from handsfree.engine.state import (
    Alarm,
    Answer,
    Closed,
    Confirm,
    Correct,
    Deny,
    Done,
    Due,
    Event,
    Finish,
    GoTo,
    Mode,
    Offer,
    Pause,
    Problem,
    Read,
    Reply,
    Reported,
    Respond,
    Resume,
    Say,
    Skip,
    State,
    Status,
    TakeBack,
    Unsure,
)
from handsfree.engine.together import Together, Told
from handsfree.storage.paths import checklist_names, checklists_folder, find_checklist, find_rig
from tests.proof import explicit
from tests.proof.small import checklists

RIG = "tandem-slide"


def loaded(name: str) -> tuple[Checklist, frozenset[str]]:
    rig = load_rig(find_rig(RIG))
    checklist = load_checklist(find_checklist(name), rig=rig, library=checklists_folder())
    return checklist, checklist.start_facts | rig.has


def usual(checklist: Checklist, state: State) -> Event | None:
    """What an operator says who does what is asked; None for nothing."""
    if state.mode is Mode.CLOSING:
        return Answer(True)
    if state.mode is Mode.WAITING:
        return Due(min(state.waits))
    if state.mode in (Mode.PAUSED, Mode.SUSPENDED):
        return Resume()
    if state.mode is Mode.CONFIRM:
        return Confirm()
    if state.mode is Mode.ALARM:
        return Respond()
    if state.mode is not Mode.STEP:
        return None
    step = checklist.steps[state.at]
    return (Answer(True) if step.question else Read("within") if step.reading
            else Respond() if step.hold else Done())


def play(checklist: Checklist, both: Together, most: int = 900) -> tuple[Together, list[Told]]:
    """Both do what is asked, in turn, until neither has anything to do."""
    told: list[Told] = []
    waits = 0
    for turn in range(most):
        side = SIDES[turn % 2]
        event = usual(checklist, both.of(side))
        before = both
        if event is not None:
            both, more = together.advance(checklist, both, side, event)
            told += more
        waits = waits + 1 if both == before else 0
        if waits > 3:
            break
    return both, told


@pytest.mark.parametrize("name", checklist_names())
def test_two_come_to_the_end_of_every_checklist_with_the_facts_of_one(name: str) -> None:
    checklist, record = loaded(name)
    both, told = together.begin(checklist, record)
    both, more = play(checklist, both)
    assert [state.mode for state in both.states] == [Mode.CLOSED] * 2
    alone = replace(checklist, steps={
        step: replace(own, role="") for step, own in checklist.steps.items()})
    one, _ = play(alone, together.begin(alone, record)[0])
    assert both.of(OUTSIDE).facts == one.of(OUTSIDE).facts
    assert [side for side, effect in (*told, *more) if isinstance(effect, Closed)] in (
        [OUTSIDE, INSIDE], [INSIDE, OUTSIDE])


def test_each_is_offered_their_own_side_at_the_same_time() -> None:
    checklist, record = loaded("evening")
    both, told = together.begin(checklist, record | {"parked"})
    offered = [(side, effect.step) for side, effect in told if isinstance(effect, Offer)]
    assert {side for side, _ in offered} == set(SIDES)
    checklist, record = loaded("arrive")
    both, told = together.begin(checklist, record)
    _, more = play(checklist, both)
    for side, effect in (*told, *more):
        if isinstance(effect, Offer) and effect.step in checklist.order:
            assert checklist.steps[effect.step].role in ("", side, BOTH), effect


@pytest.mark.parametrize("name", ["arrive", "depart", "hitch-up", "store-for-winter"])
def test_nobody_is_sent_inside_while_the_trailer_may_move(name: str) -> None:
    checklist, record = loaded(name)
    both, told = together.begin(checklist, record)
    for turn in range(900):
        side = SIDES[turn % 2]
        state = both.of(INSIDE)
        step = checklist.steps.get(state.at)
        if step and step.role == INSIDE and state.mode is Mode.STEP:
            assert "parked" in state.facts
            assert state.facts & {"hitched", "chocked"}
        event = usual(checklist, both.of(side))
        if event is not None:
            both, told = together.advance(checklist, both, side, event)
    if name == "arrive":
        assert not [s for s, step in checklist.steps.items() if step.role == INSIDE
                    and step.needs.holds(record)]


def at_the_slide() -> tuple[Checklist, Together]:
    """Both at the step that runs the slide-out, which takes two."""
    checklist, record = loaded("arrive")
    both, _ = together.begin(checklist, record)
    for turn in range(600):
        if all(state.at == "slide-run-out" for state in both.states):
            return checklist, both
        side = SIDES[turn % 2]
        event = usual(checklist, both.of(side))
        if event is not None and both.of(side).at != "slide-run-out":
            both, _ = together.advance(checklist, both, side, event)
    raise AssertionError("they never met at the slide-out")


def slide_is_out(checklist: Checklist, both: Together, side: str) -> tuple[Together, tuple[Told, ...]]:
    """One says that the slide-out is out, and confirms it."""
    both, told = together.advance(checklist, both, side, Respond())
    if both.of(side).mode is not Mode.CONFIRM:
        return both, told
    return together.advance(checklist, both, side, Confirm())


@pytest.mark.parametrize("first", SIDES)
def test_a_step_for_both_waits_for_both_answers(first: str) -> None:
    checklist, both = at_the_slide()
    assert not both.answered
    one, told = slide_is_out(checklist, both, first)
    assert told == ((first, Say(Reply.PARTNER_TO_ANSWER, "slide-run-out")),)
    assert one.of(first).facts == both.of(first).facts
    again, _ = slide_is_out(checklist, one, first)
    assert again.of(first).facts == both.of(first).facts, "nobody answers for the other one"
    two, _ = slide_is_out(checklist, one, together.partner(first))
    assert "slide extended" in two.of(first).facts
    assert status(checklist, two.of(OUTSIDE), "slide-run-out") is Status.DONE


def test_who_comes_first_to_a_step_for_both_waits_and_the_other_is_called() -> None:
    checklist, both = at_the_slide()
    other = next(name for name in checklist.order if checklist.steps[name].role == OUTSIDE
                 and permitted(checklist.steps[name], both.of(OUTSIDE).facts))
    apart, _ = together.advance(checklist, both, OUTSIDE, GoTo(other))
    assert apart.of(OUTSIDE).at == other and apart.of(INSIDE).at == "slide-run-out"
    alone, told = slide_is_out(checklist, apart, INSIDE)
    assert told == ((INSIDE, Say(Reply.PARTNER_NEEDED, "slide-run-out")),)
    assert alone.of(INSIDE).facts == apart.of(INSIDE).facts
    called, told = together.advance(checklist, alone, OUTSIDE, Skip())
    assert (OUTSIDE, Offer("slide-run-out")) in told and (INSIDE, Offer("slide-run-out")) in told
    assert [state.at for state in called.states] == ["slide-run-out"] * 2


def test_one_cannot_take_the_step_that_the_other_is_at() -> None:
    checklist, record = loaded("evening")
    both, _ = together.begin(checklist, record | {"parked"})
    theirs = both.of(INSIDE).at
    after, told = together.advance(checklist, both, OUTSIDE, GoTo(theirs))
    assert after == both and told == ((OUTSIDE, Say(Reply.PARTNER_HAS_IT, theirs)),)


def test_an_alarm_reaches_both_and_either_can_end_it() -> None:
    checklist, record = loaded("arrive")
    both, _ = together.begin(checklist, record)
    for turn in range(900):
        side = SIDES[turn % 2]
        step = checklist.steps.get(both.of(side).at)
        event = Answer(False) if step and step.question else usual(checklist, both.of(side))
        if "hitched" not in both.of(side).facts:
            break
        if event is not None:
            both, _ = together.advance(checklist, both, side, event)
    both, told = together.advance(checklist, both, INSIDE, Correct("chocked", False))
    assert {side for side, effect in told if isinstance(effect, Alarm)} == set(SIDES)
    assert all(state.mode is Mode.ALARM for state in both.states)
    for event in (Respond(), Confirm()):
        both, told = together.advance(checklist, both, OUTSIDE, event)
    assert not any(state.broken for state in both.states)
    assert (INSIDE, Reported(told_rule(told), Kind.RESOLVE)) in told


def told_rule(told: tuple[Told, ...]) -> str:
    return next(effect.subject for _, effect in told
                if isinstance(effect, Reported) and effect.kind is Kind.RESOLVE)


def test_finishing_for_now_ends_it_for_both_and_both_come_back() -> None:
    checklist, record = loaded("arrive")
    both, _ = together.begin(checklist, record)
    at = [state.at for state in both.states]
    both, _ = together.advance(checklist, both, INSIDE, Finish())
    assert [state.mode for state in both.states] == [Mode.SUSPENDED] * 2
    for side in SIDES:
        both, _ = together.advance(checklist, both, side, Resume())
    assert [state.at for state in both.states] == at


EVENTS = (Done(), Respond(), Confirm(), Confirm(), Deny(), Read("low"), Read("within"),
          Answer(True), Answer(False), Skip(), Problem(), Pause(), Resume(), TakeBack(),
          Unsure(Done()))


@settings(deadline=None, derandomize=True, database=None, max_examples=60,
          suppress_health_check=list(HealthCheck))
@given(checklists(most_steps=4), st.randoms(use_true_random=False))
def test_no_facts_come_about_that_one_operator_could_not_bring_about(
    checklist: Checklist, chance: random.Random
) -> None:
    """Against every state of the engine with one operator: what is proved holds for two."""
    roles = ["", INSIDE, OUTSIDE, BOTH]
    checklist = replace(checklist, steps={
        name: replace(step, role=chance.choice(roles)) for name, step in checklist.steps.items()})
    everything = explicit.walk(checklist, explicit.short_orders, most=400)
    assume(everything is not None)
    assert everything is not None
    alone = {state.facts for state in everything.states}
    for start in explicit.starts(checklist):
        both, _ = together.begin(checklist, start.facts)
        for _ in range(120):
            side = chance.choice(SIDES)
            event = chance.choice([
                *EVENTS, *map(GoTo, checklist.steps), *map(TakeBack, checklist.steps),
                *([likely] * 12 if (likely := usual(checklist, both.of(side))) else [])])
            both, told = together.advance(checklist, both, side, event)
            agree(checklist, both)
            assert both.of(side).facts in alone
            assert told or isinstance(event, Due)


def agree(checklist: Checklist, both: Together) -> None:
    """Both states say the same about what is common, and are possible."""
    one, two = both.states
    assert (one.facts, one.statuses, one.tries, one.waits, one.broken) == (
        two.facts, two.statuses, two.tries, two.waits, two.broken)
    assert bool(one.broken) is bool(broken_rule(checklist, one.facts))
    hash(both)
    for state in both.states:
        if state.mode is Mode.STEP:
            step = checklist.steps[state.at]
            assert step.applicable.holds(state.facts) and step.needs.holds(state.facts)
        assert (state.pending is not None) is (state.mode is Mode.CONFIRM)
    for side in both.answered:
        assert checklist.steps[both.of(side).at].role == BOTH
