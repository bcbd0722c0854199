"""Small random checklists, sound and broken alike, and a hand-written one to break."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st

from handsfree.checklist.conditions import (
    ALWAYS,
    NEVER,
    AnyOf,
    Condition,
    Literal,
    both,
    literals,
    opposite,
)
from handsfree.checklist.model import (
    Checklist,
    Evidence,
    Fact,
    NeverRule,
    Origin,
    Reading,
    Remedy,
    Step,
    Travel,
    Wait,
    answered_fact,
    gear_fact,
    ready_to_travel,
    voided,
)


@st.composite
def checklists(draw, most_steps: int = 5, looks: bool = False) -> Checklist:
    """3 to 5 facts and as many steps, of every kind that a file can say; with `looks` also evidence
    that ends, motion, and remedies that withdraw something."""
    facts: dict[str, Fact] = {}
    for name in ("a", "b", "c")[:draw(st.integers(2, 3))]:
        facts[name] = Fact(name, start=draw(st.booleans()), fresh=draw(_seldom()))
    if draw(st.booleans()):
        name = gear_fact("g")
        facts[name] = Fact(name, Origin.GEAR, travel=Travel.MUST_NOT)
    changed = tuple(facts)
    if draw(_seldom()):
        facts["t"] = Fact("t", Origin.TRAIT)
    questions = ("q",) if draw(_seldom()) else ()
    for name in questions:
        facts[name] = Fact(name, Origin.SITE)
    if looks:  # something that is looked at, and that does not count for ever
        name = [one for one in changed if facts[one].origin is not Origin.GEAR][-1]
        facts[name] = replace(facts[name], start=False, evidence=Evidence(
            minutes=draw(st.sampled_from((0.0, 10.0))), voids=draw(_facts((changed[0], "m"))),
            unless=Literal(changed[0]) if draw(_seldom()) else NEVER))
    names = tuple(facts)
    for name in questions:
        facts[answered_fact(name)] = Fact(answered_fact(name), Origin.ANSWERED)

    steps: dict[str, Step] = {
        name: Step(id=name, do=f"Answer {name}", question=True, gives=frozenset({name}),
                   only_if=draw(_condition(changed, most=1)))
        for name in questions}
    count = draw(st.sampled_from(range(2, most_steps - len(questions) + 1)))
    remedies: dict[str, Remedy] = {}
    inner = 1 if count > 2 and draw(_seldom()) else 0
    if inner:
        remedies["r"] = Remedy(
            "r", "Look.", ("i",), tries=draw(st.integers(1, 2)),
            gives=draw(_facts(changed)), ends=draw(_facts(changed)),
            shows=draw(_facts(changed)) if looks else frozenset(),
            denies=draw(_facts(changed)) if looks else frozenset())
        steps["i"] = _step(draw, "i", changed, names, questions, {})
    for number in range(count - inner):
        name = f"s{number}"
        steps[name] = _step(draw, name, changed, names, questions,
                            remedies if number == 0 else {})
    rules = tuple(_rule(draw, f"rule {number}", changed, names, facts)
                  for number in range(draw(st.integers(1, 2))))
    if draw(st.booleans()):
        steps = {name: _guarded(step, rules) for name, step in steps.items()}
    conduct: tuple[NeverRule, ...] = ()
    if looks:
        when = draw(_condition(changed))
        if when != ALWAYS:
            conduct = (NeverRule("no m", when, "it hurts", during=frozenset({"m"})),)
        steps = {name: _moving(draw, step, facts, conduct) for name, step in steps.items()}
    rules = tuple(replace(rule, ends=rule.ends | voided(facts, rule.gives | rule.ends) - rule.gives)
                  for rule in rules)
    remedies = {name: _undoing(remedy, facts) for name, remedy in remedies.items()}
    order = tuple(name for name in steps if name != "i")
    for place, name in enumerate(order):
        if place and not steps[name].question and draw(_seldom()):
            after = draw(st.sampled_from(order[:place]))
            steps[name] = replace(steps[name], wait=Wait(after, 10.0))
    closes = draw(st.sampled_from((
        ALWAYS, ALWAYS, ready_to_travel(facts), Literal(changed[0]), Literal(changed[1], False))))
    if any(facts[name].evidence for name in closes.names()):
        closes = ALWAYS  # no list ends with that nobody has looked
    return Checklist(
        id="small", title="Small", facts=facts, steps=steps,
        order=order, rules=rules, conduct=conduct, remedies=remedies,
        closes=closes, digest=str(draw(st.integers(0, 2**60))))


def _seldom() -> st.SearchStrategy[bool]:
    return st.sampled_from((False, False, True))


def _facts(names: tuple[str, ...], most: int = 1) -> st.SearchStrategy[frozenset[str]]:
    return st.frozensets(st.sampled_from(names), max_size=most)


@st.composite
def _condition(draw, names: tuple[str, ...], most: int = 2) -> Condition:
    chosen = draw(st.lists(st.sampled_from(names), max_size=most, unique=True))
    parts = tuple(Literal(name, draw(st.booleans())) for name in chosen)
    if len(parts) > 1 and draw(_seldom()):
        return AnyOf(parts)
    return both(*parts)


def _step(draw, name, changed, names, questions, remedies) -> Step:
    first = draw(st.sampled_from(changed))
    gives = draw(_facts(changed))
    ends = draw(_facts(changed))
    if draw(st.booleans()):
        gives, ends = gives | {first}, ends - {first}
    elif draw(st.booleans()):
        gives, ends = gives - {first}, ends | {first}
    gives -= ends
    needs = draw(_condition(names, most=draw(st.integers(0, 2))))
    only_if = draw(_condition(names, most=1)) if draw(_seldom()) else ALWAYS
    for question in questions:
        if question in needs.names() | only_if.names():
            only_if = both(only_if, Literal(answered_fact(question)))
    kind = draw(st.sampled_from(("plain", "plain", "hold", "reading")))
    return Step(
        id=name, do=f"Do {name}", gives=gives, ends=ends, needs=needs, only_if=only_if,
        respond=f"{name} set" if kind == "hold" else "",
        reading=Reading("volts", low=1.0) if kind == "reading" else None,
        remedy="r" if "r" in remedies else "", must=draw(_seldom()))


def _moving(draw, step: Step, facts, conduct: tuple[NeverRule, ...]) -> Step:
    """The step with what it moves, what that asks for (or not: a mistake), and what it voids."""
    if step.question:
        return step
    acts = frozenset({"m"}) if draw(_seldom()) else frozenset()
    guards = [opposite(rule.when) for rule in conduct if rule.during & acts]
    return replace(
        step, acts=acts, needs=both(step.needs, *([] if draw(_seldom()) else guards)),
        voids=voided(facts, acts | step.gives | step.ends) - step.gives)


def _undoing(remedy: Remedy, facts) -> Remedy:
    """The remedy with the evidence that failing and giving up make void."""
    denies, ends = remedy.denies - remedy.shows, remedy.ends - remedy.gives
    return replace(
        remedy, denies=denies | voided(facts, remedy.shows | denies) - remedy.shows,
        ends=ends | voided(facts, remedy.gives | ends) - remedy.gives)


def _rule(draw, name, changed, names, facts) -> NeverRule:
    """Mostly a rule that does not hold at the start, with an action that undoes its first part."""
    first = draw(st.sampled_from(changed))
    others = draw(st.lists(st.sampled_from(names), max_size=2, unique=True))
    mostly = st.sampled_from((True, True, True, False))
    wanted = facts[first].start is not draw(mostly)
    parts = (Literal(first, wanted),
             *(Literal(fact, draw(st.booleans())) for fact in others if fact != first))
    when: Condition = both(*parts)
    if len(parts) == 3 and draw(_seldom()):
        when = both(parts[0], AnyOf(parts[1:]))
    gives, ends = draw(_facts(changed)), frozenset()
    if draw(mostly):
        gives, ends = (frozenset(), frozenset({first})) if wanted else (frozenset({first}), ends)
    return NeverRule(name, when, "it hurts", "undo it", f"{name} mended", gives=gives, ends=ends)


def _guarded(step: Step, rules: tuple[NeverRule, ...]) -> Step:
    """The step with the interlocks that plain rules (facts joined by 'and') ask for."""
    needs = step.needs
    for rule in rules:
        if any(isinstance(part, AnyOf) for part in getattr(rule.when, "parts", ())):
            continue
        made = {**dict.fromkeys(step.ends, False), **dict.fromkeys(step.gives, True)}
        left = [literal for literal in literals(rule.when) if literal.fact not in made]
        if left and all(made.get(literal.fact, literal.wanted) is literal.wanted
                        for literal in literals(rule.when)):
            needs = both(needs, AnyOf(tuple(opposite(literal) for literal in left)))
    return replace(step, needs=needs)
