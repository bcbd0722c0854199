"""What has to be settled before any checklist: how the trailer stands, and what of that is open.

May import the checklist model and its first questions, the file's values, the record, language and
wording.  The questions come from `checklists/core/interview.yaml` and from the facts of the
checklist at hand; a fact that the file does not know is asked by its own clause.

Open is what nobody has said yet: everything at first contact and after a record that cannot be
believed; what hangs on a trait that the rig file has been given since; facts that are new to a
checklist.  Facts that a rig cannot have stay as on the road.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from handsfree.checklist.called import called
from handsfree.checklist.conditions import (
    ALWAYS,
    NEVER,
    All,
    AnyOf,
    Condition,
    Literal,
    both,
    opposite,
)
from handsfree.checklist.model import Checklist, Fact, Origin, Travel
from handsfree.checklist.rig_file import Rig
from handsfree.checklist.rig_questions import Question
from handsfree.language.model import Language
from handsfree.session.state_questions_file import Core, Group
from handsfree.session.wording import Wording, sentence
from handsfree.storage.record import SessionFile

ROAD, CAMP = "ready for the road", "all set up"
"""The two questions that may settle everything but its reading out."""

MOST_ITEMS = 9
"""So many items are read out in one go."""

MANY = 10
"""Of so many open facts it is asked first whether they are ready for the road, or all set up."""

# --- what is open -------------------------------------------------------------------------------

def state_facts(core: Core, checklist: Checklist, rig: Rig) -> dict[str, Fact]:
    """The facts of this checklist that have to be known of this rig, in the checklist's order.

    Gear, and what the road asks about; of the file's own facts all that it names.  Fresh facts are
    looked at anew in every checklist and are no part of it.
    """
    core = core.of(checklist.several)
    touched = _touched(checklist)
    about_road = any(fact.travel is not Travel.EITHER for fact in checklist.facts.values())
    found = {}
    for name, fact in checklist.facts.items():
        if fact.origin not in (Origin.STATE, Origin.GEAR) or fact.fresh:
            continue
        matters = fact.origin is Origin.GEAR or fact.travel is not Travel.EITHER
        if name in core.names:
            wanted = core.of_rig.get(name, ALWAYS).holds(rig.has) and (matters or about_road)
        else:
            wanted = matters and any(where.holds(rig.has) for where in touched.get(name, ()))
        if wanted:
            found[name] = fact
    return found


def _touched(checklist: Checklist) -> dict[str, list[Condition]]:
    """Fact: what a rig must have for each step that changes it."""
    found: dict[str, list[Condition]] = {}
    for step in checklist.steps.values():
        for name in step.gives | step.ends:
            found.setdefault(name, []).append(checklist.traits_wanted[step.id])
    return found


def changed_traits(checklist: Checklist, rig: Rig, last: SessionFile) -> tuple[Literal, ...]:
    """Traits that the rig file gives otherwise than when the record was settled."""
    traits = [name for name, fact in checklist.facts.items() if fact.origin is Origin.TRAIT]
    then = last.facts if last.traits is None else last.traits
    return tuple(Literal(name, name in rig.has) for name in traits
                 if (name in rig.has) is not (name in then))


def open_facts(
    core: Core, checklist: Checklist, rig: Rig, last: SessionFile | None
) -> frozenset[str]:
    """The facts that somebody has to speak of before this checklist can begin."""
    core = core.of(checklist.several)
    facts = state_facts(core, checklist, rig)
    if last is None:
        return frozenset(facts)
    changed = frozenset(literal.fact for literal in changed_traits(checklist, rig, last))
    touched = _touched(checklist)

    def hangs(name: str) -> bool:
        if name in core.names:
            return bool(core.of_rig.get(name, ALWAYS).names() & changed)
        return any(where.names() & changed for where in touched.get(name, ()))

    return frozenset(name for name in facts if name not in last.settled or changed and hangs(name))


# --- asking -------------------------------------------------------------------------------------

@dataclass(frozen=True)
class StateQuestion(Question):
    """A question whose answers settle facts; the two clauses are read back, if there are any."""

    yes: tuple[Literal, ...] = ()
    no: tuple[Literal, ...] = ()
    says: str = ""
    otherwise: str = ""
    listed: bool = False
    """It reads out a list: one short word is too little to agree to it."""


def state_questions(
    core: Core, checklist: Checklist, rig: Rig, language: Language, open_: frozenset[str],
    facts: frozenset[str],
) -> list[StateQuestion]:
    """What to ask, in order; each `only_if` is over the questions before it.

    Args:
        open_: facts that have to be settled.
        facts: what is so of the others.
    """
    asked = _Asking(core.of(checklist.several), checklist, rig, language, open_, facts).questions()
    return [replace(one, text=called(one.text, checklist.calls), says=called(one.says, checklist.calls),
                    otherwise=called(one.otherwise, checklist.calls)) for one in asked]


class _Asking:
    """Puts the questions together."""

    def __init__(
        self, core: Core, checklist: Checklist, rig: Rig, language: Language,
        open_: frozenset[str], facts: frozenset[str],
    ) -> None:
        self._core, self._checklist, self._facts = core, checklist, facts
        self._wording = Wording(checklist, language)
        self._own = core.language == language.code
        self._wanted = state_facts(core, checklist, rig)
        self._open = {name: fact for name, fact in self._wanted.items() if name in open_}
        self._asked: list[StateQuestion] = []

    def questions(self) -> list[StateQuestion]:
        """All of them."""
        groups = [group for one in self._groups() if (group := self._of_rig(one)).facts]
        whole = len(self._open) >= MANY or len(self._open) > 1 and (
            set(self._open) == set(self._wanted))
        denied: dict[str, Condition] = dict.fromkeys((group.id for group in groups), ALWAYS)
        if whole:
            road, camp = Literal(ROAD), Literal(CAMP)
            self._yes_no(ROAD, self._say("road"))
            self._yes_no(CAMP, self._say("camp"), opposite(road))
            for chunk in _chunks(groups, self._items):
                self._read_out(f"{_joined(chunk)} on the road", chunk, road)
            camps = [replace(group, road=(), road_says="") for group in groups if group.camp]
            for chunk in _chunks(camps, self._items):
                self._read_out(f"{_joined(chunk)} set up", chunk, camp)
            neither = both(opposite(road), opposite(camp))
            for group in groups:
                if len(group.facts) > 1:
                    so = self._read_out(f"{group.id} road", [group], neither)
                    if group.camp:
                        self._read_out(f"{group.id} camp", [replace(group, road=(), road_says="")],
                                       both(neither, opposite(so)))
            for group in groups:
                denied[group.id] = both(*(opposite(Literal(question.id)) for question in self._asked
                                          if {literal.fact for literal in question.yes}
                                          & group.facts))
        for group in groups:
            for name in sorted(group.facts, key=self._place):
                self._single(name, denied[group.id])
        grouped = frozenset().union(*(group.facts for group in groups))
        for name in self._open:
            if name not in grouped:
                self._single(name, ALWAYS)
        return self._asked

    def _groups(self) -> Iterator[Group]:
        yield from self._core.groups
        rest = [fact for name, fact in self._open.items() if name not in self._core.names]
        if rest:
            yield Group("rest", tuple(
                Literal(fact.name, fact.travel is Travel.MUST) for fact in rest))

    def _of_rig(self, group: Group) -> Group:
        def kept(literals: tuple[Literal, ...]) -> tuple[Literal, ...]:
            return tuple(literal for literal in literals if literal.fact in self._open)

        return Group(group.id, kept(group.road), kept(group.camp), group.road_says)

    def _place(self, name: str) -> tuple[bool, int]:
        """In the checklist's order, but after what it hangs on."""
        return name in self._core.only_if, list(self._open).index(name)

    def _items(self, group: Group) -> list[str]:
        """What is read out of a group: as on the road, or else as when set up."""
        if group.road_says and self._own:
            return [group.road_says]
        return [self._wording.clause(literal) for literal in group.road or group.camp]

    def _say(self, key: str, **values: str) -> str:
        return self._wording.say(f"first.{key}", **values).text

    def _yes_no(self, name: str, text: str, only_if: Condition = ALWAYS) -> None:
        self._asked.append(StateQuestion(name, text, only_if))

    def _read_out(self, name: str, groups: Sequence[Group], only_if: Condition) -> Literal:
        clauses = [clause for group in groups for clause in self._items(group)]
        text = self._say("so now", clause=clauses[0]) if len(clauses) == 1 else self._say(
            "all so", items=" ".join(sentence(clause) for clause in clauses))
        self._asked.append(StateQuestion(
            name, text, only_if, listed=True,
            yes=tuple(literal for group in groups for literal in group.road or group.camp)))
        return Literal(name)

    def _single(self, name: str, denied: Condition) -> None:
        so, not_so = Literal(name), Literal(name, False)
        only_if = both(denied, self._told(self._core.only_if.get(name, ALWAYS)))
        if only_if == NEVER:
            return
        says = self._wording.clause(so)
        self._asked.append(StateQuestion(
            name, self._say("so now", clause=says), only_if, likely=name in self._facts,
            yes=(so,), no=(not_so,), says=says, otherwise=self._wording.clause(not_so)))

    def _told(self, condition: Condition) -> Condition:
        """A condition over facts as one over the answers so far."""
        if isinstance(condition, Literal):
            if condition.fact not in self._checklist.facts:
                return ALWAYS
            if condition.fact not in self._open:
                return ALWAYS if condition.holds(self._facts) else NEVER
            ways = AnyOf(tuple(Literal(question.id) for question in self._asked
                               if Literal(condition.fact) in question.yes))
            return ways if condition.wanted else opposite(ways)
        assert isinstance(condition, (All, AnyOf))
        return type(condition)(tuple(map(self._told, condition.parts)))


