"""No permitted step of a shipped checklist breaks a never rule, whatever is on the record.

Checked with decision diagrams: from every record that breaks no rule, reachable or not, every
change by which an operator goes forward leads to a record that breaks none.
"""

from dataclasses import replace

import pytest
from dd.autoref import BDD

from handsfree.checklist.conditions import All, Condition, Literal, parse
from handsfree.checklist.model import Checklist
from handsfree.engine import changes
from handsfree.engine.changes import Change
from handsfree.engine.state import Alarm, Confirm, GoTo, Mode, Refused, Respond, TakeBack
from tests.checklists.walking import CHECKLISTS, NEAR, Walk, checklist, new_record

EXPECTED_RULES = {
    "roll-away", "nose-drop", "towing-half-hitched", "rolling-held",
    "rolling-connected", "rolling-spread", "rolling-gas", "live-plug", "untested-outlet",
    "blind-slide", "unmeasured-water", "open-drain", "dry-heater", "dry-tank-heat"}


class Records:
    """All records of a checklist that break no never rule."""

    def __init__(self, c: Checklist) -> None:
        self.c, self.bdd = c, BDD()
        self.bdd.declare(*(self._name(fact) for fact in c.facts))
        self.broken = {rule.id: self._where(rule.when) for rule in c.rules}
        self.sound = self.bdd.true
        for where in self.broken.values():
            self.sound &= ~where

    @staticmethod
    def _name(fact: str) -> str:
        return "f_" + "".join(ch if ch.isalnum() else "_" for ch in fact)

    def _where(self, condition: Condition):  # type: ignore[no-untyped-def]
        if isinstance(condition, Literal):
            var = self.bdd.var(self._name(condition.fact))
            return var if condition.wanted else ~var
        parts = [self._where(part) for part in condition.parts]  # type: ignore[attr-defined]
        total = self.bdd.true if isinstance(condition, All) else self.bdd.false
        for part in parts:
            total = total & part if isinstance(condition, All) else total | part
        return total

    def breaks(self, change: Change) -> set[str]:
        """Ids of the rules that the change can break."""
        before = self.sound & self._where(change.guard)
        after = {self._name(f): f in change.gives for f in change.gives | change.ends}
        return {rule for rule, where in self.broken.items()
                if before & self.bdd.let(after, where) != self.bdd.false}


@pytest.mark.parametrize("name", CHECKLISTS)
def test_no_permitted_step_breaks_a_rule(name: str) -> None:
    c = checklist(name)
    assert {rule.id for rule in c.rules} == EXPECTED_RULES
    records = Records(c)
    assert records.sound != records.bdd.false
    assert {ch.subject: found for ch in changes.orders(c) if (found := records.breaks(ch))} == {}


@pytest.mark.parametrize(("name", "step", "fact", "rule"), (
    ("arrive", "pull-away", "chocked", "roll-away"),
    ("arrive", "pull-out-under", "chocked", "roll-away"),
    ("arrive", "pull-away", "jack up", "nose-drop"),
    ("arrive", "plug-in", "breaker off", ""),
    ("arrive", "plug-in", "outlet good", "untested-outlet"),
    ("arrive", "lay-cord", "breaker off", "live-plug"),
    ("arrive", "slide-unlock", "outside clear", "blind-slide"),
    ("arrive", "hose-on", "pressure proved", "unmeasured-water"),
    ("arrive", "heater-on", "heater full", "dry-heater"),
    ("freezing-night", "tank-heat-on", "tank filled", "dry-tank-heat"),
    ("depart", "unplug", "breaker off", "live-plug"),
    ("depart", "chocks-out", "hitched", "roll-away"),
    ("arrive", "pull-away", "coupler raised", ""),
    ("depart", "black-pull", "hose sealed", "open-drain"),
    ("depart", "unseal", "grey open", "open-drain"),
    ("depart", "pull-out", "gas open", "rolling-gas"),
    ("depart", "pull-out", "cord out", "rolling-connected"),
    ("depart", "pull-out", "stabilisers out", "rolling-held"),
    ("depart", "pull-out", "awning out", "rolling-spread"),
    ("depart", "pull-out", "coupling unproved", "towing-half-hitched"),
))
def test_without_its_interlock_the_rule_can_be_broken(
    name: str, step: str, fact: str, rule: str
) -> None:
    """So the check above can fail, and these interlocks are what keeps the rules."""
    c = checklist(name)
    whole = c.steps[step]
    assert fact in whole.needs.names() | whole.only_if.names()
    weaker = replace(whole, needs=_without(whole.needs, fact), only_if=_without(whole.only_if, fact))
    found = Records(c).breaks(changes.report(weaker))
    assert found == ({rule} if rule else set())


