"""A journal written by hand for tests: lines with a clock that the test moves."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

START = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
PLAN = [["chock", 0.5, 1, 2, True], ["hose", 1, 2, 4, True], ["mat", 0.5, 1, 3, True]]


class Book:
    """Each call writes one line at running time `t`; the wall clock follows unless it is moved."""

    def __init__(self, *, clock: float = 1000.0, session: str = "s-1", rig: str = "survey trailer",
                 place: str = "", checklist: str = "depart", wall: datetime = START,
                 plan: list[list[Any]] = PLAN, rehearsal: bool = False) -> None:
        self.lines: list[dict[str, Any]] = []
        self.clock, self.wall = clock, wall
        self.write(0, "begun", session=session, checklist=checklist, title=checklist.title(),
                   digest="d", rig=rig, place=place, language="en", record=["hitched"], plan=plan,
                   program="0.1", engine="test", clock="c-1", rehearsal=rehearsal)

    def write(self, t: float, what: str, **values: Any) -> Book:
        at = self.wall + timedelta(seconds=t)
        self.lines.append({"n": len(self.lines) + 1, "at": at.isoformat(), "t": self.clock + t,
                           "what": what, **values})
        return self

    def offer(self, t: float, step: str, again: str = "") -> Book:
        return self.write(t, "offered", step=step, again=again)

    def done(self, t: float, step: str, kind: str = "report") -> Book:
        return self.write(t, "reported", step=step, kind=kind)

    def spoke(self, begin: float, end: float) -> Book:
        return self.write(end, "spoke", key="challenge", step="", text="…", seconds=end - begin,
                          **{"from": self.clock + begin, "to": self.clock + end})

    def heard(self, begin: float, end: float, *, at: float = 0.0, verdict: str = "accepted",
              reason: str = "") -> Book:
        return self.write(at or end, "heard", text="done", confidence=0.9, verdict=verdict,
                          reason=reason,
                          **{"from": self.clock + begin, "to": self.clock + end})

    def close(self, t: float, *left: str) -> Book:
        return self.write(t, "closed", open=list(left))

    def text(self) -> str:
        return "".join(json.dumps(line) + "\n" for line in self.lines)

    def save(self, data: Path, number: int = 1, rig: str = "survey-trailer") -> Path:
        folder = data / "rigs" / rig / "sessions"
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{number:06d}-{self.lines[0]['checklist']}.jsonl"
        path.write_text(self.text(), encoding="utf-8")
        return path
