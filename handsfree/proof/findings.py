"""What a proof says: findings, their dialogues, counts, and the budget that it keeps.

Pure.  Imports nothing of ours.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Line:
    """One line of a dialogue; `who` is 'you' (the operator), 'it' (the program) or 'note'."""

    who: str
    text: str

    def __str__(self) -> str:
        return f"({self.text})" if self.who == "note" else f"{self.who}: {self.text}"


KINDS: dict[str, str] = {
    "never rule": "an order of events breaks a never rule and no interlock stops it",
    "alarm": "once broken, a never rule can stay broken",
    "unwatched": "a checklist can break a never rule that it does not know",
    "dead end": "a checklist can get to where it can no longer be closed",
    "unreachable": "no order of events leads to the step",
    "unsatisfiable": "no order of events meets this interlock",
    "gear": "gear that is out can get to where it can no longer come back",
    "cannot fail": "a test has no way to come out as no",
    "failed and so": "failing settles the very fact that succeeding would have settled",
    "stop undone": "a verdict that says do not leads on to what it forbids",
    "bare done": "a fact that a never rule hangs on is settled by a mere 'done'",
    "undeclared motion": "a challenge says that something moves and declares nothing",
    "unexplained rule": "a never rule, or a part of it, that no hazard explains",
    "open hazard": "a hazard that no never rule covers",
    "unexplained interlock": "an interlock that no never rule hangs on",
    "unexplained lifetime": "evidence ends by something that no hazard speaks of",
    "idle motion": "a motion or exposure that no rule speaks of, or that no step does",
    "unspoken motion": "a step does what moves or exposes, and its challenge does not say so",
    "unguarded motion": "something moves by its own power, unwarned or without both operators",
    "unused": "a fact is declared and never mentioned",
    "remedy loop": "a remedy leads back into itself",
    "disagreement": "two checklists declare one fact differently",
    "alike": "two phrases that may be said at one moment sound alike",
    "too long": "a challenge is too long to be held in memory",
    "start alike": "two challenges begin with the same words",
    "double negative": "a challenge negates twice in one clause",
    "no limit": "a value is read and nothing judges it",
    "unproved": "the budget was spent before the proof was complete",
}
"""Every kind of finding, and what it means."""


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong: `message` is a sentence and its mend; `line` 0 is unknown.

    `subject` is the id of the step (or the name of the fact) that it is about, `rule` the never
    rule; `ring` says which events it takes: 1 forward orders, 2 also taking back, 3 a record that
    was corrected.  `dialogue` is the shortest order that leads there.
    """

    kind: str
    message: str
    file: str = ""
    line: int = 0
    dialogue: tuple[Line, ...] = ()
    subject: str = ""
    rule: str = ""
    ring: int = 0

    def __str__(self) -> str:
        where = f"{self.file}, line {self.line}: " if self.line else f"{self.file}: "
        return (where if self.file else "") + self.message


@dataclass(frozen=True)
class Budget:
    """What a proof may spend; when it is spent, nothing counts as proved.

    Counted in what is done, never in time: a verdict is the same on a slow or busy machine.
    """

    work: int = 200_000_000
    """Nodes of all decision diagrams that the operations of the proof come to."""
    bytes: int = 400_000_000
    """Memory of the decision diagrams."""
    counting_work: int = 1_000_000
    """As `work`, for counting the states that can be reached, which proves nothing more."""
    order_states: int = 5_000
    """States visited for counting the complete orders of one checklist."""


@dataclass(frozen=True)
class OrderCount:
    """How many complete orders a checklist permits; not `exact`: at least so many."""

    number: int
    exact: bool = True

    def __str__(self) -> str:
        number = f"{self.number:,}" if self.number < 10**12 else f"{float(self.number):.2e}"
        return number if self.exact else f"more than {number}"


@dataclass(frozen=True)
class Report:
    """The outcome of a proof.

    `records` counts the combinations of facts, traits included, that break no rule: the proof is
    about each of them.  `reachable` counts those combinations that orders and taking back can
    lead to (None: not counted), `orders` the complete orders of each checklist.  `seconds` is the
    processor time of the proof without the counting, `work` as in `Budget`.
    """

    checklists: tuple[str, ...]
    findings: tuple[Finding, ...] = ()
    steps: int = 0
    facts: int = 0
    rules: int = 0
    changes: int = 0
    records: int = 0
    reachable: int | None = None
    orders: dict[str, OrderCount] = field(default_factory=dict)
    seconds: float = 0.0
    work: int = 0

    @property
    def sound(self) -> bool:
        return not self.findings


class BudgetSpent(Exception):
    """Internal: caught by `prove`, which then reports 'unproved'."""
