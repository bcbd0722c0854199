"""A checklist as frozen values: what the engine runs, the prover proves and the voice speaks.

Pure.  May import conditions only.  Facts are named by plain words; gear that is out is a fact
too (``gear_fact("water hose") == "water hose out"``), and so is a question that was answered.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property

from handsfree.checklist.conditions import (
    ALWAYS,
    NEVER,
    All,
    Condition,
    Literal,
    both,
    conjuncts,
    literals,
)


class Origin(Enum):
    """Where the truth of a fact comes from."""

    STATE = "state"        # steps establish and end it
    GEAR = "gear"          # steps put it out and bring it back
    TRAIT = "trait"        # the rig file says so; it never changes while a checklist runs
    SITE = "site"          # a site question answers it
    ANSWERED = "answered"  # whether a site question has been answered


class Travel(Enum):
    """What the road asks of a fact."""

    EITHER = "either"
    MUST = "must be so"
    MUST_NOT = "must not be so"


@dataclass(frozen=True)
class Evidence:
    """How long something that somebody looked at, tested or read may be relied on.

    It ends after `minutes` (nought: time alone does not end it), unless `unless` holds then; when
    a session is resumed; and by what is one of its `voids`: an act, a fact that changes by whatever
    means, or one of `FOR_THE_ROAD` and `GOING_INSIDE`.  What is `lasting` goes over to the next
    session as well, if the record tells of its report within that time (`storage.lasting`).
    """

    minutes: float = 0.0
    voids: frozenset[str] = frozenset()
    unless: Condition = NEVER
    lasting: bool = False


FOR_THE_ROAD, GOING_INSIDE = "anything going out or coming in", "anybody going inside"
"""What makes evidence void, besides acts and facts: any fact of which the road asks something; a
step inside."""

TIME = "time"
"""What ends evidence, where a hazard speaks of its `minutes`."""


@dataclass(frozen=True)
class Act:
    """Something that moves, or a kind of work that exposes somebody, while a step is done.

    A rule may speak of it (`NeverRule.during`), and then holds for each step that declares it.
    """

    name: str
    says: str
    motion: bool = True
    """Something moves; otherwise it is work that exposes a person."""
    powered: bool = False
    """By its own power: a motor, an engine or gravity, so that it does not stop by itself."""
    clear: str = ""
    """Where nobody may stand; spoken as the caution of a step that has none."""
    together: bool = False
    """Both operators have to agree, when there are two."""
    words: str = ""
    """A regular expression: a challenge that it matches says that this moves."""


@dataclass(frozen=True)
class Fact:
    """Something true or false of rig or site; `says` and `otherwise` are spoken clauses."""

    name: str
    origin: Origin = Origin.STATE
    start: bool = False
    says: str = ""
    otherwise: str = ""
    travel: Travel = Travel.EITHER
    fresh: bool = False
    """Forgotten whenever a checklist begins, because it may have changed meanwhile."""
    evidence: Evidence | None = None
    """It rests on somebody having looked, tested or read, and ends as this says."""
    count: int = 1
    """How many pieces, for gear."""
    ask: str = ""
    """The question that settles it, for traits and site questions."""


def voided(facts: Mapping[str, Fact], happens: Collection[str]) -> frozenset[str]:
    """The evidence that no longer counts once this has happened: acts, facts that have changed."""
    road = any(facts[name].travel is not Travel.EITHER for name in happens if name in facts)
    causes = {*happens, FOR_THE_ROAD} if road else set(happens)
    return frozenset(name for name, fact in facts.items()
                     if fact.evidence and not fact.evidence.voids.isdisjoint(causes))


@dataclass(frozen=True)
class NeverRule:
    """A combination of facts that must not occur in any order of events.

    With `during` it speaks of what somebody does, not of how things are: no step that does one of
    these acts may be started or reported while `when` holds.  Such a rule has no immediate action.
    """

    id: str
    when: Condition
    because: str
    now: str = ""
    """The immediate action, spoken when a correction shows that the rule is broken."""
    respond: str = ""
    """What the operator answers once the danger is over."""
    gives: frozenset[str] = frozenset()
    ends: frozenset[str] = frozenset()
    during: frozenset[str] = frozenset()
    """Acts that it forbids while `when` holds; empty for a rule about how things are."""
    also: tuple[str, ...] = ()
    """Other wordings of `respond` that count, and are never asked for."""
    line: int = field(default=0, compare=False)  # written out in two files it is one rule
    file: str = field(default="", compare=False)

    @property
    def responses(self) -> tuple[str, ...]:
        """Every wording of the answer, the one that is asked for first."""
        return (self.respond, *self.also)


@dataclass(frozen=True)
class Reading:
    """A measured value; `low` and `high` are inclusive limits in `unit` (None: no limit)."""

    unit: str
    low: float | None = None
    high: float | None = None
    called: str = ""
    """Name by which sums of later steps find it."""
    limits: tuple[str, ...] = ()
    """Names of the rig's numbers that `low` and `high` are."""
    kept: str = ""
    """The unit of the file, in which sums take it, where the rig is asked in another system."""

    def band(self, value: float) -> str:
        """'low', 'within' or 'high'."""
        if self.low is not None and value < self.low:
            return "low"
        if self.high is not None and value > self.high:
            return "high"
        return "within"


