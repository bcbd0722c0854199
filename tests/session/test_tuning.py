"""An operator's own thresholds: what they follow from, and that they never loosen what matters."""

import json
from dataclasses import asdict
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.checklist.model import Checklist
from handsfree.errors import StorageError
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.model import Language
from handsfree.session.conversation import Conversation
from handsfree.session.tuning import ENOUGH, LEAST, MOST, Said, Tuned, forget, keep, kept, tuned
from handsfree.session.understanding import Bands
from handsfree.testing import MemoryLog


def said(confidence: float, text: str = "that is done") -> Said:
    return Said("that is done", Hypothesis(text, confidence, 0.0, 1.0), -30.0)


def test_a_voice_that_is_heard_surely_leaves_the_threshold_as_it_is() -> None:
    found = tuned([said(0.95)] * ENOUGH, "own", -60.0)
    assert found.certain == Bands().certain and (found.said, found.right) == (ENOUGH, ENOUGH)
    assert found.voice_dbfs == -30.0 and found.floor_dbfs == -60.0


def test_a_voice_that_is_heard_right_but_not_surely_lowers_it_so_far() -> None:
    found = tuned([said(0.74)] * ENOUGH + [said(0.9)] * 10, "own", -60.0)
    assert found.certain == pytest.approx(0.72)
    assert tuned([said(0.5)] * ENOUGH, "own", -60.0).certain == LEAST


def test_single_words_are_placed_as_much_lower_as_they_need_more() -> None:
    """Where "done" is heard with 0.89, as where "that is done" is with 0.74."""
    few = [Said("done", Hypothesis("done", 0.89, 0.0, 1.0), -30.0)] * ENOUGH
    assert tuned(few, "own", -60.0).certain == pytest.approx(0.72)
    assert tuned(few, "own", -60.0).bands.needed("done") == pytest.approx(0.87)
    taken_for_done = tuned([said(0.96, "done")], "own", -60.0).bands
    assert taken_for_done.needed("done") == pytest.approx(0.97)


def test_few_commands_lower_nothing() -> None:
    assert tuned([said(0.74)] * (ENOUGH - 1), "own", -60.0).certain == Bands().certain


def test_a_mistake_that_would_have_been_acted_on_raises_it() -> None:
    found = tuned([said(0.74)] * ENOUGH + [said(0.86, "skip this")], "own", -60.0)
    assert found.certain == pytest.approx(0.87)
    assert tuned([said(0.99, "skip this")], "own", -60.0).certain == MOST


def test_it_is_not_lowered_to_where_a_mistake_lay() -> None:
    found = tuned([said(0.74)] * ENOUGH + [said(0.77, "skip this")], "own", -60.0)
    assert found.certain == Bands().certain


@given(st.lists(st.tuples(st.floats(0, 1), st.sampled_from(["that is done", "skip this"])),
                max_size=40))
def test_whatever_was_heard_it_lies_between_its_bounds(heard: list[tuple[float, str]]) -> None:
    found = tuned([*(said(sure, text) for sure, text in heard), Said("done", None),
                   Said("done", Rejection("noise", 0.0, 1.0))], "own", -60.0)
    assert LEAST <= found.certain <= MOST
    wrong = [sure for sure, text in heard if text != "that is done"]
    assert not wrong or found.certain > min(MOST - 0.01, max(wrong))


# --- never looser where it matters -------------------------------------------------------------

def conversation(small: Checklist, english: Language, certain: float) -> Conversation:
    made = Conversation(small, english, MemoryLog(), bands=Bands(certain=certain))
    made.begin(small.start_facts, 0.0)
    return made


@pytest.mark.parametrize("sure", [0.66, 0.79])
def test_what_settles_a_fact_is_taken_on_no_less_than_usual(
    small: Checklist, english: Language, sure: float
) -> None:
    """Every utterance of a whole walk: only the reports that settle nothing are easier."""
    easy, usual = (conversation(small, english, certain) for certain in (LEAST, 0.80))
    acted = []
    for words in ("no", "chocks set", "that is right", "that is done", "one hundred ten",
                  "that is right", "that is done"):
        before = easy.state
        easy.hear(Hypothesis(words, sure, 0.0, 1.0), 1.0)
        if easy.state.facts != before.facts or easy.state.at != before.at:
            acted.append((words, before.at))
        for one in (easy, usual):  # go on, surely
            one.state = before
            one.hear(Hypothesis(words, 0.99, 0.0, 1.0), 1.0)
        assert easy.state == usual.state
    # "pull away" ends a fact, so that even its "that is done" is asked about.
    assert acted == [("that is done", "mat")]


def test_a_stricter_voice_is_stricter_everywhere(small: Checklist, english: Language) -> None:
    strict = conversation(small, english, 0.95)
    before = strict.state
    strict.hear(Hypothesis("go to chock", 0.9, 0.0, 1.0), 1.0)
    assert strict.state.at == before.at
    strict.state = before
    strict.hear(Hypothesis("no", 0.99, 0.0, 1.0), 1.0)
    at_hold = strict.state
    strict.hear(Hypothesis("chocks set", 0.9, 0.0, 1.0), 1.0)
    assert strict.state == at_hold


# --- kept --------------------------------------------------------------------------------------

FOUND = Tuned("own", 0.75, -31.5, -60.0, 27, 25, "2026-05-01")


def test_it_is_kept_privately_and_forgotten(tmp_path: Path) -> None:
    data = tmp_path / "data"
    assert kept(data) is None and not forget(data)
    keep(data, FOUND)
    assert kept(data) == FOUND and FOUND.bands == Bands(certain=0.75)
    (file,) = data.iterdir()
    assert file.stat().st_mode & 0o077 == 0
    assert forget(data) and not list(data.iterdir())


def stored(**changed: object) -> str:
    return json.dumps({**asdict(FOUND), **changed})


@pytest.mark.parametrize("text", [
    "", "[]", "{", "3", '{"certain": 0.1}', stored(certain=0.01), stored(certain="x"),
    stored(certain=1.5), stored(voice_dbfs=None), stored(floor_dbfs=1e9), stored(more=1)])
def test_a_damaged_file_counts_as_none(tmp_path: Path, text: str) -> None:
    (tmp_path / "voice.json").write_text(text)
    assert kept(tmp_path) is None


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match="cannot be written"):
        keep(tmp_path / "file", FOUND)
    assert not forget(tmp_path / "file")
