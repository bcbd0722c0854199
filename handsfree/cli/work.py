"""``handsfree work``: the calculations of the trade at the command line.

Imports click, yaml and the `work` room.  Reads options with units, prints a finding and leaves
with 0 (fine, or a caution), 1 (the verdict is "do not") or 2 (bad input).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, NoReturn

import click
import yaml

from handsfree.errors import InputError
from handsfree.work import (
    battery,
    cord,
    daylight,
    gas,
    levelling,
    power,
    quantities,
    sewer,
    tester,
    ticket,
    towing,
    tyres,
    voltage,
    water,
)  # fmt: skip
from handsfree.work.finding import TWINS, Finding, Verdict, sentence

if TYPE_CHECKING:
    FloatType = click.ParamType[float]
else:
    # Older releases of click have no subscript here.
    FloatType = click.ParamType

_SHOWN = {
    "in": "in", "ft": "ft", "lb": "lb", "psi": "psi", "gal": "gal", "ml": "mL", "cm": "cm",
    "m": "m", "kg": "kg", "kpa": "kPa", "l": "L", "floz": "fl oz", "deg": "deg", "v": "V",
    "a": "A", "w": "W", "percent": "%", "cups": "cups", "ppm": "ppm", "min": "min", "hours": "h",
}  # fmt: skip


_QUOTES = 'in quotes or without a space: "40 gal" or 40gal'

_MOST = {"in": 5000, "ft": 5000, "deg": 360, "v": 1000, "a": 2000, "w": 100000, "ah": 5000,
         "psi": 1000, "gal": 2000, "lb": 200000, "percent": 100, "ppm": 1e6, "min": 10000,
         "f": 1000, "mm2": 100}
"""Beyond this a value is a slip of the pen, whatever it is for; no source."""


class OneSentence(click.ClickException):
    """A user's mistake, shown as one sentence; exit status 2."""

    exit_code = InputError.exit_status


class WorkGroup(click.Group):
    """Turns every mistake in a calculation's input into one sentence."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except InputError as error:
            raise OneSentence(str(error)) from error
        except click.UsageError as error:
            said = " ".join(error.format_message().split())
            if "unexpected extra argument" in said:
                said += f" Write a value with its unit {_QUOTES}."
            raise OneSentence(said) from error

    def add_command(self, cmd: click.Command, name: str | None = None) -> None:
        """Each command's help says how a value is typed."""
        cmd.epilog = f"Write each value with its unit, {_QUOTES}."
        super().add_command(cmd, name)


class Measure(FloatType):
    """A number with a unit, given to the command as a float in the unit of ``kind``."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self.name = quantities.KINDS[kind][1].rpartition("such as ")[2]

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        if isinstance(value, float):
            return value
        what = param.opts[0].lstrip("-").replace("-", " ") if param else "the value"
        try:
            found = quantities.measure(str(value), self.kind, what)
        except InputError as error:
            if str(value).replace(".", "", 1).strip("-").isdigit():
                raise InputError(f"{error} Write number and unit {_QUOTES}.") from None
            raise
        if abs(found) > _MOST[self.kind]:
            raise InputError(f"{what[:1].upper()}{what[1:]} of {value} cannot be; check the number"
                             " and its unit.")
        return found


class Coordinate(FloatType):
    """Degrees with a sign, or with N, S, E or W behind them."""

    name = "degrees"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        text = str(value).strip().upper()
        sign = -1.0 if text[-1:] in ("S", "W") else 1.0
        try:
            return sign * float(text.rstrip("NSEW° ").strip())
        except ValueError:
            raise InputError(f"A coordinate is a number such as 51.48 N, not '{value}'.") from None


@cache
def wording(language: str = "en") -> Mapping[str, Any]:
    """The ``work`` section of a language's file."""
    text = (files("handsfree") / "languages" / f"{language}.work.yaml").read_text("utf-8")
    section: Mapping[str, Any] = yaml.safe_load(text)["work"]
    return section


