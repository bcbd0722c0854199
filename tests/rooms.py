"""Who may import whom: a contract for import-linter, and the table of DEVELOPERS.md made of it.

The contracts stand in `pyproject.toml`; `lint-imports` (in `.ci/gate`) keeps them.  `python -m
tests.rooms` writes the table anew.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from grimp import ImportGraph
from importlinter import Contract, ContractCheck, fields, output

ROOT = Path(__file__).resolve().parent.parent
TABLE = re.compile(r"(?<=<!-- rooms -->\n).*?(?=<!-- /rooms -->)", re.DOTALL)


def within(module: str, parts: set[str]) -> bool:
    """Whether a module is one of these or in one of them; the package itself holds nothing."""
    return module in parts or any(
        module.startswith(f"{part}.") for part in parts if part != "handsfree")


class Room(Contract):
    """The modules of a room import each other, what the contract lists, and what is not ours.

    rooms: packages or modules that are the room.  may_import: packages and modules of ours;
    "handsfree" is the package's own `__init__`, and "*" everything.
    """

    type_name = "room"

    rooms = fields.SetField(subfield=fields.StringField())
    may_import = fields.SetField(subfield=fields.StringField(), required=False)
    duty = fields.StringField()

    def check(self, graph: ImportGraph, verbose: bool) -> ContractCheck:
        """Every import of ours that leaves the room, held to the list."""
        rooms: set[str] = set(self.rooms)  # type: ignore[arg-type]
        allowed: set[str] = rooms | set(self.may_import or ())  # type: ignore[arg-type]
        broken = sorted(
            (module, target)
            for module in graph.modules if within(module, rooms)
            for target in graph.find_modules_directly_imported_by(module)
            if target.partition(".")[0] in ("handsfree", "benchmarks")
            and "*" not in allowed and not within(target, allowed))
        missing = sorted(name for name in rooms if name not in graph.modules)
        return ContractCheck(kept=not broken and not missing,
                             metadata={"broken": broken, "missing": missing})

    def render_broken_contract(self, check: ContractCheck) -> None:
        """A line for each import that may not be, and for each room that is not there."""
        for module, target in check.metadata["broken"]:
            output.print_error(f"{module} imports {target}")
        for name in check.metadata["missing"]:
            output.print_error(f"there is no {name}")


def contracts() -> list[dict[str, Any]]:
    """The contracts of the rooms, as `pyproject.toml` has them."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    found: list[dict[str, Any]] = tomllib.loads(text)["tool"]["importlinter"]["contracts"]
    return [contract for contract in found if contract["type"] == "room"]


def table() -> str:
    """The table of the rooms in Markdown."""
    rows = ["| room | its duty | may import |\n|---|---|---|\n"]
    for contract in contracts():
        names = [_short(name) for name in contract["rooms"]]
        allowed = [_short(name) for name in contract.get("may_import", ())]
        what = ", ".join(f"`{name}`" for name in allowed if name != "*") or "nothing of ours"
        rows.append(f"| {', '.join(f'`{name}`' for name in names)} | {contract['duty']} |"
                    f" {'everything' if '*' in allowed else what} |\n")
    return "".join(rows)


def _short(name: str) -> str:
    inner = name.removeprefix("handsfree.")
    folder = inner.replace(".", "/")
    inside = (ROOT / "handsfree" / folder).is_dir() or (ROOT / folder).is_dir() and inner != "handsfree"
    return f"{inner}/" if inside else inner


def main() -> None:
    """Write the table into DEVELOPERS.md."""
    path = ROOT / "DEVELOPERS.md"
    text = path.read_text(encoding="utf-8")
    path.write_text(TABLE.sub(lambda found: table(), text), encoding="utf-8")


if __name__ == "__main__":
    main()
