"""A schedule of two people: held to every order there is on small lists, and to a bound on real ones."""

from __future__ import annotations

from itertools import permutations
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import BOTH, OUTSIDE, Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.cli import main
from handsfree.review.scheduling import schedule
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.way import pair
from handsfree.way.kept import pair_of
from handsfree.way.pair import together
from handsfree.way.places import load_layout
from handsfree.way.shortest import permuted

RIG = load_rig(find_rig("small-single"))
SMALL = """\
title: Small
facts:
  a: {{says: a is so}}
  b: {{says: b is so}}
  c: {{says: c is so}}
steps:
{steps}
closes when: a
"""
STEPS = (
    "  - {id: long-out, do: Do it, place: right, role: outside, gives: [a], takes: [5, 5, 5]}",
    "  - {id: in-after, do: Do it, place: inside, role: inside, after: [b], takes: [6, 6, 6]}",
    "  - {id: short-out, do: Do it, place: left, role: outside, gives: [b], takes: [1, 1, 1]}",
    "  - {id: in-first, do: Do it, place: inside, role: inside, gives: [c], takes: [1, 1, 1]}",
    "  - {id: out-last, do: Do it, place: hitch, role: outside, after: [c], takes: [2, 2, 2]}",
)


def small(tmp_path: Path, order: tuple[int, ...]) -> Checklist:
    path = tmp_path / "small.yaml"
    path.write_text(SMALL.format(steps="\n".join(STEPS[k] for k in order)), "utf-8")
    return load_checklist(path, rig=RIG, library=checklists_folder())


@pytest.mark.parametrize("order", [(0, 2, 1, 3, 4), (3, 0, 4, 2, 1), (2, 3, 4, 0, 1)])
def test_no_order_of_a_small_list_is_over_sooner(tmp_path: Path, order: tuple[int, ...]) -> None:
    """All 120 orders, walked through the engine one by one."""
    c, layout = small(tmp_path, order), load_layout(checklists_folder(), RIG)
    record = RIG.has | c.start_facts
    found = together(c, layout, record)
    assert found is not None
    work = pair._work(c, layout, pair.walk(c, record, layout.usually_no, clock=False))
    apart = pair._apart(c, layout, pair.walk(c, record, layout.usually_no, clock=False))
    lengths = []
    for names in permutations(c.order):
        one = schedule(permuted(c, names), record, work, people=2, apart=apart)
        if one.complete and set(one.steps) == set(c.order):
            lengths.append(one.seconds)
    assert lengths and found.after.seconds == pytest.approx(min(lengths))
    assert found.bound <= min(lengths) + 1e-6
    assert max(lengths) > min(lengths) + 60, "or there is nothing to choose"


@pytest.mark.parametrize("name", ["arrive", "depart"])
def test_a_real_list_comes_near_the_least_there_can_be(name: str) -> None:
    folder = checklists_folder()
    c = load_checklist(folder / f"{name}.yaml", rig=RIG, library=folder)
    found = pair_of(c, RIG)
    assert found is not None and found.after.complete
    assert found.bound <= found.after.seconds <= found.before.seconds
    assert found.after.seconds < 1.06 * found.bound
    assert set(found.after.steps) >= set(found.before.steps)
    assert sorted(found.order) == sorted(c.order)
    for side in ("outside", "inside"):
        mine = [visit for visit in found.after.visits if visit.who == side]
        assert all(one.end <= other.begin + 1e-6 for one, other in zip(mine, mine[1:], strict=False)), (
            "nobody does two things at once")
        assert {c.steps[visit.step].role or OUTSIDE for visit in mine} <= {side, BOTH}


def test_the_command_tells_and_draws(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    svg = tmp_path / "two.svg"
    told = CliRunner().invoke(
        main, ["way", "arrive", "--rig", "small-single", "--two", "--svg", str(svg)])
    assert told.exit_code == 0, told.output
    assert "as written: " in told.output and "no schedule of two takes less than" in told.output
    assert "outside: " in told.output and "inside: " in told.output
    tree = ElementTree.fromstring(svg.read_text("utf-8"))
    bars = tree.findall("{http://www.w3.org/2000/svg}rect")
    assert len(bars) > 40


def test_a_list_that_does_not_close_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    path = tmp_path / "never.yaml"
    path.write_text(SMALL.format(steps=STEPS[2]), "utf-8")
    told = CliRunner().invoke(main, ["way", str(path), "--rig", "small-single", "--two"])
    assert told.exit_code == 2 and "does not close by itself" in told.output
    assert "Traceback" not in told.output
