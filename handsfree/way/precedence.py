"""What has to come before what, read off the engine, and what is done in one go.

Pure.  May import the checklist's conditions and model, and this room.

Two steps may change places where neither writes what the other reads, nor undoes what the other
brings about.  Any order that keeps the others' order then comes, by changing neighbours only, to
the same facts at the same steps: each step is permitted in it as it is in the list's own (the
traces of Mazurkiewicz, 1977).  It asks for more than the interlocks do, never for less.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from handsfree.checklist.conditions import given, literals
from handsfree.checklist.model import Checklist
from handsfree.way.ground import INSIDE
from handsfree.way.places import Layout
from handsfree.way.walking import Visit, Walk


@dataclass(frozen=True)
class Block:
    """Steps that are done in one go, in one of these orders; the first is the list's own."""

    orders: tuple[tuple[str, ...], ...]
    phase: int
    after: frozenset[int] = frozenset()
    """Blocks that come first, by their places in the list of blocks."""


def blocks(checklist: Checklist, layout: Layout, walked: Walk) -> tuple[Block, ...]:
    """The blocks of a walk in which each step comes once, in the list's order.

    What waits for its time may come at any moment after the step that it waits for: when it does
    is not chosen, so that no order walks less than the least of these.
    """
    visits = walked.visits
    phases = _phases(checklist, layout, visits)
    edges = _precedences(visits, phases)
    glued = list(_in_one_go(checklist, layout, visits, phases, edges))
    edges |= {(a, b) for b in range(len(visits)) for a in range(b)
              if _sensible(checklist, layout, visits[a].step, visits[b].step)}
    number = {visit.step: place for place, visit in enumerate(visits)}
    waits = {number[step.id]: number[step.wait.after] for step in map(checklist.steps.get, number)
             if step and step.wait and step.wait.after in number}
    edges = {(a, b) for a, b in edges if waits.keys().isdisjoint((a, b))}
    edges |= {(first, then) for then, first in waits.items()}
    groups = _merged(len(visits), edges, glued)
    of = {number: place for place, group in enumerate(groups) for number in group}
    found = []
    either = [pair for group in layout.either for pair in _written_out(checklist, group)]
    for place, group in enumerate(groups):
        after = frozenset(of[a] for a, b in edges if b in group) - {place}
        names = tuple(visits[number].step for number in group)
        held = {(visits[a].step, visits[b].step) for a, b in edges if a in group and b in group}
        found.append(Block(tuple(_orders(names, either, held)), phases[group[0]], after))
    return tuple(found)


def _phases(checklist: Checklist, layout: Layout, visits: Sequence[Visit]) -> list[int]:
    """Odd for a step that moves the rig, or has to should it fail; even between two of them."""
    found, phase = [], 0
    for visit in visits:
        step = checklist.steps[visit.step]
        remedies = [checklist.remedies[name] for name in (step.remedy, step.stop) if name]
        acts = step.acts.union(*(checklist.steps[name].acts
                                 for remedy in remedies for name in remedy.steps))
        moves = bool(acts & layout.phase_ends)
        if moves:
            phase += 2 if phase % 2 else 1
        elif phase % 2:
            phase += 1
        found.append(phase)
    return found


def _precedences(visits: Sequence[Visit], phases: Sequence[int]) -> set[tuple[int, int]]:
    """Pairs (first, then) of visits that keep their order, by the engine and the phases."""
    edges: set[tuple[int, int]] = set()
    for phase in dict.fromkeys(phases):
        here = [number for number, other in enumerate(phases) if other == phase]
        changing = frozenset[str]().union(*(_writes(visits[k]) for k in here))
        reads = {k: _reads(visits[k], changing) for k in here}
        for place, a in enumerate(here):
            for b in here[place + 1:]:
                if (_writes(visits[a]) & reads[b] or _writes(visits[b]) & reads[a]
                        or visits[a].change.gives & visits[b].change.ends
                        or visits[a].change.ends & visits[b].change.gives):
                    edges.add((a, b))
        later = [number for number, other in enumerate(phases) if other == _next(phases, phase)]
        edges |= {(a, b) for a in here for b in later}
    return edges


def _next(phases: Sequence[int], phase: int) -> int:
    return min((other for other in phases if other > phase), default=-1)


def _writes(visit: Visit) -> frozenset[str]:
    return visit.change.gives | visit.change.ends


