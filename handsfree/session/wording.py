"""Effects to sentences: templates of the language, clauses of the checklist, nothing else.

Pure.  May import the checklist model, engine state, language model.  What a template may use is
in braces: {name} {do} {detail} {respond} {facts} {because} {now} {others} {count} {mends} …
"""

from __future__ import annotations

import math
import re
import string
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from handsfree.checklist.called import called
from handsfree.checklist.conditions import Literal, literals
from handsfree.checklist.model import Checklist, Step
from handsfree.engine.changes import Kind
from handsfree.engine.reports import STOP
from handsfree.engine.state import (
    Alarm,
    AskToClose,
    CannotClose,
    Closed,
    Effect,
    Event,
    Failed,
    Offer,
    Paused,
    Read,
    ReadBack,
    Refused,
    RemedyBegins,
    Reply,
    Reported,
    Respond,
    Say,
    Skipped,
    Suspended,
    WaitBegins,
    Waiting,
)
from handsfree.language.model import Language
from handsfree.language.readings import Reading, say_reading


@dataclass(frozen=True)
class Prompt:
    """One thing to speak, with the tone that goes before it; either may be empty, not both."""

    key: str
    text: str
    about: str = ""
    tone: str = ""
    hold: bool = False
    """It offers a hold point."""


_TONES = {"unclear": "attention", "say again": "attention", "readback": "hold point",
          "readback reading": "hold point", "done": "heard", "answered yes": "heard",
          "answered no": "heard", "done hold": "heard", "skipped": "heard", "due": "attention",
          "wait": "listening"}
_REPORTS = {Kind.REPORT: "done", Kind.YES: "answered yes", Kind.NO: "answered no",
            Kind.GIVE_UP: "gives up", Kind.TAKE_BACK: "taken back", Kind.RESOLVE: "danger over"}
_READBACKS: dict[type[Event], str] = {Respond: "readback", Read: "readback reading"}
"""Templates by the type of what is told."""


def of_its_rig(language: Language, checklist: Checklist) -> Language:
    """The language with sentences that call the checklist's rig what it is."""
    return replace(language, templates={
        key: called(text, checklist.calls) for key, text in language.templates.items()})


