"""What the numbers of a step come to: one pure function for each sum of the checklists' table.

Pure: standard library, `errors` and this room.  A function gets what is known and gives findings,
or none when something that it needs is not known.  A rig's number that is zero is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from types import MappingProxyType
from typing import Literal

from handsfree.errors import InputError
from handsfree.work import (
    battery,
    cord,
    daylight,
    fuel,
    gas,
    generator,
    levelling,
    power,
    sewer,
    sun,
    tester,
    ticket,
    towing,
    tyres,
    voltage,
    water,
)  # fmt: skip
from handsfree.work.finding import Finding, Verdict

Findings = tuple[Finding, ...]

_MOST_PIECES = 100
"""Flat pieces that are tried; nobody carries more."""


@dataclass(frozen=True)
class Given:
    """What is known: the step's own `value`, numbers of the rig, readings of earlier steps by
    name, facts that are so, the moment, and the minutes of work that are left."""

    value: float = 0.0
    numbers: Mapping[str, float] = field(default_factory=dict)
    earlier: Mapping[str, float] = field(default_factory=dict)
    facts: frozenset[str] = frozenset()
    now: datetime | None = None
    minutes: float = 0.0
    region: str = ""
    """Where the rig is, of `region.REGIONS`; "" where nobody said."""

    def number(self, name: str) -> float:
        """The rig's number; zero where it is not known."""
        return self.numbers.get(name, 0.0)

    def known(self, name: str) -> float | None:
        """The rig's number; None where it is not known."""
        return self.number(name) or None


def side(given: Given) -> Findings:
    """Side to side: how much, on which of the owner's own, what remains (`levelling`)."""
    if not given.number("track"):
        return ()
    steps = tuple(sorted(
        height for name in ("one", "two", "three")
        if (height := given.number(f"ramp step {name}"))))
    pieces = min(int(given.number("flat pieces")), _MOST_PIECES)
    risers = levelling.Risers(steps, given.number("piece thickness") or 0.5, pieces)
    found = levelling.level_side(
        given.value, "left", given.number("track"), risers,
        wheels=2 if "tandem axle" in given.facts else 1, limit_deg=given.known("spot degrees high"))
    if not steps and not pieces and found.say in ("level.side.short", "level.side.nothing"):
        found = replace(found, say="level.side.rise", verdict=Verdict.OK)  # what is owned: unknown
    return (replace(found, remaining_deg=abs(found.remaining_deg)),)  # a hair too high is no less


def _low_end(given: Given) -> Literal["front", "rear", "either"]:
    if "nose low answered" not in given.facts:
        return "either"
    return "front" if "nose low" in given.facts else "rear"


def front(given: Given) -> Findings:
    """Front to back: which way and how far the nose has to go, and whether the jack can.

    What the jack has left is known upwards only."""
    if not given.number("jack to axle"):
        return ()
    low = _low_end(given)
    return (levelling.level_fore(given.value, low, given.number("jack to axle"),
                                 travel_in=None if low == "rear" else given.known("jack travel")),)


def pile(given: Given) -> Findings:
    """Before the truck leaves: what has to go under the jack's pad, so that it can level the nose."""
    low, base = _low_end(given), given.number("jack to axle")
    if not base or not given.number("jack travel") or low == "either":
        return ()
    return (levelling.jack_pile(given.value, low, base, given.number("jack travel")),)


def fridge(given: Given) -> Findings:
    """Whether an absorption refrigerator may run at the angles that were read last."""
    if not {"side level", "fore level"} <= set(given.earlier):
        return ()
    return (levelling.fridge(given.earlier["side level"], given.earlier["fore level"]),)


@dataclass(frozen=True)
class _Way:
    """What hangs on the pedestal's breaker, as far as it is known."""

    mains: bool
    known: bool
    """Whether there are breakers of that size."""
    legs: int
    house: bool
    parts: Mapping[str, float]


def _way(given: Given, breaker_a: float) -> _Way:
    mains = "blue plug" in given.facts
    adapter = "adapter needed" in given.facts
    known = (power.MAINS if mains else power.SUPPLIES).get(int(breaker_a))
    own = 2 if "two legs" in given.facts else 1
    parts = {
        "cord": given.number("cord watts") / ((power.MAINS_V if mains else power.LEG_V) * own),
        "inlet": given.number("inlet amps"), "main": given.number("main amps"),
        "adapter": given.earlier.get("adapter amps", 0.0) if adapter else 0.0}
    return _Way(
        mains, known is not None and breaker_a == int(breaker_a),
        min(own, known.legs) if known else own, mains and adapter,
        {part: amps for part, amps in parts.items() if amps > 0})


