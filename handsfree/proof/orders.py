"""How many complete orders a checklist permits: every step that applies done once, to the end.

Pure.  May import the checklist model and the table of changes.  Memoised over (steps done,
facts), group by group: steps that share no changing fact interleave freely, so the orders of two
groups, a and b steps long, combine in (a + b choose a) ways.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from math import comb

from handsfree.checklist.conditions import Condition, conjuncts
from handsfree.checklist.model import Checklist, Origin, Step, answered_fact
from handsfree.checklist.rig_file import Rig
from handsfree.engine import changes
from handsfree.engine.changes import Change, Facts
from handsfree.proof.findings import OrderCount

ByLength = dict[int, int]
"""Number of steps done -> number of orders."""


class _TooMany(Exception):
    """The budget of states is spent."""


def count_orders(
    checklist: Checklist, rig: Rig | None = None, *, most_states: int = 5_000
) -> OrderCount:
    """Complete orders from a rig that nothing is recorded about.

    Each order reports every step of the list that applies, exactly once, until none is left and
    `closes` holds; a site question counts once for each answer.  Failures, taking back and
    remedies are left out.  Without a rig, the rig has every trait.  Where `most_states` do not
    suffice for a group of steps, only those orders are counted that seldom take another step than
    the first possible one: a lower bound.
    """
    traits = {name for name, fact in checklist.facts.items() if fact.origin is Origin.TRAIT}
    has = traits if rig is None else traits & rig.has
    start = changes.begin(checklist).apply(checklist.start_facts | frozenset(has))
    whole: ByLength = {0: 1}
    exact = True
    for group in _groups(checklist, start):
        lengths, complete = group.count(most_states)
        exact = exact and complete
        whole = _interleaved(whole, lengths)
    return OrderCount(sum(whole.values()), exact)


def _interleaved(one: ByLength, other: ByLength) -> ByLength:
    joined: ByLength = {}
    for a, many in one.items():
        for b, more in other.items():
            joined[a + b] = joined.get(a + b, 0) + many * more * comb(a + b, a)
    return joined


@dataclass
class _Group:
    """Steps that share changing facts, in the order of the list."""

    steps: list[Step]
    start: Facts
    closes: list[Condition] = field(default_factory=list)

    def count(self, most_states: int) -> tuple[ByLength, bool]:
        """Orders by length, and whether these are all."""
        every = len(self.steps) ** 2
        try:
            return self._ahead(most_states, every), True
        except _TooMany:
            pass
        best: ByLength = {}
        for liberties in range(every):
            try:
                best = self._ahead(most_states, liberties)
            except _TooMany:
                break
        return best, False

    def _ahead(self, most_states: int, liberties: int) -> ByLength:
        """Orders that take another than the first possible step at most `liberties` times."""
        known: dict[tuple[int, Facts, int], ByLength] = {}
        ways = [list(_reports(step)) for step in self.steps]
        counted = liberties < len(self.steps)

        def ahead(done: int, facts: Facts, left: int) -> ByLength:
            key = (done, facts, left)
            if key in known:
                return known[key]
            if len(known) >= most_states:
                raise _TooMany
            found: ByLength = {}
            first, ended = True, True
            for place, step in enumerate(self.steps):
                if done >> place & 1 or not step.applicable.holds(facts):
                    continue
                ended = False
                if not step.needs.holds(facts):
                    continue
                cost = 0 if first or not counted else 1
                first = False
                if cost > left:
                    break
                for change in ways[place]:
                    after = ahead(done | 1 << place, change.apply(facts), left - cost)
                    for length, number in after.items():
                        found[length + 1] = found.get(length + 1, 0) + number
            if ended and all(part.holds(facts) for part in self.closes):
                found = {0: 1}
            known[key] = found
            return found

        return ahead(0, self.start, liberties)


def _reports(step: Step) -> Iterator[Change]:
    if step.question:
        yield changes.answer(step, True)
        yield changes.answer(step, False)
    else:
        yield changes.report(step)


def _groups(checklist: Checklist, start: Facts) -> Iterator[_Group]:
    """Steps of the order, apart where no changing fact joins them."""
    steps = [checklist.steps[name] for name in checklist.order]
    changing = frozenset().union(*map(_written, steps))
    closes = conjuncts(checklist.closes)
    root: dict[str, str] = {}

    def find(name: str) -> str:
        while root.setdefault(name, name) != name:
            name = root[name]
        return name

    def join(names: Iterable[str]) -> None:
        first, *rest = names
        for name in rest:
            root[find(name)] = find(first)

    for step in steps:
        read = step.applicable.names() | step.needs.names() | _written(step)
        join([f"step {step.id}", *(f"fact {name}" for name in sorted(read & changing))])
    for part in closes:
        if part.names() & changing:
            join(f"fact {name}" for name in sorted(part.names() & changing))
    groups: dict[str, _Group] = {}
    for step in steps:
        groups.setdefault(find(f"step {step.id}"), _Group([], start)).steps.append(step)
    closing = _Group([], start)
    for part in closes:
        joined = sorted(part.names() & changing)
        group = groups[find(f"fact {joined[0]}")] if joined else closing
        group.closes.append(part)
    yield closing
    yield from groups.values()


def _written(step: Step) -> frozenset[str]:
    both = step.gives | step.ends
    return both | {step.id, answered_fact(step.id)} if step.question else both
