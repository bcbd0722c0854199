"""Which step comes next, and what would help: questions about a state that change nothing.

Pure.  May import the checklist model, changes and state.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from handsfree.checklist.conditions import Literal, literals, possible
from handsfree.checklist.model import Checklist, NeverRule, Origin, Step, answered_fact
from handsfree.engine import changes
from handsfree.engine.state import State, Status, replace


def status(checklist: Checklist, state: State, step: str) -> Status:
    """Where the step stands."""
    return state.statuses[checklist.index[step]]


def permitted(step: Step, facts: frozenset[str]) -> bool:
    """Applicable, and its interlock is met."""
    return step.applicable.holds(facts) and step.needs.holds(facts)


def interlock(
    checklist: Checklist, step: Step, facts: frozenset[str]
) -> tuple[Literal, ...] | None:
    """Literals that keep the step from being done now; None if it does not apply at all.

    A site question that is still open counts as a part of the interlock.
    """
    unasked = step.applicable.missing(facts)
    if any(checklist.facts[literal.fact].origin is not Origin.ANSWERED for literal in unasked):
        return None
    return (*unasked, *step.needs.missing(facts))


def open_steps(checklist: Checklist, state: State) -> tuple[str, ...]:
    """Steps of the order that apply here and are not done, in order, whatever their status."""
    return tuple(
        step for step in checklist.order
        if status(checklist, state, step) is not Status.DONE
        and checklist.steps[step].applicable.holds(state.facts))


def following(checklist: Checklist, state: State) -> tuple[str, ...]:
    """The step that comes after the one at hand, if any: the next open one in the list's order, else
    the first of those that were left; what is reported until then may change it."""
    left = [step for step in open_steps(checklist, state) if step != state.at]
    order = checklist.order
    at = order.index(state.at) if state.at in order else -1
    return tuple([*(step for step in left if order.index(step) > at), *left][:1])


def next_step(checklist: Checklist, state: State) -> tuple[str, str]:
    """(step, why again) to offer next: the first open one, then the skipped; ('', '') if none."""
    if state.remedies:
        for step in inner(checklist, state):
            if (status(checklist, state, step) is Status.OPEN
                    and permitted(checklist.steps[step], state.facts)):
                return step, ""
    due = ((step, "due") for step in checklist.offers if _has_waited(checklist, state, step))
    for step, again in (*due, *_in_order(checklist, state)):
        if step not in state.waits and permitted(checklist.steps[step], state.facts):
            return step, again
    return "", ""


def inner(checklist: Checklist, state: State) -> tuple[str, ...]:
    """The steps of the innermost remedy that is under way."""
    failed = state.remedies[-1]
    remedy = checklist.failing(checklist.steps[failed], failed in state.stopped)
    assert remedy is not None  # else it had no remedy to begin
    return remedy.steps


def _in_order(checklist: Checklist, state: State) -> Iterator[tuple[str, str]]:
    for wanted, again in ((Status.OPEN, ""), (Status.SKIPPED, "skipped")):
        for step in checklist.offers:
            if status(checklist, state, step) is wanted:
                yield step, again


def _has_waited(checklist: Checklist, state: State, step: str) -> bool:
    """Open, though what it waits for so long after is done: it comes before the others."""
    wait = checklist.steps[step].wait
    return (wait is not None and status(checklist, state, step) is Status.OPEN
            and status(checklist, state, wait.after) is Status.DONE)


def awaited(checklist: Checklist, state: State) -> tuple[str, ...]:
    """Steps that are worth waiting for: their wait is running, and nothing else stops them."""
    return tuple(
        step for step in checklist.offers
        if step in state.waits and permitted(checklist.steps[step], state.facts)
        and status(checklist, state, step) in (Status.OPEN, Status.SKIPPED))


def _to_do(checklist: Checklist, state: State) -> list[Step]:
    """Steps that are still to be done here: the one at hand, and the open and skipped ones."""
    names = [name for name in checklist.order
             if name == state.at or status(checklist, state, name) in (Status.OPEN, Status.SKIPPED)]
    if state.at and state.at not in names:
        names.append(state.at)  # a remedy's
    return [checklist.steps[name] for name in names
            if possible(checklist.steps[name].applicable, state.facts, checklist.evidence)]


def rested_on(checklist: Checklist, state: State) -> frozenset[Literal]:
    """What has to be so for something that is still to be done here, or for closing."""
    return _asked_for(checklist, _to_do(checklist, state))


def _asked_for(checklist: Checklist, steps: Iterable[Step]) -> frozenset[Literal]:
    return frozenset(literals(checklist.closes)).union(*(step.asks_for for step in steps))


def _coming(steps: list[Step], facts: frozenset[str]) -> frozenset[Literal]:
    """What these steps can bring about, one after the other; rather too much than too little, as
    what they undo is not looked at."""
    coming: frozenset[Literal] = frozenset()
    while True:
        either = {literal.fact for literal in coming}
        ready = {step.id for step in steps if possible(step.needs, facts, either)
                 and possible(step.applicable, facts, either)}
        if not ready:
            return coming
        coming = coming.union(*(step.outcome for step in steps if step.id in ready))
        steps = [step for step in steps if step.id not in ready]


def reopened(checklist: Checklist, state: State, undone: frozenset[str]) -> State:
    """The state once the steps that had brought about `undone` have to be done again.

    What else no longer stands is asked for again where something that is still to be done hangs on
    it, and nothing that is still to be done brings it about; a look only there.  A step that must
    be done is not: it would keep the checklist open.
    """
    looks = {Literal(fact) for fact in checklist.evidence}
    always = set(map(Literal, undone)) - looks
    lost = {}
    for name in checklist.order:
        step = checklist.steps[name]
        gone = {literal for literal in step.outcome if not literal.holds(state.facts)
                and (not step.must or literal in always | looks)}
        if gone and not step.question:
            lost[checklist.index[name]] = gone
    while done := [place for place in lost if state.statuses[place] is Status.DONE]:
        left = _to_do(checklist, state)
        coming = _coming(left, state.facts) - looks
        wanted = always | _asked_for(checklist, left) - coming
        found = [place for place in done if lost[place] & wanted]
        if not found:
            break
        state = replace(state, statuses=tuple(
            Status.OPEN if place in found else mark
            for place, mark in enumerate(state.statuses)))
    return state


def mends(checklist: Checklist, state: State, missing: tuple[Literal, ...]) -> tuple[str, ...]:
    """For each missing literal the first step that brings it about, permitted ones first."""
    found: list[str] = []
    for literal in missing:
        ways = [
            step for step in checklist.steps.values()
            if literal.fact in (step.gives if literal.wanted else step.ends)
            or step.question and literal.fact == answered_fact(step.id)]
        ways.sort(key=lambda step: not permitted(step, state.facts))
        if ways and ways[0].id not in found:
            found.append(ways[0].id)
    return tuple(found)


def broken_rule(checklist: Checklist, facts: frozenset[str]) -> NeverRule | None:
    """The first never rule about how things are that `facts` break."""
    return next((rule for rule in checklist.rules if rule.when.holds(facts)), None)


def rule_at_stake(checklist: Checklist, step: Step, facts: frozenset[str]) -> NeverRule | None:
    """The never rule that doing the step now would break: first one about what it does."""
    if step.question:
        return None
    for rule in checklist.conduct:
        if rule.during & step.acts and rule.when.holds(facts):
            return rule
    return broken_rule(checklist, changes.report(step).apply(facts))


def rules_about(checklist: Checklist, step: Step) -> tuple[str, ...]:
    """Ids of the never rules that speak of a fact which the step changes."""
    changed = step.gives | step.ends
    return tuple(rule.id for rule in checklist.all_rules
                 if (rule.during & step.acts if rule.during else rule.when.names() & changed))


def must_close(checklist: Checklist, state: State) -> tuple[str, ...]:
    """Steps marked `must` that apply and are not done."""
    return tuple(step for step in open_steps(checklist, state) if checklist.steps[step].must)
