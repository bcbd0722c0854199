"""Post, adapter, surge protector, cord and the trailer's own breaker, walked through at a pedestal."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import Rig
from handsfree.engine.state import Correct, Mode, Problem
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.storage.paths import checklists_folder, find_checklist
from handsfree.testing import talk
from tests.checklists.walking import FULL, NEAR, Walk, checklist, finish, new_record, rig

POWER = {"site power": True, "adapter needed": False, "far side": False}
CARAVAN = "metric-caravan"


def told(rig_: Rig, name: str = "arrive", **script: object) -> str:
    c = load_checklist(find_checklist(name), rig=rig_, library=checklists_folder())
    done = talk(c, load_language("en"), Script(**script),  # type: ignore[arg-type]
                record=c.start_facts | rig_.has)
    return "\n".join(done.words_of("program"))


def test_a_blue_plug_has_its_rcd_tried_before_and_after() -> None:
    """IEC 60364-7-708, 708.415.1, and -7-721 (from memory): an RCD for each outlet, one in the trailer."""
    walk = finish("arrive", CARAVAN, new_record(CARAVAN), NEAR)
    order = ["breaker-first", "blue-amps", "tester-in", "test-on", "mains-lights", "mains-volts",
             "trip-test", "test-off", "tester-out", "plug-in", "power-on", "own-trip", "load",
             "volts-loaded"]
    assert [step for step in walk.met if step in order] == order
    assert not {"supply-amps", "outlet-volts", "leg-one", "adapter-amps", "guard-on"} & set(walk.met)


def test_swapped_poles_are_passed_where_the_breakers_switch_both_of_them() -> None:
    """IEC 60364-7-721: breakers in a caravan switch every live conductor, neutral included (from memory)."""
    two = rig(CARAVAN)
    one = replace(two, has=two.has - {"both poles"})
    assert "no fault but swapped poles" in told(two, answers=POWER) and "correct wiring" not in told(
        two, answers=POWER)
    assert "swapped poles" not in told(one, answers=POWER)
    assert "show correct wiring" in told(one, answers=POWER)
    walk = Walk.start(checklist("arrive", CARAVAN), new_record(CARAVAN)).to("mains-lights", NEAR)
    walk.send(Problem())  # no earth: refused all the same, and no lamps of another country's tester asked about
    walk.to("tester-move", NEAR)
    assert not {"lights right", "outlet good"} & walk.state.facts and "first lamp" not in walk.met


def test_a_post_whose_rcd_does_not_trip_is_never_plugged_in() -> None:
    walk = Walk.start(checklist("arrive", CARAVAN), new_record(CARAVAN))
    for _ in range(4):
        walk.on(NEAR, until=lambda state: state.at == "trip-test")
        if walk.state.at != "trip-test":
            break
        assert "outlet good" not in walk.state.facts
        walk.send(Problem())
    walk.on(NEAR)
    assert "outlet refused" in walk.state.facts and "plugged in" not in walk.state.facts


def test_plugged_in_to_a_post_that_was_not_tried_is_an_alarm() -> None:
    """The hazard can be: it is on the record, and called out at once."""
    walk = Walk.start(checklist("arrive", CARAVAN), new_record(CARAVAN))
    walk.to("mains-volts", NEAR).send(Correct("plugged in", True))
    assert walk.state.mode is Mode.ALARM


def test_a_trailer_whose_own_rcd_stays_on_comes_off_again() -> None:
    walk = Walk.start(checklist("arrive", CARAVAN), new_record(CARAVAN)).to("own-trip", NEAR)
    walk.send(Problem())
    walk.on(NEAR)
    assert {"again-off", "again-unplug"} <= set(walk.met)
    assert "plugged in" not in walk.state.facts and "outlet refused" in walk.state.facts


@pytest.mark.parametrize(("amps", "said"), (
    ("six amps", "For a continuous load, six amps at most."),
    ("sixteen amps", "For a continuous load, sixteen amps at most."),
    ("twenty amps", "The limit for your cord is sixteen amps"),
    ("seven amps", "I do not know that breaker size. Most are six, ten or sixteen amps.")))
def test_the_number_on_a_blue_posts_breaker(amps: str, said: str) -> None:
    assert said in told(rig(CARAVAN), answers=POWER, readings={"blue-amps": (amps, "ten amps")})


@pytest.mark.parametrize(("volts", "within"), (
    ("two hundred six volts", False), ("two hundred seven volts", True),
    ("two hundred fifty three volts", True), ("two hundred fifty four volts", False)))
def test_volts_of_a_blue_post(volts: str, within: bool) -> None:
    """EN 50160, 230 V, plus and minus 10 percent (from memory), on both sides."""
    said = told(rig(CARAVAN), answers=POWER, readings={
        "mains-volts": (volts, "two hundred thirty volts")})
    assert ("Switch that outlet's breaker off." in said) is not within


def test_what_may_run_on_six_amps() -> None:
    """6 A x 230 V = 1,380 W; 150 W always, 850 W the water heater and 190 W the fridge are on."""
    said = told(rig(CARAVAN), answers=POWER, readings={
        "blue-amps": ("six amps",), "load": ("six hundred watts", "one hundred watts")})
    assert "All together, that is too much for a breaker of six amps." in said


def test_a_house_socket_by_an_adapter_gives_ten_amps_for_hours() -> None:
    """Common practice."""
    said = told(rig(CARAVAN), answers={**POWER, "adapter needed": True},
                readings={"adapter-amps": ("sixteen amps",), "blue-amps": ("sixteen amps",)})
    assert "For a continuous load, ten amps at most." in said


def test_an_adapter_that_is_smaller_than_the_breaker_is_the_weakest_part() -> None:
    """NFPA 70 240.5(A) (from memory): nothing protects it."""
    said = told(rig("survey-trailer"), answers={**POWER, "adapter needed": True}, readings={
        "adapter-amps": ("fifteen amps",), "supply-amps": ("thirty amps", "fifteen amps")})
    assert "That is too big. The limit for the adapter is fifteen amps." in said
    assert "For a continuous load, twelve amps at most." in said


def test_a_smaller_breaker_in_the_trailer_is_named_as_the_weakest() -> None:
    small = rig("fifth-wheel")
    small = replace(small, limits={**small.limits, "main amps": 30.0})
    readings = {"supply-amps": ("fifty amps",), "load": ("seven thousand watts", "one thousand watts")}
    said = told(small, answers=POWER, readings=readings)
    assert ("the trailer's main breaker is the weak link, at thirty amps. For a continuous load,"
            " twenty-four amps at most.") in said.replace("The trailer", "the trailer")


def test_volts_under_load_tell_of_a_bad_plug() -> None:
    """230 V at the post, 212 inside: 18 V or 7.8 percent (arithmetic); 5 percent is the advice."""
    readings = {"mains-volts": ("two hundred thirty volts",),
                "volts-loaded": ("two hundred twelve volts",)}
    assert "You are losing eighteen volts on the way. Feel the plugs." in told(
        rig(CARAVAN), answers=POWER, readings=readings)
    low = {**readings, "volts-loaded": ("one hundred ninety seven volts", "two hundred ten volts")}
    said = told(rig(CARAVAN), answers=POWER, readings=low)
    assert "That is too low under load." in said and "All loads off, then feel the plugs." in said


GUARDED = frozenset({"surge protector"})


def guarded() -> Rig:
    found = rig("survey-trailer")
    return replace(found, has=found.has | GUARDED)


def test_a_surge_protector_is_gear_with_a_reading_of_its_own() -> None:
    c = load_checklist(find_checklist("arrive"), rig=guarded(), library=checklists_folder())
    walk = Walk.start(c, c.start_facts | guarded().has).on(NEAR)
    met = walk.met
    assert met.index("tester-out") < met.index("guard-on") < met.index("plug-in")
    assert met.index("power-on") < met.index("guard-read") < met.index("load")
    assert "surge protector out" in walk.state.facts
    away = load_checklist(find_checklist("depart"), rig=guarded(), library=checklists_folder())
    home = Walk.start(away, walk.state.facts).on(NEAR)
    assert home.state.mode is Mode.CLOSED and "surge protector out" not in home.state.facts
    assert home.met.index("unplug") < home.met.index("guard-off")


@pytest.mark.parametrize(("volts", "off"), (("one hundred four volts", False), ("one hundred three volts", True),
                                            ("one hundred twenty eight volts", True)))
def test_its_volts_are_judged(volts: str, off: bool) -> None:
    """ANSI C84.1 (2011), range B at the load, 104 to 127 V (from memory)."""
    said = told(guarded(), answers=POWER, readings={"guard-read": (volts,)})
    assert ("Breaker off at the pedestal." in said) is off


@pytest.mark.parametrize("rig_name", ("small-single", "survey-trailer", "tandem-slide", "fifth-wheel"))
def test_a_rig_without_it_hears_nothing_of_it(rig_name: str) -> None:
    met = finish("arrive", rig_name, new_record(rig_name), FULL).met
    assert not {"guard-on", "guard-read", "own-trip", "trip-test", "blue-amps", "volts-loaded"} & set(met)
