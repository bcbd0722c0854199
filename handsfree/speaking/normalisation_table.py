"""Loads how a language is read aloud from its ``*.speech.yaml``, naming file, line and mend.

May import yaml, ``handsfree.errors`` and `handsfree.speaking.text_normalisation`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from importlib import resources
from pathlib import Path
from typing import Any

import yaml

from handsfree.errors import AuthorError, InputError
from handsfree.speaking.text_normalisation import (
    Clock,
    Part,
    SpeechTable,
    TextNormaliser,
    UnitWords,
)

KEY = "reading_aloud"


def load_normaliser(language: str = "en", file: Path | None = None) -> TextNormaliser:
    """The reader for a language.

    Args:
        language: code of a language that comes with the program, such as ``en``.
        file: read this file instead.

    Raises:
        InputError: there is no such file.
        AuthorError: the file is not such a table.
    """
    path = file or Path(str(resources.files("handsfree") / "languages" / f"{language}.speech.yaml"))
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeError) as error:
        raise InputError(
            f"how “{language}” is read aloud should stand in {path}, which cannot be read;"
            " write that file or choose another language."
        ) from error
    return TextNormaliser(parse_table(text, str(path)))


def parse_table(text: str, file: str) -> SpeechTable:
    """The table in a file's text.

    Raises:
        AuthorError: what is wrong, where, and how to mend it.
    """
    try:
        root = yaml.compose(text, Loader=yaml.SafeLoader)
        data = yaml.safe_load(text)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 0
        raise AuthorError(
            f"not YAML ({error.problem})", mend="mend the line", file=file, line=line
        ) from error
    table = data.get(KEY) if isinstance(data, dict) else None
    if not isinstance(table, dict):
        raise AuthorError(f"no “{KEY}:” in it", mend=f"put the table under “{KEY}:”", file=file)
    lines = _lines(root)
    known = {item.name: item for item in fields(SpeechTable)}
    for name in table:
        if name not in known:
            raise AuthorError(
                f"“{name}” is not known in “{KEY}”",
                mend=f"use {', '.join(known)}",
                file=file,
                line=lines.get(name, 0),
            )
    values: dict[str, Any] = {}
    for name, value in table.items():
        try:
            read: Callable[[Any], Any] = _READERS.get(name, _text)
            values[name] = read(value)
        except (TypeError, ValueError, AttributeError) as error:
            raise AuthorError(
                f"“{name}” is not written as it should be ({error})",
                mend="write it as the English table does",
                file=file,
                line=lines.get(name, 0),
            ) from error
    for name, item in known.items():
        if name not in values and item.default is MISSING and item.default_factory is MISSING:
            raise AuthorError(f"“{name}:” is missing in “{KEY}”", mend="add it", file=file)
    return SpeechTable(**values)


def _lines(root: yaml.Node | None) -> dict[str, int]:
    """Line of each key of the table, from 1."""
    assert isinstance(root, yaml.MappingNode)
    inner = next(value for key, value in root.value if key.value == KEY)
    return {key.value: key.start_mark.line + 1 for key, _ in inner.value}


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value:
        raise ValueError("a text is expected")
    return value


def _texts(value: Any) -> tuple[str, ...]:
    return tuple(_text(item) for item in value)


def _mapping(read: Callable[[Any], Any]) -> Callable[[Any], Mapping[Any, Any]]:
    def read_all(value: Mapping[Any, Any]) -> Mapping[Any, Any]:
        return {key: read(item) for key, item in value.items()}

    return read_all


def _unit(value: Mapping[str, Any]) -> UnitWords:
    words = dict(value)
    words.setdefault("many", words.get("one"))
    unlike = frozenset(_texts(words.pop("not_before", ())))
    return UnitWords(**{key: _text(item) for key, item in words.items()}, not_before=unlike)


_READERS: Mapping[str, Callable[[Any], Any]] = {
    "ordinals": _texts,
    "attributive": lambda value: frozenset(_texts(value)),
    "clock": lambda value: Clock(**{key: _text(item) for key, item in value.items()}),
    "parts": _mapping(lambda value: Part(**{key: _text(item) for key, item in value.items()})),
    "units": _mapping(_unit),
    "abbreviations": _mapping(_text),
    "signs": _mapping(_text),
}