def report(finding: Finding, caution: str, *more: str) -> None:
    """Prints a finding: verdict and sentence, values with their twins, grounds, caution."""
    words = wording()
    click.echo(f"{finding.verdict.value.upper()}: {sentence(finding, words)}")
    values = finding.values()
    twins = {f"{name.rpartition('_')[0]}_{TWINS[unit][0]}" for name in values
             if (unit := name.rpartition("_")[2]) in TWINS}
    for name, value in values.items():
        if name in twins:
            continue
        stem, _, unit = name.rpartition("_")
        if isinstance(value, str) or unit not in _SHOWN:
            click.echo(f"  {name.replace('_', ' '):<18}{value}")
            continue
        shown = quantities.shown(value, _SHOWN[unit], 2)
        if unit in TWINS:
            other = TWINS[unit][0]
            shown += f" ({quantities.shown(float(values[f'{stem}_{other}']), _SHOWN[other], 1)})"
        click.echo(f"  {stem.replace('_', ' '):<18}{shown}")
    for line in more:
        click.echo(f"  {line}")
    click.echo(f"  grounds: {finding.basis}")
    click.echo(f"Care: {words['cautions'][caution]}")
    if finding.verdict is Verdict.STOP:
        click.get_current_context().exit(1)


@click.group(cls=WorkGroup)
def work() -> None:
    """Work out the numbers of the job: levelling, power, water, drain, towing, gas, daylight.

    Give every value with its unit, in quotes or without a space: "96 in", 2.4m, 118V.  Exit status:
    0 fine or with a caution, 1 do not, 2 bad input.
    """


@work.command()
@click.option("--low", required=True, type=click.Choice(["left", "right", "front", "rear"]),
              help="The side that is low.")
@click.option("--angle", type=Measure("deg"), help="How far the floor leans.")
@click.option("--bubble", type=Measure("in"), help="Or: lift of a spirit level's low end ...")
@click.option("--over", type=Measure("in"), help="... and that level's length.")
@click.option("--track", type=Measure("in"), help="Between the wheels, left to right.")
@click.option("--jack-to-axle", type=Measure("in"), help="For front or rear low.")
@click.option("--step", multiple=True, type=Measure("in"), help="A ramp step or block you own.")
@click.option("--pieces", type=click.IntRange(0), default=0, help="Loose flat pieces for a side.")
@click.option("--piece", type=Measure("in"), default="0.5 in", show_default=True,
              help="How thick such a piece is.")
@click.option("--wheels", type=click.IntRange(1), default=1, help="Wheels on one side.")
@click.option("--travel", type=Measure("in"), help="What the jack has left that way.")
@click.option("--limit", type=Measure("deg"), help="Most lean that the rig's manual allows for.")
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
            _refuse("Give --angle, or --bubble and --over.")
        angle = levelling.angle(bubble, over)
    found: Finding
    if low in ("left", "right"):
        if track is None:
            _refuse("Give --track for a side that is low.")
        risers = levelling.Risers(tuple(sorted(step)), piece, pieces)
        found = levelling.level_side(angle, low, track, risers, wheels=wheels, limit_deg=limit)
    else:
        if jack_to_axle is None:
            _refuse("Give --jack-to-axle for an end that is low.")
        found = levelling.level_fore(angle, low, jack_to_axle, travel_in=travel, limit_deg=limit)
    unknown = ["no --limit was given: look it up in the rig's manual"] if limit is None else []
    report(found, "level" if low in ("left", "right") else "jack", *unknown)


@work.command()
@click.option("--side", required=True, type=Measure("deg"), help="Lean side to side.")
@click.option("--fore", required=True, type=Measure("deg"), help="Lean front to rear.")
@click.option("--across", type=Measure("deg"), default="3 deg", show_default=True,
              help="Most lean across it, by its manual.")
@click.option("--along", type=Measure("deg"), default="6 deg", show_default=True,
              help="Most lean along it, by its manual.")
@click.option("--turned", is_flag=True, help="Its back is against the front or rear wall.")
def fridge(side: float, fore: float, across: float, along: float, turned: bool) -> None:
    """Whether an absorption refrigerator may run with this lean."""
    report(
        levelling.fridge(
            side, fore, limit_across_deg=across, limit_along_deg=along, turned=turned
        ),
        "level",
    )


