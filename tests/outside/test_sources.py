"""The ledger of sources, `docs/sources.yaml`: each value in it is the code's, each of the code's is
in it, and each source has a name or says that there is none."""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

import handsfree.work as room
from handsfree.work.power import Supply
from handsfree.work.voltage import Edition
from tests.checklists.walking import checklist

ROOT = Path(__file__).parents[2]
LEDGER: Mapping[str, dict[str, Any]] = yaml.safe_load(
    (ROOT / "docs" / "sources.yaml").read_text("utf-8"))
MODULES = sorted(path for path in Path(room.__file__).parent.glob("*.py"))
KNOWN = ("seen", "quoted", "memory", "practice", "own", "physics")
NO_VALUES = {"finding", "quantities", "region", "steps", "__init__", "tester"}
"""Modules of plumbing: unit factors are held against scipy's in test_water; a tester has no number."""

ANONYMOUS = re.compile(
    r"dealers?'|trade (article|page|forum|answer|magazine)|\b(web|safety|retrieved) pages?\b"
    r"|\b(one|two|three) (pages|articles|dealers|car manuals)|maker's (page|safety|handbook)"
    r"|printed legend|a solution manual|a fire department|fire departments'|county sheet"
    r"|\bby a city\b|appliance standard|two transcriptions|seen second-hand|hearsay"
    r"|road-safety guidance|a solar calculator", re.IGNORECASE)
"""Sources that nobody could look up."""


ELSEWHERE = {
    "by heart.MOST": ("handsfree.session.by_heart", "MOST"),
    "by heart.STAYS": ("handsfree.storage.mastery", "STAYS"),
    "by heart.AWAY_DAYS": ("handsfree.storage.mastery", "AWAY_DAYS")}
"""How work is talked over, which no calculation goes by."""


def plain(value: object) -> object:
    """A value of the code as YAML has it."""
    if isinstance(value, Supply):
        return [value.breaker_a, value.legs]
    if isinstance(value, Edition):
        return [value.lowest_a_v, value.lowest_b_v]
    if isinstance(value, Mapping):
        return {key: plain(one) for key, one in value.items()}
    if isinstance(value, tuple | list):
        return [plain(one) for one in value]
    return round(value, 6) if isinstance(value, float) else value


def constants() -> Iterator[str]:
    """Every public name in capitals that a calculation's module gives a value."""
    for path in MODULES:
        if path.stem in NO_VALUES:
            continue
        for node in ast.parse(path.read_text("utf-8")).body:
            targets = node.targets if isinstance(node, ast.Assign) else (
                [node.target] if isinstance(node, ast.AnnAssign) else [])
            for target in targets:
                names = target.elts if isinstance(target, ast.Tuple) else [target]
                for name in names:
                    if isinstance(name, ast.Name) and re.fullmatch(r"[A-Z][A-Z0-9_]+", name.id):
                        yield f"{path.stem}.{name.id}"
    yield from ELSEWHERE


def limits() -> Mapping[str, float]:
    """The defaults of the checklists' limits, but for those that are not known."""
    return {f"limit {name}": limit.default
            for name, limit in checklist("before-leaving-home").limits.items()
            if limit.default and name not in ("latitude", "longitude")}


NUMBER = (r"(?:half|quarter|one|two|three|four|five|six|seven|eight|nine|ten|twelve|fifteen|twenty|thirty|forty|fifty"
          r"|sixty|hundred|an|\d+(?:\.\d+)?)")
UNIT = (r"(?:feet|foot|inch(?:es)?|meters?|minutes?|hours?|miles?|weeks?|years?|degrees|volts?|amps?|pounds?|gallons?"
        r"|percent|psi|seconds?|cups?)")
WITH_A_UNIT = re.compile(rf"\b{NUMBER}\b[^.,]{{0,25}}?\b{UNIT}\b", re.IGNORECASE)


