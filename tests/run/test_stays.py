"""Full stays of our own rigs, one record carried through: in text for all, in real audio for one.

The scripts are those of `handsfree rehearse --script stay-…`; so a rig that hears a step which is
not its own, or a word that no phrase covers, is found here.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Origin
from handsfree.checklist.rig_file import load_rig
from handsfree.cli import main, wiring
from handsfree.engine.state import Mode
from handsfree.language.loader import load_language
from handsfree.language.matcher import Matcher
from handsfree.rehearsal.script import check_script, load_script
from handsfree.storage import journal
from handsfree.storage.paths import checklists_folder, find_checklist, find_rig
from handsfree.testing import Talk, talk
from tests.checklists.test_stay import NOT_OURS, not_ready

STAYS = sorted(path.stem for path in (checklists_folder() / "scripts").glob("stay-*.yaml"))
PHASES = ("arrive", "freezing-night", "storm", "dump-station", "depart")


@cache
def stay(name: str, rig_file: Path | None = None) -> tuple[tuple[Talk, ...], frozenset[str]]:
    """What was said in each checklist, and what is on the record in the end; with another rig than the script's."""
    script = load_script(checklists_folder() / "scripts" / f"{name}.yaml")
    rig = load_rig(rig_file or find_rig(script.rig))
    lists = [load_checklist(find_checklist(phase), rig=rig, library=checklists_folder())
             for phase in script.stay]
    record = lists[0].start_facts | rig.has
    english, told = load_language("en"), []
    for checklist in lists:
        check_script(script, checklist, Matcher(english), rig.has,
                     frozenset().union(*(other.steps for other in lists)))
        done = talk(checklist, english, script, record=record)
        assert done.conversation.state.mode is Mode.CLOSED, done.turns[-4:]
        record = done.conversation.state.facts
        told.append(done)
    return tuple(told), record


def test_a_fifth_wheel_without_hook_ups_reads_both_banks_and_runs_its_generator() -> None:
    """Built in, electric over hydraulic brakes, two banks: each is heard, and only the house bank's hours."""
    told, record = stay("dry-camp")
    met = set(offered(told))
    assert {"house-battery-lithium", "starter-battery", "starter-battery-water", "brake-fluid", "generator-exhaust",
            "generator-run", "generator-shut", "controller-hydraulic"} <= met
    assert not {"generator-place", "generator-stow", "controller", "surge-look"} & met
    assert "generator running" not in record and not_ready("depart", "fifth-wheel", record) == set()
    words = said(told)
    assert "fifty-five feet with both" in words and words.count("runs what is always on") == 1
    assert "On a full tank it runs" in words and "A clear day gives" in words


def test_the_pop_up_has_surge_brakes_and_a_generator_that_is_carried() -> None:
    met = set(offered(stay("stay-pop-up")[0]))
    assert {"lockout-in", "lockout-out", "surge-look", "generator-place", "generator-fuel", "generator-start",
            "generator-stop", "generator-stow"} <= met
    assert not {"generator-run", "controller", "pin-pull"} & met


BRAKES = {
    "air over hydraulic": ("[tandem axle, safety chains, air over hydraulic, stabiliser jacks, fresh tank, gas]",
                           {"air-line-off", "air-line-on", "air-up"}),
    "surge, which frees itself": ("[safety chains, brake cable, surge brake, stabiliser jacks, fresh tank, gas]",
                                  {"surge-free", "surge-look", "surge-travel"}),
}
"""Brakes that no rig has which comes with it: what a rig file says of them, and what they bring in a stay."""


@pytest.mark.parametrize("brakes", BRAKES)
def test_brakes_of_no_rig_of_ours_go_through_a_stay_as_well(brakes: str, tmp_path: Path) -> None:
    has, own = BRAKES[brakes]
    (tmp_path / "own.yaml").write_text(f"name: Own trailer\nhas: {has}\n", encoding="utf-8")
    told, record = stay("stay-small-single", tmp_path / "own.yaml")
    met = set(offered(told))
    others = set().union(*(steps for name, (_, steps) in BRAKES.items() if name != brakes))
    assert own <= met and not others & met
    assert not {"lockout-in", "controller", "pin-pull", "hand-brake-on"} & met
    assert not_ready("depart", "small-single", record) == set()