@work.command()
@click.option("--breaker", required=True, type=Measure("a"), help="The number on its handle.")
@click.option("--adapter", type=Measure("a"), help="Printed on it, the smaller number.")
@click.option("--cord", "cord_", type=Measure("a"), help="What the trailer's cord is made for.")
@click.option("--inlet", type=Measure("a"), help="Of the trailer.")
@click.option("--main", "main_", type=Measure("a"), help="The trailer's own main breaker.")
@click.option("--mains", is_flag=True, help="230 V, the blue plug; else 120 V.")
@click.option("--house", is_flag=True, help="With --mains: a house socket.")
def supply(
    breaker: float, adapter: float | None, cord_: float | None, inlet: float | None,
    main_: float | None, mains: bool, house: bool,
) -> None:
    """Which part between post and trailer is the weakest, and what it allows.

    Example: handsfree work supply --breaker 50A --cord 50A --main 30A
    """
    if house and not mains:
        _refuse("Give --house with --mains only.")
    parts = {"adapter": adapter, "cord": cord_, "inlet": inlet, "main": main_}
    for name, amps in parts.items():
        if amps is not None and amps <= 0:
            _refuse(f"The amps of --{name} must be above zero.")
    known = {name: amps for name, amps in parts.items() if amps is not None}
    unknown = [] if "cord" in known else ["no --cord was given: its plug says what it is made for"]
    report(power.judge_supply(breaker, parts=known, mains=mains, house=house), "power", *unknown)


@work.command("power")
@click.option("--supply", required=True,
              type=click.Choice([str(a) for a in sorted({*power.SUPPLIES, *power.MAINS})]),
              help="The supply in amps.")
@click.option("--mains", is_flag=True, help="230 V, the blue plug; else 120 V.")
@click.option("--load", multiple=True, help='NAME=POWER, as in "kettle=1500 W".')
@click.option("--steady", multiple=True, help="The same, for what runs three hours or more.")
def power_(supply: str, mains: bool, load: tuple[str, ...], steady: tuple[str, ...]) -> None:
    """Whether what runs at once fits a 15, 20, 30 or 50 amp supply, or one of 230 V.

    POWER is in watts or amps; "@2" behind it hangs it on the second leg.

    Example: handsfree work power --supply 30 --steady "heater=1500 W" --load "kettle=10 A"
    """
    if not load and not steady:
        _refuse("Give at least one --load or --steady.")
    found = (power.MAINS if mains else power.SUPPLIES).get(int(supply))
    if found is None:
        _refuse(f"No supply of {'230' if mains else '120'} V has {supply} amps."
                f"{'' if mains else ' Is it one of 230 V? Then add --mains.'}")
    loads = [_load(text, steady=False, volts=found.leg_v) for text in load]
    loads += [_load(text, steady=True, volts=found.leg_v) for text in steady]
    report(power.load_sum(loads, found), "power")


@work.command()
@click.option("--gauge", help="Wire gauge of the cord, such as 10 AWG.")
@click.option("--area", type=Measure("mm2"), help="Or its cross-section, on a 230 V supply.")
@click.option("--length", required=True, type=Measure("ft"), help="One way.")
@click.option("--current", required=True, type=Measure("a"), help="What will run through it.")
@click.option("--breaker", type=Measure("a"), help="Of the outlet that it is plugged into.")
@click.option("--source", type=Measure("v"), default=None,
              help="Voltage where it is plugged in; 120 V, or 230 V with --area.")
@click.option("--balanced", is_flag=True, help="Same current on both legs of 120/240 V.")
@click.option("--edition", type=click.Choice(list(voltage.EDITIONS)), default="2011",
              show_default=True, help="Edition of the voltage standard.")  # fmt: skip
def drop(
    gauge: str | None, area: float | None, length: float, current: float, breaker: float | None,
    source: float | None, balanced: bool, edition: str,
) -> None:
    """What an extension costs in volts, and whether it may carry the current."""
    if (gauge is None) is (area is None):
        _refuse("Give --gauge, or --area for a 230 V supply.")
    unknown = [] if breaker else ["no --breaker was given: a cord must carry all that it lets through"]
    found: Finding
    if area is not None:
        if balanced:
            _refuse("--balanced goes with --gauge only.")
        found = cord.mains_drop(area, length, current, breaker_a=breaker,
                                source_v=power.MAINS_V if source is None else source)
    else:
        found = cord.cord_drop(
            quantities.gauge(gauge or ""), length, current, breaker_a=breaker, balanced=balanced,
            edition=edition, source_v=power.LEG_V if source is None else source)
    report(found, "power", *unknown)