def _chain(given: Given, breaker_a: float) -> power.Chain:
    way = _way(given, breaker_a)
    return power.judge_supply(breaker_a, parts=way.parts, legs=way.legs, mains=way.mains,
                              house=way.house, region=given.region)


def supply(given: Given) -> Findings:
    """What the number on the breaker allows, behind adapter, cord, inlet and the trailer's own
    breaker."""
    return (_chain(given, given.value),)


def load(given: Given) -> Findings:
    """What is on by the record, what is always on, and what was read out, all for hours."""
    if "supply amps" not in given.earlier:
        return ()
    breaker = given.earlier["supply amps"]
    way, chain = _way(given, breaker), _chain(given, breaker)
    if not way.known:
        return ()
    on = {"fridge on": "fridge watts", "heater on": "water heater watts",
          "tank heat on": "tank heater watts"}
    watts = given.value + given.number("always watts") + sum(
        given.number(number) for fact, number in on.items() if fact in given.facts)
    found = power.judge_total(watts, power.Supply(
        chain.limit_a, way.legs, power.MAINS_V if way.mains else power.LEG_V,
        chain.limit_a / chain.hours_a))
    if chain.part == "main" and found.say == "power.over":
        found = replace(found, say="power.over-main")
    return (found,)


def lamps(given: Given) -> Findings:
    """The pattern of the three lamps."""
    lit = zip(("first lamp", "second lamp", "red lamp"), tester.Lamp, strict=True)
    return (tester.read_tester(frozenset(lamp for name, lamp in lit if name in given.facts)),)


def one_leg(given: Given) -> Findings:
    """One reading of the outlet, 120 or 230 V."""
    if "blue plug" in given.facts:
        return (voltage.judge_mains(given.value),)
    return (voltage.judge_voltage([given.value]),)


def two_legs(given: Given) -> Findings:
    """Both legs of a 50 A outlet."""
    if "leg one" not in given.earlier:
        return ()
    return (voltage.judge_voltage([given.earlier["leg one"], given.value]),)


def under_load(given: Given) -> Findings:
    """What arrives while the big loads run."""
    return (voltage.judge_loaded(given.value, given.earlier.get("outlet volts") or None,
                                 mains="blue plug" in given.facts),)


def extension(given: Given) -> Findings:
    """An extension of the cord's own gauge, with all that the supply gives for hours, on the supply's
    breaker."""
    amps = given.earlier.get("supply amps", 0.0)
    if not amps:
        return ()
    hours = _chain(given, amps).hours_a
    if "blue plug" in given.facts:
        area = given.number("cord area")
        return (cord.mains_drop(area, given.value, hours, breaker_a=amps,
                                source_v=given.earlier.get("outlet volts", power.MAINS_V)),
                ) if area else ()
    if not given.number("cord gauge"):
        return ()
    return (cord.cord_drop(int(given.number("cord gauge")), given.value, hours, breaker_a=amps,
                           source_v=given.earlier.get("outlet volts", power.LEG_V)),)


def pressure(given: Given) -> Findings:
    """The gauge behind the regulator, held against the rig's limit and the regulator's setting."""
    return (water.judge_gauge(given.value, setting_psi=given.known("regulator psi"),
                              limit_psi=given.known("water psi high"), region=given.region),)


def dose(given: Given) -> Findings:
    """Bleach for the fresh tank by its label's strength."""
    tank = given.number("fresh tank gallons")
    return (water.dose(tank, given.value),) if tank else ()


def hose(given: Given) -> Findings:
    """The sewer hose over the length that was read out."""
    outlet = given.number("outlet height")
    if not outlet:
        return ()
    return (sewer.hose_slope(outlet, given.earlier.get("inlet height", 0.0), given.value,
                             region=given.region),)


def tongue(given: Given) -> Findings:
    """The share on the hitch, and what is on each axle and tyre, from the pounds that a scale shows.

    What was read out as the trailer's weight comes before what its file has."""
    gross = given.earlier.get("trailer weight") or given.number("loaded weight")
    if not gross:
        return ()
    low, high = given.number("tongue percent low"), given.number("tongue percent high")
    hitch: towing.Hitch = "fifth-wheel" if "fifth wheel" in given.facts else "ball"
    found = towing.judge_tongue(given.value, gross, hitch=hitch,
                                rating_lb=given.known("hitch rating"),
                                share_percent=(low, high) if low and high else None)
    return (found, *_axles(given, gross - given.value))


