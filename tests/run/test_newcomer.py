"""The first ten minutes of somebody whose trailer stands unhitched at camp, in real audio.

They end in a departure that asks for everything that is out; the list of what that is comes from
looking at such a trailer, not from the checklists.
"""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli import main
from handsfree.storage import journal
from handsfree.storage.lines import Begun

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("newcomer") / "out"
    data = str(tmp_path_factory.mktemp("data"))
    done = CliRunner(env={"HANDSFREE_DATA": data}).invoke(main, [
        "rehearse", "--fast", "--script", "newcomer-at-camp", "--out", str(out)])
    assert done.exit_code == 0, done.output[-2000:]
    return out


OUT = ("shut the water tap", "unscrew the water hose", "take the regulator off",
       "switch the breaker off", "unplug", "coil the cord", "raise all the stabilizers",
       "back the ball under", "close the latch", "chains crossed", "light cord in",
       "put the sway bar on", "raise the jack", "jack pads in and stowed", "entry step in",
       "take the chocks out")
"""Of a small trailer that stands on its jack with power and water connected and its step out."""


def test_the_departure_asks_for_everything_that_is_out(played: Path) -> None:
    said = (played / "depart" / "transcript.txt").read_text(encoding="utf-8").lower()
    places = [said.find(words) for words in OUT]
    assert -1 not in places, [words for words, at in zip(OUT, places, strict=True) if at < 0]
    assert "pack up and depart: complete" in said
    lines = journal.read(played / "depart" / "journal.jsonl").lines
    assert [line for line in lines if line.what == "closed"][-1].open == ()
    assert "gas" not in said, "it was shut, and said to be"


def test_it_is_settled_first_and_takes_ten_minutes_in_all(played: Path) -> None:
    asked = (played / "questions" / "transcript.txt").read_text(encoding="utf-8")
    assert "I do not know how the trailer is set" in asked
    assert "The gas is shut. Noted." in asked
    evening = journal.read(played / "evening" / "journal.jsonl").lines[0]
    assert isinstance(evening, Begun)
    assert "hitched" not in evening.record and {"chocked", "plugged in"} <= evening.record
    seconds = 0.0
    for part in ("questions", "evening", "depart"):
        told = (played / part / "transcript.txt").read_text(encoding="utf-8")
        minutes, secs = re.findall(r"^(\d+):([\d.]+)", told, re.M)[-1]
        seconds += int(minutes) * 60 + float(secs)
    assert seconds < 600