@work.command("battery")
@click.argument("volts", type=Measure("v"))
@click.option("--chemistry", required=True, type=click.Choice(list(battery.FLOORS_V)),
              help="What it is made of.")
def battery_(volts: float, chemistry: Any) -> None:
    """What a 12 V battery's voltage at rest means, as in: work battery 12.4V --chemistry lithium."""
    report(battery.judge_battery(volts, chemistry), "battery")


@work.command()
@click.argument("legs", nargs=-1, required=True, type=Measure("v"), metavar="VOLTS [VOLTS]")
@click.option("--between", type=Measure("v"), help="From leg to leg.")
@click.option("--edition", type=click.Choice(list(voltage.EDITIONS)), default="2011",
              show_default=True, help="Edition of the voltage standard.")  # fmt: skip
@click.option("--mains", is_flag=True, help="A 230 V outlet, the blue plug.")
def outlet(legs: tuple[float, ...], between: float | None, edition: str, mains: bool) -> None:
    """What a meter says, on one leg, on both of a 50 amp outlet, or on one of 230 V.

    Example: handsfree work outlet "118 V" "121 V" --between "239 V"
    """
    if mains:
        if len(legs) > 1 or between is not None:
            _refuse("Give one reading of a 230 V outlet.")
        report(voltage.judge_mains(legs[0]), "power")
        return
    report(voltage.judge_voltage(legs, between_v=between, edition=edition), "power")


@work.command()
@click.argument("volts", type=Measure("v"))
@click.option("--outlet", "outlet_", type=Measure("v"), help="What the outlet had with nothing on.")
@click.option("--mains", is_flag=True, help="230 V, the blue plug; else 120 V.")
def loaded(volts: float, outlet_: float | None, mains: bool) -> None:
    """What arrives inside while the big loads run, as in: work loaded 112V --outlet 119V."""
    report(voltage.judge_loaded(volts, outlet_, mains=mains), "power")


@work.command("tester")
@click.argument("lit", nargs=-1, required=True, metavar="LAMP...",
                type=click.Choice([*(lamp.value for lamp in tester.Lamp), "none"]))
def tester_(lit: tuple[str, ...]) -> None:
    """What a three-lamp outlet tester means, from the lamps that are lit.

    Lamps are named by the slots they sit between: hot-neutral, hot-ground, neutral-ground
    (mostly the red one); "none" if all are dark.  The legend on the tester wins.

    Example: handsfree work tester hot-neutral hot-ground
    """
    if "none" in lit and len(set(lit)) > 1:
        _refuse("Name the lamps that are lit, or 'none' alone.")
    report(tester.read_tester(frozenset(tester.Lamp(n) for n in lit if n != "none")), "power")


@work.command("water")
@click.option("--tap", required=True, type=Measure("psi"), help="At the tap, all taps closed.")
@click.option("--regulator", type=Measure("psi"), help="What the regulator is set to.")
@click.option("--limit", type=Measure("psi"), help="From the rig's manual.")
def water_(tap: float, regulator: float | None, limit: float | None) -> None:
    """Whether the pressure suits the trailer."""
    report(water.judge_pressure(tap, setting_psi=regulator, limit_psi=limit), "water")


@work.command()
@click.option("--tank", required=True, type=Measure("gal"), help="Volume of the fresh tank.")
@click.option("--strength", type=Measure("percent"), help="On the bleach's label.")
@click.option("--target", type=Measure("ppm"), default="50 ppm", show_default=True,
              help="Chlorine wanted in the water.")
def dose(tank: float, strength: float | None, target: float) -> None:
    """How much bleach disinfects the fresh tank, by the strength on its label."""
    report(water.dose(tank, strength, target), "bleach")


@work.command()
@click.argument("volume", type=Measure("gal"))
def weight(volume: float) -> None:
    """What so much water weighs, as in: handsfree work weight "40 gal"."""
    report(water.water_weight(volume), "towing")


@work.command("sewer")
@click.option("--outlet", required=True, type=Measure("in"), help="Height at the trailer.")
@click.option("--inlet", type=Measure("in"), default="0 in", help="Height of the ground inlet.")
@click.option("--length", required=True, type=Measure("ft"), help="Length of the hose.")
@click.option("--diameter", type=Measure("in"), default="3 in", show_default=True,
              help="Its inner diameter.")
