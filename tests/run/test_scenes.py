"""The README's scenes of what is refused, in real audio, by the command that it names.

What has to be said, and what must never be, comes from the hazard, not from the checklists.
"""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli import main
from handsfree.storage import journal

pytestmark = pytest.mark.timeout(1200)  # a whole stay each; a busy machine is no finding


def played(scene: str, folder: Path) -> tuple[Path, str]:
    """The folder of the last checklist, and what the program said in it, in small letters."""
    done = CliRunner(env={"HANDSFREE_DATA": str(folder / "data")}).invoke(main, [
        "rehearse", "--fast", "--script", scene, "--out", str(folder / "out")])
    assert done.exit_code == 0, done.output[-2000:]
    transcripts = sorted((folder / "out").rglob("transcript.txt"),
                         key=lambda path: path.stat().st_mtime_ns)
    text = transcripts[-1].read_text(encoding="utf-8")
    return transcripts[-1].parent, "\n".join(
        line.split("program", 1)[1].strip().lower()
        for line in text.splitlines() if re.match(r"[\d:.]+\s+program", line))


def in_order(said: str, *phrases: str) -> None:
    place = 0
    for phrase in phrases:
        found = said.find(phrase, place)
        assert found >= 0, f"'{phrase}' is not said, or too early:\n{said}"
        place = found + len(phrase)


def test_nobody_is_sent_up_the_ramps_with_the_cord_in(tmp_path: Path) -> None:
    folder, said = played("arrive-again", tmp_path)
    in_order(said, "stop.", "must wait", "is plugged in", "would tear off its cord")
    assert "ease up" not in said and "take the chocks out" not in said


def test_chocks_that_slip_hold_the_truck_back_until_they_hold(tmp_path: Path) -> None:
    _, said = played("chocks-slip", tmp_path)
    in_order(said, "ease the brake", "the chocks did not hold", "chock both sides again",
             "pull away must wait", "was not tried on its chocks", "now once more:", "ease the brake")


def test_a_spot_of_five_degrees_is_left(tmp_path: Path) -> None:
    _, said = played("five-degrees", tmp_path)
    in_order(said, "five degrees", "do not use ramps here", "pull away must wait")
    assert "goes up on ramps" not in said and "pull the truck forward" not in said


def test_the_slide_out_is_looked_at_anew_after_the_night(tmp_path: Path) -> None:
    folder, said = played("after-the-night", tmp_path)
    in_order(said, "run the slide-out in", "before the break", "no longer counts. look again",
             "floor and its path empty", "nobody beside it", "run the slide-out in")
    lines = journal.read(folder / "journal.jsonl").lines
    reports = [(line.step, line.t) for line in lines if line.what == "reported"]
    run_in = next(t for step, t in reports if step == "slide-run-in")
    looked = [t for step, t in reports if step in ("slide-floor", "slide-roof")]
    assert len([t for t in looked if run_in - t < 600]) >= 2 and run_in > 13 * 3600


def test_nobody_drives_off_with_the_lights_skipped(tmp_path: Path) -> None:
    folder, said = played("lights-skipped", tmp_path)
    in_order(said, "lights work", "skipped for now", "you skipped this one earlier", "lights work",
             "must wait: the road lights were not checked", "pull forward one rig's length")
    lines = journal.read(folder / "journal.jsonl").lines
    order = [line.step for line in lines if line.what == "reported"]
    assert "lights" in order[:order.index("pull-out")]
