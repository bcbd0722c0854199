"""After a boot with a wrong clock no time of day is told before it was confirmed aloud."""

from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from handsfree.cli import stand_by
from handsfree.standby.clock import doubtful
from tests.standby.test_in_text import CALL, data, last_answer, said  # noqa: F401

HERE = timezone(timedelta(hours=-7))
NOON = datetime(2027, 6, 1, 12, 0, tzinfo=HERE)


@pytest.mark.parametrize(("now", "newest", "doubt"), [
    (NOON, "", False), (NOON, "2027-06-01T11:59:59-07:00", False),
    (NOON, "2027-06-01T12:00:01-07:00", True), (NOON, "2027-06-01T20:30:00+02:00", False),
    (datetime(1970, 1, 1, 0, 0, 30, tzinfo=HERE), "", True),
    (datetime(2025, 12, 31, 23, 59, tzinfo=HERE), "", True),
    (NOON, "no date", False), (NOON, "2027-06-01T13:00:00", False)])
def test_when_a_clock_is_doubted(now: datetime, newest: str, doubt: bool) -> None:
    assert doubtful(now, newest) is doubt


@pytest.fixture
def early(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine that wakes at the epoch."""
    monkeypatch.setattr(stand_by, "now", lambda: datetime(1970, 1, 1, 0, 5, tzinfo=HERE))


def test_it_asks_at_the_first_call_and_tells_no_time_after_a_no(
    data: Path, early: None  # noqa: F811
) -> None:
    told = said(CALL, "no", "when is dark", "what is out", "(60)", CALL, "is the gas open")
    assert "My clock may be wrong. It says 1970-01-01, 00:05" in told
    assert "I do not trust my clock" in told and "Dark at" not in told
    assert told.count("My clock may be wrong") == 1 and "No: the gas is shut" in told


def test_a_yes_is_enough_and_a_question_that_is_not_answered_is_no_yes(
    data: Path, early: None  # noqa: F811
) -> None:
    assert "It is 00:05" in said(CALL, "yes", "what time is it")
    told = said(CALL, "what is out", "when is dark")
    assert "Nothing is out" in told and "I do not trust my clock" in last_answer(told)


def test_within_a_list_no_time_of_day_is_told_either(data: Path, early: None) -> None:  # noqa: F811
    told = said(CALL, "no", "start arrive", "how much time", "finish for now")
    assert "so far" in told and "done at about" not in told


def test_a_clock_that_is_right_is_not_asked_about(
    data: Path, monkeypatch: pytest.MonkeyPatch  # noqa: F811
) -> None:
    monkeypatch.setattr(stand_by, "now", lambda: datetime(2099, 6, 1, 12, 0, tzinfo=HERE))
    told = said(CALL, "when is dark", "what time is it")
    assert "My clock" not in told and "It gets dark at 19:5" in told and "It is 12:00" in told
