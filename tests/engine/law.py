"""The law as a page: `python -m tests.engine.law` writes docs/law.md from `handsfree.engine.law`."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from handsfree.engine.law import LAW, LEADS, NEXT, OTHERWISE, Cell, Does, Moment
from handsfree.engine.state import Event, Mode

PAGE = Path(__file__).parents[2] / "docs" / "law.md"

_HEAD = """\
# What is possible when

Made of the table in `handsfree/engine/law.py` by `python -m tests.engine.law`. `advance` obeys the
table, and what may be said follows from it (`session/expecting.py`). A box is a mode; an arrow says
which events lead from it to another, "next" being whatever is first of what stands at its arrows.
Where an interlock or a rule refuses it, an event leaves everything as it is.

"""


def page() -> str:
    """The whole of it."""
    return "".join((_HEAD, "```mermaid\n", *_drawing(), "```\n\n", *_table()))


def mode(moment: Moment) -> Mode:
    """The mode of a moment: an ordinary step, a question, a reading and a hold point are STEP."""
    return Mode[moment.name] if moment.name in Mode.__members__ else Mode.STEP


def does(moment: Moment) -> Iterator[tuple[type[Event], Does]]:
    """What is possible at a moment."""
    for event, cell in LAW[moment].items():
        if isinstance(cell, Does):
            yield event, cell


def _drawing() -> Iterator[str]:
    yield "stateDiagram-v2\n    state next <<choice>>\n    [*] --> next\n"
    labels: dict[tuple[str, str], list[str]] = {}
    for moment in Moment:
        for event, cell in does(moment):
            goes_on = set(LEADS[cell]) >= set(NEXT)
            ends = ["next"] if goes_on else []
            ends += [to.name for to in LEADS[cell] if not (goes_on and to in NEXT)]
            for to in ends:
                labels.setdefault((mode(moment).name, to), []).append(event.__name__)
    for (start, to), events in labels.items():
        yield f"    {start} --> {to}: {', '.join(dict.fromkeys(events))}\n"
    for after, why in NEXT.items():
        yield f"    next --> {after.name}: {why}\n"
    yield "    CLOSED --> [*]\n"


def _table() -> Iterator[str]:
    yield "| moment | event | what it does |\n|---|---|---|\n"
    for moment in Moment:
        for event, cell in LAW[moment].items():
            yield f"| {moment.value} | {event.__name__} | {_said(cell)} |\n"
        yield f"| {moment.value} | any other | {_said(OTHERWISE[moment])} |\n"


def _said(cell: Cell) -> str:
    return cell.value if isinstance(cell, Does) else f"no: “{cell.value}”"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
