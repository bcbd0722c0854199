"""When something fails or was a slip: nobody is led on as if it were good, nor sent round in vain."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.checklist.conditions import Literal, parse
from handsfree.checklist.model import (
    Checklist,
    Evidence,
    Fact,
    NeverRule,
    Reading,
    Remedy,
    Step,
    Wait,
)
from handsfree.engine.changes import Kind
from handsfree.engine.state import (
    Answer,
    Confirm,
    Done,
    Due,
    Event,
    Failed,
    GoTo,
    Mode,
    Offer,
    Problem,
    Read,
    Refused,
    RemedyBegins,
    Reply,
    Reported,
    Say,
    Skip,
    Skipped,
    Status,
    TakeBack,
    WaitBegins,
)
from tests.core.parts import Run, stay_of

FACTS = (Fact("breaker on"), Fact("meter proved", evidence=Evidence(voids=frozenset({"swap"}))),
         Fact("outlet good"), Fact("no supply"), Fact("post open"), Fact("lead out"))
POST = stay_of(
    FACTS,
    (Step("prove", "Prove the meter.", gives=frozenset({"meter proved"})),
     Step("breaker", "Breaker on.", gives=frozenset({"breaker on"}), remedy="stuck"),
     Step("volts", "Read the volts.", needs=parse("breaker on and meter proved"),
          gives=frozenset({"outlet good"}), reading=Reading("volts", 108, 127), remedy="bad outlet",
          stop="far off"),
     Step("lead", "Lay the lead out.", needs=parse("outlet good"), gives=frozenset({"lead out"})),
     Step("mat", "Lay the mat out.")),
    remedies=(Remedy("bad outlet", "That outlet is bad.", ("off", "open", "other"), 2, "Stop.",
                     gives=frozenset({"no supply"}), ends=frozenset({"meter proved"})),
              Remedy("far off", "That is no outlet for you.", ("away",), 0),
              Remedy("stuck", "The breaker is stuck.", ("oil", "tap it"), 0)),
    inside=(Step("off", "Breaker off.", ends=frozenset({"breaker on"})),
            Step("open", "Open the post.", gives=frozenset({"post open"}), remedy="stuck"),
            Step("other", "Move to the other outlet.", acts=frozenset({"swap"}),
                 voids=frozenset({"meter proved"})),
            Step("away", "Keep away from it."), Step("oil", "Oil the hinge."),
            Step("tap it", "Tap it.")))
TO_VOLTS: tuple[Event, ...] = (Done(), Done())
LOW: tuple[Event, ...] = (Read("low"), Confirm())


def run(*events: Event, checklist: Checklist = POST) -> Run:
    return Run(checklist)(*events)


# --- refusals ----------------------------------------------------------------------------------

def test_what_endangers_nobody_is_refused_in_the_name_of_no_rule() -> None:
    assert run(GoTo("volts")).effects == (Refused(
        "volts", (Literal("breaker on"), Literal("meter proved")), "", ("breaker", "prove")),)


def test_what_must_not_be_so_is_told_as_such() -> None:
    """ "The trailer is coupled" must not be told as "the trailer has to be coupled"."""
    cord = NeverRule("cord", parse("breaker on and lead out"), "The cord is dragged live.")
    live = replace(POST, rules=(cord,), digest="live")
    refused = Run(live, frozenset({"lead out"}))(GoTo("breaker"), Done())
    assert refused.effects == (Refused("breaker", (Literal("lead out", False),), "cord", (), True),)


def test_what_cannot_fail_is_told_by_its_name() -> None:
    assert run(Problem()).effects == (Say(Reply.NO_REMEDY, "prove"),)
    assert run(TakeBack("mat")).effects == (Say(Reply.DOES_NOT_STAND, "mat"),)


# --- a remedy ----------------------------------------------------------------------------------

def test_the_first_failure_gives_nothing_up() -> None:
    """There may be a good outlet yet; and none was shown to be."""
    failed = run(*TO_VOLTS, *LOW)
    assert failed.effects == (Failed("volts", "low"), RemedyBegins("volts", "bad outlet"),
                              Offer("off"))
    assert failed.facts == {"meter proved", "breaker on"}


def test_giving_up_says_what_is_so_then_and_asks_for_nothing_more_on_its_behalf() -> None:
    """Nobody proves a meter for an outlet that was given up."""
    twice = run(*TO_VOLTS, *LOW, GoTo("volts"), *LOW)
    assert twice.facts == {"no supply", "breaker on"} and twice.state.remedies == ()
    assert Reported("volts", Kind.GIVE_UP, remedy="bad outlet") in twice.effects
    assert twice.status("volts") is Status.FAILED and twice.status("prove") is Status.DONE
    assert twice.state.at == "mat"


def test_a_value_of_which_the_sum_says_do_not_has_its_own_remedy() -> None:
    """Who is told to keep away must not be told to try the next outlet of the same post."""
    stop = run(*TO_VOLTS, Read("stop"), Confirm())
    assert stop.effects == (Failed("volts", "stop"), RemedyBegins("volts", "far off"), Offer("away"))
    assert run(*TO_VOLTS, *LOW).state.at == "off"


def test_a_bad_reading_without_a_remedy_leaves_the_step_open() -> None:
    plain = replace(POST, steps={**POST.steps, "volts": replace(
        POST.steps["volts"], remedy="", stop="")}, digest="plain")
    failed = run(*TO_VOLTS, Read("within"), Confirm(), GoTo("volts"), *LOW, checklist=plain)
    assert failed.effects == (Failed("volts", "low"), Say(Reply.NO_REMEDY, "volts"))
    assert failed.status("volts") is Status.OPEN
    assert [failed.status(step) for step in ("breaker", "lead")] == [Status.DONE, Status.OPEN]


def test_what_a_remedys_step_undoes_is_done_again_and_what_the_order_undoes_is_not() -> None:
    """A breaker that was switched off on purpose, at the end, is not offered to be switched on."""
    assert run(*TO_VOLTS, *LOW, Done()).status("breaker") is Status.OPEN
    last = replace(POST.steps["off"], id="last", needs=parse("lead out"))
    leave = replace(POST, steps={**POST.steps, "last": last}, order=(*POST.order, "last"),
                    digest="leave")
    off = run(*TO_VOLTS, Read("within"), Confirm(), Done(), GoTo("last"), Done(), checklist=leave)
    assert "breaker on" not in off.facts and off.status("breaker") is Status.DONE


def test_a_look_that_the_step_itself_has_used_up_is_not_asked_for_again() -> None:
    pull = Step("pull", "Pull the plug.", needs=parse("meter proved"),
                voids=frozenset({"meter proved"}))
    once = replace(POST, steps={**POST.steps, "pull": pull}, order=("prove", "pull", "mat"),
                   digest="once")
    pulled = run(Done(), Done(), checklist=once)
    assert pulled.facts == frozenset() and pulled.status("prove") is Status.DONE
    assert pulled.state.at == "mat"


# --- a remedy within a remedy ------------------------------------------------------------------

INNER: tuple[Event, ...] = (*TO_VOLTS, *LOW, Done(), Problem())
"""The volts are low; opening the post on the way to the other outlet fails as well."""


def test_skipping_leaves_the_inner_remedy_as_a_whole_and_the_outer_goes_on() -> None:
    left = run(*TO_VOLTS, *LOW, Skip())
    assert left.state.remedies == () and left.state.at == "volts"  # not the remedy's next step
    inner = run(*INNER)
    assert inner.state.remedies == ("volts", "open") and inner.state.at == "oil"
    inner(Skip())
    assert inner.state.remedies == ("volts",) and inner.state.at == "open"
    assert inner.status("tap it") is Status.OPEN and inner.status("oil") is Status.SKIPPED


def test_going_to_a_step_of_the_outer_remedy_leaves_the_inner_alone() -> None:
    assert run(*INNER, GoTo("tap it")).state.remedies == ("volts", "open")
    assert run(*INNER, GoTo("other")).state.remedies == ("volts",)
    assert run(*INNER, GoTo("mat")).state.remedies == ()


def test_a_step_of_the_order_that_mends_is_skipped_without_leaving_the_remedy() -> None:
    """The breaker has to be on before the volts can be read again: that stays so."""
    mending = run(*TO_VOLTS, *LOW, Done(), Done(), Done())
    assert mending.state.at == "breaker" and mending.state.remedies == ("volts",)
    mending(Problem())
    assert mending.state.remedies == ("volts", "breaker")


def test_a_remedys_step_that_was_done_stays_done_when_it_is_gone_to_and_skipped() -> None:
    again = run(GoTo("off"))
    assert again.says() == ["does not apply"]
    tapped = run(GoTo("tap it"), Done(), GoTo("tap it"), Skip())
    assert tapped.status("tap it") is Status.DONE


def test_a_step_that_fails_within_its_own_remedy_begins_it_anew() -> None:
    """Else the state would grow with each failure, and no proof would have seen it."""
    good = replace(POST, facts={**POST.facts, "outlet good": Fact("outlet good")}, digest="good")
    anew = run(*INNER, checklist=good)
    anew.state = replace(anew.state, facts=anew.facts | {"breaker on", "outlet good"})
    anew(TakeBack("volts"))
    assert anew.state.at == "volts" and anew.state.remedies == ("volts", "open")
    first = anew.state
    assert anew(Read("stop"), Confirm()).state.remedies == ("volts",)
    anew.state = first
    assert anew(*LOW).state.remedies == () and anew.status("volts") is Status.FAILED


def test_nobody_is_asked_about_the_site_again_because_something_failed() -> None:
    """Whether there is a tap was seen once; that the tap is shut now does not make it a question."""
    tap = Step("tap", "Is there a tap?", question=True, gives=frozenset({"tap", "tap answered"}))
    hose = Step("hose", "Connect the hose.", needs=parse("tap"), gives=frozenset({"hose on"}),
                remedy="burst")
    checklist = stay_of(
        (Fact("tap"), Fact("tap answered"), Fact("hose on")),
        (tap, hose, Step("rinse", "Rinse it.", needs=parse("hose on and tap")), Step("mat", "Mat out.")),
        remedies=(Remedy("burst", "It has burst.", ("shut",), 0),),
        inside=(Step("shut", "Shut the tap for good.", ends=frozenset({"tap"})),))
    shut = run(Answer(True), Problem(), Done(), checklist=checklist)
    assert "tap" not in shut.facts and shut.status("tap") is Status.DONE


def test_the_inner_remedy_ends_by_itself_and_the_outer_goes_on() -> None:
    """Whoever has freed the hinge still has a bad outlet: nothing may be told as if it were good."""
    freed = run(*INNER, Done(), Done())
    assert freed.state.remedies == ("volts",) and freed.state.at == "open"
    assert freed.effects[-1] == Offer("open", "remedied")


def test_what_the_failed_step_waits_for_is_offered_as_what_it_is() -> None:
    """The breaker comes on again for the next try: it was neither skipped nor put right."""
    assert run(*TO_VOLTS, *LOW, Done(), Done(), Done()).effects[-1] == Offer("breaker")


def test_a_failed_step_that_nothing_can_bring_within_reach_is_told_and_left() -> None:
    """Nobody is sent round in a remedy whose step he cannot try again, and nobody is told nothing."""
    lead = replace(POST.steps["lead"], needs=parse("outlet good and sun up"), remedy="damp")
    checklist = replace(
        POST, facts={**POST.facts, "sun up": Fact("sun up", start=True)}, digest="dusk",
        steps={**POST.steps, "lead": lead,
               "dry": Step("dry", "Dry it.", ends=frozenset({"sun up"}))},
        remedies={**POST.remedies, "damp": Remedy("damp", "It is damp.", ("dry",), 0)})
    late = run(*TO_VOLTS, Read("within"), Confirm(), Problem(), Done(), checklist=checklist)
    assert Say(Reply.HAS_TO_WAIT, "lead") in late.effects
    assert late.state.remedies == () and late.effects[-1] == Offer("mat")


# --- waits -------------------------------------------------------------------------------------

LOOK = Step("look", "Look for drips.", only_if=parse("post open"), wait=Wait("mat", 10))
AGAIN = Step("again", "Look again.", wait=Wait("mat", 20), remedy="far off")
WAITS = replace(POST, steps={**POST.steps, "look": LOOK, "again": AGAIN},
                order=("mat", "look", "again"), digest="waits")


def test_no_wait_begins_for_a_step_that_this_rig_does_not_have() -> None:
    assert run(Done(), checklist=WAITS).state.waits == {"again"}
    begun = Run(WAITS, frozenset({"post open"}))(Done())
    assert begun.state.waits == {"look", "again"}
    assert begun.effects[1:3] == (WaitBegins("look"), WaitBegins("again"))


def test_who_waits_for_two_no_longer_is_told_once() -> None:
    left = Run(WAITS, frozenset({"post open"}))(Done(), Skip())
    assert left.effects[0] == Skipped("look") and not left.of(Skipped)[1:]
    assert [left.status(step) for step in ("look", "again")] == [Status.LEFT] * 2


def test_what_failed_before_it_was_due_is_waited_for_no_more() -> None:
    """A leak that was found is found: it is mended now, not when the wait is over."""
    found = run(Done(), GoTo("again"), Problem(), checklist=WAITS)
    assert found.state.waits == frozenset() and found.state.at == "away"
    assert found(Done()).effects[-1] == Offer("again", "remedied")


# --- going to, taking back ---------------------------------------------------------------------

@pytest.mark.parametrize(("events", "mode"), [
    ((Done(),), Mode.WAITING), ((Done(), Skip()), Mode.CLOSING)])
def test_whoever_goes_to_a_step_is_at_that_step(events: tuple[Event, ...], mode: Mode) -> None:
    """Its answer counts, and a yes is not taken as one to closing the list."""
    there = run(*events, checklist=WAITS)
    assert there.state.mode is mode
    assert there(GoTo("mat")).state.mode is Mode.STEP
    assert there(Answer(True)).says() == ["not now"]


def test_what_was_taken_back_comes_next_though_others_are_open() -> None:
    back = run(GoTo("mat"), Done(), TakeBack("mat"))
    assert back.state.at == "mat" and back.effects[-1] == Offer("mat")


TWICE = replace(POST, steps={
    "near": Step("near", "Near breaker on.", gives=frozenset({"breaker on"})),
    "far": Step("far", "Far breaker on.", gives=frozenset({"breaker on"})),
    "shut": Step("shut", "Near breaker off.", ends=frozenset({"breaker on"})),
    "lead": Step("lead", "Lay the lead out.", needs=parse("not breaker on"))},
    order=("near", "far", "shut", "lead"), digest="twice", remedies={})


def test_taking_one_report_back_opens_no_other_of_the_same() -> None:
    """One slip: the operator is not sent to both breakers."""
    on = run(Done(), Done(), TakeBack("far"), checklist=TWICE)
    assert on.facts == frozenset() and on.state.at == "far"
    assert on.status("near") is Status.DONE
    also = replace(TWICE, steps={**TWICE.steps, "cut": replace(TWICE.steps["shut"], id="cut")},
                   order=("near", "shut", "far", "cut", "lead"), digest="also")
    off = run(Done(), Done(), Done(), Done(), TakeBack("cut"), checklist=also)
    assert off.facts == {"breaker on"} and off.status("shut") is Status.DONE


def test_a_wait_that_is_over_is_not_told_of_a_step_that_does_not_apply() -> None:
    assert run(Done(), Due("look"), checklist=WAITS).effects == ()