def offered(told: tuple[Talk, ...]) -> list[str]:
    return [prompt.about for talk in told for prompt in talk.prompts if prompt.key == "offer"]


def said(told: tuple[Talk, ...]) -> str:
    return "\n".join(words for talk in told for words in talk.words_of("program"))


@pytest.mark.parametrize("name", sorted(
    path.stem for path in (checklists_folder() / "scripts").glob("*.yaml")))
def test_each_script_that_comes_with_it_fits_the_lists_that_it_plays(name: str, tmp_path: Path) -> None:
    """As `rehearse --script NAME` looks at it, before anything is heard."""
    script = load_script(checklists_folder() / "scripts" / f"{name}.yaml")
    plans = [wiring.plan(one, script.rig or "survey-trailer", tmp_path)
             for one in script.stay or (script.checklist,)]
    before = [wiring.plan(one, script.rig, tmp_path) for one in script.after]
    asked = wiring.every_question(plans[0]) if script.newcomer else frozenset()
    for made in plans:
        check_script(script, made.checklist, Matcher(made.language), made.rig.has,
                     asked.union(*(other.checklist.steps for other in (*plans, *before))))


def test_there_is_a_stay_of_each_kind_of_rig() -> None:
    assert STAYS == ["stay-fifth-wheel", "stay-metric-caravan", "stay-motorhome", "stay-pop-up",
                     "stay-small-single", "stay-survey-trailer", "stay-tandem-slide", "stay-truck-camper"]
    for name in STAYS:
        assert load_script(checklists_folder() / "scripts" / f"{name}.yaml").stay == PHASES


@pytest.mark.parametrize("name", STAYS)
def test_a_stay_ends_on_the_road_with_nothing_left_behind(name: str) -> None:
    told, record = stay(name)
    checklist = told[-1].conversation.checklist
    assert not_ready("depart", name.removeprefix("stay-"), record) == set()
    assert [fact for fact in record if (known := checklist.facts.get(fact))
            and known.origin is Origin.GEAR] == []


@pytest.mark.parametrize("name", STAYS)
def test_each_rig_hears_its_own_steps_only(name: str) -> None:
    rig = name.removeprefix("stay-")
    met = set(offered(stay(name)[0]))
    assert {step for step in met for part in NOT_OURS[rig] if part in step} == set()
    others = set().union(*(set(offered(stay(other)[0])) for other in STAYS if other != name))
    assert {step for step in others for part in NOT_OURS[rig] if part in step}  # it can fail


def test_the_small_rig_never_hears_the_slide_out_nor_a_second_leg() -> None:
    words = said(stay("stay-small-single")[0]).lower()
    assert "slide" not in words and "other leg" not in words and "sewer hose" not in words
    assert "slide" in said(stay("stay-tandem-slide")[0]).lower()


def test_the_tandem_has_its_bars_and_brings_the_slide_in_before_the_wind() -> None:
    told, _ = stay("stay-tandem-slide")
    assert {"bars-off", "bars-load", "lift-test", "hook-up"} <= set(offered(told))
    storm = offered(told[2:3])
    assert storm.index("wind-read") < storm.index("gust-floor") < storm.index("gust-in")
    assert "Those lights mean an open ground. Do not connect." in said(told)


def test_the_fifth_wheel_has_legs_and_jaws_and_no_chains() -> None:
    told, _ = stay("stay-fifth-wheel")
    met = set(offered(told))
    assert {"jaws-open", "pull-out-under", "pin-in", "tug-test", "leg-one", "leg-two",
            "lay-power-extension", "storm-extension"} <= met
    assert not {"chains-off", "hook-up", "latch-open", "lift-test"} & met
    assert "chains" not in said(told[-1:]).lower().split("walk once around")[0]


