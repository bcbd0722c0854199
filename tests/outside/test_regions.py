"""What rests on a code carries its region; where nobody said which, the stricter figure counts.

Figures "from memory" were not looked up."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.checklist.schema import REGIONS as WRITTEN
from handsfree.cli.work import work
from handsfree.errors import AuthorError
from handsfree.language.loader import language_names, load_language
from handsfree.rehearsal.script import Script
from handsfree.storage.paths import checklists_folder
from handsfree.testing import talk
from handsfree.work.finding import Verdict
from handsfree.work.gas import alarm_window
from handsfree.work.power import judge_supply
from handsfree.work.region import REGIONS, rule
from handsfree.work.sewer import hose_slope, least_slope
from handsfree.work.steps import Given, work_out
from handsfree.work.water import judge_pressure
from tests.session.test_calculations import told, walk

STOP = Verdict.STOP
LIBRARY = checklists_folder()


def test_a_rig_file_and_the_sums_know_the_same_regions() -> None:
    assert WRITTEN == REGIONS


@pytest.mark.parametrize(("region", "psi", "stops"), (
    ("US", 80, False), ("US", 80.1, True), ("Europe", 72.5, False), ("Europe", 72.6, True),
    ("", 72.5, False), ("", 72.6, True)))
def test_water_pressure_by_the_code_of_the_region(region: str, psi: float, stops: bool) -> None:
    """UPC 608.2 (2015): 80 psi; EN 806-2 (2005): 500 kPa, 72.5 psi (from memory)."""
    found = judge_pressure(psi, limit_psi=100, region=region)
    assert (found.verdict is STOP) is stops
    assert (found.say == "water.code") is stops
    assert found.region == ("" if not stops else region or "Europe")


@pytest.mark.parametrize(("region", "hours", "whose"), (
    ("Europe", 16.0, "Europe"), ("US", 12.8, "US"), ("", 12.8, "US")))
def test_hours_on_a_230_volt_breaker(region: str, hours: float, whose: str) -> None:
    """IEC 60898-1: all of it without interruption; NFPA 70 210.20(A): 80 percent (from memory)."""
    found = judge_supply(16, parts={"cord": 16.0}, mains=True, region=region)
    assert found.hours_a == pytest.approx(hours) and found.region == whose


@pytest.mark.parametrize("region", ("", *REGIONS))
def test_120_volts_are_loaded_to_80_percent_everywhere(region: str) -> None:
    assert judge_supply(30, region=region).hours_a == pytest.approx(24)


@pytest.mark.parametrize(("ppm", "region", "latest"), (
    (70, "US", 240), (69, "US", None), (50, "Europe", 90), (49, "Europe", None), (69, "", None),
    (70, "", 240), (100, "", 240), (150, "", 50), (300, "", 50), (300, "Europe", 3), (400, "", 15)))
def test_an_alarm_of_a_place_that_is_not_known_may_be_the_later_one(
    ppm: float, region: str, latest: int | None
) -> None:
    """UL 2034 (quoted): 70 ppm 60 to 240 min, 150 ppm 10 to 50, 400 ppm 4 to 15; EN 50291-1 (from
    memory): 50 ppm 60 to 90 min, 100 ppm 10 to 40, 300 ppm within 3."""
    assert alarm_window(ppm, region).latest_min == latest


@pytest.mark.parametrize(("inches", "region", "least"), (
    (3, "US", 1 / 8), (3, "Europe", 0.12), (3, "", 1 / 4), (4, "", 1 / 8), (2, "Europe", 0.12), (2, "", 1 / 4)))
def test_the_drains_least_fall(inches: float, region: str, least: float) -> None:
    """IPC 704.1: 1/8 in a foot for 3 in; UPC 708.1: 1/4 (from memory); EN 12056-2: 1 percent, 0.12 in a
    foot (from memory)."""
    assert least_slope(inches, region) == least


@pytest.mark.parametrize(("fall", "region", "flat"), (
    (2.5, "US", False), (2.49, "US", True), (2.4, "Europe", False), (2.39, "Europe", True),
    (5.0, "", False), (4.99, "", True)))
def test_a_hose_of_20_feet(fall: float, region: str, flat: bool) -> None:
    assert (hose_slope(fall, 0, 20, region=region).say == "sewer.flat") is flat


def test_of_an_unknown_region_no_figure_is_looser_than_of_a_known_one() -> None:
    for table in ({"US": 1.0, "Europe": 2.0}, {"US": 2.0, "Europe": 1.0}):
        assert rule(table, "")[0] == min(table.values())
        assert rule(table, "", max)[0] == max(table.values())
        assert rule(table, "US") == (table["US"], "US")


# --- what is said of it ---------------------------------------------------------------------

def test_the_voice_names_the_region_with_the_figure() -> None:
    said = told("survey-trailer", answers={"site power": True, "far side": False},
                readings={"supply-amps": ("thirty amps",)})
    assert "twenty-four amps at most. That is code in the United States." in said


def test_a_metric_rig_is_told_the_nearer_of_its_own_figure_and_of_the_european_one_in_bar() -> None:
    at_six = {"answers": {"site water": True}, "readings": {"pressure": ("six bar", "two bar")}}
    assert "Your trailer takes three bar at most." in told("metric-caravan", **at_six)
    caravan = load_rig(LIBRARY / "rigs/metric-caravan.yaml")
    stronger = replace(caravan, limits={**caravan.limits, "water psi high": 101.5})  # 7 bar
    arrive = load_checklist(LIBRARY / "arrive.yaml", rig=stronger)
    said = talk(arrive, load_language("en"), Script(**at_six), record=arrive.start_facts | stronger.has)
    assert ("Plumbing code calls for a regulator above five bar. That is code in"
            " Europe.") in "\n".join(said.words_of("program"))


def test_without_a_region_the_stricter_figure_and_the_referral_are_said() -> None:
    (found,) = work_out("pressure", Given(75, {"water psi high": 100.0}))
    assert found.say == "water.code"
    (found,) = work_out("pressure", Given(75, {"water psi high": 100.0}, region="US"))
    assert found.say == "water.good"
    for code in language_names():
        templates = load_language(code).templates
        assert {"sums.region.known", "sums.region.unknown", "sums.region.other"} <= set(templates)


def test_a_figure_of_no_code_names_no_region() -> None:
    done = walk("survey-trailer", readings={"side-level": ("three degrees", "zero degrees")})
    assert "code in" not in "\n".join(done.words_of("program"))


@pytest.mark.parametrize(("words", "says"), (
    (("--region", "US"), "region: that is code in the United States"),
    (("--rig", "tandem-slide"), "region: that is code in the United States"),
    ((), "region: not known, so that is the stricter code, for Europe; check local code"),
))
def test_the_command_line_names_it_too(words: tuple[str, ...], says: str) -> None:
    done = CliRunner().invoke(work, ["water", "--tap", "90 psi", "--regulator", "85 psi", *words])
    assert done.exit_code == 1 and says in done.output, done.output


def test_an_unknown_region_in_a_rig_file_is_named_by_its_line(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text("name: Mine\nregion: Mars\n", encoding="utf-8")
    with pytest.raises(AuthorError, match=r"mine.yaml, line 2: .*US.*Europe|mine.yaml, line 2"):
        load_rig(path)
