"""A checklist of a rig that has several of a kind: slide-outs, awnings, tanks.

Pure.  May import conditions, the model and the schema.  The files speak of one.  For a rig that has more, each
step about one is written out for every one of them, with facts, motions, rules, hazards, remedies,
answers and names of its own.  A rig with one keeps the files' own.

Which step is about one of a kind follows from what it does: it changes a fact of the kind or makes
one move.  What is only looked at, `each:` says.  In such a step and in what hangs on it, the kind's
facts are those of its own one.  Everywhere else `slide extended` means that any is out, `not slide
extended` that none is; of the facts under `every` it is the other way about, so that a look counts
elsewhere only if each was looked at.

So a proof for two stands for more: what a step asks of the others, and what a never rule asks of all,
is only whether any, or each, of them is so; the others together are then like one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

from handsfree.checklist.called import called
from handsfree.checklist.conditions import NEVER, All, AnyOf, Condition, Literal, given
from handsfree.checklist.model import (
    Act,
    Checklist,
    Evidence,
    Fact,
    Hazard,
    NeverRule,
    Remedy,
    Step,
    Travel,
    Unsafe,
)
from handsfree.checklist.schema import BATTERIES, CHEMISTRIES

SIDES = ("left", "right", "rear", "front")
"""What may stand behind an item's name: where it is."""


@dataclass(frozen=True)
class Kind:
    """What a rig may have several of, as the library declares it."""

    name: str
    called: str
    """Its word in the texts, before which an item's name is said."""
    facts: frozenset[str]
    every: frozenset[str] = frozenset()
    motions: frozenset[str] = frozenset()
    words: Mapping[str, str] = field(default_factory=dict)
    """What is said otherwise where there are several: 'both valves' as 'all valves'."""


@dataclass(frozen=True)
class Item:
    """One of them: what it is called, and its side ('' where that is not said)."""

    name: str
    side: str = ""

    def of(self, fact: str) -> str:
        """The name of its own fact or motion."""
        return f"{self.name} {fact}"

    def id(self, step: str) -> str:
        """The id of its own step, or name of its own remedy."""
        return (f"{self.name} {step}" if " " in step else f"{self.name}-{step}".replace(" ", "-"))


def items(texts: Sequence[str]) -> tuple[Item, ...]:
    """'bedroom right' is the one called bedroom, on the right; a side alone is its name."""
    cut = [Item(" ".join(words[:-1]), words[-1]) if len(words) > 1 and words[-1] in SIDES
           else Item(text) for text in texts for words in [text.split()]]
    names = [item.name for item in cut]
    return tuple(item if names.count(item.name) == 1 else Item(text, item.side)
                 for item, text in zip(cut, texts, strict=True))


@dataclass(frozen=True)
class Asked:
    """What single steps say for this: the kind that they are about, and words with '{}'."""

    each: dict[str, str]
    named: dict[str, dict[str, str]]


def written_out(
    checklist: Checklist, kinds: Mapping[str, Kind], of_rig: Mapping[str, Sequence[str]],
    asked: Asked,
) -> Checklist:
    """The checklist with every step about a kind of which the rig has several written out."""
    checklist = replace(checklist, several={
        fact: (fact,) for kind in kinds.values() for fact in sorted(kind.facts)})
    for name, kind in kinds.items():
        own = items(of_rig.get(name, ()))
        if len(own) > 1:
            checklist = _Writing(checklist, kind, own, asked).whole()
    return checklist


def of_banks(checklist: Checklist, banks: Mapping[str, tuple[str, float]], asked: Asked) -> Checklist:
    """The checklist of a rig with several banks of batteries: steps with ``each: batteries`` stand for each.

    They change no facts, so nothing of a bank has to be remembered or proved.  Of the steps for each
    chemistry a bank keeps its own.
    """
    def about(name: str) -> bool:
        return asked.each.get(checklist.steps[name].base or name) == BATTERIES

    def written(names: Iterable[str]) -> Iterator[Step]:
        for is_theirs, run in groupby(names, about):
            some = [checklist.steps[name] for name in run]
            yield from some if not is_theirs else (
                made if bank == next(iter(banks)) else replace(made, sum="")  # what is always on hangs on the first
                for bank, (trait, _) in banks.items() for step in some
                if (made := _of_bank(step, bank, trait, asked)))

    steps = {step.id: step for step in written(checklist.steps)}
    amp_hours = {f"{bank} battery amp hours": amount for bank, (_, amount) in banks.items()}
    return replace(checklist, steps=steps, order=tuple(step.id for step in written(checklist.order)),
                   numbers={**checklist.numbers, **amp_hours},
                   banks={bank: trait for bank, (trait, _) in banks.items()})


