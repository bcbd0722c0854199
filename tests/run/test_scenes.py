"""The README's scenes of what is refused: each in text, and in real audio by the command named there.

What has to be said, and what must never be, comes from the hazard, not from the checklists.  In text
every word is heard; one scene is always played in audio, the others with HANDSFREE_TESTS=long.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.cli import main
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import load_script
from handsfree.storage import journal
from handsfree.storage.lines import Line
from handsfree.storage.paths import checklists_folder, find_checklist, find_rig
from handsfree.testing import talk

pytestmark = pytest.mark.timeout(1200)  # a whole stay each; a busy machine is no finding


def in_text(scene: str, _: Path) -> tuple[Sequence[Line], str]:
    """The lines of the last checklist, and what the program said in it, in small letters."""
    script = load_script(checklists_folder() / "scripts" / f"{scene}.yaml")
    rig, record = load_rig(find_rig(script.rig)), None
    for number, name in enumerate(script.stay or (script.checklist,)):
        checklist = load_checklist(find_checklist(name), rig=rig, library=checklists_folder())
        if name in script.stay[:number]:
            script = replace(script, at=script.again)
        told = talk(checklist, load_language("en"), script,
                    record=checklist.start_facts | rig.has if record is None else record)
        record = told.conversation.state.facts
    return told.log.lines, "\n".join(told.words_of("program")).lower()


def in_audio(scene: str, folder: Path) -> tuple[Sequence[Line], str]:
    """The same, played by the command."""
    done = CliRunner(env={"HANDSFREE_DATA": str(folder / "data")}).invoke(main, [
        "rehearse", "--fast", "--script", scene, "--out", str(folder / "out")])
    assert done.exit_code == 0, done.output[-2000:]
    transcripts = sorted((folder / "out").rglob("transcript.txt"),
                         key=lambda path: path.stat().st_mtime_ns)
    text = transcripts[-1].read_text(encoding="utf-8")
    return journal.read(transcripts[-1].parent / "journal.jsonl").lines, "\n".join(
        line.split("program", 1)[1].strip().lower()
        for line in text.splitlines() if re.match(r"[\d:.]+\s+program", line))


Played = Callable[[str, Path], tuple[Sequence[Line], str]]
ways = pytest.mark.parametrize("played", [in_text, pytest.param(in_audio, marks=pytest.mark.long)])
always_in_audio = pytest.mark.parametrize("played", [in_text, in_audio])


def in_order(said: str, *phrases: str) -> None:
    place = 0
    for phrase in phrases:
        found = said.find(phrase, place)
        assert found >= 0, f"'{phrase}' is not said, or too early:\n{said}"
        place = found + len(phrase)


@ways
def test_nobody_is_sent_up_the_ramps_with_the_cord_in(played: Played, tmp_path: Path) -> None:
    _, said = played("arrive-again", tmp_path)
    in_order(said, "stop.", "must wait", "is plugged in", "would tear off its cord")
    assert "ease up" not in said and "take the chocks out" not in said


@always_in_audio
def test_chocks_that_slip_hold_the_truck_back_until_they_hold(played: Played, tmp_path: Path) -> None:
    _, said = played("chocks-slip", tmp_path)
    in_order(said, "ease the brake", "the chocks did not hold", "chock both sides again",
             "pull away must wait", "the chocks have not been tested", "once more:", "ease the brake")


@ways
def test_a_spot_of_five_degrees_is_left(played: Played, tmp_path: Path) -> None:
    _, said = played("five-degrees", tmp_path)
    in_order(said, "five degrees", "do not use ramps here", "pull away must wait")
    assert "goes up on ramps" not in said and "pull the truck forward" not in said


@ways
def test_the_slide_out_is_looked_at_anew_after_the_night(played: Played, tmp_path: Path) -> None:
    lines, said = played("after-the-night", tmp_path)
    in_order(said, "run the slide-out in", "before the break", "no longer counts. check again",
             "floor and path empty", "nobody beside it", "run the slide-out in")
    reports = [(line.step, line.t) for line in lines if line.what == "reported"]
    run_in = next(t for step, t in reports if step == "slide-run-in")
    looked = [t for step, t in reports if step in ("slide-floor", "slide-roof")]
    assert len([t for t in looked if run_in - t < 600]) >= 2 and run_in > 13 * 3600


@ways
def test_nobody_drives_off_with_the_lights_skipped(played: Played, tmp_path: Path) -> None:
    lines, said = played("lights-skipped", tmp_path)
    in_order(said, "lights work", "skipped for now", "you skipped this one earlier", "lights work",
             "must wait: the road lights were not checked", "pull forward one rig length")
    order = [line.step for line in lines if line.what == "reported"]
    assert "lights" in order[:order.index("pull-out")]
