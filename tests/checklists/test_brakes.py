"""A trailer's brakes by their kind, each as a technician would want its own steps and no other's.

Sources: 49 CFR 393.42 and 393.43 (which trailers need brakes, and brakes that come on when they break
away), as models; 49 CFR 571.121, S5.1.1.1 (a truck's compressor cuts in at 100 psi or more), all from
memory.  Surge couplers, their lockout and their lever: makers' manuals, from memory.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from handsfree.engine.choosing import permitted
from handsfree.engine.state import Correct, GoTo, Problem, Refused
from tests.checklists.walking import NEAR, Walk, checklist, finish, new_record

PLAIN = "tandem-slide"
KINDS: Mapping[str, frozenset[str]] = {
    "electric": frozenset(),
    "electric over hydraulic": frozenset({"electric over hydraulic"}),
    "surge": frozenset({"surge brake"}),
    "surge with a pin": frozenset({"surge brake", "lockout pin"}),
    "air over hydraulic": frozenset({"air over hydraulic"}),
}
CABLE = frozenset({"brake cable"})


def record(kind: str) -> frozenset[str]:
    """The tandem, with brakes of this kind or, for "none", without."""
    plain = new_record(PLAIN)
    return plain - CABLE if kind == "none" else plain | KINDS[kind]


def met(name: str, kind: str) -> list[str]:
    """What is offered in a list; hitching up begins where the trailer stands as it arrived."""
    begun = record(kind)
    if name == "hitch-up":
        begun = finish("arrive", PLAIN, begun, NEAR).state.facts
    return finish(name, PLAIN, begun, NEAR).met


OF_A_KIND = {
    "brake-battery": {"electric", "electric over hydraulic"},
    "brake-fluid": {"electric over hydraulic", "surge", "surge with a pin", "air over hydraulic"},
    "pin-pull": {"electric", "electric over hydraulic"},
    "cable-test": {"electric", "electric over hydraulic"},
    "controller": {"electric"},
    "controller-hydraulic": {"electric over hydraulic"},
    "surge-look": {"surge", "surge with a pin"},
    "push-test": {"surge with a pin"},
    "surge-travel": {"surge", "surge with a pin"},
    "air-up": {"air over hydraulic"},
    "no-brakes": {"none"},
}
"""Step: the kinds of brakes that have it, in all lists from home to the road."""


@pytest.mark.parametrize("kind", [*KINDS, "none"])
def test_each_kind_of_brakes_has_its_own_steps(kind: str) -> None:
    walked = {*met("before-leaving-home", kind), *met("hitch-up", kind)}
    for step, kinds in OF_A_KIND.items():
        assert (step in walked) is (kind in kinds), (step, kind)


def test_a_breakaway_that_a_cable_works_has_no_battery_to_read() -> None:
    """An overrun brake is pulled on by its cable: the caravan was asked for a battery it has not."""
    walk = finish("before-leaving-home", "metric-caravan", new_record("metric-caravan"), NEAR)
    assert "brake-battery" not in walk.met


def test_gain_and_lever_are_a_controllers() -> None:
    for kind in ("surge", "air over hydraulic", "none"):
        c = checklist("depart", PLAIN)
        for step in met("depart", kind):
            said = f"{c.steps[step].do} {c.steps[step].detail}".lower()
            assert "gain" not in said and "controller" not in said, (kind, step)
    assert "lever" in checklist("depart", PLAIN).steps["controller"].detail


def test_backing_with_a_surge_brake_locks_it_out_first_and_nobody_leaves_so() -> None:
    walk = Walk.start(checklist("arrive", PLAIN), record("surge with a pin")).on(NEAR)
    assert walk.met.index("lockout-in") < walk.met.index("back-in") and walk.untroubled
    assert "lockout in" in walk.state.facts
    home = finish("depart", PLAIN, walk.state.facts, NEAR)
    assert home.met.index("lockout-out") < home.met.index("pull-out")
    again = Walk.start(checklist("depart", PLAIN), walk.state.facts).to("pull-out", NEAR)
    again.send(Correct("lockout in", True))
    assert any(isinstance(effect, Refused) for effect in again.send(GoTo("pull-out")))
    assert "lockout-in" not in met("arrive", "surge")


def test_surge_brakes_without_a_pin_are_known_to_free_themselves_before_backing() -> None:
    """A valve that the reverse light opens, or shoes that give way by themselves; nobody forces them."""
    walk = Walk.start(checklist("arrive", PLAIN), record("surge")).on(NEAR)
    assert walk.met.index("surge-free") < walk.met.index("back-in") and walk.untroubled
    for kind in ("electric", "surge with a pin", "air over hydraulic", "none"):
        assert "surge-free" not in met("arrive", kind), kind


def test_how_far_a_surge_coupler_slides_is_looked_at_once_its_brakes_were_tried() -> None:
    camped = finish("arrive", PLAIN, record("surge"), NEAR).state.facts
    home = finish("depart", PLAIN, camped, NEAR).met
    assert home.index("surge-look") < home.index("pull-out") < home.index("brake-try") < home.index("surge-travel")
    walk = Walk.start(checklist("depart", PLAIN), camped).to("surge-travel", NEAR)
    walk.send(Problem())
    assert walk.state.at == "brake-wheels" and "worn" in walk.checklist.steps["surge-travel"].detail


def test_the_air_line_comes_off_with_the_rest_and_is_on_before_the_road() -> None:
    walk = finish("arrive", PLAIN, record("air over hydraulic"), NEAR)
    assert walk.met.index("lean-test") < walk.met.index("air-line-off") < walk.met.index("pull-away")
    camped = walk.state.facts
    home = finish("depart", PLAIN, camped, NEAR)
    assert home.met.index("hook-up") < home.met.index("air-line-on") < home.met.index("air-up")
    assert home.met.index("air-up") < home.met.index("pull-out")
    for step, without in (("pull-away", "air-line-off"), ("pull-out", "air-up")):
        list_, begun = (("arrive", record("air over hydraulic")) if step == "pull-away" else
                        ("depart", camped))
        walk = Walk.start(checklist(list_, PLAIN), begun).to(step, NEAR)
        fact = {"air-line-off": ("air on", True), "air-up": ("air built", False)}[without]
        walk.send(Correct(*fact))
        assert not permitted(walk.checklist.steps[step], walk.state.facts), step


@pytest.mark.parametrize(("psi", "good"), ((99, False), (100, True)))
def test_air_is_built_up_to_what_the_compressor_keeps(psi: int, good: bool) -> None:
    reading = checklist("depart", PLAIN).steps["air-up"].reading
    assert reading is not None and (reading.band(psi) == "within") is good


@pytest.mark.parametrize("kind", ["surge", "air over hydraulic", "none"])
def test_nobody_without_a_controller_is_sent_to_look_at_it(kind: str) -> None:
    c = checklist("depart", PLAIN)
    facts = record(kind)
    shown = {name for name in c.remedies["brake-mend"].steps if c.steps[name].only_if.holds(facts)}
    assert shown == {"brake-wheels"}
