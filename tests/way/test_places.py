"""Every step that somebody walks to has a place, every place named is one; mistakes are named."""

from __future__ import annotations

from math import dist
from pathlib import Path

import pytest
import yaml

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.errors import AuthorError
from handsfree.storage.paths import checklists_folder
from handsfree.way.places import FILE, load_layout
from handsfree.way.walking import seconds_apart
from tests.checklists.walking import CHECKLISTS, checklist

WORDS = yaml.safe_load((checklists_folder() / FILE).read_text("utf-8"))


def rig_file(folder: Path, text: str) -> Path:
    path = folder / "own.yaml"
    path.write_text("name: Own\nhas: [tandem axle]\n" + text, encoding="utf-8")
    return path


def test_each_step_that_says_where_has_a_place(tmp_path: Path) -> None:
    layout = load_layout(checklists_folder(), load_rig(rig_file(tmp_path, "")))
    for name in CHECKLISTS:
        for step in checklist(name).steps.values():
            assert layout.at(step) or step.question and not step.place, f"{name}: {step.id}"


def test_each_step_that_the_file_names_is_one() -> None:
    steps = {step for name in CHECKLISTS for step in checklist(name).steps}
    named = {step for group in WORDS["steps"].values() for step in group} | set(WORDS["rounds"])
    named |= {step for key in ("together", "either first") for group in WORDS[key] for step in group}
    named |= {pair[key] for pair in WORDS["first things first"] for key in pair} - {"inside"}
    assert named <= steps, named - steps
    acts = {act for name in CHECKLISTS for act in checklist(name).acts}
    assert set(WORDS["phases end with"]) <= acts
    assert set(WORDS["usually no"]) <= steps


def test_a_rig_file_moves_places_and_changes_sides(tmp_path: Path) -> None:
    rig = load_rig(rig_file(tmp_path, "sides: {services: right, door: left}\nplaces: {post: [30, 20]}\n"))
    points = load_layout(checklists_folder(), rig).points
    assert points["post"] == (30, 20)
    assert points["tap"][1] > 0 > points["door"][1]


@pytest.mark.parametrize("text, told", [
    ("places: {pots: [30, 9]}", "line 3: 'pots' is no place (did you mean 'post'?)"),
    ("places: {post: [30]}", "line 3: where 'post' is takes two numbers of feet"),
    ("places: {post: [300, 9]}", "line 3: where 'post' is takes two numbers of feet, each at most 150"),
    ("places: {post: [10, 0]}", "line 3: 'post' would be in the trailer or the truck"),
    ("sides: {services: above}", "line 3: 'above' is not possible here"),
    ("sides: {doors: left}", "line 3: 'doors' is not a key that belongs here"),
    ("order: fastest", "line 3: 'fastest' is not possible here"),
])
def test_a_mistake_is_named_by_file_and_line(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(AuthorError) as caught:
        load_layout(checklists_folder(), load_rig(rig_file(tmp_path, text + "\n")))
    message = str(caught.value)
    assert "own.yaml" in message and told in message, message


def test_steps_are_as_far_apart_as_the_ground_says() -> None:
    """By hand: next to each other on one side, a straight line at walking speed; there and back the
    same; nothing for a step that can be answered anywhere."""
    rig = load_rig(checklists_folder() / "rigs" / "small-single.yaml")
    arrive = checklist("arrive")
    layout = load_layout(checklists_folder(), rig)
    apart = seconds_apart(arrive, layout, rig.has | {"hitched"})
    one, other = (layout.points[layout.at(arrive.steps[step])[0]] for step in ("tap-flush", "plug-in"))
    straight = dist(one, other) / layout.speed
    assert apart["tap-flush", "plug-in"] == pytest.approx(straight, rel=0.05)
    assert apart["plug-in", "tap-flush"] == apart["tap-flush", "plug-in"]
    assert apart["tap-flush", "tap-flush"] == 0
    anywhere = {name for name, step in arrive.steps.items() if not layout.at(step)}
    assert anywhere and not anywhere & {step for pair in apart for step in pair}


def test_a_slide_out_is_looked_at_on_its_own_side(tmp_path: Path) -> None:
    """An owner lists a slide-out on the door side: whoever looks beside it walks there."""
    rig = load_rig(rig_file(tmp_path, "slides: [living room left, bedroom right]\nawnings: [front right, rear left]\n"))
    layout, arrive = load_layout(checklists_folder(), rig), load_checklist(checklists_folder() / "arrive.yaml", rig=rig)
    for step, side in (("living-room-slide-beside", -1), ("bedroom-slide-beside", 1), ("bedroom-slide-space", 1),
                       ("front-awning-out", 1), ("rear-awning-out", -1)):
        place, = layout.at(arrive.steps[step])
        assert layout.points[place][1] * side > 0, (step, place)


@pytest.mark.parametrize(("text", "side"), (
    ("slides: [living room right]", 1), ("slides: [right]", 1), ("slides: [living room]", -1), ("", -1),
    ("sides: {services: right, door: left}", 1), ("slides: [kitchen left]\nsides: {services: right}", -1),
    ("slides: [kitchen right]\nplaces: {slide: [9, -7]}", -1)))
def test_the_only_slide_out_has_its_side_too(tmp_path: Path, text: str, side: int) -> None:
    """Else it is on the side of the services; what the owner has measured counts first."""
    layout = load_layout(checklists_folder(), load_rig(rig_file(tmp_path, text + "\n")))
    assert layout.points["slide"][1] * side > 0
