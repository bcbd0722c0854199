"""YAML nodes that know their file and line, so that every mistake can be named.

Imports yaml, rapidfuzz (for "did you mean"), errors and this room's ``words``.  Works on nodes,
not on values, so that `no` stays the word "no".
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, NoReturn

import yaml
from rapidfuzz import process

from handsfree.errors import AuthorError
from handsfree.language.words import normalise

MOST_BYTES = 1_000_000
"""A language file larger than this is refused unread."""

MOST_LEVELS = 20
"""As is one whose lists and tables are nested deeper."""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """" (did you mean 'x'?)" for the nearest of the known words, or nothing."""
    best = process.extractOne(word, sorted(known), score_cutoff=60)
    return f" (did you mean '{best[0]}'?)" if best else ""


class Entry:
    """A YAML node together with what its place is called in a message."""

    def __init__(self, node: yaml.Node, file: str, place: str) -> None:
        self.node, self.file, self.place = node, file, place

    def fail(self, problem: str, mend: str) -> NoReturn:
        line = self.node.start_mark.line + 1
        raise AuthorError(problem, mend=mend, file=self.file, line=line)

    @property
    def empty(self) -> bool:
        return isinstance(self.node, yaml.ScalarNode) and self.node.value == ""

    def text(self) -> str:
        """A word or sentence, whatever YAML takes it for: `no` stays "no"."""
        if not isinstance(self.node, yaml.ScalarNode) or not self.node.value.strip():
            self.fail(f"{self.place} is not a text", "write one word or sentence there")
        return str(self.node.value)

    def words(self) -> str:
        """A text in normal form that is not empty."""
        words = normalise(self.text())
        if not words:
            self.fail(f"{self.place} has no word in it", "write the word as it is spoken")
        return words

    def form(self) -> str:
        """Words of a unit, with "{}" at most once, where the number goes."""
        before, gap, after = self.text().partition("{}")
        if not gap:
            return self.words()
        if not normalise(before) or not normalise(after) or "{" in after:
            self.fail(f"{self.place} has no words on both sides of one '{{}}'",
                      "write it as 'before {} after'")
        return f"{normalise(before)} {{}} {normalise(after)}"

    def yes_or_no(self) -> bool:
        value = self.node.value if isinstance(self.node, yaml.ScalarNode) else None
        if value not in ("true", "false"):
            self.fail(f"{self.place} is neither true nor false", "write true or false")
        return bool(value == "true")

    def list(self) -> list[Entry]:
        """The entries of a list; a single text counts as a list of one."""
        if isinstance(self.node, yaml.SequenceNode):
            return [Entry(n, self.file, f"entry {i} of {self.place}")
                    for i, n in enumerate(self.node.value, 1)]
        if isinstance(self.node, yaml.ScalarNode) and not self.empty:
            return [self]
        return self.fail(f"{self.place} is not a list", "write a list such as [one, two]")

    def phrases(self) -> tuple[str, ...]:
        """A list of texts in normal form, at least one, none twice."""
        found: dict[str, None] = {}
        for entry in self.list():
            words = entry.words()
            if words in found:
                entry.fail(f"'{words}' stands twice in {self.place}", "keep one of them")
            found[words] = None
        if not found:
            self.fail(f"{self.place} is empty", "give at least one word or phrase")
        return tuple(found)

    def table(self, known: Iterable[str] | None = None) -> dict[str, Entry]:
        """The entries of a mapping by key; every key must be a known one where these are given."""
        if not isinstance(self.node, yaml.MappingNode):
            self.fail(f"{self.place} is not a table of 'key: value' lines", "write it as one")
        known = set(known) if known is not None else None
        found: dict[str, Entry] = {}
        for key_node, value in self.node.value:
            key_entry = Entry(key_node, self.file, f"a key of {self.place}")
            key = key_entry.text()
            if key in found:
                key_entry.fail(f"'{key}' stands twice in {self.place}", "keep one of them")
            if known is not None and key not in known:
                key_entry.fail(
                    f"'{key}' is not known in {self.place}{did_you_mean(key, known)}",
                    f"use one of {', '.join(sorted(known))}",
                )
            found[key] = Entry(value, self.file, f"'{key}'")
        return found

    def numbered(self, what: str) -> dict[int, Entry]:
        """A table whose keys are whole numbers of at most seven digits."""
        found: dict[int, Entry] = {}
        for key, entry in self.table().items():
            if not re.fullmatch(r"[0-9]{1,7}", key):
                entry.fail(f"'{key}' in {self.place} is not {what}", "write it in digits")
            found[int(key)] = entry
        return found


LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""libyaml's where PyYAML has it: some ten times as fast, and it counts lines alike."""


def compose(data: bytes, file: str) -> yaml.Node:
    if len(data) > MOST_BYTES:
        raise AuthorError(
            f"the file has {len(data):,} bytes", mend=f"keep it under {MOST_BYTES:,}", file=file
        )
    try:
        text = data.decode("utf-8-sig")
        depth = 0
        for event in yaml.parse(text, Loader=LOADER):
            depth += isinstance(event, yaml.CollectionStartEvent)
            depth -= isinstance(event, yaml.CollectionEndEvent)
            if depth > MOST_LEVELS:
                raise AuthorError(
                    "lists and tables are nested too deep", mend="write them flat", file=file,
                    line=_line(event.start_mark),
                )
            if isinstance(event, yaml.AliasEvent):
                raise AuthorError(
                    f"'*{event.anchor}' is an alias", mend="write the words out in full",
                    file=file, line=_line(event.start_mark),
                )
        node = yaml.compose(text, Loader=LOADER)
    except UnicodeDecodeError as error:
        raise AuthorError(
            "this is not text in UTF-8", mend="save it in UTF-8", file=file,
            line=data[: error.start].count(b"\n") + 1,
        ) from error
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        raise AuthorError(
            f"this is not YAML ({error.problem or error.context})",
            mend="look at the line and the one above it", file=file, line=_line(mark),
        ) from error
    except yaml.YAMLError as error:
        raise AuthorError(
            "the file holds a character that YAML forbids", mend="delete it", file=file, line=1
        ) from error
    if node is None:
        raise AuthorError("the file is empty", mend="start from en.yaml", file=file, line=1)
    return node


def _line(mark: object) -> int:
    """Line of a YAML mark, counted from 1; 1 where there is no mark."""
    return int(getattr(mark, "line", 0)) + 1
