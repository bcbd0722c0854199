"""A skip says what to install, and under CI it is a failure."""

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

SKIPPING = '''
import pytest

def test_lacking():
    pytest.skip("SPIN is not installed")

def test_that_is_what_the_machine_is():
    pytest.skip("this machine has a microphone")

@pytest.mark.xfail(strict=True)
def test_known():
    assert False
'''


def run(folder: Path, text: str, **environment: str) -> str:
    (folder / "conftest.py").write_text("from tests.conftest import *\n", encoding="utf-8")
    (folder / "test_one.py").write_text(text, encoding="utf-8")
    plain = {key: value for key, value in os.environ.items()
             if key not in ("CI", "HANDSFREE_AUDIO") and not key.startswith("PYTEST")}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-o", "addopts=", "."],
        cwd=folder, capture_output=True, text=True, check=False,
        env={**plain, "PYTHONPATH": str(ROOT), **environment})
    return done.stdout


def test_what_is_missing_is_a_skip_at_home_and_a_failure_under_ci(tmp_path: Path) -> None:
    assert "2 skipped, 1 xfailed" in run(tmp_path, SKIPPING)
    told = run(tmp_path, SKIPPING, CI="true")
    assert "1 failed, 1 skipped, 1 xfailed" in told
    assert "SPIN is not installed (and is needed under CI)" in told


def test_a_file_that_is_skipped_as_a_whole_fails_too(tmp_path: Path) -> None:
    text = "import pytest\npytest.importorskip('nowhere_at_all')\n"
    assert "1 skipped" in run(tmp_path, text)
    assert "1 error" in run(tmp_path, text, CI="true")


@pytest.mark.parametrize("audio, told", [("/nowhere", "1 failed"), ("none", "1 skipped")])
def test_recordings_are_needed_unless_waived(tmp_path: Path, audio: str, told: str) -> None:
    text = "from tests.recordings import recordings\ndef test_one():\n    recordings('digits')\n"
    assert told in run(tmp_path, text, CI="true", HANDSFREE_AUDIO=audio)


def test_the_extras_that_reasons_name_exist() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = {(extra, path.name) for path in (ROOT / "tests").rglob("*.py")
             for extra in re.findall(r"extra '([\w-]+)'", path.read_text(encoding="utf-8"))}
    assert len(named) > 3
    assert {extra for extra, _ in named} <= set(project["optional-dependencies"]), named
