"""For every test: numpy with one thread, as the program runs (see `handsfree/__init__.py`), no
deadline for hypothesis, since no test is timed, under CI no skip but those listed here, and what is
marked `long` only where it is asked for (`tests/depth.py`)."""

from __future__ import annotations

import os
from collections.abc import Generator

import pytest
from hypothesis import settings

import handsfree  # noqa: F401  (before numpy is imported)
from tests.depth import LONG
from tests.recordings import WAIVED

settings.register_profile("ours", deadline=None)
settings.load_profile("ours")

MAY_SKIP = (
    WAIVED,
    "HANDSFREE_XES_SCHEMA names no copy",  # its licence is not stated
    "file systems cannot be mounted here",  # in a container without that right
    "this machine has a microphone",
    "this machine has a sound card",
)
"""Reasons for which a test may be skipped under CI: what the machine is, not what it lacks."""


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: tests over a sound card wait for it in real time."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the long ones for those who have the time."""
    later = [] if LONG else [item for item in items if item.get_closest_marker("long")]
    if later:
        config.hook.pytest_deselected(items=later)
        items[:] = [item for item in items if not item.get_closest_marker("long")]


def _no_skip(report: pytest.TestReport | pytest.CollectReport) -> None:
    """Under CI a test that cannot run has failed: SPIN, sclite, recordings, packages are needed."""
    if os.environ.get("CI") != "true" or not report.skipped or hasattr(report, "wasxfail"):
        return
    told = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
    if not any(reason in told for reason in MAY_SKIP):
        report.outcome = "failed"
        report.longrepr = f"{told} (and is needed under CI)"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Of a test."""
    report = yield
    _no_skip(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """Of a file of tests that is skipped as a whole."""
    report = yield
    _no_skip(report)
    return report