def _without(condition: Condition, fact: str) -> Condition:
    parts = condition.parts if isinstance(condition, All) else (condition,)
    return All(tuple(part for part in parts if fact not in part.names()))


@pytest.mark.parametrize("name", CHECKLISTS)
def test_going_forward_a_coupling_is_open_only_over_chocks(name: str) -> None:
    """No never rule, so that a chock taken back is offered again at once, not alarmed about."""
    c = checklist(name)
    records = Records(c)
    loose = records._where(parse("not chocked and (coupler raised or not latch locked)"))
    for change in changes.orders(c):
        before = records.sound & ~loose & records._where(change.guard)
        after = {records._name(f): f in change.gives for f in change.gives | change.ends}
        assert before & records.bdd.let(after, loose) == records.bdd.false, change.subject


@pytest.mark.parametrize("name", CHECKLISTS)
def test_immediate_actions_lead_out_of_every_alarm(name: str) -> None:
    """Each rule alone and each pair: taking the actions in turn ends where no rule is broken."""
    c = checklist(name)
    literals = {rule.id: _one_way(rule.when) for rule in c.rules}
    for one in c.rules:
        for other in c.rules:
            facts = {f for f in c.start_facts}
            for wanted in (*literals[one.id], *literals[other.id]):
                facts = facts | {wanted.fact} if wanted.wanted else facts - {wanted.fact}
            for _ in range(len(c.rules) + 1):
                broken = [rule for rule in c.rules if rule.when.holds(facts)]
                if not broken:
                    break
                facts = set(changes.resolve(broken[0]).apply(frozenset(facts)))
            assert not broken, (one.id, other.id)


def _one_way(condition: Condition) -> tuple[Literal, ...]:
    """Literals that make the condition true."""
    if isinstance(condition, Literal):
        return (condition,)
    parts = condition.parts  # type: ignore[attr-defined]
    chosen = parts if isinstance(condition, All) else parts[:1]
    return tuple(literal for part in chosen for literal in _one_way(part))


def test_pulling_away_before_chocking_is_refused_with_its_reason() -> None:
    walk = Walk.start(checklist("arrive", "survey-trailer"), new_record("survey-trailer"))
    walk.to("chock", NEAR).send(GoTo("pull-away"))
    refused = walk.of(Refused)[0]
    assert isinstance(refused, Refused)
    assert refused.rule == "roll-away"
    assert refused.missing[0] == Literal("chocked")
    assert refused.mends[0] == "chock"
    assert not refused.backstop
    assert walk.state.at == "chock"


def test_chocks_that_were_not_set_after_all_raise_the_alarm_and_hold_everything() -> None:
    walk = Walk.start(checklist("arrive", "tandem-slide"), new_record("tandem-slide"))
    walk.to("fore-level", NEAR).send(TakeBack("chock"))
    assert [effect for effect in walk.of(Alarm)] == [Alarm("roll-away")]
    assert walk.state.mode is Mode.ALARM
    walk.send(GoTo("fore-level"))
    assert walk.state.mode is Mode.ALARM
    walk.send(Respond())
    walk.send(Confirm())
    assert walk.state.mode is Mode.STEP
    assert "chocked" in walk.state.facts
