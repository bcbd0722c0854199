"""``handsfree work``: the calculations of the trade at the command line.

Imports click, `measures` and the `work` room.  Reads options with units, prints a finding and leaves
with 0 (fine, or a caution), 1 (the verdict is "do not") or 2 (bad input).  What hands its values
to one calculation is a row of the table at the end.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import click

from handsfree.cli.measures import (
    Coordinate,
    Measure,
    WorkGroup,
    amount,
    argument,
    choose_bank,
    option,
    plain,
    refuse,
    region,
    report,
)  # fmt: skip
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
    quantities,
    sewer,
    sun,
    tester,
    ticket,
    towing,
    tyres,
    voltage,
    water,
)  # fmt: skip
from handsfree.work.finding import Finding
from handsfree.work.region import EUROPE


@click.group(cls=WorkGroup)
def work() -> None:
    """Work out the numbers of the job: leveling, power, water, drain, towing, gas, daylight.

    Give every value with its unit, in quotes or without a space: "96 in", 2.4m, 118V.  Exit status:
    0 fine or with a caution, 1 do not, 2 bad input.
    """


@work.command()
@click.option("--low", required=True, type=click.Choice(["left", "right", "front", "rear"]),
              help="The side that is low.")
@click.option("--angle", type=Measure("deg"), help="How far the floor leans.")
@click.option("--bubble", type=Measure("in"), help="Or: lift of a spirit level's low end ...")
@click.option("--over", type=Measure("in"), help="... and that level's length.")
@click.option("--track", type=Measure("in", "track"), help="Between the wheels, left to right.")
@click.option("--jack-to-axle", type=Measure("in", "jack to axle"), help="For front or rear low.")
@click.option("--step", multiple=True,
              type=Measure("in", "ramp step one", "ramp step two", "ramp step three"),
              help="A ramp step or block you own.")
@click.option("--pieces", type=click.IntRange(0), metavar="N", default=0, help="Loose flat pieces for a side.")
@click.option("--piece", type=Measure("in", "piece thickness"), default="0.5 in", show_default=True,
              help="How thick such a piece is.")
@click.option("--wheels", type=click.IntRange(1), metavar="N", default=1, help="Wheels on one side.")
@click.option("--travel", type=Measure("in", "jack travel"), help="Travel the jack has left in that direction.")
@click.option("--limit", type=Measure("deg"), help="Most lean the rig's manual allows.")
def level(
    low: Any, angle: float | None, bubble: float | None, over: float | None, track: float | None,
    jack_to_axle: float | None, step: tuple[float, ...], pieces: int, piece: float, wheels: int,
    travel: float | None, limit: float | None,
) -> None:  # fmt: skip
    """How much to lift, which side, and with what you own.

    Example: handsfree work level --low left --angle "2 deg" --track "96 in" --step "3 in"
    """
    if angle is None:
        if bubble is None or over is None:
            refuse("Give --angle, or --bubble and --over.")
        angle = levelling.angle(bubble, over)
    found: Finding
    if low in ("left", "right"):
        if track is None:
            refuse("Give --track for a side that is low.")
        risers = levelling.Risers(tuple(sorted(step)), piece, pieces)
        found = levelling.level_side(angle, low, track, risers, wheels=wheels, limit_deg=limit)
        found = found if step or pieces else levelling.untold(found)
    else:
        if jack_to_axle is None:
            refuse("Give --jack-to-axle for an end that is low.")
        found = levelling.level_fore(angle, low, jack_to_axle, travel_in=travel, limit_deg=limit)
    unknown = ["no --limit was given: look it up in the rig's manual"] if limit is None else []
    report(found, "level" if low in ("left", "right") else "jack", *unknown)


@work.command()
@click.option("--breaker", required=True, type=Measure("a"), help="The number on its handle.")
@click.option("--adapter", type=Measure("a"), help="Rating printed on it, the smaller number.")
@click.option("--cord", "cord_", type=Measure("a"), help="Rating of the trailer's cord.")
@click.option("--inlet", type=Measure("a", "inlet amps"), help="Rating of the trailer's inlet.")
@click.option("--main", "main_", type=Measure("a", "main amps"), help="The trailer's own main breaker.")
@click.option("--mains", is_flag=True, help="230 V, the blue plug; else 120 V.")
@click.option("--house", is_flag=True, help="With --mains: a house socket.")
def supply(
    breaker: float, adapter: float | None, cord_: float | None, inlet: float | None,
    main_: float | None, mains: bool, house: bool,
) -> None:
    """Which part between post and trailer is the weakest link.

    Example: handsfree work supply --breaker 50A --cord 50A --main 30A
    """
    if house and not mains:
        refuse("Give --house with --mains only.")
    parts = {"adapter": adapter, "cord": cord_, "inlet": inlet, "main": main_}
    for name, amps in parts.items():
        if amps is not None and amps <= 0:
            refuse(f"The amps of --{name} must be above zero.")
    known = {name: amps for name, amps in parts.items() if amps is not None}
    unknown = [] if "cord" in known else ["no --cord was given: its plug says what it is made for"]
    report(power.judge_supply(breaker, parts=known, mains=mains, house=house, region=region()),
           "power", *unknown)


@work.command("power")
@click.option("--supply", required=True,
              type=click.Choice([str(a) for a in sorted({*power.SUPPLIES, *power.MAINS})]),
              help="The supply in amps.")
@click.option("--mains", is_flag=True, help="230 V, the blue plug; else 120 V.")
@click.option("--load", multiple=True, help='NAME=POWER, as in "kettle=1500 W".')
@click.option("--steady", multiple=True, help="The same, for what runs three hours or more.")
def power_(supply: str, mains: bool, load: tuple[str, ...], steady: tuple[str, ...]) -> None:
    """Whether what runs at once fits the supply.

    POWER is in watts or amps; "@2" behind it hangs it on the second leg.

    Example: handsfree work power --supply 30 --steady "heater=1500 W" --load "kettle=10 A"
    """
    if not load and not steady:
        refuse("Give at least one --load or --steady.")
    found = (power.MAINS if mains else power.SUPPLIES).get(int(supply))
    if found is None:
        refuse(f"No supply of {'230' if mains else '120'} V has {supply} amps."
                f"{'' if mains else ' Is it one of 230 V? Then add --mains.'}")
    if mains and region() != EUROPE:
        found = replace(found, continuous=power.CONTINUOUS_FACTOR)
    loads = [_load(text, steady=False, volts=found.leg_v) for text in load]
    loads += [_load(text, steady=True, volts=found.leg_v) for text in steady]
    report(power.load_sum(loads, found), "power")


@work.command()
@click.option("--gauge", help="Wire gauge of the cord, such as 10 AWG.")
@click.option("--area", type=Measure("mm2", "cord area"), help="Or its cross-section, on a 230 V supply.")
@click.option("--length", required=True, type=Measure("ft"), help="One way.")
@click.option("--current", required=True, type=Measure("a"), help="What will run through it.")
@click.option("--breaker", type=Measure("a"), help="Breaker of the outlet it is plugged into.")
@click.option("--source", type=Measure("v"), default=None,
              help="Voltage where it is plugged in; 120 V, or 230 V with --area.")
@click.option("--balanced", is_flag=True, help="Same current on both legs of 120/240 V.")
@click.option("--edition", type=click.Choice(list(voltage.EDITIONS)), default="2011",
              show_default=True, help="Edition of the voltage standard.")  # fmt: skip
def drop(
    gauge: str | None, area: float | None, length: float, current: float, breaker: float | None,
    source: float | None, balanced: bool, edition: str,
) -> None:
    """What an extension cord costs in volts, and what it may carry."""
    if (gauge is None) is (area is None):
        refuse("Give --gauge, or --area for a 230 V supply.")
    unknown = [] if breaker else ["no --breaker was given: a cord must carry all that it lets through"]
    found: Finding
    if area is not None:
        if balanced:
            refuse("--balanced goes with --gauge only.")
        found = cord.mains_drop(area, length, current, breaker_a=breaker,
                                source_v=power.MAINS_V if source is None else source)
    else:
        found = cord.cord_drop(
            quantities.gauge(gauge or ""), length, current, breaker_a=breaker, balanced=balanced,
            edition=edition, source_v=power.LEG_V if source is None else source)
    report(found, "power", *unknown)


@work.command()
@click.argument("legs", nargs=-1, required=True, type=Measure("v"), metavar="VOLTS [VOLTS]")
@click.option("--between", type=Measure("v"), help="Between the two legs.")
@click.option("--edition", type=click.Choice(list(voltage.EDITIONS)), default="2011",
              show_default=True, help="Edition of the voltage standard.")  # fmt: skip
@click.option("--mains", is_flag=True, help="A 230 V outlet, the blue plug.")
def outlet(legs: tuple[float, ...], between: float | None, edition: str, mains: bool) -> None:
    """What a meter says at the outlet.

    One value for a single leg or for 230 V, two for both legs of a 50 amp outlet.

    Example: handsfree work outlet "118 V" "121 V" --between "239 V"
    """
    if mains:
        if len(legs) > 1 or between is not None:
            refuse("Give one reading of a 230 V outlet.")
        report(voltage.judge_mains(legs[0]), "power")
        return
    report(voltage.judge_voltage(legs, between_v=between, edition=edition), "power")


@work.command("tester")
@click.argument("lit", nargs=-1, required=True, metavar="LAMP...",
                type=click.Choice([*(lamp.value for lamp in tester.Lamp), "none"]))
def tester_(lit: tuple[str, ...]) -> None:
    """What the lights of a three-light outlet tester mean.

    Lamps are named by the slots they sit between: hot-neutral, hot-ground, neutral-ground
    (mostly the red one); "none" if all are dark.  The legend on the tester wins.

    Example: handsfree work tester hot-neutral hot-ground
    """
    if "none" in lit and len(set(lit)) > 1:
        refuse("Name the lights that are lit, or 'none' alone.")
    report(tester.read_tester(frozenset(tester.Lamp(n) for n in lit if n != "none")), "power")


@work.command("sewer")
@click.option("--outlet", required=True, type=Measure("in", "outlet height"), help="Height at the trailer.")
@click.option("--inlet", type=Measure("in"), default="0 in", help="Height of the ground inlet.")
@click.option("--length", required=True, type=Measure("ft"), help="Length of the hose.")
@click.option("--diameter", type=Measure("in"), default="3 in", show_default=True,
              help="Its inner diameter.")
@click.option("--spacing", type=Measure("ft"), default="2 ft", show_default=True,
              help="From one support to the next.")
def sewer_(outlet: float, inlet: float, length: float, diameter: float, spacing: float) -> None:
    """Slope of the sewer hose and the heights of its supports."""
    found = sewer.hose_slope(outlet, inlet, length, diameter_in=diameter, spacing_ft=spacing,
                             region=region())
    lines = [f"support at {amount(at, 'ft', 1)}: {amount(height, 'in', 1)} high"
             for at, height in found.supports]  # fmt: skip
    report(found, "sewer", *lines)


@work.command("tires")
@click.argument("readings", nargs=-1, required=True, type=Measure("psi"), metavar="READING...")
@click.option("--placard", required=True, type=Measure("psi", "tyre psi low"), help="Cold pressure on the placard.")
@click.option("--most", type=Measure("psi", "tyre psi high"), help="The most they may have when cold, on the sidewall.")
@click.option("--state", required=True, type=click.Choice(["cold", "hot"]),
              help="Cold: parked three hours or more, out of the sun.")
@click.option("--set-at", type=Measure("f"), help="Temperature when it was set ...")
@click.option("--now", type=Measure("f"), help="... and now: shows what to expect.")
def tyres_(
    readings: tuple[float, ...], placard: float, most: float | None, state: str,
    set_at: float | None, now: float | None,
) -> None:  # fmt: skip
    """Tire pressures against the placard."""
    lines = []
    if set_at is not None and now is not None:
        expected = tyres.pressure_at(placard, set_at, now)
        lines.append(f"expected now      {amount(expected, 'psi')}")
    report(tyres.judge_tyres(readings, placard, cold=state == "cold", most_psi=most), "tyres", *lines)


@work.command("ticket")
@click.option("--alone", nargs=2, required=True, type=Measure("lb"), metavar="FRONT REAR",
              help="The truck's axles, without the trailer.")
@click.option("--hitched", nargs=3, required=True, type=Measure("lb"),
              metavar="FRONT REAR TRAILER", help="Without bars.")
@click.option("--bars", nargs=3, type=Measure("lb"),
              metavar="FRONT REAR TRAILER", help="With the bars on.")
@click.option("--front-rating", type=Measure("lb", "steer rating"), help="The truck's front axle.")
@click.option("--rear-rating", type=Measure("lb", "drive rating"), help="The truck's rear axle.")
@click.option("--truck-rating", type=Measure("lb", "truck rating"), help="The loaded truck.")
@click.option("--axles-rating", type=Measure("lb"), help="All trailer axles together.")
@click.option("--trailer-rating", type=Measure("lb", "gross rating"), help="The loaded trailer.")
@click.option("--combined-rating", type=Measure("lb", "combined rating"), help="Truck and trailer together.")
@click.option("--hitch-rating", type=Measure("lb", "hitch rating"), help="What the hitch may carry.")
@click.option("--fifth-wheel", is_flag=True, help="A fifth wheel, not a ball.")
def ticket_(
    alone: tuple[float, float], hitched: tuple[float, float, float],
    bars: tuple[float, float, float] | None, front_rating: float | None,
    rear_rating: float | None, truck_rating: float | None, axles_rating: float | None,
    trailer_rating: float | None, combined_rating: float | None, hitch_rating: float | None,
    fifth_wheel: bool,
) -> None:  # fmt: skip
    """What the scale tickets say.

    Three weighings: truck alone, hitched, hitched with the bars on.
    """
    ratings = ticket.Ratings(
        front_rating, rear_rating, truck_rating, axles_rating, trailer_rating, combined_rating,
        hitch_rating,
    )  # fmt: skip
    found = ticket.read_ticket(
        ticket.Weighing(*alone),
        ticket.Weighing(*hitched),
        ticket.Weighing(*bars) if bars else None,
        ratings=ratings,
        hitch="fifth-wheel" if fifth_wheel else "ball",
    )
    lines = [f"not checked, no rating given: {', '.join(found.unknown)}"] if found.unknown else []
    report(found, "towing", *lines)


@work.command()
@click.option("--latitude", required=True, type=Coordinate("latitude"), help="Of the place.")
@click.option("--longitude", required=True, type=Coordinate("longitude"), help="Of the place.")
@click.option("--at", help='Moment, as in "2024-06-21 19:00"; a date alone means noon. [now]')
@click.option("--zone", help="Time zone, such as UTC. [this computer's]")
@click.option("--needs", type=Measure("min"), help="How long the work takes.")
def dusk(
    latitude: float, longitude: float, at: str | None, zone: str | None, needs: float | None
) -> None:
    """When it gets dark, and whether the work fits in before that."""
    moment = _moment(at, zone)
    found = daylight.until_dark(latitude, longitude, moment, need_min=needs)
    report(found, "dusk", f"asked for {moment:%Y-%m-%d %H:%M %Z}")


@work.command("battery")
@click.argument("volts", required=False, type=Measure("v"))
@click.option("--bank", metavar="NAME", is_eager=True, expose_value=False, callback=choose_bank,
              help="Which of the rig's banks. [the one that feeds it]")
@click.option("--chemistry", required=True, type=click.Choice(list(battery.FLOORS_V)),
              help="What it is made of: flooded lead-acid, sealed (AGM or gel), lithium.")
@click.option("--capacity", type=Measure("ah", "battery amp hours"), help="On its label, at the 20 hour rate.")
@click.option("--load", type=Measure("w"), help="What runs on it ...")
@click.option("--current", type=Measure("a"), help="... or the current it gives.")
@click.option("--temperature", type=Measure("f"), default="77 F", show_default=True,
              help="Of the battery.")
@click.option("--charge", type=Measure("percent"), default="100 percent", show_default=True,
              help="How full it is.")
@click.option("--needs", type=Measure("hours"), help="How long it has to last.")
def battery_(
    volts: float | None, chemistry: Any, capacity: float | None, load: float | None,
    current: float | None, temperature: float, charge: float, needs: float | None,
) -> None:
    """How long a 12 V battery lasts, or what its voltage means.

    Example: handsfree work battery --capacity 100Ah --load 60W --chemistry lead-acid

    Or: handsfree work battery 12.4V --chemistry lithium
    """
    if volts is not None:
        if load is not None or current is not None:
            refuse("Give the volts at rest, or capacity and load.")
        report(battery.judge_battery(volts, chemistry), "battery")
        return
    if capacity is None:
        refuse("Give its volts at rest, or --capacity and --load.")
    report(battery.battery_hours(
        capacity, chemistry, load_w=load, current_a=current, temperature_f=temperature,
        charge_percent=charge, need_hours=needs), "hours")


@work.command("solar")
@click.option("--latitude", required=True, type=Coordinate("latitude"), help="Of the place.")
@click.option("--panels", required=True, type=Measure("w", "panel watts"), help="All of them, by their labels.")
@click.option("--tilt", type=Measure("deg"), default="0 deg", show_default=True,
              help="From the horizontal.")
@click.option("--facing", type=Measure("deg"), help="Compass direction they face. [the noon sun]")
@click.option("--on", help='Day, as in "2026-06-21". [today]')
@click.option("--needs", type=Measure("wh"), help="What you use in a day.")
def solar(
    latitude: float, panels: float, tilt: float, facing: float | None, on: str | None,
    needs: float | None,
) -> None:
    """What solar panels give in a day, clear and overcast.

    Example: handsfree work solar --latitude "40 N" --panels 200W --tilt "30 deg" --on 2026-12-21
    """
    day = _moment(on, None).timetuple().tm_yday
    report(sun.harvest(latitude, day, panels, tilt_deg=tilt, facing_deg=facing, need_wh=needs), "sun")


@work.command("propane")
@click.option("--gas", "gas_", required=True, type=Measure("lb"), help="In the open cylinder.")
@click.option("--cylinder", type=Measure("lb"), default="20 lb", show_default=True,
              help="What it holds when full.")
@click.option("--burner", multiple=True, help='NAME=HEAT@HOURS a day, as in "stove=7000 BTU/h@1".')
@click.option("--furnace", type=Measure("btuh"), default="0 BTU/h", help="Rating on its plate.")
@click.option("--outside", type=Measure("f"), default="60 F", show_default=True,
              help="Mean of day and night.")
@click.option("--inside", type=Measure("f"), default=f"{gas.INSIDE_F:g} F", show_default=True,
              help="What the furnace is set to.")
@click.option("--holds", type=Measure("f"), default=f"{gas.HOLDS_F:g} F", show_default=True,
              help="Outside temperature at which the furnace runs all the time.")
@click.option("--needs", type=Measure("days"), help="How long it has to last.")
def propane(
    gas_: float, cylinder: float, burner: tuple[str, ...], furnace: float, outside: float,
    inside: float, holds: float, needs: float | None,
) -> None:
    """How long the gas lasts, and whether it boils off fast enough.

    Example: handsfree work propane --gas 15lb --furnace "20000 BTU/h" --outside 30F
    --burner "stove=7000 BTU/h@1"
    """
    report(gas.gas_days(
        gas_, burners=[_burner(text) for text in burner], furnace_btuh=furnace, outside_f=outside,
        inside_f=inside, holds_f=holds, capacity_lb=cylinder, need_days=needs), "burning")


def _moment(at: str | None, zone: str | None) -> datetime:
    from zoneinfo import ZoneInfo

    try:
        place = ZoneInfo(zone) if zone else None
    except (KeyError, ValueError, OSError):
        refuse(f"There is no time zone '{zone}'; use a name such as UTC.")
    if at is None:
        return datetime.now(UTC).astimezone(place)
    try:
        moment = datetime.fromisoformat(at.strip())
    except ValueError:
        refuse(f"A moment is written like 2024-06-21 19:00, not '{at}'.")
    if not daylight.YEARS[0] <= moment.year <= daylight.YEARS[1]:
        refuse(f"Dusk is worked out for the years {daylight.YEARS[0]} to {daylight.YEARS[1]} only.")
    if len(at.strip()) <= 10:
        moment = moment.replace(hour=12)
    if moment.tzinfo is None:
        return moment.replace(tzinfo=place) if place else moment.astimezone()
    return moment.astimezone(place) if place else moment


def _load(text: str, *, steady: bool, volts: float) -> power.Load:
    name, equals, rest = text.partition("=")
    amount, at, leg = rest.partition("@")
    if not equals or not name.strip() or (at and leg.strip() not in ("1", "2")):
        refuse(f"A load is NAME=POWER[@LEG], as in \"kettle=1500 W@2\", not '{text}'.")
    what = f"the load '{name.strip()}'"
    try:
        watts = quantities.measure(amount, "w", what)
    except InputError as error:
        try:
            watts = quantities.measure(amount, "a", what) * volts
        except InputError:
            raise error from None
    return power.Load(name.strip(), watts, int(leg or 1), steady)


def _burner(text: str) -> gas.Burner:
    name, equals, rest = text.partition("=")
    heat, at, hours = rest.partition("@")
    try:
        return gas.Burner(name.strip(), quantities.measure(heat, "btuh", f"the burner '{name.strip()}'"),
                          float(hours.strip().removesuffix("h") if equals and at else "x"))
    except ValueError:
        refuse(f"A burner is NAME=HEAT@HOURS, as in \"stove=7000 BTU/h@1\", not '{text}'.")


def _flag(flag: str, to: str, value: str, default: str, about: str) -> click.Option:
    return click.Option([flag, to], is_flag=True, flag_value=value, default=default, help=about)


_FIFTH = _flag("--fifth-wheel", "hitch", "fifth-wheel", "ball", "A fifth wheel, not a ball.")

plain(work, "fridge", "level", levelling.fridge,
      "Whether an absorption refrigerator may run with this lean.",
      option("--side", "deg", "side_deg", "Lean side to side.", needed=True),
      option("--fore", "deg", "fore_deg", "Lean front to rear.", needed=True),
      option("--across", "deg", "limit_across_deg", "Most lean across it, by its manual.",
             default="3 deg"),
      option("--along", "deg", "limit_along_deg", "Most lean along it, by its manual.",
             default="6 deg"),
      click.Option(["--turned"], is_flag=True, help="Its back is against the front or rear wall."))
plain(work, "loaded", "power", voltage.judge_loaded,
      "What voltage is left inside while the big loads run.\n\nExample: handsfree work loaded 112V"
      " --outlet 119V",
      argument("v", "volts", "VOLTS"),
      option("--outlet", "v", "outlet_v", "What the outlet read with nothing running."),
      click.Option(["--mains"], is_flag=True, help="230 V, the blue plug; else 120 V."))
plain(work, "water", "water", water.judge_pressure, "Whether the pressure suits the trailer.",
      option("--tap", "psi", "tap_psi", "At the site's tap, with every tap in the trailer shut.", needed=True),
      option("--regulator", "psi", "setting_psi", "What the regulator is set to.", "regulator psi"),
      option("--limit", "psi", "limit_psi", "From the rig's manual.", "water psi high"))
plain(work, "dose", "bleach", water.dose,
      "How much bleach it takes to disinfect the fresh tank.",
      option("--tank", "gal", "water_gal", "Volume of the fresh tank.", "fresh tank gallons",
             needed=True),
      option("--strength", "percent", "strength_percent", "On the bleach's label."),
      option("--target", "ppm", "target_ppm", "Chlorine wanted in the water.", default="50 ppm"))
plain(work, "weight", "towing", water.water_weight,
      "What that much water weighs.\n\nExample: handsfree work weight 40gal",
      argument("gal", "volume_gal", "VOLUME"))
plain(work, "tank", "tank", water.tank_days,
      "How many days the tanks will last.\n\nExample: handsfree work tank --people 2 --fresh 40gal"
      " --gray 30gal",
      click.Option(["--people"], type=click.IntRange(1), metavar="N", required=True, help="How many."),
      option("--fresh", "gal", "fresh_gal", "In the fresh tank now.", "fresh tank gallons"),
      option("--gray --grey", "gal", "grey_gal", "Room left in the gray tank."),
      option("--black", "gal", "black_gal", "Room left in the black tank."),
      option("--use", "gal", "use_gal", "What one person uses in a day.", default="15 liters"),
      option("--needs", "days", "need_days", "How long it has to last."))
plain(work, "generator", "generator", generator.run_time,
      "How long a generator runs, by the run times on its data sheet.\n\nExample: handsfree work"
      " generator --tank 1gal --rated 1800W --full 4h --quarter 8h --load 600W --fuel 0.8gal",
      option("--tank", "gal", "tank_gal", "What its tank holds.", needed=True),
      option("--fuel", "gal", "fuel_gal", "What is in it now.", needed=True),
      option("--rated", "w", "rated_w", "Its continuous rating.", needed=True),
      option("--full", "hours", "full_hours", "Run time on a full tank at that load.", needed=True),
      option("--quarter", "hours", "quarter_hours", "Run time on a full tank at a quarter of it."),
      option("--load", "w", "load_w", "What runs.", needed=True),
      option("--altitude", "ft", "altitude_ft", "Altitude of the site.", most=generator.MOST_ALTITUDE_FT),
      option("--needs", "hours", "need_hours", "How long it has to run."))
plain(work, "range", "range", fuel.fuel_range,
      "How far the fuel goes against a head wind.\n\nExample: handsfree"
      " work range --fuel 20gal --economy 10mpg --speed 60mph --wind 20mph --weight 12000lb"
      " --height 11ft",
      option("--fuel", "gal", "fuel_gal", "In the tank.", needed=True),
      option("--economy", "mpg", "economy_mpg", "With this trailer at that speed, no wind.",
             needed=True),
      option("--speed", "mph", "speed_mph", "Over the ground.", needed=True),
      option("--wind", "mph", "headwind_mph", "From ahead.", needed=True),
      option("--weight", "lb", "weight_lb", "Truck and trailer.", "combined rating", needed=True),
      option("--height", "ft", "height_ft", "Of the trailer.", "rig height", needed=True),
      option("--width", "ft", "width_ft", "Of the trailer.", default="8 ft"),
      option("--to", "mi", "distance_mi", "To the next fuel."))
plain(work, "tongue", "towing", towing.judge_tongue,
      "What share of the trailer rests on the hitch.",
      option("--tongue", "lb", "tongue_lb", "Weight on the ball or the pin.", needed=True),
      option("--gross", "lb", "gross_lb", "Loaded trailer, all of it.", "loaded weight", needed=True),
      option("--rating", "lb", "rating_lb", "Rating of the hitch.", "hitch rating"), _FIFTH)
plain(work, "axles", "towing", towing.judge_axles,
      "Each axle's load against its rating and its tires'.",
      argument("lb", "loads_lb", "LOAD...", many=True),
      option("--gawr", "lb", "gawr_lb", "Rating of one axle.", "axle rating", needed=True),
      option("--tire", "lb", "tyre_rating_lb", "Rating of one tire.", "tyre rating", needed=True),
      click.Option(["--tires", "tyres_per_axle"], type=click.IntRange(1), metavar="N", default=2,
                   help="Tires on an axle."))
plain(work, "chains", "towing", towing.judge_chains,
      "Whether two safety chains are strong enough.\n\nLocal law says whether each must hold the"
      " trailer alone.",
      option("--strength", "lb", "chain_lb", "Breaking force of one chain.", needed=True),
      option("--gross", "lb", "gross_lb", "Loaded trailer, all of it.", "loaded weight", needed=True),
      click.Option(["--rule"], type=click.Choice(["each", "combined"]), default="each",
                   show_default=True, help="Whether each chain, or both, must hold it."))
plain(work, "breakaway", "towing", towing.breakaway_hold,
      "How long the breakaway battery holds the brakes.",
      option("--battery", "ah", "battery_ah", "Capacity of its battery.", needed=True),
      click.Option(["--brakes"], type=click.IntRange(1), metavar="N", required=True, help="Braked wheels."),
      option("--each", "a", "amps_each", "Current of one brake.", default="3 A"))
plain(work, "cylinder", "gas", gas.weigh_cylinder,
      "How much gas a cylinder holds, and whether it is overfilled.",
      option("--scale", "lb", "scale_lb", "Cylinder and gas.", needed=True),
      option("--tare", "lb", "tare_lb", "TW on the collar.", needed=True),
      option("--capacity", "lb", "water_capacity_lb", "WC on the collar.", needed=True))
plain(work, "alarm", "co", gas.alarm_window,
      "How long a carbon-monoxide alarm may stay silent.\n\nExample: handsfree work alarm 70ppm",
      argument("ppm", "level_ppm", "LEVEL"))
