"""What every command of ``handsfree work`` has in common: values with units, rig, report.

Imports click, yaml, the rig file and the `work` room.  Values come in with any unit of their
quantity.  They are told in the system of the rig, of ``--units``, or else of what was typed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from inspect import signature
from typing import TYPE_CHECKING, Any, NoReturn

import click
import yaml

from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.errors import InputError
from handsfree.spelling import as_spelled
from handsfree.storage.paths import find_rig
from handsfree.units import METRIC, TO_METRIC, US, WRITTEN
from handsfree.work import quantities
from handsfree.work.finding import TWINS, Finding, Verdict, sentence, twin
from handsfree.work.region import REGIONS

if TYPE_CHECKING:
    FloatType = click.ParamType[float]
else:
    # Older releases of click have no subscript here.
    FloatType = click.ParamType

_SHOWN = {
    "in": "in", "ft": "ft", "lb": "lb", "psi": "psi", "gal": "gal", "ml": "mL", "cm": "cm",
    "m": "m", "kg": "kg", "bar": "bar", "l": "L", "floz": "fl oz", "deg": "deg", "v": "V",
    "a": "A", "w": "W", "percent": "%", "cups": "cups", "ppm": "ppm", "min": "min", "hours": "h",
    "mph": "mph", "kmh": "km/h", "mi": "mi", "km": "km", "f": "F", "c": "C", "wh": "Wh",
    "days": "days", "btuh": "BTU/h", "kw": "kW", "ah": "Ah",
}  # fmt: skip

_QUOTES = 'in quotes or without a space: "40 gal" or 40gal'

_MOST = {"in": 5000, "ft": 5000, "deg": 360, "v": 1000, "a": 2000, "w": 100000, "ah": 5000,
         "psi": 1000, "gal": 2000, "lb": 200000, "percent": 100, "ppm": 1e6, "min": 10000,
         "f": 1000, "mm2": 100, "btuh": 1e6, "mph": 300, "mi": 10000, "mpg": 200, "wh": 1e6,
         "hours": 10000, "days": 1000}
"""Beyond this a value is a slip of the pen, whatever it is for; no source."""

_EXAMPLES = {
    "--bubble": "0.5in", "--over": "48in", "--step": "3in", "--piece": "0.5in", "--travel": "8in",
    "--jack-to-axle": "160in", "--outlet": "18in", "--inlet": "4in", "--diameter": "3in",
    "--length": "25ft", "--spacing": "2ft", "--height": "11ft", "--width": "8ft", "--altitude": "6000ft",
    "--tongue": "700lb", "--rating": "1000lb", "--gawr": "3500lb", "--tire": "2000lb",
    "--scale": "35lb", "--tare": "17lb", "--capacity": "47.7lb", "--gas": "15lb", "--cylinder": "20lb",
    "--weight": "12000lb", "--hitch-rating": "1000lb", "--front-rating": "4000lb",
    "--combined-rating": "14000lb", "--limit": "2deg", "--tilt": "30deg", "--facing": "180deg",
    "--across": "3deg", "--along": "6deg", "--regulator": "50psi", "--each": "3A", "--tank": "40gal",
    "--rated": "1800W", "--load": "600W", "--panels": "400W", "--full": "4h", "--quarter": "8h",
    "--wind": "20mph", "--speed": "60mph", "--charge": "80percent", "--target": "50ppm",
    "--outside": "30F", "--holds": "0F", "--use": "4gal",
}
"""What an option's value may look like, in the unit of its own; an option of another kind by the same
name has its kind's own example, see `Measure.get_metavar`."""

_DIGITS = {"btuh": 0, "wh": 0}
"""Decimals of what is never known to a hundredth; 2 for all else."""

_SYSTEMS = "handsfree.systems"
_RIG = "handsfree.rig"
_BANK = "handsfree.bank"
_UNITS = "handsfree.units"
_REGION = "handsfree.region"


class WorkGroup(click.Group):
    """The commands, under any name that they had, each with what all of them take."""

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        return super().get_command(ctx, "tires" if cmd_name == "tyres" else cmd_name)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except click.NoSuchOption as error:
            if not error.option_name[1:2].isdigit():
                raise
            raise click.UsageError("a number below zero cannot be here", error.ctx) from None
        except click.UsageError as error:
            if "unexpected extra argument" not in error.message:
                raise
            raise click.UsageError(f"{error.message} (write a value with its unit {_QUOTES})",
                                   error.ctx) from None

    def add_command(self, cmd: click.Command, name: str | None = None) -> None:
        """Each command takes a rig and a system; its help says how a value is typed."""
        cmd.epilog = f"Write each value with its unit, {_QUOTES}."
        cmd.params += [
            click.Option(["--rig"], metavar="NAME", is_eager=True, expose_value=False, callback=_rig,
                         help="Rig file: its numbers fill in what you leave out."),
            click.Option(["--units"], type=click.Choice([US, METRIC]), expose_value=False,
                         callback=_units, help="Units of the answer. [as typed, or the rig's]"),
            click.Option(["--region"], type=click.Choice(REGIONS), expose_value=False,
                         callback=_region, help="Whose codes apply. [the rig's, else the stricter]"),
        ]
        super().add_command(cmd, name)


