"""`handsfree work` on numbers that cannot be, or that say that something is amiss: as typed."""

from dataclasses import replace

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from handsfree.cli import main
from handsfree.work.finding import Verdict
from handsfree.work.levelling import Lift, Risers, level_side, lifts

GRAVITY = list(Verdict).index


def typed(*words: str) -> Result:
    return CliRunner().invoke(main, ["work", *words])


@pytest.mark.parametrize(("words", "says"), (
    (("water", "--tap", "0 psi"), "next to nothing"),
    (("water", "--tap", "14 psi"), "next to nothing"),
))
def test_no_pressure_is_not_fine(words: tuple[str, ...], says: str) -> None:
    done = typed(*words)
    assert done.exit_code == 0 and done.output.startswith("CAUTION") and says in done.output


@pytest.mark.parametrize("words", (
    ("tongue", "--tongue", "0 lb", "--gross", "6000 lb"),
    ("tongue", "--tongue", "239 lb", "--gross", "6000 lb"),
    ("tires", "120 psi", "--placard", "65 psi", "--state", "cold"),
    ("tires", "85 psi", "--placard", "65 psi", "--most", "67 psi", "--state", "cold"),
))
def test_what_nobody_should_tow_with_is_a_stop(words: tuple[str, ...]) -> None:
    done = typed(*words)
    assert done.exit_code == 1 and done.output.startswith("DO NOT"), done.output


@pytest.mark.parametrize("words", (
    ("tires", "500 psi", "--placard", "65 psi", "--state", "cold"),
    ("water", "--tap", "2000 psi"),
    ("drop", "--gauge", "10", "--length", "1000000 ft", "--current", "20 A"),
    ("drop", "--gauge", "10", "--length", "50 ft", "--current", "20000 A"),
    ("dusk", "--latitude", "40", "--longitude", "-105", "--at", "9999-12-31 23:00"),
    ("dusk", "--latitude", "40", "--longitude", "-105", "--at", "0001-01-01 00:30"),
    ("dusk", "--latitude", "40", "--longitude", "-105", "--at", "2200-01-01", "--zone", "UTC"),
    ("weight", "1000000 gal"),
    ("level", "--low", "left", "--angle", "2 deg", "--track", "1 mile"),
    ("tongue", "--tongue", "700 lb", "--gross", "9999999 lb"),
    ("breakaway", "--battery", "1000000 Ah", "--brakes", "4"),
    ("breakaway", "--battery", "5 Ah", "--brakes", "400"),
    ("outlet", "100000 V"),
))
def test_what_cannot_be_is_refused_in_one_sentence(words: tuple[str, ...]) -> None:
    done = typed(*words)
    assert done.exit_code == 2, done.output
    assert done.output.count("\n") == 1 and "Traceback" not in done.output, done.output
    assert done.exception is None or isinstance(done.exception, SystemExit)


def test_no_voltage_below_nought_arrives() -> None:
    done = typed("drop", "--gauge", "16", "--length", "900 ft", "--current", "13 A")
    assert done.exit_code == 1 and "only 3 volts" in done.output, done.output
    done = typed("drop", "--gauge", "16", "--length", "1000 ft", "--current", "13 A")
    assert done.exit_code == 1 and "only 0 volts" in done.output, done.output


@pytest.mark.parametrize("command", ("level", "tires", "tongue", "drop", "weight", "outlet", "dusk"))
def test_help_says_how_a_value_and_its_unit_are_typed(command: str) -> None:
    told = " ".join(typed(command, "--help").output.split())
    assert "in quotes or without a space" in told


def test_a_unit_that_was_left_apart_is_explained() -> None:
    done = typed("weight", "40", "gal")
    assert done.exit_code == 2 and 'in quotes or without a space: "40 gal" or 40gal' in done.output
    assert typed("weight", "40gal").exit_code == 0


@given(st.floats(0, 10), st.floats(60, 110), st.lists(st.floats(0.5, 8), max_size=4).map(tuple),
       st.floats(0.5, 8), st.integers(0, 8), st.integers(0, 8), st.integers(1, 3),
       st.none() | st.floats(1, 10))
def test_one_more_thing_to_level_with_never_makes_it_worse(
    lean: float, track: float, steps: tuple[float, ...], step: float, pieces: int, more: int,
    wheels: int, limit: float | None,
) -> None:
    few = Risers(steps, 0.5, pieces)
    before = level_side(lean, "left", track, few, wheels=wheels, limit_deg=limit)
    for owned in (replace(few, steps_in=(*steps, step)), replace(few, pieces=pieces + more)):
        after = level_side(lean, "left", track, owned, wheels=wheels, limit_deg=limit)
        assert GRAVITY(after.verdict) <= GRAVITY(before.verdict), (before, after)


def test_the_case_that_was_refused_for_a_ramp_more() -> None:
    """1.5 in by three loose pieces; a ramp of 4 in besides must not take them away."""
    lean = 0.895
    assert level_side(lean, "left", 96, Risers(pieces=3)).verdict is Verdict.OK
    found = level_side(lean, "left", 96, Risers((4.0,), pieces=3))
    assert (found.verdict, found.layers) == (Verdict.OK, 3)


def test_wheels_of_a_tandem_are_lifted_together() -> None:
    """All wheels of a side carry alike (common practice, no source): under one of two no more than
    a single thin piece, which the equaliser takes up."""
    offered = list(lifts(Risers((3.0,), 0.5, 12), wheels=2))
    assert Lift(0.25, layers=1, wheels=1) in offered
    assert all(lift.wheels == 2 for lift in offered if lift.layers > 1)
    assert not [lift for lift in lifts(Risers((), 1.5, 12), wheels=2) if lift.wheels == 1]
    assert level_side(0.895, "left", 96, Risers(pieces=8), wheels=2).wheels == 2
