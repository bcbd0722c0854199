"""Writes journals of sessions that never happened, in the format that real ones have.

May import simulated operators, records, the journal's `link` and numpy.  For tests and benchmarks: the times of a
simulated operator become lines as a live session writes them, prompts and answers included.
"""

from __future__ import annotations

import json
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.review.records import PlanStep
from handsfree.storage.journal import link

ANSWER_AFTER = 0.4
"""Seconds from the end of an utterance to the answer, in invented sessions."""
PROMPT = 3.0
"""Seconds that an invented prompt takes, at most."""


@dataclass(frozen=True)
class Mishaps:
    """What goes wrong in invented sessions: chances for each step."""

    refusal: float = 0.0
    rejection: float = 0.0
    repeat: float = 0.0
    skip: float = 0.0
    left: float = 0.0


SOME = Mishaps(refusal=0.02, rejection=0.05, repeat=0.02, skip=0.02, left=0.005)


class _Lines:
    """The clock and the lines of one invented session."""

    def __init__(self, began: datetime, t: float) -> None:
        self.began, self.t0, self.t = began, t, t
        self.lines: list[dict[str, Any]] = []

    def write(self, what: str, **values: Any) -> None:
        at = self.began + timedelta(seconds=self.t - self.t0)
        self.lines.append({
            "n": len(self.lines) + 1, "at": at.isoformat("T", "milliseconds"),
            "t": round(self.t, 3), "what": what, **values})

    def speak(self, step: str, seconds: float) -> None:
        begin = self.t
        self.t += seconds
        self.write("spoke", key="challenge", step=step, text=f"Now {step}.", seconds=seconds,
                   **{"from": round(begin, 3), "to": round(self.t, 3)})

    def hear(self, text: str, verdict: str = "accepted") -> None:
        """An utterance of half a second that ends now; understood a little later."""
        end = self.t
        self.t += ANSWER_AFTER
        self.write("heard", text=text if verdict != "rejected" else "", confidence=0.97,
                   verdict=verdict, reason="unclear" if verdict == "rejected" else "",
                   **{"from": round(end - 0.5, 3), "to": round(end, 3)})

    def event(self, kind: str, step: str, *then: dict[str, Any], **fields: Any) -> None:
        self.write("event", event={"type": kind, **fields}, step=step, then=list(then))


def session_lines(
    plan: tuple[PlanStep, ...], seconds: NDArray[np.float64], *, checklist: str = "depart",
    rig: str = "survey trailer", place: str = "", began: datetime, session: str = "",
    t: float = 0.0, pause: float = 0.0, mishaps: Mishaps = Mishaps(),
    rng: np.random.Generator | None = None, rehearsal: bool = False, digest: str = "",
) -> list[dict[str, Any]]:
    """The lines of one session in which each step of the plan is done in turn.

    Args:
        seconds: (steps,) time at hand less pauses of each; nan leaves a step out.
        t: what the process's clock shows at the start.
        pause: seconds of one pause, in the middle of the first step that is long enough.
        rng: needed if there are mishaps.
    """
    chance = rng or np.random.default_rng(0)
    log = _Lines(began, t)
    offers = [p.step for p, took in zip(plan, seconds, strict=True) if np.isfinite(took)]
    opening = [{"what": "offered", "step": offers[0], "again": ""}] if offers else []
    log.write(
        "begun", session=session or str(uuid.UUID(bytes=chance.bytes(16), version=4)),
        checklist=checklist, title=checklist.capitalize(), digest=digest or "0" * 64, rig=rig,
        place=place, language="en", record=["hitched"],
        plan=[[p.step, p.least, p.likely, p.most, bool(np.isfinite(took))]
              for p, took in zip(plan, seconds, strict=True)],
        program="0", engine="invented", clock="c1", rehearsal=rehearsal, then=opening)
    left: list[str] = []
    times = dict(zip((p.step for p in plan), seconds, strict=True))
    rolls = chance.random((len(offers), 5))
    for place_in, step in enumerate(offers):
        refuse, reject, repeat, skip, leave = rolls[place_in]
        until = log.t + float(times[step])
        log.speak(step, round(min(PROMPT, 0.3 * float(times[step])), 3))
        following = offers[place_in + 1:place_in + 2]
        offered = [{"what": "offered", "step": s, "again": ""} for s in following]
        if refuse < mishaps.refusal:
            log.event("Done", step, {"what": "refused", "step": step, "missing": ["chocked"],
                                     "rule": "", "backstop": False})
        if reject < mishaps.rejection:
            log.hear("", "rejected")
        if repeat < mishaps.repeat:
            log.event("Ask", step, {"what": "offered", "step": step, "again": "repeated"},
                      about="repeat")
        if leave < mishaps.left:
            left.append(step)
            log.event("Skip", step, {"what": "skipped", "step": step}, *offered)
            continue
        if skip < mishaps.skip:  # skipped, and taken at once after all
            log.event("Skip", step, {"what": "skipped", "step": step},
                      {"what": "offered", "step": step, "again": "skipped"})
        if pause and until - log.t > 2.0:
            log.event("Pause", step, {"what": "paused"})
            log.t += pause
            log.event("Resume", step, {"what": "offered", "step": step, "again": "resumed"})
            until, pause = until + pause, 0.0
        log.t = max(log.t, until - ANSWER_AFTER)
        log.hear("done")
        log.t = max(log.t, until)
        log.event("Done", step, {"what": "reported", "step": step, "kind": "report"},
                  {"what": "changed", "on": [f"{step} done"], "off": []}, *offered)
    log.event("Answer", "", {"what": "closed", "open": left}, yes=True)
    return log.lines


def write_journal(
    folder: Path, number: int, lines: list[dict[str, Any]], *, linked: bool = False
) -> Path:
    """Write lines as the journal of that number in a rig's folder; its path.

    Args:
        linked: as a session does, each line with a sum and the link of the one before; else as
            one that somebody has edited by hand.
    """
    sessions = folder / "sessions"
    sessions.mkdir(parents=True, exist_ok=True)
    path = sessions / f"{number:06d}-{lines[0]['checklist']}.jsonl"
    path.write_text(
        _linked(path.stem, lines) if linked else "".join(json.dumps(line) + "\n" for line in lines),
        encoding="utf-8")
    return path


def _linked(name: str, lines: list[dict[str, Any]]) -> str:
    written, before = "", ""
    for line in lines:
        own = {} if before else {"journal": name}
        body = json.dumps({**line, **own, "before": before})[:-1]
        whole = f'{body}, "sum": "{link(body.encode())}"}}'
        before = link(whole.encode())
        written += whole + "\n"
    return written
