"""What is written: every file loads with every rig, and can be spoken, heard and told apart."""

import re
from collections import defaultdict
from functools import cache
from itertools import combinations

import pocketsphinx
import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist, Origin, Step, Travel
from handsfree.language.confusability import TOO_ALIKE, confusability, read_dictionary, unpronounced
from handsfree.language.loader import load_language
from handsfree.language.words import normalise
from handsfree.session.expecting import on_this_rig
from handsfree.speaking.normalisation_table import load_normaliser
from handsfree.units import UNITS
from tests.checklists.walking import CHECKLISTS, LIBRARY, RIGS, checklist, rig

MOST_WORDS = 12
"""A limit of our own, no source: what one holds in mind with busy hands."""
PLACES = {"hitch", "left", "right", "rear", "inside", "pedestal", "wheels", "front"}


def steps(name: str) -> list[Step]:
    """Its steps, site questions left out."""
    return [step for step in checklist(name).steps.values() if not step.question]


def every_step() -> list[Step]:
    return [step for name in CHECKLISTS for step in steps(name)]


@cache
def sounds() -> dict[str, tuple[str, ...]]:
    path = pocketsphinx.get_model_path("en-us/cmudict-en-us.dict")
    with open(path, encoding="utf-8") as lines:
        english = load_language("en").pronunciations
        return {**read_dictionary(lines), **{w: tuple(p) for w, p in english.items()}}


@cache
def alike(one: str, other: str) -> bool:
    """Whether the two phrases must not be open at the same time."""
    return one == other or confusability(one, other, sounds()) >= TOO_ALIKE


def test_all_phases_are_there() -> None:
    assert set(CHECKLISTS) == {
        "before-leaving-home", "hitch-up", "road-stop", "first-miles", "choose-spot", "arrive",
        "evening", "freezing-night", "storm", "dump-station", "pack-inside", "depart",
        "store-for-winter", "bring-back", "generator"}
    assert len(RIGS) == 8


@pytest.mark.parametrize("rig_name", RIGS)
@pytest.mark.parametrize("name", CHECKLISTS)
def test_it_loads_with_the_rig_and_takes_its_numbers(name: str, rig_name: str) -> None:
    loaded = load_checklist(LIBRARY / f"{name}.yaml", rig=rig(rig_name))
    assert loaded.title and loaded.closing
    traits = {fact.name for fact in loaded.facts.values() if fact.origin is Origin.TRAIT}
    assert rig(rig_name).has <= traits
    assert set(rig(rig_name).limits) <= set(loaded.limits)


def test_the_rigs_limits_reach_the_readings() -> None:
    pressure = checklist("arrive", "small-single").steps["pressure"].reading
    assert pressure and pressure.high == 50
    assert checklist("arrive").steps["pressure"].reading.high == 60  # type: ignore[union-attr]


@pytest.mark.parametrize("name", ("arrive", "depart"))
def test_arrival_and_departure_are_long_enough_to_be_the_job(name: str) -> None:
    assert len(checklist(name).order) >= 20


@pytest.mark.parametrize("name", CHECKLISTS)
def test_it_names_whose_word_stands_above_it(name: str) -> None:
    defers = checklist(name).defers
    assert re.search(r"manual|placard", defers, re.IGNORECASE)
    assert defers.endswith("anything I say.")


@pytest.mark.parametrize("name", CHECKLISTS)
def test_challenges_can_be_held_in_memory(name: str) -> None:
    for step in steps(name):
        for text in (step.do, step.caution):
            assert len(text.split()) <= MOST_WORDS, (step.id, text)
        assert len(step.detail.split()) <= 40, step.id
        assert step.do[-1] in ".?", step.id
        assert not re.search(r"\bnot\b.*\bnot\b|\bnever\b.*\bnot\b", step.do), step.id


@pytest.mark.parametrize("name", CHECKLISTS)
def test_every_step_has_its_place_and_says_whose_it_is(name: str) -> None:
    """The two operators' roles: inside steps inside; what moves or crushes is for both."""
    for step in steps(name):
        assert step.place in PLACES, step.id
        assert step.role in ("inside", "outside", "both"), step.id
        assert step.place != "inside" or step.role != "outside", step.id
        assert step.role != "inside" or step.place == "inside", step.id


@pytest.mark.parametrize("name, step", [
    ("arrive", "slide-run-out"), ("depart", "slide-run-in"), ("storm", "gust-in"),
    ("hitch-up", "lights"), ("hitch-up", "ball-under"), ("hitch-up", "pin-in"),
    ("arrive", "back-in"), ("arrive", "pull-away"), ("arrive", "ramp-climb"),
    ("depart", "pull-out"), ("arrive", "leak-out")])
def test_what_takes_two_is_for_both(name: str, step: str) -> None:
    assert checklist(name).steps[step].role == "both"


@pytest.mark.parametrize("name", CHECKLISTS)
def test_readings_have_a_unit_that_can_be_heard_and_a_remedy(name: str) -> None:
    for step in steps(name):
        if step.reading:
            assert step.reading.unit in UNITS
            assert step.remedy, step.id


