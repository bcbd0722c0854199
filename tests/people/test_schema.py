"""The JSON Schema accepts what the loader accepts, and sees what an editor can see."""

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from handsfree.cli import main
from handsfree.storage.paths import checklists_folder


@pytest.fixture(scope="module")
def validator() -> Draft202012Validator:
    done = CliRunner().invoke(main, ["schema"])
    assert done.exit_code == 0
    schema = json.loads(done.output)
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def shipped() -> list[Path]:
    return sorted([*(path for folder in ("", "shared")
                     for path in (checklists_folder() / folder).glob("*.yaml")),
                   checklists_folder() / "lessons" / "first-try.yaml"])


def problems(validator: Draft202012Validator, data: Any) -> list[str]:
    return [error.message for error in validator.iter_errors(data)]


@pytest.mark.parametrize("path", shipped(), ids=lambda path: path.stem)
def test_every_shipped_file_is_valid(validator: Draft202012Validator, path: Path) -> None:
    assert not problems(validator, yaml.safe_load(path.read_text(encoding="utf-8")))


GOOD: dict[str, Any] = {"title": "T", "steps": [{"id": "a", "do": "A."}]}


@pytest.mark.parametrize("change", [
    {"title": 5}, {"stepz": []}, {"steps": [{"id": "a"}]}, {"steps": [{"id": "a", "doo": "A."}]},
    {"steps": [{"id": "a", "do": "A.", "reading": {"between": [1, 2]}}]},
    {"steps": [{"id": "a", "do": "A.", "reading": {"of": "volts", "between": [1]}}]},
    {"steps": [{"id": "a", "do": "A.", "role": "upstairs"}]},
    {"steps": [{"part": "a", "do": "A."}]},
    {"facts": {"x": {"start": True}}}, {"facts": {"x": {"says": "x", "travel": "maybe"}}},
    {"never": [{"id": "n", "when": "a"}]}])
def test_mistakes_are_seen(validator: Draft202012Validator, change: dict[str, Any]) -> None:
    assert not problems(validator, GOOD)
    assert problems(validator, {**GOOD, **change})


def test_a_checklist_needs_a_title_and_a_shared_file_does_not(
    validator: Draft202012Validator,
) -> None:
    assert problems(validator, {"steps": GOOD["steps"]})
    assert not problems(validator, {"parts": {"p": GOOD["steps"]}})


def test_every_key_is_explained(validator: Draft202012Validator) -> None:
    def described(node: Any) -> None:
        if isinstance(node, dict):
            for key in node.get("properties", {}).values():
                assert key.get("description"), node
            for value in node.values():
                described(value)
        elif isinstance(node, list):
            for value in node:
                described(value)

    described(validator.schema)
