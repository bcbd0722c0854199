"""Steps that wait: begun by a report, ended by time, never in the way of an interlock."""

from dataclasses import replace

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import (
    Alarm,
    Answer,
    Ask,
    Closed,
    Confirm,
    Deny,
    Done,
    Due,
    Effect,
    Event,
    Finish,
    GoTo,
    Mode,
    Offer,
    Pause,
    Problem,
    Refused,
    Reply,
    Respond,
    Resume,
    Say,
    Skip,
    Status,
    TakeBack,
    Unsure,
    WaitBegins,
    Waiting,
)
from tests.engine.telling import told

TEXT = """\
title: Water
facts:
  open: {says: the tap is open, otherwise: the tap is shut}
  tight: the hose is tight
  chocked: {says: the wheels are chocked, start: true}
never:
  - {id: roll, when: not chocked, because: It rolls., now: Chock it., respond: chocks are in,
     gives: chocked}
remedies:
  mend:
    says: We seat it again.
    steps:
      - {id: shut, do: Shut the tap., ends: open}
      - {id: loosen, do: Unscrew it., needs: not open, ends: tight}
    tries: 3
    gives up: {says: Leave it shut.}
steps:
  - {id: tap, do: Open the tap., only if: not open, gives: open}
  - {id: feel, do: Feel the joint., needs: open, gives: tight}
  - {id: again, do: Feel it once more., needs: [open, tight], if it fails: mend,
     waits: {after: feel, minutes: 10}}
  - {id: mat, do: Lay out the mat.}
  - {id: chock, do: Look at the chocks., respond: chocks are set, gives: chocked}
"""


@pytest.fixture(scope="module")
def water(tmp_path_factory: pytest.TempPathFactory) -> Checklist:
    path = tmp_path_factory.mktemp("lists") / "water.yaml"
    path.write_text(TEXT, encoding="utf-8")
    return load_checklist(path)


class Run:
    def __init__(self, checklist: Checklist) -> None:
        self.checklist = checklist
        self.state, self.effects = begin(checklist, checklist.start_facts)

    def __call__(self, *events: Event) -> "Run":
        for event in events:
            self.state, self.effects = advance(self.checklist, self.state, event)
        return self

    def says(self) -> list[str]:
        return told(self.effects)

    def offers(self) -> list[Effect]:
        return [effect for effect in self.effects if isinstance(effect, Offer)]

    def status(self, step: str) -> Status:
        return self.state.statuses[self.checklist.index[step]]


FELT = (Done(), Done())
CHOCKED = (Respond(), Confirm())


def test_the_report_begins_the_wait_and_the_other_steps_go_on(water: Checklist) -> None:
    run = Run(water)(*FELT)
    assert WaitBegins("again") in run.effects
    assert run.state.waits == {"again"} and run.state.at == "mat"


def test_due_at_an_ordinary_step_it_is_told_and_comes_next(water: Checklist) -> None:
    run = Run(water)(*FELT, Due("again"))
    assert run.effects == (Say(Reply.DUE, "again"),)
    assert run.state.at == "mat" and not run.state.waits
    assert run(Done()).offers() == [Offer("again", "due")]


def test_at_a_hold_point_and_a_readback_it_says_nothing_and_comes_next(water: Checklist) -> None:
    for before in ((), (Respond(),)):
        run = Run(water)(*FELT, Done(), *before)
        assert run.state.at == "chock"
        assert run(Due("again")).effects == () and run.state.at == "chock"
        run(*(CHOCKED[len(before):]))
        assert run.offers() == [Offer("again", "due")]


def test_in_an_alarm_it_says_nothing_and_comes_when_the_danger_is_over(water: Checklist) -> None:
    run = Run(water)(*FELT, Done(), *CHOCKED, TakeBack("chock"))
    assert run.state.mode is Mode.ALARM
    assert run(Due("again")).effects == () and run.state.mode is Mode.ALARM
    assert run(*CHOCKED).state.at == "again"


def test_with_nothing_else_to_do_it_waits_and_time_goes_on(water: Checklist) -> None:
    run = Run(water)(*FELT, Done(), *CHOCKED)
    assert run.state.mode is Mode.WAITING and not run.state.at
    assert run.effects[-1] == Waiting(("again",))
    for event in (Done(), Ask("repeat")):
        assert run(event).says() == ["wait"] and run.state.mode is Mode.WAITING
    assert run(Due("again")).offers() == [Offer("again", "due")]
    assert run(Done()).state.mode is Mode.CLOSED


