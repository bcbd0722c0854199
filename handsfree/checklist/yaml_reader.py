"""YAML nodes with their places, read by shape: every complaint names file, line and mend.

May import yaml, errors, schema.  Only plain data is built (no tags, no code), aliases are
refused, and size is bounded, so that a hostile file costs nothing.  A file that many checklists
include is parsed once for each content that it has, by libyaml where PyYAML has it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml
from rapidfuzz import process

from handsfree.checklist import conditions
from handsfree.checklist.schema import Key
from handsfree.errors import AuthorError

_LARGEST = 1_000_000
_DEEPEST = 60

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""libyaml's is some ten times as fast; both count lines alike."""


def did_you_mean(word: str, known: list[str]) -> str:
    """' (did you mean …?)' or nothing."""
    best = process.extractOne(word, known, score_cutoff=70)
    return f" (did you mean '{best[0]}'?)" if best else ""


@dataclass(frozen=True)
class Entry:
    """One YAML node of a file."""

    node: yaml.Node
    file: str

    @property
    def line(self) -> int:
        return int(self.node.start_mark.line) + 1

    def wrong(self, problem: str, mend: str) -> AuthorError:
        """The error to raise for this place."""
        return AuthorError(problem, mend=mend, file=self.file, line=self.line)

    @property
    def scalar(self) -> bool:
        """One word or text, neither a list nor a mapping."""
        return isinstance(self.node, yaml.ScalarNode)

    def one_or_more(self) -> list[Entry]:
        """The items of a list, or the single text itself."""
        return [self] if self.scalar else list(self.items())

    def items(self) -> Iterator[Entry]:
        if not isinstance(self.node, yaml.SequenceNode):
            raise self.wrong("a list is expected here", "write one '- …' a line")
        for node in self.node.value:
            yield Entry(node, self.file)

    def pairs(self) -> Iterator[tuple[str, Entry, Entry]]:
        """(name, entry of the key, entry of the value) of a mapping; no key twice."""
        if not isinstance(self.node, yaml.MappingNode):
            raise self.wrong("names with values are expected here", "write 'name: value' lines")
        seen: dict[str, int] = {}
        for key, value in self.node.value:
            place = Entry(key, self.file)
            name = place.text()
            if name in seen:
                raise place.wrong(
                    f"'{name}' stands here again (first in line {seen[name]})", "keep one of them")
            seen[name] = place.line
            yield name, place, Entry(value, self.file)

    def fields(self, keys: dict[str, Key]) -> dict[str, Entry]:
        """The mapping's values by key; unknown and missing keys are errors."""
        found: dict[str, Entry] = {}
        for name, place, value in self.pairs():
            if name not in keys:
                hint = did_you_mean(name, list(keys))
                raise place.wrong(f"'{name}' is not a key that belongs here{hint}",
                                  f"use one of: {', '.join(keys)}")
            found[name] = value
        for name, key in keys.items():
            if key.required and name not in found:
                raise self.wrong(f"'{name}' is missing", f"add '{name}: …' ({_plain(key.help)})")
        return found

    def text(self) -> str:
        if not isinstance(self.node, yaml.ScalarNode) or self.node.tag.endswith(":null"):
            raise self.wrong("text is expected here", "write words on this line")
        value = " ".join(str(self.node.value).split())
        if not value:
            raise self.wrong("text is expected here", "write words on this line")
        return value

    def texts(self) -> tuple[str, ...]:
        """One text, or a list of texts."""
        return tuple(item.text() for item in self.one_or_more())

    def flag(self) -> bool:
        if isinstance(self.node, yaml.ScalarNode):
            word = str(self.node.value).lower()
            if word in ("true", "yes"):
                return True
            if word in ("false", "no"):
                return False
        raise self.wrong("yes or no is expected here", "write 'yes' or 'no'")

    def number(self) -> float:
        try:
            value = float(self.text())
        except ValueError:
            raise self.wrong(f"'{self.text()}' is not a number", "write digits, like 12.5") from None
        if not abs(value) < 1e9:
            raise self.wrong("this number is out of all proportion", "write a finite number")
        return value

    def condition(self) -> conditions.Condition:
        try:
            return conditions.parse(self.text())
        except ValueError as problem:
            raise self.wrong(str(problem), "write facts joined by 'and', 'or' and 'not'") from None

    def one_of(self, choices: tuple[str, ...]) -> str:
        value = self.text()
        if value not in choices:
            raise self.wrong(f"'{value}' is not possible here", f"write one of: {', '.join(choices)}")
        return value


def _plain(help_text: str) -> str:
    return help_text[0].lower() + help_text[1:].rstrip(".")


def read(path: Path) -> Entry:
    """The top mapping of a YAML file.

    Raises:
        AuthorError: it cannot be read, is not YAML, or is not a mapping.
    """
    try:
        raw = path.read_bytes()
        content = raw.decode("utf-8-sig")
    except OSError as problem:
        raise AuthorError(f"cannot be read ({problem.strerror})", file=str(path),
                          mend="check the name and the permissions") from None
    except UnicodeDecodeError:
        raise AuthorError("is not a text file", file=str(path),
                          mend="save it as UTF-8 text") from None
    if len(content) > _LARGEST:
        raise AuthorError("is larger than a megabyte", file=str(path),
                          mend="a checklist is a short text; split it")
    return _composed(content, str(path))


@lru_cache(maxsize=128)
def _composed(content: str, path: str) -> Entry:
    """The top mapping of a file's text; nothing changes the nodes, so that all may share them."""
    try:
        _forbid_cleverness(content, path)
        node = yaml.compose(content, Loader=_LOADER)
    except yaml.MarkedYAMLError as problem:
        mark = problem.problem_mark or problem.context_mark
        line = mark.line + 1 if mark else 1
        raise AuthorError(f"is not valid YAML ({problem.problem or problem.context})",
                          file=path, line=line,
                          mend="check the indentation, the colons and the quotes") from None
    except (yaml.YAMLError, RecursionError, ValueError):
        raise AuthorError("is not valid YAML", file=path,
                          mend="check for characters that do not belong in a text") from None
    if not isinstance(node, yaml.MappingNode):
        raise AuthorError("is not a checklist: it has no 'title:' and 'steps:'", file=path,
                          line=1, mend="start with 'title: …'")
    return Entry(node, path)


def _forbid_cleverness(content: str, file: str) -> None:
    """Refuse anchors, aliases, tags and bottomless nesting before anything is built."""
    depth = 0
    for event in yaml.parse(content, Loader=_LOADER):
        line = event.start_mark.line + 1 if event.start_mark else 1
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise AuthorError("anchors and aliases (&, *) are not used here", file=file, line=line,
                              mend="write it out, or put the text in quotes")
        if getattr(event, "tag", None):
            raise AuthorError("tags (!…) are not used here", file=file, line=line,
                              mend="put the text in quotes")
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > _DEEPEST:
                raise AuthorError("is nested too deeply", file=file, line=line,
                                  mend="indent less")
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