def _axles(given: Given, on_axles: float) -> Findings:
    axle, tyre = given.number("axle rating"), given.number("tyre rating")
    if not axle or not tyre:
        return ()
    count = 2 if "tandem axle" in given.facts else 1
    return (towing.judge_axles([on_axles / count] * count, axle, tyre),)


def scale_ticket(given: Given) -> Findings:
    """Truck alone and hitched; the step's own value is the trailer's axles, hitched."""
    names = ("steer alone", "drive alone", "steer hitched", "drive hitched")
    if not set(names) <= set(given.earlier):
        return ()
    one, two, three, four = (given.earlier[name] for name in names)
    return _ticket(given, ticket.Weighing(one, two), ticket.Weighing(three, four, given.value))


def ticket_with_bars(given: Given) -> Findings:
    """The third weighing too; the step's own value is the trailer's axles with the bars on."""
    names = ("steer alone", "drive alone", "steer hitched", "drive hitched", "trailer hitched",
             "steer with bars", "drive with bars")
    if not set(names) <= set(given.earlier):
        return ()
    one, two, three, four, five, six, seven = (given.earlier[name] for name in names)
    return _ticket(given, ticket.Weighing(one, two), ticket.Weighing(three, four, five),
                   ticket.Weighing(six, seven, given.value))


def _ticket(given: Given, alone: ticket.Weighing, hitched: ticket.Weighing,
            bars: ticket.Weighing | None = None) -> Findings:
    count = 2 if "tandem axle" in given.facts else 1
    axle = given.known("axle rating")
    found = ticket.read_ticket(
        alone, hitched, bars, hitch="fifth-wheel" if "fifth wheel" in given.facts else "ball",
        share_percent=(given.number("tongue percent low"), given.number("tongue percent high")),
        ratings=ticket.Ratings(
            steer_lb=given.known("steer rating"), drive_lb=given.known("drive rating"),
            truck_lb=given.known("truck rating"), trailer_lb=given.known("gross rating"),
            trailer_axles_lb=axle * count if axle else None,
            combined_lb=given.known("combined rating"), hitch_lb=given.known("hitch rating")))
    return (found, *_axles(given, (bars or hitched).trailer_lb))


def tyre(given: Given) -> Findings:
    """The lowest cold tyre, held against the placard and the most that the owner lets it have."""
    placard = given.number("tyre psi low")
    if not placard:
        return ()
    return (tyres.judge_tyres([given.value], placard, cold=True,
                              most_psi=given.known("tyre psi high")),)


def nut_torque(given: Given) -> Findings:
    """What the torque wrench is set to, where the rig's manual was read."""
    low, high = given.number("nut torque low"), given.number("nut torque high")
    return (towing.set_torque(low, high),) if low and high else ()


def height(given: Given) -> Findings:
    """How high the rig stands, where that was measured."""
    tall = given.number("rig height")
    return (towing.clearance(tall),) if tall else ()


def length(given: Given) -> Findings:
    """How long the rig is, and the two together, as far as they were measured."""
    own, other = given.number("rig length"), given.number("other length")
    return (towing.length(own, other),) if own else ()


def unbraked(given: Given) -> Findings:
    """Whether a trailer of that weight may want brakes: as it was weighed last, else as it may weigh."""
    weight = given.number("loaded weight") or given.number("gross rating")
    return (towing.without_brakes(weight, given.region),) if weight else ()


def dusk(given: Given) -> Findings:
    """How long it is light where the rig stands; the place that was read out comes first."""
    place = {**given.numbers, **given.earlier}
    latitude, longitude = place.get("latitude", 0.0), place.get("longitude", 0.0)
    if given.now is None or not (latitude or longitude):
        return ()
    return (daylight.until_dark(latitude, longitude, given.now, need_min=given.minutes or None),)


def battery_hours(given: Given) -> Findings:
    """What a full battery does for what always runs."""
    capacity, watts = given.number("battery amp hours"), given.number("always watts")
    if not capacity or not watts:
        return ()
    chemistry: battery.Chemistry = ("lithium" if "lithium battery" in given.facts else
                                    "sealed" if "sealed battery" in given.facts else "lead-acid")
    return (battery.battery_hours(capacity, chemistry, load_w=watts),)


