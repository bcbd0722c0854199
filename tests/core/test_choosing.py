"""What comes next and what would help: nobody is sent to a step that would hurt them, and what has
come undone is offered again."""

from __future__ import annotations

from dataclasses import replace

from handsfree.checklist.conditions import Literal, parse
from handsfree.checklist.model import (
    Checklist,
    Evidence,
    Fact,
    NeverRule,
    Origin,
    Remedy,
    Step,
    Wait,
)
from handsfree.engine import choosing
from handsfree.engine.state import State, Status
from tests.core.parts import stay_of

FACTS = {name: Fact(name) for name in ("open", "tight", "wet", "lit")} | {
    "here": Fact("here", Origin.SITE), "here answered": Fact("here answered", Origin.ANSWERED),
    "seen": Fact("seen", evidence=Evidence(10, frozenset({"open"})))}
STEPS = (
    Step("here", "Is it here?", question=True, gives=frozenset({"here"})),
    Step("tap", "Open it.", gives=frozenset({"open"}), only_if=parse("here and here answered"),
         needs=parse("tight"), acts=frozenset({"pressure"})),
    Step("screw", "Screw it on.", gives=frozenset({"tight"}), must=True),
    Step("tape", "Tape it.", needs=parse("wet"), gives=frozenset({"tight"})),
    Step("look", "Look.", needs=parse("tight"), gives=frozenset({"seen"})),
    Step("lamp", "Light it.", needs=parse("seen"), gives=frozenset({"lit"})),
    Step("again", "Once more.", wait=Wait("lamp", 5)))
BURST = NeverRule("burst", parse("open and not tight"), "It bursts.", "Shut it.")
HANDS = NeverRule("hands", parse("wet"), "It sprays.", during=frozenset({"pressure"}))
LIST = Checklist("list", "List", FACTS, {step.id: step for step in STEPS},
                 tuple(step.id for step in STEPS), (BURST,), (HANDS,),
                 remedies={"mend": Remedy("mend", "Mend it.", ("tape",))}, digest="choosing")


def state(*facts: str, **statuses: Status) -> State:
    return State(frozenset(facts), tuple(statuses.get(step, Status.OPEN) for step in LIST.steps))


DONE, SKIPPED, LEFT, FAILED = Status.DONE, Status.SKIPPED, Status.LEFT, Status.FAILED


def test_the_first_open_step_that_is_permitted_comes_next_then_the_skipped() -> None:
    assert choosing.next_step(LIST, state()) == ("here", "")
    assert choosing.next_step(LIST, state(here=DONE)) == ("screw", "")
    assert choosing.next_step(LIST, state(here=SKIPPED, again=DONE)) == ("screw", "")
    assert choosing.next_step(
        LIST, state(here=SKIPPED, screw=LEFT, again=FAILED)) == ("here", "skipped")
    assert choosing.next_step(LIST, state(here=DONE, screw=FAILED, again=LEFT)) == ("", "")


def test_what_is_due_comes_before_all_else_and_what_waits_does_not_come() -> None:
    due = state("tight", here=DONE, lamp=DONE)
    assert choosing.next_step(LIST, due) == ("again", "due")
    waits = replace(due, waits=frozenset({"again"}))
    assert choosing.next_step(LIST, waits) == ("screw", "")
    assert choosing.awaited(LIST, waits) == ("again",)
    assert choosing.awaited(LIST, replace(waits, statuses=state(again=LEFT).statuses)) == ()
    assert choosing.awaited(LIST, replace(waits, statuses=state(again=SKIPPED).statuses)) == (
        "again",)
    assert choosing.awaited(LIST, due) == ()


def test_the_steps_of_a_remedy_come_before_the_others_while_they_can() -> None:
    steps = {**LIST.steps, "screw": replace(LIST.steps["screw"], remedy="mend")}
    one = replace(LIST, steps=steps)
    failed = replace(state("wet"), remedies=("screw",))
    assert choosing.next_step(one, failed) == ("tape", "")
    assert choosing.inner(one, failed) == ("tape",)
    assert choosing.next_step(one, replace(failed, facts=frozenset())) == ("here", "")
    assert choosing.next_step(one, replace(state("wet", tape=DONE), remedies=("screw",))) == (
        "here", "")