def steps() -> Iterator[tuple[str, Any]]:
    for path in sorted((ROOT / "checklists").glob("*.yaml")):
        yield from checklist(path.stem).steps.items()


@cache
def lists_values() -> Mapping[str, object]:
    """What the lists go by: minutes, readings that are judged by a number of their own, figures that are said.

    Readings between a least and a most are guards against a slip of the tongue and judge nothing."""
    found: dict[str, object] = {}
    looks: dict[str, float] = {}
    for path in sorted((ROOT / "checklists").glob("*.yaml")):
        looks |= {name: one.minutes for name, one in checklist(path.stem).evidence.items() if one.minutes}
    found["evidence alarms proved"] = looks.pop("alarms proved")
    found["evidence minutes"] = looks
    for name, step in steps():
        if step.wait:
            found[f"wait {name}"] = step.wait.minutes
        if step.reading and not step.reading.limits and (step.reading.low is None or step.reading.high is None):
            found[f"read {name}"] = step.reading.low if step.reading.high is None else step.reading.high
        said = [one[0] for part in (step.do, step.detail, step.caution, step.why) for one in WITH_A_UNIT.finditer(part)
                if not one[0].lower().startswith("one home")]
        if said:
            found[f"said {name}"] = said
    return found


def code_value(name: str) -> object:
    if name in lists_values():
        return plain(lists_values()[name])
    if name.startswith("limit "):
        return plain(limits()[name])
    if name in ELSEWHERE:
        return plain(getattr(importlib.import_module(ELSEWHERE[name][0]), ELSEWHERE[name][1]))
    module, _, constant = name.partition(".")
    return plain(getattr(importlib.import_module(f"handsfree.work.{module}"), constant))


def test_every_value_of_the_trade_is_in_the_ledger_and_no_other() -> None:
    assert set(LEDGER) == set(constants()) | set(limits()) | set(lists_values())


@pytest.mark.parametrize("name", LEDGER)
def test_the_ledger_has_the_codes_value(name: str) -> None:
    assert plain(LEDGER[name]["value"]) == code_value(name)


@pytest.mark.parametrize("name", LEDGER)
def test_an_entry_says_who_says_what_and_how_well_that_is_known(name: str) -> None:
    entry = LEDGER[name]
    assert set(entry) <= {"value", "source", "known", "says", "region", "model"}
    assert entry["known"] in KNOWN and entry["source"] and entry["says"]
    if entry["known"] in ("seen", "quoted"):
        assert re.search(r"\d", entry["source"]), "a document has a number, a clause or a year"
    if "none found" in entry["source"]:
        assert entry["known"] == "practice"
    law = re.search(r"NFPA|UPC|IPC|CFR|UL \d|ANSI|COMAR|NHTSA", entry["source"])
    if law and entry["known"] not in ("own",):
        assert entry.get("region"), "a code binds somewhere"


def texts() -> Iterator[tuple[str, int, str]]:
    """Lines of what is shipped and tested, joined to the next so that no break hides a phrase."""
    for folder, kind in (("handsfree", "*.py"), ("handsfree", "*.yaml"), ("checklists", "*.yaml"),
                         ("tests", "*.py"), ("docs", "*.yaml")):
        for path in sorted((ROOT / folder).rglob(kind)):
            if path.name == Path(__file__).name:
                continue
            lines = path.read_text("utf-8").splitlines()
            for number, line in enumerate(lines, 1):
                after = lines[number] if number < len(lines) else ""
                yield str(path.relative_to(ROOT)), number, f"{line.rstrip()} {after.strip()}"


def test_no_source_is_anonymous() -> None:
    found = {f"{path}:{number}: {match[0]}" for path, number, text in texts()
             if (match := ANONYMOUS.search(text))}
    assert found == set()


def test_that_check_would_find_one() -> None:
    assert ANONYMOUS.search("Two dealers' safety pages: crossed")
    assert not ANONYMOUS.search("makers' manuals (from memory)")
