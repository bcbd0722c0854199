"""How the program speaks: changed by voice, remembered, and louder where it is loud."""

import os
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.audio import Samples, level_dbfs, seconds
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import language_names, load_language
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.session.expecting import expected
from handsfree.session.manner import COMMANDS, FORMS, LOUDER, RATES, Manner, adjusted
from handsfree.session.manner_file import AWAY, OFTEN, remember, remembered
from handsfree.speaking.loudness import MOST_GAIN, QUIET_GAIN, amplified, gain_db
from handsfree.testing import MemoryLog, talk

NOW = datetime(2026, 5, 1, 12).astimezone()
LIST = """\
title: Small stay
says: I advise.
defers: Manuals come first.
facts: {chocked: the wheels are chocked}
steps:
  - {id: walk, do: Walk round., detail: All of it.}
  - {id: volts, do: Look at the meter., reading: {of: volts, between: [100, 130]}}
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked, caution: Mind it.}
"""


@pytest.fixture
def small(tmp_path: Path) -> Checklist:
    path = tmp_path / "small.yaml"
    path.write_text(LIST, encoding="utf-8")
    return load_checklist(path)


def begun(checklist: Checklist, manner: Manner, told: list[Manner]) -> tuple[Conversation, str]:
    conversation = Conversation(checklist, load_language("en"), MemoryLog(), manner=manner,
                                on_manner=told.append)
    prompts = conversation.begin(checklist.start_facts, 0.0)
    return conversation, " | ".join(prompt.text for prompt in prompts)


def hear(conversation: Conversation, words: str) -> str:
    prompts = conversation.hear(Hypothesis(words, 1.0, 0.0, 1.0), 1.0)
    return " | ".join(prompt.text for prompt in prompts)


# --- steps -------------------------------------------------------------------------------------

@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_each_command_goes_to_an_end_and_no_further(command: str) -> None:
    manner, seen = Manner(), []
    for _ in range(10):
        manner = adjusted(manner, command)
        seen.append(manner)
    assert manner.rate in (RATES[0], RATES[-1], 165)
    assert adjusted(manner, command) == manner and len(set(seen)) >= 1


@given(st.lists(st.sampled_from(sorted(COMMANDS)), max_size=30))
def test_whatever_is_said_the_manner_is_one_of_its_steps(commands: list[str]) -> None:
    manner = Manner()
    for command in commands:
        manner = adjusted(manner, command)
        assert manner.rate in RATES and manner.louder in LOUDER and manner.form in FORMS


def test_there_and_back_is_where_it_was() -> None:
    for there, back in (("slower", "faster"), ("louder", "softer"), ("shorter", "longer")):
        assert adjusted(adjusted(Manner(), there), back) == Manner()
        assert adjusted(Manner(), there) != Manner()


# --- in a conversation -------------------------------------------------------------------------

def test_asked_for_by_voice_it_is_said_told_and_written_down(small: Checklist) -> None:
    told: list[Manner] = []
    conversation, _ = begun(small, Manner(), told)
    assert hear(conversation, "slow down") == "Slower, like this."
    assert hear(conversation, "keep it short").startswith("Short wording from now on.")
    assert hear(conversation, "be brief") == "That is as far as it will go."
    assert told == [Manner(145), Manner(145, 0.0, "brief")]
    lines = [line for line in conversation._log.lines  # type: ignore[attr-defined]
             if line.what == "manner"]
    assert [line.rate for line in lines] == [145, 145] and lines[-1].form == "brief"


def test_the_brief_form_drops_how_to_answer_but_never_the_caution(small: Checklist) -> None:
    conversation, opening = begun(small, Manner(form="brief"), [])
    assert opening == "Small stay. Manuals come first. | Walk round."
    assert hear(conversation, "done").endswith("Look at the meter.")
    hear(conversation, "one hundred ten")
    assert hear(conversation, "that is right").endswith("| Mind it. Chock both wheels.")
    assert hear(conversation, "say again") == "Mind it. Chock both wheels. Answer: chocks set."


def test_the_full_form_tells_the_detail_too(small: Checklist) -> None:
    _, opening = begun(small, Manner(form="full"), [])
    assert opening.endswith("| Walk round. All of it.")


def test_the_usual_form_is_between(small: Checklist) -> None:
    conversation, opening = begun(small, Manner(), [])
    assert opening == "Small stay. I advise. Manuals come first. | Walk round."
    assert hear(conversation, "done").endswith("Look at the meter. Answer in volts.")


def test_a_hold_point_keeps_to_its_few_phrases(small: Checklist) -> None:
    conversation, _ = begun(small, Manner(), [])
    assert expected(small, conversation.state).commands >= COMMANDS
    hear(conversation, "go to chock")
    assert not expected(small, conversation.state).commands & COMMANDS


def test_nothing_but_the_words_changes(small: Checklist) -> None:
    english = load_language("en")
    plain = talk(small, english, Script())
    fussy = talk(small, english, Script(at={"walk": (
        "slow down", "keep it short", "louder please", "speed up", "full wording",
        "softer please")}))
    assert plain.conversation.state == fussy.conversation.state


