"""``handsfree work`` at the command line: exit statuses, one-sentence errors, help."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest
from click.testing import CliRunner, Result

from handsfree.cli import main
from handsfree.cli.measures import wording
from handsfree.cli.work import work


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["work", *arguments])


GOOD = [
    ["level", "--low", "left", "--angle", "2 deg", "--track", "2.44 m", "--step", "3 in"],
    ["level", "--low", "left", "--bubble", "1/2 in", "--over", "24 in", "--track", "96 in",
     "--step", "2 in", "--limit", "3 deg"],
    ["level", "--low", "rear", "--angle", "2 deg", "--jack-to-axle", "240 in"],
    ["fridge", "--side", "1 deg", "--fore", "2 deg"],
    ["power", "--supply", "30", "--load", "kettle=10 A", "--steady", "heater=1500 W"],
    ["power", "--supply", "50", "--load", "air conditioner=1600 W@2"],
    ["drop", "--gauge", "10 AWG", "--length", "25 ft", "--current", "30 A"],
    ["drop", "--area", "2.5 mm2", "--length", "25 m", "--current", "10 A", "--breaker", "16 A"],
    ["supply", "--breaker", "30 A", "--cord", "30 A", "--inlet", "30 A"],
    ["supply", "--breaker", "50 A", "--cord", "50 A", "--main", "30 A"],
    ["supply", "--breaker", "16 A", "--cord", "16 A", "--mains", "--house"],
    ["power", "--supply", "16", "--mains", "--load", "heater=3680 W"],
    ["loaded", "117 V", "--outlet", "120 V"],
    ["outlet", "231 V", "--mains"],
    ["outlet", "118 V"],
    ["outlet", "118 V", "121 V", "--between", "239 V", "--edition", "2006"],
    ["tester", "hot-neutral", "hot-ground"],
    ["water", "--tap", "85 psi", "--regulator", "45 psi", "--limit", "60 psi"],
    ["dose", "--tank", "40 gal", "--strength", "6 percent"],
    ["weight", "150 litres"],
    ["sewer", "--outlet", "14 in", "--inlet", "8 in", "--length", "20 ft"],
    ["tongue", "--tongue", "720 lb", "--gross", "6000 lb"],
    ["axles", "2600 lb", "2650 lb", "--gawr", "3500 lb", "--tire", "1800 lb"],
    ["chains", "--strength", "6000 lb", "--gross", "6000 lb"],
    ["battery", "12.9 V", "--chemistry", "lithium"],
    ["battery", "--capacity", "100 Ah", "--load", "60 W", "--chemistry", "lead-acid"],
    ["battery", "--capacity", "100 Ah", "--current", "5 A", "--chemistry", "lithium", "--needs", "15 h"],
    ["solar", "--latitude", "40 N", "--panels", "200 W", "--tilt", "30 deg", "--on", "2026-06-21"],
    ["propane", "--gas", "7 kg", "--furnace", "6 kW", "--outside", "5 C", "--burner",
     "stove=2 kW@1"],
    ["tank", "--people", "2", "--fresh", "40 gal", "--grey", "30 gal"],
    ["generator", "--tank", "1 gal", "--fuel", "0.8 gal", "--rated", "1800 W", "--full", "4 h",
     "--quarter", "8 h", "--load", "600 W"],
    ["range", "--fuel", "20 gal", "--economy", "10 mpg", "--speed", "60 mph", "--wind", "20 mph",
     "--weight", "12000 lb", "--height", "11 ft", "--to", "100 miles"],
    ["breakaway", "--battery", "9 Ah", "--brakes", "4"],
    ["tires", "65 psi", "64.5 psi", "--placard", "65 psi", "--state", "cold", "--set-at", "70 F",
     "--now", "40 F"],
    ["ticket", "--alone", "3000 lb", "3000 lb", "--hitched", "2700 lb", "4020 lb", "5280 lb",
     "--bars", "2880 lb", "3700 lb", "5420 lb", "--trailer-rating", "6500 lb"],
    ["cylinder", "--scale", "30 lb", "--tare", "17 lb", "--capacity", "47.6 lb"],
    ["dusk", "--latitude", "51.4779 N", "--longitude", "0", "--at", "2024-06-21 19:00", "--zone",
     "UTC", "--needs", "1 h"],
]  # fmt: skip

CAUTIONS = [
    ["drop", "--gauge", "10", "--length", "50 ft", "--current", "30 A"],
    ["outlet", "106 V"],
    ["outlet", "252.5 V", "--mains"],
    ["loaded", "205 V", "--outlet", "230 V", "--mains"],
    ["alarm", "30 ppm"],
    ["battery", "--capacity", "100 Ah", "--load", "60 W", "--chemistry", "lead-acid", "--needs", "15 h"],
    ["battery", "--capacity", "100 Ah", "--load", "60 W", "--chemistry", "lithium", "--temperature",
     "-5 C"],
    ["solar", "--latitude", "40 N", "--panels", "100 W", "--on", "2026-12-21", "--needs", "1 kWh"],
    ["propane", "--gas", "5 lb", "--furnace", "20000 BTU/h", "--outside", "10 F"],
    ["tank", "--people", "4", "--fresh", "3 gal"],
    ["range", "--fuel", "20 gal", "--economy", "22 l/100km", "--speed", "100 km/h", "--wind",
     "40 km/h", "--weight", "5000 kg", "--height", "3.2 m", "--to", "300 km"],
    ["tongue", "--tongue", "500 lb", "--gross", "6000 lb"],
    ["tongue", "--tongue", "800 lb", "--gross", "6000 lb", "--fifth-wheel"],
]

STOPS = [
    ["level", "--low", "left", "--angle", "4 deg", "--track", "96 in", "--limit", "3 deg"],
    ["power", "--supply", "50", "--load", "all=7000 W"],
    ["drop", "--gauge", "14 AWG", "--length", "10 ft", "--current", "30 A"],
    ["outlet", "131 V", "109 V"],
    ["outlet", "120 V", "--mains"],
    ["loaded", "120 V", "--mains"],
    ["supply", "--breaker", "30 A", "--cord", "30 A", "--adapter", "15 A"],
    ["power", "--supply", "16", "--mains", "--load", "heater=16.1 A"],
    ["drop", "--area", "1.5 mm2", "--length", "10 m", "--current", "5 A"],
    ["tester", "none"],
    ["tester", "hot-neutral", "neutral-ground"],
    ["water", "--tap", "90 psi"],
    ["sewer", "--outlet", "8 in", "--inlet", "9 in", "--length", "20 ft"],
    ["tongue", "--tongue", "720 lb", "--gross", "6000 lb", "--rating", "600 lb"],
    ["tires", "40 psi", "--placard", "65 psi", "--state", "hot"],
    ["cylinder", "--scale", "40 lb", "--tare", "17 lb", "--capacity", "47.6 lb"],
    ["alarm", "80 ppm"],
    ["generator", "--tank", "1 gal", "--fuel", "1 gal", "--rated", "1800 W", "--full", "4 h",
     "--load", "1600 W", "--altitude", "5000 ft"],
]

BAD = [
    ["level", "--low", "left", "--angle", "2", "--track", "96 in"],
    ["level", "--low", "left", "--angle", "2 deg"],
    ["level", "--low", "front", "--angle", "2 deg"],
    ["level", "--low", "left", "--track", "96 in"],
    ["level", "--low", "up", "--angle", "2 deg"],
    ["level"],
    ["level", "--low", "left", "--angle", "60 deg", "--track", "96 in"],
    ["power", "--supply", "30"],
    ["power", "--supply", "40", "--load", "x=1 W"],
    ["power", "--supply", "30", "--load", "kettle"],
    ["power", "--supply", "30", "--load", "kettle=1500"],
    ["power", "--supply", "30", "--load", "kettle=1500 W@3"],
    ["drop", "--gauge", "thick", "--length", "50 ft", "--current", "30 A"],
    ["drop", "--gauge", "11 AWG", "--length", "50 ft", "--current", "30 A"],
    ["outlet", "118"],
    ["outlet", "118 V", "118 V", "118 V"],
    ["tester", "red"],
    ["tester", "none", "hot-ground"],
    ["water", "--tap", "55 V"],
    ["dose", "--tank", "40 gal"],
    ["dose", "--tank", "40 gal", "--strength", "50 percent"],
    ["dose", "--tank", "40 gal", "--strength", "6 percent", "--target", "75 ppm"],
    ["tires", "65 psi", "--placard", "65 psi"],
    ["ticket", "--alone", "3000 lb", "3000 lb", "--hitched", "2700 lb", "3000 lb", "5280 lb"],
    ["dusk", "--latitude", "x", "--longitude", "0"],
    ["dusk", "--latitude", "95", "--longitude", "0"],
    ["dusk", "--latitude", "51", "--longitude", "0", "--at", "soon"],
    ["dusk", "--latitude", "51", "--longitude", "0", "--zone", "Nowhere"],
    ["nonsense"],
    ["power", "--supply", "16", "--load", "heater=3000 W"],
    ["power", "--supply", "30", "--mains", "--load", "heater=3000 W"],
    ["drop", "--length", "10 m", "--current", "5 A"],
    ["drop", "--area", "2.5 mm2", "--gauge", "10", "--length", "10 m", "--current", "5 A"],
    ["supply", "--breaker", "30 A", "--house"],
    ["supply", "--breaker", "30 A", "--cord", "0 A"],
    ["outlet", "230 V", "231 V", "--mains"],
    ["battery", "--chemistry", "lithium"],
    ["battery", "12.9 V", "--load", "60 W", "--chemistry", "lithium"],
    ["battery", "--capacity", "100 Ah", "--chemistry", "lithium"],
    ["battery", "--capacity", "100 Ah", "--load", "60 W", "--current", "5 A", "--chemistry", "lithium"],
    ["battery", "--capacity", "10 Ah", "--load", "600 W", "--chemistry", "lithium"],
    ["battery", "--capacity", "100 Ah", "--load", "60 W", "--chemistry", "lithium", "--temperature",
     "-30 C"],
    ["solar", "--latitude", "95 N", "--panels", "200 W", "--on", "2026-06-21"],
    ["solar", "--latitude", "40 N", "--panels", "200 W", "--on", "soon"],
    ["propane", "--gas", "15 lb"],
    ["propane", "--gas", "30 lb", "--furnace", "20000 BTU/h", "--outside", "10 F"],
    ["propane", "--gas", "15 lb", "--burner", "stove=7000"],
    ["propane", "--gas", "15 lb", "--burner", "stove=7000 BTU/h@all day"],
    ["tank", "--people", "2"],
    ["tank", "--people", "0", "--fresh", "3 gal"],
    ["generator", "--tank", "1 gal", "--fuel", "2 gal", "--rated", "1800 W", "--full", "4 h", "--load",
     "1 W"],
    ["generator", "--tank", "1 gal", "--fuel", "1 gal", "--rated", "1800 W", "--full", "9 h", "--load",
     "1 W"],
    ["range", "--fuel", "20 gal", "--economy", "60 mpg", "--speed", "60 mph", "--wind", "20 mph",
     "--weight", "12000 lb", "--height", "11 ft"],
    ["tongue", "--tongue", "720 lb", "--gross", "6000 lb", "--rig", "no such rig"],
]


@pytest.mark.parametrize("arguments", GOOD, ids=" ".join)
def test_good(arguments: list[str]) -> None:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert lines[0].startswith("OK: ")
    assert any(line.startswith("  grounds: ") for line in lines)
    assert lines[-1].removeprefix("Care: ") in wording()["cautions"].values()
    assert all(line.isascii() for line in lines)


@pytest.mark.parametrize("arguments", CAUTIONS, ids=" ".join)
def test_a_caution_is_no_failure(arguments: list[str]) -> None:
    result = run(*arguments)
    assert (result.exit_code, result.stdout[:9]) == (0, "CAUTION: ")


@pytest.mark.parametrize("arguments", STOPS, ids=" ".join)
def test_do_not_has_status_one(arguments: list[str]) -> None:
    result = run(*arguments)
    assert (result.exit_code, result.stdout[:8]) == (1, "DO NOT: ")
    assert "Care: " in result.stdout


@pytest.mark.parametrize("arguments", BAD, ids=" ".join)
def test_bad_input_is_one_sentence_and_status_two(arguments: list[str]) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith("handsfree: ")
    assert result.stderr.count("\n") == 1
    assert isinstance(result.exception, SystemExit)


def test_every_command_is_tried_here() -> None:
    assert {arguments[0] for arguments in GOOD + CAUTIONS} == set(work.commands)


@pytest.mark.parametrize("name", sorted(work.commands))
def test_help(name: str) -> None:
    result = run(name, "--help")
    assert result.exit_code == 0
    command = work.commands[name]
    assert command.help and len(command.help.split()) >= 5
    assert name in run("--help").stdout


def test_both_systems_of_units_are_shown() -> None:
    assert "3.35 in (8.5 cm)" in run(*GOOD[0][:6], "96 in", *GOOD[0][-2:]).stdout
    assert (run("weight", "40 gal", "--units", "metric").stdout
            == run("weight", "151.4164714 l").stdout)
    assert (run("weight", "40 gal").stdout
            == run("weight", "151.4164714 l", "--units", "US").stdout)


METRIC = [
    (["level", "--low", "left", "--angle", "2 deg", "--track", "2.44 m", "--step", "8 cm"],
     "comes up 8.5 centimeters: use ramp step 1, 8 centimeters high."),
    (["level", "--low", "rear", "--angle", "2 deg", "--jack-to-axle", "6 m"],
     "Lower the front 21 centimeters with the jack."),
    (["water", "--tap", "4 bar", "--regulator", "3 bar"], "The trailer gets 3 bar."),
    (["water", "--tap", "4 bar", "--regulator", "2 bar"], "set from 2.8 bar to 4.1 bar."),
    (["tires", "4.2 bar", "--placard", "450 kPa", "--state", "cold"], "low: 4.2 bar. Bring it to 4.5 bar."),
    (["weight", "45 l"], "That water weighs 45 kilograms."),
    (["sewer", "--outlet", "40 cm", "--inlet", "5 cm", "--length", "3 m"],
     "The hose drops 35 centimeters. Set each support 7 centimeters lower"),
    (["axles", "1000 kg", "--gawr", "1010 kg", "--tire", "600 kg"], "10 kilograms to spare."),
    (["tongue", "--tongue", "95 kg", "--gross", "1450 kg", "--rating", "75 kg"], "95 kilograms is over"),
    (["cylinder", "--scale", "20 kg", "--tare", "11 kg", "--capacity", "26.2 kg"], "9 kilograms of gas"),
    (["propane", "--gas", "7 kg", "--furnace", "6 kW", "--outside", "5 C"], "kilograms a day."),
    (["propane", "--gas", "2 kg", "--furnace", "6 kW", "--outside", "-15 C"], "boils off only 3"),
    (["range", "--fuel", "70 l", "--economy", "22 l/100km", "--speed", "90 km/h", "--wind", "0 km/h",
      "--weight", "3500 kg", "--height", "2.6 m"], "In still air, 318 kilometers."),
]


@pytest.mark.parametrize(("arguments", "said"), METRIC, ids=lambda one: one if isinstance(one, str) else "")
def test_metric_in_is_metric_out(arguments: list[str], said: str) -> None:
    """By hand: 2.44 m x tan 2 deg = 8.5 cm; 6 m x tan 2 deg = 21 cm; 40 and 60 psi are 2.76 and 4.14
    bar; 70 l at 22 l/100 km are 318 km."""
    out = run(*arguments).stdout
    assert said in out.splitlines()[0], out
    assert not re.search(r"inch|pound|psi|P S I|gallon|mile", out.splitlines()[0])


def test_a_mixture_is_answered_in_customary_units_unless_told() -> None:
    mixed = ["sewer", "--outlet", "16 in", "--inlet", "5 cm", "--length", "3 m"]
    assert "inches lower" in run(*mixed).stdout
    assert "centimeters lower" in run(*mixed, "--units", "metric").stdout


def test_a_rig_brings_its_units_and_its_numbers() -> None:
    """45 l of the metric caravan weigh 45 kg; its track of 2.05 m at 2 degrees takes 7.2 cm."""
    level = run("level", "--low", "left", "--angle", "2 deg", "--rig", "metric-caravan").stdout
    assert "7.2 centimeters: use ramp step 2, 7 centimeters high" in level
    assert run("loaded", "231 V", "--rig", "metric-caravan").stdout.startswith("OK: 231 volts under load.")
    assert run("loaded", "231 V", "--rig", "small-single").stdout.startswith("DO NOT")
    own = run("tongue", "--tongue", "100 kg", "--rig", "metric-caravan").stdout
    assert "6.9 percent" in own  # of its 1,450 kg
    assert run("water", "--tap", "60 psi", "--rig", "small-single").stdout.startswith(
        "OK: The trailer gets 45 psi.")  # its regulator's
    assert run("dose", "--rig", "metric-caravan", "--strength", "5 percent").stdout.startswith("OK: 47 ")


def test_a_date_alone_means_noon() -> None:
    place = ["dusk", "--latitude", "51.5", "--longitude", "0", "--zone", "UTC"]
    noon = run(*place, "--at", "2024-06-21 12:00")
    assert noon.exit_code == 0
    assert run(*place, "--at", "2024-06-21").stdout == noon.stdout
    assert run(*place, "--at", "2024-06-21T14:00+02:00").stdout == noon.stdout


def test_west_and_south() -> None:
    place = ["dusk", "--at", "2024-06-21", "--zone", "UTC"]
    signed = run(*place, "--latitude", "-35", "--longitude", "-10")
    named = run(*place, "--latitude", "35 S", "--longitude", "10 W")
    assert signed.exit_code == 0
    assert signed.stdout == named.stdout


def test_help_does_not_wait_for_pint_or_astral() -> None:
    code = (
        "import sys; from click.testing import CliRunner; from handsfree.cli.work import work;"
        "assert CliRunner().invoke(work, ['level', '--help']).exit_code == 0;"
        "sys.exit(bool({'pint', 'astral'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


def test_the_room_is_pure() -> None:
    code = (
        "import sys, pkgutil, importlib, handsfree.work as room;"
        "[importlib.import_module('handsfree.work.' + m.name)"
        " for m in pkgutil.iter_modules(room.__path__)];"
        "sys.exit(bool({'click', 'yaml', 'pint', 'astral', 'sounddevice', 'vosk', 'pyttsx3'}"
        " & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0
