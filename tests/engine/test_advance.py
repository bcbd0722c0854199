"""The engine, event by event: order, holds, refusals, readings, remedies, taking back, closing."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine.advance import advance, begin
from handsfree.engine.choosing import broken_rule, open_steps
from handsfree.engine.state import (
    Alarm,
    Answer,
    Ask,
    Changed,
    Closed,
    Confirm,
    Correct,
    Deny,
    Done,
    Effect,
    Event,
    Finish,
    GoTo,
    Mode,
    Offer,
    Pause,
    Problem,
    Read,
    Refused,
    Respond,
    Resume,
    Skip,
    State,
    Status,
    TakeBack,
    Unclear,
    Unsure,
)
from tests.engine.telling import told

TEXT = """\
title: Small stay
facts:
  hitched: {says: the trailer is coupled, start: true, travel: must}
  chocked: {says: the wheels are chocked, travel: must not}
  breaker on: the breaker is on
  outlet good: the outlet is good
gear:
  hose: the hose is out
questions:
  water here: {ask: "Is there water?", says: there is water}
never:
  - id: roll
    when: not hitched and not chocked
    because: Nothing would hold the trailer.
    now: Keep clear and chock the wheels.
    respond: wheels are chocked
    gives: chocked
remedies:
  bad outlet:
    says: That outlet is bad.
    steps:
      - {id: breaker off, do: Breaker off., ends: breaker on}
      - {id: other outlet, do: Move to the other outlet., needs: not breaker on}
    tries: 2
    gives up: {says: Stop. Do not connect.}
steps:
  - ask: water here
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked, must: yes}
  - {id: pull away, do: Pull the truck away., needs: chocked, ends: hitched}
  - {id: breaker, do: Breaker on., gives: breaker on}
  - {id: volts, do: Read the volts., needs: breaker on, gives: outlet good,
     reading: {of: volts, between: [108, 127]}, if it fails: bad outlet}
  - {id: hose, do: Connect the hose., only if: water here, puts out: hose}
  - {id: mat, do: Lay the mat out.}
