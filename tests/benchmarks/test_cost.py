"""What a process of the program takes, as `benchmarks.cost` sees it; its figures need no test."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from benchmarks.cost import Watched
from handsfree.errors import HandsfreeError

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs /proc")


def test_a_command_takes_memory_and_time_and_its_first_line_comes_before_its_end(tmp_path: Path) -> None:
    seen = Watched("work", "supply", "--breaker", "30A", data=tmp_path).ended()
    assert 5 < seen.megabytes < 1000 and 0 < seen.first_used <= seen.used < 60 and seen.first > 0


def test_a_command_that_fails_is_no_figure(tmp_path: Path) -> None:
    with pytest.raises(HandsfreeError, match="'handsfree work nothing' ended with status 2"):
        Watched("work", "nothing", data=tmp_path).ended()
