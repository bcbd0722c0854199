"""No test of this room remembers a verdict in the folder of whoever runs it."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def own_folder(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The operator's data folder, empty."""
    folder = tmp_path_factory.mktemp("own")
    monkeypatch.setenv("HANDSFREE_DATA", str(folder))
    return folder
