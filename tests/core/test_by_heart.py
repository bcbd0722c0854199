"""Work done by heart and reported together: nothing is passed over, refused or failed in silence."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from handsfree.checklist.conditions import parse
from handsfree.checklist.model import Checklist, Evidence, Fact, NeverRule, Reading, Remedy, Step
from handsfree.engine.by_heart import ahead, as_asked, may_be_held, report_of, reported
from handsfree.engine.state import (
    Closed,
    Done,
    Failed,
    Mode,
    Offer,
    Pause,
    Problem,
    Read,
    Refused,
    Respond,
    Skip,
)
from tests.core.parts import Run, stay_of


def known(name: str, do: str, **more: Any) -> Step:
    return Step(name, do, section="the water", by_heart=True, **more)


HOSE = known("hose", "Connect the hose.", gives=frozenset({"hose on"}))
TAP = known("tap", "Open the tap.", needs=parse("hose on"), gives=frozenset({"tap open"}),
            respond="tap is open", readback=False)
MAT = known("mat", "Lay the mat out.")
LOOK = Step("look", "Look for drips.", section="the water")
"""A look: whoever works by heart is asked for it all the same."""
FACTS = (Fact("hose on"), Fact("tap open"), Fact("sewer"), Fact("sewer answered"), Fact("dry"))


def water(*steps: Step, **more: Any) -> Checklist:
    return stay_of(FACTS, steps, **more)


LIST = water(HOSE, TAP, MAT, LOOK)


def together(checklist: Checklist, *, of: frozenset[str] | None = None, most: int = 9) -> tuple[str, ...]:
    """What may be reported together from the first step on."""
    return ahead(checklist, Run(checklist).state, checklist.steps if of is None else of, most)[0]


def test_a_hold_point_is_reported_by_its_own_response_and_other_work_as_done() -> None:
    assert report_of(TAP) == Respond()
    assert report_of(HOSE) == Done()


def test_a_report_of_several_is_their_reports_one_by_one() -> None:
    found, after, offer = ahead(LIST, Run(LIST).state, LIST.steps, 9)
    one_by_one = Run(LIST)(Done(), Respond(), Done())
    assert found == ("hose", "tap", "mat")
    assert after == one_by_one.state
    assert offer == one_by_one.effects[-1] == Offer("look")


def test_what_is_not_mastered_is_asked_for_and_ends_the_group() -> None:
    assert together(LIST, of=frozenset({"hose", "mat"})) == ("hose",)
    assert together(LIST, of=frozenset({"tap", "mat"})) == ()


def test_what_may_not_be_done_by_heart_is_not_however_well_it_is_known() -> None:
    assert together(water(replace(HOSE, by_heart=False), TAP, LOOK)) == ()


def test_no_more_are_read_back_than_anybody_can_listen_to() -> None:
    assert [together(LIST, most=most) for most in (0, 1, 2)] == [(), ("hose",), ("hose", "tap")]


def test_the_last_step_of_all_is_asked_for() -> None:
    """After it the program asks whether to close: an answer to two things at once is none."""
    assert together(water(HOSE, TAP)) == ("hose",)


def test_a_question_about_the_site_is_put_before_the_work_is_done() -> None:
    """Nobody is told to lay the hose by a program that has yet to ask whether there is a tap."""
    ask = Step("sewer", "Is there a sewer?", question=True,
               gives=frozenset({"sewer", "sewer answered"}))
    assert together(water(HOSE, ask, MAT, LOOK)) == ()
    assert together(water(MAT, HOSE, ask, LOOK)) == ("mat",)


def test_what_comes_again_after_a_skip_is_walked_step_by_step() -> None:
    """Whoever skipped it may have forgotten it: it is asked for by itself."""
    here = Run(water(HOSE, MAT, known("rug", "Lay the rug."), LOOK))(Skip(), Skip(), Skip(), Done())
    assert here.effects[-1] == Offer("hose", again="skipped")
    state = here.state
    found, after, offer = ahead(here.checklist, state, here.checklist.steps, 9)
    assert found == ("hose",) and after.at == "mat" and offer == Offer("mat", again="skipped")


def test_nothing_is_reported_together_while_a_fault_is_being_put_right() -> None:
    dry = Step("dry it", "Dry the joint.", gives=frozenset({"dry"}), by_heart=True, section="the water")
    seat = known("seat", "Seat the washer.")
    leak = Remedy("leak", "It leaks.", ("dry it", "seat"))
    checklist = stay_of(FACTS, (replace(HOSE, remedy="leak"), TAP, MAT, LOOK), inside=(dry, seat),
                        remedies=(leak,))
    here = Run(checklist)(Problem())
    assert here.state.at == "dry it" and here.state.remedies
    assert ahead(checklist, here.state, checklist.steps, 9) == ((), here.state, None)


def test_the_last_report_of_a_list_is_no_report_among_others() -> None:
    here = Run(water(HOSE))
    state, effects = reported(here.checklist, here.state, Done())
    assert state is here.state and Closed() in effects


def test_nothing_is_reported_together_in_a_pause() -> None:
    here = Run(LIST)(Pause())
    assert ahead(LIST, here.state, LIST.steps, 9) == ((), here.state, None)


def test_nothing_is_reported_together_at_a_readback() -> None:
    asked = as_asked(Run(LIST).state)
    assert asked.mode is Mode.CONFIRM and asked.pending == Done()
    assert ahead(LIST, asked, LIST.steps, 9) == ((), asked, None)


def test_a_step_that_must_wait_ends_the_group_and_leaves_everything_as_it_was() -> None:
    here = Run(water(TAP, MAT, LOOK))
    state, effects = reported(here.checklist, replace(here.state, at="tap"), Respond())
    assert state == replace(here.state, at="tap") and isinstance(effects[0], Refused)
    assert "tap" not in together(water(MAT, TAP, LOOK))


def test_a_response_that_is_read_back_does_not_count_with_others() -> None:
    """A slip in it could hurt somebody: it is confirmed for itself."""
    assert together(water(HOSE, replace(TAP, readback=True), MAT, LOOK)) == ("hose",)


def test_the_group_ends_before_a_step_that_would_break_a_never_rule() -> None:
    rule = NeverRule("flood", parse("tap open and not dry"), "It floods.", "Shut the tap.",
                     "tap is shut", ends=frozenset({"tap open"}))
    checklist = water(HOSE, TAP, MAT, LOOK, rules=(rule,))
    before = Run(checklist)(Done()).state
    state, effects = reported(checklist, before, Respond())
    assert state is before and isinstance(effects[0], Refused)
    assert together(checklist) == ("hose",)


NUMBER = known("pressure", "Read the gauge.", reading=Reading("psi", 20, 60), remedy="high")
HIGH = Remedy("high", "Too much.", ("lower",))
LOWER = Step("lower", "Turn the regulator down.")


def gauge(step: Step) -> Run:
    return Run(stay_of(FACTS, (step, MAT, LOOK), inside=(LOWER,), remedies=(HIGH,)))


def test_a_number_within_its_limits_counts_at_once_and_one_outside_does_not() -> None:
    here = gauge(NUMBER)
    state, effects = reported(here.checklist, here.state, Read("within"))
    assert state.at == "mat" and effects[-1] == Offer("mat")
    dry = gauge(replace(NUMBER, needs=parse("hose on")))
    at_it = replace(dry.state, at="pressure")
    state, effects = reported(dry.checklist, at_it, Read("within"))
    assert state is at_it and isinstance(effects[0], Refused), "why it was refused is told"
    for band in ("low", "high"):
        state, effects = reported(here.checklist, here.state, Read(band))
        assert state is here.state and Failed("pressure", band) in effects


@pytest.mark.parametrize("step, may", [
    (replace(NUMBER, readback=False), True),
    (NUMBER, False),
    (replace(NUMBER, readback=False, section=""), False),
    (replace(NUMBER, readback=False, reading=None), False),
    (replace(NUMBER, readback=False, gives=frozenset({"tested"})), False),
    (replace(NUMBER, readback=False, gives=frozenset({"hose on"})), True),
], ids=["harmless", "somebody could be hurt", "of no named work", "no number", "evidence", "a plain fact"])
def test_which_numbers_may_be_confirmed_together(step: Step, may: bool) -> None:
    checklist = stay_of((*FACTS, Fact("tested", evidence=Evidence())), (step, LOOK))
    assert may_be_held(checklist, step) is may
