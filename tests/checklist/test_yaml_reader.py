"""Files are parsed once, and libyaml finds the same lines as PyYAML's own parser."""

from pathlib import Path

import pytest
import yaml

from handsfree.checklist import loader as checklist_loader
from handsfree.checklist import yaml_reader
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.yaml_reader import Entry, read
from handsfree.errors import AuthorError
from handsfree.storage.paths import checklists_folder

LOADERS = pytest.mark.parametrize("loader", (
    yaml.SafeLoader, pytest.param(getattr(yaml, "CSafeLoader", None), marks=pytest.mark.skipif(
        not yaml.__with_libyaml__, reason="PyYAML is built without libyaml"))))

BROKEN = (
    ("title: x\nsteps:\n  - id: a\n   do: b\n", 4),
    ("title: x\nsteps: [a, b\n", 3),
    ("title: 'x\nsteps: y\n", 3),
    ("title: x\n\tsteps: y\n", 2),
    ("title: x\nsays: a: b\n", 2),
    ("title: x\nsays: &a b\n", 2),
    ("title: x\nsays: *a\n", 2),
    ("title: x\nsays: !!python/none b\n", 2),
    ("- a\n- b\n", 1),
    ("", 1),
    ("title: x\nsays: " + "[" * 70 + "]" * 70, 2),
)


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    yaml_reader._composed.cache_clear()
    checklist_loader._kept.clear()


@LOADERS
@pytest.mark.parametrize(("text", "line"), BROKEN)
def test_a_mistake_is_named_by_its_line(
    loader: type, text: str, line: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(yaml_reader, "_LOADER", loader)
    path = tmp_path / "list.yaml"
    path.write_text(text)
    with pytest.raises(AuthorError) as found:
        read(path)
    assert found.value.file == str(path)
    assert abs(found.value.line - line) <= (1 if "\n" in text.strip() and line == 3 else 0)


def places(entry: Entry) -> list[tuple[int, str]]:
    if entry.scalar:
        return [(entry.line, str(entry.node.value))]
    if isinstance(entry.node, yaml.SequenceNode):
        return [(entry.line, ""), *(place for item in entry.items() for place in places(item))]
    return [(entry.line, ""), *(
        place for _, key, value in entry.pairs() for one in (key, value) for place in places(one))]


@pytest.mark.skipif(not yaml.__with_libyaml__, reason="PyYAML is built without libyaml")
@pytest.mark.parametrize("path", sorted(checklists_folder().rglob("*.yaml")), ids=lambda p: p.stem)
def test_both_parsers_see_the_same_text_in_the_same_lines(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = []
    for loader in (yaml.SafeLoader, yaml.CSafeLoader):
        yaml_reader._composed.cache_clear()
        monkeypatch.setattr(yaml_reader, "_LOADER", loader)
        found.append(places(read(path)))
    assert found[0] == found[1] and len(found[0]) > 1


def test_each_file_is_parsed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    parsed = []
    compose = yaml.compose
    monkeypatch.setattr(yaml, "compose", lambda text, **more: (parsed.append(hash(text)),
                                                              compose(text, **more))[1])
    for path in sorted(checklists_folder().glob("*.yaml")):
        load_checklist(path, library=checklists_folder())
    files = [*checklists_folder().glob("*.yaml"), *(checklists_folder() / "shared").glob("*.yaml")]
    assert 20 < len(parsed) == len(set(parsed)) <= len(files)


def test_a_file_that_was_changed_is_read_anew(tmp_path: Path) -> None:
    path = tmp_path / "list.yaml"
    for title in ("One", "Two"):
        path.write_text(f"title: {title}\nsteps:\n  - {{id: a, do: Do it.}}\n")
        assert load_checklist(path).title == title
