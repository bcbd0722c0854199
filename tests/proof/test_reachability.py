"""Walks come to most steps of the library, the same ones each time, and only by real orders."""

from __future__ import annotations

from handsfree.checklist.conditions import parse
from handsfree.checklist.model import Checklist, Fact, NeverRule, Step
from handsfree.cli.check import stay
from handsfree.proof.reachability import walked
from handsfree.proof.stay import Stay


def test_they_come_to_nearly_every_step_that_is_shipped() -> None:
    """What they do not come to costs a search each; a walk that comes to nothing would be slow."""
    given, _ = stay((), None)
    met = walked(Stay.of(given))
    every = {f"{checklist.id}/{step}" for checklist in given for step in checklist.steps}
    assert met <= every and len(met) > 0.95 * len(every)
    assert met == walked(Stay.of(given))


def _list(*steps: Step, start: bool = False) -> Checklist:
    rule = NeverRule("both", parse("a and b"), "it hurts", "Undo it.", "undone now",
                     ends=frozenset({"a"}))
    return Checklist("list", "List", {name: Fact(name, start=start) for name in "abc"},
                     {step.id: step for step in steps}, tuple(step.id for step in steps), (rule,))


def test_none_goes_through_a_broken_rule() -> None:
    """'both' needs what only the breach brings about."""
    one = Step("one", "Do one.", gives=frozenset({"a"}))
    two = Step("two", "Do two.", gives=frozenset({"b"}))
    both = Step("both", "Do both.", needs=parse("a and b"))
    assert walked(Stay.of([_list(one, two, both)])) == {"list/one", "list/two"}


def test_none_starts_where_a_rule_is_broken() -> None:
    free = Step("free", "Do it.", gives=frozenset({"c"}))
    assert walked(Stay.of([_list(free, start=True)])) == frozenset()


def test_a_condition_that_contradicts_itself_is_never_met() -> None:
    never = Step("never", "Do it.", only_if=parse("a and not a"))
    either = Step("either", "Do it.", only_if=parse("(a and not a) or not c"))
    assert walked(Stay.of([_list(never, either)])) == {"list/either"}
