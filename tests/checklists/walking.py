"""Walks a shipped checklist through the real engine, as an operator who does everything right."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.engine.advance import advance, begin
from handsfree.engine.choosing import awaited
from handsfree.engine.state import (
    Alarm,
    Answer,
    Confirm,
    Done,
    Due,
    Effect,
    Event,
    Mode,
    Read,
    Refused,
    Respond,
    State,
)

LIBRARY = Path(__file__).parents[2] / "checklists"
CHECKLISTS = sorted(path.stem for path in LIBRARY.glob("*.yaml"))
RIGS = sorted(path.stem for path in (LIBRARY / "rigs").glob("*.yaml"))

FULL = {"stay hitched": False, "stay loaded": False, "adapter needed": False}
"""Answers to the site questions; what is not named is answered with yes."""
NEAR = {**FULL, "far side": False, "sewer far": False}
SMALL_POST = {**NEAR, "adapter needed": True}
POWER_AND_WATER = {**NEAR, "site sewer": False}
NOTHING = {**POWER_AND_WATER, "site power": False, "site water": False}
ONE_NIGHT = {**NOTHING, "stay hitched": True, "stay loaded": True}
SITES = {"full, far side": FULL, "full": NEAR, "small post": SMALL_POST, "power and water": POWER_AND_WATER,
         "nothing": NOTHING, "hitched, one night": ONE_NIGHT}


@cache
def rig(name: str) -> Rig:
    return load_rig(LIBRARY / "rigs" / f"{name}.yaml")


@cache
def checklist(name: str, rig_name: str = "") -> Checklist:
    return load_checklist(LIBRARY / f"{name}.yaml", rig=rig(rig_name) if rig_name else None)


def new_record(rig_name: str) -> frozenset[str]:
    """A rig on the road, that nobody has recorded anything about."""
    return checklist("arrive", rig_name).start_facts | rig(rig_name).has


def right_answer(c: Checklist, state: State, answers: Mapping[str, bool]) -> Event:
    """What an operator with nothing to complain about says next."""
    if state.mode is Mode.CONFIRM:
        return Confirm()
    if state.mode is Mode.WAITING:
        return Due(awaited(c, state)[0])
    step = c.steps[state.at]
    if step.question:
        return Answer(answers.get(step.id, True))
    if step.hold:
        return Respond()
    return Read("within") if step.reading else Done()


@dataclass
class Walk:
    """Where a walk has come to: `met` are the steps offered, in order, once for each offer."""

    checklist: Checklist
    state: State
    effects: list[Effect]
    met: list[str]

    @classmethod
    def start(cls, c: Checklist, record: frozenset[str]) -> Walk:
        state, effects = begin(c, record)
        return cls(c, state, list(effects), [state.at] if state.at else [])

    def send(self, event: Event) -> tuple[Effect, ...]:
        before = self.state
        self.state, effects = advance(self.checklist, self.state, event)
        self.effects.extend(effects)
        if self.state.at and (self.state.at != before.at or before.mode is Mode.CONFIRM):
            self.met.append(self.state.at)
        return effects

    def on(
        self, answers: Mapping[str, bool], until: Callable[[State], bool] = lambda _: False,
        at_most: int = 600,
    ) -> Walk:
        """Answer everything right, until the walk ends or `until` says so."""
        for _ in range(at_most):
            if self.state.mode not in (Mode.STEP, Mode.CONFIRM, Mode.WAITING) or (
                    self.state.mode is Mode.STEP and until(self.state)):
                return self
            self.send(right_answer(self.checklist, self.state, answers))
        raise AssertionError(f"no end in sight, at {self.state.at} of {self.checklist.id}")

    def to(self, step: str, answers: Mapping[str, bool]) -> Walk:
        """Answer everything right until `step` is offered."""
        self.on(answers, until=lambda state: state.at == step)
        assert self.state.at == step, f"{step} was not offered; ended at {self.state.mode}"
        return self

    def of(self, kind: type[Effect]) -> list[Effect]:
        return [effect for effect in self.effects if isinstance(effect, kind)]

    @property
    def untroubled(self) -> bool:
        """Nothing was refused, and no never rule was broken."""
        return not self.of(Refused) and not self.of(Alarm)


def finish(name: str, rig_name: str, record: frozenset[str], answers: Mapping[str, bool]) -> Walk:
    """Walk a whole checklist; it must close by itself, with nothing open or refused."""
    walk = Walk.start(checklist(name, rig_name), record).on(answers)
    assert walk.state.mode is Mode.CLOSED, (name, rig_name, walk.state.mode, walk.effects[-1])
    assert walk.untroubled
    return walk