def _of_bank(step: Step, bank: str, trait: str, asked: Asked) -> Step | None:
    """The step of one bank; None for one that is of another chemistry."""
    only_if = given(step.only_if, {one: one == trait for one in CHEMISTRIES.values()})
    if only_if == NEVER:
        return None
    base = step.base or step.id
    item, named = Item(bank), asked.named.get(base, {})
    return replace(
        step, id=item.id(step.id), base=base, item=bank, names=tuple(map(item.of, step.names)), only_if=only_if,
        do=_begun(named["do"].format(bank)) if "do" in named else f"{_begun(bank)} battery: {step.do}",
        reading=step.reading and replace(step.reading, called=item.of(step.reading.called)))


def anywhere(condition: Condition, several: Mapping[str, Sequence[str]]) -> Condition:
    """A condition of a file about any of them."""
    def told(literal: Literal) -> Condition:
        parts = tuple(Literal(name, literal.wanted) for name in several[literal.fact])
        return parts[0] if len(parts) == 1 else (AnyOf if literal.wanted else All)(parts)

    return _with(condition, several.keys(), told)


def superseded(names: Iterable[str], several: Mapping[str, Sequence[str]]) -> frozenset[str]:
    """Of these facts, those of ones that the rig has no more, or has by other names."""
    return frozenset(name for name in names for base, now in several.items()
                     if (name == base or name.endswith(f" {base}")) and name not in now)


