"""A short stay by voice alone over a virtual sound card: called, a list killed and gone on with, reviewed."""

import re
from pathlib import Path

import pytest

from benchmarks.stay_by_voice import a_list, held_out, review, stay
from handsfree.storage import journal
from handsfree.storage.record import rig_folder, session_paths
from tests.pulse import Pulse, pulse  # noqa: F401
from tests.standby.test_in_text import somebodys_folder

LIST = """\
title: Nest boxes
facts: {counted: the boxes are counted, dry: the boxes are dry}
steps:
  - {id: dry, do: Look into each box., respond: boxes are dry, gives: dry}
  - {id: count, do: Count the boxes., gives: counted}
  - {id: shut, do: Shut the boxes.}
"""


def test_the_operators_words_are_such_that_taught_nothing() -> None:
    """The script has words for each kind of moment, from the files of held-out sentences only."""
    words = held_out()
    for moment in ("step", "question", "confirm grave", "confirm plain", "asked done", "standby"):
        assert len({one for _, one in words[moment]}) > 8, moment
    taught = {line[3:] for path in Path("tests").glob("s*/wordings-taught.txt")
              for line in path.read_text("utf-8").splitlines() if line[1:3] == ": "}
    every = {one for some in words.values() for _, one in some}
    assert len(taught) > 500 and not every & taught


@pytest.mark.long
def test_a_list_is_walked_killed_and_gone_on_with_by_voice_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pulse: Pulse  # noqa: F811
) -> None:
    data = somebodys_folder(tmp_path, monkeypatch, LIST)
    found = stay(pulse, data, 5, {"boxes": a_list("nest boxes", "Nest boxes", killed_after=2),
                                  "review": review})
    shown = "\n".join(found.transcript)
    assert not found.problems and len(found.ready) == 2, (found.problems, shown)
    path = next(path for path in session_paths(rig_folder(data, "Small single-axle trailer"))
                if "nest" in path.stem)
    kinds = [line.what for line in journal.read(path).lines]
    assert kinds.count("closed") <= 1 and "restarted" in kinds, kinds
    assert "Nest boxes: complete" in shown and re.search(r"Nest boxes took .+ today\.", shown), shown
