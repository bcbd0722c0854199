"""What is passed on: complete, the same however it is built, and found wherever it lies."""

import re
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

import handsfree
from handsfree.storage import paths

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def tracked() -> list[str]:
    """The repository's files, as Git or, in a source distribution, the folder has them."""
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode == 0 and done.stdout:
        return done.stdout.splitlines()
    listed = next(ROOT.glob("*.egg-info/SOURCES.txt")).read_text(encoding="utf-8").splitlines()
    return [name for name in listed if ".egg-info/" not in name]


def build(source: Path, kind: str, into: Path) -> Path:
    """A distribution built by setuptools, without a network: `kind` is sdist or wheel."""
    into.mkdir()
    code = ("import sys\nfrom setuptools import build_meta\n"
            f"build_meta.build_{kind}(sys.argv[1])\n")
    done = subprocess.run([sys.executable, "-c", code, str(into)], cwd=source, capture_output=True,
                          text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return next(path for path in into.iterdir() if path.suffix in (".gz", ".whl"))


def copy(files: list[str], to: Path) -> Path:
    for name in files:
        target = to / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes((ROOT / name).read_bytes())
    return to


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the repository's files, so that building leaves nothing behind."""
    return copy(tracked(), tmp_path_factory.mktemp("checkout"))


@pytest.fixture(scope="module")
def unpacked(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The source distribution of it, unpacked."""
    folder = tmp_path_factory.mktemp("sdist")
    with tarfile.open(build(checkout, "sdist", folder / "dist")) as archive:
        archive.extractall(folder, filter="data")
    return next(path for path in folder.iterdir() if path.name != "dist")


def test_the_source_distribution_has_every_file_of_the_repository(unpacked: Path) -> None:
    missing = [name for name in tracked() if not (unpacked / name).is_file()]
    assert missing == []


def test_the_same_wheel_comes_from_the_repository_and_from_the_source_distribution(
    checkout: Path, unpacked: Path, tmp_path: Path
) -> None:
    contents = []
    for source, name in ((checkout, "one"), (unpacked, "two")):
        with zipfile.ZipFile(build(source, "wheel", tmp_path / name)) as wheel:
            contents.append({item: wheel.read(item) for item in wheel.namelist()})
    first, second = contents
    assert sorted(first) == sorted(second)
    assert [name for name in first if first[name] != second[name]] == []
    for name in ("handsfree/py.typed", "handsfree/_checklists/arrive.yaml",
                 "handsfree/_models/en/cmudict.dict.gz", "handsfree/languages/ko.yaml",
                 "handsfree/paper/fonts/NotoSansKR-Bold.ttf"):
        assert name in first
    own = re.sub(r"[-.]+", "_", PROJECT["name"])
    licences = [name for name in first if f"{own}-" in name and "/licenses/" in name]
    assert {Path(name).name for name in licences} >= {"LICENSE", "THIRD-PARTY.md", "GPL-3.0.txt"}
    assert not [name for name in first if name.startswith(("tests/", "recipes/"))]


def test_what_is_installed_is_not_fooled_by_a_project_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody's own project may have its pyproject.toml and checklists where packages lie."""
    package = tmp_path / "handsfree"
    for folder in (package / "_checklists", package / "_models", tmp_path / "checklists"):
        folder.mkdir(parents=True)
    (tmp_path / "pyproject.toml").write_text("[project]\nname = 'theirs'\n", encoding="utf-8")
    monkeypatch.setattr(paths, "_PACKAGE", package)
    assert paths.checklists_folder() == package / "_checklists"
    assert paths.models_folder() == package / "_models"


def test_a_checkout_finds_what_lies_beside_it() -> None:
    if (ROOT / "handsfree") == Path(handsfree.__file__).parent:
        assert paths.checklists_folder() == ROOT / "checklists"
        assert paths.models_folder() == ROOT / "models"


def test_the_changelog_tells_of_this_version() -> None:
    assert PROJECT["version"] == handsfree.__version__
    heads = re.findall(r"^## (.+)$", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"),
                       re.MULTILINE)
    releases = [head for head in heads if head != "Unreleased"]
    assert releases[0].split()[0] == handsfree.__version__
    assert heads.index(releases[0]) <= 1
