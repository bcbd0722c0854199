"""One system of units for a rig: what is asked, heard, judged, worked out, told and printed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from handsfree.checklist.bounds import BOUNDS, UNIT_OF
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.errors import AuthorError
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.storage.paths import checklists_folder, find_checklist
from handsfree.testing import talk
from tests.checklists.walking import CHECKLISTS, checklist

METRIC = """name: Metric trailer
units: metric
has: [tandem axle, safety chains, brake cable, electric jack, stabiliser jacks, fresh tank,
  waste tanks, slide-out, water heater, gas]
limits:
  track: 2.1 m
  jack to axle: 500 cm
  jack travel: 35 cm
  ramp step one: 25 mm
  ramp step two: 5 cm
  ramp step three: 9 cm
  water psi high: 3.8 bar
  regulator psi: 350 kPa
  tyre psi low: 4.5 bar
  tyre psi high: 4.8 bar
  fresh tank gallons: 110 l
  loaded weight: 2900 kg
  inside fahrenheit low: 10 C
  slide wind high: 55 km/h
  nut torque low: 120 Nm
  nut torque high: 140 Nm
  outlet height: 35 cm
  cord gauge: 10
"""
IMPERIAL = re.compile(r"\b(psi|inch(es)?|f(oo|ee)t|pounds?|fahrenheit|miles?|gallons?)\b(?! pounds)",
                      re.IGNORECASE)


def rig_of(folder: Path, text: str = METRIC) -> Rig:
    path = folder / "rig.yaml"
    path.write_text(text, encoding="utf-8")
    return load_rig(path)


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    return rig_of(tmp_path)


def loaded(name: str, rig: Rig) -> Checklist:
    return load_checklist(find_checklist(name), rig=rig, library=checklists_folder())


def told(name: str, rig: Rig, **script: object) -> str:
    c = loaded(name, rig)
    done = talk(c, load_language("en"), Script(**script),  # type: ignore[arg-type]
                record=c.start_facts | rig.has)
    return "\n".join(done.words_of("program"))


def test_every_limit_that_can_be_out_of_bounds_has_its_unit() -> None:
    """The table of the rig file agrees with what the checklists declare."""
    declared = {name: limit.unit for known in CHECKLISTS
                for name, limit in checklist(known).limits.items()}
    assert declared == dict(UNIT_OF) and set(BOUNDS) <= set(UNIT_OF)


@pytest.mark.parametrize(("written", "limit", "psi"), (
    ("4.5 bar", "tyre psi low", 65.2671), ("450 kPa", "tyre psi low", 65.2671),
    ("65 psi", "tyre psi low", 65), ("2.1 m", "track", 82.6772), ("210 cm", "track", 82.6772),
    ("10 C", "inside fahrenheit low", 50), ("2900 kg", "loaded weight", 6393.41),
    ("110 l", "fresh tank gallons", 29.0589), ("120 Nm", "nut torque low", 88.5075),
    ("55 km/h", "slide wind high", 34.1754)))
def test_a_rig_file_takes_units(tmp_path: Path, written: str, limit: str, psi: float) -> None:
    """NIST SP 811 (2008), appendix B.8, from memory: 1 bar = 14.503 77 psi, 1 kg = 2.204 623 lb,
    1 in = 2.54 cm, 1 US gal = 3.785 412 L, 1 lbf ft = 1.355 818 N m, 1 mi/h = 1.609 344 km/h."""
    text = f"name: A\nunits: metric\nlimits:\n  {limit}: {written}\n"
    assert rig_of(tmp_path, text).limits[limit] == pytest.approx(psi, rel=1e-5)


@pytest.mark.parametrize(("line", "said"), (
    ("tyre psi low: 4.5", "needs a unit"), ("tyre psi low: 4.5 kg", "is no pressure"),
    ("tyre psi low: 45 bar", "cannot be"), ("track: 2 furlongs", "furlongs")))
def test_a_number_that_is_not_clear_is_named_with_file_line_and_mend(
    tmp_path: Path, line: str, said: str
) -> None:
    with pytest.raises(AuthorError, match=said) as caught:
        rig_of(tmp_path, f"name: A\nunits: metric\nlimits:\n  {line}\n")
    assert "rig.yaml, line 4" in str(caught.value)


def test_an_unknown_system_is_named(tmp_path: Path) -> None:
    with pytest.raises(AuthorError, match="metric"):
        rig_of(tmp_path, "name: A\nunits: sideways\n")


@pytest.mark.parametrize(("said", "good"), (
    ("four point five bar", True), ("four point five", True), ("four point four", False),
    ("four point eight", True), ("four point nine", False), ("sixty six psi", True)))
def test_a_reading_is_taken_and_judged_in_the_rigs_system(rig: Rig, said: str, good: bool) -> None:
    words = told("depart", rig, readings={"tyre-low": (said, "four point six bar")})
    assert ("Bring it to the placard pressure." in words) is not good


def test_the_challenge_asks_in_the_rigs_unit(rig: Rig) -> None:
    words = told("depart", rig)
    assert "Read me the lowest tire, cold. Answer in bar." in words
    assert "psi" not in words


@pytest.mark.parametrize("name", CHECKLISTS)
def test_nothing_of_the_other_system_is_heard(rig: Rig, name: str) -> None:
    words = told(name, rig, answers={"site power": True, "site water": True, "site sewer": True,
                                     "far side": True, "nose low": True, "scale ticket": True})
    words = re.sub("[Ff]irst (few )?miles", "", words)  # a figure of speech
    heard = [found[0] for found in IMPERIAL.finditer(words)
             if found[0].lower() not in ("feet", "foot")]
    assert heard == []


def test_what_it_comes_to_is_told_in_the_rigs_units(rig: Rig) -> None:
    """210 cm x tan(1.5 deg) = 5.50 cm; 500 cm x tan(2 deg) = 17.46 cm (plane trigonometry)."""
    words = told("arrive", rig, answers={"nose low": True}, readings={
        "side-level": ("one point five degrees", "zero"),
        "fore-level": ("two degrees", "zero")})
    assert "The low side has to come up five and a half centimeters." in words or (
        "The low side has to come up five point five centimeters." in words)
    assert "The nose has to come up seventeen point five centimeters." in words
    words = told("before-leaving-home", rig, readings={
        "trailer-weight": ("two thousand nine hundred kilograms",),
        "tongue-weight": ("three hundred forty eight",)})
    assert "That is twelve percent of the trailer's weight on the hitch." in words
    assert "one hundred twenty newton meters to one hundred forty newton meters" in words


def test_limits_are_rounded_to_the_strict_side_and_never_crossed(rig: Rig) -> None:
    for name in CHECKLISTS:
        ours, theirs = loaded(name, rig), checklist(name)
        for step in ours.steps.values():
            if step.reading is None or step.reading.unit == theirs.steps[step.id].reading.unit:
                continue
            low, high = step.reading.low, step.reading.high
            assert low is None or high is None or low < high, step.id
    tyre = loaded("depart", rig).steps["tyre-low"].reading
    assert tyre is not None and (tyre.unit, tyre.low, tyre.high) == ("bar", 4.5, 4.8)


def test_a_rig_without_a_system_is_as_before() -> None:
    reading = checklist("depart", "survey-trailer").steps["tyre-low"].reading
    assert reading is not None and (reading.unit, reading.low, reading.high) == ("psi", 60, 65)