def _chunks(
    groups: Sequence[Group], items: Callable[[Group], list[str]]
) -> Iterator[list[Group]]:
    """Neighbouring groups together, as long as they have few items."""
    chunk: list[Group] = []
    count = 0
    for group in groups:
        own = len(items(group))
        if chunk and count + own > MOST_ITEMS:
            yield chunk
            chunk, count = [], 0
        chunk.append(group)
        count += own
    if chunk:
        yield chunk


def _joined(groups: Iterable[Group]) -> str:
    return " and ".join(group.id for group in groups)


def settled_by(
    core: Core, checklist: Checklist, rig: Rig, questions: Iterable[StateQuestion],
    yes: frozenset[str], open_: frozenset[str], facts: frozenset[str],
) -> dict[str, bool]:
    """What the answers say of each open fact.

    Args:
        yes: ids of the questions that were answered with yes.
        facts: what is so of the facts that are not open.
    """
    core = core.of(checklist.several)
    wanted = [name for name in state_facts(core, checklist, rig) if name in open_]
    so: dict[str, bool] = {}
    for question in questions:
        if question.only_if.holds(yes):
            for literal in question.yes if question.id in yes else question.no:
                so[literal.fact] = literal.wanted
    now = {name for name in facts if name not in open_} | {name for name in so if so[name]}
    for when, then in core.follows:
        if when.names() <= set(so) | (set(checklist.facts) - open_) and when.holds(now):
            for literal in then:
                if literal.fact in wanted:
                    so[literal.fact] = literal.wanted
    return {name: so.get(name, False) for name in wanted}
