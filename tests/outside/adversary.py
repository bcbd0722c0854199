"""Random events against the real engine, judged by `world`: `python -m tests.outside.adversary`.

    python -m tests.outside.adversary --events 500000 --seed 1

Stays of several checklists on one record, for every rig, by one operator or two; some operators do
what they are asked, some do anything at any time.  The clock jumps.  After each event the record,
the alarms, the step at hand and what was taken as done are held against the files.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter, deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import cache

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import SIDES, Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine import advance as alone
from handsfree.engine import together
from handsfree.engine.changes import Kind
from handsfree.engine.state import (
    Answer,
    Ask,
    Confirm,
    Correct,
    Deny,
    Done,
    Due,
    Effect,
    Event,
    Expired,
    Failed,
    Finish,
    GoTo,
    Mode,
    Pause,
    Problem,
    Read,
    Refused,
    Reply,
    Reported,
    Respond,
    Resume,
    Say,
    Skip,
    State,
    TakeBack,
    Unclear,
    Unsure,
)
from handsfree.storage.paths import checklists_folder
from tests.outside.world import Disagreement, World

LIBRARY = checklists_folder()
CHECKLISTS = sorted(path.stem for path in LIBRARY.glob("*.yaml"))
RIGS = sorted(path.stem for path in (LIBRARY / "rigs").glob("*.yaml"))

_BANDS = ("within", "within", "low", "high", "stop")
_PLAIN: tuple[Callable[[], Event], ...] = (
    Done, Respond, Confirm, Deny, Skip, TakeBack, Problem, Pause, Resume, Finish, Unclear,
    lambda: Ask("status"), lambda: Answer(True), lambda: Answer(False),
    lambda: Read("within"), lambda: Read("low"), lambda: Read("high"), lambda: Read("stop"))


@cache
def shipped(name: str, rig: str) -> Checklist:
    """What the engine runs."""
    one = replace(load_rig(LIBRARY / "rigs" / f"{rig}.yaml"), several={})  # of which the files speak
    return load_checklist(LIBRARY / f"{name}.yaml", library=LIBRARY, rig=one)


@cache
def world(name: str, rig: str) -> World:
    """What the files say; one for each pair, begun anew each time."""
    return World(LIBRARY / f"{name}.yaml", LIBRARY, LIBRARY / "rigs" / f"{rig}.yaml")


@dataclass
class Tally:
    """What has been seen; that nothing was looked at in vain."""

    counts: Counter[str] = field(default_factory=Counter)
    ran: Counter[tuple[str, str, int]] = field(default_factory=Counter)
    """Events by checklist, rig and number of operators."""


class Session:
    """One checklist run by one operator or two, and watched."""

    def __init__(self, checklist: Checklist, judge: World, record: Iterable[str], two: bool,
                 tally: Tally) -> None:
        self.checklist, self.world, self.tally, self.two = checklist, judge, tally, two
        judge.begin(record)
        self.both: together.Together | None = None
        if two:
            self.both, _ = together.begin(checklist, frozenset(record))
        else:
            self.one, _ = alone.begin(checklist, frozenset(record))
        self.last: deque[str] = deque(maxlen=14)
        self.judge()

    def state(self, side: str) -> State:
        return self.both.of(side) if self.both else self.one

    def send(self, side: str, event: Event) -> None:
        """One event to the engine, and the news of it to the world."""
        before = self.state(side)
        if self.both:
            self.both, told = together.advance(self.checklist, self.both, side, event)
            effects = [effect for whom, effect in told if whom == side]
        else:
            self.one, plain = alone.advance(self.checklist, self.one, event)
            effects = list(plain)
        self.last.append(f"{side[0]} {before.mode.value} {before.at or '-'}: {event}")
        self.tally.counts["events"] += 1
        try:
            if isinstance(event, Expired):
                self.world.grown_old(event.fact)
            if isinstance(event, Resume) and before.mode in (Mode.PAUSED, Mode.SUSPENDED):
                self.world.came_back()
            for effect in effects:
                self._news(effect, event)
            self.judge()
        except Disagreement as problem:
            raise Disagreement(f"{self.checklist.id}, {'two' if self.two else 'one'}: {problem}\n  "
                               + "\n  ".join(self.last)) from None

    def _news(self, effect: Effect, event: Event) -> None:
        if isinstance(effect, Refused):
            self.tally.counts["refused"] += 1
            if effect.backstop:
                raise Disagreement(f"only the backstop stopped '{effect.step}': {effect.rule}")
        elif isinstance(effect, Failed):
            self.world.failed(effect.step, effect.band == "stop")
            self.tally.counts["failed"] += 1
        elif isinstance(effect, Say) and effect.reply is Reply.CORRECTED:
            self.world.corrected(effect.facts[0].fact, effect.facts[0].wanted)
            self.tally.counts["corrected"] += 1
        elif isinstance(effect, Reported):
            self._reported(effect)

    def _reported(self, effect: Reported) -> None:
        about = effect.subject
        if effect.kind is Kind.REPORT:
            self.world.done(about)
            self.tally.counts["done"] += 1
            self.tally.counts["done that moves or exposes"] += bool(self.world.deeds[about].acts)
        elif effect.kind in (Kind.YES, Kind.NO):
            self.world.answered(about, effect.kind is Kind.YES)
        elif effect.kind is Kind.GIVE_UP:
            self.world.gave_up(about, effect.remedy)
            self.tally.counts["given up"] += 1
        elif effect.kind is Kind.TAKE_BACK:
            self.world.taken_back(about)
            self.tally.counts["taken back"] += 1
        elif effect.kind is Kind.RESOLVE:
            self.world.danger_over(about)
            self.tally.counts["alarms ended"] += 1

    def judge(self) -> None:
        """Hold both sides' states against the files."""
        broken = self.world.broken()
        for side in SIDES if self.two else SIDES[:1]:
            state = self.state(side)
            if state.facts != self.world.facts:
                raise Disagreement(
                    f"on the record only: {sorted(state.facts - self.world.facts)},"
                    f" only by the files: {sorted(self.world.facts - state.facts)}")
            if bool(state.broken) is not bool(broken) or state.broken and (
                    state.broken not in broken):
                raise Disagreement(f"broken: {broken}, alarm: {state.broken or 'none'}")
            if state.mode is Mode.STEP and state.at:
                deed = self.world.deeds[state.at]
                if deed.acts and not self.world.may(deed):
                    raise Disagreement(f"'{state.at}' stands as the thing to do, against"
                                       f" {self.world.forbidding(deed) or 'its needs'}")

    def time_passes(self, minutes: float) -> None:
        """The clock jumps; the engine is told of each look that is too old, as a session does."""
        self.world.minute += minutes
        while old := self.world.stale():
            self.send(SIDES[0], Expired(old[0]))
            self.tally.counts["grown old"] += 1
            if old[0] in self.world.facts:
                raise Disagreement(f"'{old[0]}' counts though it is too old")


