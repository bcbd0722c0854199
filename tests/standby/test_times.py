"""How today compared, from journals as a stay leaves them."""

from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest

from benchmarks.simulated_journal import session_lines, write_journal
from handsfree.cli.stand_by import _Settings
from handsfree.cli.standby_times import compared
from handsfree.language.loader import load_language
from handsfree.review.records import PlanStep
from handsfree.standby.answering import Answers, Compared, Times
from handsfree.standby.phrases import load_words
from handsfree.storage.record import rig_folder

RIG = "Small single-axle trailer"
TODAY = datetime(2027, 6, 10, 18, 0, tzinfo=timezone(timedelta(hours=2)))
PLAN = tuple(PlanStep(name, 0.5, 1, 2) for name in ("chock", "level", "mat"))


def stays(data: Path, *minutes: tuple[float, float, float]) -> list[Compared]:
    """What is told of a day on which arrive took the last of these times, step by step."""
    for number, each in enumerate(minutes, start=1):
        lines = session_lines(PLAN, np.array(each) * 60, checklist="arrive", rig=RIG,
                              began=TODAY - timedelta(days=10 * (len(minutes) - number)),
                              rng=np.random.default_rng(number))
        write_journal(rig_folder(data, RIG), number, lines)
    known = _Settings(data, "small-single", "", load_language("en"), load_words("en"), ()).known()
    assert known is not None
    return compared(data, known, TODAY)


def spoken(*found: Compared) -> str:
    answers = Answers(None, load_language("en"), load_words("en"), "hello trailer",
                      Times(today=lambda: found))
    return " ".join(prompt.text for prompt in answers.compared())


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    return tmp_path


def test_the_step_that_made_the_difference_is_named(data: Path) -> None:
    (found,) = stays(data, (2, 10, 3), (2, 12, 3), (2, 11, 3), (2, 21, 3))
    assert found.minutes == pytest.approx(26, abs=0.1)
    assert found.usual == pytest.approx(16, abs=0.1) and found.stays == 3
    assert found.step == "level" and found.more == pytest.approx(10, abs=0.2)
    assert spoken(found) == (
        "Arrive and set up took twenty-six minutes today. Usual is sixteen minutes, over 3"
        " earlier times. Most of the extra time went to level: ten minutes.")


def test_a_quicker_day_and_a_step_against_the_grain(data: Path) -> None:
    (found,) = stays(data, (2, 20, 3), (2, 20, 3), (2, 10, 4))
    assert found.step == "level" and found.more == pytest.approx(-10, abs=0.2)
    assert "You saved the most on level: ten minutes" in spoken(found)


def test_a_first_stay_has_nothing_to_compare_with(data: Path) -> None:
    (found,) = stays(data, (2, 10, 3))
    assert found.usual is None and "no earlier time" in spoken(found)


def test_a_day_without_a_list(data: Path) -> None:
    assert stays(data) == [] and spoken() == "You have not finished a list today."
