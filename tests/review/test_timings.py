"""Whose time it was: every second of a session belongs to one step and one kind."""

from __future__ import annotations

import math
from datetime import UTC, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.simulated_journal import session_lines, write_journal
from benchmarks.simulated_operator import any_operator, any_plan
from handsfree.review.records import Outcome, SessionRecord, StepRecord
from handsfree.review.timings import NotAJournal, read_session, record
from tests.review.book import START, Book


def steps(found: SessionRecord) -> dict[str, StepRecord]:
    return {step.step: step for step in found.steps}


def test_active_time_excludes_pauses_prompts_and_waiting_for_the_program() -> None:
    book = Book().offer(0, "chock").spoke(0, 4)            # 4 s of prompt
    book.write(10, "paused").spoke(10.5, 12)               # talk within a pause is pause
    book.write(40, "resumed").offer(40, "chock", "resumed").spoke(40, 43)
    book.heard(59, 60, at=60.3).done(60.3, "chock").offer(60.3, "hose").spoke(60.8, 65)
    book.heard(99, 100).done(100, "hose").close(100, )
    chock = steps(record(book.lines))["chock"]
    assert chock.paused == pytest.approx(30)
    assert chock.spoken == pytest.approx(4 + 3)
    assert chock.waiting == pytest.approx(0.3), "the rest of the wait fell to the next step"
    assert chock.active == pytest.approx(60.3 - 30 - 7 - 0.3)
    assert chock.acknowledged == pytest.approx(60.3)
    hose = steps(record(book.lines))["hose"]
    assert hose.waiting == pytest.approx(0.5)
    assert hose.active == pytest.approx(100 - 65)


def test_a_step_done_out_of_order_is_charged_to_itself() -> None:
    book = Book().offer(0, "chock").offer(20, "mat").done(50, "mat").offer(50, "chock")
    book.done(60, "chock").close(61, "hose")
    found = steps(record(book.lines))
    assert found["mat"].active == pytest.approx(30)
    assert found["chock"].active == pytest.approx(30), "before and after, not while the mat was"
    assert found["chock"].visits == 2


def test_a_report_of_a_step_that_was_not_at_hand_gets_the_time_since_it_changed() -> None:
    book = Book().offer(0, "chock").done(10, "chock").done(25, "mat").close(25)
    found = steps(record(book.lines))
    assert found["mat"].active == pytest.approx(15)
    assert found["chock"].active == pytest.approx(10)


def test_refusals_and_rejections_count_for_the_step_they_are_about() -> None:
    book = Book().offer(0, "chock")
    book.write(3, "refused", step="mat", missing=["hose out"], rule="", backstop=False)
    book.heard(4, 5, verdict="rejected", reason="unclear")
    book.heard(6, 7, verdict="rejected", reason="noise")
    book.heard(8, 9, verdict="asked").offer(9, "chock", "repeated").done(12, "chock").close(12)
    found = steps(record(book.lines))
    assert found["mat"].refusals == 1 and found["chock"].refusals == 0
    assert found["chock"].rejections == 1, "noise without an answer is no rejection"
    assert found["chock"].asked == 1 and found["chock"].repeats == 1
    assert found["chock"].visits == 1


def test_a_remedy_is_charged_to_its_own_steps() -> None:
    book = Book().offer(0, "hose").write(10, "failed", step="hose", band="low", **{"try": 1})
    book.offer(10, "washer").done(40, "washer").offer(40, "hose", "remedied")
    book.write(50, "failed", step="hose", band="low", **{"try": 2})
    book.done(50, "hose", "give up").close(50, "hose")
    found = steps(record(book.lines))
    assert found["washer"].active == pytest.approx(30) and found["washer"].position == -1
    assert found["hose"].active == pytest.approx(20)
    assert found["hose"].tries == 2 and found["hose"].outcome is Outcome.FAILED


def test_outcomes_skipped_left_forgotten_and_done_after_all() -> None:
    book = Book().offer(0, "chock").write(5, "skipped", step="chock").offer(5, "hose")
    book.write(9, "skipped", step="hose").offer(9, "chock", "skipped").done(20, "chock")
    book.close(21, "hose", "mat")
    found = steps(record(book.lines))
    assert found["chock"].outcome is Outcome.DONE and found["chock"].skips == 1
    assert found["chock"].active == pytest.approx(5 + 11)
    assert found["hose"].outcome is Outcome.LEFT and not found["hose"].forgotten
    assert found["mat"].outcome is Outcome.LEFT and found["mat"].forgotten
    assert math.isnan(found["mat"].offered)


