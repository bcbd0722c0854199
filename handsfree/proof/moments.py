"""Every kind of moment in which something may be said: mode by step, as states of the engine.

May import the checklist model and the engine.  What may be said follows from mode, step, what
waits for its confirmation, remedy under way, broken rule and traits of the rig (see the session's
`expecting`), not from how the session came there: a state made directly stands for all of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from handsfree.checklist.model import Checklist, Step
from handsfree.engine.state import Answer, Done, Event, Mode, Read, Respond, State, Status


@dataclass(frozen=True)
class Moment:
    """`kind` is a step's own (step, hold, reading, question), 'remedy' before it where the step
    belongs to one, or: confirm, paused, suspended, closing, blocked, waiting, alarm."""

    kind: str
    state: State
    step: str = ""
    """The step at hand; '' where it does not matter."""
    rule: str = ""
    """The broken rule, in an alarm and its confirmation."""


def moments(checklist: Checklist, facts: frozenset[str]) -> Iterator[Moment]:
    """All of them, on a rig with these traits (other facts do not matter)."""
    blank = State(facts, tuple(Status.OPEN for _ in checklist.steps))
    first = checklist.order[0] if checklist.order else ""
    inner = {name: (failed, which == step.stop) for failed, step in checklist.steps.items()
             for which in (step.remedy, step.stop) if which
             for name in checklist.remedies[which].steps}
    for name, step in checklist.steps.items():
        remedies = (inner[name][0],) if name in inner else ()
        if not remedies and name not in checklist.order:
            continue
        stopped = frozenset(remedies) if remedies and inner[name][1] else frozenset()
        here = replace(blank, at=name, remedies=remedies, stopped=stopped)
        yield Moment(f"remedy {step.kind}" if remedies else step.kind, here, name)
        yield Moment("confirm", replace(here, mode=Mode.CONFIRM, pending=answer(step)), name)
    for mode, kind in ((Mode.PAUSED, "paused"), (Mode.SUSPENDED, "suspended"),
                       (Mode.CLOSING, "closing"), (Mode.BLOCKED, "blocked")):
        yield Moment(kind, replace(blank, at=first, mode=mode))
    running = {step.wait.after for step in checklist.steps.values() if step.wait}
    if running:
        done = tuple(Status.DONE if name in running else Status.OPEN for name in checklist.steps)
        yield Moment("waiting", replace(blank, statuses=done, at=first, mode=Mode.WAITING))
    for rule in checklist.rules:
        broken = replace(blank, at=first, mode=Mode.ALARM, broken=rule.id)
        yield Moment("alarm", broken, rule=rule.id)
        yield Moment("confirm", replace(broken, mode=Mode.CONFIRM, pending=Respond()),
                     rule=rule.id)


def answer(step: Step) -> Event:
    """What the step is answered with, and may wait for its confirmation."""
    if step.hold:
        return Respond()
    if step.question:
        return Answer(True)
    return Read("within") if step.reading else Done()
