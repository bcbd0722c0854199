"""Two operators: nobody is sent where the other one's work would hurt them, and what needs both is
done by both."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.checklist.conditions import parse
from handsfree.checklist.model import BOTH, INSIDE, OUTSIDE, Checklist, Fact, NeverRule, Step, Wait
from handsfree.engine import together
from handsfree.engine.changes import Kind
from handsfree.engine.state import (
    Alarm,
    AskToClose,
    CannotClose,
    Changed,
    Closed,
    Confirm,
    Correct,
    Done,
    Due,
    Effect,
    Event,
    Finish,
    GoTo,
    Mode,
    Offer,
    Pause,
    Paused,
    Reply,
    Reported,
    Respond,
    Resume,
    Say,
    Skip,
    Status,
    Suspended,
    TakeBack,
    Unsure,
)
from handsfree.engine.together import Together, joined, partner, seen_from

FACTS = {name: Fact(name) for name in ("chocked", "slide out", "swept", "lit", "fed")}
STEPS = (
    Step("chock", "Chock it.", gives=frozenset({"chocked"})),
    Step("sweep", "Sweep.", role=INSIDE, gives=frozenset({"swept"})),
    Step("slide", "Run the slide out.", role=BOTH, needs=parse("chocked and swept"),
         gives=frozenset({"slide out"}), respond="slide is out"),
    Step("mat", "Lay the mat out.", needs=parse("slide out")),
    Step("lamp", "Light the lamp.", role=INSIDE, needs=parse("slide out"),
         gives=frozenset({"lit"})))
RULE = NeverRule("roll", parse("slide out and not chocked"), "It rolls.", "Chock it.",
                 "it is chocked", gives=frozenset({"chocked"}))
LIST = Checklist("two", "Two", FACTS, {step.id: step for step in STEPS},
                 tuple(step.id for step in STEPS), (RULE,), digest="two")


class Pair:
    """Both, and what each was told last."""

    def __init__(self, checklist: Checklist = LIST, record: frozenset[str] = frozenset()) -> None:
        self.checklist = checklist
        self.both, self.told = together.begin(checklist, record)

    def __call__(self, *said: tuple[str, Event]) -> Pair:
        for side, event in said:
            self.both, self.told = together.advance(self.checklist, self.both, side, event)
        return self

    def heard(self, side: str) -> tuple[Effect, ...]:
        return tuple(effect for whom, effect in self.told if whom == side)

    def at(self) -> tuple[str, str]:
        return self.both.of(OUTSIDE).at, self.both.of(INSIDE).at

    def modes(self) -> tuple[Mode, Mode]:
        return self.both.of(OUTSIDE).mode, self.both.of(INSIDE).mode


OUT, IN = (OUTSIDE, Done()), (INSIDE, Done())
SAID = (Respond(), Confirm())


def slid(pair: Pair) -> Pair:
    """Both have said that the slide is out."""
    return pair(OUT, IN, *((OUTSIDE, one) for one in SAID), *((INSIDE, one) for one in SAID))


def test_both_begin_with_their_own_step() -> None:
    pair = Pair()
    assert pair.at() == ("chock", "sweep") and pair.modes() == (Mode.STEP, Mode.STEP)
    assert pair.told == ((INSIDE, Say(Reply.OPENING)), (OUTSIDE, Say(Reply.OPENING)),
                         (OUTSIDE, Offer("chock")), (INSIDE, Offer("sweep")))
    assert partner(INSIDE) == OUTSIDE and partner(OUTSIDE) == INSIDE
    assert seen_from(LIST, INSIDE).offers == ("sweep", "slide", "lamp")


def test_what_one_reports_is_so_for_both_and_tells_the_other_nothing() -> None:
    pair = Pair()(OUT)
    assert pair.both.of(INSIDE).facts == pair.both.of(OUTSIDE).facts == {"chocked"}
    assert pair.both.of(INSIDE).statuses == pair.both.of(OUTSIDE).statuses
    assert pair.heard(INSIDE) == () and pair.at() == ("", "sweep")


def test_a_step_for_both_calls_both() -> None:
    pair = Pair()(OUT, IN)
    assert pair.at() == ("slide", "slide")
    assert pair.heard(OUTSIDE) == (Offer("slide"),) and pair.heard(INSIDE)[-1] == Offer("slide")


def test_it_is_done_when_both_have_said_so() -> None:
    """One word would run the slide out against whoever stands in its way."""
    pair = Pair()(OUT, IN, *((OUTSIDE, one) for one in SAID))
    assert pair.told == ((OUTSIDE, Say(Reply.PARTNER_TO_ANSWER, "slide")),)
    assert "slide out" not in pair.both.of(OUTSIDE).facts and pair.both.answered == {OUTSIDE}
    assert pair.both.of(OUTSIDE).pending is None and pair.modes() == (Mode.STEP, Mode.STEP)
    again = Pair()(OUT, IN, *((OUTSIDE, one) for one in SAID * 2))
    assert "slide out" not in again.both.of(OUTSIDE).facts
    pair(*((INSIDE, one) for one in SAID))
    assert pair.both.of(OUTSIDE).facts >= {"slide out"} and pair.both.answered == frozenset()
    assert pair.heard(OUTSIDE)[0] == Reported("slide", Kind.REPORT)
    assert pair.at() == ("mat", "lamp")


def test_an_answer_does_not_outlast_a_change() -> None:
    """What one has agreed to was another state of things."""
    pair = Pair()(OUT, IN, *((OUTSIDE, one) for one in SAID), (INSIDE, Correct("fed", True)))
    assert pair.both.answered == frozenset()
    pair(*((INSIDE, one) for one in SAID))
    assert "slide out" not in pair.both.of(INSIDE).facts
    kept = Pair()(OUT, IN, *((OUTSIDE, one) for one in SAID), (INSIDE, Correct("fed", False)))
    assert kept.both.answered == {OUTSIDE}
    gone = Pair()(OUT, IN, *((OUTSIDE, one) for one in SAID), (OUTSIDE, GoTo("chock")))
    assert gone.both.answered == frozenset() and gone.at()[0] == "chock"


def test_alone_at_it_nothing_counts_and_the_other_is_called() -> None:
    pair = Pair()(OUT, IN, (INSIDE, GoTo("sweep")), *((OUTSIDE, one) for one in SAID))
    assert pair.at() == ("slide", "sweep")
    assert pair.told == ((OUTSIDE, Say(Reply.PARTNER_NEEDED, "slide")),)
    assert "slide out" not in pair.both.of(OUTSIDE).facts and not pair.both.answered
    pair(IN)
    assert pair.at() == ("slide", "slide") and (OUTSIDE, Offer("slide")) in pair.told


def test_who_goes_to_it_alone_waits_for_the_other() -> None:
    pair = Pair()(OUT, IN, (INSIDE, GoTo("sweep")), (OUTSIDE, GoTo("chock")),
                  (OUTSIDE, GoTo("slide")))
    assert pair.told == ((OUTSIDE, Say(Reply.PARTNER_NEEDED, "slide")),)
    pair(IN)
    assert pair.at() == ("slide", "slide") and pair.heard(OUTSIDE) == (Offer("slide"),)


def test_a_readback_that_was_begun_alone_does_not_count_for_both() -> None:
    pair = Pair()(OUT, IN, (INSIDE, GoTo("sweep")), (OUTSIDE, Respond()))
    assert pair.modes()[0] is Mode.CONFIRM
    pair(IN)
    assert pair.both.of(OUTSIDE).mode is Mode.STEP and pair.both.of(OUTSIDE).pending is None
    assert (OUTSIDE, Offer("slide")) in pair.told


def test_nobody_takes_the_step_that_the_other_has() -> None:
    pair = Pair()
    before = pair.both
    assert pair((OUTSIDE, GoTo("sweep"))).told == (
        (OUTSIDE, Say(Reply.PARTNER_HAS_IT, "sweep")),)
    assert pair.both == before


def test_a_step_that_the_other_has_done_or_made_void_is_nobodys_any_more() -> None:
    pair = slid(Pair())
    pair((OUTSIDE, GoTo("chock")), (INSIDE, TakeBack("slide")))
    assert pair.both.of(INSIDE).facts == {"chocked", "swept"}
    gone = slid(Pair())((OUTSIDE, TakeBack("slide")))
    assert gone.heard(INSIDE)[0] == Say(Reply.STEP_GONE, "lamp") or (
        gone.heard(INSIDE)[-1] == Offer("slide"))
    assert gone.at() == ("slide", "slide")


def test_a_danger_is_everybodys_and_so_is_its_end() -> None:
    pair = slid(Pair())((INSIDE, Correct("chocked", False)))
    assert pair.modes() == (Mode.ALARM, Mode.ALARM) and pair.at() == ("", "")
    assert pair.heard(OUTSIDE) == (Alarm("roll"),) and pair.heard(INSIDE)[-1] == Alarm("roll")
    pair((OUTSIDE, Respond()))
    assert pair.modes() == (Mode.CONFIRM, Mode.ALARM)
    pair((INSIDE, Respond()))
    assert pair.modes() == (Mode.CONFIRM, Mode.CONFIRM)
    pair((OUTSIDE, Confirm()))
    assert pair.heard(INSIDE) == (Reported("roll", Kind.RESOLVE), Offer("lamp"))
    assert pair.both.of(INSIDE).broken == "" and pair.modes() == (Mode.STEP, Mode.STEP)


def test_a_danger_reaches_who_pauses_and_stands_when_they_come_back() -> None:
    pair = slid(Pair())((OUTSIDE, Pause()), (INSIDE, Correct("chocked", False)))
    assert pair.modes() == (Mode.ALARM, Mode.ALARM)


def test_who_pauses_is_left_in_peace() -> None:
    pair = Pair()((OUTSIDE, Pause()))
    assert pair.told == ((OUTSIDE, Paused("chock")),)
    pair(IN)
    assert pair.modes()[0] is Mode.PAUSED and pair.heard(OUTSIDE) == ()
    assert pair.both.of(OUTSIDE).facts == {"swept"}
    assert pair((OUTSIDE, Resume())).heard(OUTSIDE) == (Offer("chock", "resumed"),)


def test_finishing_for_now_ends_it_for_both() -> None:
    pair = Pair()((INSIDE, Unsure(Skip())), (OUTSIDE, Finish()))
    assert pair.modes() == (Mode.SUSPENDED, Mode.SUSPENDED)
    assert pair.both.of(INSIDE).pending is None
    told = Suspended("chock", ("chock", "sweep", "slide", "mat", "lamp"))
    assert pair.told == ((OUTSIDE, told), (INSIDE, told))
    again = Pair()((OUTSIDE, Unsure(Finish())), (OUTSIDE, Confirm()))
    assert again.modes()[0] is Mode.SUSPENDED


def test_who_has_nothing_to_do_waits_and_it_ends_for_both_at_once() -> None:
    pair = slid(Pair())((OUTSIDE, Done()))
    assert pair.modes() == (Mode.BLOCKED, Mode.STEP)
    assert pair.heard(OUTSIDE) == (Reported("mat", Kind.REPORT), Say(Reply.PARTNER_BUSY, "lamp"))
    pair(IN)
    assert pair.modes() == (Mode.CLOSED, Mode.CLOSED)
    assert pair.told == ((INSIDE, Changed(frozenset({"lit"}), frozenset())),
                         (INSIDE, Reported("lamp", Kind.REPORT)), (INSIDE, Closed()),
                         (OUTSIDE, Closed()))


def test_what_is_open_at_the_end_is_asked_of_both() -> None:
    pair = slid(Pair())((OUTSIDE, Skip()), (OUTSIDE, Skip()), IN)
    assert pair.modes() == (Mode.CLOSING, Mode.CLOSING)
    assert pair.heard(OUTSIDE) == pair.heard(INSIDE)[-1:] == (AskToClose(("mat",)),)


def test_what_must_hold_at_the_end_is_told_to_both() -> None:
    pair = slid(Pair(replace(LIST, closes=parse("fed"), digest="fed")))(OUT, IN)
    assert pair.modes() == (Mode.BLOCKED, Mode.BLOCKED)
    told = CannotClose((next(iter(parse("fed").missing(()))),), ())
    assert pair.heard(OUTSIDE) == (told,) and pair.heard(INSIDE)[-1] == told


def test_who_waits_is_called_once_there_is_something_to_do() -> None:
    pair = slid(Pair())((OUTSIDE, Done()), (INSIDE, TakeBack("chock")))
    assert pair.modes() == (Mode.ALARM, Mode.ALARM)
    idle = Pair(LIST, frozenset({"chocked"}))
    idle((OUTSIDE, Done()), (OUTSIDE, Done()))
    assert idle.modes() == (Mode.BLOCKED, Mode.STEP) and idle.at()[0] == ""
    assert idle(IN).at() == ("slide", "slide") and idle.heard(OUTSIDE) == (Offer("slide"),)


def test_a_wait_is_both_operators() -> None:
    waits = Step("again", "Look again.", needs=parse("slide out"), wait=Wait("mat", 10))
    steps = {**LIST.steps, "again": waits}
    one = replace(LIST, steps=steps, order=(*LIST.order, "again"), digest="waits")
    pair = slid(Pair(one))(OUT)
    assert pair.both.of(INSIDE).waits == {"again"} and pair.modes()[0] is Mode.WAITING
    pair(IN)
    pair((OUTSIDE, Due("again")))
    assert pair.both.of(OUTSIDE).at == "again" and not pair.both.of(INSIDE).waits


@pytest.mark.parametrize("at", ["mat", "slide"])
def test_a_session_rebuilt_from_one_state_goes_on_with_both(at: str) -> None:
    pair = Pair()(OUT, IN)
    state = replace(pair.both.of(OUTSIDE), at=at, mode=Mode.PAUSED, reports=("chock", "sweep"))
    both, told = joined(LIST, state)
    assert isinstance(both, Together) and both.of(INSIDE).reports == ()
    assert both.of(OUTSIDE).reports == ("chock", "sweep")
    assert [one.at for one in both.states] == ["slide", "slide"] and both.answered == frozenset()
    assert told == ((OUTSIDE, Offer("slide")), (INSIDE, Offer("slide")))


def test_what_is_skipped_by_one_is_skipped_for_both() -> None:
    pair = Pair()((INSIDE, Skip()))
    assert pair.both.of(OUTSIDE).statuses[LIST.index["sweep"]] is Status.SKIPPED
