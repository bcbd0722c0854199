"""The safety case: what can hurt somebody, what stands against it, and what is left.

May import the checklist model and this room.  It says nothing of its own about a checklist: each
sentence stands in a file, or follows from the proof (`prove`) or the traces (`tracing`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import suppress

from handsfree import __version__
from handsfree.checklist.conditions import NEVER, Condition, given
from handsfree.checklist.model import Checklist, Evidence, Hazard, NeverRule, Step, Unsafe
from handsfree.checklist.rig_file import Rig
from handsfree.proof.completion import parts_of
from handsfree.proof.document import Block, Heading, Items, Para, Ref, Table, Words
from handsfree.proof.findings import Budget, BudgetSpent, Finding, Report
from handsfree.proof.interlocks import protected
from handsfree.proof.state_space import Space, open_space
from handsfree.proof.stay import Stay
from handsfree.proof.tracing import ways_of

TITLE = "Safety case"

METHOD = (
    "Hazards are found, estimated and reduced after ISO 12100:2010 (risk assessment and risk"
    " reduction): severity here has two classes, grave (death or lasting injury is likely) and"
    " other. What no rule can see to is named as residual risk, under 'Left to the person'.",
    "How a hazard comes about is asked by the guide questions of systems-theoretic process"
    " analysis (STPA; Leveson and Thomas, STPA Handbook, 2018, chapter 2): a control action is"
    " given, not given, too early, too late, or stopped too soon.",
    "Whatever moves by its own power follows ISO 14118:2017 (prevention of unexpected start-up): a"
    " verdict that says do not prevails, and with two operators both have to agree.",
    "Interlock is used in the sense of ISO 14119:2013 (interlocking devices), with one great"
    " difference: nothing is locked by force. A step is not offered, not started and not accepted"
    " as done while its interlock does not hold; the person can still do it.",
    "Energy is off and kept off before hands go near it, and what is switched off is tried, after"
    " the model of 29 CFR 1910.147 (control of hazardous energy). Coupling, brakes, lamps and tyres"
    " follow the model of 49 CFR 393. Both bind workplaces and commercial vehicles, not campers.",
    "Each source stands beside its hazard; 'from memory' means that the text was not at hand.",
)

VOCABULARY = (
    "Fact: something true or false of rig and spot, as the record has it.",
    "Never rule: a combination of facts that no order of events may bring about (a rule about how"
    " things are), or in which something may not be done (a rule about an act).",
    "Interlock: what has to hold before a step is offered, started and reported.",
    "Evidence: a fact that rests on somebody having looked, tested or read. It ends.",
    "Read back: the words that settle a fact are repeated, and count once they are confirmed.",
)

LIMITS = (
    "The program knows what it is told. A word that is not true, or a look that did not look, is"
    " beyond it. That is why evidence ends, and why what takes a grave danger away is read back.",
    "It moves nothing and stops nothing. Whoever goes on against a refusal is not stopped.",
    "The state of the rig itself (ball and coupler of one size, a sound jack, a cord without hidden"
    " damage, load, age of tyres) is the owner's, by the makers' manuals.",
    "Speech can be misheard. What that leads to was measured apart from this document (see"
    " DEVELOPERS.md); the proof holds whatever is heard, for it is about any order of events.",
    "Owner's manuals, site rules, local code, and licensed electricians, gas fitters"
    " and plumbers come before all of it.",
)


def safety_case(
    checklists: Sequence[Checklist], report: Report, rig: Rig | None = None,
    budget: Budget | None = None,
) -> list[Block]:
    """The document about a library and a rig.

    Args:
        checklists: the whole stay.
        report: its proof, with the findings about traces among it.
        rig: leaves out what this rig has not; without it the document is about every rig.
    """
    about = _Subject(checklists, report, rig, budget)
    return [*_scope(about), *_method(), *_verdict(about), *_overview(about), *_hazards(about),
            *_rules(about), *_evidence(about), *_words(about), *_left(about), *_open_ends(about)]


Place = tuple[str, str, int]
"""A step's id, file and line: several checklists may use it."""