@pytest.mark.parametrize("name", CHECKLISTS)
def test_responses_are_phrases_and_each_says_one_thing(name: str) -> None:
    """Steps that share a response settle the same facts; a rule's is its own."""
    c = checklist(name)
    meant: dict[str, set[object]] = {}
    for step in steps(name):
        for words in step.responses:
            meant.setdefault(words, set()).add((step.gives, step.ends))
    for rule in c.rules:
        for words in rule.responses:
            meant.setdefault(words, set()).add(rule.id)
    assert all(len(response.split()) >= 2 for response in meant)
    assert [response for response, things in meant.items() if len(things) > 1] == []


@pytest.mark.parametrize("rig_name", RIGS)
@pytest.mark.parametrize("name", CHECKLISTS)
def test_what_may_be_said_cannot_be_confused(name: str, rig_name: str) -> None:
    """Names of different steps, hold points and commands, with the rig's own steps."""
    c, english = checklist(name, rig_name), load_language("en")
    ours = [s for s in c.steps.values() if on_this_rig(c, s, rig(rig_name).has)]
    owner: dict[str, str] = {}
    for step in ours:
        for called in map(normalise, step.spoken_names):
            assert owner.setdefault(called, step.id) == step.id, (called, step.id)
    assert [(a, b) for a, b in combinations(sorted(owner), 2)
            if owner[a] != owner[b] and alike(a, b)] == []
    several = [{*map(normalise, one.responses)} for one in (*ours, *c.rules)]
    holds = set[str]().union(*several)
    assert [pair for pair in combinations(sorted(holds), 2)
            if alike(*pair) and not any({*pair} <= some for some in several)] == []
    commands = {normalise(p) for phrases in english.commands.values() for p in phrases}
    assert [(a, b) for a in holds for b in commands | set(owner) if alike(*sorted((a, b)))] == []


def test_that_check_would_find_a_confusion() -> None:
    assert alike("jaws lock", "jaws locked")


def test_every_word_of_names_and_responses_can_be_pronounced() -> None:
    phrases = {normalise(p) for step in every_step() for p in (*step.spoken_names, *step.responses)}
    phrases |= {normalise(words) for name in CHECKLISTS for r in checklist(name).rules
                for words in r.responses}
    assert unpronounced(phrases, sounds()) == []


def spoken(c: Checklist) -> list[str]:
    """Everything that can be spoken of a checklist."""
    found = [c.title, c.says, c.defers, c.closing]
    found += [t for f in c.facts.values() for t in (f.says, f.otherwise, f.ask)]
    found += [t for s in c.steps.values()
              for t in (s.do, s.detail, s.why, s.caution, *s.responses, *s.spoken_names)]
    found += [t for r in c.rules for t in (r.because, r.now, *r.responses)]
    found += [t for r in c.remedies.values() for t in (r.says, r.gives_up)]
    found += [limit.ask for limit in c.limits.values()]
    return [text for text in found if text]


@pytest.mark.parametrize("name", CHECKLISTS)
def test_as_it_is_said_nothing_is_left_that_only_the_eye_can_read(name: str) -> None:
    aloud = load_normaliser("en")
    for text in spoken(checklist(name)):
        said = aloud.say(text)
        assert not re.search(r"\d|[^A-Za-z.,:;?!' -]|\b(psi|LP|CO|RV)\b", said), said


@pytest.mark.parametrize("name", CHECKLISTS)
def test_every_fact_can_be_spoken_both_ways(name: str) -> None:
    for fact in checklist(name).facts.values():
        assert fact.says, fact.name
        if fact.origin is not Origin.TRAIT:
            assert fact.otherwise, fact.name


def test_one_step_is_told_one_way_wherever_it_is_used() -> None:
    wordings = defaultdict(set)
    for step in every_step():
        # A checklist's 'inside while' is a further interlock of its own steps inside.
        needs = "" if step.role == "inside" else str(step.needs)
        wordings[step.id].add((step.do, step.responses, needs))
    assert {step: w for step, w in wordings.items() if len(w) > 1} == {}


def test_whatever_goes_out_or_is_ended_for_a_stay_comes_back_before_the_road() -> None:
    """Gear, and every fact that the road asks for or forbids."""
    back = {fact for step in steps("depart") for fact in step.ends}
    again = {fact for step in steps("depart") for fact in step.gives}
    facts = {fact: known for name in CHECKLISTS for fact, known in checklist(name).facts.items()}
    for step in every_step():
        for fact in step.gives:
            if facts[fact].travel is Travel.MUST_NOT:
                assert fact in back, (step.id, fact)
        for fact in step.ends:
            if facts[fact].travel is Travel.MUST:
                assert fact in again, (step.id, fact)


def test_everything_declared_is_used_somewhere() -> None:
    used = set()
    for name in CHECKLISTS:
        c = checklist(name)
        for step in c.steps.values():
            used |= step.gives | step.ends | step.needs.names() | step.only_if.names()
        used |= set().union(*(rule.when.names() for rule in c.rules))
    declared = {f.name for f in checklist("arrive").facts.values() if f.origin is not Origin.SITE
                and f.origin is not Origin.ANSWERED}
    assert declared - used == set()
