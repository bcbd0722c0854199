"""YAML files to a `Checklist`, or one sentence that names file, line and mend.

May import the rooms' own modules and errors.  Includes stay inside the folder of the file that
was asked for, or inside the library's folder.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import ceil, floor
from pathlib import Path
from typing import Any

from handsfree.checklist import schema
from handsfree.checklist.called import in_its_words
from handsfree.checklist.conditions import (
    ALWAYS,
    NEVER,
    Condition,
    Literal,
    both,
    literals,
    opposite,
)
from handsfree.checklist.model import (
    BOTH,
    FOR_THE_ROAD,
    GOING_INSIDE,
    INSIDE,
    OUTSIDE,
    TIME,
    Act,
    Checklist,
    Evidence,
    Fact,
    Hazard,
    Limit,
    NeverRule,
    Origin,
    Reading,
    Remedy,
    Step,
    Travel,
    Unsafe,
    Wait,
    answered_fact,
    gear_fact,
    ready_to_travel,
    voided,
)
from handsfree.checklist.rig_file import Rig
from handsfree.checklist.several import Asked, Kind, of_banks, written_out
from handsfree.checklist.sums import SUMS
from handsfree.checklist.yaml_reader import Entry, did_you_mean, read
from handsfree.errors import AuthorError, InputError
from handsfree.units import STEPS, US, convert, in_system

LONGEST_WAIT = 2880
"""Minutes that a step can wait."""

MOST_DAYS = 31
"""Days that evidence can last."""

READY_TO_TRAVEL = "ready to travel"
"""In `closes when`: everything that facts and gear say about travel."""

_SLUG = re.compile(r"[a-z0-9]+( [a-z0-9]+)*|[a-z0-9]+(-[a-z0-9]+)*")
_FACT = re.compile(r"[a-z0-9][a-z0-9'/-]*( [a-z0-9'/-]+)*")


@dataclass
class _Draft:
    """What has been gathered from a file and its includes."""

    rig: Rig | None
    facts: dict[str, Fact] = field(default_factory=dict)
    limits: dict[str, Limit] = field(default_factory=dict)
    questions: dict[str, Step] = field(default_factory=dict)
    acts: dict[str, Act] = field(default_factory=dict)
    rules: dict[str, NeverRule] = field(default_factory=dict)
    hazards: dict[str, Hazard] = field(default_factory=dict)
    acted: list[tuple[str, Entry]] = field(default_factory=list)
    plain_noes: dict[str, Remedy] = field(default_factory=dict)
    remedies: dict[str, tuple[Entry, dict[str, Entry]]] = field(default_factory=dict)
    parts: dict[str, Entry] = field(default_factory=dict)
    sections: dict[str, tuple[str, Entry]] = field(default_factory=dict)
    steps: dict[str, Step] = field(default_factory=dict)
    order: list[str] = field(default_factory=list)
    mentions: list[tuple[str, Entry]] = field(default_factory=list)
    waits: dict[str, Entry] = field(default_factory=dict)
    seen: set[Path] = field(default_factory=set)
    digest: hashlib._Hash = field(default_factory=hashlib.sha256)
    open_parts: tuple[str, ...] = ()
    part_of: Condition = ALWAYS
    """What the parts ask for that are open."""
    calls: dict[str, str] = field(default_factory=dict)
    """Word: what this rig is called instead."""
    kinds: dict[str, Kind] = field(default_factory=dict)
    moved: list[tuple[str, Entry]] = field(default_factory=list)
    """Motions of these kinds; a list that declares none has no use for them."""
    asked: Asked = field(default_factory=lambda: Asked({}, {}))
    read: dict[Path, bytes] = field(default_factory=dict)
    """Each file, and what stood in it."""
    missed: set[Path] = field(default_factory=set)
    """Where an included file was looked for and was not."""


@dataclass(frozen=True)
class _Kept:
    """A checklist as it was loaded, and from what."""

    checklist: Checklist
    read: dict[Path, bytes]
    missed: set[Path]

    def holds(self) -> bool:
        """Whether all files that it came from are as they were, and none stands before another."""
        try:
            return all(path.read_bytes() == raw for path, raw in self.read.items()) and not any(
                path.is_file() for path in self.missed)
        except OSError:
            return False


_MOST = 64
"""Checklists that are kept, so that none is loaded again in vain: standing by knows all, twice."""

_kept: dict[tuple[Path, Path | None, str], _Kept] = {}


def load_checklist(path: Path, *, rig: Rig | None = None, library: Path | None = None) -> Checklist:
    """Read a checklist and what it includes; if no file of it has changed, the one loaded before.

    Args:
        path: the YAML file.
        rig: fills in limits; its traits and limits are checked against the checklist's.
        library: a second folder in which included files are looked for.

    Raises:
        AuthorError: with file, line and mend.
    """
    # Where the rig's file lies matters to a mistake in it alone, and then nothing is kept.
    key = path, library, repr(rig and replace(rig, file="", lines={}))
    if (known := _kept.get(key)) and known.holds():
        return known.checklist
    draft = _Draft(rig)
    made = _loaded(path, draft, library)
    if len(_kept) >= _MOST:
        _kept.clear()
    _kept[key] = _Kept(made, draft.read, draft.missed)
    return made


def _loaded(path: Path, draft: _Draft, library: Path | None) -> Checklist:
    rig = draft.rig
    top = _gather(path, draft, library)
    if "steps" not in top:
        raise AuthorError("is not a checklist: 'steps' is missing", file=str(path), line=1,
                          mend="add 'steps:' with at least one '- id: …'")
    for entry in top["steps"].items():
        _add_steps(entry, draft, into=draft.order)
    _check_waits(draft)
    if not draft.order:
        raise top["steps"].wrong("a checklist needs at least one step", "add '- id: …, do: …'")
    remedies: dict[str, Remedy] = {remedy.id: remedy for remedy in draft.plain_noes.values()}
    while wanted := [name for name in _used_remedies(draft) if name not in remedies]:
        remedies[wanted[0]] = _remedy(wanted[0], draft)  # its steps may name further remedies
        remedies |= {remedy.id: remedy for remedy in draft.plain_noes.values()}
    _check_mentions(draft)
    _check_acts(draft)
    closes: Condition = ALWAYS
    if "closes when" in top:
        entry = top["closes when"]
        closes = entry.condition()
        if closes == Literal(READY_TO_TRAVEL):
            closes = ready_to_travel(draft.facts)
        else:
            _known(draft, closes, entry)
    steps = {name: _await_answers(step, draft) for name, step in draft.steps.items()}
    if "inside while" in top:
        still = _condition(top["inside while"], draft)
        steps = {name: step if step.role != INSIDE else
                 replace(step, needs=both(still, step.needs)) for name, step in steps.items()}
    steps = _under_the_rules(steps, remedies, draft)
    _check_sections(draft)
    _check_rig(draft)

    def told(key: str) -> str:
        return top[key].text() if key in top else ""

    made = Checklist(
        id=path.stem, title=top["title"].text(), facts=draft.facts, steps=steps,
        order=tuple(draft.order),
        remedies={name: _remedy_after(remedy, draft) for name, remedy in remedies.items()},
        rules=tuple(_rule_after(rule, draft) for rule in draft.rules.values() if not rule.during),
        conduct=tuple(rule for rule in draft.rules.values() if rule.during),
        acts=draft.acts, hazards=tuple(draft.hazards.values()),
        limits=draft.limits, numbers={name: _number(name, draft) for name in draft.limits},
        closes=closes, says=told("says"), defers=told("defers"),
        closing=told("closing"), language=told("language") or "en", file=str(path),
        digest=draft.digest.hexdigest(), units=rig.units if rig else US,
        region=rig.region if rig else "", calls=draft.calls,
    )
    made = written_out(made, draft.kinds, rig.several if rig else {}, draft.asked)
    return in_its_words(of_banks(made, rig.banks, draft.asked) if rig and len(rig.banks) > 1 else made)


def _gather(path: Path, draft: _Draft, library: Path | None) -> dict[str, Entry]:
    """Read one file and, first, its includes; returns its fields."""
    draft.seen.add(path.resolve())
    entry = read(path)
    raw = draft.read[path] = path.read_bytes()
    draft.digest.update(raw)
    keys = schema.CHECKLIST
    is_top = len(draft.seen) == 1
    if not is_top:
        keys = {name: replace(key, required=False) for name, key in keys.items()}
    fields = entry.fields(keys)
    if not is_top and "steps" in fields:
        raise fields["steps"].wrong("an included file cannot have 'steps'",
                                    "move them under 'parts:' with a name")
    if "include" in fields:
        for item in fields["include"].one_or_more():
            other = _included(item, path.parent, library, draft)
            if other.resolve() not in draft.seen:
                _gather(other, draft, library)
    _declare(fields, draft)
    return fields


def _included(item: Entry, folder: Path, library: Path | None, draft: _Draft) -> Path:
    name = item.text()
    parts = Path(name).parts
    if Path(name).is_absolute() or ".." in parts:
        raise item.wrong(f"'{name}' leaves the folder of the checklist",
                         "name a file in this folder or in the library")
    for base in (folder, folder.parent, library):
        if base is None:
            continue
        candidate = (base / name).resolve()
        inside = base.resolve()
        if candidate.is_file() and inside in candidate.parents:
            return candidate
        draft.missed.add(candidate)
    raise item.wrong(f"there is no file '{name}' to include", "check the name after 'include:'")


def _declare(fields: dict[str, Entry], draft: _Draft) -> None:
    readers = (("motions", _act), ("exposures", _act), ("facts", _fact), ("traits", _trait),
               ("gear", _gear), ("limits", _limit), ("questions", _question), ("several", _several))
    for key, reader in readers:
        if key in fields:
            for name, place, value in fields[key].pairs():
                reader(name, place, value, draft)
        if key == "motions":
            draft.acts = {name: replace(act, motion=act.motion or name in _names(fields, key))
                          for name, act in draft.acts.items()}
    if "never" in fields:
        for item in fields["never"].items():
            _rule(item, draft)
    if "hazards" in fields:
        for name, place, value in fields["hazards"].pairs():
            _hazard(name, place, value, draft)
    if "sections" in fields:
        for name, place, value in fields["sections"].pairs():
            draft.sections[name] = value.text(), place
    for key, store in (("remedies", draft.remedies), ("parts", draft.parts)):
        if key in fields:
            for name, place, value in fields[key].pairs():
                if name in store:
                    raise place.wrong(f"'{name}' is declared a second time", "rename one of them")
                if key == "parts":
                    draft.parts[name] = value
                else:
                    draft.remedies[name] = (place, value.fields(schema.REMEDY))


def _names(fields: dict[str, Entry], key: str) -> frozenset[str]:
    return frozenset(name for name, _, _ in fields[key].pairs()) if key in fields else frozenset()


def _act(name: str, place: Entry, value: Entry, draft: _Draft) -> None:
    got = value.fields(schema.ACT)
    if name in draft.acts:
        raise place.wrong(f"'{name}' is declared a second time", "rename one of them")
    words = _text(got, "words")
    try:
        re.compile(words)
    except re.error as problem:
        raise got["words"].wrong(f"'{words}' is no regular expression ({problem})",
                                 "write words that are joined by '|'") from None
    draft.acts[name] = Act(
        name, got["says"].text(), motion=False, powered=_flag(got, "powered"),
        clear=_text(got, "clear"), together=_flag(got, "together"), words=words)


def _flag(got: dict[str, Entry], key: str) -> bool:
    return key in got and got[key].flag()


def _hazard(name: str, place: Entry, value: Entry, draft: _Draft) -> None:
    got = value.fields(schema.HAZARD)
    if name in draft.hazards:
        raise place.wrong(f"the hazard '{name}' is declared a second time", "rename one of them")
    ways = tuple(_unsafe(item, draft) for item in got["unsafe"].items())
    draft.hazards[name] = Hazard(
        name, got["harm"].text(), _flag(got, "grave"), got["source"].text(), ways,
        _text(got, "left"), place.line, place.file)


def _unsafe(item: Entry, draft: _Draft) -> Unsafe:
    got = item.fields(schema.UNSAFE)
    during = got["while"].texts() if "while" in got else ()
    draft.acted.extend((act, got["while"]) for act in during)
    return Unsafe(got["how"].one_of(schema.HOWS), got["what"].text(), got["rule"].text(),
                  _condition(got["when"], draft), frozenset(during),
                  _stale(got["stale"], draft) if "stale" in got else frozenset(),
                  item.line, item.file)


def _stale(entry: Entry, draft: _Draft) -> frozenset[tuple[str, str]]:
    """(evidence, what ends it)."""
    found: list[tuple[str, str]] = []
    for fact, place, value in entry.pairs():
        draft.mentions.append((fact, place))
        for end in value.texts():
            if end not in (TIME, FOR_THE_ROAD, GOING_INSIDE):
                draft.acted.append((end, value))
            found.append((fact, end))
    return frozenset(found)


def _new_fact(draft: _Draft, place: Entry, fact: Fact) -> None:
    if not _FACT.fullmatch(fact.name):
        raise place.wrong(f"'{fact.name}' cannot name a fact",
                          "use lower-case words, without 'and', 'or', 'not'")
    if set(fact.name.split()) & {"and", "or", "not"}:
        raise place.wrong(f"'{fact.name}' contains a word of the conditions' grammar",
                          "name it without 'and', 'or', 'not'")
    if fact.name in draft.facts:
        raise place.wrong(f"'{fact.name}' is declared a second time", "rename one of them")
    draft.facts[fact.name] = fact


def _fact(name: str, place: Entry, value: Entry, draft: _Draft) -> None:
    if value.scalar:
        _new_fact(draft, place, Fact(name, says=value.text()))
        return
    got = value.fields(schema.FACT)
    travel = Travel.EITHER
    if "travel" in got:
        word = got["travel"].one_of(("must", "must not"))
        travel = Travel.MUST if word == "must" else Travel.MUST_NOT
    _new_fact(draft, place, Fact(
        name, says=got["says"].text(), otherwise=_text(got, "otherwise"),
        start=_flag(got, "start"), travel=travel,
        fresh=_flag(got, "fresh"),
        evidence=_evidence(got["evidence"], draft) if "evidence" in got else None))


def _evidence(entry: Entry, draft: _Draft) -> Evidence:
    got = entry.fields(schema.EVIDENCE)
    minutes = got["minutes"].number() if "minutes" in got else 0.0
    if not 0 <= minutes <= LONGEST_WAIT:
        raise got["minutes"].wrong(f"evidence cannot last {minutes:g} minutes",
                                   f"write from 0 (time does not end it) to {LONGEST_WAIT}")
    if "days" in got:
        minutes = 1440 * _days(got)
    voids = got["void by"].texts() if "void by" in got else ()
    for name in voids:
        if name not in (FOR_THE_ROAD, GOING_INSIDE):
            draft.acted.append((name, got["void by"]))
    return Evidence(minutes, frozenset(voids),
                    _condition(got["unless"], draft) if "unless" in got else NEVER, "days" in got)


def _days(got: dict[str, Entry]) -> float:
    """How long evidence lasts that goes over to later sessions."""
    days = got["days"].number()
    if "minutes" in got:
        raise got["days"].wrong("evidence lasts minutes or days", "leave one of them out")
    if not 0 < days <= MOST_DAYS:
        raise got["days"].wrong(f"evidence cannot last {days:g} days",
                                f"write more than 0, at most {MOST_DAYS}")
    return days


def _trait(name: str, place: Entry, value: Entry, draft: _Draft) -> None:
    got = value.fields(schema.TRAIT)
    _new_fact(draft, place, Fact(name, Origin.TRAIT, says=got["says"].text(),
                                 ask=got["ask"].text()))
    if "calls" in got and draft.rig and name in draft.rig.has:
        draft.calls |= {word: value.text() for word, _, value in got["calls"].pairs()}


def _gear(name: str, place: Entry, value: Entry, draft: _Draft) -> None:
    if value.scalar:
        says, otherwise, count = value.text(), "", 1
    else:
        got = value.fields(schema.GEAR)
        says, otherwise = got["says"].text(), _text(got, "otherwise")
        count = int(got["count"].number()) if "count" in got else 1
        if count < 1:
            raise got["count"].wrong("gear has at least one piece", "write 1 or more")
    _new_fact(draft, place, Fact(gear_fact(name), Origin.GEAR, says=says, otherwise=otherwise,
                                 travel=Travel.MUST_NOT, count=count))


def _several(name: str, place: Entry, value: Entry, draft: _Draft) -> None:
    got = value.fields(schema.SEVERAL)
    if name not in schema.KINDS:
        raise place.wrong(f"a rig file cannot list '{name}'{did_you_mean(name, list(schema.KINDS))}",
                          f"use one of: {', '.join(schema.KINDS)}")
    if name in draft.kinds:
        raise place.wrong(f"'{name}' is declared a second time", "rename one of them")
    facts, motions = _facts(got, "facts", draft), got["motions"].texts() if "motions" in got else ()
    draft.moved.extend((motion, got["motions"]) for motion in motions)
    draft.kinds[name] = Kind(
        name, got["called"].text(), facts, _facts(got, "every", draft), frozenset(motions),
        {word: said.text() for word, _, said in got["words"].pairs()} if "words" in got else {})


def _limit(name: str, place: Entry, value: Entry, draft: _Draft) -> None:
    got = value.fields(schema.LIMIT)
    if name in draft.limits:
        raise place.wrong(f"the limit '{name}' is declared a second time", "rename one of them")
    draft.limits[name] = Limit(
        name, got["default"].number(), got["unit"].text(), _text(got, "ask"),
        _condition(got["only if"], draft) if "only if" in got else ALWAYS)


def _question(name: str, place: Entry, value: Entry, draft: _Draft) -> None:
    got = value.fields(schema.QUESTION)
    _new_fact(draft, place, Fact(name, Origin.SITE, says=got["says"].text(),
                                 otherwise=_text(got, "otherwise"), ask=got["ask"].text()))
    _new_fact(draft, place, Fact(answered_fact(name), Origin.ANSWERED,
                                 says=f"the question of {name} is answered",
                                 otherwise=f"the question of {name} is open"))
    only_if = _condition(got["only if"], draft) if "only if" in got else ALWAYS
    recalled = got["recalled as"].texts() if "recalled as" in got else ()
    if len(recalled) not in (0, 2):
        raise got["recalled as"].wrong("a question has two answers", "write [for yes, for no]")
    draft.questions[name] = Step(id=name, do=got["ask"].text(), only_if=only_if, question=True,
                                 gives=frozenset({name}), sum=_sum(got, None), recalled=recalled,
                                 rigs_own="hangs on the rig" in got and got["hangs on the rig"].flag(),
                                 line=place.line, file=place.file, minutes=(0.1, 0.15, 0.3))


def _rule(item: Entry, draft: _Draft) -> None:
    got = item.fields(schema.RULE)
    name = got["id"].text()
    if name in draft.rules:
        raise got["id"].wrong(f"the never rule '{name}' is declared a second time",
                              "rename one of them")
    during = got["while"].texts() if "while" in got else ()
    for act in during:
        draft.acted.append((act, got["while"]))
    for key in ("now", "respond"):
        if not during and key not in got:
            raise item.wrong(f"'{key}' is missing in the never rule '{name}'",
                             f"add '{key}:', or 'while:' if it is about something that is done")
        if during and key in got:
            raise got[key].wrong(f"a rule about something that is done has no '{key}'", "remove it")
    rule = NeverRule(
        id=name, when=_condition(got["when"], draft), because=got["because"].text(),
        now=_text(got, "now"), **_responses(got),
        gives=_facts(got, "gives", draft), ends=_facts(got, "ends", draft),
        during=frozenset(during), line=item.line, file=item.file)
    if during:
        draft.rules[name] = rule
        return
    after = {literal.fact: literal.wanted for literal in literals(rule.when)}
    after |= dict.fromkeys(rule.gives, True) | dict.fromkeys(rule.ends, False)
    if not rule.gives and not rule.ends:
        raise item.wrong(f"the immediate action of '{name}' changes nothing",
                         "say under 'gives:' or 'ends:' what it mends")
    if rule.when.holds({fact for fact, true in after.items() if true}):
        raise item.wrong(f"after the immediate action of '{name}' the rule is still broken",
                         "let 'gives:' or 'ends:' undo a part of 'when:'")
    draft.rules[name] = rule


def _responses(got: dict[str, Entry]) -> dict[str, Any]:
    """What is asked for, and the other wordings of it that count."""
    if "respond" not in got:
        return {}
    wordings = tuple(map(_response, got["respond"].one_or_more()))
    if not wordings:
        raise got["respond"].wrong("there is no response in it", "write one, or remove 'respond:'")
    return {"respond": wordings[0], "also": wordings[1:]}


def _response(entry: Entry) -> str:
    phrase = entry.text()
    if len(phrase.split()) < 2:
        raise entry.wrong(f"the response '{phrase}' is a single word, too easy to mishear",
                          "use two or more words, such as 'chocks set'")
    return phrase.lower()


def _text(got: dict[str, Entry], key: str) -> str:
    return got[key].text() if key in got else ""


def _condition(entry: Entry, draft: _Draft) -> Condition:
    condition = entry.condition()
    draft.mentions.extend((name, entry) for name in condition.names())
    return condition


def _facts(got: dict[str, Entry], key: str, draft: _Draft) -> frozenset[str]:
    if key not in got:
        return frozenset()
    names = got[key].texts()
    draft.mentions.extend((name, got[key]) for name in names)
    return frozenset(names)


def _gear_facts(got: dict[str, Entry], key: str, draft: _Draft) -> frozenset[str]:
    if key not in got:
        return frozenset()
    names = [gear_fact(name) for name in got[key].texts()]
    draft.mentions.extend((name, got[key]) for name in names)
    return frozenset(names)


def _known(draft: _Draft, condition: Condition, entry: Entry) -> None:
    for name in condition.names():
        if name not in draft.facts:
            raise entry.wrong(f"'{name}' is not a known fact{did_you_mean(name, list(draft.facts))}",
                              "declare it under 'facts:' or correct the name")


def _check_mentions(draft: _Draft) -> None:
    for name, entry in draft.mentions:
        if name not in draft.facts:
            if name.endswith(" out") and name[:-4] not in draft.facts:
                what = f"'{name[:-4]}' is not known gear, or '{name}' is not a known fact"
            else:
                what = f"'{name}' is not a known fact"
            raise entry.wrong(what + did_you_mean(name, list(draft.facts)),
                              "declare it under 'facts:', 'gear:', 'traits:' or 'questions:'")


def _check_acts(draft: _Draft) -> None:
    """Acts that rules, steps and evidence speak of are declared; rules that hazards name exist."""
    for name, entry in (*draft.acted, *(draft.moved if draft.acts else ())):
        fact = entry is not None and name in draft.facts
        if name not in draft.acts and not fact:
            raise entry.wrong(
                f"'{name}' is neither a motion nor an exposure"
                f"{did_you_mean(name, [*draft.acts, *draft.facts])}",
                "declare it under 'motions:' or 'exposures:'")
    for hazard in draft.hazards.values():
        for way in hazard.unsafe:
            if way.rule not in draft.rules:
                raise AuthorError(
                    f"the hazard '{hazard.id}' names a never rule '{way.rule}' that is not there"
                    f"{did_you_mean(way.rule, list(draft.rules))}", file=way.file, line=way.line,
                    mend="add the rule under 'never:', or correct the name")


def _check_sections(draft: _Draft) -> None:
    for name, (_, place) in draft.sections.items():
        if name not in draft.parts:
            raise place.wrong(f"there is no part '{name}'{did_you_mean(name, list(draft.parts))}",
                              "name a part that this file or one it includes declares")


def _under_the_rules(
    steps: dict[str, Step], remedies: dict[str, Remedy], draft: _Draft
) -> dict[str, Step]:
    """What no single step has to say for itself: the rules about acts, evidence that ends.

    The negation of every rule about an act becomes a part of the interlock of each step that does
    it; each step makes void what its acts and changes make void.
    """
    ways = [way for hazard in draft.hazards.values() if hazard.grave for way in hazard.unsafe]
    grave = frozenset(
        [literal for way in ways for literal in literals(way.when)]
        + [Literal(fact, False) for way in ways for fact, _ in way.stale])
    under = {name: _under(step, draft, grave) for name, step in steps.items()}
    named = frozenset(literal.fact for literal in grave)
    spoken_of = _spoken_of(draft)
    for step in under.values():
        _check_rough(step, spoken_of)
    return {name: replace(step, by_heart=bool(draft.hazards) and _by_heart(
        step, remedies, named, draft)) for name, step in under.items()}


def _spoken_of(draft: _Draft) -> frozenset[str]:
    """The facts of which a hazard or a never rule speaks, and evidence."""
    return frozenset().union(
        *(way.when.names() | {fact for fact, _ in way.stale}
          for hazard in draft.hazards.values() for way in hazard.unsafe),
        *(rule.when.names() for rule in draft.rules.values()),
        (name for name, fact in draft.facts.items() if fact.evidence))


def _check_rough(step: Step, spoken_of: frozenset[str]) -> None:
    """Nothing of which a hazard or a never rule speaks may be answered with what was last time."""
    if step.rough and (wrong := sorted((step.gives | step.ends) & spoken_of)):
        raise AuthorError(
            f"'{step.id}' is to be exact, since '{wrong[0]}' hangs on it, of which a hazard or a never"
            " rule speaks, or which is evidence", file=step.file, line=step.line, mend="remove 'rough:'")


def _by_heart(
    step: Step, remedies: dict[str, Remedy], grave: frozenset[str], draft: _Draft
) -> bool:
    """Whether it may be reported together with others, after the work.

    Neither it nor its failing changes a fact that a grave hazard speaks of, whichever way: so what
    guards against one is as it was for as long as such work lasts, in whatever order it is done.
    It is no evidence, no look or number, nothing worked out, and nothing moves by its own power.
    """
    fixes = [remedies[name] for name in (step.remedy, step.stop) if name]
    changes = (step.gives | step.ends).union(
        *(fix.gives | fix.ends | fix.shows | fix.denies for fix in fixes))
    moving = any(draft.acts[name].powered or draft.acts[name].together for name in step.acts)
    looks = any(draft.facts[name].evidence for name in step.gives)
    return not (not step.section or step.question or step.tests or step.sum or step.wait
                or step.must or moving or looks or changes & grave)


_INDOORS = "inside"
"""The exposure of every step with that role, where it is declared."""


def _under(step: Step, draft: _Draft, grave: frozenset[Literal]) -> Step:
    if step.role == INSIDE and _INDOORS in draft.acts:
        step = replace(step, acts=step.acts | {_INDOORS})
    acts = [draft.acts[name] for name in sorted(step.acts)]
    guards = (opposite(rule.when) for rule in draft.rules.values() if rule.during & step.acts)
    changed = step.gives | step.ends
    averted = {*(Literal(name, False) for name in step.gives), *map(Literal, step.ends)}
    happens = step.acts | changed
    if INSIDE in (step.role, step.place):
        happens |= {GOING_INSIDE}
    return replace(
        step, needs=both(step.needs, *guards), voids=voided(draft.facts, happens) - step.gives,
        caution=step.caution or " ".join(act.clear for act in acts if act.clear),
        role=BOTH if any(act.together for act in acts) else step.role,
        readback=not draft.hazards or bool(averted & grave))


def _rule_after(rule: NeverRule, draft: _Draft) -> NeverRule:
    """Its immediate action makes evidence void as a step does."""
    return replace(rule, ends=rule.ends | voided(draft.facts, rule.gives | rule.ends) - rule.gives)


def _remedy_after(remedy: Remedy, draft: _Draft) -> Remedy:
    """What failing and giving up change makes evidence void as well."""
    found, left = remedy.shows | remedy.denies, remedy.gives | remedy.ends
    return replace(remedy, denies=remedy.denies | voided(draft.facts, found) - remedy.shows,
                   ends=remedy.ends | voided(draft.facts, left) - remedy.gives)


def _add_steps(entry: Entry, draft: _Draft, into: list[str]) -> None:
    """One item of a step list: a step, a part, or a site question."""
    names = {name for name, _, _ in entry.pairs()}
    if "part" in names:
        use = entry.fields(schema.PART_USE)
        name, before = use["part"].text(), draft.part_of
        if name not in draft.parts:
            raise entry.wrong(f"there is no part '{name}'{did_you_mean(name, list(draft.parts))}",
                              "declare it under 'parts:' or include the file that has it")
        if name in draft.open_parts:
            raise entry.wrong(f"the part '{name}' contains itself", "take it out of its own steps")
        draft.open_parts += (name,)
        if "only if" in use:
            draft.part_of = both(before, _condition(use["only if"], draft))
        for item in draft.parts[name].items():
            _add_steps(item, draft, into)
        draft.open_parts, draft.part_of = draft.open_parts[:-1], before
        return
    if "ask" in names and "id" not in names:
        name = entry.fields(schema.QUESTION_USE)["ask"].text()
        if name not in draft.questions:
            raise entry.wrong(
                f"there is no site question '{name}'{did_you_mean(name, list(draft.questions))}",
                "declare it under 'questions:'")
        step = draft.questions[name]
    else:
        step = _step(entry, draft)
    called = next((draft.sections[part][0] for part in reversed(draft.open_parts)
                   if part in draft.sections), "")
    if called and into is draft.order:
        step = replace(step, section=called)
    if step.id in draft.steps:
        first = draft.steps[step.id]
        raise entry.wrong(f"the id '{step.id}' is used a second time (first in line {first.line}"
                          + (f" of {first.file})" if first.file != entry.file else ")"),
                          "give one of them another id")
    draft.steps[step.id] = replace(step, only_if=both(draft.part_of, step.only_if))
    into.append(step.id)


def _step(entry: Entry, draft: _Draft) -> Step:
    got = entry.fields(schema.STEP)
    name = got["id"].text()
    if not _SLUG.fullmatch(name):
        raise got["id"].wrong(f"'{name}' cannot be an id", "use lower-case words and digits")
    needs, after = (
        both(*(_condition(item, draft) for item in got[key].one_or_more())) if key in got else ALWAYS
        for key in ("needs", "after"))
    reading = _reading(got["reading"], name, draft) if "reading" in got else None
    step = Step(
        id=name, do=got["do"].text(), detail=_text(got, "detail"), why=_text(got, "why"),
        caution=_text(got, "caution"), place=_text(got, "place"),
        role=got["role"].one_of((INSIDE, OUTSIDE, BOTH)) if "role" in got else "",
        **_responses(got),
        names=got["names"].texts() if "names" in got else (),
        needs=both(needs, after), own=needs, after=after,
        only_if=_condition(got["only if"], draft) if "only if" in got else ALWAYS,
        gives=_facts(got, "gives", draft) | _gear_facts(got, "puts out", draft),
        ends=_facts(got, "ends", draft) | _gear_facts(got, "brings back", draft),
        reading=reading, rough=_text(got, "rough"), acts=_acts(got, draft),
        remedy=_text(got, "if it fails"), stop=_text(got, "if it stops"),
        sum=_sum(got, reading), must=_flag(got, "must"),
        wait=_wait(name, got["waits"], draft) if "waits" in got else None,
        minutes=_minutes(got["takes"]) if "takes" in got else Step.minutes,
        line=entry.line, file=entry.file)
    _about_each(name, got, draft)
    if step.reading and step.respond:
        raise got["respond"].wrong("a reading is read back itself and takes no response",
                                   "remove 'respond:', or split the step in two")
    if step.rough and not step.reading:
        raise got["rough"].wrong(f"'{name}' takes no reading", "remove 'rough:'")
    both_ways = step.gives & step.ends
    if both_ways:
        raise entry.wrong(f"'{min(both_ways)}' is both given and ended by '{name}'",
                          "split the step in two")
    for key, named in (("if it fails", step.remedy), ("if it stops", step.stop)):
        if named and named not in draft.remedies:
            raise got[key].wrong(
                f"there is no remedy '{named}'{did_you_mean(named, list(draft.remedies))}",
                "declare it under 'remedies:'")
    if step.stop and not step.sum:
        raise got["if it stops"].wrong("nothing is worked out here that could say do not",
                                       "add 'sum:', or remove 'if it stops:'")
    if "if no" in got and step.remedy:
        raise got["if no"].wrong("a step has either 'if no:' or 'if it fails:'",
                                 "remove one of them")
    if "if no ends" in got and "if no" not in got:
        raise got["if no ends"].wrong("'if no ends:' goes with 'if no:'",
                                   "add 'if no:', or 'denies:' in the remedy")
    if "if no" in got:
        draft.plain_noes[name] = Remedy(
            f"{name} no", got["if no"].text(), (), tries=0, denies=_facts(got, "if no ends", draft))
        step = replace(step, remedy=f"{name} no")
    for changed in step.gives | step.ends:
        fact = draft.facts.get(changed)
        if fact and fact.origin not in (Origin.STATE, Origin.GEAR):
            raise entry.wrong(f"'{changed}' cannot be changed by a step",
                              "it is answered by the rig file or a site question")
    return step


def _about_each(name: str, got: dict[str, Entry], draft: _Draft) -> None:
    """What a step says for rigs that have several of what it is about."""
    if "each" in got:
        draft.asked.each[name] = got["each"].one_of((*draft.kinds, schema.BATTERIES))
    if "named" in got:
        told = draft.asked.named[name] = {}
        for key, value in got["named"].fields(schema.NAMED).items():
            told[key] = value.text()
            if "{}" not in told[key] or told[key].count("{") > 1:
                raise value.wrong("the name of the one is not in it", "write {} where it is said")


def _acts(got: dict[str, Entry], draft: _Draft) -> frozenset[str]:
    names: list[str] = []
    for key in ("moves", "exposes"):
        if key in got:
            names += got[key].texts()
            draft.acted += [(name, got[key]) for name in got[key].texts()]
    return frozenset(names)


def _sum(got: dict[str, Entry], reading: Reading | None) -> str:
    if "sum" not in got:
        return ""
    name = got["sum"].one_of(tuple(SUMS))
    wanted, asked = SUMS[name].unit, (reading.kept or reading.unit) if reading else ""
    if wanted and reading is None:
        raise got["sum"].wrong("there is no reading to work it out from", "add 'reading:'")
    if reading is not None and asked != wanted:
        raise got["sum"].wrong(
            f"'{name}' works on {f'a reading in {wanted}' if wanted else 'no reading'},"
            f" not on {asked}", "take another sum, or another unit")
    return name


def _wait(name: str, entry: Entry, draft: _Draft) -> Wait:
    got = entry.fields(schema.WAIT)
    minutes = got["minutes"].number()
    if not 0 < minutes <= LONGEST_WAIT:
        raise got["minutes"].wrong(
            f"a wait of {minutes:g} minutes is not possible",
            f"write more than 0 and at most {LONGEST_WAIT} (two days)")
    draft.waits[name] = got["after"]
    return Wait(got["after"].text(), minutes)


def _check_waits(draft: _Draft) -> None:
    """A wait comes after an earlier step of the same order, so that it can have begun."""
    for name, entry in draft.waits.items():
        after, order = entry.text(), draft.order
        if name not in order:
            continue  # a remedy's, which is complained about where the remedy is read
        if after not in order[:order.index(name)]:
            what = "comes no earlier" if after in order else (
                f"is no step of this checklist{did_you_mean(after, order)}")
            raise entry.wrong(f"'{name}' waits for '{after}', which {what}",
                              "name a step that is offered before it")


def _minutes(entry: Entry) -> tuple[float, float, float]:
    if entry.scalar:
        likely = entry.number()
        least, most = likely / 2, likely * 2
    else:
        numbers = [item.number() for item in entry.items()]
        if len(numbers) != 3:
            raise entry.wrong("three numbers are expected", "write [least, likely, most] minutes")
        least, likely, most = numbers
    if not 0 < least <= likely <= most:
        raise entry.wrong("these minutes are not in order", "write 0 < least <= likely <= most")
    return least, likely, most


def _reading(entry: Entry, step: str, draft: _Draft) -> Reading:
    got = entry.fields(schema.READING)
    low = high = None
    bounds = [got[key] for key in ("at least", "at most") if key in got]
    if "between" in got:
        bounds = list(got["between"].items())
        if len(bounds) != 2:
            raise got["between"].wrong("two limits are expected", "write [lowest, highest]")
        low, high = (_bound(item, draft) for item in bounds)
    if "at least" in got:
        low = _bound(got["at least"], draft)
    if "at most" in got:
        high = _bound(got["at most"], draft)
    if low is None and high is None:
        raise entry.wrong("this reading has no limits, so nothing can be judged",
                          "add 'between: [lowest, highest]', 'at least:' or 'at most:'")
    if low is not None and high is not None and low > high:
        if draft.rig and (own := [b.text() for b in bounds if b.text() in draft.rig.limits]):
            both = "' and '".join(b.text() for b in bounds)
            raise InputError(
                f"the file of the rig '{draft.rig.name}' gives '{own[0]}: {draft.rig.limits[own[0]]:g}', so"
                f" the lowest limit {low:g} would be above the highest {high:g}; give '{both}'"
                " there, the lower one first.")
        raise entry.wrong(f"the lowest limit {low:g} is above the highest {high:g}", "swap them")
    return _in_the_rigs_system(draft, Reading(
                   unit=got["of"].text(), low=low, high=high,
                   called=_text(got, "called") or step.replace("-", " "),
                   limits=tuple(b.text() for b in bounds if b.text() in draft.limits)))


def _in_the_rigs_system(draft: _Draft, reading: Reading) -> Reading:
    """Asked in the unit of the rig's system, its limits rounded to the strict side.

    A limit that comes out even stays as it is; where rounding would cross the two, nothing is
    rounded.
    """
    unit = in_system(reading.unit, draft.rig.units) if draft.rig else reading.unit
    if unit == reading.unit:
        return reading
    low, high = (None if one is None else round(float(convert(
        Fraction(str(one)), reading.unit, unit)), 6) for one in (reading.low, reading.high))
    step = float(STEPS[unit])
    strict_low = None if low is None else round(ceil(round(low / step, 4)) * step, 6)
    strict_high = None if high is None else round(floor(round(high / step, 4)) * step, 6)
    crossed = strict_low is not None and strict_high is not None and strict_low >= strict_high
    return replace(reading, unit=unit, kept=reading.unit, low=low if crossed else strict_low,
                   high=high if crossed else strict_high)


def _bound(entry: Entry, draft: _Draft) -> float:
    word = entry.text()
    try:
        return float(word)
    except ValueError:
        pass
    if word not in draft.limits:
        raise entry.wrong(f"'{word}' is neither a number nor a limit"
                          f"{did_you_mean(word, list(draft.limits))}",
                          "write a number, or declare it under 'limits:'")
    return _number(word, draft)


def _number(limit: str, draft: _Draft) -> float:
    """The rig's own number, or the default."""
    if draft.rig and limit in draft.rig.limits:
        return draft.rig.limits[limit]
    return draft.limits[limit].default


