"""A check that is wanted at an interval is left out within it, by the record and never by a claim.

The interval: alarms in recreational vehicles are tested after storage, before each trip and at least
once a week in use (the marking that UL 217, UL 2034 and UL 1484 ask for, and makers' manuals; from
memory).  What is held against it here is days on a calendar, written out by hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.advance import advance
from handsfree.engine.choosing import permitted
from handsfree.engine.state import Correct, Expired, GoTo, Pause, Refused, Resume
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.session.opening import start_new
from handsfree.storage import lines
from handsfree.storage.lasting import done_lately
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.storage.record import latest, session_paths
from handsfree.testing import talk

ENGLISH = load_language("en")
RIG = load_rig(find_rig("small-single"))
TEST, TESTED = "alarm-test", "alarms proved"


@cache
def checklist(name: str) -> Checklist:
    folder = checklists_folder()
    return load_checklist(folder / f"{name}.yaml", rig=RIG, library=folder)


def begun(folder: Path, name: str, days: float = 0.0, **about: bool) -> tuple[Conversation, str]:
    """A list so many days from now, and what is said as it begins."""
    started = start_new(checklist(name), RIG, folder, {"rehearsal": True},
                        now=datetime.now(UTC) + timedelta(days=days), **about)
    one = Conversation(checklist(name), ENGLISH, started.log)
    prompts = started.begin(one, 0.0, started.log)
    started.log.close()
    return one, " ".join(prompt.text for prompt in prompts)


def asked(one: Conversation) -> bool:
    """Whether the alarms are to be tested in it."""
    return one.checklist.steps[TEST].applicable.holds(one.state.facts)


def walk(folder: Path, name: str = "arrive", **script: dict[str, tuple[str, ...]]) -> None:
    started = start_new(checklist(name), RIG, folder, {"rehearsal": True})
    told = talk(checklist(name), ENGLISH,
                Script(answers=dict.fromkeys(checklist(name).steps, True), **script), started=started)
    started.log.close()
    assert told.conversation.over


@pytest.fixture
def stayed(tmp_path: Path) -> Path:
    walk(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", ["evening", "freezing-night"])
def test_within_a_week_it_is_left_out_and_told(stayed: Path, name: str) -> None:
    one, said = begun(stayed, name, days=3)
    assert not asked(one)
    assert "The alarms were tested three days ago, so I will skip that." in said
    assert not asked(begun(stayed, name, days=6.9)[0])


@pytest.mark.parametrize("name", ["evening", "freezing-night"])
def test_after_a_week_it_is_asked_again(stayed: Path, name: str) -> None:
    one, said = begun(stayed, name, days=7.1)
    assert asked(one) and "left out" not in said


def test_the_next_arrival_leaves_it_out_and_the_gas_may_be_opened(stayed: Path) -> None:
    walk(stayed, "depart")
    one, said = begun(stayed, "arrive", days=4)
    assert not asked(one) and "tested four days ago" in said
    gas = one.checklist.steps["gas-on"]
    assert permitted(gas, one.state.facts | {"parked", "chocked"})
    assert not permitted(gas, one.state.facts - {TESTED} | {"parked", "chocked"})


@pytest.mark.parametrize("name", ["before-leaving-home", "bring-back"])
def test_before_a_trip_and_after_storage_it_is_always_asked(stayed: Path, name: str) -> None:
    walk(stayed, "depart")
    assert asked(begun(stayed, name, days=1)[0])


def test_it_grows_old_while_a_list_runs(stayed: Path) -> None:
    one, _ = begun(stayed, "evening", days=6.99)
    assert TESTED in one.state.facts
    later = 0.02 * 86400.0
    assert [name for name, _ in one.ageing.over(later, one.state.facts)] == [TESTED]
    one._log = _Nowhere()
    one.take(Expired(TESTED), later)
    assert TESTED not in one.state.facts and asked(one)


def test_after_a_break_nothing_counts_that_time_would_end(stayed: Path) -> None:
    one, _ = begun(stayed, "evening", days=1)
    one.take(Pause(), 1.0)
    one.take(Resume(), 2.0)
    assert asked(one)


# --- never by a claim --------------------------------------------------------------------------

def failed(folder: Path) -> None:
    """Tested again, and an alarm stayed silent."""
    walk(folder, "before-leaving-home", at={TEST: ("there is a problem", "finish for now")})


def claimed(folder: Path) -> None:
    started = start_new(checklist("evening"), RIG, folder, {"rehearsal": True},
                        now=datetime.now(UTC) + timedelta(days=9))
    one = Conversation(checklist("evening"), ENGLISH, started.log)
    started.begin(one, 0.0, started.log)
    one.take(Correct(TESTED, True), 1.0)
    assert TESTED not in one.state.facts, "nobody can say that a test was done"
    started.log.close()


def damaged(folder: Path) -> None:
    path = session_paths(folder)[0]
    text = path.read_text("utf-8").splitlines(keepends=True)
    path.write_text("".join([*text[:5], *text[6:]]), "utf-8")


@pytest.mark.parametrize("happens", [failed, claimed, damaged])
def test_what_else_came_since_does_not_count(stayed: Path, happens: Callable[[Path], None]) -> None:
    assert not asked(begun(stayed, "evening", days=1)[0])
    happens(stayed)
    assert asked(begun(stayed, "evening", days=1)[0])


def test_a_clock_that_was_set_back_or_is_not_believed_shows_nothing(stayed: Path) -> None:
    assert asked(begun(stayed, "evening", days=-1)[0])
    assert asked(begun(stayed, "evening", days=1, believes_clock=False)[0])


def test_a_rehearsal_tests_no_alarm(stayed: Path) -> None:
    last = latest(stayed, RIG.name)
    when = datetime.now(UTC) + timedelta(days=1)
    assert done_lately(stayed, checklist("evening"), last, when, rehearsal=True)
    assert not done_lately(stayed, checklist("evening"), last, when)


def test_a_record_of_a_claim_alone_shows_nothing(tmp_path: Path) -> None:
    """Whatever a journal's first line says was so: no step was reported."""
    started = start_new(checklist("evening"), RIG, tmp_path, {"rehearsal": True})
    one = Conversation(checklist("evening"), ENGLISH, started.log)
    one.begin(frozenset({TESTED}) | RIG.has, 0.0, rehearsal=True)
    started.log.close()
    assert asked(begun(tmp_path, "evening", days=1)[0])


def test_the_gas_is_refused_without_it() -> None:
    c = checklist("arrive")
    one = Conversation(c, ENGLISH, _Nowhere())
    one.begin(RIG.has | c.start_facts | {"parked", "chocked"}, 0.0)
    _, effects = advance(c, one.state, GoTo("gas-on"))
    assert any(isinstance(effect, Refused) and effect.rule == "gas-unguarded" for effect in effects)


class _Nowhere:
    def write(self, line: lines.Line, t: float, who: str = "") -> None:
        """Nothing is kept."""


def test_every_interval_names_its_source() -> None:
    """In the file, beside it: who says that so often is often enough."""
    text = (checklists_folder() / "shared/rig.yaml").read_text("utf-8")
    for place in re.finditer(r"evidence: \{days", text):
        assert "from memory" in text[max(0, place.start() - 400):place.start()]