@click.option("--spacing", type=Measure("ft"), default="2 ft", show_default=True,
              help="From one support to the next.")
def sewer_(outlet: float, inlet: float, length: float, diameter: float, spacing: float) -> None:
    """Slope of the sewer hose and the heights of its supports."""
    found = sewer.hose_slope(outlet, inlet, length, diameter_in=diameter, spacing_ft=spacing)
    lines = [f"support at {quantities.shown(at, 'ft')}: {quantities.shown(height, 'in')} high"
             for at, height in found.supports]  # fmt: skip
    report(found, "sewer", *lines)


@work.command()
@click.option("--tongue", "tongue_", required=True, type=Measure("lb"), help="On ball or pin.")
@click.option("--gross", required=True, type=Measure("lb"), help="Loaded trailer, all of it.")
@click.option("--rating", type=Measure("lb"), help="The hitch's own.")
@click.option("--fifth-wheel", is_flag=True, help="A fifth wheel, not a ball.")
def tongue(tongue_: float, gross: float, rating: float | None, fifth_wheel: bool) -> None:
    """What share of the trailer rests on the hitch."""
    hitch: towing.Hitch = "fifth-wheel" if fifth_wheel else "ball"
    report(towing.judge_tongue(tongue_, gross, hitch=hitch, rating_lb=rating), "towing")


@work.command()
@click.argument("loads", nargs=-1, required=True, type=Measure("lb"), metavar="LOAD...")
@click.option("--gawr", required=True, type=Measure("lb"), help="Rating of one axle.")
@click.option("--tyre", required=True, type=Measure("lb"), help="Rating of one tire.")
@click.option("--tyres", "count", type=click.IntRange(1), default=2, help="Tires on an axle.")
def axles(loads: tuple[float, ...], gawr: float, tyre: float, count: int) -> None:
    """Each axle's load against its rating and its tires'."""
    report(towing.judge_axles(loads, gawr, tyre, count), "towing")


@work.command()
@click.option("--strength", required=True, type=Measure("lb"), help="Breaking force of one chain.")
@click.option("--gross", required=True, type=Measure("lb"), help="Loaded trailer, all of it.")
@click.option("--rule", type=click.Choice(["each", "combined"]), default="each", show_default=True,
              help="Whether each chain, or both, must hold it.")
def chains(strength: float, gross: float, rule: Any) -> None:
    """Whether two safety chains are strong enough, by the rule of your place."""
    report(towing.judge_chains(strength, gross, rule), "towing")


@work.command()
@click.option("--battery", required=True, type=Measure("ah"), help="Capacity of its battery.")
@click.option("--brakes", required=True, type=click.IntRange(1), help="Braked wheels.")
@click.option("--each", type=Measure("a"), default="3 A", show_default=True,
              help="Current of one brake.")
def breakaway(battery: float, brakes: int, each: float) -> None:
    """How long the breakaway battery holds the brakes."""
    report(towing.breakaway_hold(battery, brakes, each), "towing")


@work.command("tyres")
@click.argument("readings", nargs=-1, required=True, type=Measure("psi"), metavar="READING...")
@click.option("--placard", required=True, type=Measure("psi"), help="Cold, from the placard.")
@click.option("--most", type=Measure("psi"), help="The most they may have cold, by the sidewall.")
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
        lines.append(f"expected now      {quantities.shown(expected, 'psi', 2)}")
    report(tyres.judge_tyres(readings, placard, cold=state == "cold", most_psi=most), "tyres", *lines)


@work.command("ticket")
@click.option("--alone", nargs=2, required=True, type=Measure("lb"), metavar="FRONT REAR",
              help="The truck's axles, without the trailer.")
@click.option("--hitched", nargs=3, required=True, type=Measure("lb"),
              metavar="FRONT REAR TRAILER", help="Without bars.")
@click.option("--bars", nargs=3, type=Measure("lb"),
              metavar="FRONT REAR TRAILER", help="With the bars on.")
