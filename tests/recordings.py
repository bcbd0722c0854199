"""The recordings that are not in the repository: where they are, or why a test is skipped."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

WAIVED = "HANDSFREE_AUDIO is 'none': without the recordings, as was asked"
"""Why a test is skipped on purpose, under CI too."""


def recordings(name: str) -> Path:
    """A folder of them: in HANDSFREE_AUDIO, by default ../shared/audio beside the project.

    A test skips where it is missing; under CI that is a failure (`tests/conftest.py`), unless
    HANDSFREE_AUDIO is "none".
    """
    beside = Path(__file__).resolve().parents[2] / "shared" / "audio"
    named = os.environ.get("HANDSFREE_AUDIO", str(beside))
    if named == "none":
        pytest.skip(WAIVED)
    folder = Path(named) / name
    if not folder.is_dir():
        pytest.skip(f"there are no recordings in {folder}; name their folder with HANDSFREE_AUDIO")
    return folder