def test_permitted_is_what_applies_and_whose_interlock_is_met() -> None:
    tap = LIST.steps["tap"]
    assert choosing.permitted(tap, frozenset({"here", "here answered", "tight"}))
    for lacking in ({"here", "here answered"}, {"tight"}, {"here", "tight"}):
        assert not choosing.permitted(tap, frozenset(lacking))


def test_a_question_that_is_open_is_in_the_way_and_one_answered_with_no_is_the_end_of_it() -> None:
    tap = LIST.steps["tap"]
    assert choosing.interlock(LIST, tap, frozenset({"here"})) == (
        Literal("here answered"), Literal("tight"))
    assert choosing.interlock(LIST, tap, frozenset({"here answered"})) is None
    assert choosing.interlock(LIST, tap, frozenset({"here", "here answered", "tight"})) == ()


def test_what_is_open_and_must_be_done() -> None:
    now = state(here=DONE, lamp=SKIPPED, look=FAILED)
    assert choosing.open_steps(LIST, now) == ("screw", "tape", "look", "lamp", "again")
    assert choosing.must_close(LIST, now) == ("screw",)
    assert choosing.must_close(LIST, state(screw=DONE)) == ()


def test_what_would_help_is_first_what_can_be_done_now() -> None:
    missing = (Literal("tight"), Literal("here answered"), Literal("open", False), Literal("seen"))
    assert choosing.mends(LIST, state(), missing) == ("screw", "here", "look")
    steps = {"tape": LIST.steps["tape"], "screw": LIST.steps["screw"]}
    turned = replace(LIST, steps=steps, order=("tape", "screw"))
    assert choosing.mends(turned, state(), missing[:1]) == ("screw",)
    assert choosing.mends(turned, state("wet"), missing[:1] * 2) == ("tape",)
    shut = replace(LIST, steps={"shut": Step("shut", "Shut it.", ends=frozenset({"open"}))})
    assert choosing.mends(shut, state("open"), (Literal("open", False),)) == ("shut",)
    assert choosing.mends(shut, state("open"), (Literal("open"),)) == ()


def test_the_rule_that_a_step_would_break_now() -> None:
    """What it does is forbidden first; then how things would be."""
    tap, screw = LIST.steps["tap"], LIST.steps["screw"]
    assert choosing.rule_at_stake(LIST, tap, frozenset({"wet", "tight"})) is HANDS
    assert choosing.rule_at_stake(LIST, tap, frozenset()) is BURST
    assert choosing.rule_at_stake(LIST, tap, frozenset({"tight"})) is None
    assert choosing.rule_at_stake(LIST, screw, frozenset({"wet", "open"})) is None
    assert choosing.rule_at_stake(LIST, LIST.steps["here"], frozenset({"open"})) is None
    assert choosing.broken_rule(LIST, frozenset({"open"})) is BURST
    assert choosing.broken_rule(LIST, frozenset({"open", "tight"})) is None


def test_the_rules_that_speak_of_a_step() -> None:
    assert choosing.rules_about(LIST, LIST.steps["tap"]) == ("burst", "hands")
    assert choosing.rules_about(LIST, LIST.steps["screw"]) == ("burst",)
    assert choosing.rules_about(LIST, LIST.steps["lamp"]) == ()
    shut = Step("shut", "Shut it.", ends=frozenset({"open"}))
    assert choosing.rules_about(LIST, shut) == ("burst",)


def test_what_has_come_undone_is_offered_again() -> None:
    now = state(here=DONE, screw=DONE, look=DONE)
    again = choosing.reopened(LIST, now, frozenset({"tight"}))
    assert choosing.status(LIST, again, "screw") is Status.OPEN
    assert choosing.status(LIST, again, "here") is Status.DONE
    plain = choosing.reopened(LIST, replace(now, facts=frozenset({"tight"})), frozenset())
    assert choosing.status(LIST, plain, "screw") is Status.DONE


