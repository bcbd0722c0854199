"""Traceability both ways: each way of breaking it is found, and the library's holds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.checklist.conditions import (
    ALWAYS,
    NEVER,
    All,
    AnyOf,
    Condition,
    Literal,
    both,
    parse,
)
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import TIME, Checklist, NeverRule
from handsfree.errors import AuthorError
from handsfree.proof import KINDS, prove
from handsfree.proof.tracing import clauses, traced
from handsfree.storage.paths import checklists_folder
from tests.proof.traceable import traceable
from tests.proof.written import written


def _kinds(checklist: Checklist) -> list[str]:
    return [finding.kind for finding in traced([checklist])]


@pytest.fixture(scope="module")
def library() -> dict[str, Checklist]:
    folder = checklists_folder()
    return {path.stem: load_checklist(path, library=folder)
            for path in sorted(folder.glob("*.yaml"))}


def test_the_library_has_no_open_end(library: dict[str, Checklist]) -> None:
    assert all(one.hazards for one in library.values())
    assert [str(finding) for finding in traced(list(library.values()))] == []


def test_what_is_traced_both_ways_has_no_finding_and_is_proved(tmp_path: Path) -> None:
    checklist = traceable(tmp_path)
    assert _kinds(checklist) == []
    assert prove([checklist]).sound


def test_who_declares_no_hazards_is_asked_for_none(tmp_path: Path) -> None:
    assert traced([written(tmp_path)]) == []


@pytest.mark.parametrize("old, new, kind, said", [
    # A rule that says less than its hazard, or more.
    ("    when: not path clear or not chocked", "    when: not chocked", "open hazard",
     "the hazard 'crushed' comes about by 'not path clear', in the act 'slide'"),
    ("    when: not path clear or not chocked", "    when: not path clear or not chocked or out",
     "unexplained rule", "forbids 'out', in the act 'slide', and no hazard says why"),
    ("    when: plugged and not tested\n    because", "    when: plugged\n    because",
     "unexplained rule", "the never rule 'untested' forbids 'plugged'"),
    ("    when: not hitched and not chocked\n    because",
     "    when: not hitched and not chocked and not out\n    because",
     "open hazard", "the hazard 'rolls' comes about by 'not chocked and not hitched'"),
    # A rule that no hazard names; a hazard that names none.
    ("rule: untested,\n         when: plugged and not tested",
     "rule: roll-away,\n         when: not hitched and not chocked",
     "unexplained rule", "no hazard names the never rule 'untested'"),
    ("    unsafe:\n      - {how: too early, what: Nobody tested the outlet., rule: untested,\n"
     "         when: plugged and not tested, stale: {tested: [time, hitched]}}",
     "    unsafe: []", "open hazard", "the hazard 'shock' names no rule"),
    # An act that the rule or the hazard leaves out.
    ("rule: blind, while: [slide],\n         when: not chocked",
     "rule: roll-away,\n         when: not hitched and not chocked",
     "unexplained rule", "the never rule 'blind' forbids 'not chocked', in the act 'slide'"),
    # Evidence that lasts longer than its hazard wants, or ends without one.
    ("{minutes: 10, void by: [slide]}", "{void by: [slide]}", "open hazard",
     "the hazard 'crushed' wants 'path clear' ended by 'time'"),
    ("{minutes: 10, void by: [slide]}", "{minutes: 10}", "open hazard",
     "wants 'path clear' ended by 'slide', and nothing does so"),
    ("{minutes: 10, void by: [slide]}", "{minutes: 10, void by: [slide, plugged]}",
     "unexplained lifetime", "'path clear' is ended by 'plugged', and no hazard"),
    ("{minutes: 10, void by: [slide]}", "{minutes: 10, void by: [slide], unless: out}",
     "unexplained lifetime", "'path clear' does not end by time while 'out'"),
    (", stale: {tested: [time, hitched]}", "", "unexplained lifetime",
     "'tested' is ended by 'time'"),
    # Motion.
    ("  slide:\n", "  awning: {says: the awning moves, words: awning}\n  slide:\n",
     "idle motion", "no never rule speaks of the motion 'awning'"),
    (", moves: [slide]", "", "idle motion", "no step does the motion 'slide'"),
    ("words: run the slide", "words: slide in", "unspoken motion",
     "'run-out' declares 'slide', and whoever hears 'Run the slide out.' is not told"),
    (", together: yes", "", "unguarded motion", "one operator alone can start it"),
    (", clear: Hands off.", "", "unguarded motion", "nobody is warned"),
    # Interlocks.
    ("gives: [out], respond", "needs: [path clear], gives: [out], respond",
     "unexplained interlock", "a never rule about what 'run-out' does asks for 'path clear'"),
    ("gives: [out], respond", "needs: [hitched], gives: [out], respond",
     "unexplained interlock", "no never rule hangs on 'hitched', which 'run-out' needs"),
])
def test_each_kind_of_broken_trace_is_found(
    tmp_path: Path, old: str, new: str, kind: str, said: str
) -> None:
    found = [finding for finding in traced([traceable(tmp_path, (old, new))])
             if finding.kind == kind and said in finding.message]
    assert found, [str(one) for one in traced([traceable(tmp_path, (old, new))])]
    assert kind in KINDS
    assert all(finding.file for finding in found)


def test_a_hazard_whose_rule_is_not_there_does_not_load(tmp_path: Path) -> None:
    with pytest.raises(AuthorError, match="names a never rule 'blnd' that is not there") as caught:
        traceable(tmp_path, ("rule: blind, while: [slide], when: not path", "rule: blnd,"
                             " while: [slide], when: not path"))
    assert caught.value.line


@pytest.mark.parametrize("old, new, said", [
    ("while: [slide],\n         when: not chocked", "while: [slid],\n         when: not chocked",
     "'slid' is neither a motion nor an exposure"),
    ("stale: {path clear: [time, slide]}", "stale: {path clera: [time]}",
     "'path clera' is not a known fact"),
    ("stale: {path clear: [time, slide]}", "stale: {path clear: [tine]}",
     "'tine' is neither a motion nor an exposure"),
])
def test_slips_of_the_pen_in_a_hazard_are_named(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    with pytest.raises(AuthorError, match=said):
        traceable(tmp_path, (old, new))


# --- double entry, over the library -------------------------------------------------------------

def _less(condition: Condition) -> Iterator[Condition]:
    """The condition with one literal gone, each in turn."""
    if isinstance(condition, (All, AnyOf)):
        for place, part in enumerate(condition.parts):
            rest = (*condition.parts[:place], *condition.parts[place + 1:])
            if isinstance(part, Literal):
                yield type(condition)(rest)
            for smaller in _less(part):
                yield type(condition)((*condition.parts[:place], smaller,
                                       *condition.parts[place + 1:]))


def _weaker_rules(rule: NeverRule) -> Iterator[NeverRule]:
    for when in _less(rule.when):
        yield replace(rule, when=when)
    if isinstance(rule.when, Literal):
        yield replace(rule, when=NEVER)
    if len(rule.during) > 1:
        for act in rule.during:
            yield replace(rule, during=rule.during - {act})


def _with_rule(checklist: Checklist, old: NeverRule, new: NeverRule | None) -> Checklist:
    def swapped(rules: tuple[NeverRule, ...]) -> tuple[NeverRule, ...]:
        return tuple(new if rule is old else rule for rule in rules if new or rule is not old)

    return replace(checklist, rules=swapped(checklist.rules), conduct=swapped(checklist.conduct))


def _declarations(checklist: Checklist) -> Checklist:
    """Without steps: what is declared is traced by itself."""
    return replace(checklist, steps={}, order=())


def test_no_literal_and_no_act_of_a_rule_can_go_unnoticed(library: dict[str, Checklist]) -> None:
    """The proof cannot see it when rule and interlocks lose the same clause: the hazards can."""
    checklist = _declarations(library["arrive"])
    usual = set(traced([checklist]))
    tried = 0
    for rule in checklist.all_rules:
        for weaker in _weaker_rules(rule):
            tried += 1
            found = set(traced([_with_rule(checklist, rule, weaker)])) - usual
            assert found, (rule.id, str(weaker.when), sorted(weaker.during))
    assert tried > 150


def test_no_way_of_a_hazard_can_go_unnoticed(library: dict[str, Checklist]) -> None:
    checklist = _declarations(library["arrive"])
    usual = set(traced([checklist]))
    for hazard in checklist.hazards:
        for way in hazard.unsafe:
            fewer = replace(hazard, unsafe=tuple(one for one in hazard.unsafe if one is not way))
            hazards = tuple(fewer if one is hazard else one for one in checklist.hazards)
            assert set(traced([replace(checklist, hazards=hazards)])) - usual, (hazard.id, way)


def test_nothing_that_ends_evidence_can_go_unnoticed(library: dict[str, Checklist]) -> None:
    checklist = _declarations(library["arrive"])
    usual = set(traced([checklist]))
    for name, evidence in checklist.evidence.items():
        lasting = [replace(evidence, minutes=0.0)] if evidence.minutes else []
        lasting += [replace(evidence, voids=evidence.voids - {end}) for end in evidence.voids]
        for longer in lasting:
            facts = {**checklist.facts, name: replace(checklist.facts[name], evidence=longer)}
            assert set(traced([replace(checklist, facts=facts)])) - usual, (name, longer)


# --- conditions as clauses ----------------------------------------------------------------------

@pytest.mark.parametrize("text, minimal", [
    ("a", {"a"}),
    ("a and (b or c)", {"a b", "a c"}),
    ("a or a and b", {"a"}),
    ("(a or b) and (a or c)", {"a", "b c"}),
    ("a and not a or b", {"b"}),
])
def test_clauses_are_minimal(text: str, minimal: set[str]) -> None:
    found = {" ".join(sorted(str(one) for one in clause)) for clause in clauses(parse(text))}
    assert found == minimal


def test_always_is_one_empty_clause_and_never_is_none() -> None:
    assert clauses(ALWAYS) == {frozenset()}
    assert clauses(NEVER) == frozenset()


_CONDITIONS = st.recursive(
    st.builds(Literal, st.sampled_from("abc"), st.booleans()),
    lambda inner: st.lists(inner, min_size=1, max_size=3).flatmap(
        lambda parts: st.sampled_from([All(tuple(parts)), AnyOf(tuple(parts))])), max_leaves=8)


@given(_CONDITIONS)
def test_clauses_say_the_same_as_the_condition(condition: Condition) -> None:
    for truths in product((False, True), repeat=3):
        facts = {name for name, true in zip("abc", truths, strict=True) if true}
        assert condition.holds(facts) == any(
            both(*clause).holds(facts) for clause in clauses(condition))


def test_time_is_no_name_of_an_act(library: dict[str, Checklist]) -> None:
    """`stale: [time]` means the minutes, so nothing else may be called that."""
    assert all(TIME not in one.acts and TIME not in one.facts for one in library.values())