def test_taking_back_opens_the_step_again() -> None:
    book = Book().offer(0, "chock").done(10, "chock").offer(10, "hose")
    book.done(15, "chock", "take back")
    assert steps(record(book.lines))["chock"].outcome is Outcome.OPEN
    book.offer(15, "chock").done(30, "chock").close(30)
    found = steps(record(book.lines))
    assert found["chock"].outcome is Outcome.DONE
    assert found["chock"].active == pytest.approx(10 + 15)
    assert found["hose"].active == pytest.approx(5)


def test_a_restart_between_two_processes_adds_nothing_and_marks_the_step() -> None:
    book = Book().offer(0, "chock").write(30, "heard", verdict="accepted")
    book.clock, book.wall = 5.0, START + timedelta(hours=14)  # next morning, another clock
    book.write(0, "restarted", clock="c-2").write(0.5, "event", event={"type": "Pause"})
    book.offer(1, "chock", "resumed").done(11, "chock").offer(11, "hose").done(20, "hose")
    book.close(20)
    found = record(book.lines)
    assert found.restarts == 1 and found.clock_jump == 0
    assert found.seconds == pytest.approx(30 + 20)
    assert steps(found)["chock"].active == pytest.approx(30 + 11)
    assert steps(found)["chock"].restarted and not steps(found)["hose"].restarted


def test_a_clock_that_goes_back_without_a_word_is_another_process() -> None:
    book = Book().offer(0, "chock").write(30, "event")
    book.clock = 0.0
    book.done(10, "chock").close(12)
    found = record(book.lines)
    assert found.restarts == 1
    assert found.seconds == pytest.approx(32), "what went by before this line is not known"


@pytest.mark.parametrize("jump", [timedelta(hours=-1), timedelta(days=9000), timedelta(hours=6)])
def test_a_wall_clock_that_jumps_changes_no_duration(jump: timedelta) -> None:
    plain = Book().offer(0, "chock").done(60, "chock").offer(60, "hose").done(90, "hose").close(90)
    jumpy = Book().offer(0, "chock")
    jumpy.wall += jump
    jumpy.done(60, "chock").offer(60, "hose").done(90, "hose").close(90)
    assert record(jumpy.lines).steps == record(plain.lines).steps
    assert record(jumpy.lines).clock_jump == pytest.approx(abs(jump.total_seconds()))


def test_crossing_a_time_zone_is_no_jump() -> None:
    book = Book().offer(0, "chock")
    book.wall = book.wall.astimezone(timezone(timedelta(hours=-7)))
    book.done(60, "chock").close(60)
    assert record(book.lines).clock_jump == 0


def test_time_suspended_belongs_to_no_step() -> None:
    book = Book().offer(0, "chock").write(10, "suspended")
    book.offer(3610, "chock", "resumed").done(3620, "chock").close(3620)
    found = record(book.lines)
    assert found.away == pytest.approx(3600)
    assert found.seconds == pytest.approx(20) and steps(found)["chock"].active == pytest.approx(20)


def test_a_pause_ends_with_the_next_offer_even_without_a_line_that_says_so() -> None:
    book = Book().offer(0, "chock").write(10, "paused").offer(70, "chock", "resumed")
    book.done(80, "chock").close(80)
    assert steps(record(book.lines))["chock"].paused == pytest.approx(60)


def test_lines_of_newer_programs_are_passed_over() -> None:
    book = Book().offer(0, "chock").write(5, "weather", wind=7).done(10, "chock").close(10)
    assert steps(record(book.lines))["chock"].active == pytest.approx(10)


def test_what_an_event_led_to_counts_when_it_stands_in_the_events_own_line(tmp_path: Path) -> None:
    book = Book()
    book.write(0, "event", event={"type": "Resume"}, step="",
               then=[{"what": "offered", "step": "chock", "again": ""}])
    book.write(30, "event", event={"type": "Done"}, step="chock",
               then=[{"what": "reported", "step": "chock", "kind": "report"},
                     {"what": "closed", "open": []}])
    path = book.save(tmp_path)
    found, problems = read_session(path)
    assert not problems and found.closed
    assert steps(found)["chock"].active == pytest.approx(30)


