"""The same never rules as Promela models, for an independent model checker (SPIN).

Two models:
orders from a rig that nothing is recorded about (`orders_model`, every reachable state, for
small stays), and one order from any record (`record_model`, which suits any size).  An assertion
that is violated is a never rule that can be broken.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

from handsfree.checklist.conditions import NEVER, All, AnyOf, Condition, Literal
from handsfree.checklist.model import NeverRule
from handsfree.engine.changes import Change, Kind, begin
from handsfree.proof.stay import Stay


def orders_model(stay: Stay) -> str:
    """Every forward order from the start of a stay; a process that loops over the changes."""
    names = _numbered(stay)
    first = stay.start - begin(stay.given[0]).ends
    first |= {trait for trait, value in stay.traits.items() if value}
    lines = [f"bit {names[fact]} = {int(fact in first)};  /* {fact} */" for fact in stay.facts]
    lines += ["", "active proctype operator() {"]
    for trait, value in stay.traits.items():
        if value is None:
            lines.append(f"  if :: {names[trait]} = 0 :: {names[trait]} = 1 fi;")
    lines.append("  do")
    for change, conduct in _forward(stay):
        body = [*_behaved(conduct, names), *_assigned(change, names),
                *_asserted(stay.rules, change, names)]
        lines.append(f"  :: d_step {{ {_text(change.guard, names)} -> {'; '.join(body)} }}"
                     f"  /* {change.kind.value} {change.subject} */")
    lines += ["  od", "}", ""]
    return "\n".join(lines)


def record_model(stay: Stay) -> str:
    """One forward change from any record that breaks no rule.

    The change is chosen first, then the facts that it or a rule which it touches speaks of, one
    at a time; whatever contradicts the change's guard or breaks a rule is given up at once.
    """
    names = _numbered(stay)
    lines = [f"bit {name};  /* {fact} */" for fact, name in names.items()]
    lines += ["", "active proctype operator() {", "  if"]
    for change, conduct in _forward(stay):
        touched = [rule for rule in stay.rules
                   if rule.when.names() & (change.gives | change.ends)]
        if not touched and not conduct:
            continue
        lines.append(f"  :: /* {change.kind.value} {change.subject} */")
        lines += [f"     {line}" for line in _chosen(stay, change, [*touched, *conduct], names)]
        body = [*_behaved(conduct, names), *_assigned(change, names),
                *_asserted(touched, change, names)]
        lines.append(f"     d_step {{ {'; '.join(body)} }}")
    lines += ["  :: skip", "  fi", "}", ""]
    return "\n".join(lines)


def _forward(stay: Stay) -> Iterator[tuple[Change, tuple[NeverRule, ...]]]:
    """Forward changes but the immediate actions, which are for broken rules, each with the rules
    about what is done by it."""
    seen: dict[Change, tuple[NeverRule, ...]] = {}
    for move in stay.forward:
        if move.kind is Kind.RESOLVE:
            continue
        conduct: tuple[NeverRule, ...] = ()
        if move.kind is Kind.REPORT:
            acts = move.owner.steps[move.change.subject].acts
            conduct = tuple(rule for rule in stay.conduct if rule.during & acts)
        if move.effect or conduct:
            seen[move.change] = tuple(dict.fromkeys((*seen.get(move.change, ()), *conduct)))
    return iter(seen.items())


def _numbered(stay: Stay) -> dict[str, str]:
    return {fact: f"f{number}" for number, fact in enumerate(stay.facts)}


def _chosen(
    stay: Stay, change: Change, touched: Sequence[NeverRule], names: dict[str, str]
) -> Iterator[str]:
    """Statements that choose the record, pruned as early as can be."""
    facts = dict.fromkeys(sorted(change.guard.names()))
    for rule in touched:
        facts |= dict.fromkeys(sorted(rule.when.names()))
    waiting = [*_conjuncts(change.guard)]
    forbidden = [part for part in (_at_best(rule.when, facts.keys()) for rule in stay.rules)
                 if part.names()]
    known: set[str] = set()
    for fact in facts:
        value = stay.traits.get(fact)
        if value is None:
            yield f"if :: {names[fact]} = 0 :: {names[fact]} = 1 fi;"
        else:
            yield f"{names[fact]} = {int(value)};"
        known.add(fact)
        for part in [part for part in waiting if part.names() <= known]:
            waiting.remove(part)
            yield f"{_text(part, names)};"
        for part in [part for part in forbidden if part.names() <= known]:
            forbidden.remove(part)
            yield f"!({_text(part, names)});"


def _at_best(rule: Condition, chosen: Collection[str]) -> Condition:
    """The rule, when the facts that are not chosen are such that they do not break it."""
    if isinstance(rule, Literal):
        return rule if rule.fact in chosen else NEVER
    parts = tuple(_at_best(part, chosen) for part in rule.parts)  # type: ignore[attr-defined]
    if isinstance(rule, All):
        return NEVER if NEVER in parts else All(parts)
    return AnyOf(tuple(part for part in parts if part != NEVER))


def _conjuncts(condition: Condition) -> Iterator[Condition]:
    if isinstance(condition, All):
        for part in condition.parts:
            yield from _conjuncts(part)
    else:
        yield condition


def _text(condition: Condition, names: dict[str, str]) -> str:
    if isinstance(condition, Literal):
        return names[condition.fact] if condition.wanted else f"!{names[condition.fact]}"
    word, empty = ("&&", "true") if isinstance(condition, All) else ("||", "false")
    parts = [_text(part, names) for part in condition.parts]  # type: ignore[attr-defined]
    return "(" + (f" {word} ".join(parts) or empty) + ")"


def _assigned(change: Change, names: dict[str, str]) -> Iterator[str]:
    for fact in sorted(change.ends):
        yield f"{names[fact]} = 0"
    for fact in sorted(change.gives):
        yield f"{names[fact]} = 1"


def _asserted(
    rules: Iterable[NeverRule], change: Change, names: dict[str, str]
) -> Iterator[str]:
    for rule in rules:
        if rule.when.names() & (change.gives | change.ends):
            yield f"assert(!({_text(rule.when, names)}))"


def _behaved(conduct: Iterable[NeverRule], names: dict[str, str]) -> Iterator[str]:
    for rule in conduct:
        yield f"assert(!({_text(rule.when, names)}))"