class _Writing:
    """One kind at a time."""

    def __init__(
        self, checklist: Checklist, kind: Kind, own: tuple[Item, ...], asked: Asked
    ) -> None:
        self._checklist, self._kind, self._items, self._asked = checklist, kind, own, asked
        about = {name for name, step in checklist.steps.items() if self._about(step)}
        ways = {name: {step.id in about for step in checklist.steps.values()
                       if name in (step.remedy, step.stop)} for name in checklist.remedies}
        self._fixes = {name for name, way in ways.items() if way == {True}}
        more = True
        while more:  # what belongs to the remedy of such a step is for that one, too
            inner = {step for name in self._fixes for step in checklist.remedies[name].steps}
            further = {fix for step in inner for fix in (
                checklist.steps[step].remedy, checklist.steps[step].stop) if fix}
            more = not (inner <= about and further <= self._fixes)
            about |= inner
            self._fixes |= further
        self._steps = about

    def _about(self, step: Step) -> bool:
        base = step.base or step.id
        return bool(self._asked.each.get(base) == self._kind.name
                    or (step.gives | step.ends) & self._kind.facts
                    or step.acts & self._kind.motions)

    def whole(self) -> Checklist:
        made = self._checklist
        facts = {fact.name: fact for old in made.facts.values() for fact in self._facts(old)}
        acts = {act.name: act for old in made.acts.values() for act in self._acts(old)}
        steps = {step.id: step for run in self._runs(tuple(made.steps))
                 for step in self._written(run)}
        remedies = {remedy.id: remedy for old in made.remedies.values()
                    for remedy in self._remedies(old)}
        return replace(
            made, facts=facts, acts=acts, steps=steps, remedies=remedies,
            order=self._order(made.order), closes=self._anywhere(made.closes),
            rules=tuple(rule for old in made.rules for rule in self._rules(old)),
            conduct=tuple(rule for old in made.conduct for rule in self._rules(old)),
            hazards=tuple(map(self._hazard, made.hazards)),
            calls={**made.calls, **self._kind.words},
            several={**made.several, **{fact: tuple(item.of(fact) for item in self._items)
                                        for fact in self._kind.facts}})

    # --- conditions and names -------------------------------------------------------------------

    def _anywhere(self, condition: Condition) -> Condition:
        """Outside the kind's own steps: of any of them, or of every one."""
        def told(literal: Literal) -> Condition:
            parts = tuple(Literal(item.of(literal.fact), literal.wanted) for item in self._items)
            each = (literal.fact in self._kind.every) is literal.wanted
            return All(parts) if each else AnyOf(parts)

        return _with(condition, self._kind.facts, told)

    def _of(self, item: Item | None, condition: Condition) -> Condition:
        """In a step of this one."""
        if item is None:
            return self._anywhere(condition)
        return _with(condition, self._kind.facts,
                     lambda literal: Literal(item.of(literal.fact), literal.wanted))

    def _names(self, item: Item | None, names: Collection[str]) -> frozenset[str]:
        """Facts and motions: its own; of a step that is about none, those of all."""
        ours = self._kind.facts | self._kind.motions
        whose = self._items if item is None else (item,)
        return frozenset(one for name in names for one in (
            [it.of(name) for it in whose] if name in ours else [name]))

    def _said(self, item: Item, text: str, needed: bool = False) -> str:
        """With the item's name before the kind's word; in front of all where it has to be named."""
        told = called(text, {self._kind.called: f"{item.name} {self._kind.called}"})
        if needed and told == text:
            told = f"{item.name} {text}"
        return told

    # --- the parts of a checklist ---------------------------------------------------------------

    def _facts(self, fact: Fact) -> Iterator[Fact]:
        for item in self._items if fact.name in self._kind.facts else (None,):
            evidence = fact.evidence
            if evidence:
                evidence = Evidence(evidence.minutes, self._names(item, evidence.voids),
                                    self._of(item, evidence.unless), evidence.lasting)
            if item is None:
                yield replace(fact, evidence=evidence)
            else:
                yield replace(fact, name=item.of(fact.name), evidence=evidence,
                              says=self._said(item, fact.says),
                              otherwise=self._said(item, fact.otherwise))

    def _acts(self, act: Act) -> Iterator[Act]:
        if act.name not in self._kind.motions:
            yield act
            return
        noun, words = re.escape(self._kind.called), act.words
        for item in self._items:
            own = re.sub(noun.replace(r"\-", "-?"), f"{item.name} {self._kind.called}", words)
            first = self._kind.called.partition("-")[0]
            if own == words:
                own = re.sub(rf"\b{first}\b", f"{item.name} {first}", words)
            yield replace(act, name=item.of(act.name), says=self._said(item, act.says), words=own)

    def _rules(self, rule: NeverRule) -> Iterator[NeverRule]:
        each = self._each(rule.during, rule.when)
        for item in self._items if each else (None,):
            made = replace(
                rule, when=self._of(item, rule.when), during=self._names(item, rule.during),
                gives=self._names(item, rule.gives), ends=self._names(item, rule.ends))
            yield made if item is None else replace(
                made, id=item.id(rule.id), because=self._said(item, rule.because))

    def _each(self, during: frozenset[str], when: Condition) -> bool:
        """Whether a rule speaks of one that moves and of how it is with the same one."""
        return bool(during & self._kind.motions and when.names() & self._kind.facts)

    def _hazard(self, hazard: Hazard) -> Hazard:
        return replace(hazard, unsafe=tuple(
            made for way in hazard.unsafe for made in self._unsafe(way)))

    def _unsafe(self, way: Unsafe) -> Iterator[Unsafe]:
        each = self._each(way.during, way.when)
        for item in self._items if each else (None,):
            stale = frozenset(
                (fact, end) for old, ends in way.stale for whose in self._whose(item, old)
                for fact in [whose.of(old) if whose else old]
                for end in self._names(whose or item, [ends]))
            yield replace(way, when=self._of(item, way.when), stale=stale,
                          during=self._names(item, way.during),
                          rule=item.id(way.rule) if item else way.rule)

    def _whose(self, item: Item | None, fact: str) -> Iterable[Item | None]:
        if fact not in self._kind.facts:
            return (None,)
        return (item,) if item else self._items

    def _runs(self, steps: Sequence[str]) -> list[tuple[bool, list[str]]]:
        return [(about, list(run)) for about, run in groupby(steps, self._steps.__contains__)]

    def _written(self, run: tuple[bool, list[str]]) -> Iterator[Step]:
        about, names = run
        for item in self._items if about else (None,):
            for name in names:
                yield self._step(item, self._checklist.steps[name])

    def _order(self, steps: Sequence[str]) -> tuple[str, ...]:
        found: list[str] = []
        for about, names in self._runs(steps):
            if not about:
                found += names
                continue
            own = reversed(self._items) if self._comes_in(names) else self._items
            found += [item.id(name) for item in own for name in names]
        return tuple(found)

    def _comes_in(self, names: Sequence[str]) -> bool:
        """What goes out first comes in last; a tank's valve is opened and shut in one go."""
        steps = [self._checklist.steps[name] for name in names]
        gives = frozenset[str]().union(*(step.gives for step in steps))
        ends = frozenset[str]().union(*(step.ends for step in steps))
        return any(self._checklist.facts[fact].travel is Travel.MUST_NOT
                   for fact in (ends - gives) & self._kind.facts)

    def _step(self, item: Item | None, step: Step) -> Step:
        made = replace(
            step, needs=self._of(item, step.needs), after=self._of(item, step.after),
            own=self._of(item, step.own), only_if=self._of(item, step.only_if),
            gives=self._names(item, step.gives), ends=self._names(item, step.ends),
            acts=self._names(item, step.acts), voids=self._names(item, step.voids))
        if item is None:
            return made
        base = step.base or step.id
        return replace(
            made, id=item.id(step.id), base=base, names=tuple(map(item.of, step.names)),
            remedy=item.id(step.remedy) if step.remedy in self._fixes else step.remedy,
            stop=item.id(step.stop) if step.stop in self._fixes else step.stop,
            wait=replace(step.wait, after=item.id(step.wait.after)) if step.wait and (
                step.wait.after in self._steps) else step.wait,
            **(self._spoken(item, step, base) if self._about(step) else {}))

    def _spoken(self, item: Item, step: Step, base: str) -> dict[str, Any]:
        """What is said otherwise of this one, and where it is done."""
        named = {key: text.format(item.name) for key, text in self._asked.named.get(base, {}).items()}
        words: dict[str, Any] = {
            key: self._said(item, getattr(step, key)) for key in ("detail", "why", "caution")}
        words["item"] = item.name
        words["do"] = _begun(named["do"]) if "do" in named else self._challenge(item, step.do)
        if step.respond:
            if "respond" in named:
                words |= {"respond": named["respond"], "also": ()}
            else:
                words["respond"], *also = (
                    self._said(item, text, needed=True) for text in step.responses)
                words["also"] = tuple(also)
        if step.reading and not step.sum:
            words["reading"] = replace(step.reading, called=item.of(step.reading.called))
        if item.side and step.place in SIDES[:2]:
            words["place"] = item.side
        return words

    def _challenge(self, item: Item, text: str) -> str:
        told = self._said(item, text)
        return told if told != text else _begun(f"{item.name} {self._kind.called}: {text}")

    def _remedies(self, remedy: Remedy) -> Iterator[Remedy]:
        each = remedy.id in self._fixes
        for item in self._items if each else (None,):
            made = replace(
                remedy, gives=self._names(item, remedy.gives), ends=self._names(item, remedy.ends),
                shows=self._names(item, remedy.shows), denies=self._names(item, remedy.denies))
            if item is None:
                yield replace(made, steps=self._order(remedy.steps))
            else:
                yield replace(
                    made, id=item.id(remedy.id), steps=tuple(map(item.id, remedy.steps)),
                    says=self._said(item, remedy.says), gives_up=self._said(item, remedy.gives_up))


def _begun(text: str) -> str:
    return text[0].upper() + text[1:]


def _with(
    condition: Condition, facts: Collection[str], told: Callable[[Literal], Condition]
) -> Condition:
    """The condition with each of these facts replaced."""
    if isinstance(condition, Literal):
        return told(condition) if condition.fact in facts else condition
    assert isinstance(condition, (All, AnyOf))
    parts: list[Condition] = []
    for part in condition.parts:
        new = _with(part, facts, told)
        parts += new.parts if type(new) is type(condition) and new != part else [new]
    return type(condition)(tuple(parts))
