"""What time ends, and what is told of it: nobody relies on an old look, nobody is disturbed in vain."""

from __future__ import annotations

from dataclasses import replace

from handsfree.checklist.conditions import Literal, parse
from handsfree.checklist.model import Evidence, Fact, NeverRule, Remedy, Step, Wait
from handsfree.engine.going_on import settle
from handsfree.engine.state import (
    Answer,
    Ask,
    AskToClose,
    CannotClose,
    Changed,
    Confirm,
    Correct,
    Deny,
    Done,
    Event,
    Expired,
    GoTo,
    Mode,
    Offer,
    Pause,
    ReadBack,
    Reply,
    Respond,
    Resume,
    Say,
    Skip,
    State,
    Status,
    Unsure,
    Waiting,
)
from tests.core.parts import Run, stay_of

HELD = Evidence(unless=parse("pulled"))
LIST = stay_of(
    (Fact("held", evidence=HELD), Fact("pulled"), Fact("idle", evidence=Evidence()),
     Fact("gas off", start=True), Fact("lit")),
    (Step("try", "Roll back against the chocks.", gives=frozenset({"held"})),
     Step("mat", "Lay the mat out."),
     Step("pull", "Pull away.", needs=parse("held"), gives=frozenset({"pulled"}),
          wait=Wait("mat", 10))),
    rules=(NeverRule("leak", parse("not gas off and not idle"), "It leaks.", "Shut the gas.",
                     "gas is shut", gives=frozenset({"gas off"})),))
GONE = Changed(frozenset(), frozenset({"held"}))
TOLD = Say(Reply.EVIDENCE_ENDED, facts=(Literal("held"),))


def run(*events: Event, facts: tuple[str, ...] = ("gas off", "idle")) -> Run:
    return Run(LIST, frozenset(facts))(*events)


def test_while_waiting_an_old_look_is_done_again_before_what_rests_on_it() -> None:
    """The trailer may have crept since the chocks were tried."""
    waits = run(Done(), Done())
    assert waits.state.mode is Mode.WAITING and "held" in waits.facts
    waits(Expired("held"))
    assert waits.effects == (GONE, TOLD, Offer("try"))
    assert waits.status("try") is Status.OPEN and waits.state.mode is Mode.STEP


def test_during_a_readback_it_is_offered_once_that_is_answered() -> None:
    for word in (Confirm(), Deny()):
        asked = run(Done(), Done(), Unsure(Skip()), Expired("held"))
        assert asked.effects == (GONE,) and asked.state.pending == Skip()
        assert asked(word).effects == (Say(Reply.WITHDRAWN), Offer("try"))


def test_an_old_look_on_which_nothing_rests_any_more_is_not_told() -> None:
    waits = run(Done(), Done())
    assert waits(Expired("idle")).effects == (Changed(frozenset(), frozenset({"idle"})),)
    assert waits.state.mode is Mode.WAITING
    closing = run(Skip(), Skip(), Skip(), Skip())
    assert closing.state.mode is Mode.CLOSING
    assert closing(Expired("idle")).effects == (Changed(frozenset(), frozenset({"idle"})),)


def test_where_it_must_not_close_an_old_look_is_told_if_it_may_close_then() -> None:
    shut = replace(LIST, closes=parse("not held"), digest="shut")
    blocked = Run(shut, frozenset({"gas off", "held", "idle"}))
    blocked.state = replace(blocked.state, mode=Mode.BLOCKED, at="", statuses=tuple(
        Status.LEFT for _ in LIST.steps))
    before = blocked.state
    assert blocked(Expired("idle")).effects == (Changed(frozenset(), frozenset({"idle"})),)
    assert blocked.state.mode is Mode.BLOCKED
    blocked.state = before
    assert blocked(Expired("held")).effects[:2] == (GONE, TOLD)
    assert blocked.state.mode is Mode.CLOSING


def test_who_deals_with_a_danger_is_not_talked_over() -> None:
    danger = run(facts=("held",))
    assert danger.state.mode is Mode.ALARM
    assert danger(Expired("held")).effects == (GONE,) and danger.state.broken == "leak"
    answered = run(Respond(), Expired("held"), facts=("held",))
    assert answered.effects == (GONE,) and answered.state.pending == Respond()
    assert answered(Confirm()).facts == {"gas off"}


