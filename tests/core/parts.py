"""A small stay with one of everything, and a session of it that remembers what it told."""

from __future__ import annotations

from functools import cache
from typing import Any

from handsfree.checklist.model import Checklist, Fact, Remedy, Step
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import Effect, Event, State, Status
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from tests.engine.telling import told

SMALL = """\
title: Small stay
closing: Rest well.
facts:
  hitched: {says: the trailer is coupled, otherwise: the trailer is free, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are not chocked}
  tried: {says: the chocks were tried, evidence: {minutes: 30, void by: [chocked]}}
  breaker on: the breaker is on
  outlet good: the outlet is good
gear:
  hose: the hose is out
questions:
  water here: {ask: "Is there water?", says: there is water}
never:
  - id: roll
    when: not hitched and not chocked
    because: Nothing would hold the trailer
    now: Keep clear and chock the wheels
    respond: wheels are chocked
    gives: chocked
remedies:
  bad outlet:
    says: That outlet is bad.
    steps:
      - {id: breaker off, do: Breaker off., ends: breaker on}
      - {id: other outlet, do: Move to the other outlet., needs: not breaker on}
    tries: 2
    gives up: {says: Stop. Do not connect.}
steps:
  - ask: water here
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked, must: yes,
     names: [chocks]}
  - {id: try them, do: Roll back against the chocks., needs: chocked, gives: tried}
  - {id: pull away, do: Pull the truck away., needs: [chocked, tried], ends: hitched}
  - {id: breaker, do: Breaker on., gives: breaker on}
  - {id: volts, do: Read the volts., needs: breaker on, gives: outlet good,
     reading: {of: volts, between: [108, 127]}, if it fails: bad outlet}
  - {id: hose, do: Connect the hose., only if: water here, puts out: hose}
  - {id: drip, do: Look for drips., needs: hose out, waits: {after: hose, minutes: 10}}
  - {id: mat, do: Lay the mat out.}
"""


@cache
def english() -> Language:
    return load_language("en")


class Run:
    """A session of the engine alone."""

    def __init__(self, checklist: Checklist, facts: frozenset[str] | None = None) -> None:
        self.checklist = checklist
        self.state, self.effects = begin(
            checklist, checklist.start_facts if facts is None else facts)

    def __call__(self, *events: Event) -> Run:
        for event in events:
            self.state, self.effects = advance(self.checklist, self.state, event)
        return self

    def of(self, kind: type[Effect]) -> list[Effect]:
        return [effect for effect in self.effects if isinstance(effect, kind)]

    def says(self) -> list[str]:
        return told(self.effects)

    def status(self, step: str) -> Status:
        return self.state.statuses[self.checklist.index[step]]

    @property
    def facts(self) -> frozenset[str]:
        return self.state.facts


def at(checklist: Checklist, step: str, facts: frozenset[str] = frozenset()) -> State:
    """Nothing done yet, this step at hand."""
    return State(checklist.start_facts | facts, tuple(Status.OPEN for _ in checklist.steps), at=step)


def stay_of(facts: tuple[Fact, ...], order: tuple[Step, ...], *, inside: tuple[Step, ...] = (),
            remedies: tuple[Remedy, ...] = (), **more: Any) -> Checklist:
    """A checklist of these steps in their order; `inside` are those of the remedies."""
    return Checklist(
        "written", "Written", {fact.name: fact for fact in facts},
        {step.id: step for step in (*order, *inside)}, tuple(step.id for step in order),
        remedies={remedy.id: remedy for remedy in remedies}, digest=more.pop("digest", "written"),
        **more)