@pytest.mark.parametrize("code", language_names())
def test_every_language_has_words_for_every_change(code: str) -> None:
    language = load_language(code)
    for command in COMMANDS:
        assert language.commands[command]
    for key in ("slower", "faster", "louder", "softer", "by_heart", "step_by_step",
                *FORMS, "end"):
        assert language.templates[f"manner.{key}"]


# --- remembered --------------------------------------------------------------------------------

def sessions(folder: Path, count: int, ago: timedelta, checklist: str = "arrive") -> list[Path]:
    paths = []
    for number in range(count):
        path = folder / f"{number + 1:06d}-{checklist}.jsonl"
        path.write_text("")
        stamp = (NOW - ago).timestamp() - number
        os.utime(path, (stamp, stamp))
        paths.append(path)
    return paths


def test_who_has_walked_it_often_is_spoken_to_briefly(tmp_path: Path) -> None:
    for count, form in ((0, "usual"), (OFTEN - 1, "usual"), (OFTEN, "brief")):
        found = sessions(tmp_path, count, timedelta(days=2))
        assert remembered(tmp_path, found, "arrive", NOW).form == form
    assert remembered(tmp_path, found, "depart", NOW).form == "usual", "another checklist"


def test_after_a_month_away_the_usual_form_returns_where_none_was_chosen(tmp_path: Path) -> None:
    recent = sessions(tmp_path, OFTEN, AWAY - timedelta(days=1))
    assert remembered(tmp_path, recent, "arrive", NOW).form == "brief"
    long_ago = sessions(tmp_path, OFTEN, AWAY + timedelta(days=1))
    assert remembered(tmp_path, long_ago, "arrive", NOW).form == "usual"


def test_what_was_chosen_is_kept_for_good(tmp_path: Path) -> None:
    """A season's pause is no wish for more words."""
    remember(tmp_path, Manner(form="brief", by_heart=True), Manner())
    long_ago = sessions(tmp_path, 1, timedelta(days=400))
    assert remembered(tmp_path, long_ago, "arrive", NOW) == Manner(form="brief", by_heart=True)


def test_a_choice_outlives_the_session_and_the_count(tmp_path: Path) -> None:
    often = sessions(tmp_path, OFTEN, timedelta(days=1))
    started = remembered(tmp_path, often, "arrive", NOW)
    slower = adjusted(adjusted(started, "slower"), "softer")
    remember(tmp_path, slower, started)
    assert remembered(tmp_path, often, "arrive", NOW) == Manner(145, -3.0, "brief")
    assert remembered(tmp_path, [], "arrive", NOW).form == "usual", "the form was no choice"
    longer = adjusted(slower, "longer")
    remember(tmp_path, longer, slower)
    assert remembered(tmp_path, often, "arrive", NOW) == Manner(145, -3.0, "usual")


@pytest.mark.parametrize("kept", [
    "", "{", "[]", "3", '{"rate": 1e9, "louder": "x", "form": "epic"}', '{"rate": [165]}'])
def test_a_damaged_memory_gives_the_usual_manner(tmp_path: Path, kept: str) -> None:
    (tmp_path / "manner.json").write_text(kept)
    assert remembered(tmp_path, [], "arrive", NOW) == Manner()


def test_a_folder_that_cannot_be_written_does_not_matter(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    remember(tmp_path / "file", Manner(145), Manner())


# --- heard -------------------------------------------------------------------------------------

def test_the_voice_really_speaks_slower(tmp_path: Path) -> None:
    from handsfree.cli.wiring import sounds

    with sounds(load_language("en"), tmp_path) as prepared:
        usual = prepared.get("Chock both wheels, on both sides.")
        prepared.use(RATES[0])
        slow = prepared.get("Chock both wheels, on both sides.")
        prepared.use(165)
        assert np.array_equal(prepared.get("Chock both wheels, on both sides."), usual)
    assert seconds(slow) > 1.2 * seconds(usual)


def tone(peak: int) -> Samples:
    return (peak * np.sin(np.arange(16_000) / 9)).astype(np.int16)


def test_the_gain_rises_with_the_noise_and_with_the_wish() -> None:
    floors = [-96, -70, -60, -50, -40, -30, -20, 0]
    gains = [gain_db(floor) for floor in floors]
    assert gains == sorted(gains) and gains[0] == QUIET_GAIN and gains[-1] == MOST_GAIN
    assert gain_db(-42) == 0.0
    assert gain_db(-50, 3.0) == gain_db(-50) + 3.0


@given(st.integers(1, 32767), st.floats(-40, 30))
def test_no_gain_distorts(peak: int, db: float) -> None:
    sound = tone(peak)
    louder = amplified(sound, db)
    assert len(louder) == len(sound)
    assert np.max(np.abs(louder.astype(int))) <= max(0.951 * 32768, np.max(np.abs(sound)))
    if db < 0 and peak > 10_000:
        assert abs(level_dbfs(louder) - level_dbfs(sound) - db) < 1.0 or db < -35


def test_a_gain_is_what_it_says() -> None:
    sound = tone(8_000)
    assert level_dbfs(amplified(sound, -9)) == pytest.approx(level_dbfs(sound) - 9, abs=0.05)
    assert level_dbfs(amplified(sound, 6)) == pytest.approx(level_dbfs(sound) + 6, abs=0.05)
    assert amplified(sound, 0.0) is sound
    assert not len(amplified(sound[:0], 6.0))
