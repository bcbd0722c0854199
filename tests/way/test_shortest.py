"""An order that walks least is the same checklist: as safe, as complete, and it does walk less."""

from __future__ import annotations

import random
from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pytest

from handsfree.checklist.conditions import ALWAYS
from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode
from handsfree.proof.prover import prove
from handsfree.storage import ways
from handsfree.storage.paths import checklists_folder
from handsfree.way import kept
from handsfree.way.drawing import drawn, in_words
from handsfree.way.places import Layout, load_layout
from handsfree.way.precedence import blocks
from handsfree.way.shortest import (
    AS_WRITTEN,
    EXACT,
    HEURISTIC,
    Way,
    _with_the_others,
    permuted,
    problem_of,
    shortest,
    usual_record,
)
from handsfree.way.walking import on_foot, walk
from tests.checklists.walking import SITES, Walk, checklist, new_record
from tests.checklists.walking import rig as rig_of

RIGS = ("small-single", "tandem-slide", *(
    pytest.param(rig, marks=pytest.mark.long) for rig in ("survey-trailer", "fifth-wheel")))
LISTS = ("arrive", "depart")


@cache
def layout(rig: str) -> Layout:
    return load_layout(checklists_folder(), rig_of(rig))


@cache
def record(name: str, rig: str) -> frozenset[str]:
    return usual_record(checklist(name, rig), rig_of(rig).has, layout(rig),
                        {"arrive": checklist("arrive", rig)})


@cache
def way(name: str, rig: str) -> Way:
    return shortest(checklist(name, rig), layout(rig), record(name, rig))


def in_order(name: str, rig: str) -> Checklist:
    return permuted(checklist(name, rig), way(name, rig).order)


@pytest.mark.parametrize("rig", RIGS)
@pytest.mark.parametrize("name", LISTS)
def test_it_walks_less_and_nothing_else_is_different(name: str, rig: str) -> None:
    found, written, other = way(name, rig), checklist(name, rig), in_order(name, rig)
    assert found.after.minutes < found.before.minutes
    assert found.after.feet < found.before.feet and found.after.doors < found.before.doors
    assert found.optimum - 1e-6 <= found.after.seconds
    if found.before.waited == found.after.waited:  # else it walks a little so as not to wait
        assert found.after.seconds <= 1.05 * found.optimum
    assert (found.method == EXACT) is (found.after.seconds <= found.optimum + 1e-6)
    assert found.method == EXACT or name == "arrive"
    for part in fields(Checklist):
        if part.name not in ("order", "digest"):
            assert getattr(other, part.name) is getattr(written, part.name), part.name
    assert sorted(other.order) == sorted(written.order) and other.order != written.order
    assert other.digest != written.digest


@pytest.mark.parametrize("rig", RIGS)
@pytest.mark.parametrize("site", SITES)
def test_at_any_site_it_comes_to_the_same_end_by_the_same_steps(rig: str, site: str) -> None:
    """Also where the usual stay, by which the order was found, is not how it is."""
    on_record = new_record(rig)
    for name in LISTS:
        walks = [Walk.start(c, on_record).on(SITES[site])
                 for c in (checklist(name, rig), in_order(name, rig))]
        for one in walks:
            assert one.state.mode is Mode.CLOSED and one.untroubled, (name, one.met[-1])
        as_written, other = walks
        assert other.state.facts == as_written.state.facts
        assert sorted(other.met) == sorted(as_written.met)
        on_record = as_written.state.facts


@pytest.mark.parametrize("rig", RIGS)
@pytest.mark.parametrize("name", LISTS)
def test_what_belongs_together_stays_together_and_nothing_passes_a_motion(name: str, rig: str) -> None:
    plain = walk(checklist(name, rig), record(name, rig), layout(rig).usually_no, clock=False)
    again = walk(in_order(name, rig), record(name, rig), layout(rig).usually_no, clock=False)
    met = [visit.step for visit in again.visits]
    parts = blocks(checklist(name, rig), layout(rig), plain)
    assert any(len(part.orders[0]) > 1 for part in parts)
    for part in parts:
        first = min(met.index(step) for step in part.orders[0])
        assert tuple(met[first : first + len(part.orders[0])]) in part.orders
        for k in part.after:
            assert max(met.index(step) for step in parts[k].orders[0]) < first
    place = {step: part.phase for part in parts for step in part.orders[0]}
    phases = [place[step] for step in met if step in place]
    assert phases == sorted(phases)
    moving = [step for step in met if checklist(name, rig).steps[step].acts & layout(rig).phase_ends]
    assert moving == [visit.step for visit in plain.visits if visit.step in moving]


@pytest.mark.parametrize("rig", RIGS)
@pytest.mark.parametrize("name", LISTS)
def test_any_order_that_keeps_the_precedences_comes_to_the_same_end(name: str, rig: str) -> None:
    """Not only the shortest: orders by chance, walked through the engine with waits last."""
    written, rng = checklist(name, rig), random.Random(f"{name} {rig}")
    plain = walk(written, record(name, rig), layout(rig).usually_no, clock=False)
    parts = blocks(written, layout(rig), plain)
    waiting = {step for step in written.order if written.steps[step].wait}
    for _ in range(6):
        met: list[int] = []
        while len(met) < len(parts):
            met.append(rng.choice([k for k, part in enumerate(parts)
                                   if k not in met and part.after <= set(met)]))
        steps = [step for k in met for step in rng.choice(parts[k].orders) if step not in waiting]
        other = permuted(written, _with_the_others(written, steps))
        again = walk(other, record(name, rig), layout(rig).usually_no, clock=False)
        assert again.complete and again.facts == plain.facts
        assert [visit.step for visit in again.visits if visit.step not in waiting] == steps