def gas_days(given: Given) -> Findings:
    """What so many percent of a cylinder do for the furnace, with a day's mean at freezing."""
    cylinder, furnace = given.number("gas pounds"), given.number("furnace btu")
    if not cylinder or not furnace:
        return ()
    return (gas.gas_days(cylinder * given.value / 100, furnace_btuh=furnace, outside_f=32.0,
                         capacity_lb=cylinder),)


def full_cylinder(given: Given) -> Findings:
    """The same of a full one."""
    return gas_days(replace(given, value=100.0))


def harvest(given: Given) -> Findings:
    """What the panels give today."""
    watts = given.number("panel watts")
    if not watts or given.now is None or not (given.number("latitude") or given.number("longitude")):
        return ()
    return (sun.harvest(given.number("latitude"), given.now.timetuple().tm_yday, watts,
                        tilt_deg=given.number("panel tilt")),)


def tank_days(given: Given) -> Findings:
    """How long a full fresh tank lasts."""
    tank, people = given.number("fresh tank gallons"), int(given.number("people"))
    return (water.tank_days(people, fresh_gal=tank),) if tank and people else ()


def run_time(given: Given) -> Findings:
    """How long the generator runs on a full tank, for what always runs."""
    tank, rated, full, watts = (given.number(name) for name in (
        "generator gallons", "generator watts", "generator hours", "always watts"))
    if not tank or not rated or not full or not watts:
        return ()
    return (generator.run_time(tank, tank, rated, full, watts,
                               quarter_hours=given.known("generator hours at a quarter")),)


WIND_MPH, SPEED_MPH = 20.0, 60.0
"""For which the range is told without being asked for another."""


def fuel_range(given: Given) -> Findings:
    """How far a full tank of the truck goes at 60 miles an hour against 20 of wind."""
    tank, economy, height, weight = (given.number(name) for name in (
        "fuel gallons", "miles per gallon", "rig height", "combined rating"))
    if not tank or not economy or not height or not weight:
        return ()
    return (fuel.fuel_range(tank, economy, SPEED_MPH, WIND_MPH, weight_lb=weight, height_ft=height),)


ASKED: Mapping[str, tuple[Callable[[Given], Findings], tuple[str, ...]]] = MappingProxyType({
    "battery": (battery_hours, ("battery amp hours", "always watts")),
    "sun": (harvest, ("panel watts", "latitude", "longitude")),
    "gas": (full_cylinder, ("gas pounds", "furnace btu")),
    "tank": (tank_days, ("fresh tank gallons", "people")),
    "generator": (run_time, ("generator gallons", "generator watts", "generator hours", "always watts")),
    "range": (fuel_range, ("fuel gallons", "miles per gallon", "rig height", "combined rating")),
})
"""What is asked standing by, by name, and the rig's numbers that it cannot do without."""


def asked(name: str, given: Given) -> Findings:
    """What the question `name` comes to; nothing where a number is missing or cannot be."""
    try:
        return ASKED[name][0](given)
    except InputError:
        return ()


def off_grid(given: Given) -> Findings:
    """What the bank at hand does, and what the panels give it today."""
    lasts = battery_hours(given)
    return (*lasts, *harvest(given)) if lasts else ()


def route(given: Given) -> Findings:
    """What a route is looked up by: how long the rig is, and how far it goes on a tank."""
    return (*length(given), *fuel_range(given))


FUNCTIONS: Mapping[str, Callable[[Given], Findings]] = MappingProxyType({
    "lift side": side, "spot slope": side, "lift front": front, "jack pile": pile,
    "fridge level": fridge,
    "supply": supply, "tester": lamps, "one leg": one_leg, "two legs": two_legs,
    "under load": under_load, "extension": extension, "load": load, "pressure": pressure, "dose": dose, "sewer": hose,
    "tongue": tongue, "ticket": scale_ticket, "ticket with bars": ticket_with_bars,
    "tyres": tyre, "nut torque": nut_torque, "height": height, "length": length, "unbraked": unbraked, "dusk": dusk,
    "battery hours": off_grid, "gas days": gas_days, "run time": run_time, "tank days": tank_days, "route": route,
})
"""By the name of the sum."""


def work_out(name: str, given: Given) -> Findings:
    """What the sum `name` comes to; nothing where a number is missing or cannot be."""
    try:
        return FUNCTIONS[name](given)
    except InputError:
        return ()
