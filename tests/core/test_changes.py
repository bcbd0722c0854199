"""Each way in which a fact changes: what it needs, what it makes so, and what it withdraws.

What a change forgets to withdraw, the next interlock takes for true.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.checklist.conditions import NEVER, parse
from handsfree.checklist.model import (
    Checklist,
    Evidence,
    Fact,
    NeverRule,
    Origin,
    Reading,
    Remedy,
    Step,
)
from handsfree.engine import changes
from handsfree.engine.advance import begin
from handsfree.engine.changes import Kind

NONE: frozenset[str] = frozenset()


def only(*facts: str) -> frozenset[str]:
    return frozenset(facts)


FACTS = {
    "open": Fact("open"), "tight": Fact("tight"), "wet": Fact("wet"), "tied": Fact("tied"),
    "hose out": Fact("hose out", Origin.GEAR), "long": Fact("long", Origin.TRAIT),
    "here": Fact("here", Origin.SITE), "here answered": Fact("here answered", Origin.ANSWERED),
    "today": Fact("today", fresh=True),
    "seen": Fact("seen", evidence=Evidence(10, frozenset({"open", "tap"}), parse("tied"))),
    "kept": Fact("kept", evidence=Evidence(0, frozenset({"wet"})))}
ASK = Step("here", "Is it here?", question=True, gives=only("here"), only_if=parse("long"))
TAP = Step("tap", "Open it.", needs=parse("seen"), only_if=parse("not wet"), gives=only("open"),
           ends=only("tight"), voids=only("seen"), remedy="mend", stop="stop")
LOOK = Step("look", "Dry?", gives=only("seen", "tied"), reading=Reading("volts"), remedy="once")
MEND = Remedy("mend", "Mend it.", (), 2, gives=only("tied", "wet"), ends=only("open", "here"),
              shows=only("wet", "open"), denies=only("tight", "tied"))
ONCE = Remedy("once", "Once.", (), 1)
FOREVER = Remedy("stop", "Stop.", (), 0)
RULE = NeverRule("flood", parse("open and wet"), "It floods.", gives=only("tight"),
                 ends=only("open"))
LIST = Checklist("list", "List", FACTS, {"here": ASK, "tap": TAP, "look": LOOK},
                 ("here", "tap", "look"), (RULE,),
                 remedies={"mend": MEND, "once": ONCE, "stop": FOREVER})


def test_a_report() -> None:
    change = changes.report(TAP)
    assert (change.kind, change.subject) == (Kind.REPORT, "tap")
    assert (change.gives, change.ends) == (only("open"), only("tight", "seen"))
    assert change.guard.holds(only("seen", "tight"))
    for lacking in (only("seen"), only("tight"), only("seen", "tight", "wet")):
        assert not change.guard.holds(lacking)  # its interlock, what it ends, and `only if`
    assert change.apply(only("seen", "tight", "long")) == only("open", "long")


def test_a_failure_withdraws_what_the_test_was_to_show() -> None:
    change = changes.fail(LIST, LOOK, replace(MEND, denies=only("tight")))
    assert (change.kind, change.subject) == (Kind.FAIL, "look")
    assert change.gives == only("wet", "open")
    assert change.ends == only("tight", "seen")  # 'tied' rests on no look
    assert changes.fail(LIST, TAP, MEND).guard == changes.report(TAP).guard


def test_giving_up_is_a_failure_and_what_follows_from_it() -> None:
    change = changes.give_up(LIST, TAP, MEND)
    assert (change.kind, change.subject) == (Kind.GIVE_UP, "tap")
    assert change.gives == only("wet", "tied")  # 'open' was shown, and is ended by giving up
    assert change.ends == only("tight", "open", "here")
    assert change.guard == changes.report(TAP).guard


def test_a_look_grows_old_unless_something_rests_on_it() -> None:
    change = changes.expire(LIST, "seen")
    assert (change.kind, change.subject, change.gives, change.ends) == (
        Kind.EXPIRE, "seen", NONE, only("seen"))
    assert change.guard.holds(only("seen")) and not change.guard.holds(NONE)
    assert not change.guard.holds(only("seen", "tied"))


@pytest.mark.parametrize(("facts", "ended"), [
    (only("seen", "kept", "open"), only("seen")), (only("seen", "tied"), NONE), (NONE, NONE)])
def test_across_a_break_a_look_does_not_count(
    facts: frozenset[str], ended: frozenset[str]
) -> None:
    change = changes.come_back(LIST, facts)
    assert (change.kind, change.subject, change.gives, change.ends) == (
        Kind.EXPIRE, "list", NONE, ended)
    assert change.guard.holds(facts) and change.apply(facts) == facts - ended


def test_a_correction_ends_what_hangs_on_the_fact() -> None:
    so, not_so = changes.correct(LIST, "open", True), changes.correct(LIST, "open", False)
    assert (so.kind, so.subject, so.gives, so.ends) == (
        Kind.CORRECT, "open", only("open"), only("seen"))
    assert (not_so.gives, not_so.ends) == (NONE, only("seen", "open"))
    assert so.guard.holds(NONE) and not so.guard.holds(only("open"))
    assert not_so.guard.holds(only("open")) and not not_so.guard.holds(NONE)
    seen = changes.correct(LIST, "seen", False)
    assert (seen.gives, seen.ends) == (NONE, only("seen"))


def test_a_question_is_answered_and_may_be_answered_again() -> None:
    yes, no = changes.answer(ASK, True), changes.answer(ASK, False)
    assert (yes.kind, yes.subject, yes.gives, yes.ends) == (
        Kind.YES, "here", only("here", "here answered"), NONE)
    assert (no.kind, no.subject, no.gives, no.ends) == (
        Kind.NO, "here", only("here answered"), only("here"))
    assert yes.guard.holds(only("long")) and not yes.guard.holds(NONE)
    assert no.guard == yes.guard
    later = changes.answer(replace(ASK, needs=parse("tight")), True).guard
    assert later.holds(only("long", "tight")) and not later.holds(only("long"))


def test_taking_back_is_the_inverse_while_the_outcome_stands() -> None:
    change = changes.take_back(LIST, TAP)
    assert (change.kind, change.subject) == (Kind.TAKE_BACK, "tap")
    assert change.guard.holds(only("open")) and not change.guard.holds(NONE)
    assert not change.guard.holds(only("open", "tight"))
    assert change.gives == only("tight") and change.ends == only("open", "seen")
    back = changes.take_back(LIST, ASK)
    assert (back.subject, back.gives, back.ends) == ("here", NONE, only("here", "here answered"))
    assert back.kind is Kind.TAKE_BACK
    assert back.guard.holds(only("here answered")) and not back.guard.holds(only("here"))


def test_taking_back_brings_no_look_back() -> None:
    step = Step("close", "Close it.", ends=only("seen", "wet"))
    change = changes.take_back(LIST, step)
    assert change.gives == only("wet") and change.ends == only("kept")


def test_a_list_begins_with_nothing_that_is_only_of_the_last_time() -> None:
    assert changes.begin(LIST).ends == only("today", "here", "here answered")
    assert changes.begin(LIST).gives == NONE and changes.begin(LIST).kind is Kind.BEGIN
    assert changes.begin(LIST).subject == "list" and changes.begin(LIST).guard.holds(NONE)


def test_and_with_no_look_that_time_would_have_ended() -> None:
    for record, kept in ((only("seen", "kept", "today"), only("kept")),
                         (only("seen", "tied"), only("seen", "tied"))):
        (way,) = [one for one in changes.beginnings(LIST) if one.guard.holds(record)]
        assert way.apply(record) == kept and way.kind is Kind.BEGIN
        assert begin(LIST, record)[0].facts == kept


def test_what_rests_on_something_forgotten_does_not_last() -> None:
    """At the beginning the answer is forgotten, so the look that it kept up is, too."""
    facts = {**FACTS, "seen": Fact("seen", evidence=Evidence(10, NONE, parse("here")))}
    ways = list(changes.beginnings(replace(LIST, facts=facts, digest="other")))
    assert len(ways) == 1 and ways[0].guard != NEVER and "seen" in ways[0].ends


def test_what_rests_on_a_no_that_is_forgotten_lasts() -> None:
    """Nothing was said yet, and that is what it rests on."""
    facts = {**FACTS, "seen": Fact("seen", evidence=Evidence(10, NONE, parse("not here")))}
    ways = list(changes.beginnings(replace(LIST, facts=facts, digest="no")))
    assert len(ways) == 1 and ways[0].guard.holds(NONE) and "seen" not in ways[0].ends


def test_two_looks_that_end_by_different_things_begin_apart() -> None:
    facts = {**FACTS, "kept": Fact("kept", evidence=Evidence(5, NONE, parse("open")))}
    one = replace(LIST, facts=facts, digest="two")
    for record, left in ((only("seen", "kept", "tied"), only("seen", "tied")),
                         (only("seen", "kept", "open"), only("kept", "open")),
                         (only("seen", "kept", "open", "tied"),
                          only("seen", "kept", "open", "tied")),
                         (only("seen", "kept"), NONE)):
        (way,) = [way for way in changes.beginnings(one) if way.guard.holds(record)]
        assert way.apply(record) == left


def test_the_immediate_action_of_a_danger() -> None:
    change = changes.resolve(RULE)
    assert (change.kind, change.subject, change.gives, change.ends) == (
        Kind.RESOLVE, "flood", only("tight"), only("open"))
    assert change.guard.holds(only("open", "wet")) and not change.guard.holds(only("open"))


def test_the_proof_is_given_every_way_forward() -> None:
    """A way that is not listed is run, and never proved."""
    found = [(change.kind, change.subject) for change in changes.orders(LIST)]
    assert found[:2] == [(Kind.BEGIN, "list"), (Kind.BEGIN, "list")]
    assert sorted((kind.value, subject) for kind, subject in found[2:]) == sorted((
        ("yes", "here"), ("no", "here"), ("report", "tap"), ("report", "look"),
        ("fail", "tap"), ("give up", "tap"), ("fail", "tap"),  # mend, and stop, which never ends
        ("give up", "look"), ("expire", "seen"), ("expire", "kept")))
    assert {change.gives for change in changes.orders(LIST) if change.kind is Kind.FAIL} == {
        only("wet", "open"), NONE}
    assert [change.subject for change in changes.takings_back(LIST)] == ["here", "tap", "look"]
    plain = replace(LIST, steps={**LIST.steps, "mat": Step("mat", "Lay it out.")})
    assert [one.subject for one in changes.takings_back(plain)] == ["here", "tap", "look"]
    ends = replace(LIST, steps={"mat": Step("mat", "Take it in.", ends=only("wet"))})
    assert [one.subject for one in changes.takings_back(ends)] == ["mat"]


def test_what_the_rig_is_made_of_is_not_corrected_by_word() -> None:
    assert changes.correctable(LIST) == FACTS.keys() - {"long", "here answered"}