class _Subject:
    """What the document is about, each thing once though many files include it."""

    def __init__(self, checklists: Sequence[Checklist], report: Report, rig: Rig | None,
                 budget: Budget | None) -> None:
        self.checklists, self.report, self.rig = tuple(checklists), report, rig
        self.traits = {name: value for name, value in Stay.of(checklists, (), rig).traits.items()
                       if value is not None}
        self.hazards: dict[str, Hazard] = {}
        self.rules: dict[str, NeverRule] = {}
        self.evidence: dict[str, Evidence] = {}
        self.steps: dict[Place, tuple[Step, list[str]]] = {}
        for checklist in checklists:
            for hazard in checklist.hazards:
                self.hazards.setdefault(hazard.id, hazard)
            for rule in checklist.all_rules:
                if self.arises(rule.when):
                    self.rules.setdefault(rule.id, rule)
            for name, evidence in checklist.evidence.items():
                self.evidence.setdefault(name, evidence)
            for step in checklist.steps.values():
                if self.arises(step.applicable):
                    key = (step.id, step.file, step.line)
                    self.steps.setdefault(key, (step, []))[1].append(checklist.id)
        self.says = {name: fact.says for checklist in checklists
                     for name, fact in checklist.facts.items()}
        self.guards: dict[Place, list[tuple[Condition, tuple[str, ...]]]] | None = None
        """Each step's interlocks with the rules that hang on each alone; None: budget spent."""
        with suppress(BudgetSpent):
            self.guards = dict(self._guards(open_space(Stay.of(checklists), budget or Budget())))

    def _guards(
        self, space: Space
    ) -> Iterator[tuple[Place, list[tuple[Condition, tuple[str, ...]]]]]:
        named = {one.id: one for one in self.checklists}
        for key, (step, where) in self.steps.items():
            yield key, [(part, protected(space, named[where[0]], step, part))
                        for part in parts_of(step.needs) if part.names()]

    def arises(self, condition: Condition) -> bool:
        """Whether the condition can hold on this rig."""
        return given(condition, self.traits) != NEVER

    @property
    def digest(self) -> str:
        """SHA-256 over the digests of all that was read."""
        whole = "".join(f"{one.id} {one.digest}\n" for one in
                        sorted(self.checklists, key=lambda one: one.id))
        return hashlib.sha256(whole.encode()).hexdigest()


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


# --- scope, method, verdict ---------------------------------------------------------------------

def _scope(about: _Subject) -> Iterator[Block]:
    yield Heading(2, "Scope", "scope")
    yield Para("Setting up, taking down and towing a trailer at a camp site, by one operator or"
               " two, led by spoken checklists. The document is about the order in which things"
               " are done and what they hang on. It is not about the strength of the parts, about"
               " driving, or about medical help.")
    rig = about.rig
    traits = sorted(name for name, value in about.traits.items() if value)
    yield Para("Rig: every rig that the files know." if rig is None else
               f"Rig: {rig.name} (has: {', '.join(traits) or 'none of the traits known'}).")
    yield Table(("Checklist", "Title", "Steps", "Digest (SHA-256)"), tuple(
        (one.id, one.title, str(len(one.steps)), one.digest[:16]) for one in about.checklists))
    yield Para(f"Digest of all of it: {about.digest}. Program: handsfree {__version__}. Documents"
               " with the same digest, program and rig say the same.")


def _method() -> Iterator[Block]:
    yield Heading(2, "Method and vocabulary", "method")
    yield Items(METHOD)
    yield Items(VOCABULARY)


def _verdict(about: _Subject) -> Iterator[Block]:
    report = about.report
    yield Heading(2, "What the proof says", "verdict")
    if report.sound:
        yield Para("Sound. No order of events breaks a never rule unrefused, every alarm can be"
                   " ended, every checklist can be finished, and all gear comes back. Each rule,"
                   " interlock and lifetime is explained by a hazard, and each hazard is covered.",
                   "good")
    else:
        yield Para(f"Not sound: {_count(len(report.findings), 'finding')}, under 'Open ends'. Until"
                   " they are mended nothing here counts as proved.", "bad")
    yield Items((
        f"{_count(len(about.checklists), 'checklist')}, {_count(report.steps, 'step')},"
        f" {_count(report.facts, 'fact')}, {_count(report.changes, 'change')}: every event that"
        " can change the record, in any order, whichever checklist is open.",
        f"From each of {_large(report.records)} records that break no rule, each change was"
        " asked whether it breaks one. Time is among the events: evidence may end at any moment.",
        "What was taken back or corrected on the record can make a rule true. That is an alarm: it"
        " holds up everything else until its immediate action is reported.",
        "How the proof works, and why it is sound, is written in handsfree/proof/__init__.py. It"
        " is held against an exhaustive walk of the running program and against SPIN.",
    ))