def _rig(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    if value is None or ctx.resilient_parsing:
        return
    ctx.meta[_RIG] = load_rig(find_rig(value))
    _fill(ctx)


def choose_bank(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    """The option that names one of the rig's banks of batteries, before or after `--rig`."""
    if value is not None and not ctx.resilient_parsing:
        ctx.meta[_BANK] = value
        _fill(ctx)


def _fill(ctx: click.Context) -> None:
    """What the rig file says stands for what was left out."""
    bank, rig = ctx.meta.get(_BANK, ""), ctx.meta.get(_RIG)
    if rig is None:
        return
    if bank and bank not in rig.banks:
        raise InputError(f"{rig.name} has no bank called '{bank}'; its file lists"
                         f" {', '.join(rig.banks) or 'none, under batteries:'}.")
    has = rig.feeding(bank)
    limits = {**rig.limits, **({"battery amp hours": rig.banks[bank][1]} if bank else {})}
    known: dict[str, Any] = {}
    for one in ctx.command.params:
        if isinstance(one.type, Measure | Coordinate) and one.type.limits and one.name:
            numbers = [limits[name] for name in one.type.limits if limits.get(name)]
            if numbers:
                known[one.name] = numbers if one.multiple else numbers[0]
        else:
            known |= {name: value for name, trait, value in _TRAITS if name == one.name and trait in has}
    ctx.default_map = known


_TRAITS: tuple[tuple[str, str, Any], ...] = (
    ("mains", "blue plug", True), ("hitch", "fifth wheel", "fifth-wheel"),
    ("chemistry", "flooded battery", "lead-acid"), ("chemistry", "sealed battery", "sealed"),
    ("chemistry", "lithium battery", "lithium"))
"""An option that a trait of the rig answers, and how."""


def _units(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    ctx.meta[_UNITS] = value


def _region(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    named = ctx.meta.get(_RIG)
    ctx.meta[_REGION] = value or (named.region if isinstance(named, Rig) else "")


def region() -> str:
    """Whose codes count; "" where nobody said."""
    return str(click.get_current_context().meta.get(_REGION, ""))


def rig() -> Rig | None:
    """The rig that was named."""
    found: Rig | None = click.get_current_context().meta.get(_RIG)
    return found


def system() -> str:
    """In which system the answer is."""
    meta = click.get_current_context().meta
    if told := meta.get(_UNITS):
        return str(told)
    if isinstance(named := meta.get(_RIG), Rig):
        return named.units
    return METRIC if meta.get(_SYSTEMS) == {METRIC} else US


def _typed_in(text: str) -> str:
    """The system that the first unit of a typed value belongs to; "" for neither."""
    unit = re.search(r"[^\d\s.,/+-].*", text)
    known = WRITTEN.get(" ".join(unit[0].lower().split()), "") if unit else ""
    if known in TO_METRIC or known == "miles":
        return US
    own = {*TO_METRIC.values(), "millimetres", "kilometres", "kpa"}
    return METRIC if known in own or re.search(r"mm[2²]|l/100", text) else ""


class Measure(FloatType):
    """A number with a unit, given to the command as a float in the unit of ``kind``.

    ``limits`` are the rig file's numbers that stand for it; beyond ``most`` (in the unit of ``kind``)
    it is a slip of the pen, where that is not what `_MOST` says.
    """

    def __init__(self, kind: str, *limits: str, most: float | None = None) -> None:
        self.kind, self.limits = kind, limits
        self.most = _MOST[kind] if most is None else most
        self.name = quantities.KINDS[kind][1].rpartition("such as ")[2]

    def get_metavar(self, param: click.Parameter, ctx: click.Context | None = None) -> str:
        """An example as it may be typed, which is what most people copy."""
        usual = self.name.replace(" ", "")
        own = _EXAMPLES.get(param.opts[0], usual)
        of_kind = own.lstrip("0123456789.") == usual.lstrip("0123456789.")
        return own if of_kind else usual  # the same name can be of another kind in another command

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        if isinstance(value, float):
            return value
        name = (param.metavar or param.opts[0]).split()[0] if param else "the value"
        what = name.strip("-.").replace("-", " ").lower()
        try:
            found = quantities.measure(str(value), self.kind, what)
        except InputError as error:
            if str(value).replace(".", "", 1).strip("-").isdigit():
                raise InputError(f"{error} Write number and unit {_QUOTES}.") from None
            raise
        if abs(found) > self.most:
            raise InputError(f"{what[:1].upper()}{what[1:]} of {value} cannot be; check the number"
                             " and its unit.")
        if ctx is not None and param is not None and value != param.default:
            ctx.meta.setdefault(_SYSTEMS, set()).update({_typed_in(str(value))} - {""})
        return found


class Coordinate(FloatType):
    """Degrees with a sign, or with N, S, E or W behind them; ``limits`` as for `Measure`."""

    name = "degrees"

    def get_metavar(self, param: click.Parameter, ctx: click.Context | None = None) -> str:
        return "75.1W" if param.opts[0] == "--longitude" else "40.2N"

    def __init__(self, *limits: str) -> None:
        self.limits = limits

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        text = str(value).strip().upper()
        sign = -1.0 if text[-1:] in ("S", "W") else 1.0
        try:
            return sign * float(text.rstrip("NSEW° ").strip())
        except ValueError:
            raise InputError(f"A coordinate is a number such as 51.48 N, not '{value}'.") from None


def option(flag: str, kind: str, to: str, about: str, *limits: str, default: str | None = None,
           needed: bool = False, most: float | None = None) -> click.Option:
    """An option that takes a value with a unit, for the argument ``to`` of a calculation.

    ``flag``: its spellings, the usual first.
    """
    return click.Option([*flag.split(), to], type=Measure(kind, *limits, most=most), help=about, required=needed,
                        default=default, show_default=default is not None)


def argument(kind: str, to: str, shown: str, *, many: bool = False) -> click.Argument:
    """The same without a flag."""
    return click.Argument([to], type=Measure(kind), metavar=shown, required=True,
                          nargs=-1 if many else 1)


def plain(group: click.Group, name: str, care: str, judge: Callable[..., Finding], about: str,
          *params: click.Parameter) -> None:
    """Adds a command that hands its values to a calculation and reports what comes of it."""

    own = {to for to, one in signature(judge).parameters.items() if one.default is not one.empty}

    def run(**given: Any) -> None:
        if "region" in own:
            given["region"] = region()
        report(judge(**{to: value for to, value in given.items()
                        if value is not None or to not in own}), care)

    group.add_command(click.Command(name, params=list(params), callback=run, help=about))


@cache
def wording(language: str = "en") -> Mapping[str, Any]:
    """The ``work`` section of a language's file."""
    text = (files("handsfree") / "languages" / f"{language}.work.yaml").read_text("utf-8")
    section: Mapping[str, Any] = yaml.safe_load(text)["work"]
    return section


def amount(value: float, ending: str, digits: int = 2) -> str:
    """A value whose name has this ending in the answer's system, its twin behind it."""
    if ending not in TWINS:
        return quantities.shown(value, _SHOWN[ending], digits)
    other = twin(ending, value)
    pair = [quantities.shown(value, _SHOWN[ending], digits),
            quantities.shown(other, _SHOWN[TWINS[ending][0]], 1 + (ending in ("psi", "btuh")))]
    if system() == METRIC and ending != "ml":
        pair.reverse()
    return f"{pair[0]} ({pair[1]})"


def report(finding: Finding, caution: str, *more: str) -> None:
    """Prints a finding: verdict and sentence, values with their twins, grounds, caution."""
    words = wording()
    click.echo(f"{finding.verdict.value.upper()}: {sentence(finding, words, system())}")
    values = finding.values()
    twins = {f"{name.rpartition('_')[0]}_{TWINS[unit][0]}" for name in values
             if (unit := name.rpartition("_")[2]) in TWINS}
    for name, value in values.items():
        if name in twins:
            continue
        stem, _, unit = name.rpartition("_")
        if isinstance(value, str) or unit not in _SHOWN:
            label, shown = name, as_spelled(str(value))
        else:
            label, shown = stem or "lasts", amount(value, unit, _DIGITS.get(unit, 2))
        click.echo(f"  {as_spelled(label.replace('_', ' ')):<18}{shown}")
    for line in more:
        click.echo(f"  {line}")
    click.echo(f"  grounds: {finding.basis}")
    if finding.region:
        told = "known" if finding.region == region() else "other" if region() else "unknown"
        click.echo("  " + words["region"][told].format(region=words["words"][finding.region]))
    click.echo(f"Care: {words['cautions'][caution]}")
    if finding.verdict is Verdict.STOP:
        click.get_current_context().exit(1)


def refuse(message: str) -> NoReturn:
    """A mistake that click does not see."""
    raise InputError(message)