def test_a_look_is_asked_for_again_only_where_something_hangs_on_it() -> None:
    facts = ("tight", "here answered")
    open_lamp = state(*facts, here=DONE, screw=DONE, look=DONE)
    again = choosing.reopened(LIST, open_lamp, frozenset({"seen"}))
    assert choosing.status(LIST, again, "look") is Status.OPEN
    done = state(*facts, here=DONE, screw=DONE, look=DONE, lamp=DONE)
    kept = choosing.reopened(LIST, done, frozenset({"seen"}))
    assert choosing.status(LIST, kept, "look") is Status.DONE
    closes = choosing.reopened(replace(LIST, closes=parse("seen")), done, frozenset({"seen"}))
    assert choosing.status(LIST, closes, "look") is Status.OPEN


HITCH = Step("hitch", "Hitch up.", gives=frozenset({"coupled"}))
DRIVE = Step("drive", "Drive.", needs=parse("coupled"))


def hitched_again(*between: Step) -> Status:
    """Hitched up and set free again on purpose: where hitching stands with these steps to come."""
    one = stay_of(tuple(map(Fact, ("coupled", "keyed", "winched"))), (HITCH, *between, DRIVE))
    now = State(frozenset(), (DONE, *(Status.OPEN for _ in between), Status.OPEN), at="drive")
    return choosing.status(one, choosing.reopened(one, now, frozenset()), "hitch")


def test_what_a_step_to_come_brings_about_is_not_asked_for_of_one_that_is_done() -> None:
    """Nobody hitches up twice; nor drives because of a step that never comes."""
    anew = Step("anew", "Hitch up again.", gives=frozenset({"coupled"}))
    assert hitched_again() is Status.OPEN
    assert hitched_again(anew) is DONE
    assert hitched_again(replace(anew, needs=parse("keyed"))) is Status.OPEN
    assert hitched_again(replace(anew, only_if=parse("keyed"))) is Status.OPEN
    key = Step("key", "Fetch the key.", gives=frozenset({"keyed"}))
    assert hitched_again(key, replace(anew, needs=parse("keyed"))) is DONE


def test_what_rests_on_a_fact_is_what_is_still_to_be_done() -> None:
    now = state("tight", here=DONE, screw=DONE, tape=LEFT, look=DONE, again=DONE)
    assert Literal("seen") in choosing.rested_on(LIST, now)
    over = state("tight", here=DONE, screw=DONE, tape=LEFT, look=DONE, lamp=DONE, again=DONE)
    assert Literal("seen") not in choosing.rested_on(LIST, over)
    assert Literal("seen") in choosing.rested_on(replace(LIST, closes=parse("seen")), over)
    assert Literal("seen") in choosing.rested_on(LIST, replace(over, at="lamp"))


def test_what_comes_after_the_step_at_hand_is_the_next_open_one_then_the_first_that_was_left() -> None:
    def after(at: str, **statuses: Status) -> tuple[str, ...]:
        return choosing.following(LIST, replace(state(**statuses), at=at))

    assert after("screw") == ("tape",) and after("screw", tape=DONE, look=SKIPPED) == ("look",)
    assert after("lamp", here=DONE, screw=DONE, tape=DONE, look=DONE, again=DONE) == ()
    assert after("again") == ("here",) or after("again") == ("screw",)
    assert after("again", here=DONE, screw=DONE) == ("tape",)
    assert after("") == after("nowhere of the list") == (choosing.open_steps(LIST, state())[0],)
    first = replace(LIST, order=LIST.order[1:])
    assert choosing.following(first, replace(state("here", "here answered"), at="")) == ("tap",)


def test_what_the_step_of_a_remedy_rests_on_is_rested_on() -> None:
    """Else the look that it stands on could grow old under whoever is at it."""
    mending = replace(LIST, order=tuple(step for step in LIST.order if step != "tape"), digest="mending")
    wet = Literal("wet")
    assert wet in choosing.rested_on(mending, replace(state(), at="tape"))
    assert wet not in choosing.rested_on(mending, replace(state(), at="screw"))
