"""What a reading comes to is worked out and spoken, with the rig's own numbers."""

from pathlib import Path

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.language.loader import load_language
from handsfree.library import find_checklist, find_rig, library_folder
from handsfree.session.script import Script
from handsfree.testing import talk


def told(rig_name: str, **script: object) -> str:
    rig = load_rig(find_rig(rig_name))
    checklist = load_checklist(find_checklist("arrive"), rig=rig, library=library_folder())
    done = talk(checklist, load_language("en"), Script(**script),  # type: ignore[arg-type]
                record=checklist.start_facts | rig.has)
    return "\n".join(done.words_of("program"))


def test_a_lean_is_told_in_inches_of_the_low_side() -> None:
    """84 in x tan(3 deg) = 4.402 in, to the quarter inch (plane trigonometry)."""
    said = told("survey-trailer", readings={"side-level": ("three degrees", "zero degrees")})
    assert "Three degrees. That is too high.\nThe low side has to come up four and a half inches." in said


def test_the_tongue_too() -> None:
    """200 in x tan(2 deg) = 6.984 in."""
    said = told("survey-trailer", readings={"fore-level": ("two degrees", "zero degrees")})
    assert "The coupler has to move seven inches." in said


def test_a_rig_that_was_not_measured_is_told_no_inches() -> None:
    said = told("small-single", readings={"side-level": ("three degrees", "zero degrees")})
    assert "has to come up" not in said


def test_a_sum_needs_a_reading(tmp_path: Path) -> None:
    import pytest

    from handsfree.errors import AuthorError

    path = tmp_path / "x.yaml"
    path.write_text("title: T\nsteps:\n  - {id: a, do: Look., sum: lift side}\n")
    with pytest.raises(AuthorError, match="no reading"):
        load_checklist(path)