def test_the_caravan_has_its_hand_brake_and_its_rcds_in_metric_units() -> None:
    told, _ = stay("stay-metric-caravan")
    met = set(offered(told))
    assert {"hand-brake-on", "hand-brake-off", "trip-test", "own-trip", "hook-up-ring"} <= met
    assert not {"supply-amps", "outlet-volts", "controller", "hook-up", "chains-off"} & met
    words = said(told).lower()
    assert not {"psi", "inches", "fahrenheit", "pounds", "gallons"} & set(words.replace(",", " ").split())
    assert "centimeters" in words


@pytest.mark.parametrize("name, tells", [
    ("stay-metric-caravan", "For a continuous load, ten amps at most."),
    ("stay-metric-caravan", "too much for a breaker of ten amps"),
    ("stay-metric-caravan", "That is fine under load."),
    ("stay-small-single", "It will be dark in two hours and"),
    ("stay-small-single", "Step two of your ramps gives three inches"),
    ("stay-small-single", "For a continuous load, sixteen amps at most."),
    ("stay-tandem-slide", "Step two of your ramps gives two inches"),
    ("stay-tandem-slide", "The nose has to come down seven and a quarter inches."),
    ("stay-tandem-slide", "too much for a continuous load"),
    ("stay-tandem-slide", "The hose drops ten inches"),
    ("stay-fifth-wheel", "The extension loses"),
])
def test_what_is_worked_out_is_told_on_the_way(name: str, tells: str) -> None:
    assert tells in said(stay(name)[0])


@pytest.mark.long
def test_a_stay_in_real_audio_on_one_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The small rig's, with synthesised voices and the real recogniser."""
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    done = CliRunner().invoke(main, [
        "rehearse", "--fast", "--script", "stay-small-single", "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output[-2000:]
    met = []
    for phase in PHASES:
        lines = journal.read(tmp_path / "out" / phase / "journal.jsonl").lines
        assert [line.open for line in lines if line.what == "closed"] == [()], phase
        met += [line.step for line in lines if line.what == "offered"]
        words = (tmp_path / "out" / phase / "transcript.txt").read_text(encoding="utf-8")
        assert "slide" not in words.lower(), phase
    assert {step for step in met for part in NOT_OURS["small-single"] if part in step} == set()
    assert {"chock", "pull-away", "hose-off", "lift-test", "walk-round"} <= set(met)


@pytest.mark.long
@pytest.mark.parametrize(("script", "heard"), (
    ("stay-pop-up", {"lockout-in", "surge-look", "generator-place", "generator-start", "generator-stop",
                     "generator-stow", "roof-up"}),
    ("dry-camp", {"house-battery-lithium", "starter-battery", "generator-exhaust", "generator-run", "generator-shut",
                  "controller-hydraulic"}),
    ("stay-metric-caravan", {"hand-brake-on", "trip-test"})))
def test_stays_of_other_rigs_in_real_audio(
    script: str, heard: set[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Generators, brakes, banks of batteries and a caravan's answers through the real recogniser."""
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    done = CliRunner().invoke(main, ["rehearse", "--fast", "--script", script, "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output[-2000:]
    met = []
    for phase in load_script(checklists_folder() / "scripts" / f"{script}.yaml").stay:
        lines = journal.read(tmp_path / "out" / phase / "journal.jsonl").lines
        assert [line.open for line in lines if line.what == "closed"] == [()], phase
        met += [line.step for line in lines if line.what == "offered"]
    assert heard <= set(met)


@pytest.mark.long
@pytest.mark.parametrize("brakes", BRAKES)
def test_a_rig_file_with_other_brakes_is_proved_and_rehearsed(
    brakes: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As its owner would: `check --rig FILE`, then a stay in real audio."""
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    has, own = BRAKES[brakes]
    file = tmp_path / "own.yaml"
    file.write_text(f"name: Own trailer\nhas: {has}\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["check", "--rig", str(file)])
    assert done.exit_code == 0 and done.output.startswith("Proved over every order of events"), done.output[-2000:]
    done = CliRunner().invoke(main, ["rehearse", "--fast", "--script", "stay-small-single", "--rig", str(file),
                                     "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output[-2000:]
    heard = {line.step for phase in PHASES for line in journal.read(tmp_path / "out" / phase / "journal.jsonl").lines
             if line.what == "offered"}
    assert own <= heard