def _large(number: int) -> str:
    return f"{number:,}" if number < 10**9 else f"{float(number):.2e}"


# --- hazards ------------------------------------------------------------------------------------

def _overview(about: _Subject) -> Iterator[Block]:
    yield Heading(2, "Hazards at a glance", "overview")
    if not about.hazards:
        yield Para("No hazards are declared, so nothing here can be traced to one.", "bad")
        return
    flawed = {finding.subject for finding in about.report.findings} | {
        finding.rule for finding in about.report.findings}
    yield Table(("Hazard", "Severity", "Never rules", "State"), tuple(
        (Ref(f"hazard-{hazard.id}", hazard.id), _severity(hazard),
         _joined(_rule_ref(name) for name in dict.fromkeys(
             way.rule for way in hazard.unsafe if way.rule in about.rules)),
         "open" if hazard.id in flawed or flawed & {way.rule for way in hazard.unsafe}
         else "covered" if any(about.arises(way.when) for way in hazard.unsafe)
         else "not with this rig")
        for hazard in about.hazards.values()))


def _severity(hazard: Hazard) -> str:
    return "grave" if hazard.grave else "other"


def _rule_ref(name: str) -> Ref:
    return Ref(f"rule-{name}", name)


def _joined(parts: Iterator[Ref]) -> Words:
    found: list[str | Ref] = []
    for part in parts:
        found += [", ", part] if found else [part]
    return tuple(found) or "none"


def _hazards(about: _Subject) -> Iterator[Block]:
    yield Heading(2, "Hazards", "hazards")
    for hazard in about.hazards.values():
        ways = [way for way in hazard.unsafe if about.arises(way.when)]
        if not ways:
            continue
        yield Heading(3, f"{hazard.id} ({_severity(hazard)})", f"hazard-{hazard.id}")
        yield Para(hazard.harm)
        yield Para(f"Source: {hazard.source}.")
        yield Table(("How", "What is done or left undone", "That is", "Forbidden by"), tuple(
            (way.how, way.what, _circumstance(about, way),
             _rule_ref(way.rule) if way.rule in about.rules else way.rule) for way in ways))
        yield Para(f"Left to the person: {hazard.left or 'nothing beyond the limits below.'}")


def _circumstance(about: _Subject, way: Unsafe) -> str:
    during = f"while {_listed(way.during)}: " if way.during else ""
    ends: dict[str, list[str]] = {}
    for fact, end in sorted(way.stale):
        ends.setdefault(fact, []).append(end)
    stale = "".join(f"; '{fact}' is ended by {_listed(found)}" for fact, found in ends.items())
    return f"{during}{given(way.when, about.traits)}{stale}"


def _listed(names: Sequence[str] | frozenset[str]) -> str:
    return ", ".join(sorted(names))


# --- rules --------------------------------------------------------------------------------------

def _rules(about: _Subject) -> Iterator[Block]:
    yield Heading(2, "Never rules, and what enforces them", "rules")
    for rule in about.rules.values():
        yield Heading(3, rule.id, f"rule-{rule.id}")
        during = f" while {_listed(rule.during)}" if rule.during else ""
        yield Para(f"Never{during}: {given(rule.when, about.traits)}. Reason:"
                   f" {rule.because}.")
        named = [hazard for hazard, _ in ways_of(rule, tuple(about.hazards.values()))]
        yield Para(("Explained by: ", *_as_tuple(_joined(
            Ref(f"hazard-{name}", name) for name in dict.fromkeys(one.id for one in named)))))
        yield from _enforced(about, rule)
        if rule.now:
            yield Para(f"If it happens anyway, an alarm says: {rule.now} Nothing else goes"
                       f" on until the answer '{rule.respond}'.")


def _as_tuple(words: Words) -> tuple[str | Ref, ...]:
    return words if isinstance(words, tuple) else (words,)


def _enforced(about: _Subject, rule: NeverRule) -> Iterator[Block]:
    if rule.during:
        rows = [(step.id, step.do, _listed(step.acts & rule.during), _listed(frozenset(where)))
                for step, where in about.steps.values() if step.acts & rule.during]
        heads = ("Step", "Words", "Does", "In")
        none = "No step does this."
        yield Para("It is a part of the interlock of each step that does this:" if rows else none)
    elif about.guards is None:
        yield Para("The interlocks that it hangs on were not worked out: the budget was spent.",
                   "bad")
        return
    else:
        rows = []
        for key, (step, where) in about.steps.items():
            parts = [str(part) for part, rules in about.guards[key] if rule.id in rules]
            if parts:
                rows.append((step.id, step.do, "; ".join(parts), _listed(frozenset(where))))
        heads = ("Step", "Words", "Needs", "In")
        none = ("No interlock has to guard it: no step can make it true from a record that breaks"
                " no rule.")
        yield Para("Interlocks without which it could be broken:" if rows else none)
    if rows:
        yield Table(heads, tuple(rows))


