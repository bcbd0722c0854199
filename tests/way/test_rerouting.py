"""Once the order is left, the way from where one stands: as safe, as complete, and shorter."""

from __future__ import annotations

import random
from functools import cache

import pytest

from handsfree.engine.advance import advance, begin
from handsfree.engine.choosing import broken_rule, permitted
from handsfree.engine.state import Due, GoTo, Mode, Offer, Refused, Skip, State, Status
from handsfree.language.loader import load_language
from handsfree.review.applying import good_event
from handsfree.session.on_the_way import OnTheWay
from handsfree.storage import lines
from handsfree.testing import MemoryLog
from handsfree.way.ordering import at_once, cost_of, least
from handsfree.way.rerouting import Rerouting
from handsfree.way.walking import walk
from tests.way.test_ordering import problem
from tests.way.test_shortest import in_order, layout, record


@pytest.mark.parametrize("seed", range(40))
def test_what_is_found_at_once_is_permitted_and_costs_what_it_says(seed: int) -> None:
    pieces, metrics, start = problem(random.Random(seed), 12)
    found, exact = at_once(pieces, metrics, start), least(pieces, metrics, start)
    assert exact is not None
    assert sorted(found.order) == list(range(12))
    assert all(pieces[k].after <= set(found.order[:n]) for n, k in enumerate(found.order))
    assert found.cost == pytest.approx(cost_of(found.order, pieces, metrics, start))
    assert found.cost >= exact.cost - 1e-9
    whole = at_once(pieces, metrics, start, 10 ** 6)
    assert whole.exact and whole.cost == pytest.approx(exact.cost)


@cache
def rerouting(name: str, rig: str) -> Rerouting:
    c, ground, begins = in_order(name, rig), layout(rig), record(name, rig)
    return Rerouting(c, ground, begins, walk(c, begins, ground.usually_no, clock=False))


@cache
def usual(name: str, rig: str) -> tuple[str, ...]:
    """What is reported where nothing is left for later, but questions."""
    steps = in_order(name, rig).steps
    done = walked(name, rig, 0, False, often=0)[0].reports
    return tuple(dict.fromkeys(step for step in done if not steps[step].question))


def walked(
    name: str, rig: str, seed: int, reroutes: bool, often: int = 2
) -> tuple[State, float, int, bool]:
    """A stay in which some steps are left for later: how it ends, seconds on foot, how often another
    step was gone to, and whether anything was refused or broke a rule."""
    c, ground, dice = in_order(name, rig), layout(rig), random.Random(seed)
    log = MemoryLog()
    talk = OnTheWay(c, load_language("en"), log,
                    on_the_way=rerouting(name, rig).next if reroutes else lambda state: "")
    talk.begin(record(name, rig), 0.0)
    answers = {step: step not in ground.usually_no for step in c.steps}
    skipped = set(dice.sample(usual(name, rig), often)) if often else set()
    refused = False
    names, seconds = list(ground.points), 0.0
    here = names.index(rerouting(name, rig)._start)
    reported: tuple[str, ...] = ()
    for _ in range(600):
        state = talk.state
        for step in state.reports[len(reported):]:
            for place in ground.at(c.steps[step]):
                there = names.index(place)
                seconds += ground.grounds["hitched" in state.facts].seconds[here][there]
                here = there
        reported = state.reports
        if state.mode is Mode.CLOSED:
            break
        refused |= broken_rule(c, state.facts) is not None
        if state.mode is Mode.WAITING:
            for step in sorted(state.waits):
                talk.take(Due(step), 0.0)
            continue
        event = good_event(c, state, answers, {})
        if state.at in skipped and state.mode is Mode.STEP:
            skipped.discard(state.at)
            event = Skip()
        assert event is not None
        talk.take(event, 0.0)
    gone = sum(isinstance(line, lines.Event) and isinstance(line.event, GoTo) for line in log.lines)
    refused |= any(isinstance(line, lines.Refused) for line in log.lines)
    return talk.state, seconds, gone, refused


@pytest.mark.parametrize(("name", "gone"), [("arrive", 5), ("depart", 1)])
def test_after_steps_left_for_later_it_comes_to_the_same_end_by_no_longer_way(
    name: str, gone: int
) -> None:
    """Twelve stays with two steps left for later, whichever they are."""
    plain, found, went = 0.0, 0.0, 0
    for seed in range(12):
        one, other = (walked(name, "small-single", seed, way) for way in (False, True))
        assert one[0].facts == other[0].facts and not other[3]
        assert one[0].mode is other[0].mode is Mode.CLOSED
        assert sorted(one[0].reports) == sorted(other[0].reports)
        plain, found, went = plain + one[1], found + other[1], went + other[2]
    assert found <= plain and went >= gone


def test_what_it_names_is_open_and_permitted_and_it_tears_nothing_apart() -> None:
    name, rig = "arrive", "tandem-slide"
    named = sum(names_on_a_walk(name, rig, random.Random(seed)) for seed in range(12))
    assert named > 3


def names_on_a_walk(name: str, rig: str, dice: random.Random) -> int:
    """How often another step is named on a walk with a step left for later now and then."""
    c, way = in_order(name, rig), rerouting(name, rig)
    state, _ = begin(c, record(name, rig))
    answers = {step: step not in layout(rig).usually_no for step in c.steps}
    named = 0
    for _ in range(400):
        if state.mode is Mode.CLOSED:
            break
        if state.mode is Mode.STEP:
            step = way.next(state)
            if step:
                named += 1
                assert state.statuses[c.index[step]] is Status.OPEN
                assert permitted(c.steps[step], state.facts) and step not in state.waits
                after, effects = advance(c, state, GoTo(step))
                assert after.at == step and Offer(step) in effects
                assert not any(isinstance(effect, Refused) for effect in effects)
        event = good_event(c, state, answers, {})
        if state.mode is Mode.STEP and not c.steps[state.at].question and dice.random() < 0.03:
            event = Skip()
        if event is None or state.mode is Mode.WAITING:
            break
        state, _ = advance(c, state, event)
    return named