@dataclass(frozen=True)
class Wait:
    """A step is due so many minutes after another one, of the same order, was reported.

    It is advice about when, never an interlock: the step can be gone to at any time.
    """

    after: str
    minutes: float


@dataclass(frozen=True)
class Step:
    """One thing to do, or one site question (`question` true: answered yes or no).

    A step with `respond` is a hold point.  It is *applicable* while `only_if` holds and all that
    it ends is so; it is *permitted* when, besides, its interlock `needs` holds.
    """

    id: str
    do: str
    detail: str = ""
    why: str = ""
    caution: str = ""
    place: str = ""
    role: str = ""
    respond: str = ""
    names: tuple[str, ...] = ()
    needs: Condition = ALWAYS
    """The interlock: its own, what the rules about its acts ask for, and `after`."""
    after: Condition = ALWAYS
    """The part of `needs` that is mere order of work: nobody is hurt where it is not so."""
    own: Condition = ALWAYS
    """What its own file asks for under `needs`; the rest comes from rules about its acts."""
    only_if: Condition = ALWAYS
    gives: frozenset[str] = frozenset()
    ends: frozenset[str] = frozenset()
    reading: Reading | None = None
    rough: str = ""
    """Of a reading that need not be exact, so that it may be answered with that of last time: what
    is measured."""
    remedy: str = ""
    stop: str = ""
    """The remedy after a verdict that says do not, where another one follows a mere failure."""
    sum: str = ""
    """What is worked out here; one of `sums.SUMS`."""
    acts: frozenset[str] = frozenset()
    """What moves, and the work that exposes somebody, while it is done; names of `Act`s."""
    voids: frozenset[str] = frozenset()
    """Evidence that no longer counts once it is done (or taken back)."""
    readback: bool = True
    """Its response is read back before it counts: a slip could hurt somebody."""
    section: str = ""
    """What the work that it belongs to is called: 'the water'; '' if it has no name."""
    by_heart: bool = False
    """It may be reported together with others: no grave hazard hangs on it, and it is no evidence."""
    must: bool = False
    wait: Wait | None = None
    question: bool = False
    recalled: tuple[str, ...] = ()
    """Of a question that a place is remembered by: how yes and how no is told."""
    rigs_own: bool = False
    """Its answer hangs on the rig as well as on the place."""
    item: str = ""
    """Of several that a rig has, the name of the one that it is about; see `several`."""
    base: str = ""
    """The id in the file, then."""
    minutes: tuple[float, float, float] = (0.5, 1.0, 2.0)
    """Expected time: optimistic, most likely, pessimistic."""
    also: tuple[str, ...] = ()
    """Other wordings of `respond` that count, and are never asked for."""
    line: int = 0
    file: str = ""

    @property
    def hold(self) -> bool:
        return bool(self.respond)

    @property
    def responses(self) -> tuple[str, ...]:
        """Every wording of its response, the one that is asked for first; none if it has none."""
        return (self.respond, *self.also) if self.respond else ()

    @property
    def kind(self) -> str:
        """How it is answered: 'question', 'reading', 'hold' (by its own response) or 'step'."""
        return ("question" if self.question else "reading" if self.reading
                else "hold" if self.hold else "step")

    @property
    def tests(self) -> bool:
        """Whether it asks, tests, looks or reads, so that the answer may be no."""
        return not self.question and (
            self.reading is not None or self.do.rstrip().endswith("?"))

    @cached_property
    def spoken_names(self) -> tuple[str, ...]:
        """What it can be called by; the first is what the program calls it."""
        return tuple(dict.fromkeys((*self.names, self.id.replace("-", " "))))

    @cached_property
    def applicable(self) -> Condition:
        """`only_if`, and everything that the step ends is so."""
        return All((self.only_if, *(Literal(fact) for fact in sorted(self.ends))))

    @cached_property
    def asks_for(self) -> frozenset[Literal]:
        """What has to be so, or may have to, for it to be done."""
        return frozenset((*literals(self.needs), *literals(self.applicable)))

    @cached_property
    def outcome(self) -> frozenset[Literal]:
        """What is so once it is done."""
        return frozenset((*map(Literal, self.gives), *(Literal(f, False) for f in self.ends)))