def _reads(visit: Visit, changing: frozenset[str]) -> frozenset[str]:
    """Facts on which it hangs whether the step is permitted, once all is known that stays as it is."""
    known = {fact: fact in visit.before for fact in visit.change.guard.names() - changing}
    return frozenset(literal.fact for literal in literals(given(visit.change.guard, known)))


def _sensible(checklist: Checklist, layout: Layout, first: str, then: str) -> bool:
    def fits(wanted: str, step: str) -> bool:
        return step == wanted or wanted == INSIDE and layout.is_inside(checklist.steps[step])

    return any(fits(a, first) and fits(b, then) for a, b in layout.keep)


def _in_one_go(
    checklist: Checklist, layout: Layout, visits: Sequence[Visit], phases: Sequence[int],
    edges: set[tuple[int, int]],
) -> Iterator[list[int]]:
    """Groups of visits that are not torn apart."""
    number = {visit.step: place for place, visit in enumerate(visits)}
    for steps in (one for group in layout.together for one in _written_out(checklist, group)):
        members = [number[step] for step in steps if step in number]
        for phase in dict.fromkeys(phases[k] for k in members):
            yield [k for k in members if phases[k] == phase]
    for a in range(len(visits) - 1):
        step, after = (checklist.steps[visits[k].step] for k in (a, a + 1))
        if phases[a] == phases[a + 1] and not (step.wait or after.wait) and (
                step.question and not layout.at(step) or after.tests and (a, a + 1) in edges):
            yield [a, a + 1]


def _written_out(checklist: Checklist, group: Sequence[str]) -> Iterator[list[str]]:
    """A group of the file as steps of this rig: for each of several by itself, where all of it is
    about one."""
    steps = [step for name in group for step in checklist.steps.values()
             if (step.base or step.id) == name]
    items = dict.fromkeys(step.item for step in steps)
    for item in items if "" not in items else (None,):
        yield [step.id for step in steps if item in (None, step.item)]


def _merged(
    count: int, edges: Iterable[tuple[int, int]], groups: Iterable[Sequence[int]]
) -> list[list[int]]:
    """Visits as groups that share no member and do not wait for each other, in the list's order.

    What has to be done between two members of a group becomes a member.
    """
    joined = {k: {k} for k in range(count)}

    def join(members: Iterable[int]) -> None:
        whole = set[int]().union(*(joined[k] for k in members))
        joined.update(dict.fromkeys(whole, whole))

    for group in groups:
        if group:
            join(group)
    while cycle := _cycle(joined, edges):
        join(cycle)
    whole = {min(group): sorted(group) for group in joined.values()}
    first = {k: min(group) for k, group in joined.items()}
    after = {begin: {first[a] for a, b in edges if first[b] == begin} - {begin} for begin in whole}
    ordered: list[int] = []
    while len(ordered) < len(whole):  # the next of the list of which nothing has to come first
        ordered.append(min(begin for begin in whole
                           if begin not in ordered and after[begin] <= set(ordered)))
    return [whole[begin] for begin in ordered]


def _cycle(joined: dict[int, set[int]], edges: Iterable[tuple[int, int]]) -> set[int]:
    """Members of groups that wait for each other; empty where there are none."""
    first = {k: min(group) for k, group in joined.items()}
    follows: dict[int, set[int]] = {}
    for a, b in edges:
        if first[a] != first[b]:
            follows.setdefault(first[a], set()).add(first[b])
    for start in sorted(follows):
        ahead, todo = set[int](), [start]
        while todo:
            new = follows.get(todo.pop(), set()) - ahead
            ahead |= new
            todo += new
        if start in ahead:
            return {start, *(k for k in ahead if start in _ahead(follows, k))}
    return set()


def _ahead(follows: dict[int, set[int]], start: int) -> set[int]:
    found, todo = set[int](), [start]
    while todo:
        new = follows.get(todo.pop(), set()) - found
        found |= new
        todo += new
    return found


def _orders(
    names: tuple[str, ...], either: Sequence[Sequence[str]], held: set[tuple[str, str]]
) -> Iterator[tuple[str, ...]]:
    """The list's own order, and that with two looks the other way round."""
    yield names
    for pair in either:
        for place in range(len(names) - 1):
            a, b = names[place : place + 2]
            if {a, b} == set(pair) and (a, b) not in held:
                yield (*names[:place], b, a, *names[place + 2:])