def test_the_proof_of_the_permuted_lists_finds_what_that_of_the_written_ones_finds() -> None:
    rig = "small-single"
    reports = [prove([c(name, rig) for name in LISTS], rig_of(rig), finishing=False, count=False)
               for c in (checklist, in_order)]
    assert reports[0].sound and reports[1].sound
    assert reports[0].findings == reports[1].findings == ()
    assert reports[0].records == reports[1].records


def test_the_proof_would_find_an_interlock_that_is_gone() -> None:
    """So that the test before this one can fail."""
    rig = "small-single"
    one = in_order("depart", rig)
    bare = {**one.steps, "pull-out": replace(one.steps["pull-out"], needs=ALWAYS, own=ALWAYS)}
    broken = prove([in_order("arrive", rig), replace(one, steps=bare)], rig_of(rig), finishing=False,
                   count=False)
    assert not broken.sound


@pytest.mark.parametrize("name", ["pack-inside", "evening", "hitch-up", "storm", "freezing-night"])
def test_other_lists_have_an_order_too_or_a_reason(name: str) -> None:
    found = way(name, "tandem-slide")
    assert found.method in (EXACT, HEURISTIC) or found.method == AS_WRITTEN and found.why
    assert found.after.minutes <= found.before.minutes


def test_where_there_are_too_many_orders_the_heuristic_is_no_worse_than_the_list() -> None:
    found = shortest(checklist("depart", "tandem-slide"), layout("tandem-slide"),
                     record("depart", "tandem-slide"), most_states=50)
    assert found.method == HEURISTIC
    best = way("depart", "tandem-slide")
    assert best.after.seconds - 1e-6 <= found.after.seconds <= found.before.seconds


def test_a_walk_is_measured_by_hand() -> None:
    """Leg by leg, from the ground's own matrix."""
    rig, name = "small-single", "depart"
    walked = walk(checklist(name, rig), record(name, rig), layout(rig).usually_no)
    found = on_foot(checklist(name, rig), layout(rig), walked)
    assert found.feet == pytest.approx(sum(leg.feet for _, leg in found.legs))
    names = list(layout(rig).points)
    here, seconds = "door", 0.0
    for (_, place), (hitched, leg) in zip(found.stops, found.legs, strict=True):
        expected = layout(rig).grounds[hitched].legs[names.index(here)][names.index(place)]
        assert leg == expected
        here, seconds = place, seconds + leg.seconds
    assert found.seconds == pytest.approx(seconds)


@pytest.mark.parametrize("rig", RIGS)
@pytest.mark.parametrize("name", LISTS)
def test_orders_are_tried_as_the_engine_walks_them(name: str, rig: str) -> None:
    """The list's own order costs the same, seconds of waiting included, without the engine."""
    plain = walk(checklist(name, rig), record(name, rig), layout(rig).usually_no, clock=False)
    problem = problem_of(checklist(name, rig), layout(rig), plain)
    own = problem.in_time(range(len(problem.pieces)))
    if problem.steps(range(len(problem.pieces))) == tuple(
            visit.step for visit in plain.visits if not checklist(name, rig).steps[visit.step].wait):
        torn = problem.torn([step for step, _ in way(name, rig).before.stops])
        assert own == pytest.approx(60 * way(name, rig).before.minutes + 120 * torn)
    else:  # groups are put together that the list has apart
        assert own <= 60 * way(name, rig).before.minutes + 300


def test_a_foreign_order_is_refused() -> None:
    one = checklist("arrive", "small-single")
    with pytest.raises(ValueError):
        permuted(one, one.order[1:])


# --- kept ---------------------------------------------------------------------------------------

def test_it_is_worked_out_once_and_anew_for_another_rig_or_list(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
) -> None:
    counted: list[str] = []

    def counting(one: Checklist, rig: object) -> Way:
        counted.append(one.id)
        return way(one.id, "small-single")

    monkeypatch.setattr(kept, "way_of", counting)
    one, rig = checklist("depart", "small-single"), rig_of("small-single")
    first = kept.in_shortest_order(one, rig, tmp_path)
    assert kept.in_shortest_order(one, rig, tmp_path) == first
    assert first.order == way("depart", "small-single").order
    assert counted == ["depart"]
    kept.in_shortest_order(one, replace(rig, sides={"door": "left"}), tmp_path)
    kept.in_shortest_order(replace(one, digest="edited"), rig, tmp_path)
    assert counted == ["depart"] * 3


def test_a_damaged_file_is_not_believed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one, rig = checklist("depart", "small-single"), rig_of("small-single")
    monkeypatch.setattr(kept, "way_of", lambda c, r: way(c.id, "small-single"))
    first = kept.in_shortest_order(one, rig, tmp_path)
    for text in ("{", '{"ways": []}', '{"ways": {"x": 3}}',
                 (tmp_path / ways.FILE).read_text().replace("step-in", "step-inn")):
        (tmp_path / ways.FILE).write_text(text)
        assert kept.in_shortest_order(one, rig, tmp_path) == first


# --- shown --------------------------------------------------------------------------------------

def test_the_drawing_is_xml_and_names_every_stop() -> None:
    found = way("depart", "fifth-wheel")
    picture = drawn(found, layout("fifth-wheel"), "Pack <up> & go")
    text = " ".join(ElementTree.fromstring(picture).itertext())
    lines = list(in_words(found))
    assert "Pack <up> & go. Shortest" in text
    for step, place in found.after.stops:
        assert step in text and place in text
        assert any(step in line and place in line for line in lines)
