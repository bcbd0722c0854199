"""The recordings that are not in the repository: where they are, or why a test is skipped."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


def recordings(name: str) -> Path:
    """A folder of them: in HANDSFREE_AUDIO, by default ../shared/audio beside the project.

    A test skips where it is missing, or fails when HANDSFREE_AUDIO_REQUIRED is set.
    """
    beside = Path(__file__).resolve().parents[2] / "shared" / "audio"
    folder = Path(os.environ.get("HANDSFREE_AUDIO", beside)) / name
    if not folder.is_dir():
        told = f"there are no recordings in {folder}"
        if os.environ.get("HANDSFREE_AUDIO_REQUIRED"):
            pytest.fail(told)
        pytest.skip(told)
    return folder