@click.option("--front-rating", type=Measure("lb"), help="The truck's front axle.")
@click.option("--rear-rating", type=Measure("lb"), help="The truck's rear axle.")
@click.option("--truck-rating", type=Measure("lb"), help="The loaded truck.")
@click.option("--axles-rating", type=Measure("lb"), help="All trailer axles together.")
@click.option("--trailer-rating", type=Measure("lb"), help="The loaded trailer.")
@click.option("--combined-rating", type=Measure("lb"), help="Truck and trailer together.")
@click.option("--hitch-rating", type=Measure("lb"), help="What the hitch may carry.")
@click.option("--fifth-wheel", is_flag=True, help="A fifth wheel, not a ball.")
def ticket_(
    alone: tuple[float, float], hitched: tuple[float, float, float],
    bars: tuple[float, float, float] | None, front_rating: float | None,
    rear_rating: float | None, truck_rating: float | None, axles_rating: float | None,
    trailer_rating: float | None, combined_rating: float | None, hitch_rating: float | None,
    fifth_wheel: bool,
) -> None:  # fmt: skip
    """What three weighings say: truck alone, hitched, hitched with the bars on."""
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
@click.option("--scale", required=True, type=Measure("lb"), help="What it weighs now.")
@click.option("--tare", required=True, type=Measure("lb"), help="TW on the collar.")
@click.option("--capacity", required=True, type=Measure("lb"), help="WC on the collar.")
def cylinder(scale: float, tare: float, capacity: float) -> None:
    """How much gas a cylinder holds, and whether it is overfilled."""
    report(gas.weigh_cylinder(scale, tare, capacity), "gas")


@work.command()
@click.argument("level", type=Measure("ppm"))
def alarm(level: float) -> None:
    """How long a carbon-monoxide alarm may stay silent, as in: handsfree work alarm "70 ppm"."""
    report(gas.alarm_window(level), "co")


@work.command()
@click.option("--latitude", required=True, type=Coordinate(), help="Of the place.")
@click.option("--longitude", required=True, type=Coordinate(), help="Of the place.")
@click.option("--at", help='Moment, as in "2024-06-21 19:00"; a date alone means noon. [now]')
@click.option("--zone", help="Time zone, such as UTC. [this computer's]")
@click.option("--needs", type=Measure("min"), help="How long the work takes.")
def dusk(
    latitude: float, longitude: float, at: str | None, zone: str | None, needs: float | None
) -> None:
    """When it gets dark at a place, and whether the work fits before it."""
    moment = _moment(at, zone)
    found = daylight.until_dark(latitude, longitude, moment, need_min=needs)
    report(found, "dusk", f"asked for {moment:%Y-%m-%d %H:%M %Z}")


def _moment(at: str | None, zone: str | None) -> datetime:
    from zoneinfo import ZoneInfo

    try:
        place = ZoneInfo(zone) if zone else None
    except (KeyError, ValueError, OSError):
        _refuse(f"There is no time zone '{zone}'; use a name such as UTC.")
    if at is None:
        return datetime.now(UTC).astimezone(place)
    try:
        moment = datetime.fromisoformat(at.strip())
    except ValueError:
        _refuse(f"A moment is written like 2024-06-21 19:00, not '{at}'.")
    if not daylight.YEARS[0] <= moment.year <= daylight.YEARS[1]:
        _refuse(f"Dusk is worked out for the years {daylight.YEARS[0]} to {daylight.YEARS[1]} only.")
    if len(at.strip()) <= 10:
        moment = moment.replace(hour=12)
    if moment.tzinfo is None:
        return moment.replace(tzinfo=place) if place else moment.astimezone()
    return moment.astimezone(place) if place else moment


def _load(text: str, *, steady: bool, volts: float) -> power.Load:
    name, equals, rest = text.partition("=")
    amount, at, leg = rest.partition("@")
    if not equals or not name.strip() or (at and leg.strip() not in ("1", "2")):
        _refuse(f"A load is NAME=POWER[@LEG], as in \"kettle=1500 W@2\", not '{text}'.")
    what = f"the load '{name.strip()}'"
    try:
        watts = quantities.measure(amount, "w", what)
    except InputError as error:
        try:
            watts = quantities.measure(amount, "a", what) * volts
        except InputError:
            raise error from None
    return power.Load(name.strip(), watts, int(leg or 1), steady)


def _refuse(message: str) -> NoReturn:
    raise InputError(message)
