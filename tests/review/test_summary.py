"""What all sessions of a checklist come to, against plain arithmetic on the same journals."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from benchmarks.simulated_journal import (
    ANSWER_AFTER,
    PROMPT,
    session_lines,
    write_journal,
)
from handsfree.review import history
from handsfree.review.records import PlanStep
from handsfree.review.summary import past, summarise
from tests.review.book import START, Book

PLAN = tuple(PlanStep(name, 0.5, 1, 2) for name in ("chock", "hose", "mat"))


def stays(data: Path, times: np.ndarray, **about: object) -> history.History:
    for number, seconds in enumerate(times, start=1):
        write_journal(data / "rigs" / "r", number, session_lines(
            PLAN, seconds, began=START + timedelta(days=number),
            rng=np.random.default_rng(number), **about))  # type: ignore[arg-type]
    return history.load(data)


def test_percentiles_and_ranking(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    times = np.column_stack([rng.uniform(50, 60, 30), rng.uniform(20, 200, 30),
                             rng.uniform(10, 12, 30)])
    found = summarise(stays(tmp_path, times).columns, "depart")
    assert [s.step for s in found.steps] == ["chock", "hose", "mat"]
    for place, step in enumerate(found.steps):
        active = times[:, place] - np.minimum(3.0, 0.3 * times[:, place]) - 0.4
        want = np.percentile(active, (10, 50, 90))
        assert (step.low, step.median, step.high) == pytest.approx(tuple(want), abs=0.45)
        assert step.done == step.sessions == 30
    assert found.most("median")[0].step == "hose"
    assert found.most("variability")[0].step == "hose"
    assert found.most("refusals") == ()
    assert found.median == pytest.approx(np.median(times.sum(axis=1)) / 60, abs=0.01)
    assert sum(found.shares) == pytest.approx(1.0, abs=1e-6)


def test_a_step_that_gets_faster_is_named_and_steps_without_a_trend_are_not(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    number = np.arange(1, 41)
    times = np.column_stack([
        rng.normal(60, 6, 40),
        PROMPT + ANSWER_AFTER + 120 * number ** np.log2(0.8) * rng.lognormal(0, 0.05, 40),
        30 + number + rng.normal(0, 4, 40)])
    chock, hose, mat = summarise(stays(tmp_path, times).columns, "depart").steps
    assert chock.trend and not chock.trend.says
    assert hose.trend and hose.trend.says == "faster"
    assert hose.curve and hose.curve.interval[0] < 0.8 < hose.curve.interval[1]
    assert mat.trend and mat.trend.says == "slower"
    assert mat.trend.slope == pytest.approx(1.0, abs=0.25), "a second a stay"


def test_chance_alone_rarely_makes_a_trend(tmp_path: Path) -> None:
    """Of 200 steps without a trend, next to none may be named, although 10 have p < 0.05."""
    from handsfree.review.columns import Gathering
    from handsfree.review.timings import record

    rng = np.random.default_rng(11)
    plan = tuple(PlanStep(f"s{n}", 0.5, 1, 2) for n in range(200))
    gathering = Gathering()
    for number in range(20):
        lines = session_lines(plan, rng.lognormal(3.5, 0.3, 200), rng=rng,
                              began=START + timedelta(days=number))
        gathering.add(record(lines))
    found = summarise(gathering.columns(), "depart")
    assert len(found.steps) == 200
    assert sum(bool(s.trend and s.trend.says) for s in found.steps) <= 2


def test_refused_skipped_and_forgotten_are_counted_by_step(tmp_path: Path) -> None:
    for number in range(1, 4):
        book = Book(session=str(number)).offer(0, "chock")
        book.write(3, "refused", step="hose", missing=[], rule="", backstop=False)
        book.write(5, "skipped", step="chock").offer(5, "hose").done(20, "hose")
        book.close(20, "chock", "mat").save(tmp_path, number)
    found = {s.step: s for s in summarise(history.load(tmp_path).columns, "depart").steps}
    assert (found["hose"].refusals, found["chock"].skipped) == (3, 3)
    assert (found["chock"].left, found["chock"].forgotten) == (3, 0)
    assert (found["mat"].left, found["mat"].forgotten) == (3, 3)


def test_times_that_a_restart_cut_short_are_left_out(tmp_path: Path) -> None:
    book = Book().offer(0, "chock")
    book.clock = 3.0
    book.write(0, "restarted").offer(0, "chock", "resumed").done(2, "chock").offer(2, "hose")
    book.done(30, "hose").close(30).save(tmp_path)
    found = {s.step: s for s in summarise(history.load(tmp_path).columns, "depart").steps}
    assert found["chock"].done == 1 and not len(found["chock"].times)
    assert len(found["hose"].times) == 1


def test_one_session_is_summed_up_without_a_trend(tmp_path: Path) -> None:
    found = summarise(stays(tmp_path, np.array([[60.0, 30, 20]])).columns, "depart")
    assert found.sessions == 1 and found.trend is None and found.curve is None
    assert found.low == found.median == found.high


def test_the_past_for_a_forecast_has_steps_pauses_and_what_else_there_was(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    times = rng.uniform(20, 80, (5, 3))
    times[2, 1] = np.nan
    found = stays(tmp_path, times, pause=100.0)
    plan = (PLAN[2], PLAN[0], PlanStep("new", 1, 2, 3))
    got = past(found.columns, "depart", plan)
    assert got.seconds.shape == (5, 3) and np.isnan(got.seconds[:, 2]).all()
    assert got.seconds[:, :2] == pytest.approx(times[:, [2, 0]], abs=0.5)
    assert got.besides == pytest.approx([100.0] * 5, abs=1.0)
    assert past(found.columns, "arrive", plan).stays == 0


def test_rehearsals_do_not_count_in_a_forecast(tmp_path: Path) -> None:
    found = stays(tmp_path, np.full((3, 3), 40.0), rehearsal=True)
    assert past(found.columns, "depart", PLAN).stays == 0
