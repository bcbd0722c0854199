"""Two operators: nobody is sent where the other one's work would hurt them, and what needs both is
done by both."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.checklist.conditions import parse
from handsfree.checklist.model import (
    BOTH,
    INSIDE,
    OUTSIDE,
    Checklist,
    Evidence,
    Fact,
    NeverRule,
    Remedy,
    Step,
    Wait,
)
from handsfree.engine import together
from handsfree.engine.changes import Kind
from handsfree.engine.state import (
    Alarm,
    Ask,
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
    Expired,
    Finish,
    GoTo,
    Mode,
    Offer,
    Pause,
    Paused,
    Problem,
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
    Waiting,
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
    assert gone.heard(INSIDE) == (Say(Reply.STEP_GONE, "lamp"), Offer("slide"))
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
    assert pair.at() == ("chock", "sweep")


def test_so_does_an_uncertain_order_that_was_confirmed() -> None:
    """Nobody works on alone, counting on somebody who has gone."""
    pair = Pair()((OUTSIDE, Unsure(Finish())), (OUTSIDE, Confirm()))
    assert pair.modes() == (Mode.SUSPENDED, Mode.SUSPENDED)
    assert [side for side, _ in pair.told] == [OUTSIDE, INSIDE]


def test_once_finished_each_is_told_what_each_says() -> None:
    pair = Pair()((OUTSIDE, Finish()), (INSIDE, Resume()), (OUTSIDE, Done()))
    assert pair.modes() == (Mode.SUSPENDED, Mode.STEP)
    assert pair.told == ((OUTSIDE, Say(Reply.PAUSED_STILL, "chock")),)


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
    assert [one.at for one in joined(LIST, Pair().both.of(OUTSIDE))[0].states] == ["chock", "sweep"]
    assert isinstance(both, Together) and both.of(INSIDE).reports == ()
    assert both.of(OUTSIDE).reports == ("chock", "sweep")
    assert [one.at for one in both.states] == ["slide", "slide"] and both.answered == frozenset()
    assert told == ((OUTSIDE, Offer("slide")), (INSIDE, Offer("slide")))


def test_what_is_skipped_by_one_is_skipped_for_both() -> None:
    pair = Pair()((INSIDE, Skip()))
    assert pair.both.of(OUTSIDE).statuses[LIST.index["sweep"]] is Status.SKIPPED


# --- called to a step for both -----------------------------------------------------------------

TALK = Step("talk", "Agree on the signals.", role=BOTH)


def with_talk(*order: str, **more: Step) -> Checklist:
    """A list of these steps, in which two are for both: agreeing on signals, and the slide."""
    steps = {**LIST.steps, "talk": TALK, **more}
    return replace(LIST, steps={name: steps[name] for name in order}, order=order,
                   digest="talk " + " ".join(order))


@pytest.mark.parametrize("order", [("chock", "talk", "sweep"), ("sweep", "talk", "chock")])
def test_both_begin_with_a_step_for_both_if_one_of_them_does(order: tuple[str, ...]) -> None:
    """One of them would stand there and wait while the other works on."""
    checklist = with_talk(*order)
    begun = Pair(checklist)
    assert begun.at() == ("talk", "talk") and begun.modes() == (Mode.STEP, Mode.STEP)
    assert begun.heard(INSIDE)[-1] == begun.heard(OUTSIDE)[-1] == Offer("talk")
    again, told = joined(checklist, begun.both.of(OUTSIDE))
    assert [one.at for one in again.states] == ["talk", "talk"]
    assert told == ((OUTSIDE, Offer("talk")), (INSIDE, Offer("talk")))


DUST = Step("dust", "Dust it.", role=INSIDE)
TIDY = Step("tidy", "Tidy up.", role=INSIDE, needs=parse("fed"))
CALLS = with_talk("talk", "chock", "tidy", "dust", "mat", "lamp", tidy=TIDY, dust=DUST)
FED = frozenset({"fed"})


def test_who_comes_free_is_called_to_the_step_for_both_where_the_other_waits() -> None:
    pair = Pair(CALLS, FED)((INSIDE, GoTo("tidy")), (OUTSIDE, Done()))
    assert pair.at() == ("talk", "tidy")
    assert pair.told == ((OUTSIDE, Say(Reply.PARTNER_NEEDED, "talk")),)
    pair(IN)
    assert pair.at() == ("talk", "talk") and pair.modes() == (Mode.STEP, Mode.STEP)
    assert pair.heard(INSIDE)[-1] == Offer("talk") and pair.heard(OUTSIDE) == (Offer("talk"),)
    away = Pair(CALLS, FED)((INSIDE, GoTo("tidy")), (INSIDE, GoTo("dust")))
    assert away.at() == ("talk", "dust")  # who goes elsewhere by name is let go


def test_who_loses_a_step_by_what_the_other_reports_is_called_too() -> None:
    pair = Pair(CALLS, FED)((INSIDE, GoTo("tidy")), (OUTSIDE, Correct("fed", False)))
    assert pair.at() == ("talk", "talk")
    assert pair.heard(INSIDE) == (Say(Reply.STEP_GONE, "tidy"), Offer("talk"))
    before = with_talk("dust", "talk", "chock", "tidy", tidy=TIDY, dust=DUST)
    pair = Pair(before, FED)((INSIDE, GoTo("tidy")), (OUTSIDE, Correct("fed", False)))
    assert pair.at() == ("talk", "talk"), "whatever else would have come first"


def test_who_is_at_it_already_may_go_to_it_by_name_and_the_other_too() -> None:
    pair = Pair(CALLS, FED)((INSIDE, GoTo("tidy")), (INSIDE, GoTo("talk")))
    assert pair.at() == ("talk", "talk") and Offer("talk") in pair.heard(OUTSIDE)


def test_of_two_steps_for_both_the_later_word_counts() -> None:
    checklist = with_talk("talk", "slide", "chock", "sweep")
    pair = Pair(checklist, frozenset({"chocked", "swept"}))
    assert pair.at() == ("talk", "talk")
    pair((OUTSIDE, Unsure(Done())), (INSIDE, GoTo("slide")))
    assert pair.at() == ("slide", "slide") and pair.modes() == (Mode.STEP, Mode.STEP)
    assert pair.both.of(OUTSIDE).pending is None and pair.heard(OUTSIDE) == (Offer("slide"),)


RAGS = Step("rags", "Fetch rags.", role=INSIDE)
MOP = Step("mop", "Mop up.", role=INSIDE)
FAILS = replace(
    with_talk("talk", "chock", "tidy", "dust", "mat", tidy=replace(TIDY, remedy="wet"), dust=DUST),
    remedies={"wet": Remedy("wet", "It is wet.", ("rags", "mop"), 2)}, digest="fails")
FAILS = replace(FAILS, steps={**FAILS.steps, "rags": RAGS, "mop": MOP})


def test_nobody_is_called_away_out_of_a_remedy() -> None:
    """Water runs while it is mopped up."""
    pair = Pair(FAILS, FED)((INSIDE, GoTo("tidy")), (INSIDE, Problem()))
    assert pair.at() == ("talk", "rags") and pair.both.of(OUTSIDE).tries == (("tidy", 1),)
    assert pair(IN).at() == ("talk", "mop")
    assert pair.both.of(INSIDE).remedies == ("tidy",)


# --- what one hears of the other ---------------------------------------------------------------

def test_a_danger_voids_what_the_other_had_read_back() -> None:
    """A "that is right" meant for the mat must not pass for one to the danger."""
    pair = slid(Pair())((OUTSIDE, Unsure(Skip())), (INSIDE, Correct("chocked", False)))
    assert pair.both.of(OUTSIDE).pending is None
    assert pair((OUTSIDE, Ask("repeat"))).heard(OUTSIDE) == (Alarm("roll"),)


def test_who_waits_for_the_other_hears_it_once() -> None:
    pair = Pair(CALLS, FED)(OUT, IN, OUT)
    assert pair.modes() == (Mode.BLOCKED, Mode.STEP) and pair.at()[1] == "tidy"
    assert pair.heard(OUTSIDE)[-1] == Say(Reply.PARTNER_BUSY, "tidy")
    assert pair(IN).heard(OUTSIDE) == () and pair.at() == ("", "dust")


WAITS = replace(with_talk("dust", "mat", "sweep", "drip", dust=DUST, mat=Step("mat", "Lay it."),
                          drip=Step("drip", "Look.", wait=Wait("dust", 10))), digest="drip")


def test_who_has_nothing_to_do_waits_for_what_the_other_has_begun() -> None:
    pair = Pair(WAITS)((OUTSIDE, GoTo("drip")), OUT, OUT)
    assert pair.modes() == (Mode.BLOCKED, Mode.STEP)
    pair(IN)
    assert pair.modes() == (Mode.WAITING, Mode.STEP)
    assert pair.heard(OUTSIDE) == (Waiting(("drip",)),)
    assert pair(IN).heard(OUTSIDE) == ()  # and hears it once


SEEN = replace(LIST, facts={**FACTS, "seen": Fact("seen", evidence=Evidence())}, digest="seen")
SEEN = replace(SEEN, steps={"mat": Step("mat", "Lay it."), "lamp": Step(
    "lamp", "Light it.", role=INSIDE, needs=parse("seen"))}, order=("mat", "lamp"))


def test_when_the_last_step_is_gone_both_are_asked_whether_to_close() -> None:
    """In silence each would wait for the other."""
    pair = Pair(SEEN, frozenset({"seen"}))(OUT)
    assert pair.modes() == (Mode.BLOCKED, Mode.STEP)
    pair((OUTSIDE, Expired("seen")))
    assert pair.modes() == (Mode.CLOSING, Mode.CLOSING)
    assert pair.heard(OUTSIDE)[-1] == pair.heard(INSIDE)[-1] == AskToClose(("lamp",))