def test_a_torn_last_line_is_told_and_the_rest_used(tmp_path: Path) -> None:
    book = Book().offer(0, "chock").done(10, "chock").offer(10, "hose")
    path = book.save(tmp_path)
    path.write_text(book.text()[:-20], encoding="utf-8")
    found, problems = read_session(path)
    assert [p.line for p in problems] == [0] and "cut off" in str(problems[0])
    assert steps(found)["chock"].outcome is Outcome.DONE and "hose" not in steps(found)


def test_a_damaged_middle_line_is_named_with_file_and_line(tmp_path: Path) -> None:
    book = Book().offer(0, "chock").done(10, "chock").close(12)
    path = book.save(tmp_path)
    lines = book.text().splitlines(keepends=True)
    lines.insert(2, "{\"n\": 9, \"wh\x00\n")
    path.write_text("".join(lines), encoding="utf-8")
    found, problems = read_session(path)
    assert str(problems[0]).startswith(f"{path}, line 3: cannot be read")
    assert steps(found)["chock"].active == pytest.approx(10)


@pytest.mark.parametrize("content", [
    b"", b"\xff\xfe\x00binary", b'{"what": "spoke", "t": 1}\n', b"[]\n[]\n", b'"begun"\n',
    b'{"name": "some other log", "level": 3}\n' * 5])
def test_a_foreign_file_is_told_in_one_sentence(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "000001-x.jsonl"
    path.write_bytes(content)
    with pytest.raises(NotAJournal, match="is not a journal of a session"):
        read_session(path)


def test_control_characters_of_a_strangers_journal_do_not_reach_the_terminal() -> None:
    found = record(Book(place="Pine\x1b]0;owned\x07 Loop").lines)
    assert found.place == "Pine ]0;owned  Loop"


def test_the_simulated_operators_times_come_back(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    plan = any_plan(rng, 30)
    seconds, pauses = any_operator(rng, plan).stays(rng, np.arange(1, 4.0))
    for stay in range(3):
        lines = session_lines(plan, seconds[stay], began=START.astimezone(UTC),
                              pause=float(pauses[stay]) + 5, rng=rng)
        found, _ = read_session(write_journal(tmp_path / "rig", stay + 1, lines))
        assert found.paused == pytest.approx(pauses[stay] + 5, abs=0.01)
        got = [step.elapsed for step in found.steps]
        assert got == pytest.approx(list(np.maximum(seconds[stay], 0.9)), abs=1.0)
        assert sum(got) == pytest.approx(seconds[stay].sum(), rel=0.01)


_STEPS = st.sampled_from(["chock", "hose", "mat", "", 7, None])
_LINE = st.fixed_dictionaries({
    "what": st.sampled_from(["offered", "reported", "skipped", "failed", "refused", "paused",
                             "resumed", "suspended", "spoke", "heard", "closed", "restarted",
                             "alarm", "note", "reading", "begun", "???"]),
    "t": st.one_of(st.floats(), st.integers(), st.none(), st.text(max_size=2)),
    "at": st.one_of(st.none(), st.just("2026-05-01T09:00:00+00:00"), st.text(max_size=3),
                    st.just("0001-01-01T00:00:00")),
    "step": _STEPS, "kind": st.sampled_from(["report", "take back", "give up", "resolve", 3]),
    "again": st.sampled_from(["", "repeated", None]),
    "open": st.one_of(st.none(), st.lists(_STEPS)),
    "from": st.one_of(st.floats(), st.none()), "to": st.one_of(st.floats(), st.none()),
    "verdict": st.sampled_from(["accepted", "asked", "rejected", None]),
    "missing": st.one_of(st.none(), st.integers(), st.lists(st.integers())),
})


@given(lines=st.lists(_LINE, max_size=40))
@settings(max_examples=300, deadline=None)
def test_whatever_the_lines_say_the_kinds_of_time_add_up(lines: list[dict[str, object]]) -> None:
    found = record([*Book().lines, *lines])
    parts = (found.active, found.paused, found.spoken, found.waiting)
    slack = 1e-6 * max(1.0, found.seconds + found.away)
    assert all(part >= -slack for part in parts)
    assert sum(parts) == pytest.approx(found.seconds, abs=slack)
    for kind in ("active", "paused", "spoken", "waiting"):
        assert sum(getattr(s, kind) for s in found.steps) <= getattr(found, kind) + slack
