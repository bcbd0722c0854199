"""A caravan of 230 V countries: overrun brake, hand brake at the hitch, breakaway cable on its ring.

Sources: UN Regulation 13, 5.2.2 (parking brake of trailers; overrun brakes for those of 3,500 kg at
most) and 5.2.2.9 (automatic braking should the coupling part), from memory; the order is common
practice, no source.
"""

from __future__ import annotations

import pytest

from handsfree.engine.state import Correct, GoTo, Mode, Refused
from tests.checklists.walking import NEAR, Walk, checklist, finish, new_record

CARAVAN = "metric-caravan"


def test_the_hand_brake_is_on_before_the_hitch_comes_apart() -> None:
    met = finish("arrive", CARAVAN, new_record(CARAVAN), NEAR).met
    order = ["chock", "lean-test", "hand-brake-on", "jack-down", "light-cord-off", "cable-off",
             "latch-open", "pull-away"]
    assert [step for step in met if step in order] == order


def test_the_hitch_cannot_be_taken_apart_without_it() -> None:
    walk = Walk.start(checklist("arrive", CARAVAN), new_record(CARAVAN)).to("hand-brake-on", NEAR)
    for step in ("jack-pad", "jack-down", "light-cord-off", "latch-open"):
        assert any(isinstance(effect, Refused) for effect in walk.send(GoTo(step))), step


def test_it_is_not_tried_on_its_chocks_with_the_hand_brake_on() -> None:
    """The brake would hold it, and say nothing of the chocks."""
    walk = Walk.start(checklist("arrive", CARAVAN),
                      new_record(CARAVAN) | {"hand brake on"}).on(NEAR)
    assert "lean-test" not in walk.met


def test_driving_off_with_the_hand_brake_on_is_called_out() -> None:
    """The hazard can be: locked wheels, hot drums."""
    record = finish("arrive", CARAVAN, new_record(CARAVAN), NEAR).state.facts
    assert "hand brake on" in record
    walk = Walk.start(checklist("depart", CARAVAN), record).to("pull-out", NEAR)
    assert "hand brake on" not in walk.state.facts
    walk.send(Correct("hand brake on", True))
    assert any(isinstance(effect, Refused) for effect in walk.send(GoTo("pull-out")))
    walk.send(Correct("parked", False))
    assert walk.state.mode is Mode.ALARM


def test_it_comes_off_at_the_hitch_and_before_the_chocks() -> None:
    record = finish("arrive", CARAVAN, new_record(CARAVAN), NEAR).state.facts
    met = finish("depart", CARAVAN, record, NEAR).met
    assert met.index("lift-test") < met.index("hook-up-ring") < met.index("hand-brake-off")
    assert met.index("hand-brake-off") < met.index("chocks-out")
    assert not {"hook-up", "controller"} & set(met) and "brake-try" in met


def test_no_brake_controller_and_no_pin_are_asked_about() -> None:
    met = finish("hitch-up", CARAVAN, new_record(CARAVAN), NEAR).met
    assert not {"controller", "pin-pull", "cable-test"} & set(met)


@pytest.mark.parametrize("rig_name", ("small-single", "survey-trailer", "tandem-slide", "fifth-wheel"))
def test_other_rigs_hear_nothing_of_a_hand_brake(rig_name: str) -> None:
    record = finish("arrive", rig_name, new_record(rig_name), NEAR)
    away = finish("depart", rig_name, record.state.facts, NEAR)
    assert not {"hand-brake-on", "hand-brake-off", "hook-up-ring"} & {*record.met, *away.met}
