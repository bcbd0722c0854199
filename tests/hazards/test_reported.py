"""Each way of getting hurt that was reported, tried again on the shipped checklists.

Each test failed when it was written (on the rules of before motion, evidence and failing tests):
the program offered, accepted or closed what it now refuses.  Where words matter, the conversation
is the real one, in text.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.advance import advance
from handsfree.engine.state import (
    Alarm,
    Confirm,
    Done,
    Effect,
    Finish,
    GoTo,
    Mode,
    Problem,
    Read,
    Refused,
    Reply,
    Respond,
    Resume,
    Say,
    Skip,
    State,
    Status,
    TakeBack,
)
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.storage.paths import checklists_folder, find_checklist, find_rig
from handsfree.testing import MemoryLog, Talk, talk

HOUR = 3600.0
RIG = "tandem-slide"
CHECKLISTS = sorted(path.stem for path in checklists_folder().glob("*.yaml"))


@cache
def loaded(name: str, rig: str = RIG) -> Checklist:
    return load_checklist(find_checklist(name), rig=load_rig(find_rig(rig)),
                          library=checklists_folder())


def record(*more: str, rig: str = RIG, without: tuple[str, ...] = ()) -> frozenset[str]:
    """A rig as it comes from the road, with these facts besides and those not."""
    start = loaded("arrive", rig).start_facts | load_rig(find_rig(rig)).has
    return frozenset({*start, *more} - {*without})


def at(name: str, step: str, facts: frozenset[str], rig: str = RIG) -> State:
    """Nothing done yet in this session, the step at hand."""
    return State(facts, tuple(Status.OPEN for _ in loaded(name, rig).steps), at=step)


def going_to(name: str, step: str, facts: frozenset[str],
             rig: str = RIG) -> tuple[State, tuple[Effect, ...]]:
    checklist = loaded(name, rig)
    first = next(one for one in checklist.order if one != step)
    return advance(checklist, at(name, first, facts, rig), GoTo(step))


def accepted(name: str, step: str, facts: frozenset[str], rig: str = RIG) -> bool:
    """Whether the step can be gone to with exactly these facts."""
    return going_to(name, step, facts, rig)[0].at == step


def refusal(name: str, step: str, facts: frozenset[str], rig: str = RIG) -> Refused | None:
    return next((effect for effect in going_to(name, step, facts, rig)[1]
                 if isinstance(effect, Refused)), None)


class Session:
    """A conversation in text, its clock in hours."""

    def __init__(self, name: str, facts: frozenset[str], rig: str = RIG) -> None:
        self.hour = 0.0
        self.told: list[str] = []
        self.conversation = Conversation(loaded(name, rig), load_language("en"), MemoryLog())
        self._keep(self.conversation.begin(facts, 0.0))

    def _keep(self, prompts: list) -> str:  # type: ignore[type-arg]
        words = " ".join(prompt.text for prompt in prompts)
        self.told.append(words)
        return words

    def say(self, *words: str) -> str:
        """What is answered to the last of them."""
        for one in words:
            answer = self._keep(self.conversation.hear(
                Hypothesis(one, 1.0, 0.0, 0.0), self.hour * HOUR))
        return answer

    def go_to(self, step: str) -> str:
        return self._keep(self.conversation.take(GoTo(step), self.hour * HOUR))

    def report(self, step: str) -> str:
        """Go to a step with a response, give it, and say that it was heard right."""
        if step not in self.conversation.checklist.steps:
            return ""
        self.go_to(step)
        told = self.say(self.conversation.checklist.steps[step].respond or "done")
        return self.say("that is right") if self.state.mode is Mode.CONFIRM else told

    def night(self, hours: float) -> str:
        """Finish for now, and resume later."""
        self._keep(self.conversation.take(Finish(), self.hour * HOUR))
        self.hour += hours
        return self._keep(self.conversation.take(Resume(), self.hour * HOUR))

    @property
    def state(self) -> State:
        return self.conversation.state


def said(told: Talk) -> str:
    return " ".join(told.words_of("program"))


# --- driven up ramps fully connected ---------------------------------------------------------------

CAMPED = ("parked", "chocked", "plugged in", "cord out", "outlet good", "regulator out",
          "pressure proved", "water hose out", "tap open", "sewer hose out", "hose sealed",
          "slide extended", "stabilisers out", "wheel braces out", "awning out", "antenna up",
          "entry step out", "gas open", "fore settled", "stay hitched", "stay hitched answered")

CONNECTED = ("plugged in", "cord out", "water hose out", "sewer hose out", "slide extended",
             "stabilisers out", "wheel braces out", "mast up", "awning out", "antenna up",
             "entry step out", "guy lines out", "gas open")

ON_RAMPS = record("parked", "ramps out", "area clear", "trailer empty")
"""All is well for easing up the ramps."""


def test_arriving_again_in_mid_stay_leads_up_no_ramps() -> None:
    told = talk(loaded("arrive"), load_language("en"),
                Script(readings={"side-level": ("three degrees", "three degrees")},
                       answers={"stay hitched": True}),
                record=record(*CAMPED), turns=80)
    assert "Take the chocks out" not in said(told)
    assert "Lay a ramp" not in said(told)
    assert "Ease up the ramps" not in said(told)
    assert "chocked" in told.conversation.state.facts


def test_the_ramps_can_be_climbed_when_all_is_well() -> None:
    assert accepted("arrive", "ramp-climb", ON_RAMPS)
    assert accepted("arrive", "chocks-away", ON_RAMPS | {"chocked"})


@pytest.mark.parametrize("what", CONNECTED)
@pytest.mark.parametrize("step", ["chocks-away", "ramp-climb"])
def test_one_thing_still_out_keeps_the_rig_off_the_ramps(step: str, what: str) -> None:
    """With everything else satisfied."""
    facts = ON_RAMPS | {what} | ({"chocked"} if step == "chocks-away" else set())
    facts |= {"outlet good", "breaker off", "regulator out", "pressure proved", "hose sealed"}
    refused = refusal("arrive", step, facts)
    assert refused is not None
    assert what in [literal.fact for literal in refused.missing]


@pytest.mark.parametrize("what", ["chocked", "area clear", "trailer empty", "hitched",
                                  "latch locked", "coupling unproved", "jack up", "chains on",
                                  "cable on", "light cord on", "coupler raised", "spot refused"])
def test_the_ramps_are_climbed_held_hitched_and_seen_clear_only(what: str) -> None:
    facts = ON_RAMPS ^ {what}
    assert not accepted("arrive", "ramp-climb", facts)


def test_the_partner_inside_ends_the_look_that_nobody_is_in_there() -> None:
    facts = ON_RAMPS | {"chocked"}
    checklist = loaded("arrive")
    step = checklist.steps["alarm-test"]
    state, _ = advance(checklist, at("arrive", step.id, facts),
                       Respond() if step.hold else Done())
    if state.mode is Mode.CONFIRM:
        state, _ = advance(checklist, state, Confirm())
    assert "trailer empty" not in state.facts
    assert not accepted("arrive", "ramp-climb", state.facts - {"chocked"})


ALONE = record("parked", "chocked", "crank out", "fore settled", "side settled", without=(
    "hitched", "latch locked", "jack up", "chains on", "cable on", "light cord on", "bars on",
    "sway bar on"))
"""The trailer stands alone on its jack."""


@pytest.mark.parametrize("what", ["stabilisers out", "slide extended"])
def test_the_nose_is_not_lifted_with_stabilisers_down_or_the_slide_out(what: str) -> None:
    assert accepted("arrive", "nose-set", ALONE)
    assert not accepted("arrive", "nose-set", ALONE | {what})


# --- a failed test passes ------------------------------------------------------------------------

AT_THE_LEAN_TEST = record("parked", "chocked", "side settled", "stay hitched answered")


def test_a_roll_away_test_that_fails_takes_the_chocks_off_the_record() -> None:
    """In words: brake first; and the truck does not pull away."""
    session = Session("arrive", AT_THE_LEAN_TEST - {"stay hitched answered"})
    session.go_to("stay hitched")
    session.say("no")
    session.go_to("lean-test")
    answer = session.say("there is a problem")
    assert "no remedy" not in answer
    assert "Set the brake right now" in answer
    assert "chocked" not in session.state.facts
    session.go_to("pull-away")
    assert session.state.at != "pull-away"
    session.go_to("latch-open")
    assert session.state.at != "latch-open"


@pytest.mark.parametrize("rig", ["tandem-slide", "fifth-wheel"])
def test_nothing_comes_apart_before_the_roll_away_test_has_passed(rig: str) -> None:
    step = "latch-open" if rig == "tandem-slide" else "jaws-open"
    facts = record("parked", "chocked", "side settled", "stay hitched answered", rig=rig,
                   without=("jack up",))
    assert accepted("arrive", step, facts | {"chocks proved"}, rig)
    assert not accepted("arrive", step, facts, rig)


@pytest.mark.parametrize("name", CHECKLISTS)
def test_every_step_that_asks_or_reads_can_be_answered_with_no(name: str) -> None:
    checklist = loaded(name)
    asking = [step for step in checklist.steps.values() if not step.question
              and (step.reading is not None or step.do.rstrip().endswith("?"))]
    assert asking
    for step in asking:
        _, effects = advance(checklist, at(name, step.id, record("parked")), Problem())
        assert not any(isinstance(effect, Say) and effect.reply is Reply.NO_REMEDY
                       for effect in effects), step.id


# --- said "do not", then the opposite ------------------------------------------------------------

def test_after_five_degrees_no_ramp_is_offered_and_nothing_comes_apart() -> None:
    told = talk(loaded("arrive"), load_language("en"),
                Script(readings={"side-level": ("five degrees", "five degrees")},
                       answers={"stay hitched": False}),
                record=record("parked"), turns=40)
    after = said(told).split("five degrees", 1)[-1].lower()
    assert "do not" in after or "not here" in after
    assert "do they reach" not in after
    assert "take the chocks out" not in after
    facts = told.conversation.state.facts
    assert "side settled" not in facts
    assert "hitched" in facts and "latch locked" in facts


@pytest.mark.parametrize("step", ["chocks-away", "ramp-lay", "ramp-climb"])
def test_a_spot_that_was_turned_down_is_not_levelled_by_name_either(step: str) -> None:
    checklist = loaded("arrive")
    state = at("arrive", "side-level", record("parked", "chocked"))
    state, _ = advance(checklist, advance(checklist, state, Read("stop"))[0], Confirm())
    facts = state.facts | {"ramps out", "area clear", "trailer empty"}
    if step != "chocks-away":
        facts -= {"chocked"}
    if step == "ramp-lay":
        facts -= {"ramps out"}
    assert not accepted("arrive", step, facts)


def test_taking_a_move_back_does_not_undo_what_was_turned_down() -> None:
    """Climb, read a lean that is too much, say that the climb was a mistake: still turned down."""
    checklist = loaded("arrive")
    state, _ = advance(checklist, at("arrive", "ramp-climb", ON_RAMPS), Done())
    assert "ramp-climb" in state.reports
    state = replace(state, at="side-level", mode=Mode.STEP)
    state, _ = advance(checklist, advance(checklist, state, Read("stop"))[0], Confirm())
    assert "spot refused" in state.facts
    state, _ = advance(checklist, state, TakeBack("ramp-climb"))
    assert "spot refused" in state.facts


# --- seen clear never expires --------------------------------------------------------------------

SLIDE_OUT = record("parked", "chocked", "slide extended", "slide free", "side settled",
                   "fore settled")


def at_the_switch(session: Session) -> None:
    """Both sides seen clear, the switch unlocked, about to run the slide-out in."""
    session.report("slide-floor")
    session.report("slide-roof")
    session.go_to("slide-ready")
    if session.state.at == "slide-ready":
        session.say(loaded("depart").steps["slide-ready"].respond or "done")
    session.go_to("slide-run-in")
    assert session.state.at == "slide-run-in"


def test_a_slide_path_seen_before_the_night_does_not_count_in_the_morning() -> None:
    session = Session("depart", SLIDE_OUT)
    at_the_switch(session)
    answer = session.night(14)
    assert "no longer counts" in answer
    session.go_to("slide-run-in")
    assert session.state.at != "slide-run-in"


def test_a_slide_path_seen_eleven_minutes_ago_is_looked_at_again() -> None:
    session = Session("depart", SLIDE_OUT)
    at_the_switch(session)
    session.hour = 11 / 60
    answer = session.say(loaded("depart").steps["slide-run-in"].respond)
    if session.state.mode is Mode.CONFIRM:
        answer = session.say("that is right")
    assert "slide extended" in session.state.facts
    assert "ago" in answer and "heck again" in answer


ROAD = record("parked", "lights checked", "tyres checked", "walked round", "hitch looked over", "area clear",
              "trailer empty")
"""All is well for driving off."""


@pytest.mark.parametrize("resumed", [True, False])
def test_a_walk_round_thirty_hours_old_does_not_let_the_rig_off(resumed: bool) -> None:
    session = Session("depart", record("parked"))
    for step in ("lights", "walk-round", "way-clear"):
        session.report(step)
    assert "walked round" in session.state.facts
    if resumed:
        session.night(30)
    else:
        session.hour = 30
    session.report("pull-out")
    assert "parked" in session.state.facts


def test_the_outlet_that_was_tested_at_one_site_does_not_count_at_the_next() -> None:
    """Tested, never plugged in; another session; and, within one, after the rig has moved."""
    facts = record("outlet good", "inspected", "breaker off", "site power")
    assert "outlet good" not in Session("arrive", facts).state.facts
    checklist = loaded("arrive")
    here = record("outlet good", "inspected", "breaker off", "area clear", "trailer empty")
    step = checklist.steps["back-in"]
    state, _ = advance(checklist, at("arrive", "back-in", here), Respond() if step.hold else Done())
    if state.mode is Mode.CONFIRM:
        state, _ = advance(checklist, state, Confirm())
    assert "outlet good" not in state.facts


# --- rules too thin ------------------------------------------------------------------------------

NOT_READY = ("lights checked", "tyres checked", "walked round", "hitch looked over", "area clear", "trailer empty",
             "hitched", "latch locked", "jack up", "chains on", "cable on", "light cord on",
             "bars on", "sway bar on", "coupling unproved", "coupler raised", "chocked", "unfit",
             *CONNECTED)


@pytest.mark.parametrize("what", NOT_READY)
def test_one_thing_amiss_and_the_rig_does_not_drive_off(what: str) -> None:
    """With everything else satisfied; refused, and not only said at closing."""
    facts = ROAD | {"outlet good", "breaker off", "regulator out", "pressure proved",
                    "hose sealed"}
    assert accepted("depart", "pull-out", facts)
    assert not accepted("depart", "pull-out", facts ^ {what})


@pytest.mark.parametrize("skipped", ["lights", "tyre-low", "bars-load"])
def test_driving_off_with_a_step_skipped_is_refused_with_its_reason(skipped: str) -> None:
    """In words: the skipped step is named before the rig has moved."""
    missing = {"lights": "lights checked", "tyre-low": "tyres checked", "bars-load": "bars on"}
    session = Session("depart", ROAD - {missing[skipped]} - {"walked round"})
    for step in ("lights", "walk-round", "way-clear"):
        if step != skipped:
            session.report(step)
    session.go_to(skipped)
    session.say("skip")
    answer = session.go_to("pull-out")
    assert session.state.at != "pull-out"
    assert "Stop." in answer and "parked" in session.state.facts


@pytest.mark.parametrize("later", ["stabilisers-up", "cord-in", "awning-in", "markers-in",
                                   "crank-stow", "pad-in"])
def test_a_walk_round_before_the_work_is_done_does_not_count(later: str) -> None:
    """Walked round first, everything else after it."""
    checklist = loaded("depart")
    if later not in checklist.steps:
        pytest.fail(f"there is no step {later}")
    step = checklist.steps[later]
    assert step.ends
    facts = record("parked", "chocked", "walked round", *step.ends)
    state = at("depart", later, facts)
    for event in (Respond(), Confirm()) if step.hold else (Done(),):
        state, _ = advance(checklist, state, event)
    assert not step.ends & state.facts
    assert "walked round" not in state.facts


def test_the_slide_is_run_out_only_when_level_front_to_back() -> None:
    facts = record("parked", "chocked", "side settled", "slide free", "inside clear",
                   "outside clear")
    assert accepted("arrive", "slide-run-out", facts | {"fore settled"})
    assert not accepted("arrive", "slide-run-out", facts)


def test_stabilisers_come_down_only_after_the_jack_has_run() -> None:
    assert accepted("arrive", "stabilisers-down", ALONE)
    assert not accepted("arrive", "stabilisers-down", ALONE - {"fore settled"})


def test_no_refuelling_with_gas_open_on_the_record() -> None:
    facts = record("parked")
    assert accepted("road-stop", "refuel", facts)
    assert not accepted("road-stop", "refuel", facts | {"gas open"})


@pytest.mark.parametrize("how", ["coupler raised", "latch locked", "coupling unproved"])
def test_chocks_taken_back_under_an_open_coupling_alarm(how: str) -> None:
    """At the hitch with the chocks on the record, then: they were never set."""
    facts = record("parked", "chocked", without=("jack up",)) ^ {how}
    checklist = loaded("arrive")
    _, effects = advance(checklist, at("arrive", "fore-level", facts), TakeBack("chock"))
    assert Alarm("roll-away") in effects


# --- skips ---------------------------------------------------------------------------------------

def closing(name: str, facts: frozenset[str]) -> Mode:
    """How a checklist ends of which everything has been skipped that can be."""
    checklist = loaded(name)
    left = tuple(Status.DONE if step.must else Status.LEFT for step in checklist.steps.values())
    last = checklist.order[-1]
    return advance(checklist, State(facts, left, at=last), Skip())[0].mode


SET_UP = record("parked", "chocked")


@pytest.mark.parametrize("danger", [("gas open",), ("on trial",),
                                    ("slide free", "inside clear", "outside clear")])
def test_arrive_does_not_close_over_a_danger_that_was_skipped(danger: tuple[str, ...]) -> None:
    assert closing("arrive", SET_UP) is Mode.CLOSING
    assert closing("arrive", SET_UP | {*danger}) is Mode.BLOCKED


def test_arrive_closes_with_gas_open_once_somebody_has_sniffed() -> None:
    assert closing("arrive", SET_UP | {"gas open", "gas smelt"}) is Mode.CLOSING


@pytest.mark.parametrize("valve", ["black open", "grey open"])
def test_a_freezing_night_does_not_close_with_a_valve_not_pushed(valve: str) -> None:
    assert closing("freezing-night", SET_UP) is not Mode.BLOCKED
    assert closing("freezing-night", SET_UP | {"hose sealed", valve}) is Mode.BLOCKED


# --- one "done" ----------------------------------------------------------------------------------

@pytest.mark.parametrize("name", CHECKLISTS)
def test_a_bare_done_settles_nothing_that_a_rule_hangs_on(name: str) -> None:
    checklist = loaded(name)
    every = getattr(checklist, "all_rules", checklist.rules)
    hang = frozenset().union(*(rule.when.names() for rule in every))
    for step in checklist.steps.values():
        if step.question or not (step.gives | step.ends) & hang:
            continue
        state = at(name, step.id, record("parked", *step.ends))
        after, effects = advance(checklist, state, Done())
        assert after.facts == state.facts, step.id
        assert {effect.reply for effect in effects if isinstance(effect, Say)} & {
            Reply.NEEDS_RESPONSE, Reply.NEEDS_READING}, step.id
