"""Whatever is passed on is under a licence that lets us: held to a list, not to what sounds free."""

import re
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from packaging.licenses import InvalidLicenseExpression, canonicalize_license_expression

from tests.faults.test_supply import installed

ROOT = Path(__file__).resolve().parents[2]
TOLD = (ROOT / "THIRD-PARTY.md").read_text(encoding="utf-8")

ALLOWED = frozenset((
    "0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "LGPL-2.1-or-later", "MIT",
    "MIT-0", "MIT-CMU", "MPL-2.0", "OFL-1.1", "PSF-2.0", "Zlib"))
"""SPDX names of licences under which something may be passed on beside an Apache-2.0 program."""

APART = {"espeakng-loader": "GPL-3.0-or-later"}
"""What one package may be under besides: its library runs in processes of its own (below)."""

FAMILIES = {
    "Apache Software License": r"Apache-2\.0", "BSD License": r"BSD-[23]-Clause",
    "GNU Library or Lesser General Public License (LGPL)": r"LGPL-.*", "MIT License": r"MIT",
    "Mozilla Public License 2.0 (MPL 2.0)": r"MPL-2\.0",
    "Python Software Foundation License": r"PSF-2\.0"}
"""What the trove classifiers say, which are less exact than SPDX, as patterns of its names."""


def allowed(expression: str, also: str = "") -> bool:
    """Whether an SPDX expression lets us pass something on; `also` is allowed besides."""
    try:
        known = canonicalize_license_expression(expression)
    except InvalidLicenseExpression:
        return False
    return any(all(name in ALLOWED or name == also for name in choice.split(" AND "))
               for choice in known.split(" OR "))


def named(own: metadata.Distribution) -> list[str]:
    """Patterns of the licences that a package names in its metadata, each of which must fit."""
    told = own.metadata
    if expression := told.get("License-Expression"):
        return [re.escape(name.strip("()")) for name in re.split(" AND | OR ", expression)]
    classifiers = [text.rpartition(":: ")[2] for text in told.get_all("Classifier") or []
                   if text.startswith("License ::")]
    if known := [FAMILIES[text] for text in classifiers if text in FAMILIES]:
        return known
    said = (told.get("License") or "").strip()
    if not said or said == "UNKNOWN":
        return []
    return [r"BSD-[23]-Clause" if said == "BSD" else re.escape(name)
            for name in said.split(" AND ")]


def rows() -> dict[str, tuple[str, str]]:
    """Of each package in the table: licence, and where it is known from."""
    table = TOLD[TOLD.index("| package | for |"):]
    return {name: (licence, says) for name, licence, says in re.findall(
        r"^\| ([\w-]+) \| [^|]+ \| ([^|]+) \| ([^|]+) \|$", table, re.MULTILINE)
        if name != "package"}


@pytest.mark.parametrize("expression", [
    "Proprietary", "UNKNOWN", "", "Commercial", "Free", "AGPL-3.0-or-later", "GPL-3.0-or-later",
    "CC-BY-NC-4.0", "LicenseRef-our-own", "MIT AND LicenseRef-our-own", "MIT OR", "MIT Proprietary",
    "see LICENSE"])
def test_what_is_not_on_the_list_does_not_pass(expression: str) -> None:
    assert not allowed(expression)


@pytest.mark.parametrize("expression", [
    "MIT", "Apache-2.0 OR BSD-2-Clause", "MPL-2.0 AND MIT", "GPL-2.0-only OR MIT"])
def test_what_is_on_the_list_passes(expression: str) -> None:
    assert allowed(expression)


def test_the_program_is_under_the_apache_licence() -> None:
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert "Apache License" in text and "END OF TERMS AND CONDITIONS" in text
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["license"] == "Apache-2.0"
    assert project["authors"] == [{"name": "the handsfree maintainers"}]


def test_every_package_that_is_installed_with_it_is_listed_and_may_be_passed_on() -> None:
    listed = rows()
    found = installed("all")
    assert set(found) <= set(listed), set(found) - set(listed)
    if sys.platform == "linux" and sys.version_info[:2] == (3, 11):  # what the lock is made with
        assert set(listed) == set(found), set(listed) - set(found)
    for name, (licence, _) in listed.items():
        assert allowed(licence, APART.get(name, "")), f"{name}: {licence}"


def test_the_list_says_what_the_packages_say_of_themselves() -> None:
    listed = rows()
    for name, own in installed("all").items():
        licence, says = listed[name]
        parts = re.split(" AND | OR ", licence)
        for pattern in named(own):
            assert any(re.fullmatch(pattern, part) for part in parts), f"{name}: {pattern}"
        assert named(own) or "metadata" not in says, f"{name} names no licence in its metadata"


def test_every_bundled_file_is_listed_with_a_licence_that_lets_us_pass_it_on() -> None:
    table = (ROOT / "models" / "README.md").read_text(encoding="utf-8")
    listed = dict(re.findall(r"^\| `([^`]+)` \|.*\| ([^|(]+?) ?(?:\([^|]*\))? \|$", table,
                             re.MULTILINE))
    assert len(listed) > 5
    for name, licence in listed.items():
        assert allowed(licence), f"{name}: {licence}"
        assert list(ROOT.glob(name)), f"{name} is listed and not there"
    data = [path.relative_to(ROOT) for folder in ("handsfree", "models", "checklists")
            for path in (ROOT / folder).rglob("*") if path.is_file()
            and path.suffix not in (".py", ".yaml", ".md", ".pyc")
            and path.name != "py.typed"]
    assert len(data) > 3
    for path in data:
        assert any(path.match(name) for name in listed), (
            f"{path} is not listed in models/README.md with its licence")


def test_a_bundled_font_says_itself_that_it_is_free() -> None:
    fonts = sorted((ROOT / "handsfree").rglob("*.ttf"))
    assert fonts
    for path in fonts:
        names = TTFont(path)["name"]
        assert "SIL Open Font License, Version 1.1" in (names.getDebugName(13) or ""), path
        assert TTFont(path)["OS/2"].fsType == 0, f"{path} may not be embedded freely"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_espeak_is_loaded_in_processes_of_its_own_alone() -> None:
    code = (
        "from pathlib import Path\n"
        "from handsfree.hearing.pronunciation import pronounce\n"
        "from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice\n"
        "from handsfree.speaking.voice import VoiceOptions\n"
        "assert pronounce(['kestrelhide'])['kestrelhide']\n"
        "with Pyttsx3Voice(VoiceOptions()) as voice:\n"
        "    assert len(voice.render('Chocks.'))\n"
        "    theirs = Path(f'/proc/{voice.pid}/maps').read_text()\n"
        "assert 'libespeak-ng' in theirs\n"
        "assert 'espeak' not in Path('/proc/self/maps').read_text()\n")
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True,
                          check=False)
    assert done.returncode == 0, done.stderr
