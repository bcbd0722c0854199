"""How long the program talks: a smooth stay comes to its end, and the second one is shorter."""

from pathlib import Path

from benchmarks.talk import STAY, summed_up, walked
from handsfree.checklist.rig_file import load_rig
from handsfree.language.loader import load_language
from handsfree.storage.paths import find_rig


def test_the_advice_is_said_in_full_the_first_time_and_the_title_alone_after(
    tmp_path: Path,
) -> None:
    rig = load_rig(find_rig("survey-trailer"))
    walks = [summed_up(walk, lasting=len) for walk in walked(
        rig, STAY * 2, load_language("en"), tmp_path)]
    first, second = walks[:2], walks[2:]
    assert all(later.words < before.words for before, later in zip(first, second, strict=True))
    openings = [walk.prompts[0].text for walk in walked(
        rig, STAY, load_language("en"), tmp_path)]
    assert openings == ["Arrive and set up.", "Pack up and depart."]


def test_brief_is_brief(tmp_path: Path) -> None:
    rig = load_rig(find_rig("survey-trailer"))
    words = [sum(summed_up(walk, len).words for walk in walked(
        rig, STAY, load_language("en"), tmp_path / form, form))
        for form in ("brief", "usual", "full")]
    assert words == sorted(words) and len(set(words)) == 3
