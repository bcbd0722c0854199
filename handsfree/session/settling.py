"""Settles how a rig stands: what has to be asked before a checklist, and writing it down.

May import the core, journal and record, the checklist model and the engine's questions.  Whoever
calls `settle` holds the rig's lock.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from handsfree import __version__
from handsfree.checklist.model import Checklist, NeverRule, Origin
from handsfree.checklist.rig_file import Rig
from handsfree.checklist.several import superseded
from handsfree.engine.choosing import broken_rule
from handsfree.language.model import Language
from handsfree.session.state_questions import (
    StateQuestion,
    changed_traits,
    open_facts,
    settled_by,
    state_facts,
    state_questions,
)
from handsfree.session.state_questions_file import Core
from handsfree.session.wording import Wording, sentence
from handsfree.storage import journal, lines
from handsfree.storage.record import Record, SessionFile, latest, next_path, record_for

CHECKLIST = "interview"
"""The id of the sessions in which it is settled."""


@dataclass(frozen=True)
class Unsettled:
    """What has to be asked of a rig before a checklist, and why."""

    checklist: Checklist
    rig: Rig
    open: frozenset[str]
    questions: tuple[StateQuestion, ...]
    last: SessionFile | None
    record: Record
    """As it would be without asking: a guess, where it is open."""
    why: str
    """In words, the first that are said."""

    @property
    def known(self) -> frozenset[str]:
        """What is so and needs no question."""
        return self.record.facts - self.open


def unsettled(
    core: Core, checklist: Checklist, rig: Rig, language: Language, folder: Path, *,
    anew: bool = False,
) -> Unsettled | None:
    """None where all is settled that this checklist has to know of the rig; with `anew` everything
    is asked all the same."""
    last = latest(folder, rig.name)
    open_ = frozenset(state_facts(core, checklist, rig)) if anew else (
        open_facts(core, checklist, rig, last))
    if not open_:
        return None
    record = record_for(checklist, rig, last)
    questions = state_questions(core, checklist, rig, language, open_, record.facts)
    wording = Wording(checklist, language)
    danger = broken_rule(checklist, record.facts) if last and not last.faults else None
    return Unsettled(checklist, rig, open_, tuple(questions), last, record,
                     _why(wording, checklist, rig, last, danger))


def _why(
    wording: Wording, checklist: Checklist, rig: Rig, last: SessionFile | None,
    danger: NeverRule | None,
) -> str:
    """Why it is asked, after the danger that stands."""
    told = [sentence(danger.because), sentence(danger.now)] if danger else []
    if last is None:
        told.append(wording.say("first.contact").text)
    elif last.faults:
        told.append(wording.say("first.not believed").text)
    elif changed := changed_traits(checklist, rig, last):
        told.append(wording.say("first.rig changed", facts=wording.clauses(changed, 99)).text)
    else:
        told.append(wording.say("first.new facts").text)
    return " ".join(told)


def settle(core: Core, asked: Unsettled, yes: Iterable[str], folder: Path) -> dict[str, bool]:
    """Write down what the answers settle, as a session of its own; the facts that it settles.

    It is a single line: what is settled must not be on record without how.

    Args:
        yes: ids of the questions that were answered with yes.

    Raises:
        InputError, StorageError: the folder cannot be written.
    """
    checklist, rig, last = asked.checklist, asked.rig, asked.last
    so = settled_by(core, checklist, rig, asked.questions, frozenset(yes), asked.open, asked.known)
    so |= _as_on_the_road(core, asked)
    before = last.settled if last else frozenset()
    settled = before - superseded(before, checklist.several) | frozenset(so)
    facts = asked.record.facts - set(so) | {name for name in so if so[name]}
    log = journal.Journal(next_path(folder, CHECKLIST))
    try:
        log.write(lines.BegunAside(
            CHECKLIST, CHECKLIST, "", checklist.language, facts, (), (lines.Closed(()),),
            session=str(uuid.uuid4()), clock=str(uuid.uuid4()), rig=rig.name, place="", engine="",
            program=__version__, rehearsal=False, known=asked.record.known, settled=settled,
            traits=rig.has, asked=frozenset(asked.open),
            faults=tuple(map(str, last.faults)) if last else ()), 0.0)
    finally:
        log.close()
    return so


def _as_on_the_road(core: Core, asked: Unsettled) -> dict[str, bool]:
    """Facts that this rig cannot have, or not any more, whatever the record says."""
    core = core.of(asked.checklist.several)
    changed = {literal.fact for literal in changed_traits(
        asked.checklist, asked.rig, asked.last)} if asked.last else set()
    everything = asked.last is None or bool(asked.last.faults)
    return {name: fact.start for name, fact in asked.checklist.facts.items()
            if fact.origin in (Origin.STATE, Origin.GEAR)
            and (condition := core.of_rig.get(name)) is not None
            and not condition.holds(asked.rig.has)
            and (everything or condition.names() & changed)}


