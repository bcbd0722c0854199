"""Levelling against trigonometry, and against common practice marked as such."""

from __future__ import annotations

from math import atan, degrees, radians, sin, tan

import pytest

from handsfree.work.finding import Verdict
from handsfree.work.levelling import Risers, angle, fridge, level_fore, level_side, lifts, rise


@pytest.mark.parametrize(
    ("track", "lean", "inches"),
    [(96, 0.5, 0.838), (96, 1, 1.676), (96, 2, 3.352), (96, 3, 5.031), (96, 6, 10.090),
     (84, 1, 1.466), (84, 3, 4.402), (72, 1, 1.257), (72, 3, 3.773)],
)  # fmt: skip
def test_rise_side_to_side(track: float, lean: float, inches: float) -> None:
    """Trigonometry: track x tan(angle), worked to a thousandth of an inch."""
    assert rise(track, lean) == pytest.approx(inches, abs=6e-4)
    assert level_side(lean, "left", track).rise_in == pytest.approx(inches, abs=6e-4)


@pytest.mark.parametrize(("base", "lean", "inches"), [(240, 2, 8.381), (300, 1, 5.237)])
def test_rise_fore_and_aft(base: float, lean: float, inches: float) -> None:
    """Trigonometry: coupler to axle x tan(angle)."""
    assert level_fore(lean, "front", base).move_in == pytest.approx(inches, abs=6e-4)


def test_angle_of_a_block() -> None:
    """Trigonometry: a 3 in block on a 96 in track is 1.790 degrees."""
    assert angle(3, 96) == pytest.approx(1.790, abs=5e-4)


@pytest.mark.parametrize(("lean", "excess"), [(3, 0.14), (5, 0.38), (6, 0.55)])
def test_tangent_or_sine(lean: float, excess: float) -> None:
    """Trigonometry: whichever way the base was measured, the two differ by under 0.6 %."""
    other = 96 * sin(radians(lean))
    assert 100 * (rise(96, lean) / other - 1) == pytest.approx(excess, abs=0.006)


def test_bubble_over_a_length() -> None:
    """Trigonometry: lifting one end of a 24 in level by an inch is a slope of 1 in 24."""
    assert angle(1, 24) == pytest.approx(degrees(atan(1 / 24)))
    assert rise(96, angle(1, 24)) == pytest.approx(4.0)


def test_refrigerator_limits() -> None:
    """3 and 6 degrees: common practice, no source; the axes are the refrigerator's own."""
    assert fridge(3.0, 6.0).verdict is Verdict.OK
    assert fridge(3.1, 0.0).verdict is Verdict.STOP
    assert fridge(0.0, 6.1).verdict is Verdict.STOP
    assert fridge(4.0, 2.0).verdict is Verdict.STOP
    assert fridge(4.0, 2.0, turned=True).verdict is Verdict.OK
    assert fridge(2.0, 1.0, limit_across_deg=1.0).verdict is Verdict.STOP


def test_a_piece_under_a_tandem() -> None:
    """Common practice, no source: a flat piece under one wheel of a tandem raises that side a
    quarter inch, under both wheels half an inch.
    """
    heights = {
        (lift.wheels, lift.layers): lift.height_in
        for lift in lifts(Risers(piece_in=0.5, pieces=2), wheels=2)
    }
    assert heights[1, 1] == 0.25
    assert heights[2, 1] == 0.5


def test_from_an_inch_up_a_ramp() -> None:
    """From the owner's own set: where a ramp step fits it replaces loose pieces."""
    owned = Risers(steps_in=(1.0, 2.0), piece_in=0.5, pieces=8)
    just_under = level_side(degrees(atan(0.99 / 96)), "left", 96, owned)
    just_over = level_side(degrees(atan(1.4 / 96)), "left", 96, owned)
    assert just_under.lift_in == 1.0
    assert (just_over.step, just_over.layers) == (1, None)
    only_pieces = level_side(degrees(atan(1.4 / 96)), "left", 96, Risers(pieces=8))
    assert only_pieces.layers == 3


def test_beyond_the_rig() -> None:
    """The owner's manual sets the limit: beyond it, no block is offered."""
    assert tan(radians(3)) * 96 > 5
    refused = level_side(3.1, "right", 96, Risers((5.0,)), limit_deg=3.0)
    assert (refused.verdict, refused.step, refused.lift_in) == (Verdict.STOP, None, 0.0)
    assert level_side(3.0, "right", 96, Risers((5.0,)), limit_deg=3.0).verdict is Verdict.OK
