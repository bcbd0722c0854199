"""The law: all of it is obeyed, drawn as it is, and what may be said is possible."""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from functools import cache

import pytest

from handsfree.checklist.model import Checklist
from handsfree.engine.advance import advance, begin
from handsfree.engine.changes import correctable
from handsfree.engine.law import LAW, LEADS, NEXT, Does, Moment, cell, moment
from handsfree.engine.state import (
    Answer,
    Ask,
    Confirm,
    Correct,
    Deny,
    Done,
    Due,
    Event,
    Expired,
    Finish,
    GoTo,
    Mode,
    Pause,
    Problem,
    Read,
    Reply,
    Respond,
    Resume,
    Say,
    Skip,
    State,
    TakeBack,
    Unclear,
    Unsure,
)
from handsfree.session.expecting import commands
from tests.engine.law import PAGE, does, mode, page
from tests.outside.adversary import CHECKLISTS, load_has, shipped, usual


def test_the_page_shows_the_law_as_it_is() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run: python -m tests.engine.law"


@cache
def may_be_corrected(checklist: Checklist) -> list[str]:
    return sorted(correctable(checklist))


def each_event(checklist: Checklist, state: State, chance: random.Random) -> tuple[Event, ...]:
    """One of each kind of event, about whatever step; one more that is not certain."""
    step = chance.choice([*checklist.steps, *sorted(state.waits) * 20])
    looks = sorted(state.facts & checklist.evidence.keys()) or ["none"]
    plain = (
        Done(), Respond(), Confirm(), Deny(), Skip(), Problem(), Pause(), Resume(), Finish(),
        Unclear(), Ask("why"), Answer(chance.random() < 0.5), Read(chance.choice(("within", "low"))),
        TakeBack(chance.choice(("", step))), GoTo(step), Due(step), Expired(chance.choice(looks)),
        Correct(chance.choice(may_be_corrected(checklist)), chance.random() < 0.5))
    return (*plain, Unsure(chance.choice(plain)))


_STATES = 150
"""States of each moment in which one event of each kind is tried besides the walk."""


@pytest.fixture(scope="module")
def walked() -> dict[tuple[Moment, type[Event]], set[Mode | None]]:
    """Where events led in walks through the shipped checklists; None where all stayed as it was."""
    found: dict[tuple[Moment, type[Event]], set[Mode | None]] = defaultdict(set)
    chance, looked = random.Random(11), Counter[Moment]()
    for name in CHECKLISTS * 3:
        checklist = shipped(name, "tandem-slide")

        def came_of(state: State, event: Event, checklist: Checklist = checklist) -> State:
            here = moment(checklist, state)
            after, effects = advance(checklist, state, event)
            found[here, type(event)].add(None if after == state else after.mode)
            if isinstance(reply := cell(here, type(event)), Reply):
                assert after == state and [one.reply for one in effects
                                           if isinstance(one, Say)] == [reply]
            return after

        state, _ = begin(checklist, checklist.start_facts | load_has("tandem-slide"))
        for _ in range(1000):
            events = each_event(checklist, state, chance)
            here = moment(checklist, state)
            if looked[here] < _STATES:
                looked[here] += 1
                for event in events:
                    came_of(state, event)
            rare = state.mode in (Mode.WAITING, Mode.BLOCKED, Mode.ALARM)
            wild = chance.random() < (0.9 if rare else 0.4)
            state = came_of(state, chance.choice(events) if wild else usual(
                checklist, state, chance))
    return found


def test_nothing_leads_where_the_law_does_not_say(
    walked: dict[tuple[Moment, type[Event]], set[Mode | None]]
) -> None:
    for (here, event), went in walked.items():
        what = LAW[here].get(event)
        allowed = set(LEADS[what]) if isinstance(what, Does) else set()
        assert went - {None} <= allowed | {mode(here)}, (here, event, went)


def test_what_the_law_says_is_possible_happens(
    walked: dict[tuple[Moment, type[Event]], set[Mode | None]]
) -> None:
    never = {(here, event) for here in Moment for event, what in does(here)
             if LEADS[what] and not walked[here, event] - {None} and mode(here) not in LEADS[what]
             or not walked[here, event]}
    assert not never


def test_what_comes_next_is_all_that_can(
    walked: dict[tuple[Moment, type[Event]], set[Mode | None]]
) -> None:
    assert set().union(*walked.values()) - {None} == set(Mode) and set(NEXT) < set(Mode)


@pytest.mark.parametrize("here", Moment)
def test_whatever_is_listened_for_is_possible(here: Moment) -> None:
    """A word that the engine would not take then only makes the others harder to hear."""
    assert here is Moment.CLOSED or commands(here) >= {"time"} or here in (
        Moment.CONFIRM, Moment.ALARM)
    assert ("done" in commands(here)) is (here in (Moment.STEP, Moment.WAITING))
    assert ("finish" in commands(here)) is (here not in (
        Moment.CONFIRM, Moment.SUSPENDED, Moment.CLOSED))
