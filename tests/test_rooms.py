"""Who may import whom: import-linter keeps the contracts, and what they cannot say is tested here."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from tests.rooms import ROOT, TABLE, contracts, table, within

LINT = Path(sys.executable).with_name("lint-imports")


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([LINT, "--no-cache"], cwd=folder, capture_output=True, text=True,
                          check=False)


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package's code with its contracts, to be spoilt."""
    folder = tmp_path_factory.mktemp("copy")
    shutil.copytree(ROOT / "handsfree", folder / "handsfree",
                    ignore=shutil.ignore_patterns("__pycache__", "fonts"))
    shutil.copytree(ROOT / "benchmarks", folder / "benchmarks",
                    ignore=shutil.ignore_patterns("__pycache__"))
    (folder / "tests").mkdir()
    for name in ("pyproject.toml", "tests/__init__.py", "tests/rooms.py"):
        shutil.copy(ROOT / name, folder / name)
    return folder


def test_the_contracts_are_kept(copy: Path) -> None:
    done = lint(copy)
    assert done.returncode == 0, done.stdout
    assert "0 broken" in done.stdout


@pytest.mark.parametrize("file, line, told", [
    ("engine/advance.py", "from handsfree.storage import paths",
     "handsfree.engine.advance imports handsfree.storage.paths"),
    ("review/minutes.py", "import handsfree.cli.run",
     "handsfree.review.minutes imports handsfree.cli.run"),
    ("../benchmarks/tally.py", "from handsfree import screen",
     "benchmarks.tally imports handsfree.screen"),
    ("engine/state.py", "from benchmarks import tally",
     "handsfree.engine.state imports benchmarks.tally"),
    ("proof/state_space.py", "from ..storage import journal",
     "handsfree.proof.state_space imports handsfree.storage.journal"),
    ("session/wording.py", "import sounddevice", "handsfree.session.wording -> sounddevice"),
    ("language/words.py", "import soundfile", "handsfree.language.words -> soundfile"),
    ("engine/changes.py", "def now():\n    from time import monotonic",
     "handsfree.engine.changes -> time")])
def test_what_a_room_may_not_import_is_found(copy: Path, file: str, line: str, told: str) -> None:
    path = copy / "handsfree" / file
    text = path.read_text(encoding="utf-8")
    path.write_text(f"{text}\n\n{line}\n", encoding="utf-8")
    try:
        done = lint(copy)
    finally:
        path.write_text(text, encoding="utf-8")
    assert done.returncode == 1, done.stdout
    assert told in " ".join(done.stdout.split()), done.stdout


def test_every_module_has_a_room_and_none_two() -> None:
    modules = [f"handsfree.{path.stem}" for path in (ROOT / "handsfree").iterdir()
               if (path.suffix == ".py" and path.stem != "__init__")
               or (path / "__init__.py").is_file()]
    assert len(modules) > 20
    for module in modules:
        rooms = [one["name"] for one in contracts() if within(module, set(one["rooms"]))]
        assert len(rooms) == 1, f"{module}: {rooms or 'write a contract for it in pyproject.toml'}"


def test_the_table_for_contributors_is_made_of_the_contracts() -> None:
    found = TABLE.search((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))
    assert found is not None
    assert found[0] == table(), "make it anew: python -m tests.rooms"


@pytest.mark.parametrize("module", [
    "handsfree.engine.advance", "handsfree.checklist.loader", "handsfree.session.wording",
    "handsfree.session.conversation", "handsfree.storage.journal", "handsfree.language.matcher"])
def test_the_core_works_where_no_audio_library_is_installed(module: str) -> None:
    audio = ["click", "espeakng_loader", "matplotlib", "pocketsphinx", "pyttsx3", "requests", "rich",
             "sounddevice", "soundfile", "vosk"]
    code = (
        "import sys, importlib\n"
        "class Refuse:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name.split('.')[0] in {audio!r}:\n"
        "            raise ImportError('refused ' + name)\n"
        "sys.meta_path.insert(0, Refuse())\n"
        f"importlib.import_module({module!r})\n")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_help_is_instant_because_nothing_heavy_is_imported() -> None:
    code = ("import sys\nfrom click.testing import CliRunner\nfrom handsfree.cli import main\n"
            "result = CliRunner().invoke(main, ['--help'])\nassert result.exit_code == 0\n"
            "heavy = {'numpy', 'scipy', 'rich', 'vosk', 'dd'} & set(sys.modules)\n"
            "assert not heavy, heavy\n")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_gate_before_a_commit_is_the_gate_of_ci() -> None:
    hooks = yaml.safe_load((ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8"))
    entries = [hook["entry"].split() for repo in hooks["repos"] for hook in repo["hooks"]]
    assert {entry[0] for entry in entries} == {".ci/gate"}
    gate = (ROOT / ".ci" / "gate").read_text(encoding="utf-8")
    assert f'all) "$0" {" ".join(entry[1] for entry in entries)} ;;' in gate
    assert "\nPYTHON=" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    done = subprocess.run([ROOT / ".ci" / "gate", "no-such-tool"], capture_output=True, text=True,
                          check=False)
    assert done.returncode == 2 and "no tool is called" in done.stderr