@dataclass(frozen=True)
class Remedy:
    """What to do when a step fails, and what follows when it keeps failing."""

    id: str
    says: str
    steps: tuple[str, ...]
    tries: int = 2
    """Failures of the step after which the remedy gives up; nought: it never does."""
    gives_up: str = ""
    """Spoken when it gives up."""
    gives: frozenset[str] = frozenset()
    ends: frozenset[str] = frozenset()
    shows: frozenset[str] = frozenset()
    """Facts that the failure itself makes true, as soon as it is reported."""
    denies: frozenset[str] = frozenset()
    """Facts that the failure itself makes false: what the test was to show."""


@dataclass(frozen=True)
class Limit:
    """A number of the rig that readings refer to, e.g. the highest water pressure."""

    name: str
    default: float
    unit: str
    ask: str = ""
    only_if: Condition = ALWAYS
    """Over traits: asked only of a rig for which it holds."""


@dataclass(frozen=True)
class Unsafe:
    """One way in which a hazard comes about: in the words of the guide questions of STPA.

    `rule` names the never rule that forbids it, `when` is what the rule has to cover: a
    combination of facts (`during` an act, where it is about what somebody does).
    """

    how: str
    what: str
    rule: str
    when: Condition
    during: frozenset[str] = frozenset()
    stale: frozenset[tuple[str, str]] = frozenset()
    """(evidence, what ends it): `TIME`, or one of its `voids`."""
    line: int = 0
    file: str = ""


@dataclass(frozen=True)
class Hazard:
    """How somebody gets hurt, how bad that is, who says so, and what is left to the person."""

    id: str
    harm: str
    grave: bool
    """Death or lasting injury is likely; what guards against it is read back."""
    source: str
    unsafe: tuple[Unsafe, ...]
    left: str = ""
    """What no program can see to: what remains with the person."""
    line: int = 0
    file: str = ""