"""


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Checklist:
    path = tmp_path_factory.mktemp("lists") / "small.yaml"
    path.write_text(TEXT, encoding="utf-8")
    return load_checklist(path)


class Run:
    """A session that remembers its last effects."""

    def __init__(self, checklist: Checklist, facts: frozenset[str] | None = None) -> None:
        self.checklist = checklist
        self.state, self.effects = begin(
            checklist, checklist.start_facts if facts is None else facts)

    def __call__(self, *events: Event) -> "Run":
        for event in events:
            self.state, self.effects = advance(self.checklist, self.state, event)
        return self

    def only(self, kind: type[Effect]) -> Effect:
        found = [effect for effect in self.effects if isinstance(effect, kind)]
        assert len(found) == 1, self.effects
        return found[0]

    def says(self) -> list[str]:
        return told(self.effects)


CHOCK = (Respond(), Confirm())


def test_steps_are_offered_in_their_order(small: Checklist) -> None:
    run = Run(small)
    seen = [run.state.at]
    for events in ([Answer(True)], CHOCK, [Done()], [Done()], [Read("within"), Confirm()],
                   [Done()]):
        seen.append(run(*events).state.at)
    assert seen == ["water here", "chock", "pull away", "breaker", "volts", "hose", "mat"]
    assert run(Done()).state.mode is Mode.CLOSED
    assert run.only(Closed) == Closed(())


def test_a_hold_point_takes_nothing_but_its_own_response(small: Checklist) -> None:
    run = Run(small)(Answer(False))
    for event in (Done(), Confirm(), Answer(True), Read("within")):
        before = run.state
        assert run(event).state == before
    assert run(Respond()).state.mode is Mode.CONFIRM
    assert "chocked" not in run.state.facts
    assert run(Confirm()).state.facts >= {"chocked"}


def test_a_hold_point_needs_a_certain_response_and_a_certain_confirmation(
    small: Checklist
) -> None:
    run = Run(small)(Answer(False))
    assert run(Unsure(Respond())).state.mode is Mode.STEP
    run(Respond())
    assert run(Unsure(Confirm())).state.mode is Mode.CONFIRM
    assert "chocked" not in run.state.facts


def test_a_withdrawn_readback_changes_nothing(small: Checklist) -> None:
    run = Run(small)(Answer(False))
    before = run.state
    assert run(Respond(), Deny()).state == before


def test_an_uncertain_order_is_asked_about_first(small: Checklist) -> None:
    run = Run(small)(Answer(False), *CHOCK, Unsure(Done()))
    assert run.state.mode is Mode.CONFIRM and "hitched" in run.state.facts
    assert "hitched" not in run(Confirm()).state.facts


def test_an_unmet_interlock_is_refused_with_reason_and_help(small: Checklist) -> None:
    run = Run(small)(Answer(False))
    before = run.state
    assert run(GoTo("pull away")).state == before
    refused = run.only(Refused)
    assert isinstance(refused, Refused)
    assert [str(literal) for literal in refused.missing] == ["chocked"]
    assert refused.rule == "roll" and refused.mends == ("chock",) and not refused.backstop


def test_the_never_rule_itself_is_a_backstop_where_the_interlock_is_missing(
    tmp_path: Path
) -> None:
    path = tmp_path / "weak.yaml"
    path.write_text(TEXT.replace("needs: chocked, ends: hitched", "ends: hitched"))
    run = Run(load_checklist(path))(Answer(False), GoTo("pull away"))
    assert run.state.at == "pull away"
    run(Done())
    refused = run.only(Refused)
    assert isinstance(refused, Refused) and refused.backstop and refused.rule == "roll"
    assert "hitched" in run.state.facts


def test_skipped_steps_are_offered_again_and_then_left_open(small: Checklist) -> None:
    run = Run(small)(Answer(False), *CHOCK, Done(), Done(), Read("within"), Confirm())
    assert run.state.at == "mat"
    run(Skip())
    assert run.only(Offer) == Offer("mat", "skipped")
    run(Skip())
    assert run.state.mode is Mode.CLOSING and open_steps(small, run.state) == ("mat",)
    assert run(Answer(True)).only(Closed) == Closed(("mat",))


def test_keeping_open_offers_everything_once_more(small: Checklist) -> None:
    run = Run(small)(Answer(False), *CHOCK, Done(), Done(), Read("within"), Confirm(), Skip(),
                     Skip(), Answer(False))
    assert run.state.at == "mat" and run.state.mode is Mode.STEP


def test_a_step_marked_must_keeps_the_checklist_from_closing(small: Checklist) -> None:
    run = Run(small)(Answer(False))
    for _ in range(20):
        if run.state.mode is not Mode.STEP:
            break
        run(Skip())
    assert run.state.mode is Mode.BLOCKED
    assert run(Answer(True)).state.mode is Mode.BLOCKED
    assert run(GoTo("chock")).state.at == "chock"


def test_questions_are_answered_not_skipped(small: Checklist) -> None:
    run = Run(small)
    assert run(Skip()).state.at == "water here"
    assert run(Done()).state.at == "water here"


def test_a_reading_out_of_limits_leads_through_the_remedy_to_another_try(
    small: Checklist
) -> None:
    run = Run(small)(Answer(False), *CHOCK, Done(), Done(), Read("low"))
    assert run.state.mode is Mode.CONFIRM
    seen = [run(Confirm()).state.at, run(Done()).state.at, run(Done()).state.at]
    assert seen == ["breaker off", "other outlet", "breaker"]  # what was undone is done again
    assert run(Done()).state.at == "volts"
    run(Read("within"), Confirm())
    assert "outlet good" in run.state.facts


def test_a_second_failure_gives_up(small: Checklist) -> None:
    run = Run(small)(Answer(False), *CHOCK, Done(), Done(), Read("low"), Confirm(), Done(), Done(),
                     Done(), Read("high"), Confirm())
    assert "give up" in run.says()
    assert run.state.statuses[small.index["volts"]] is Status.FAILED
    assert run.state.at == "mat" and "outlet good" not in run.state.facts


def test_a_problem_starts_the_remedy_too(small: Checklist) -> None:
    run = Run(small)(Answer(False), *CHOCK, Done(), Done(), Problem())
    assert run.state.at == "breaker off"


def test_taking_back_undoes_the_last_report(small: Checklist) -> None:
    run = Run(small)(Answer(False))
    before = run.state
    run(*CHOCK, TakeBack())
    assert run.state.facts == before.facts and run.state.at == "chock"
    assert run.only(Changed) == Changed(frozenset(), frozenset({"chocked"}))


def test_taking_back_what_a_never_rule_hangs_on_raises_the_alarm_and_holds_everything(
    small: Checklist
) -> None:
    run = Run(small)(Answer(False), *CHOCK, Done(), TakeBack("chock"))
    assert run.only(Alarm) == Alarm("roll") and run.state.mode is Mode.ALARM
    for event in (Done(), Skip(), GoTo("mat"), Answer(True), Confirm(), Problem(), TakeBack(),
                  Correct("hitched", True)):
        assert run(event).state.mode is Mode.ALARM
        assert run.only(Alarm) == Alarm("roll")
    assert run(Unsure(Respond())).state.mode is Mode.ALARM
    run(Respond())
    assert run.state.mode is Mode.CONFIRM
    assert run(Confirm()).state.facts >= {"chocked"} and run.state.mode is Mode.STEP


def test_a_record_that_breaks_a_rule_starts_with_the_alarm(small: Checklist) -> None:
    run = Run(small, frozenset())
    assert run.only(Alarm) == Alarm("roll")


def test_pause_voids_a_readback_and_resume_reads_the_step_again(small: Checklist) -> None:
    run = Run(small)(Answer(False), Respond(), Pause())
    assert run.state.mode is Mode.PAUSED
    assert run(Confirm()).state.mode is Mode.PAUSED
    run(Resume())
    assert run.only(Offer) == Offer("chock", "resumed") and run.state.mode is Mode.STEP
    assert "chocked" not in run.state.facts


def test_finish_for_now_can_be_resumed(small: Checklist) -> None:
    run = Run(small)(Answer(False), Finish())
    assert run.state.mode is Mode.SUSPENDED
    assert run(Done()).state.mode is Mode.SUSPENDED
    assert run(Resume()).state.at == "chock"


def test_a_step_that_does_not_apply_is_not_offered_nor_gone_to(small: Checklist) -> None:
    run = Run(small)(Answer(False), GoTo("hose"))
    assert run.state.at == "chock" and run.says() == ["does not apply"]


def test_a_correction_changes_the_record_and_traits_stay(small: Checklist) -> None:
    run = Run(small)(Answer(False), Correct("chocked", True))
    assert "chocked" in run.state.facts
    assert run(Correct("no such fact", True)).says() == ["not now"]


def test_a_correction_while_finished_for_now_counts_on_coming_back(small: Checklist) -> None:
    run = Run(small)(Answer(False), *CHOCK, Done(), Finish(), Correct("chocked", False))
    assert run.only(Alarm) == Alarm("roll") and run.state.mode is Mode.SUSPENDED
    assert run(Resume()).state.mode is Mode.ALARM
    run = Run(small)(Answer(False), Finish(), Correct("chocked", True), Resume())
    assert run.state.mode is Mode.STEP and "chocked" in run.state.facts


EVENTS: list[Event] = [
    Done(), Respond(), Confirm(), Deny(), Skip(), Problem(), Pause(), Resume(), Finish(),
    Unclear(), TakeBack(), Answer(True), Answer(False),
    *(Read(band) for band in ("low", "within", "high")),
    *(Ask(about) for about in ("repeat", "why", "detail", "remaining", "help", "status", "next")),
    *(GoTo(step) for step in ("chock", "pull away", "volts", "hose", "breaker off", "nowhere")),
    *(TakeBack(step) for step in ("chock", "pull away", "hose", "nowhere")),
    *(Correct(fact, so) for fact in ("chocked", "hitched") for so in (True, False)),
]
EVENTS += [Unsure(event) for event in EVENTS]


@settings(max_examples=400, deadline=None)
@given(st.lists(st.sampled_from(EVENTS), max_size=60))
def test_no_sequence_of_events_gets_round_a_rule(small: Checklist, events: list[Event]) -> None:
    """Every event in every state: a broken rule is an alarm, a report is never lost or doubled,
    and everything is answered."""
    run = Run(small)
    for event in events:
        before = run.state
        run(event)
        after: State = run.state
        hash(after)
        assert run.effects, event
        rule = broken_rule(small, after.facts)
        assert bool(after.broken) is bool(rule)
        if rule and not broken_rule(small, before.facts):
            assert isinstance(before.pending or event, (TakeBack, Correct, Unsure)) or isinstance(
                event, (TakeBack, Correct))
        if isinstance(event, (Ask, Unclear)):
            assert after == before
        if isinstance(event, Unsure):
            assert after.facts == before.facts
        changed = [e for e in run.effects if isinstance(e, Changed)]
        facts = before.facts
        for change in changed:
            facts = (facts - change.off) | change.on
        assert facts == after.facts
        if after.mode is Mode.STEP:
            step = small.steps[after.at]
            assert step.applicable.holds(after.facts) and step.needs.holds(after.facts)
