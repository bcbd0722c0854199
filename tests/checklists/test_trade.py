"""What a technician of the trade would not have put up with, each tried as they met it.

Every test failed when it was written.  Sources stand beside the checks; what has none says so.
"""

from __future__ import annotations

import pytest

from handsfree.engine.choosing import permitted
from handsfree.engine.state import GoTo, Mode, Problem, Refused
from handsfree.language.loader import load_language
from handsfree.session.script import Script
from handsfree.testing import talk
from tests.checklists.walking import NEAR, RIGS, Walk, checklist, finish, new_record

BARE = {**NEAR, "site power": False, "site water": False, "site sewer": False}


def met(name: str, rig_name: str, site: dict[str, bool] = NEAR) -> list[str]:
    return finish(name, rig_name, new_record(rig_name), site).met


def told(name: str, rig_name: str, **script: object) -> str:
    """The program's words, with the answers and readings of a script."""
    done = talk(checklist(name, rig_name), load_language("en"), Script(**script),  # type: ignore[arg-type]
                record=new_record(rig_name))
    return "\n".join(done.words_of("program"))


# --- the cord and the post ------------------------------------------------------------------

SMALL_POST = {"site power": True, "adapter needed": True}


def test_a_fifty_amp_cord_goes_to_a_thirty_amp_post_by_an_adapter() -> None:
    """An outlet of 30 A has one leg, whatever the cord has (NEMA TT-30 and 14-50, from memory)."""
    said = told("arrive", "fifth-wheel", answers=SMALL_POST, readings={
        "supply-amps": ("thirty amps",), "outlet-volts": ("one hundred nineteen volts",),
        "load": ("two thousand watts",)})
    assert "A leg is dead" not in said and "first leg" not in said
    assert "For hours on end, twenty-four amps at most." in said
    assert said.index("adapter on the cord") < said.index("Plug in at the pedestal")


def test_a_fifty_amp_outlet_has_both_its_legs_read() -> None:
    walk = met("arrive", "fifth-wheel", {**NEAR, "adapter needed": False})
    assert {"leg-one", "leg-two"} <= set(walk) and "outlet-volts" not in walk


@pytest.mark.parametrize(("rig_name", "amps", "good"), (
    ("survey-trailer", "thirty", True), ("survey-trailer", "fifty", False),
    ("small-single", "twenty", True), ("small-single", "thirty", False),
    ("fifth-wheel", "fifty", True), ("survey-trailer", "twenty", True)))
def test_the_weakest_of_post_and_cord_is_the_limit(rig_name: str, amps: str, good: bool) -> None:
    """NFPA 70 240.5(A) (from memory): the breaker protects the cord, so it is not bigger than the
    cord.  Cords of 30, 20 and 50 A."""
    said = told("arrive", rig_name, answers={"site power": True},
                readings={"supply-amps": (f"{amps} amps",) * 3})
    assert ("more than your cord may carry" in said) is not good


def test_the_adapter_comes_home() -> None:
    site = {**NEAR, "adapter needed": True}
    record = finish("arrive", "fifth-wheel", new_record("fifth-wheel"), site).state.facts
    assert "adapter out" in record
    walk = finish("depart", "fifth-wheel", record, site)
    assert walk.met.index("unplug") < walk.met.index("adapter-in")
    storm = finish("storm", "fifth-wheel", record, {**site, "thunder near": False})
    assert "adapter out" not in storm.state.facts


def test_another_outlet_may_need_the_adapter_after_all() -> None:
    """The answer is open to change where the second outlet differs from the first."""
    walk = Walk.start(checklist("arrive", "fifth-wheel"), new_record("fifth-wheel"))
    site = {**NEAR, "adapter needed": False}
    walk.to("tester-lights", site).send(Problem())
    walk.to("second-amps", site).send(GoTo("adapter needed"))
    assert walk.state.at == "adapter needed"
    walk.on({**site, "adapter needed": True})
    assert walk.state.mode is Mode.CLOSED
    assert {"plugged in", "adapter out"} <= walk.state.facts


# --- backing in -----------------------------------------------------------------------------

@pytest.mark.parametrize("name", ("arrive", "choose-spot"))
def test_a_friction_sway_bar_comes_off_before_backing(name: str) -> None:
    """Makers' manuals of friction sway bars (from memory): off before backing, or it bends."""
    walk = met(name, "small-single")
    assert walk.index("sway-bar-back") < walk.index("back-in")
    assert "sway-bar-back" not in met(name, "tandem-slide")
    here = checklist(name, "small-single")
    ready = new_record("small-single") | {"area clear", "trailer empty"}
    assert not permitted(here.steps["back-in"], ready)
    assert permitted(here.steps["back-in"], ready - {"sway bar on"})


# --- already mended: both sides of each -----------------------------------------------------------

def test_the_tug_uses_the_truck_alone_and_the_trailers_brakes_come_later() -> None:
    camped = finish("arrive", "fifth-wheel", new_record("fifth-wheel"), NEAR).state.facts
    walk = finish("hitch-up", "fifth-wheel", camped, NEAR).met
    assert walk.index("tug-test") < walk.index("hook-up-bed") < walk.index("cable-test")
    tug = checklist("hitch-up").steps["tug-test"]
    assert "brake" not in (tug.do + tug.detail).lower() and "chocks" in tug.do


def test_thunder_that_comes_up_in_the_middle_of_the_storm_list_is_taken_in() -> None:
    """Nobody goes out while thunder is heard, also when it came after the question."""
    record = finish("arrive", "tandem-slide", new_record("tandem-slide"), NEAR).state.facts
    walk = Walk.start(checklist("storm", "tandem-slide"), record)
    walk.to("awning-storm", {**NEAR, "thunder near": False})
    walk.send(GoTo("thunder near"))
    walk.on({**NEAR, "thunder near": True}, until=lambda s: s.at != "thunder near")
    assert walk.state.at == "thunder-in" and not walk.of(Refused)
    walk.on({**NEAR, "thunder near": True})
    assert "awning out" in walk.state.facts