# --- evidence and words -------------------------------------------------------------------------

def _evidence(about: _Subject) -> Iterator[Block]:
    yield Heading(2, "Evidence, and when it ends", "evidence")
    yield Para("All of it also ends when a session is resumed after a pause or a night, and when"
               " the test that gave it is answered with no. What lasts days goes over to a later"
               " session, if the record tells of its report within that time.")
    yield Table(("Evidence", "What was seen", "Lasts", "Also ended by", "Rules that hang on it"),
                tuple((name, about.says.get(name, ""), _lasting(about, evidence),
                       _listed(evidence.voids) or "nothing else",
                       _joined(_rule_ref(rule.id) for rule in about.rules.values()
                               if name in rule.when.names()))
                      for name, evidence in about.evidence.items()))


def _lasting(about: _Subject, evidence: Evidence) -> str:
    if not evidence.minutes:
        return "until something ends it"
    unless = given(evidence.unless, about.traits)
    lasts = f"{evidence.minutes / 1440:g} days, by the record" if evidence.lasting else (
        f"{evidence.minutes:g} minutes")
    return lasts + ("" if unless == NEVER else f", and on while: {unless}")


def _words(about: _Subject) -> Iterator[Block]:
    """By which word each fact that a rule hangs on is settled."""
    yield Heading(2, "Which word is enough", "words")
    yield Para("What takes a grave danger away on the record, a reading included, is read back"
               " before it counts. Other facts that a rule hangs on need an answer of their own."
               " A bare 'done' settles none of them.")
    hung = frozenset().union(*(rule.when.names() for rule in about.rules.values())) | set(
        about.evidence)
    rows = []
    for step, where in about.steps.values():
        changed = (step.gives | step.ends) & hung
        if changed and not step.question:
            rows.append((step.id, _answer(step), _enough(step),
                         _listed(frozenset(_changed(step, changed))), _listed(frozenset(where))))
    counted = [row[2] for row in rows]
    yield Para("; ".join(f"{kind}: {counted.count(kind)}" for kind in dict.fromkeys(counted))
               + "." if rows else "No step settles such a fact.")
    if rows:
        yield Table(("Step", "Answer", "Enough", "Settles", "In"), tuple(rows))


def _answer(step: Step) -> str:
    if step.reading:
        return f"a number in {step.reading.unit}"
    return f"'{step.respond}'" if step.respond else "'done'"


def _enough(step: Step) -> str:
    if step.reading:
        return "reading, read back"
    if not step.respond:
        return "a bare 'done'"
    return "read back" if step.readback else "its own words"


def _changed(step: Step, names: frozenset[str]) -> Iterator[str]:
    for name in names:
        yield name if name in step.gives else f"not {name}"


# --- what is left -------------------------------------------------------------------------------

def _left(about: _Subject) -> Iterator[Block]:
    yield Heading(2, "Left to the person", "left")
    yield Items(LIMITS)
    rows = tuple((Ref(f"hazard-{one.id}", one.id), one.left) for one in about.hazards.values()
                 if one.left and any(about.arises(way.when) for way in one.unsafe))
    if rows:
        yield Table(("Hazard", "What no rule sees to"), rows)
    defers = tuple(dict.fromkeys(one.defers for one in about.checklists if one.defers))
    if defers:
        yield Para("What the checklists themselves say before they begin:")
        yield Items(defers)


def _open_ends(about: _Subject) -> Iterator[Block]:
    yield Heading(2, "Open ends", "open-ends")
    found = about.report.findings
    if about.hazards and not found:
        yield Para("None.", "good")
        return
    if not about.hazards:
        yield Para("No hazards are declared.", "bad")
    if found:
        yield Table(("Kind", "Finding"), tuple((one.kind, _told(one)) for one in found))


def _told(finding: Finding) -> str:
    dialogue = " / ".join(map(str, finding.dialogue))
    return f"{finding}" + (f" Shown by: {dialogue}" if dialogue else "")
