"""Minutes of audio with a wandering operator; hours of it are `python -m benchmarks soak`."""

from pathlib import Path

import pytest

from benchmarks.soak import Soaked, soaked
from handsfree.storage import journal
from handsfree.storage.record import rig_folder, session_paths


def test_minutes_with_a_wandering_operator_replay_to_the_same(tmp_path: Path) -> None:
    found = soaked(150, tmp_path, slow=3.0, seed=2, names=("road-stop", "evening"))
    assert found.audio >= 150 and found.heard > 10 and len(found.delays) > 10
    assert found.differing == []
    paths = session_paths(rig_folder(tmp_path, "Survey trailer"))
    assert len(paths) == found.sessions
    said = [line for path in paths for line in journal.read(path).lines if line.what == "event"]
    assert len(said) > 8


def test_a_slope_is_seen_and_its_absence_is_not() -> None:
    hours = [(3600 * h, 100e6 + (50e6 if h < 2 else 0) + 3e6 * h) for h in range(9)]
    found = Soaked(audio=8 * 3600)
    assert found.slope(hours) == pytest.approx(3e6)
    assert found.slope([(t, 7.0) for t, _ in hours]) == pytest.approx(0.0, abs=1e-9)