def usual(checklist: Checklist, state: State, chance: random.Random) -> Event:
    """What somebody says who mostly does what is asked."""
    if state.mode is Mode.CONFIRM:
        return Confirm() if chance.random() < 0.95 else Deny()
    if state.mode is Mode.ALARM:
        return Respond()
    if state.mode in (Mode.PAUSED, Mode.SUSPENDED):
        return Resume()
    if state.mode is Mode.WAITING and state.waits:
        return Due(chance.choice(sorted(state.waits)))
    step = checklist.steps.get(state.at)
    if step is None:
        return chance.choice((Answer(True), GoTo(chance.choice(list(checklist.steps)))))
    if chance.random() < 0.06:
        return chance.choice((Skip(), Problem()))
    if step.question:
        return Answer(chance.random() < 0.6)
    if step.reading:
        return Read(chance.choice(_BANDS))
    return Respond() if step.hold else Done()


def anything(checklist: Checklist, looks: list[str], chance: random.Random) -> Event:
    """What nobody in their right mind would say."""
    kind = chance.randrange(9)
    if kind < 3:
        return GoTo(chance.choice(list(checklist.steps)))
    if kind == 3:
        return TakeBack(chance.choice(list(checklist.steps)))
    if kind == 4:
        return Correct(chance.choice(list(checklist.facts)), chance.random() < 0.5)
    if kind == 5:
        return Expired(chance.choice(looks))
    if kind == 6:
        return chance.choice((Due(chance.choice(list(checklist.steps))),
                              Unsure(chance.choice(_PLAIN)())))
    return chance.choice(_PLAIN)()


def attack(events: int, seed: int, tally: Tally | None = None,
           load: Callable[[str, str], Checklist] = shipped,
           names: Iterable[str] = CHECKLISTS) -> Tally:
    """So many random events.

    Raises:
        Disagreement: with the events that led there.
    """
    tally = tally or Tally()
    chance = random.Random(seed)
    turns = [(name, rig, two) for name in names for rig in RIGS for two in (False, True)]
    chance.shuffle(turns)
    turn = 0
    while tally.counts["events"] < events:
        first, rig, two = turns[turn % len(turns)]
        turn += 1
        record: frozenset[str] = load(first, rig).start_facts | load_has(rig)
        wild = chance.choice((0.02, 0.1, 0.35, 0.8))
        for name in (first, *(chance.choice(list(names)) for _ in range(4))):
            session = Session(load(name, rig), world(name, rig), record, two, tally)
            looks = [fact for fact, look in session.world.looks.items() if look.minutes]
            at_start = tally.counts["events"]
            for _ in range(chance.choice((20, 60, 160))):
                side = chance.choice(SIDES) if two else SIDES[0]
                if chance.random() < 0.25:
                    session.time_passes(chance.choice((0.5, 1, 2, 5, 15, 90, 840)))
                state = session.state(side)
                session.send(side, anything(session.checklist, looks, chance)
                             if chance.random() < wild
                             else usual(session.checklist, state, chance))
                if session.state(side).mode is Mode.CLOSED and chance.random() < 0.7:
                    tally.counts["closed"] += 1
                    break
            record = session.state(SIDES[0]).facts
            tally.ran[name, rig, 1 + two] += tally.counts["events"] - at_start
    return tally


@cache
def load_has(rig: str) -> frozenset[str]:
    """The rig's traits."""
    return load_rig(LIBRARY / "rigs" / f"{rig}.yaml").has


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.outside.adversary",
                                     description=__doc__.splitlines()[0])
    parser.add_argument("--events", type=int, default=500_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    tally = attack(asked.events, asked.seed)
    for what, number in sorted(tally.counts.items()):
        print(f"{number:>9,} {what}")
    least = min(tally.ran.values())
    print(f"{len(tally.ran)} of {len(CHECKLISTS) * len(RIGS) * 2} combinations of checklist, rig and"
          f" number of operators, at least {least} events each; nothing to object to")


if __name__ == "__main__":
    main()
