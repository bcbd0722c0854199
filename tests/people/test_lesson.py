"""The first lesson teaches what the program understands, and every command that matters."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.state import Mode
from handsfree.language.intents import Command, GoTo, Number, Unknown
from handsfree.language.loader import load_language
from handsfree.language.matcher import Expected, Matcher
from handsfree.rehearsal.script import Script, check_script, load_script
from handsfree.storage.paths import checklists_folder
from handsfree.testing import Talk, talk

LESSONS = checklists_folder() / "lessons"
ENGLISH = load_language("en")


@pytest.fixture(scope="module")
def lesson() -> Checklist:
    return load_checklist(LESSONS / "first-try.yaml",
                          rig=load_rig(LESSONS / "practice-rig.yaml"), library=checklists_folder())


@pytest.fixture(scope="module")
def told(lesson: Checklist) -> Talk:
    script = load_script(LESSONS / "first-try.script.yaml")
    check_script(script, lesson, Matcher(ENGLISH))
    return talk(lesson, ENGLISH, script)


def taught(lesson: Checklist) -> dict[str, set[str]]:
    """Step -> the phrases that its text tells the operator to say."""
    found: dict[str, set[str]] = {}
    for step in lesson.steps.values():
        for text in (step.do, step.detail):
            for phrase in re.findall(r"(?:[Ss]ay|[Tt]hen): ([^.,]+)", text):
                found.setdefault(step.id, set()).add(phrase)
    return found


def test_who_does_what_the_lesson_says_comes_to_its_end(told: Talk) -> None:
    assert told.conversation.state.mode is Mode.CLOSED
    assert told.words_of("program")[-1].startswith("First try: complete.")


def test_everything_that_is_taught_is_understood(lesson: Checklist) -> None:
    matcher = Matcher(ENGLISH)
    steps = {step.id: (*step.names, step.id) for step in lesson.steps.values()}
    everything = Expected(frozenset(ENGLISH.commands), {}, steps, unit="degrees")
    phrases = set().union(*taught(lesson).values())
    assert len(phrases) >= 9
    for phrase in phrases:
        meant = matcher.interpret(phrase, everything)
        assert isinstance(meant, (Command, GoTo, Number)), (phrase, meant)
        assert not isinstance(meant, Unknown)
        if isinstance(meant, Command):
            assert ENGLISH.commands[meant.id][0] == phrase, "the taught wording"


def test_the_operator_of_the_script_says_what_is_taught(lesson: Checklist, told: Talk) -> None:
    said = set(told.words_of("operator"))
    for phrase in set().union(*taught(lesson).values()):
        assert phrase in said, phrase


def test_a_refusal_is_shown_with_its_reason(told: Talk) -> None:
    assert any(words.startswith("Stop. Pour the tea must wait: there is no cup."
                                " Tea on the table wets the map.")
               for words in told.words_of("program"))


def test_what_is_skipped_comes_back_and_what_is_taken_back_is_asked_again(told: Talk) -> None:
    offered = [prompt.about for prompt in told.prompts if prompt.key == "offer"]
    assert offered.count("later") == 2 and offered[-1] == "later"
    assert offered.count("pour the tea") == 2


def test_it_takes_about_two_minutes_and_leaves_nothing_behind(
    lesson: Checklist, told: Talk
) -> None:
    # 165 words a minute from the program, three seconds for each answer of the operator.
    words = sum(len(text.split()) for text in told.words_of("program"))
    minutes = words / 165 + len(told.words_of("operator")) * 3 / 60
    assert 1.5 < minutes < 3.0
    assert 1.5 < sum(step.minutes[1] for step in lesson.steps.values()) < 3.5
    assert all(fact.fresh for fact in lesson.facts.values())


def test_challenges_are_short(lesson: Checklist) -> None:
    assert all(len(step.do.split()) <= 12 for step in lesson.steps.values())
    plain = talk(lesson, ENGLISH, Script())
    assert plain.conversation.state.mode is Mode.CLOSED


def test_without_a_microphone_it_says_so_and_leaves_nothing_behind(tmp_path: Path) -> None:
    """Typed as README has it, into no terminal, on a machine without a sound card."""
    env = {**os.environ, "HANDSFREE_DATA": str(tmp_path), "PULSE_SERVER": "unix:/nowhere"}
    done = subprocess.run([sys.executable, "-m", "handsfree", "try"], stdin=subprocess.DEVNULL,
                          capture_output=True, text=True, env=env, check=False)
    if done.returncode == 0:
        pytest.skip("this machine has a microphone")
    assert done.returncode == 3
    assert done.stderr.startswith("handsfree: ") and "not proved" not in done.stderr
    assert list(tmp_path.rglob("*.jsonl")) == []