def test_it_can_be_gone_to_before_its_time_and_is_then_no_longer_waited_for(
    water: Checklist
) -> None:
    run = Run(water)(*FELT, GoTo("again"))
    assert run.effects == (Say(Reply.EARLY, "again"), Offer("again"))
    run(Done())
    assert not run.state.waits and run.status("again") is Status.DONE
    assert run(Due("again")).effects == ()
    assert run(Done(), *CHOCKED).state.mode is Mode.CLOSED


def test_an_interlock_holds_whatever_the_clock_says(water: Checklist) -> None:
    run = Run(water)(*FELT, TakeBack("tap"), Due("again"))
    assert run.effects == ()
    assert run(GoTo("again")).says() == [] and isinstance(run.effects[0], Refused)


def test_skipping_it_early_offers_it_again_when_it_is_due(water: Checklist) -> None:
    run = Run(water)(*FELT, GoTo("again"), Skip(), Done(), *CHOCKED)
    assert run.state.mode is Mode.WAITING
    assert run(Due("again")).offers() == [Offer("again", "skipped")]


def test_who_does_not_want_to_wait_is_asked_whether_to_close(water: Checklist) -> None:
    run = Run(water)(*FELT, Done(), *CHOCKED, Skip())
    assert run.state.mode is Mode.CLOSING and run.says()[-1] == "close with open steps"
    run(Answer(False))
    assert run.state.mode is Mode.WAITING, "kept open: the wait still runs"
    assert run(Skip(), Answer(True)).effects == (Closed(("again",)),)


def test_what_it_follows_taken_back_it_no_longer_waits(water: Checklist) -> None:
    run = Run(water)(*FELT, TakeBack("feel"))
    assert run.state.waits == frozenset() and run.state.at == "feel"
    assert run(Done()).state.waits == {"again"}


def test_what_it_follows_done_again_it_is_due_again(water: Checklist) -> None:
    run = Run(water)(*FELT, Due("again"), GoTo("again"), Done(), GoTo("feel"), Done())
    assert run.state.waits == {"again"} and run.status("again") is Status.OPEN


def test_a_leak_found_late_is_mended_felt_at_once_and_felt_again_later(water: Checklist) -> None:
    run = Run(water)(*FELT, GoTo("again"), Problem())
    seen = [run.state.at]
    for _ in range(4):
        seen.append(run(Done()).state.at)
    assert seen == ["shut", "loosen", "tap", "feel", "mat"]
    assert run.state.waits == {"again"} and not run.state.remedies
    assert run(Done(), *CHOCKED).state.mode is Mode.WAITING


def test_pause_and_finish_keep_the_wait(water: Checklist) -> None:
    run = Run(water)(*FELT, Pause(), Due("again"))
    assert run.effects == (Say(Reply.DUE, "again"),) and run.state.mode is Mode.PAUSED
    run = Run(water)(*FELT, Done(), *CHOCKED, Finish())
    assert run.state.mode is Mode.SUSPENDED
    assert run(Resume()).state.mode is Mode.WAITING


def test_time_over_during_a_doubt_about_the_wait_itself(water: Checklist) -> None:
    """An uncertain 'skip' is asked about while the clock goes on: the step comes all the same."""
    for answer in (Confirm(), Deny()):
        run = Run(water)(*FELT, Done(), *CHOCKED, Unsure(Skip()), Due("again"))
        assert run.effects == () and run.state.mode is Mode.CONFIRM
        assert run(answer).offers() == [Offer("again", "due")]


def test_what_else_keeps_it_open_is_told_before_the_wait_is_over(water: Checklist) -> None:
    must = {**water.steps, "mat": replace(water.steps["mat"], must=True)}
    run = Run(replace(water, steps=must))(*FELT, Skip(), *CHOCKED, Skip())
    assert run.state.mode is Mode.BLOCKED and run.says()[-1] == "cannot close"
    assert run(Due("again")).offers() == [Offer("again", "due")]


def test_alarms_are_not_lost_to_time(water: Checklist) -> None:
    run = Run(water)(*FELT, Done(), *CHOCKED, TakeBack("chock"))
    assert Alarm("roll") in run.effects
    assert run(Due("again"), Done()).effects == (Alarm("roll"),)
