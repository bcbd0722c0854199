"""Banks of batteries, each of its own chemistry, as a technician reads and charges them.

Sources, all from memory: makers' tables of voltage at rest (half full: flooded 12.2 V, AGM and gel 12.3;
a fifth full: four lithium iron phosphate cells 12.9) and makers' manuals of lithium iron phosphate (no
charging below 32 F).  Hydrogen from batteries that are charged, and water to cover their plates: makers'
manuals of flooded batteries.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.cli import main
from handsfree.errors import AuthorError
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.testing import talk
from tests.checklists.walking import LIBRARY, NEAR, Walk, finish, new_record

TWO = "batteries: {house: lithium 200 Ah, winch: AGM 55 Ah}\n"


def rig_with(folder: Path, batteries: str) -> Rig:
    path = folder / "mine.yaml"
    path.write_text("name: Mine\nhas: [safety chains, fresh tank, gas]\nlimits: {always watts: 20}\n" + batteries)
    return load_rig(path)


def loaded(name: str, rig: Rig) -> Checklist:
    return load_checklist(LIBRARY / f"{name}.yaml", rig=rig)


def said(name: str, rig: Rig, readings: Mapping[str, tuple[str, ...]], **answers: bool) -> str:
    done = talk(loaded(name, rig), load_language("en"), Script(readings=readings, answers={
        "site power": False, **answers}), record=new_record("small-single") | rig.has)
    return "\n".join(done.words_of("program"))


@pytest.mark.parametrize(("house", "winch", "low"), (
    ("twelve point nine", "twelve point three", 0), ("twelve point eight", "twelve point three", 1),
    ("twelve point nine", "twelve point two", 1), ("twelve point three", "twelve point nine", 1)))
def test_each_bank_is_judged_by_its_own_chemistry(tmp_path: Path, house: str, winch: str, low: int) -> None:
    told = said("before-leaving-home", rig_with(tmp_path, TWO), {
        "house-house-battery-lithium": (f"{house} volts", "thirteen volts"),
        "winch-house-battery-sealed": (f"{winch} volts", "thirteen volts")})
    assert told.index("Read the house battery's volts.") < told.index("Read the winch battery's volts."), "as listed"
    assert told.count("That battery is low.") == low


def test_what_is_always_on_hangs_on_the_bank_that_feeds_the_rig(tmp_path: Path) -> None:
    told = said("arrive", rig_with(tmp_path, TWO), {
        "house-battery-lithium": ("thirteen point two volts",), "winch-battery-sealed": ("twelve point six volts",)})
    # 200 Ah of lithium at 20 W: 12.8 V x 200 Ah x 0.8 / 20 W is 102 h; nobody runs the rig on the winch's battery.
    assert "House battery, no power here" in told and "Winch battery, no power here" in told
    hours = [line for line in told.splitlines() if "hours" in line]
    assert len(hours) == 1 and "one hundred" in hours[0], hours
    assert told.index(hours[0]) < told.index("Winch battery")


def test_a_rig_with_one_bank_keeps_the_steps_and_records_that_it_had(tmp_path: Path) -> None:
    one = rig_with(tmp_path, "batteries: {house: gel 100 Ah}\n")
    assert "sealed battery" in one.has and one.limits["battery amp hours"] == 100
    walk = Walk.start(loaded("before-leaving-home", one), new_record("small-single") | one.has).on(NEAR)
    assert "house-battery-sealed" in walk.met and "house-battery" not in walk.met
    old = finish("before-leaving-home", "small-single", new_record("small-single"), NEAR).met
    assert "house-battery" in old and "battery-water" not in old


@pytest.mark.parametrize(("batteries", "wrong"), (
    ("batteries: {house: lead 200 Ah}\n", "lead"), ("batteries: {house: lithium 200}\n", "200"),
    ("batteries: {house: lithium 2 V}\n", "V"), ("batteries: {house: lithium 90000 Ah}\n", "90000"),
    ("batteries: {house or so: lithium 90 Ah}\n", "house or so")))
def test_a_bank_that_cannot_be_is_one_sentence_with_its_line(tmp_path: Path, batteries: str, wrong: str) -> None:
    with pytest.raises(AuthorError, match=wrong) as caught:
        rig_with(tmp_path, batteries)
    assert "line 4" in str(caught.value)


def test_work_battery_takes_the_bank_that_is_named(tmp_path: Path) -> None:
    rig_with(tmp_path, TWO)
    for bank, volts, status in (("house", "12.4V", 1), ("winch", "12.4V", 0), ("winch", "12.2V", 1),
                                ("house", "12.9V", 0)):
        done = CliRunner().invoke(main, ["work", "battery", volts, "--rig", str(tmp_path / "mine.yaml"),
                                         "--bank", bank])
        assert ("good" in done.output.lower() or "fine" in done.output.lower()) is (status == 0), done.output
    wrong = CliRunner().invoke(main, ["work", "battery", "12.4V", "--rig", str(tmp_path / "mine.yaml"),
                                      "--bank", "cellar"])
    assert wrong.exit_code == 2 and "house" in wrong.output and "winch" in wrong.output


@pytest.mark.parametrize(("chemistry", "water", "cold"), (
    ("flooded", True, False), ("AGM", False, False), ("lithium", False, True)))
def test_water_and_vents_are_a_flooded_ones_and_the_frost_a_lithium_ones(
    tmp_path: Path, chemistry: str, water: bool, cold: bool
) -> None:
    rig = rig_with(tmp_path, f"batteries: {{house: {chemistry} 100 Ah}}\n")
    record = new_record("small-single") | rig.has
    before = Walk.start(loaded("before-leaving-home", rig), record).on(NEAR)
    frost = Walk.start(loaded("freezing-night", rig), record | {"parked", "chocked"}).on(NEAR)
    assert ("battery-water" in before.met) is water
    assert ("battery-frost" in frost.met) is cold
