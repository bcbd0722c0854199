"""What must come before what, with the published source of each, at every rig and site.

Each edge is checked twice: in the order in which the steps are offered, and, where it is an
interlock, by asking at every moment before the first whether the second would be permitted.
"""

import pytest

from handsfree.engine.choosing import permitted
from tests.checklists.walking import RIGS, SITES, Walk, checklist, finish, new_record, right_answer

PLUG = "29 CFR 1910.334(b)(1), from memory: load-rated switches, not connectors, break a load"
LOOK = "29 CFR 1910.334(a), as in WAC 296-24-985: look over the cord set, match plug and outlet"
CHOCKS = "common practice; 49 CFR 393.41(a) asks chocks of some commercial trailers, as a model"
MANUALS = "towing manuals, from memory: latch proved, chains crossed, cable to the truck"
BARS = "makers' manuals of friction sway bars, from memory: off before backing"
PRACTICE = "common practice, no source"

# checklist, first, then, enforced by an interlock, source
EDGES = (
    ("arrive", "area-clear", "back-in", True, PRACTICE),
    ("arrive", "sway-bar-back", "back-in", True, BARS),
    ("arrive", "side-level", "chock", False, PRACTICE),
    ("arrive", "chock", "pull-away", True, CHOCKS),
    ("arrive", "chock", "pull-out-under", True, CHOCKS),
    ("arrive", "side-level", "pull-away", True, PRACTICE),
    ("arrive", "chock", "latch-open", True, CHOCKS),
    ("arrive", "chock", "jaws-open", True, CHOCKS),
    ("arrive", "chains-off", "pull-away", True, PRACTICE),
    ("arrive", "cable-off", "pull-away", True, PRACTICE),
    ("arrive", "light-cord-off", "pull-away", True, PRACTICE),
    ("arrive", "bars-off", "pull-away", True, PRACTICE),
    ("arrive", "jack-down", "latch-open", True, PRACTICE),
    ("arrive", "latch-open", "lift-clear", True, PRACTICE),
    ("arrive", "lift-clear", "pull-away", True, PRACTICE),
    ("arrive", "pull-away", "fore-level", True, PRACTICE),
    ("arrive", "fore-level", "stabilisers-down", False, PRACTICE),
    ("arrive", "breaker-first", "tester-in", True, PLUG),
    ("arrive", "look-over", "tester-in", True, LOOK),
    ("arrive", "tester-lights", "outlet-volts", True, PRACTICE),
    ("arrive", "outlet-volts", "plug-in", True, PRACTICE),
    ("arrive", "test-off", "tester-out", True, PLUG),
    ("arrive", "test-off", "plug-in", True, PLUG),
    ("arrive", "plug-in", "power-on", True, PLUG),
    ("arrive", "slide-room", "slide-run-out", True, PRACTICE),
    ("arrive", "slide-beside", "slide-run-out", True, PRACTICE),
    ("arrive", "regulator-on", "hose-on", True, PRACTICE),
    ("arrive", "pressure", "hose-on", True, "UPC 608.2 (2015): static pressure, regulator above 80"),
    ("arrive", "hose-on", "tap-on", True, PRACTICE),
    ("arrive", "heater-fill", "heater-on", True, PRACTICE),
    ("arrive", "valves-shut", "lay-sewer-hose", True, PRACTICE),
    ("arrive", "lay-sewer-hose", "seal", True, PRACTICE),
    ("arrive", "joints", "lay-sewer-hose", False, PRACTICE),  # clean hands first
    ("arrive", "alarm-test", "gas-on", True, PRACTICE),
    ("arrive", "side-level", "fridge-start", True, PRACTICE),
    ("arrive", "sky", "mast-raise", True, PRACTICE),
    ("arrive", "mast-raise", "guys-on", True, PRACTICE),
    ("depart", "power-off", "unplug", True, PLUG),
    ("depart", "unplug", "cord-in", True, PLUG),
    ("depart", "tap-off", "relieve", True, PRACTICE),
    ("depart", "relieve", "hose-off", True, PRACTICE),
    ("depart", "hose-off", "regulator-off", True, PRACTICE),
    ("depart", "black-pull", "grey-pull", False, PRACTICE),
    ("depart", "black-push", "grey-pull", False, PRACTICE),
    ("depart", "grey-push", "unseal", True, PRACTICE),
    ("depart", "hose-off", "unseal", False, PRACTICE),  # clean hands first
    ("depart", "slide-floor", "slide-run-in", True, PRACTICE),
    ("depart", "slide-roof", "slide-run-in", True, PRACTICE),
    ("depart", "slide-run-in", "pull-out", True, PRACTICE),
    ("depart", "latch-close", "lift-test", True, MANUALS),
    ("depart", "jaws-look", "tug-test", True, MANUALS),
    ("depart", "lift-test", "jack-raise", True, MANUALS),
    ("depart", "lift-test", "chocks-out", True, MANUALS),
    ("depart", "tug-test", "chocks-out", True, MANUALS),
    ("depart", "hook-up", "pull-out", True, MANUALS),
    ("depart", "hook-up-bed", "pull-out", True, MANUALS),
    ("depart", "gas-off", "pull-out", True, PRACTICE),
    ("depart", "chocks-out", "walk-round", False, PRACTICE),
    ("depart", "walk-round", "pull-out", True, PRACTICE),
    ("depart", "pull-out", "ramps-in", True, PRACTICE),
    ("depart", "pull-out", "last-look", True, PRACTICE),
)


@pytest.fixture(scope="module")
def stays() -> list[tuple[str, frozenset[str], dict[str, bool], str]]:
    """(checklist, record before it, answers, rig) of arrivals and departures."""
    found = []
    for rig_name in RIGS:
        for site in SITES.values():
            record = new_record(rig_name)
            found.append(("arrive", record, site, rig_name))
            there = finish("arrive", rig_name, record, site).state.facts
            found.append(("depart", there | {"ramps out"}, site, rig_name))
    return found


def test_every_edge_holds_wherever_both_steps_occur(stays: list) -> None:  # type: ignore[type-arg]
    seen = set()
    for name, record, site, rig_name in stays:
        edges = [edge for edge in EDGES if edge[0] == name]
        met = finish(name, rig_name, record, site).met
        both = [e for e in edges if e[1] in met and e[2] in met]
        seen |= set(both)
        for edge in both:
            assert met.index(edge[1]) < met.index(edge[2]), (edge, rig_name)
        _check_interlocks(name, record, site, rig_name, [e for e in both if e[3]])
    assert set(EDGES) - seen == set()


def _check_interlocks(name, record, site, rig_name, edges) -> None:  # type: ignore[no-untyped-def]
    c = checklist(name, rig_name)
    walk, done = Walk.start(c, record), set[str]()
    while walk.state.at:
        for edge in edges:
            if edge[1] not in done:
                assert not permitted(c.steps[edge[2]], walk.state.facts), (edge, rig_name)
        at = walk.state.at
        walk.send(right_answer(c, walk.state, site))
        if walk.state.at != at:
            done.add(at)


def test_departure_inverts_arrival_and_leaves_the_breaker_off() -> None:
    """Not a plain reversal: after unplugging, nothing switches the breaker on again."""
    record = finish("arrive", "tandem-slide", new_record("tandem-slide"), SITES["full"]).state.facts
    met = finish("depart", "tandem-slide", record, SITES["full"]).met
    back = met[met.index("unplug"):]
    assert all("breaker off" not in checklist("depart").steps[step].ends
               for step in back if step != "pedestal-left")
