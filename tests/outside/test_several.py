"""Several slide-outs, awnings and tanks on one rig: what could hurt somebody if they were taken for one.

From the hazards, before anything was built.  A slide-out crushes what is in its own way (makers'
manuals; ISO 14118:2017, unexpected start-up, from memory), so a look at one is no look at another.
What sticks out on the road hits somebody, whichever of them it is.  Black before grey, the last grey
water to rinse with (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.engine.choosing import permitted
from handsfree.engine.state import GoTo, Mode, Refused
from handsfree.errors import AuthorError
from handsfree.language.statements import understand
from handsfree.proof import prove
from handsfree.proof.tracing import traced
from handsfree.session.correctable import tellable
from handsfree.session.state_questions_file import load_state_questions
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.storage.verdicts import ground, unproved
from tests.checklists.walking import CHECKLISTS, LIBRARY, NEAR, Walk

SLIDES = ("living room", "bedroom", "kitchen")
LISTS = """slides: [living room left, bedroom right, kitchen left]
awnings: [front, rear]
black tanks: [bath, guest]
grey tanks: [galley, shower]
"""


def rig_of(tmp: Path, lists: str, like: str = "fifth-wheel") -> Rig:
    own = [line for line in find_rig(like).read_text("utf-8").splitlines(keepends=True)
           if not line.startswith(("slides:", "awnings:", "black tanks:", "grey tanks:"))]
    path = tmp / "rig.yaml"
    path.write_text("".join(own) + lists, "utf-8")
    return load_rig(path)


@pytest.fixture(scope="module")
def several(tmp_path_factory: pytest.TempPathFactory) -> Rig:
    return rig_of(tmp_path_factory.mktemp("rig"), LISTS)


_LOADED: dict[tuple[str, str], Checklist] = {}


def loaded(name: str, rig: Rig) -> Checklist:
    key = name, rig.file
    if key not in _LOADED:
        _LOADED[key] = load_checklist(LIBRARY / f"{name}.yaml", rig=rig, library=checklists_folder())
    return _LOADED[key]


def walk(name: str, rig: Rig, record: frozenset[str] | None = None,
         site: dict[str, bool] = NEAR) -> Walk:
    start = loaded("arrive", rig).start_facts | rig.has
    return Walk.start(loaded(name, rig), start if record is None else record).on(site)


def closed(done: Walk) -> frozenset[str]:
    assert done.state.mode is Mode.CLOSED and done.untroubled, (done.state.mode, done.effects[-1])
    return done.state.facts


def test_no_slide_moves_on_a_look_at_another(several: Rig) -> None:
    """Each way in and out, in every list that moves one, stays shut until its own way was seen."""
    met = 0
    for name in CHECKLISTS:
        checklist = loaded(name, several)
        movers = [step for step in checklist.steps.values()
                  if any(act.endswith(" slide") for act in step.acts)]
        for step in movers:
            own = next(one for one in SLIDES if step.id.startswith(one.replace(" ", "-")))
            other = frozenset(f"{one} {what}" for one in SLIDES if one != own for what in (
                "inside clear", "outside clear", "slide free"))
            out = {f"{own} slide extended"} if f"{own} slide extended" in step.ends else set()
            ready = several.has | other | out | {
                "parked", "chocked", "side settled", "fore settled", f"{own} slide free"}
            assert not permitted(step, frozenset(ready)), step.id
            assert not permitted(step, frozenset(ready | {f"{own} inside clear"})), step.id
            assert permitted(step, frozenset(
                ready | {f"{own} inside clear", f"{own} outside clear"})), step.id
            met += 1
    assert met >= 3 * 4  # out and in, departing, storm, winter


def test_a_look_is_spent_once_its_slide_has_moved(several: Rig) -> None:
    step = loaded("arrive", several).steps["bedroom-slide-run-out"]
    assert {"bedroom inside clear", "bedroom outside clear"} <= step.voids
    assert not {"kitchen inside clear", "living room inside clear"} & step.voids


@pytest.mark.parametrize("own", SLIDES)
def test_nobody_drives_off_with_one_of_them_out(several: Rig, own: str) -> None:
    """Refused, and told which."""
    arrived = closed(walk("arrive", several))
    left = frozenset(fact for fact in arrived if not fact.endswith("slide extended"))
    depart = Walk.start(loaded("depart", several), left | {f"{own} slide extended"})
    depart.send(GoTo("pull-out"))
    refused = depart.of(Refused)
    assert refused
    assert f"{own} slide extended" in {literal.fact for literal in refused[-1].missing}
    says = loaded("depart", several).facts[f"{own} slide extended"].says
    assert says == f"the {own} slide-out is out"


@pytest.mark.parametrize("gear", ["front awning out", "rear awning out"])
def test_each_awning_is_in_before_wind_and_road(several: Rig, gear: str) -> None:
    arrived = closed(walk("arrive", several))
    assert gear in arrived
    storm = closed(walk("storm", several, arrived, {**NEAR, "thunder near": False}))
    assert gear not in storm
    rule = {one.id: one for one in loaded("depart", several).rules}["rolling-spread"]
    assert rule.when.holds(frozenset({gear, "roof latched"}))
    assert gear not in closed(walk("depart", several, arrived))


def test_every_valve_is_shut_before_the_cap_comes_off(several: Rig) -> None:
    checklist = loaded("arrive", several)
    cap = checklist.steps["cap-off"]
    site = several.has | {"parked", "site sewer", "site sewer answered", "valves checked"}
    assert permitted(cap, frozenset(site))
    for valve in ("galley grey open", "shower grey open", "bath black open", "guest black open"):
        assert not permitted(cap, frozenset(site | {valve})), valve
        assert "valves checked" in next(
            step for step in checklist.steps.values() if valve in step.gives).voids if any(
            valve in step.gives for step in checklist.steps.values()) else True
    assert "both" not in checklist.steps["valves-shut"].do.lower()


def test_black_goes_before_grey_and_the_last_grey_rinses(several: Rig) -> None:
    arrived = closed(walk("arrive", several))
    met = walk("dump-station", several, arrived).met
    pulls = [step for step in met if step.endswith(("black-pull", "grey-pull"))]
    assert pulls == ["bath-black-pull", "guest-black-pull", "galley-grey-pull", "shower-grey-pull"]
    steps = loaded("dump-station", several).steps
    base = several.has | {"parked", "chocked", "hose sealed", "sewer hose out"}
    assert permitted(steps["galley-grey-pull"], frozenset(base))
    for black in ("bath", "guest"):
        assert not permitted(steps["galley-grey-pull"], frozenset(base | {f"{black} black open"}))
        assert not permitted(steps[f"{black}-black-pull"], frozenset(base | {"shower grey open"}))


def test_a_whole_stay_closes_with_nothing_left_out(several: Rig) -> None:
    record = closed(walk("arrive", several))
    assert {f"{one} slide extended" for one in SLIDES} <= record
    for name in ("evening", "freezing-night", "storm", "arrive", "dump-station", "pack-inside",
                 "depart"):
        record = closed(walk(name, several, record, {**NEAR, "thunder near": False}))
    assert not {fact for fact in record if fact.endswith((" extended", "awning out", " open"))}


def test_they_come_in_the_other_way_about(several: Rig) -> None:
    """Out in the order of the rig file, in again the last one first (common practice, no source)."""
    arrived = walk("arrive", several)
    out = [step for step in arrived.met if step.endswith("slide-run-out")]
    back = [step for step in walk("depart", several, closed(arrived)).met
            if step.endswith("slide-run-in")]
    assert out == [f"{one}-slide-run-out".replace(" ", "-") for one in SLIDES]
    assert back == [f"{one}-slide-run-in".replace(" ", "-") for one in reversed(SLIDES)]


def test_each_is_named_in_challenge_and_answer(several: Rig) -> None:
    for name in ("arrive", "depart", "storm", "dump-station"):
        checklist = loaded(name, several)
        for step in checklist.steps.values():
            if step.item:  # what a remedy does besides, such as moving the rig over, is about no one
                assert step.item in step.do.lower(), (step.id, step.do)
                assert all(step.item in words for words in step.responses), step.id


def test_on_the_side_that_the_file_says(several: Rig) -> None:
    steps = loaded("arrive", several).steps
    assert steps["bedroom-slide-beside"].place == "right"
    assert steps["kitchen-slide-beside"].place == "left"


@pytest.mark.parametrize("name", CHECKLISTS)
def test_a_rig_with_one_of_each_keeps_every_id_and_word(name: str, tmp_path: Path) -> None:
    """So that what is on record stays what it was."""
    (tmp_path / "plain").mkdir()
    plain = loaded(name, rig_of(tmp_path / "plain", ""))
    one = loaded(name, rig_of(
        tmp_path, "slides: [living room left]\nawnings: [front]\nblack tanks: [bath]\n"
        "grey tanks: [galley]\n"))
    assert one == plain


@pytest.mark.parametrize(("words", "so"), [
    ("the bedroom slide is in", {"bedroom slide extended": False}),
    ("the kitchen slide-out is out", {"kitchen slide extended": True}),
    ("the slides are in", {f"{one} slide extended": False for one in SLIDES}),
    ("I took in the front awning", {"front awning out": False}),
    ("the galley grey valve is open", {"galley grey open": True}),
    ("the slide is in", {}), ("the awning is in", {}), ("the grey valve is shut", {})])
def test_a_correction_says_which_one(words: str, so: dict[str, bool], several: Rig) -> None:
    """What names one of several without saying which is asked about, never guessed."""
    lists = [loaded(name, several) for name in ("arrive", "depart")]
    possible = load_state_questions(LIBRARY, *lists).possible(several.has)
    told = understand(words, tellable(lists, several.has, possible))
    assert dict(told.facts) == so
    assert bool(told.choices) is not bool(so)


def test_a_proof_for_one_of_each_does_not_do_for_several(several: Rig) -> None:
    assert ground(rig=several) != ground(rig=replace(several, several={}))
    assert ground(rig=replace(several, several={"slides": ("bedroom",)})) == ground(
        rig=replace(several, several={}))
    assert "--rig rig" in unproved(loaded("arrive", several), several)


@pytest.mark.long
@pytest.mark.timeout(600)
def test_all_lists_of_a_rig_with_three_slides_are_proved(several: Rig) -> None:
    lists = [loaded(name, several) for name in CHECKLISTS]
    report = prove(lists, several, count=False)
    assert [str(finding) for finding in report.findings] == []
    assert report.work < 200_000_000  # what `check` grants; seconds stand in benchmarks/RESULTS.md
    assert [str(finding) for finding in traced(lists)] == []


def test_gray_is_grey(tmp_path: Path) -> None:
    assert rig_of(tmp_path, "gray tanks: [galley, bath]\n").several == {"grey tanks": ("galley", "bath")}


@pytest.mark.parametrize(("lists", "says"), [
    ("grey tanks: [a, b]\ngray tanks: [a, b]\n", "twice"),
    ("slides: [bedroom, bedroom]\n", "bedroom"), ("slides: [left and right]\n", "and"),
    ("slides: [Bed-1]\n", "Bed-1"), ("slides: []\n", "slides"),
    ("slides: [a, b, c, d, e, f, g, h, i, j]\n", "at most")])
def test_a_list_that_cannot_be_taken_is_told_by_its_line(
    lists: str, says: str, tmp_path: Path
) -> None:
    with pytest.raises(AuthorError, match=says) as told:
        rig_of(tmp_path, lists)
    assert "rig.yaml" in str(told.value)
