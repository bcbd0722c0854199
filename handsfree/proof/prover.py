"""`prove`: every order of events of a stay, in one call.

May import the checklist model and this room.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from types import ModuleType

from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.proof import completion, safety, static_checks
from handsfree.proof.findings import Budget, BudgetSpent, Finding, OrderCount, Report
from handsfree.proof.orders import count_orders
from handsfree.proof.reachability import walked
from handsfree.proof.state_space import Space, Work, open_space
from handsfree.proof.stay import Stay

Extra = Callable[[Checklist], Iterable[Finding]]
"""Findings about a checklist from elsewhere, e.g. responses that sound alike."""


def prove(
    checklists: Sequence[Checklist],
    rig: Rig | None = None,
    *,
    context: Sequence[Checklist] = (),
    extra: Extra | None = None,
    budget: Budget | None = None,
    finishing: bool = True,
    count: bool = True,
) -> Report:
    """Prove the checklists over every order of events of a whole stay.

    Args:
        checklists: what findings are wanted about.
        rig: fixes the traits; without it the proof is for every rig.
        context: further checklists of the same stay, whose orders count but not their findings
            (one that has the id of a given one is left out).
        extra: called with each checklist for findings from elsewhere.
        budget: what may be spent; beyond it the report says 'unproved' and is not sound.
        finishing: also prove that every step can be reached, every checklist closed and all gear
            brought back.  Without it one checklist of several can be proved alone: never rules
            and alarms only, over every record.
        count: also count the complete orders of each checklist, and the states.
    """
    began = time.process_time()
    budget = budget or Budget()
    stay = Stay.of(checklists, context, rig)
    findings: list[Finding] = []
    records, reachable = 0, None
    space = open_space(stay, budget)
    try:
        records = space.count(safety.sound_records(space))
        findings.extend(_safety(space))
        if finishing:
            findings.extend(_finishing(space, safe=not findings))
    except BudgetSpent as spent:
        findings.append(_unproved(stay, budget, str(spent)))
    except (MemoryError, RuntimeError) as problem:  # how the diagrams say that memory is spent
        if isinstance(problem, RuntimeError) and "memory" not in str(problem):
            raise
        findings.append(_unproved(stay, budget, "memory"))
    for checklist in checklists:
        findings.extend(static_checks.remedy_loops(checklist))
        if extra is not None:
            findings.extend(extra(checklist))
    if finishing:
        findings.extend(static_checks.unused(stay))
    findings.extend(static_checks.disagreements(stay))
    seconds, work = time.process_time() - began, budget.work - space.work.left
    if count:
        reachable = _reachable(space, budget.counting_work)
    orders: dict[str, OrderCount] = {}
    if count:
        orders = {checklist.id: count_orders(checklist, rig, most_states=budget.order_states)
                  for checklist in checklists}
    return Report(
        checklists=tuple(checklist.id for checklist in checklists),
        findings=tuple(findings),
        steps=sum(len(checklist.steps) for checklist in checklists),
        facts=len(stay.facts), rules=len(stay.rules) + len(stay.conduct),
        changes=len(stay.forward) + len(stay.backward),
        records=records, reachable=reachable, orders=orders, seconds=seconds,
        work=work)


def _telling() -> ModuleType:
    """What says findings in words; imported for them only, since it brings the wording with it."""
    from handsfree.proof import reporting

    return reporting


def _safety(space: Space) -> Iterator[Finding]:
    """Never rules that can be broken, alarms that cannot be ended."""
    stay = space.stay
    for rule in stay.rules:
        if space.start() & space.where(rule.when) != space.none:
            yield _telling().broken_start(space, rule)
    for breach in safety.breaches(space):
        yield _telling().breach(space, breach)
    for breach in safety.unwatched(space):
        yield _telling().unwatched(space, breach)
    for checklist in stay.checklists:
        endless = safety.endless_alarms(space, checklist)
        if endless != space.none:
            yield _telling().endless_alarm(space, checklist, endless)


def _finishing(space: Space, safe: bool) -> Iterator[Finding]:
    """Steps, closings and gear that cannot be got to; `safe` says that no rule can be broken."""
    safely = completion.Safely(space) if safe else None
    met = walked(space.stay)
    for checklist in space.stay.given:
        for step, blame in completion.never_permitted(space, checklist, met, safely):
            yield _telling().never_permitted(space, checklist, step, blame)
        stuck = completion.dead_end(space, checklist, safely)
        if stuck is not None:
            yield _telling().dead_end(stuck, checklist)
        for gear, states in completion.lost_gear(space, checklist, safely):
            yield _telling().lost_gear(space, checklist, gear, states)


def _unproved(stay: Stay, budget: Budget, spent: str) -> Finding:
    """The proof was not completed."""
    much = (f"more than {budget.bytes // 1_000_000} MB" if spent == "memory" else
            f"more than {budget.work // 1_000_000} million nodes of diagrams")
    mend = "" if spent == "memory" else "allow more with --nodes, or "
    return Finding(
        "unproved", f"the proof would take {much}, so nothing counts as proved; {mend}"
        "prove fewer checklists at a time.", stay.given[0].file, 1)


def _reachable(space: Space, work: int) -> int | None:
    """How many combinations of facts can be reached, unless counting them takes too much."""
    space.work = Work(work)
    try:
        return space.count(space.reach([*space.stay.forward, *space.stay.backward], space.start()))
    except (BudgetSpent, MemoryError, RuntimeError):
        return None
