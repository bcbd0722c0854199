"""What an operator knows by heart, from journals of walks that were held."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.state import GoTo
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.session.by_heart import ByHeart
from handsfree.session.manner import Manner
from handsfree.session.opening import start_new
from handsfree.storage.mastery import AWAY_DAYS, STAYS, Known, known_by_heart
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.testing import MemoryLog, talk

ENGLISH = load_language("en")
WATER = {"tap-flush", "regulator-on", "hose-on", "joints"}
LATER = timedelta(hours=1)


@cache
def arrive(name: str = "arrive") -> Checklist:
    folder = checklists_folder()
    return load_checklist(folder / f"{name}.yaml", rig=load_rig(find_rig("small-single")), library=folder)


def leave(folder: Path) -> None:
    walk(folder, "depart")


def walk(folder: Path, name: str = "arrive", **script: dict[str, tuple[str, ...]]) -> None:
    """A list walked as usual but for what the script says."""
    rig, c = load_rig(find_rig("small-single")), arrive(name)
    started = start_new(c, rig, folder, {"rehearsal": True})
    talk(c, ENGLISH, Script(answers=dict.fromkeys(c.steps, True), **script), started=started)
    started.log.close()


def known(folder: Path, operator: str = "", when: timedelta = LATER) -> frozenset[str]:
    return record_of(folder, operator, when).steps


def record_of(folder: Path, operator: str = "", when: timedelta = LATER) -> Known:
    return known_by_heart(folder, arrive(), operator, datetime.now(UTC) + when)


@pytest.fixture(scope="module")
def stays(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("stays")
    for number in range(STAYS):
        assert not known(folder), f"{number} stays are too few"
        walk(folder)
        leave(folder)
    return folder


@pytest.fixture
def practised(stays: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(stays, tmp_path / "rig"))


def test_three_clean_walks_show_it_and_only_to_whom_they_belong(practised: Path) -> None:
    assert known(practised) >= WATER & arrive().steps.keys()
    assert not known(practised, "two"), "another operator has shown nothing"


def test_a_slip_takes_the_section_back_and_no_other(practised: Path) -> None:
    walk(practised, at={"hose-on": ("skip this", "hooked up to water")})
    assert not known(practised) & WATER
    assert known(practised), "what else is known stays known"


def test_a_long_absence_takes_all_of_it_back_until_it_was_walked_again(practised: Path) -> None:
    assert known(practised, when=timedelta(days=AWAY_DAYS) - LATER)
    assert not known(practised, when=timedelta(days=AWAY_DAYS) + LATER)
    assert not known(practised, when=-2 * LATER), "nor does a clock that was set back show anything"


def test_a_walk_that_was_not_finished_shows_nothing(practised: Path) -> None:
    walk(practised, at={"chock": ("finish for now",)})
    assert known(practised) >= WATER & arrive().steps.keys()


def test_a_no_to_what_was_read_back_together_is_a_slip(practised: Path) -> None:
    rig, c = load_rig(find_rig("small-single")), arrive()
    started = start_new(c, rig, practised, {"rehearsal": True})
    one = ByHeart(c, ENGLISH, started.log, manner=Manner(by_heart=True), known=record_of(practised))
    prompts, t, denied = started.begin(one, 0.0, started.log), 0.0, False
    from handsfree.rehearsal.operator import Operator
    operator = Operator(Script(answers=dict.fromkeys(c.steps, True)), c, ENGLISH)
    while not one.over and t < 400:
        for prompt in prompts:
            operator.hear(prompt)
        words, t = operator.answer(), t + 1.0
        if prompts[-1].key == "readback together" and "hooked up to water" in prompts[-1].text:
            words, denied = "no", True
            operator.hear(prompts[-1])
        prompts = one.hear(Hypothesis(words, 1.0, t, t), t)
    started.log.close()
    assert denied and one.over
    assert "hose-on" not in known(practised)


# --- what the operator is told of it -------------------------------------------------------------

def told(folder: Path, operator: str = "", when: timedelta = LATER, *, by_heart: bool | None = True) -> str:
    """What is said as the list begins, before its first step."""
    c = arrive()
    one = ByHeart(c, ENGLISH, MemoryLog(), manner=Manner(by_heart=by_heart),
                  known=record_of(folder, operator, when))
    prompts = one.begin(load_rig(find_rig("small-single")).has | c.start_facts, 0.0)
    return " ".join(prompt.text for prompt in prompts[:-1])


def test_who_wants_it_by_heart_hears_what_is_missing(tmp_path: Path) -> None:
    for number in ("none", "one", "two"):
        assert f"three full runs of this list, and your record shows {number}." in told(tmp_path)
        walk(tmp_path)
        leave(tmp_path)
    assert "by heart" not in told(tmp_path).lower(), "all is known, so there is nothing to tell"


def test_it_is_offered_by_its_parts_and_the_operator(practised: Path) -> None:
    assert "You know the spot, the stabilizers, the water and the things outside." in told(practised, by_heart=None)
    assert "You know" not in told(practised, "two", by_heart=None)
    assert "You know" not in told(practised, by_heart=False), "he has said no to it"


def test_after_a_slip_the_part_is_named_that_goes_step_by_step(practised: Path) -> None:
    walk(practised, at={"hose-on": ("skip this", "hooked up to water")})
    said = told(practised)
    assert "By heart: the spot, the stabilizers and the things outside." in said
    assert said.endswith("until your record shows you know it: the water.")
    for _ in range(2):
        leave(practised)
        walk(practised)
        assert "the water" in told(practised), "too few clean walks again"
    leave(practised)
    walk(practised)
    assert "does not show" not in told(practised)


def test_after_a_long_absence_it_says_why_nothing_is(practised: Path) -> None:
    assert "sixty days" in told(practised, when=timedelta(days=AWAY_DAYS) + LATER)


def test_a_slip_counts_at_once(practised: Path) -> None:
    """Also in the walk in which it happens: from there on that part goes step by step."""
    c = arrive()
    one = ByHeart(c, ENGLISH, MemoryLog(), manner=Manner(by_heart=True), known=record_of(practised))
    one.begin(load_rig(find_rig("small-single")).has | c.start_facts, 0.0)
    assert one.mastered >= {*WATER, "stabilisers-down"}
    one.take(GoTo("stabilisers-down"), 1.0)  # refused: the trailer is not chocked
    assert "stabilisers-down" not in one.mastered and one.mastered >= WATER
