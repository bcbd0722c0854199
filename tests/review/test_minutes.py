"""Where the minutes go, against plain arithmetic: parts add up, sentences say what is so."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from benchmarks.simulated_journal import SOME, session_lines, write_journal
from handsfree.review import charts, history, tables
from handsfree.review.minutes import CAUSES, minutes, sentences
from handsfree.review.records import PlanStep
from handsfree.review.summary import summarise
from handsfree.review.timings import record
from tests.review.book import START, Book

PLAN = tuple(PlanStep(name, 0.5, 1, 2) for name in ("chock", "hose", "mat"))


def stays(data: Path, times: np.ndarray, **about: object) -> history.History:
    for number, seconds in enumerate(times, start=1):
        write_journal(data / "rigs" / "r", number, session_lines(
            PLAN, seconds, began=START + timedelta(days=number),
            rng=np.random.default_rng(number), **about))  # type: ignore[arg-type]
    return history.load(data)


def levelling(session: str = "s", second: float = 300.0, number: int = 1) -> Book:
    """Four minutes of levelling, which fails; a remedy of one; then `second` seconds more."""
    book = Book(session=session, plan=[["level", 2, 4, 8, True]], checklist="arrive",
                wall=START + timedelta(days=number))
    book.offer(0, "level").write(240, "failed", step="level", band="low", **{"try": 1})
    book.offer(240, "blocks").done(300, "blocks").offer(300, "level", "remedied")
    return book.done(300 + second, "level").close(300 + second)


def test_causes_add_up_to_the_whole_time(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    found = stays(tmp_path, rng.uniform(40, 200, (12, 3)), mishaps=SOME, pause=30.0)
    spent = minutes(found.columns, "depart")
    assert spent is not None and spent.stays == 12
    whole = found.columns.sessions["seconds"] / 60
    assert spent.by_stay.sum(axis=1) == pytest.approx(whole, abs=1e-3)
    assert sum(spent.causes) == pytest.approx(spent.whole, abs=1e-3)
    assert sum(step.minutes for step in spent.steps) <= spent.whole + 1e-3
    assert (spent.by_stay >= 0).all()


def test_shares_of_the_spread_are_covariances(tmp_path: Path) -> None:
    """var(a + b + c) is the sum of each part's covariance with the whole: textbook identity."""
    rng = np.random.default_rng(4)
    times = np.column_stack([np.full(20, 60.0), rng.uniform(30, 300, 20), np.full(20, 50.0)])
    spent = minutes(stays(tmp_path, times).columns, "depart")
    assert spent is not None
    spread = {step.step: step.spread for step in spent.steps}
    assert sum(spread.values()) == pytest.approx(1.0, abs=0.02)
    assert spread["hose"] == pytest.approx(1.0, abs=0.02)
    assert any("hose makes up" in s and "short and long" in s for s in sentences(spent))
    drawn = charts.differences(spent)
    assert drawn and drawn.alt.startswith("What stays differ by, and what they take. hose: ")
    assert f"chock: {spread['chock']:.0%} of the difference" in drawn.alt
    told = StringIO()
    Console(file=told, width=100).print(tables.checklist(
        summarise(stays(tmp_path, times).columns, "depart"), spent=spent))
    row = next(line for line in told.getvalue().splitlines() if line.startswith("hose ") and "#" in line)
    assert row.split()[1] == f"{spread['hose']:.0%}" and row.count("#") >= 20


def test_further_tries_and_remedies_have_their_minutes(tmp_path: Path) -> None:
    """By hand: 4 minutes, then 5 in a second try; one in the remedy."""
    levelling().save(tmp_path, 1)
    spent = minutes(history.load(tmp_path).columns, "arrive")
    assert spent is not None
    by = {step.step: dict(zip(CAUSES, step.causes, strict=True)) for step in spent.steps}
    assert by["level"]["doing"] == pytest.approx(4) and by["level"]["in further tries"] == 5
    assert by["blocks"]["in remedies"] == pytest.approx(1)
    assert sentences(spent)[0] == (
        "level costs you 9 minutes a stay, 5 of them in further tries.")


def test_what_follows_a_refusal_is_its_own_until_the_next_order() -> None:
    book = Book().offer(0, "chock").write(30, "event", event={"type": "GoTo", "step": "mat"})
    book.write(30, "refused", step="mat", missing=["chocked"])
    book.write(50, "event", event={"type": "Done"}).done(50, "chock").close(60)
    found = {s.step: s for s in record(book.lines).steps}["chock"]
    assert (found.active, found.refusing, found.doing) == (50, 20, 30)


