"""What would hurt somebody if a report counted that must not, or did not undo what it should."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.checklist.conditions import Literal
from handsfree.checklist.model import Checklist, Fact, Reading, Remedy, Step
from handsfree.engine.changes import Kind
from handsfree.engine.state import (
    Alarm,
    Answer,
    Ask,
    AskToClose,
    CannotClose,
    Changed,
    Closed,
    Confirm,
    Correct,
    Deny,
    Done,
    Due,
    Event,
    Expired,
    Failed,
    Finish,
    GoTo,
    Mode,
    Offer,
    Pause,
    Paused,
    Problem,
    Read,
    ReadBack,
    Refused,
    RemedyBegins,
    Reply,
    Reported,
    Respond,
    Resume,
    Say,
    Skip,
    Skipped,
    Status,
    Suspended,
    TakeBack,
    Unclear,
    Unsure,
    WaitBegins,
    Waiting,
)
from tests.core.parts import Run, stay_of

CHOCK: tuple[Event, ...] = (Respond(), Confirm())
TO_VOLTS: tuple[Event, ...] = (Answer(True), *CHOCK, Done(), Done(), Done())
TO_MAT: tuple[Event, ...] = (*TO_VOLTS, Read("within"), Confirm(), Done())
NOTHING: frozenset[str] = frozenset()


def changed(*on: str, off: tuple[str, ...] = ()) -> Changed:
    return Changed(frozenset(on), frozenset(off))


# --- what must not count -----------------------------------------------------------------------

@pytest.mark.parametrize("event", [Done(), Respond(), Answer(True), Confirm(), Resume()])
def test_a_reading_is_never_done_without_a_value(stay: Checklist, event: Event) -> None:
    """An outlet that nobody has measured would be taken as good."""
    run = Run(stay)(*TO_VOLTS)
    assert run.state.at == "volts"
    before = run.state
    assert run(event).state == before and "outlet good" not in run.facts


@pytest.mark.parametrize("event", [Done(), Read("within"), Answer(True), Confirm()])
def test_a_hold_point_is_not_done_by_another_word(stay: Checklist, event: Event) -> None:
    """A cough taken for "done" would have the truck pulled from an unchocked trailer."""
    run = Run(stay)(Answer(True))
    before = run.state
    assert run(event).state == before and "chocked" not in run.facts


def test_the_response_of_a_hold_point_counts_once_it_is_confirmed(stay: Checklist) -> None:
    run = Run(stay)(Answer(True), Respond())
    assert run.effects == (ReadBack(Respond(), "chock"),) and run.state.mode is Mode.CONFIRM
    assert run.state.pending == Respond() and "chocked" not in run.facts
    run(Confirm())
    assert run.effects == (changed("chocked"), Reported("chock", Kind.REPORT), Offer("try them"))
    assert run.state.pending is None and run.status("chock") is Status.DONE
    assert run.state.reports == ("water here", "chock")


def test_one_that_hurts_nobody_needs_no_readback(stay: Checklist) -> None:
    steps = {**stay.steps, "chock": replace(stay.steps["chock"], readback=False)}
    run = Run(replace(stay, steps=steps, digest="plain"))(Answer(True), Respond())
    assert "chocked" in run.facts and run.state.at == "try them"


@pytest.mark.parametrize("events", [(Respond(),), (Unsure(Respond()),), (Read("within"),),
                                    (Unsure(Read("low")),), (Unsure(Confirm()),),
                                    (Unsure(Unsure(Done())),), (Unsure(Answer(True)), Deny())])
def test_at_an_ordinary_step_no_such_word_brings_it_about(
    stay: Checklist, events: tuple[Event, ...]
) -> None:
    run = Run(stay)(Answer(True), *CHOCK)
    before = run.state
    assert run(*events).state == before


@pytest.mark.parametrize(("event", "says"), [
    (Respond(), "not now"), (Read("within"), "not now"), (Answer(True), "not now"),
    (Confirm(), "not now"), (Deny(), "not now"), (Resume(), "not now"),
    (Unclear(), "unclear"), (Unsure(Respond()), "say again"), (Unsure(Read("low")), "say again"),
    (Unsure(Confirm()), "say again"), (Unsure(Unclear()), "unclear"), (Problem(), "no remedy"),
    (GoTo("nowhere"), "not now"), (TakeBack("mat"), "does not stand"),
    (TakeBack("nowhere"), "nothing to take back"), (Correct("nothing", True), "not now"),
    (Correct("tried", True), "look yourself"), (Correct("hitched", True), "so already"),
    (Ask("help"), "help"), (Ask("status"), "status"), (Ask("remaining"), "remaining"),
    (Ask("detail"), "detail"), (Ask("why"), "why"), (Unsure(Ask("why")), "why")])
def test_whatever_is_said_is_answered_and_changes_nothing(
    stay: Checklist, event: Event, says: str
) -> None:
    run = Run(stay)(Answer(True), *CHOCK)
    before = run.state
    assert run(event).says() == [says] and run.state == before


def test_what_is_answered_tells_what_is_asked(stay: Checklist) -> None:
    run = Run(stay)(Answer(True), *CHOCK)
    left = ("try them", "pull away", "breaker", "volts", "hose", "drip", "mat")
    assert run(Ask("status")).effects == (Say(Reply.STATUS, "try them", others=left),)
    assert run(Ask("remaining")).effects == (Say(Reply.REMAINING, "try them", others=left),)
    assert run(Ask("next")).effects == (Say(Reply.NEXT, "try them", others=("pull away",)),)
    assert run(Ask("help")).effects == (Say(Reply.HELP, "try them"),)
    assert run(Ask("repeat")).effects == (Offer("try them", "repeated"),)
    assert run(Ask("something of another version")).effects == (Offer("try them", "repeated"),)
    run(Done())
    assert run(Ask("why")).effects == (Say(Reply.WHY, "pull away", others=("roll",)),)


def test_an_order_that_would_hurt_is_refused_with_what_is_missing(stay: Checklist) -> None:
    run = Run(stay)(Answer(True), GoTo("pull away"))
    assert run.effects == (Refused(
        "pull away", (Literal("chocked"), Literal("tried")), "roll", ("chock", "try them")),)
    assert run.state.at == "chock" and run.state.mode is Mode.STEP


def test_what_the_danger_hangs_on_is_told_first(stay: Checklist) -> None:
    steps = {**stay.steps, "pull away": replace(
        stay.steps["pull away"], needs=replace(
            stay.steps["pull away"].needs, parts=(Literal("tried"), Literal("chocked"))))}
    run = Run(replace(stay, steps=steps, digest="turned"))(Answer(True), GoTo("pull away"))
    (refused,) = run.of(Refused)
    assert isinstance(refused, Refused) and refused.missing[0] == Literal("chocked")


def test_what_is_true_no_longer_is_refused_when_it_is_confirmed(stay: Checklist) -> None:
    """Between the readback and the word, the look that it rests on has grown old."""
    run = Run(stay)(Answer(True), *CHOCK, Done(), Unsure(Done()))
    assert run.state.mode is Mode.CONFIRM and run.state.at == "pull away"
    run(Expired("tried"))
    assert run.state.pending is None and "tried" not in run.facts
    assert run.effects == (changed(off=("tried",)), Say(
        Reply.EVIDENCE_ENDED, facts=(Literal("tried"),)), Offer("try them"))
    assert "hitched" in run(Confirm()).facts


def test_no_step_is_reported_against_a_rule_that_its_interlock_forgets(stay: Checklist) -> None:
    steps = {**stay.steps, "pull away": replace(
        stay.steps["pull away"], needs=replace(stay.steps["pull away"].needs, parts=()))}
    run = Run(replace(stay, steps=steps, digest="weak"))(Answer(True), GoTo("pull away"), Done())
    assert run.effects == (Refused("pull away", (Literal("chocked"),), "roll", ("chock",), True),)
    assert "hitched" in run.facts


def test_a_step_that_does_not_apply_says_why(stay: Checklist) -> None:
    run = Run(stay)(Answer(False), GoTo("hose"))
    assert run.effects == (Say(Reply.DOES_NOT_APPLY, "hose", (Literal("water here"),)),)
    asked = Run(stay)(GoTo("hose"))
    assert asked.says() == ["does not apply"] and asked.state.at == "water here"


# --- readbacks ---------------------------------------------------------------------------------

def test_a_wrong_readback_changes_nothing_and_the_step_is_read_again(stay: Checklist) -> None:
    run = Run(stay)(Answer(True))
    before = run.state
    assert run(Respond(), Deny()).state == before
    assert run.effects == (Say(Reply.WITHDRAWN), Offer("chock", "repeated"))


def test_another_value_is_read_back_anew_and_only_it_counts(stay: Checklist) -> None:
    run = Run(stay)(*TO_VOLTS, Read("within"), Read("high"))
    assert run.effects == (ReadBack(Read("high"), "volts"),)
    run(Confirm())
    assert "outlet good" not in run.facts and Failed("volts", "high") in run.effects


@pytest.mark.parametrize("event", [Done(), Skip(), Respond(), Answer(True), GoTo("mat"), TakeBack(),
                                   Problem(), Correct("chocked", False), Resume()])
def test_during_a_readback_nothing_else_counts(stay: Checklist, event: Event) -> None:
    run = Run(stay)(*TO_VOLTS, Read("within"))
    before = run.state
    assert run(event).state == before and run.says() == ["confirm first"]
    assert run(Unsure(Confirm())).state == before and run.says() == ["say again"]
    assert run(Ask("repeat")).effects == (ReadBack(Read("within"), "volts"),)


def test_a_pause_or_an_end_voids_what_was_read_back(stay: Checklist) -> None:
    for event, mode, effect in (
            (Pause(), Mode.PAUSED, Paused("chock")),
            (Finish(), Mode.SUSPENDED, Suspended("chock", (
                "chock", "try them", "pull away", "breaker", "volts", "hose", "drip", "mat")))):
        run = Run(stay)(Answer(True), Respond(), event)
        assert run.state.mode is mode and run.state.pending is None
        assert run.effects == (effect,)
        assert run(Confirm()).says() == ["paused still"] and "chocked" not in run.facts
        assert run.effects == (Say(Reply.PAUSED_STILL, "chock"),)
        assert run(Ask("repeat")).effects == (Say(Reply.PAUSED_STILL, "chock"),)


def test_an_uncertain_order_is_asked_and_then_carried_out(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT, Unsure(Skip()))
    assert run.effects == (ReadBack(Skip(), "mat"),)
    assert run(Confirm()).status("mat") is Status.SKIPPED
    run = Run(stay)(Answer(True), Unsure(Pause()), Confirm())
    assert run.state.mode is Mode.PAUSED
    run = Run(stay)(Answer(True), Unsure(Finish()), Confirm())
    assert run.state.mode is Mode.SUSPENDED


# --- failing -----------------------------------------------------------------------------------

def test_a_bad_reading_leads_into_its_remedy(stay: Checklist) -> None:
    run = Run(stay)(*TO_VOLTS, Read("low"), Confirm())
    assert run.effects == (Failed("volts", "low"), RemedyBegins("volts", "bad outlet"),
                           Offer("breaker off"))
    assert run.state.remedies == ("volts",) and run.state.tries == (("volts", 1),)
    assert run.status("volts") is Status.OPEN and run.state.stopped == NOTHING
    run(Done())
    assert run.effects[:2] == (changed(off=("breaker on",)), Reported("breaker off", Kind.REPORT))
    assert run.status("breaker") is Status.OPEN  # what a remedy undoes has to be done again
    run(Done())
    assert run.state.at == "breaker"
    run(Done())
    assert run.effects[-1] == Offer("volts", "remedied") and run.state.remedies == ()


def test_the_second_failure_gives_up_and_nothing_counts_as_shown(stay: Checklist) -> None:
    run = Run(stay)(*TO_VOLTS, Read("low"), Confirm(), Done(), Done(), Done(), Problem())
    assert run.effects[:2] == (Failed("volts", "problem"),
                               Reported("volts", Kind.GIVE_UP, remedy="bad outlet"))
    assert run.status("volts") is Status.FAILED and run.state.tries == (("volts", 2),)
    assert run.state.remedies == () and "outlet good" not in run.facts
    assert run.state.at != "volts"
    assert run(GoTo("volts"), Skip()).status("volts") is Status.FAILED


def test_a_verdict_that_says_do_not_is_remembered_until_the_step_fails_otherwise(
    stay: Checklist
) -> None:
    run = Run(stay)(*TO_VOLTS, Read("stop"), Confirm())
    assert run.state.stopped == {"volts"} and Failed("volts", "stop") in run.effects
    run(GoTo("volts"), Read("high"), Confirm())
    assert run.state.stopped == NOTHING


def test_a_test_that_fails_withdraws_what_it_was_to_show(stay: Checklist) -> None:
    steps = {**stay.steps, "try them": replace(stay.steps["try them"], remedy="bad outlet")}
    run = Run(replace(stay, steps=steps, digest="tests"))(
        Answer(True), *CHOCK, Done(), GoTo("try them"), Problem())
    assert "tried" not in run.facts and run.status("try them") is Status.OPEN
    assert run.effects[0] == changed(off=("tried",))


def test_a_problem_is_refused_where_the_step_may_not_be_begun(stay: Checklist) -> None:
    run = Run(stay)(*TO_VOLTS)
    run.state = replace(run.state, facts=run.facts - {"breaker on"})
    before = run.state
    assert run(Problem()).state == before and run.of(Refused)
    assert not run(Read("low")).says() and run.of(Refused) and run.state == before


def test_a_remedy_that_is_skipped_is_left_as_a_whole(stay: Checklist) -> None:
    run = Run(stay)(*TO_VOLTS, Read("low"), Confirm(), Skip())
    assert run.state.remedies == () and run.status("breaker off") is Status.SKIPPED
    assert run.effects[0] == Skipped("breaker off")


def test_going_elsewhere_leaves_the_remedy_going_to_its_step_does_not(stay: Checklist) -> None:
    run = Run(stay)(*TO_VOLTS, Read("low"), Confirm())
    assert run(GoTo("other outlet")).of(Refused)
    assert run(GoTo("breaker off")).state.remedies == ("volts",)
    assert run(GoTo("mat")).state.remedies == ()
    assert run.effects == (Offer("mat"),)


# --- order, waits ------------------------------------------------------------------------------

def test_skipped_is_offered_again_once_and_then_left_open(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT)
    assert run.state.at == "mat"
    assert run(Skip()).effects == (Skipped("mat"), Offer("mat", "skipped"))
    run(Skip())
    assert run.status("mat") is Status.LEFT and run.state.mode is Mode.WAITING
    run(Due("drip"), Done())
    assert run.state.mode is Mode.CLOSING and run.effects[-1] == AskToClose(("mat",))
    again = Run(stay)(*TO_MAT, Skip(), Skip(), Due("drip"), Done(), GoTo("mat"), Skip())
    assert again.status("mat") is Status.LEFT
    assert again(Answer(False)).effects == (Offer("mat", "skipped"),)
    assert again.status("mat") is Status.SKIPPED
    assert run(Answer(True)).effects == (Closed(("mat",)),) and run.state.mode is Mode.CLOSED


def test_what_is_done_stays_done_when_it_is_gone_to_and_skipped(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT, GoTo("breaker"), Skip())
    assert run.status("breaker") is Status.DONE


def test_a_wait_begins_with_the_report_and_ends_by_itself(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT)
    assert run.state.waits == {"drip"} and WaitBegins("drip") in run.effects
    assert run(Ask("repeat"), Done()).effects[-1] == Waiting(("drip",))
    assert run.state.mode is Mode.WAITING and run.state.at == ""
    assert run(Done()).effects == (Waiting(("drip",)),)
    assert run(Due("drip")).effects == (Offer("drip", "due"),) and not run.state.waits


def test_a_wait_that_ends_during_work_is_told_and_at_a_hold_point_is_not(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT, Due("drip"))
    assert run.effects == (Say(Reply.DUE, "drip"),) and run.state.at == "mat"
    for events in ((Respond(),), ()):
        hold = Run(stay)(*TO_MAT, TakeBack("try them"), TakeBack("pull away"), GoTo("chock"),
                         *events)
        hold(Due("drip"))
        assert hold.effects == () and hold.state.waits == NOTHING
    paused = Run(stay)(*TO_MAT, Pause(), Due("drip"))
    assert paused.effects == (Say(Reply.DUE, "drip"),) and paused.state.mode is Mode.PAUSED
    over = Run(stay)(*TO_MAT, Finish(), Due("drip"))
    assert over.effects == () and over.state.mode is Mode.SUSPENDED


def test_a_wait_that_nobody_waits_for_ends_in_silence(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT)
    assert run(Due("volts")).effects == () and run.state.waits == {"drip"}
    run.state = replace(run.state, facts=run.facts - {"hose out"})
    assert run(Due("drip")).effects == () and run.state.waits == NOTHING


def test_who_does_not_wait_is_not_asked_again(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT, Done(), Skip())
    assert run.effects[0] == Skipped("drip") and run.status("drip") is Status.LEFT
    assert run.state.mode is Mode.CLOSING


def test_early_is_told(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT, GoTo("drip"))
    assert run.effects == (Say(Reply.EARLY, "drip"), Offer("drip"))
    assert run(Due("drip")).effects == () and run.state.at == "drip"
    assert run(Done()).state.waits == NOTHING


# --- taking back, correcting, danger -----------------------------------------------------------

def test_what_is_taken_back_is_not_so_and_comes_next(stay: Checklist) -> None:
    run = Run(stay)(Answer(True), *CHOCK, Done(), TakeBack("chock"))
    assert run.effects == (changed(off=("chocked", "tried")),
                           Reported("chock", Kind.TAKE_BACK, (Literal("chocked", False),)),
                           Offer("chock"))
    assert run.status("chock") is Status.OPEN and run.status("try them") is Status.OPEN
    assert "chock" not in run.state.reports


def test_the_last_report_is_the_one_that_is_taken_back(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT, Done(), TakeBack())
    assert run.effects[0] == Reported("mat", Kind.TAKE_BACK) and run.state.at == "mat"
    assert run.status("mat") is Status.OPEN
    run(TakeBack())
    assert run.effects[:2] == (changed(off=("hose out",)), Reported(
        "hose", Kind.TAKE_BACK, (Literal("hose out", False),)))
    assert run.state.waits == NOTHING


def test_taking_back_brings_back_what_was_ended_but_no_look(stay: Checklist) -> None:
    run = Run(stay)(Answer(True), *CHOCK, Done(), Done(), TakeBack("pull away"))
    (reported,) = run.of(Reported)
    assert reported == Reported("pull away", Kind.TAKE_BACK, (Literal("hitched"),))
    assert "hitched" in run.facts


def test_a_correction_counts_and_ends_what_hangs_on_it(stay: Checklist) -> None:
    """The chocks have slipped: that they were tried counts no more."""
    run = Run(stay)(Answer(True), *CHOCK, Done(), Correct("chocked", False))
    assert run.effects[:2] == (changed(off=("chocked", "tried")),
                               Say(Reply.CORRECTED, facts=(Literal("chocked", False),)))
    assert run.state.at != "pull away" and run.status("try them") is Status.OPEN
    assert run(GoTo("pull away")).of(Refused)


@pytest.mark.parametrize(("event", "reply"), [
    (Correct("tried", True), Reply.LOOK_YOURSELF), (Correct("hitched", True), Reply.SO_ALREADY)])
def test_what_is_not_corrected_is_told_with_the_fact_it_is_about(
    stay: Checklist, event: Correct, reply: Reply
) -> None:
    run = Run(stay)(Answer(True), *CHOCK, event)
    assert run.effects == (Say(reply, facts=(Literal(event.fact),)),)


def test_a_correction_elsewhere_leaves_the_step_at_hand(stay: Checklist) -> None:
    run = Run(stay)(*TO_MAT, Correct("breaker on", False))
    assert run.state.at == "mat"
    assert run.effects == (changed(off=("breaker on",)), Say(
        Reply.CORRECTED, facts=(Literal("breaker on", False),)), Offer("mat"))


@pytest.mark.parametrize("away", [Pause(), Finish()])
def test_a_danger_that_comes_about_while_away_is_told_once_and_stands(
    stay: Checklist, away: Event
) -> None:
    run = Run(stay)(Answer(True), *CHOCK, Done(), Done(), away)
    mode = run.state.mode
    run(Correct("chocked", False))
    assert run.effects[-1] == Alarm("roll") and run.state.broken == "roll"
    assert run.state.mode is mode
    run(Correct("outlet good", True))
    assert not run.of(Alarm) and run.state.broken == "roll"
    assert run(Ask("repeat")).effects == (Alarm("roll"),)
    assert run(Resume()).effects[-1] == Alarm("roll") and run.state.mode is Mode.ALARM
    over = Run(stay)(Answer(True), *CHOCK, Done(), Done(), away, Correct("chocked", False),
                     Correct("chocked", True))
    assert over.state.broken == "" and not over.of(Alarm)
    assert over(Resume()).state.mode is Mode.STEP


DANGER: tuple[Event, ...] = (Answer(True), *CHOCK, Done(), Done(), Correct("chocked", False))


@pytest.mark.parametrize("event", [Done(), Skip(), Pause(), Resume(), Confirm(), Deny(), Problem(),
                                   GoTo("chock"), TakeBack(), Correct("chocked", True),
                                   Answer(True), Read("within")])
def test_in_danger_nothing_counts_but_its_own_response(stay: Checklist, event: Event) -> None:
    run = Run(stay)(*DANGER)
    before = run.state
    assert before.mode is Mode.ALARM and before.broken == "roll" and before.at == ""
    assert run(event).state == before and run.effects == (Alarm("roll"),)
    assert run(Unsure(event)).state == before and run.says() == ["say again"]


def test_the_danger_is_over_once_that_is_confirmed(stay: Checklist) -> None:
    run = Run(stay)(*DANGER, Respond())
    assert run.effects == (ReadBack(Respond(), ""),) and run.state.broken == "roll"
    assert Run(stay)(*DANGER, Respond(), Deny()).effects == (Say(Reply.WITHDRAWN), Alarm("roll"))
    assert Run(stay)(*DANGER, Respond(), Deny()).state.mode is Mode.ALARM
    assert Run(stay)(*DANGER, Unsure(Ask("repeat"))).effects == (Alarm("roll"),)
    run(Confirm())
    assert run.effects[:2] == (changed("chocked"), Reported("roll", Kind.RESOLVE))
    assert run.state.broken == "" and run.state.mode is Mode.STEP


# --- breaks and age ----------------------------------------------------------------------------

def test_what_was_looked_at_before_a_break_does_not_count_after_it(stay: Checklist) -> None:
    run = Run(stay)(Answer(True), *CHOCK, Done(), Pause(), Resume())
    assert run.effects == (changed(off=("tried",)), Say(
        Reply.ENDED_BY_BREAK, facts=(Literal("tried"),)), Say(Reply.RESUMED), Offer("try them"))
    kept = Run(stay)(Answer(True), Pause(), Resume())
    assert kept.effects == (Offer("chock", "resumed"),) and kept.state.mode is Mode.STEP


def test_a_look_that_is_too_old_ends_wherever_one_is(stay: Checklist) -> None:
    for events in ((), (Pause(),), (Finish(),)):
        run = Run(stay)(Answer(True), *CHOCK, Done(), *events, Expired("tried"))
        assert "tried" not in run.facts
    assert run(Expired("tried")).effects == () and run(Expired("chocked")).effects == ()
    away = Run(stay)(Answer(True), *CHOCK, Done(), Pause(), Expired("tried"))
    assert away.effects == (changed(off=("tried",)),) and away.state.mode is Mode.PAUSED
    fit = Run(stay)(Answer(True), *CHOCK, Done(), GoTo("breaker"), Expired("tried"))
    assert fit.state.at == "breaker" and not fit.says()


# --- the end -----------------------------------------------------------------------------------

def test_a_step_that_must_be_done_keeps_it_open(stay: Checklist) -> None:
    run = Run(stay)(Answer(False))
    while run.state.mode is Mode.STEP:
        run(Skip())
    assert run.state.mode is Mode.BLOCKED and run.effects[-1] == CannotClose((), ("chock",))
    assert run(Answer(True)).state.mode is Mode.BLOCKED and run.says() == ["not now"]


def test_what_must_hold_at_the_end_keeps_it_open(stay: Checklist) -> None:
    open_ = replace(stay, closes=Literal("hitched"), digest="closes")
    run = Run(open_)(*TO_MAT, Due("drip"), Done(), Done())
    assert run.state.mode is Mode.BLOCKED
    assert run.effects[-1] == CannotClose((Literal("hitched"),), ())


def test_a_closed_list_opens_again_only_for_a_step_or_a_mistake(stay: Checklist) -> None:
    done = (*TO_MAT, Due("drip"), Done(), Done())
    run = Run(stay)(*done)
    assert run.state.mode is Mode.CLOSED and run.effects[-1] == Closed()
    closed = run.state
    for event in (Done(), Skip(), Resume(), Finish(), Pause(), Correct("chocked", False),
                  TakeBack("nowhere"), GoTo("nowhere"), Unsure(Done())):
        assert run(event).state == closed, event
    assert run(Done()).effects == (Say(Reply.CLOSED_ALREADY),)
    assert run(Ask("repeat")).effects == (Say(Reply.CLOSED_ALREADY),)
    assert run(TakeBack()).state.at == "drip" and run.state.mode is Mode.STEP
    assert Run(stay)(*done, GoTo("mat")).state.at == "mat"


def test_it_begins_with_its_title_and_the_first_step(stay: Checklist) -> None:
    run = Run(stay)
    assert run.effects == (Say(Reply.OPENING), Offer("water here"))
    assert run.state.statuses == (Status.OPEN,) * len(stay.steps)
    old = Run(stay, stay.start_facts | {"water here", "water here answered", "chocked", "tried"})
    assert old.effects[0] == changed(off=("tried", "water here", "water here answered"))
    assert Run(stay, NOTHING).effects == (Say(Reply.OPENING), Alarm("roll"))


# --- what a readback came from -----------------------------------------------------------------

def test_during_a_readback_of_a_step_another_word_is_answered_without_naming_the_step(
    stay: Checklist,
) -> None:
    assert Run(stay)(Answer(False), Respond(), Done()).effects == (Say(Reply.CONFIRM_FIRST),)


def test_a_remedy_that_undoes_a_step_opens_it_again() -> None:
    """Though nothing else hangs on it: whoever lit the lamp finds it out, and nobody said so."""
    steps = (Step("lamp", "Light it.", gives=frozenset({"lit"})),
             Step("volts", "Read it.", reading=Reading("volts", 108, 127), remedy="dim"))
    dim = Remedy("dim", "Too much.", ("lamp off",))
    one = stay_of((Fact("lit"),), steps, remedies=(dim,),
                  inside=(Step("lamp off", "Put it out.", ends=frozenset({"lit"})),))
    run = Run(one)(Done(), Read("low"), Confirm())
    assert run.state.at == "lamp off" and run.state.statuses[one.index["lamp"]] is Status.DONE
    assert run(Done()).state.statuses[one.index["lamp"]] is Status.OPEN


def test_who_denies_at_the_end_is_where_the_question_stood(stay: Checklist) -> None:
    run = Run(stay)(Answer(False))
    while run.state.mode is Mode.STEP:
        run(Skip())
    blocked = run.state
    assert run(Unsure(GoTo("chock"))).state.mode is Mode.CONFIRM and run(Deny()).state == blocked
    # of two, the other has meanwhile done all that was left: it does not close by itself on a "no"
    run = Run(stay)(*TO_MAT, Due("drip"), Done(), Done())
    run.state = replace(run.state, mode=Mode.CONFIRM, pending=GoTo("mat"))
    assert run(Deny()).state.mode is Mode.CLOSING
