"""A checklist as the list of everything that is ever spoken of it, for its author's ear.

Pure.  May import the checklist model, the engine's effects, language and the session's wording.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from handsfree.checklist.conditions import Literal
from handsfree.checklist.model import Checklist, Origin, Step
from handsfree.engine.changes import Kind
from handsfree.engine.state import (
    Alarm,
    Offer,
    ReadBack,
    RemedyBegins,
    Reply,
    Reported,
    Respond,
    Say,
    WaitBegins,
    Waiting,
)
from handsfree.language.model import Language
from handsfree.session.wording import Prompt, Wording, sentence


@dataclass(frozen=True)
class Spoken:
    """One prompt: the step, rule or fact that it is about, and its words before reading aloud."""

    about: str
    text: str


def everything_spoken(checklist: Checklist, language: Language) -> Iterator[Spoken]:
    """The opening, each step with its detail, reason, readback and remedy, the never rules' alarms,
    the clauses of facts, and the closing, in the order in which one would tell them."""
    wording = Wording(checklist, language)
    yield Spoken("opening", wording.opening().text)
    told: set[str] = set()
    for name in checklist.order:
        yield from _step(checklist.steps[name], wording, told)
    for rule in checklist.rules:
        for prompt in wording.prompts([Alarm(rule.id)]):
            yield Spoken(rule.id, prompt.text)
    for fact in checklist.facts.values():
        if fact.origin in (Origin.STATE, Origin.GEAR, Origin.SITE):
            for so in (True, False):
                yield Spoken(fact.name, sentence(wording.clause(Literal(fact.name, so))))
    if checklist.closing:
        yield Spoken("closing", sentence(checklist.closing))


def _step(step: Step, wording: Wording, told: set[str]) -> Iterator[Spoken]:
    def said(*prompts: Prompt) -> Iterator[Spoken]:
        for prompt in prompts:
            if prompt.text:
                yield Spoken(step.id, prompt.text)

    yield from said(wording.offer(Offer(step.id)))
    if step.wait:
        yield from said(*wording.prompts([
            WaitBegins(step.id), Waiting((step.id,)), Say(Reply.DUE, step.id),
            Say(Reply.EARLY, step.id)]))
    if step.detail:
        yield from said(*wording.prompts([Say(Reply.DETAIL, step.id)]))
    if step.why:
        yield Spoken(step.id, sentence(step.why))
    if step.hold:
        yield from said(*wording.prompts([
            ReadBack(Respond(), step.id), Reported(step.id, Kind.REPORT)]))
    for name in (step.remedy, step.stop):
        if not name or name in told:
            continue
        told.add(name)
        remedy = wording.checklist.remedies[name]
        yield from said(*wording.prompts([RemedyBegins(step.id, name)]))
        for inner in remedy.steps:
            yield from _step(wording.checklist.steps[inner], wording, told)
        if remedy.tries:
            yield from said(*wording.prompts([Reported(step.id, Kind.GIVE_UP, remedy=name)]))