def test_refusals_are_summed_up_by_reason_and_by_what_went_before(tmp_path: Path) -> None:
    for number in range(1, 9):
        book = Book(session=f"s{number}", wall=START + timedelta(days=number))
        book.offer(0, "chock").done(10, "chock").offer(10, "hose")
        if number <= 3:
            book.write(15, "refused", step="mat", missing=["the hose is in"])
        book.done(20, "hose").offer(20, "mat").done(30, "mat").close(31).save(tmp_path, number)
    spent = minutes(history.load(tmp_path).columns, "depart")
    assert spent is not None
    reason, = spent.reasons
    assert (reason.times, reason.stays, reason.step, reason.before) == (3, 3, "mat", "chock")
    assert ("Refused 3 times in 3 of 8 stays because of 'the hose is in', mostly at mat, 3 times"
            " right after chock; not in the later half.") in sentences(spent)


def test_a_stay_and_a_step_that_stand_out_are_flagged(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    times = rng.uniform(55, 65, (10, 3))
    assert minutes(stays(tmp_path / "even", times).columns, "depart").odd == ()  # type: ignore[union-attr]
    times[9, 1] = 900.0
    spent = minutes(stays(tmp_path / "odd", times).columns, "depart")
    assert spent is not None
    assert [(odd.stay, odd.step) for odd in spent.odd] == [(10, ""), (10, "hose")]
    assert "hose in the latest stay took 15 minutes; usual are 60 seconds." in sentences(spent)


def test_what_changed_over_time_is_told(tmp_path: Path) -> None:
    for number in range(1, 15):
        levelling(f"s{number}", 400.0 - 20 * number if number > 7 else 600.0,
                  number).save(tmp_path, number)
    spent = minutes(history.load(tmp_path).columns, "arrive")
    assert spent is not None
    assert any("less a stay went into further tries" in s for s in sentences(spent, 1))


def test_two_people_s_minutes_add_up_to_the_time_on_the_clock(tmp_path: Path) -> None:
    from tests.review.test_wanting import two_people

    two_people().save(tmp_path)
    spent = minutes(history.load(tmp_path).columns, "depart")
    assert spent is not None and sum(spent.causes) == pytest.approx(100 / 60)


def test_walking_is_reckoned_from_where_steps_are_done(tmp_path: Path) -> None:
    """By hand: 20 s to the hose, 30 s on to the mat, more than the 25 s that the mat took."""
    found = stays(tmp_path, np.array([[100.0, 100.0, 25.0]] * 3)).columns
    apart = {(a, b): 0.0 for a in ("chock", "hose", "mat") for b in ("chock", "hose", "mat")}
    apart |= {("chock", "hose"): 20.0, ("hose", "mat"): 30.0}
    plain, spent = minutes(found, "depart"), minutes(found, "depart", {"survey trailer": apart})
    assert plain is not None and spent is not None
    walking, doing = CAUSES.index("walking there"), CAUSES.index("doing")
    took = {step.step: 60 * step.causes[walking] for step in spent.steps}
    assert took["chock"] == 0 and took["hose"] == pytest.approx(20)
    mat = next(step for step in spent.steps if step.step == "mat")
    assert mat.causes[doing] == 0 and 20 < took["mat"] < 25, "no more than the doing there was"
    assert spent.by_stay.sum(axis=1) == pytest.approx(plain.by_stay.sum(axis=1))
    assert any(s.startswith("Walking from step to step takes about 40 seconds a stay")
               for s in sentences(spent))
    assert plain.causes[walking] == 0, "of a rig of which nothing is known"


def test_two_people_walk_their_own_ways(tmp_path: Path) -> None:
    from tests.review.test_wanting import two_people

    two_people().save(tmp_path)
    found = history.load(tmp_path).columns
    steps = sorted({found.words[code] for code in found.steps["step"]})
    apart = {(a, b): 5.0 for a in steps for b in steps}
    spent = minutes(found, found.text("checklist")[0], {found.text("rig")[0]: apart})
    assert spent is not None
    walked = {step.step for step in spent.steps if step.causes[CAUSES.index("walking there")] > 0}
    assert walked == {"slide"}, "chock and vents are where each of the two begins"