def test_what_lasts_for_a_while_does_not_end_before() -> None:
    """Pulled away, nobody can try the chocks again."""
    assert "held" in run(facts=("gas off", "held", "pulled", "idle"))(Expired("held")).facts
    assert run(Expired("lit"), Expired("nowhere")).effects == ()


# --- closing with steps open -------------------------------------------------------------------

def test_who_keeps_it_open_hears_what_waits_for_something_else() -> None:
    """Else they stand there and do not know what for."""
    closing = run(GoTo("mat"), Done())
    closing.state = replace(closing.state, facts=frozenset({"gas off", "idle"}), at="",
                            waits=frozenset(), mode=Mode.CLOSING, statuses=(
                                Status.DONE, Status.DONE, Status.LEFT))
    assert closing(Answer(False)).effects == (Say(Reply.WAITING, others=("pull",)),)
    assert closing.state.mode is Mode.CLOSING and closing.status("pull") is Status.SKIPPED
    waited = run(Done(), Done(), Skip(), Answer(False))
    assert waited.effects == (Waiting(("pull",)),) and waited.state.mode is Mode.WAITING


def test_a_readback_that_stands_is_said_again() -> None:
    assert run(Unsure(Skip()), Unsure(Deny())).says() == ["say again"]
    assert run(Unsure(Skip())).effects == (ReadBack(Skip(), "try"),)


# --- the end -----------------------------------------------------------------------------------

LOOK = Step("look", "Look for drips.", gives=frozenset({"lit"}), wait=Wait("mat", 10))


def test_what_time_will_bring_is_waited_for_and_what_else_would_help_is_told() -> None:
    ends = stay_of((Fact("lit"),), (Step("mat", "Lay it."), LOOK), closes=parse("lit"))
    assert Run(ends)(Done()).effects[-1] == Waiting(("look",))
    left = Run(ends)(Done(), Skip())
    assert left.effects[-1] == CannotClose((Literal("lit"),), ("look",))


def test_at_the_end_no_remedy_is_under_way() -> None:
    """Else a step skipped much later would leave one that nobody remembers."""
    inner = Step("inner", "Loosen it.", only_if=parse("lit"), remedy="mend")
    mends = stay_of((Fact("lit"),), (Step("mat", "Lay it.", needs=parse("lit"), remedy="mend"),),
                    inside=(inner,), remedies=(Remedy("mend", "Mend it.", ("inner",)),))
    state = State(frozenset(), (Status.OPEN, Status.OPEN), remedies=("mat", "inner"))
    over, effects = settle(mends, state, ())
    assert over.remedies == () and effects == (AskToClose(("mat",)),)


# --- breaks, corrections, readbacks at the end -------------------------------------------------

def test_all_that_a_break_has_ended_is_told_in_the_same_order_each_time() -> None:
    looks = stay_of(
        tuple(Fact(name, evidence=Evidence(30)) for name in ("wheels seen", "hitch seen", "old")),
        (Step("wheels", "Look.", gives=frozenset({"wheels seen"})),
         Step("hitch", "Look.", gives=frozenset({"hitch seen"})),
         Step("drive", "Drive.", needs=parse("wheels seen and hitch seen"))))
    back = Run(looks)(Done(), Done(), Pause(), Resume())
    assert back.effects[1] == Say(Reply.ENDED_BY_BREAK, facts=(
        Literal("hitch seen"), Literal("wheels seen")))


def test_a_correction_does_not_take_anybody_from_the_step_at_hand() -> None:
    """Half done is worse than not begun."""
    there = run(GoTo("mat"), Correct("lit", True))
    assert there.state.at == "mat" and there.effects[-1] == Offer("mat")
    assert there.status("try") is Status.OPEN


def test_what_is_withdrawn_at_the_end_leaves_the_question_open() -> None:
    closing = run(Done(), Done(), Skip(), Unsure(Answer(True)))
    assert closing.effects == (ReadBack(Answer(True), ""),)
    assert closing(Deny()).effects == (Say(Reply.WITHDRAWN), AskToClose(("pull",)))
    assert closing.state.mode is Mode.CLOSING


def test_between_steps_a_question_about_the_whole_is_answered_and_one_about_a_step_is_not() -> None:
    waits = run(Done(), Done())
    assert waits(Ask("help")).effects == (Say(Reply.HELP),)
    assert waits(Ask("status")).effects == (Say(Reply.STATUS, others=("pull",)),)
    assert waits(Ask("why")).effects == (Waiting(("pull",)),)
