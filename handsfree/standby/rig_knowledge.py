"""What is known of one rig between two checklists: its lists, its record, what comes next.

May import the checklist model and loader, the engine's rules, the record, journals, language.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from handsfree.checklist.conditions import Condition, Literal
from handsfree.checklist.model import Checklist, Fact, Origin
from handsfree.checklist.rig_file import Rig
from handsfree.engine.choosing import broken_rule
from handsfree.language.statements import Clauses
from handsfree.session.correctable import tellable
from handsfree.session.settling import CHECKLIST as INTERVIEW
from handsfree.standby.next_lists import Next
from handsfree.storage import journal
from handsfree.storage.corrections import CORRECTION, NOTE
from handsfree.storage.fold import fold
from handsfree.storage.record import SessionFile, latest, session_paths, summary

HITCHED = "hitched"
"""The fact that each first question about the trailer settles."""

_NO_LISTS = frozenset({INTERVIEW, CORRECTION, NOTE})


@dataclass(frozen=True)
class Known:
    """One rig and the lists that are there for it."""

    rig: Rig
    lists: tuple[Checklist, ...]
    """Of the library and the owner's own, as loaded for this rig."""
    folder: Path
    """Where the rig's sessions lie."""
    following: Next
    possible: frozenset[str] = frozenset()
    """Facts that can be so of it."""
    of_rig: Mapping[str, Condition] = field(default_factory=dict)
    """Facts that only some rigs can have, and the traits of those."""
    broken: Mapping[str, str] = field(default_factory=dict)
    """Lists that do not load, and why."""

    @cached_property
    def facts(self) -> dict[str, Fact]:
        """Every fact that a list has."""
        found: dict[str, Fact] = {}
        for checklist in self.lists:
            for name, fact in checklist.facts.items():
                found.setdefault(name, fact)
        return found

    @cached_property
    def clauses(self) -> dict[str, Clauses]:
        """What can be on record of this rig, and how it is told."""
        return tellable(self.lists, self.rig.has, self.possible)

    @cached_property
    def lacking(self) -> dict[str, Clauses]:
        """What can never be so of this rig, which has nothing of the kind."""
        return {name: Clauses(fact.says, fact.otherwise) for name, fact in self.facts.items()
                if name in self.of_rig and not self.of_rig[name].holds(self.rig.has)}

    def titled(self, checklist: str) -> str:
        """A list's title; its name where it is not there any more."""
        return next((one.title for one in self.lists if one.id == checklist), checklist)

    def lacks(self, fact: str) -> str:
        """What the rig would need for it, where that is one thing; '' otherwise."""
        wanted = self.of_rig[fact]
        return wanted.fact if isinstance(wanted, Literal) and wanted.wanted else ""

    def now(self) -> Standing:
        """What the record says at this moment."""
        return Standing(self, latest(self.folder, self.rig.name))


@dataclass(frozen=True)
class Standing:
    """How the rig stands by the record."""

    known: Known
    last: SessionFile | None

    @property
    def believed(self) -> bool:
        """Whether there is a record, and it is as it was written."""
        return self.last is not None and not self.last.faults

    @cached_property
    def facts(self) -> frozenset[str]:
        """What is so."""
        traits = self.known.rig.has
        if self.last is None:
            return traits | {fact.name for fact in self.known.facts.values() if fact.start}
        spoken = self.last.known
        return traits | self.last.facts | {
            fact.name for fact in self.known.facts.values() if fact.start
            and fact.name not in spoken and fact.origin is not Origin.TRAIT}

    def settled(self, fact: str) -> bool:
        """Whether somebody has said how it is."""
        return self.believed and self.last is not None and fact in self.last.settled

    @property
    def told(self) -> bool:
        """Whether somebody has said how the trailer stands: whoever is asked says whether it is
        hitched up, whatever the rig."""
        return HITCHED not in self.known.facts or self.settled(HITCHED)

    def out(self) -> list[str]:
        """Gear that is out, and what else sticks out, in words."""
        more = self.known.following.out
        more |= {one for checklist in self.known.lists for name in more
                 for one in checklist.several.get(name, ())}
        return [fact.says or fact.name for fact in self.known.facts.values()
                if fact.name in self.facts and (
                    fact.origin is Origin.GEAR or fact.name in more & self.known.clauses.keys())]

    @property
    def unfinished(self) -> str:
        """The list that can be gone on with; '' for none."""
        return self.last.checklist if self.last and not self.last.ended else ""

    def danger(self) -> tuple[str, str] | None:
        """(why, what to do now) of a never rule that is broken."""
        if self.last is None:
            return None
        for checklist in self.known.lists:
            if rule := broken_rule(checklist, self.facts):
                return rule.because, rule.now
        return None

    def last_list(self) -> tuple[str, bool] | None:
        """The list that was run last, and whether it was completed with nothing left open."""
        for path in reversed(session_paths(self.known.folder)):
            if path.stem.split("-", 1)[-1] in _NO_LISTS:
                continue
            if (found := summary(path)) is None or found.rehearsal:
                continue
            end = fold(journal.read(path).lines).closed
            return found.checklist, bool(found.ended and end and not end.open)
        return None

    def coming(self) -> tuple[str, str]:
        """The list that comes next, and its sentence where the one before is complete; '' twice
        where nothing is known to come."""
        if (last := self.last_list()) is None:
            return "", ""
        name, whole = last
        then, says = self.known.following.after(name, self.facts)
        return then, says if whole else ""

