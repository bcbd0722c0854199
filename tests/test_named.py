"""What comments and docstrings call by name, in backticks, is there: a name that was changed is not left behind."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
SOURCES = sorted([*(ROOT / "handsfree").rglob("*.py"), *(ROOT / "benchmarks").rglob("*.py")])
ELSEWHERE = {"scipy", "stats", "sha256sum", "read_table", "resample_poly", "ko", "staying"}
"""Other packages', a tool, a language, an outcome in a file."""


def known() -> set[str]:
    """Everything that the sources define, assign, take or have as an attribute, and their files."""
    found = {"handsfree", "benchmarks", "tests", "recipes"} | ELSEWHERE
    for path in SOURCES:
        found |= {path.stem, path.parent.name}
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            match node:
                case ast.FunctionDef(name=name) | ast.ClassDef(name=name) | ast.alias(name=name):
                    found.update(name.split("."))
                case ast.Name(id=name) | ast.arg(arg=name) | ast.Attribute(attr=name) | ast.keyword(arg=str(name)):
                    found.add(name)
                case ast.Constant(value=str(text)) if len(text) < 40:
                    found.add(text)
    return found


def unknown(path: Path, there: set[str]) -> list[str]:
    """Names in backticks of which a part is nowhere."""
    missing = []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        for name in re.findall(r"(?<!`)`([A-Za-z_][\w.]*)`(?!`)", line):
            stem, _, ending = name.rpartition(".")
            if ending in ("py", "yaml", "md", "toml", "txt"):
                there_is = "xx" in name or any(ROOT.glob(f"**/{name}"))
            else:
                there_is = there.issuperset(name.split("."))
            if not there_is:
                missing.append(f"{path.relative_to(ROOT)}, line {number}: {name}")
    return missing


def test_each_name_in_backticks_is_that_of_something() -> None:
    there = known()
    assert [each for path in SOURCES for each in unknown(path, there)] == []


def test_a_name_that_is_gone_is_found() -> None:
    path = ROOT / "handsfree" / "language" / "natural_wordings.py"
    assert unknown(path, known() - {"wording_patterns"}) == [f"{path.relative_to(ROOT)}, line 7: wording_patterns"]