class Wording:
    """Speaks for one checklist in one language."""

    def __init__(self, checklist: Checklist, language: Language) -> None:
        self.checklist = checklist
        self.language = language
        self.form = "usual"
        """In how many words: see `manner.FORMS`."""
        self.familiar = False
        """The list was walked to its end on this rig lately: its title opens it."""
        self._cautioned: set[str] = set()

    def copy(self) -> Wording:
        """Another one that says the same next; what the copy says is not said by this one."""
        other = Wording(self.checklist, self.language)
        other.form, other._cautioned = self.form, set(self._cautioned)
        other.familiar = self.familiar
        return other

    def prompts(
        self, effects: Iterable[Effect], worked_out: bool = False, warned: bool = False, /,
        **known: str
    ) -> list[Prompt]:
        """What to speak for these effects, in order; `known` are further values (a reading).

        `worked_out`: what a reading came to is told by a sum, in its own sentence, and `warned`: that
        is a warning.  Then nothing else is said of it.
        """
        effects = self._with_one_outcome(tuple(effects), worked_out)
        waited_for = {name for effect in effects if isinstance(effect, Waiting)
                      for name in effect.steps}
        spoken = [
            self._worded(effect, known) for effect in effects
            if not (isinstance(effect, WaitBegins) and effect.step in waited_for)]  # told at once
        if warned:  # not: within limits, and yet
            spoken = [replace(prompt, text=self.say("failed stop", reading=known.get("reading", "")).text)
                      if prompt.key == "done reading" else prompt for prompt in spoken]
        return [prompt for prompt in spoken if prompt.text or prompt.tone]

    def _with_one_outcome(self, effects: tuple[Effect, ...], worked_out: bool) -> tuple[Effect, ...]:
        """A reading that failed has one outcome: what a sum says of it; else, at a step with a
        sum, its limit; else what its remedy says.  A remedy without steps is all there is to do."""
        failed = next((one for one in effects if isinstance(one, Failed)
                       and self.checklist.steps[one.step].reading and one.band != "problem"), None)
        if failed is None:
            return effects
        fix = next((one for one in effects if isinstance(one, RemedyBegins)), None)
        judged = worked_out or bool(self.checklist.steps[failed.step].sum)
        if worked_out or fix and not judged:  # the reading alone
            effects = tuple(replace(one, band=STOP) if one is failed else one for one in effects)
        if judged and fix and self.checklist.remedies[fix.remedy].steps:
            effects = tuple(one for one in effects if one is not fix)
        return effects

    def _worded(self, effect: Effect, known: dict[str, str]) -> Prompt:
        """One effect; the type picks the template."""
        match effect:
            case Offer():
                return self.offer(effect)
            case Refused():
                return self._refused(effect)
            case Closed():
                return self._closed(effect)
            case Alarm():
                rule = next(r for r in self.checklist.rules if r.id == effect.rule)
                return self.say("alarm", rule.id, tone="alarm", because=rule.because,
                                now=rule.now, respond=rule.respond)
            case Say(Reply.OPENING):
                return self.opening()
            case Say(Reply.WHY):
                return self._why(effect)
            case Say(Reply.NO_REMEDY, step) if self.checklist.steps[step].hold:
                return self._stays(self.checklist.steps[step])
            case Say(reply, step, facts, others):
                return self._of_a_step(self._reply(reply, step, others), step, known,
                                       facts=self._facts(reply, facts), others=self._names(others),
                                       count=str(len(others)))
            case Reported(subject, _, facts, remedy):
                return self._of_a_step(self._report(effect), subject, known, remedy,
                                       facts=self.clauses(facts))
            case Failed(step, band):
                return self._of_a_step(f"failed {band}", step, known)
            case RemedyBegins(step, remedy):
                return self._of_a_step("remedy", step, known, remedy)
            case Skipped(step):
                return self._of_a_step("skipped", step, known)
            case ReadBack(event, step):
                return self._of_a_step(_READBACKS.get(type(event), "did you say"), step, known)
            case Paused(step):
                return self._of_a_step("paused", step, known)
            case Suspended(step, left):
                return self._of_a_step("suspended", step, known, count=str(len(left)))
            case WaitBegins(step):
                return self._of_a_step("wait begins", step, known)
            case Waiting(steps):
                waits = self.in_time((name, _minutes(self.checklist.steps[name])) for name in steps)
                return self._of_a_step("wait", steps[0], {"waits": waits} | known)
            case CannotClose(missing, steps):
                return self._of_a_step(
                    "cannot close" if steps else "cannot close facts", "", known,
                    facts=self._in_the_way(Literal(m.fact, not m.wanted) for m in missing),
                    others=self._left_open(steps))
            case AskToClose(left):
                return self._of_a_step("close with open steps", "", known,
                                       others=self._left_open(left))
        return Prompt("", "")  # for the record alone

    def say(self, key: str, about: str = "", *, tone: str = "", **values: str) -> Prompt:
        """One template with its values; a language without it gives no words."""
        return Prompt(key, _polished(self._filled(key, **values)), about, tone)

    def _filled(self, key: str, **values: str) -> str:
        template = called(self.language.templates.get(key, ""), self.checklist.calls)
        fields = {name for _, name, _, _ in string.Formatter().parse(template) if name}
        return template.format(**{name: _value(name, values.get(name, "")) for name in fields})

    def offer(self, effect: Offer) -> Prompt:
        """A step's challenge, with its caution the first time and whenever it is said again.

        The brief form leaves out how to answer, unless it is said again; the full form adds the
        detail.
        """
        step = self.checklist.steps[effect.step]
        caution = ""
        if step.caution and (step.id not in self._cautioned or effect.again):
            caution = step.caution
            self._cautioned.add(step.id)
        lead = self.say(f"again.{effect.again}", name=self.name(step)).text if effect.again else ""
        hint = "reading" if step.reading else "question" if step.question else (
            "hold" if step.hold else "step")
        unit = self._unit(step)
        brief = self.form == "brief" and not effect.again
        ask = "" if brief or unit and unit in step.do.lower() else self.say(
            f"hint.{hint}", respond=step.respond, unit=unit).text
        more = step.detail if self.form == "full" else ""
        text = " ".join(sentence(part) for part in (lead, caution, step.do, more, ask) if part)
        tone = "hold point" if step.hold else "attention" if effect.again == "due" else ""
        return Prompt("offer", _polished(text), step.id, tone, step.hold)

    def opening(self) -> Prompt:
        """The first words of a session."""
        c = self.checklist
        says = "" if self.form == "brief" or self.familiar else c.says
        defers = "" if self.familiar else c.defers
        return self.say("opening", title=c.title, says=says, defers=defers)

    def name(self, step: Step) -> str:
        """How the step is called."""
        return step.spoken_names[0]

    def clause(self, literal: Literal) -> str:
        """'the wheels are chocked' if `literal` is so, else its opposite."""
        fact = self.checklist.facts[literal.fact]
        if literal.wanted:
            return fact.says or fact.name
        return fact.otherwise or self._filled("not so", fact=fact.says or fact.name)

    def clauses(self, literals: Iterable[Literal], most: int = 4) -> str:
        """Several clauses as one list."""
        return self.listed((self.clause(literal) for literal in literals), most)

    def listed(self, parts: Iterable[str], most: int = 4) -> str:
        """'a, b and c' as the language says it; more than `most` are counted."""
        items = list(dict.fromkeys(part for part in parts if part))
        if len(items) > most:
            rest = self._filled("and more", count=str(len(items) - most + 1))
            items = [*items[:most - 1], rest]
        if len(items) < 2:
            return "".join(items)
        joiner = self.language.templates.get("and", ",")
        return f"{', '.join(items[:-1])} {joiner} {items[-1]}"

    def lasting(self, minutes: float) -> str:
        """'ten minutes', 'two and a half hours': never shorter than it is."""
        if minutes > 119:
            return say_reading(Reading(Fraction(math.ceil(minutes / 30), 2), "hours"), self.language)
        return say_reading(Reading(Fraction(max(1, math.ceil(minutes))), "minutes"), self.language)

    def in_time(self, left: Iterable[tuple[str, float]]) -> str:
        """Steps with the minutes that they still wait: 'leak check in ten minutes and …'."""
        return self.listed(
            self._filled("in time", name=self.name(self.checklist.steps[step]),
                         wait=self.lasting(minutes)) for step, minutes in left)

    def _unit(self, step: Step) -> str:
        if not step.reading:
            return ""
        words = self.language.units.get(step.reading.unit)
        return words.many if words else step.reading.unit

    def _names(self, steps: Iterable[str]) -> str:
        return self.listed(self.name(self.checklist.steps[step]) for step in steps)

    @cached_property
    def _hazards(self) -> frozenset[str]:
        """Facts that a never rule hangs on."""
        return frozenset().union(*(rule.when.names() for rule in self.checklist.rules))

    def _left_open(self, steps: Iterable[str]) -> str:
        """Steps that are open at the end: those that somebody can be hurt by first, and all of
        them; of the others some, and how many more."""
        found = [self.checklist.steps[step] for step in steps]
        ranked = sorted(found, key=lambda step: not self._hurts(step))
        return self.listed((self.name(step) for step in ranked), _room(map(self._hurts, found)))

    def _hurts(self, step: Step) -> bool:
        return step.hold or bool((step.gives | step.ends) & self._hazards)

    def _in_the_way(self, literals: Iterable[Literal]) -> str:
        """The same of facts."""
        ranked = sorted(literals, key=lambda literal: literal.fact not in self._hazards)
        return self.clauses(ranked, _room(literal.fact in self._hazards for literal in ranked))

    def _refused(self, effect: Refused) -> Prompt:
        step = self.checklist.steps[effect.step]
        rule = next((r for r in self.checklist.all_rules if r.id == effect.rule), None)
        now = [Literal(m.fact, not m.wanted) for m in effect.missing]
        first = self.checklist.steps[effect.mends[0]] if effect.mends else None
        return self.say(
            "refused", step.id, tone="refused", name=self.name(step),
            because=rule.because if rule else "", facts=self.clauses(now, most=3),
            mends=self.say("refused mend", name=self.name(first), do=first.do).text if first else "")

    def _stays(self, step: Step) -> Prompt:
        """A hold point that cannot be answered, and for which there is no remedy: what it guards
        against, and that it is no step to go past."""
        undone = {Literal(fact, False) for fact in step.gives} | set(map(Literal, step.ends))
        rule = next((one for one in self.checklist.all_rules
                     if not one.during and undone.intersection(literals(one.when))), None)
        words = self.language.commands
        return self.say("no remedy hold", step.id, because=rule.because if rule else "",
                        pause=words["pause"][0], finish=words["finish"][0])

    def _closed(self, effect: Closed) -> Prompt:
        c = self.checklist
        if effect.open:
            return self.say("closed open", title=c.title, others=self._left_open(effect.open),
                            count=str(len(effect.open)))
        return self.say("closed", title=c.title, closing=c.closing)

    def _reply(self, reply: Reply, step: str, others: tuple[str, ...]) -> str:
        if reply is Reply.DETAIL and not self.checklist.steps[step].detail:
            return "no detail"
        if reply in (Reply.REMAINING, Reply.NEXT) and not others:
            return f"nothing {reply.value}"
        return reply.value

    def _facts(self, reply: Reply, facts: tuple[Literal, ...]) -> str:
        if reply is Reply.DOES_NOT_APPLY:  # how it is, not how it should be
            facts = tuple(Literal(m.fact, not m.wanted) for m in facts)
        return self.clauses(facts)

    def _report(self, effect: Reported) -> str:
        step = self.checklist.steps.get(effect.subject)
        if effect.kind is Kind.REPORT and step:
            judged = step.reading
            if judged and (judged.low is not None or judged.high is not None):
                return "done reading"
            return "done hold" if step.hold and step.readback else "done"
        if effect.kind is Kind.TAKE_BACK and not effect.facts:
            return "taken back plain"
        return _REPORTS[effect.kind]

    def _of_a_step(
        self, key: str, about: str, known: dict[str, str], remedy: str = "", **values: str
    ) -> Prompt:
        """One template about a step, a rule, or the checklist as a whole."""
        step = self.checklist.steps.get(about)
        rule = next((r for r in self.checklist.rules if r.id == about), None)
        fix = self.checklist.remedies.get(remedy)
        return self.say(key, about, tone=_TONES.get(key, ""), **{
            "name": self.name(step) if step else self.checklist.title,
            "do": step.do if step else "",
            "detail": step.detail if step else "",
            "respond": step.respond if step else rule.respond if rule else "",
            "unit": self._unit(step) if step else "",
            "says": fix.says if fix else "",
            "gives_up": fix.gives_up if fix else "",
            "title": self.checklist.title,
            "wait": self.lasting(_minutes(step)) if step and step.wait else "",
            **values, **known})

    def _why(self, effect: Say) -> Prompt:
        step = self.checklist.steps[effect.about]
        because = " ".join(r.because for r in self.checklist.all_rules if r.id in effect.others)
        needs = ""
        if step.needs.names():
            needs = self.say("why needs", facts=self.listed(
                self.clause(m) for m in step.needs.missing(frozenset()))).text
        said = [part for part in (step.why, because, needs) if part]
        if not said:
            return self.say("no why", step.id, name=self.name(step))
        return self.say("why", step.id, because=" ".join(said))


def _room(dangerous: Iterable[bool]) -> int:
    """How many of a list to name, so that none that is dangerous is only counted."""
    return max(4, sum(dangerous) + 1)


_SENTENCES = frozenset({"because", "now", "says", "defers", "closing", "detail", "gives_up", "do",
                        "mends"})
_AFTER_STOP = re.compile(r"(^|[.!?] )([a-z])")


def _minutes(step: Step) -> float:
    """The whole of its wait."""
    return step.wait.minutes if step.wait else 0.0


def sentence(text: str) -> str:
    """With a full stop, unless it ends in some mark already."""
    return text if not text or text[-1] in ".!?:,;" else f"{text}."


def _value(name: str, text: str) -> str:
    return sentence(text) if name in _SENTENCES else text


def _polished(text: str) -> str:
    """Single blanks; a capital after each full stop."""
    return _AFTER_STOP.sub(lambda m: m.group(1) + m.group(2).upper(), " ".join(text.split()))
