"""Where a checklist's file declares things, for findings that point at a line.

May import the YAML reader and errors.
"""

from __future__ import annotations

from pathlib import Path

from handsfree.checklist.model import Checklist, answered_fact, gear_fact
from handsfree.checklist.yaml_reader import Entry, read
from handsfree.errors import AuthorError

_DECLARING = ("facts", "traits", "gear", "questions")


def declared(checklist: Checklist) -> dict[str, int]:
    """Fact -> line, of every fact that the checklist's own file declares (no includes)."""
    lines: dict[str, int] = {}
    for section, entry in _sections(checklist.file).items():
        if section not in _DECLARING:
            continue
        for name, place, _ in entry.pairs():
            lines[gear_fact(name) if section == "gear" else name] = place.line
            if section == "questions":
                lines[answered_fact(name)] = place.line
    return lines


def rule_lines(checklist: Checklist) -> dict[str, int]:
    """Never rule -> line, of those that stand in the checklist's own file."""
    lines: dict[str, int] = {}
    for section, entry in _sections(checklist.file).items():
        if section == "never":
            for item in entry.items():
                for key, _, value in item.pairs():
                    if key == "id":
                        lines[value.text()] = item.line
    return lines


def _sections(file: str) -> dict[str, Entry]:
    if not file or not Path(file).is_file():
        return {}
    try:
        return {name: value for name, _, value in read(Path(file)).pairs()}
    except AuthorError:  # edited since it was loaded
        return {}
