"""Every state of the live engine, one by one: the plain way, to hold the prover against.

Nothing here is symbolic or leaves bookkeeping out: the states are the engine's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import product

from handsfree.checklist.model import Checklist, Origin
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import (
    Answer,
    Ask,
    Confirm,
    Deny,
    Done,
    Due,
    Event,
    Expired,
    Finish,
    GoTo,
    Mode,
    Pause,
    Problem,
    Read,
    Refused,
    Respond,
    Resume,
    Skip,
    State,
    Status,
    TakeBack,
    Unclear,
    Unsure,
)

Breach = tuple[str, str]
"""(step, question or checklist, id of the rule that it breaks)."""

Order = tuple[Event, ...]
"""Events that are given one after the other."""

FORWARD, BACK, BEGIN = "forward", "back", "begin"


@dataclass
class Walk:
    """What a walk over all states has seen; states are numbered as they were met."""

    states: list[State] = field(default_factory=list)
    edges: list[list[tuple[str, int]]] = field(default_factory=list)
    """From each state: ('forward', 'back' or 'begin', where to)."""
    breaches: list[set[tuple[str, Breach]]] = field(default_factory=list)
    """From each state: (as in `edges`, breach)."""
    start: set[Breach] = field(default_factory=set)
    starts: int = 0

    def broken(self, among: Iterable[int], *, taking_back: bool) -> set[Breach]:
        """Breaches from these states."""
        return self.start | {breach for number in among for how, breach in self.breaches[number]
                             if taking_back or how != BACK}


def starts(checklist: Checklist) -> Iterator[State]:
    """The first state, for every rig."""
    traits = [name for name, fact in checklist.facts.items() if fact.origin is Origin.TRAIT]
    for values in product((False, True), repeat=len(traits)):
        has = {name for name, value in zip(traits, values, strict=True) if value}
        yield _kept(begin(checklist, checklist.start_facts | has)[0])


def _kept(state: State) -> State:
    """Reports without their order: it only decides what an unnamed 'take back' means."""
    ordered = tuple(sorted(state.reports))
    return state if ordered == state.reports else replace(state, reports=ordered)


Orders = Callable[[Checklist, State], list[Order]]


def short_orders(checklist: Checklist, state: State) -> list[Order]:
    """What an operator does, each readback confirmed at once, wrong kinds of answer left out."""
    step = checklist.steps.get(state.at)
    time: list[Order] = [(Expired(name),) for name in checklist.evidence]
    orders: list[Order] = []
    if state.broken:
        return [(Respond(), Confirm()), *time]
    if step is None:
        orders += [(Answer(True),), (Answer(False),)]
    elif step.question:
        orders += [(Answer(True),), (Answer(False),), (Skip(),)]
    else:
        orders += [(Skip(),), (Problem(),)]
        if step.reading:
            orders += [(Read("within"), Confirm()), (Read("low"), Confirm())]
        else:
            orders += [(Respond(), Confirm())] if step.hold else [(Done(),)]
    for name in checklist.steps:
        orders += [(GoTo(name),), (TakeBack(name),)]
    return orders + time + [(Due(name),) for name in sorted(state.waits)]


def every_event(checklist: Checklist, state: State) -> list[Order]:
    """Every event that there is (but correcting the record), one at a time."""
    certain: list[Event] = [
        Done(), Respond(), Confirm(), Deny(), Read("low"), Read("within"), Read("high"),
        Answer(True), Answer(False), Skip(), Problem(), Pause(), Resume(), Finish(),
        Ask("repeat"), Unclear(), TakeBack()]
    for step in checklist.steps:
        certain += [GoTo(step), TakeBack(step)]
    return ([(event,) for event in certain] + [(Unsure(event),) for event in certain[:12]]
            + [(Due(step),) for step in checklist.steps]
            + [(Expired(name),) for name in checklist.evidence])


def walk(checklist: Checklist, orders: Orders, *, most: int) -> Walk | None:
    """Every reachable state; None when there are more than `most`."""
    seen = Walk()
    numbers: dict[State, int] = {}
    begun = cache(lambda facts: begin(checklist, facts)[0])

    def number(state: State) -> int:
        found = numbers.setdefault(state, len(numbers))
        if found == len(seen.states):
            seen.states.append(state)
        return found

    for state in starts(checklist):
        number(state)
        seen.start |= {("start", rule) for rule in _newly(checklist, None, state.facts)}
    seen.starts = len(seen.states)
    while len(seen.edges) < len(seen.states) <= most:
        state = seen.states[len(seen.edges)]
        edges: list[tuple[str, int]] = []
        breaches = {(FORWARD, breach) for breach in _misconduct(checklist, state)}
        for order in orders(checklist, state):
            after = state
            how = BACK if _takes_back(order) or isinstance(state.pending, TakeBack) else FORWARD
            for event in order:
                before = after
                after, effects = advance(checklist, before, event)
                if effects:
                    breaches |= {(how, breach) for breach in
                                 _breaches(checklist, before, event, after, effects)}
            if after is not state:
                edges.append((how, number(_kept(after))))
        anew = begun(state.facts)
        edges.append((BEGIN, number(anew)))
        breaches |= {(BEGIN, (checklist.id, rule))
                     for rule in _newly(checklist, state.facts, anew.facts)}
        seen.edges.append(edges)
        seen.breaches.append(breaches)
    return seen if len(seen.edges) == len(seen.states) else None


def by_forward_orders(seen: Walk) -> set[int]:
    """The states that forward orders reach."""
    found = set(range(seen.starts))
    ahead = list(found)
    while ahead:
        for how, after in seen.edges[ahead.pop()]:
            if how != BACK and after not in found:
                found.add(after)
                ahead.append(after)
    return found


def _takes_back(order: Order) -> bool:
    return any(isinstance(event, TakeBack)
               or isinstance(event, Unsure) and isinstance(event.event, TakeBack)
               for event in order)


def _breaches(checklist, before, event, after, effects) -> set[Breach]:
    """Never rules that a forward event breaks, or would have but for the backstop."""
    breaches = set()
    for effect in effects:
        if isinstance(effect, Refused) and effect.backstop:
            step = checklist.steps[effect.step]
            would_be = (before.facts - step.ends - step.voids) | step.gives
            breaches |= {(step.id, rule) for rule in _newly(checklist, before.facts, would_be)}
    if (after.facts is before.facts or isinstance(event, TakeBack)
            or isinstance(before.pending, TakeBack)):
        return breaches
    subject = event.fact if isinstance(event, Expired) else before.broken or before.at
    return breaches | {(subject, rule)
                       for rule in _newly(checklist, before.facts, after.facts)}


def _misconduct(checklist: Checklist, state: State) -> set[Breach]:
    """Rules about what is done that the step at hand breaks by being begun."""
    step = checklist.steps.get(state.at)
    if step is None or step.question:
        return set()
    return {(step.id, rule.id) for rule in checklist.conduct
            if rule.during & step.acts and rule.when.holds(state.facts)}


def _newly(checklist: Checklist, before: frozenset[str] | None, after: frozenset[str]) -> list[str]:
    return [rule.id for rule in checklist.rules
            if rule.when.holds(after) and (before is None or not rule.when.holds(before))]


# --- verdicts -----------------------------------------------------------------------------------

def endless_alarms(checklist: Checklist, seen: Walk) -> bool:
    """Some alarm goes on however often the immediate action is reported."""
    for state in seen.states:
        if state.mode is not Mode.ALARM:
            continue
        for _ in range(2 ** len(checklist.facts) + 1):
            state = advance(checklist, advance(checklist, state, Respond())[0], Confirm())[0]
            if state.mode is not Mode.ALARM:
                break
        else:
            return True
    return False


def never_at(checklist: Checklist, seen: Walk) -> set[str]:
    """Steps that no order of events makes the step at hand."""
    return set(checklist.steps) - {state.at for state in seen.states}


def _back(seen: Walk, goal: Iterable[int], allowed: tuple[str, ...]) -> set[int]:
    """States from which allowed orders lead to the goal."""
    into: dict[int, list[int]] = {}
    for number, edges in enumerate(seen.edges):
        for how, after in edges:
            if how in allowed:
                into.setdefault(after, []).append(number)
    found = set(goal)
    ahead = list(found)
    while ahead:
        for before in into.get(ahead.pop(), ()):
            if before not in found:
                found.add(before)
                ahead.append(before)
    return found


def dead_end(seen: Walk) -> bool:
    """The checklist cannot be closed any more from some state without an alarm."""
    closed = [n for n, state in enumerate(seen.states) if state.mode is Mode.CLOSED]
    back = _back(seen, closed, (FORWARD,))
    return any(n not in back and not state.broken for n, state in enumerate(seen.states))


def lost_gear(checklist: Checklist, seen: Walk) -> set[str]:
    """Gear that is out in some state from which it cannot come back."""
    lost = set()
    for name, fact in checklist.facts.items():
        ways = (*checklist.steps.values(), *checklist.rules, *checklist.remedies.values())
        put_out = {gear for way in ways for gear in way.gives}.union(
            *(remedy.shows - (remedy.ends if remedy.tries == 1 else set())
              for remedy in checklist.remedies.values()))
        if fact.origin is not Origin.GEAR or name not in put_out:
            continue
        stowed = [n for n, state in enumerate(seen.states) if name not in state.facts]
        back = _back(seen, stowed, (FORWARD, BEGIN))
        if any(n not in back and not state.broken for n, state in enumerate(seen.states)):
            lost.add(name)
    return lost


def breaches_from_records(checklist: Checklist) -> set[Breach]:
    """Never rules that one order can break from some record that breaks none."""
    breaches: set[Breach] = set()
    names = list(checklist.facts)
    for values in product((False, True), repeat=len(names)):
        facts = frozenset(name for name, value in zip(names, values, strict=True) if value)
        if any(rule.when.holds(facts) for rule in checklist.rules):
            continue
        for rule in _newly(checklist, facts, begin(checklist, facts)[0].facts):
            breaches.add((checklist.id, rule))
        start = State(facts, tuple(Status.OPEN for _ in checklist.steps))
        for name in checklist.evidence:
            after = advance(checklist, start, Expired(name))[0]
            breaches |= {(name, rule) for rule in _newly(checklist, facts, after.facts)}
        for step in checklist.steps:
            at, _ = advance(checklist, start, GoTo(step))
            if at.at != step:
                continue
            breaches |= _misconduct(checklist, at)
            for order in short_orders(checklist, at):
                if isinstance(order[0], (Skip, GoTo, TakeBack)):
                    continue
                breaches |= _by(checklist, at, order)
                if remedy := checklist.failing(checklist.steps[step]):
                    last = replace(at, tries=((step, remedy.tries - 1),))  # it has failed before
                    breaches |= _by(checklist, last, order)
    return breaches


def _by(checklist: Checklist, after: State, order: Order) -> set[Breach]:
    """Never rules that the order breaks."""
    breaches: set[Breach] = set()
    for event in order:
        before = after
        after, effects = advance(checklist, before, event)
        breaches |= _breaches(checklist, before, event, after, effects)
    return breaches
