"""One checklist as a sheet of paper for one rig: lines, limits, rules and gear, not yet drawn.

Pure.  May import the checklist model, the language, the session's wording and this room.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from handsfree.checklist.conditions import (
    ALWAYS,
    NEVER,
    All,
    AnyOf,
    Condition,
    Literal,
    conjuncts,
)
from handsfree.checklist.model import Checklist, Origin, Reading, Step
from handsfree.language.labels import Labels
from handsfree.language.model import Language
from handsfree.paper.conditions import (
    Joining,
    OneRig,
    circumstances,
    for_rig,
    in_words,
)
from handsfree.session.wording import Wording, sentence


@dataclass(frozen=True)
class Fix:
    """What to do when a step fails; `steps` is empty and `as_at` set where it stands elsewhere."""

    says: str = ""
    steps: tuple[Line, ...] = ()
    gives_up: str = ""
    as_at: str = ""


@dataclass(frozen=True)
class Line:
    """One step on paper.  `respond` makes it a hold point, `limits` a reading."""

    number: str
    do: str
    place: str = ""
    only_if: str = ""
    waits: str = ""
    first: str = ""
    caution: str = ""
    detail: str = ""
    respond: str = ""
    limits: str = ""
    unit: str = ""
    question: bool = False
    fix: Fix | None = None


@dataclass(frozen=True)
class Never:
    """One never rule."""

    when: str
    now: str


@dataclass(frozen=True)
class Gear:
    """One thing that goes out; `says` is the clause that is true while it is out."""

    says: str
    count: int


@dataclass(frozen=True)
class Sheet:
    """A whole checklist for one rig."""

    title: str
    rig: str
    defers: str
    closing: str
    lines: tuple[Line, ...]
    nevers: tuple[Never, ...]
    gear: tuple[Gear, ...]
    words: Labels


def make_sheet(
    checklist: Checklist, name: str, rig: OneRig, language: Language, words: Labels
) -> Sheet:
    """What the rig's paper of this checklist says; steps that the rig cannot meet are left out.

    `name` is the rig's name as it is printed.
    """
    return _Writer(checklist, name, rig, language, words).sheet()


class _Writer:
    def __init__(
        self, checklist: Checklist, name: str, rig: OneRig, language: Language, words: Labels
    ) -> None:
        self._checklist = checklist
        self._name = name
        self._rig = rig
        self._words = words
        self._language = language
        self._wording = Wording(checklist, language)
        self._joining = Joining(*(words.words[key] for key in ("both", "either", "any of")))
        self._shown: set[Condition] = set()  # by the boxes above, or by words above
        self._fixed: dict[str, str] = {}  # remedy -> number of the line that has it
        self._numbers: dict[str, str] = {}  # step -> number of its line

    def sheet(self) -> Sheet:
        c = self._checklist
        own = [c.steps[name] for name in c.order if self._possible(c.steps[name])]
        lines: list[Line] = []
        self._numbers = {step.id: str(number) for number, step in enumerate(own, 1)}
        for number, step in enumerate(own, 1):
            lines.append(self._line(step, str(number)))
            self._done(step)
        return Sheet(
            title=c.title, rig=self._name, defers=c.defers, closing=c.closing,
            lines=tuple(lines), nevers=self._nevers(), gear=self._gear(own), words=self._words)

    def _possible(self, step: Step) -> bool:
        return for_rig(step.applicable, self._checklist, self._rig) != NEVER

    def _needs(self, step: Step) -> tuple[Condition, ...]:
        return conjuncts(for_rig(step.needs, self._checklist, self._rig))

    def _first(self, step: Step) -> list[Condition]:
        """What must be so first, where no line above makes it so or has said it.

        The boxes above show the rest; what a line undoes is said again.
        """
        first = [part for part in self._needs(step)
                 if part != ALWAYS and part not in self._shown and not self._so(part)]
        self._shown |= set(first)
        return first

    def _so(self, condition: Condition) -> bool:
        """Whether the lines above make it so."""
        if isinstance(condition, Literal):
            return condition in self._shown
        assert isinstance(condition, (All, AnyOf))
        return (all if isinstance(condition, All) else any)(map(self._so, condition.parts))

    def _done(self, step: Step) -> None:
        """What the line's box shows once it is ticked, and what no longer counts."""
        changed = step.gives | step.ends | step.voids
        self._shown = {one for one in self._shown if one.names().isdisjoint(changed)} | step.outcome

    def _line(self, step: Step, number: str) -> Line:
        only_if = circumstances(step, self._checklist, self._rig)
        first = self._first(step)
        reading = step.reading
        return Line(
            number=number, do=sentence(step.do), place=step.place,
            only_if=self._words("only if", facts=self._said(only_if)) if only_if != ALWAYS else "",
            waits=self._waits(step),
            first=self._words("first", facts="; ".join(map(self._said, first))) if first else "",
            caution=self._words("caution", caution=sentence(step.caution)) if step.caution else "",
            detail=sentence(step.detail), respond=step.respond,
            limits=self._limits(reading) if reading else "",
            unit=self._unit(reading) if reading else "",
            question=step.question,
            fix=self._fix(step, number) if step.remedy or step.stop else None)

    def _waits(self, step: Step) -> str:
        if not step.wait or step.wait.after not in self._numbers:
            return ""
        return self._words("waits", minutes=self._words.number(step.wait.minutes),
                           number=self._numbers[step.wait.after])

    def _said(self, condition: Condition) -> str:
        return in_words(condition, self._wording.clause, self._joining)

    def _unit(self, reading: Reading) -> str:
        known = self._language.units.get(reading.unit)
        return self._words.noun(known.many if known else reading.unit)

    def _limits(self, reading: Reading) -> str:
        number, unit = self._words.number, self._unit(reading).replace("{}", "").strip()
        if reading.low is not None and reading.high is not None:
            return self._words("between", low=number(reading.low), high=number(reading.high),
                               unit=unit)
        if reading.low is not None:
            return self._words("at least", low=number(reading.low), unit=unit)
        assert reading.high is not None
        return self._words("at most", high=number(reading.high), unit=unit)

    def _fix(self, step: Step, number: str) -> Fix:
        remedy = self._checklist.remedies[step.remedy or step.stop]
        if remedy.id in self._fixed:
            return Fix(as_at=self._words("fails as", number=self._fixed[remedy.id]))
        self._fixed[remedy.id] = number
        own = [self._checklist.steps[name] for name in remedy.steps
               if self._possible(self._checklist.steps[name])]
        above = set(self._shown)
        lines = tuple(
            replace(self._line(inner, f"{number}.{place}"),
                    place=inner.place if inner.place != step.place else "")
            for place, inner in enumerate(own, 1))
        self._shown = above  # it is read only when the step fails
        return Fix(
            says=self._words("fails", says=sentence(remedy.says)), steps=lines,
            gives_up=self._words("gives up", tries=str(remedy.tries),
                                 gives_up=sentence(remedy.gives_up)) if remedy.tries else "")

    def _nevers(self) -> tuple[Never, ...]:
        found = []
        for rule in self._checklist.rules:
            when = for_rig(rule.when, self._checklist, self._rig)
            if when == NEVER:
                continue
            because = rule.because[:1].upper() + rule.because[1:]
            found.append(Never(
                when=self._words("never when", facts=self._said(when),
                                 because=sentence(because)),
                now=self._words("at once", now=sentence(rule.now))))
        return tuple(found)

    def _gear(self, own: list[Step]) -> tuple[Gear, ...]:
        touched = frozenset().union(*(step.gives | step.ends for step in own))
        return tuple(
            Gear(fact.says, fact.count)
            for fact in self._checklist.facts.values()
            if fact.origin is Origin.GEAR and fact.name in touched)