@dataclass(frozen=True)
class Checklist:
    """One phase of the job.

    `order` lists the step ids in the order in which they are offered; `steps` also holds the
    steps of remedies, which are offered when a step fails and can be gone to at any time.
    """

    id: str
    title: str
    facts: Mapping[str, Fact]
    steps: Mapping[str, Step]
    order: tuple[str, ...]
    rules: tuple[NeverRule, ...] = ()
    """About how things are: they can be broken, and then alarm."""
    conduct: tuple[NeverRule, ...] = ()
    """About what is done: they speak of acts."""
    acts: Mapping[str, Act] = field(default_factory=dict)
    hazards: tuple[Hazard, ...] = ()
    remedies: Mapping[str, Remedy] = field(default_factory=dict)
    limits: Mapping[str, Limit] = field(default_factory=dict)
    numbers: Mapping[str, float] = field(default_factory=dict)
    """Every limit's value for this rig: the rig file's, or the default."""
    closes: Condition = ALWAYS
    says: str = ""
    defers: str = ""
    closing: str = ""
    """Spoken when it is complete."""
    language: str = "en"
    file: str = ""
    digest: str = ""
    """SHA-256 of everything that was read to make it."""
    units: str = "US"
    """The system of the rig that it was loaded for: what it comes to is told in it."""
    region: str = ""
    """Whose codes count for that rig; "" where it is not known."""
    calls: Mapping[str, str] = field(default_factory=dict)
    """Word: what the rig that it was loaded for is called instead; in the program's sentences, too."""
    several: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Fact of which a rig may have several: those that it has, one or more."""
    banks: Mapping[str, str] = field(default_factory=dict)
    """Of a rig with several banks of batteries: the trait of each one's chemistry."""
    side: str = ""
    """Whose steps are offered, one of `SIDES`, when two operators share the work; '' all of them."""

    def of_bank(self, bank: str, facts: frozenset[str]) -> frozenset[str]:
        """The facts with the chemistry of this bank only; as they are for what is none."""
        return facts - set(self.banks.values()) | {self.banks[bank]} if bank in self.banks else facts

    def __hash__(self) -> int:
        return hash((self.id, self.digest))

    @cached_property
    def index(self) -> Mapping[str, int]:
        """Step id -> its place in the tuple of statuses."""
        return {step: place for place, step in enumerate(self.steps)}

    @cached_property
    def offers(self) -> tuple[str, ...]:
        """The part of `order` that is offered on this side; a step without a role is outside's."""
        return tuple(
            step for step in self.order
            if self.side in ("", self.steps[step].role or OUTSIDE) or self.steps[step].role == BOTH)

    @cached_property
    def followers(self) -> Mapping[str, tuple[str, ...]]:
        """Step id -> the steps that wait for so long after it."""
        found: dict[str, tuple[str, ...]] = {}
        for name in self.order:
            wait = self.steps[name].wait
            if wait:
                found[wait.after] = (*found.get(wait.after, ()), name)
        return found

    @cached_property
    def traits_wanted(self) -> Mapping[str, Condition]:
        """Step id -> what a rig must have for the step to exist, as far as that is joined by 'and'."""
        traits = {name for name, fact in self.facts.items() if fact.origin is Origin.TRAIT}
        return {name: both(*(part for part in conjuncts(step.only_if) if part.names() <= traits))
                for name, step in self.steps.items()}

    @cached_property
    def evidence(self) -> Mapping[str, Evidence]:
        """Fact -> how long it may be relied on, where it rests on a look, a test or a reading."""
        return {name: fact.evidence for name, fact in self.facts.items() if fact.evidence}

    @cached_property
    def guarded(self) -> frozenset[str]:
        """The facts that somebody's safety may hang on: evidence, and those of which a never rule, a
        hazard, a step's own interlock or closing speaks."""
        ways = [way for hazard in self.hazards for way in hazard.unsafe]
        return self.closes.names().union(
            self.evidence, *(rule.when.names() for rule in self.all_rules),
            *(step.own.names() for step in self.steps.values()),
            *(way.when.names() for way in ways), *((fact for fact, _ in way.stale) for way in ways))

    @property
    def all_rules(self) -> tuple[NeverRule, ...]:
        """About how things are and about what is done."""
        return (*self.rules, *self.conduct)

    def failing(self, step: Step, stopped: bool = False) -> Remedy | None:
        """What follows when the step fails, or when its sum says do not."""
        name = step.stop if stopped and step.stop else step.remedy or step.stop
        return self.remedies[name] if name else None

    @cached_property
    def start_facts(self) -> frozenset[str]:
        """What is true of a rig that nobody has recorded anything about (no traits)."""
        return frozenset(name for name, fact in self.facts.items() if fact.start)


INSIDE, OUTSIDE, BOTH = "inside", "outside", "both"
"""Roles of steps."""

SIDES = (OUTSIDE, INSIDE)
"""Where two operators are who share the work; the first has the lead."""


def gear_fact(gear: str) -> str:
    """The fact that a piece of gear is out."""
    return f"{gear} out"


def answered_fact(question: str) -> str:
    """The fact that a site question has been answered."""
    return f"{question} answered"


def ready_to_travel(facts: Mapping[str, Fact]) -> Condition:
    """All that the road asks, as one condition."""
    return All(tuple(
        Literal(fact.name, fact.travel is Travel.MUST)
        for fact in facts.values() if fact.travel is not Travel.EITHER
    ))