def _used_remedies(draft: _Draft) -> list[str]:
    return [name for step in draft.steps.values() for name in (step.remedy, step.stop) if name]


def _remedy(name: str, draft: _Draft) -> Remedy:
    place, got = draft.remedies[name]
    steps: list[str] = []
    for item in got["steps"].items():
        _add_steps(item, draft, into=steps)
    for inner in steps:
        if inner in draft.waits:
            raise draft.waits[inner].wrong(f"'{inner}' belongs to a remedy and cannot wait",
                                           "remove 'waits:', or move the step to 'steps:'")
    tries = got["tries"].number() if "tries" in got else 2
    if tries not in (1, 2, 3, 4, 5):
        raise got["tries"].wrong("tries are counted from 1 to 5", "write a whole number")
    end = got["gives up"].fields(schema.GIVES_UP)
    return Remedy(id=name, says=got["says"].text(), steps=tuple(steps), tries=int(tries),
                  gives_up=end["says"].text(), gives=_facts(end, "gives", draft),
                  ends=_facts(end, "ends", draft), shows=_facts(got, "shows", draft),
                  denies=_facts(got, "denies", draft))


def _await_answers(step: Step, draft: _Draft) -> Step:
    """A step whose conditions mention a site question exists only once it is answered.

    An interlock that waits for a yes needs no answer besides.
    """
    denied = {literal.fact for literal in literals(step.needs) if not literal.wanted}
    asked = sorted(
        name for name in step.only_if.names() | denied
        if draft.facts[name].origin is Origin.SITE and name in draft.steps)
    return replace(step, only_if=both(
        step.only_if, *(Literal(answered_fact(name)) for name in asked))) if asked else step


def _check_rig(draft: _Draft) -> None:
    """A trait or limit that no part of the library knows is most likely a slip of the pen."""
    rig = draft.rig
    if rig is None:
        return
    traits = {name for name, fact in draft.facts.items() if fact.origin is Origin.TRAIT}
    for name in sorted(rig.has):
        if name in traits:
            continue
        close = did_you_mean(name, sorted(traits))
        if close:
            raise AuthorError(f"no checklist knows a rig that has '{name}'{close}", file=rig.file,
                              line=rig.lines.get(name, 0), mend="correct the name")
    for name in rig.limits:
        if name not in draft.limits and did_you_mean(name, list(draft.limits)):
            raise AuthorError(
                f"no checklist knows a limit '{name}'{did_you_mean(name, list(draft.limits))}",
                file=rig.file, line=rig.lines.get(name, 0), mend="correct the name")
