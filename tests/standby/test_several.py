"""A trailer with two slide-outs, standing by: each is told, asked about and corrected by its name."""

import shutil
from pathlib import Path

import pytest

from handsfree.cli.stand_by import _Settings
from handsfree.hearing.types import Rejection
from handsfree.language.loader import load_language
from handsfree.standby.phrases import load_words
from handsfree.storage.paths import checklists_folder
from handsfree.storage.record import latest, rig_folder
from tests.standby.test_in_text import CALL, last_answer, said
from tests.standby.test_natural import standing


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "data"
    (folder / "rigs").mkdir(parents=True)
    shutil.copy(checklists_folder() / "rigs" / "fifth-wheel.yaml", folder / "rigs" / "mine.yaml")
    monkeypatch.setenv("HANDSFREE_DATA", str(folder))
    return folder


def test_a_slide_out_that_is_out_is_told(data: Path) -> None:
    """Whoever asks what is out before he pulls away and is not told of the slide-out drives with it out."""
    told = last_answer(said(CALL, "the bedroom slide is out", "that is right", "what is out"))
    assert "the bedroom slide-out is out" in told and "living room" not in told, told


def test_the_one_that_was_named_is_read_back_and_put_on_record(data: Path) -> None:
    told = said(CALL, "the bedroom slide is out", "that is right", "the living room slide is in",
                "that is right", "is the bedroom slide out", "is the living room slide out")
    places = [told.index(words) for words in (
        "For the record: the bedroom slide-out is out", "For the record: the living room slide-out is in",
        "Yes: the bedroom slide-out is out", "No: the living room slide-out is in")]
    assert places == sorted(places), told
    facts = latest(rig_folder(data, "Fifth-wheel trailer")).facts  # type: ignore[union-attr]
    assert "bedroom slide extended" in facts and "living room slide extended" not in facts


def test_asked_without_saying_which_it_tells_of_each(data: Path) -> None:
    told = said(CALL, "the bedroom slide is out", "that is right", "the living room slide is in",
                "that is right", "is the slide out")
    assert "Yes: the bedroom slide-out is out" in told and "No: the living room slide-out is in" in told, told


def test_said_without_saying_which_nothing_is_put_on_record(data: Path) -> None:
    told = said(CALL, "the slide is out", "that is right")
    assert "Which?" in told and "Got it" not in told, told


def test_what_is_no_phrase_but_surely_said_is_read_back_first(data: Path) -> None:
    """By ear: "the bedroom slide" where the record says "slide-out"."""
    settings = _Settings(data, None, "", load_language("en"), load_words("en"), (CALL,))
    for sure, told in ((0.9, "For the record: the bedroom slide-out is in. Is that right?"),
                       (0.5, "I did not understand")):
        talk = standing(settings)
        prompts = talk.hear(
            Rejection("unclear", 0.0, 1.0, written="the bedroom slide is in", sure=sure), 1.0)
        assert told in prompts[0].text, prompts
    assert latest(rig_folder(data, "Fifth-wheel trailer")) is None
