"""What is worked out at a step, from its reading, earlier ones, the rig's numbers and the record.

No clock and no sound.  May import the checklist room, engine state and choosing, language, the
work room and wording.  What it remembers comes from the journal's own lines, so that a replay
brings it back; what it tells is written down with the event that led to it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction

from handsfree.checklist.model import Checklist, Step
from handsfree.checklist.sums import SUMS, Told
from handsfree.engine.choosing import open_steps
from handsfree.engine.reports import STOP
from handsfree.engine.state import Read, State
from handsfree.language.model import Language
from handsfree.language.readings import Reading, say_reading
from handsfree.language.verbalising import say_number
from handsfree.session.wording import Prompt, Wording
from handsfree.storage import lines
from handsfree.storage.lines import Line
from handsfree.units import STEPS, UNITS, convert, in_system, same_quantity
from handsfree.work.finding import Finding, Verdict
from handsfree.work.steps import Findings, Given, work_out

_SPOKEN_IN: Mapping[str, tuple[str, Fraction]] = {
    "in": ("inches", Fraction(1, 4)), "deg": ("degrees", Fraction(1, 10)),
    "v": ("volts", Fraction(1)), "a": ("amps", Fraction(1)),
    "w": ("watts", Fraction(10)), "ft": ("feet", Fraction(1, 2)),
    "lb": ("pounds", Fraction(1)), "psi": ("psi", Fraction(1)),
    "percent": ("percent", Fraction(1, 10)), "hours": ("hours", Fraction(1, 2)),
    "ml": ("millilitres", Fraction(1)), "floz": ("fluid_ounces", Fraction(1, 2)),
    "ftlb": ("foot_pounds", Fraction(1)), "wh": ("watt_hours", Fraction(10)),
    "days": ("days", Fraction(1, 2)), "gal": ("gallons", Fraction(1)), "mi": ("miles", Fraction(5)),
    "mph": ("miles_per_hour", Fraction(1)),
}
"""Ending of a finding's value: the unit in which it is spoken, and to what it is rounded."""


_TOO_LARGE = 1_000_000
"""From here on numbers have no words."""


@dataclass(frozen=True)
class Result:
    """What a sum came to at a step; `before` its challenge, or after what was said there."""

    step: str
    sum: str
    finding: Finding
    before: bool = False

    @property
    def warns(self) -> bool:
        """Whether it finds something wrong."""
        return self.finding.verdict is not Verdict.OK

    def line(self) -> lines.WorkedOut:
        """For the record: what was told, and from which numbers it was put into words."""
        return lines.WorkedOut(
            self.step, self.sum, self.finding.say, self.finding.verdict.value,
            {name: round(value, 3) if isinstance(value, float) else value
             for name, value in self.finding.values().items()})


def _sayable(finding: Finding) -> bool:
    """Not of numbers that no trailer has, from a slip of the pen in a rig file."""
    return all(isinstance(value, str) or abs(value) < _TOO_LARGE
               for value in finding.values().values())


SAID_BY_THE_LIMIT = frozenset({
    "volts.good", "volts.near", "volts.low", "volts.high", "volts.too-low", "volts.too-high",
    "tyres.good", "level.side.good", "level.fore.good", "level.pile.good", "power.fits", "cord.good",
    "loaded.good", "water.good", "sewer.good", "sewer.shallow", "tongue.good", "battery.lasts"})
"""Findings that judge the same number as the step's own limits, or find nothing wrong: of a reading
that failed these they would say the same once more, or the contrary."""


def _told(finding: Finding, told: Told, band: str) -> bool:
    """Whether a finding is said aloud, of a reading in this band of its limits."""
    if band in ("low", "high"):
        return finding.say not in SAID_BY_THE_LIMIT
    return (band != "within" or told is Told.ALWAYS
            or told is Told.WARNED and finding.verdict is not Verdict.OK)


def _kept(step: Step, value: float | Fraction, unit: str = "") -> float:
    """A reading in the unit in which sums take it; `unit` is what it was read in, as recorded."""
    reading = step.reading
    if reading is None:
        return float(value)
    kept, asked = reading.kept or reading.unit, unit or reading.unit
    if kept == asked or asked not in UNITS or kept not in UNITS or not same_quantity(kept, asked):
        return float(value)
    return round(float(convert(Fraction(value), asked, kept)), 9)


class Calculations:
    """Keeps the readings of a session and does the sums of its steps."""

    def __init__(self, checklist: Checklist, language: Language,
                 now: Callable[[], datetime | None] = lambda: None) -> None:
        """`now` gives the moment with its time zone, or None where the time is not known."""
        self._checklist = checklist
        self._language = language
        self._now = now
        self._readings: dict[str, float] = {}

    def keep(self, told: Iterable[Line]) -> None:
        """Take in what happened: confirmed readings count until they are taken back."""
        for line in told:
            step = self._checklist.steps.get(getattr(line, "step", ""))
            if step is None or step.reading is None:
                continue
            if isinstance(line, lines.Reading):
                self._readings[step.reading.called] = _kept(step, line.value, line.unit)
            elif isinstance(line, lines.Reported) and line.of == "take back":
                self._readings.pop(step.reading.called, None)

    def judged(self, event: Read, value: Fraction, state: State) -> Read:
        """The reading as the engine takes it: 'stop' where what it comes to says do not."""
        step = self._checklist.steps.get(state.at)
        if step is None or not step.sum:
            return event
        if event.band == "within" and SUMS[step.sum].told is Told.OUTSIDE:
            return event
        if event.band != "within" and not step.stop:
            return event
        stop = any(found.verdict is Verdict.STOP
                   for found in self._findings(step, state, _kept(step, value)))
        return replace(event, band=STOP) if stop else event

    def results(self, told: Iterable[Line], state: State) -> list[Result]:
        """What is to be told after these lines of the record."""
        found: list[Result] = []
        for line in told:
            step = self._checklist.steps.get(getattr(line, "step", ""))
            if step is None or not step.sum:
                continue
            value, band = 0.0, "within"
            if step.reading:
                due = isinstance(line, lines.Reading)
                if isinstance(line, lines.Reading):
                    value, band = _kept(step, line.value, line.unit), line.band
            elif step.question:
                due = isinstance(line, lines.Reported) and line.of in ("yes", "no")
            else:
                due = isinstance(line, lines.Offered) and line.again != "repeated"
            if due:
                found += [
                    Result(step.id, step.sum, finding, isinstance(line, lines.Offered))
                    for finding in self._findings(step, state, value)
                    if _told(finding, SUMS[step.sum].told, band)]
        return found

    def _findings(self, step: Step, state: State, value: float) -> Findings:
        c, needs = self._checklist, SUMS[step.sum]
        found = work_out(step.sum, Given(
            value,
            {name: c.numbers.get(f"{step.item} {name}", c.numbers[name]) for name in needs.numbers
             if name in c.numbers},
            {name: self._readings[name] for name in needs.earlier if name in self._readings},
            c.of_bank(step.item, state.facts) & frozenset(needs.facts), self._now(),
            sum(c.steps[name].minutes[1] for name in open_steps(c, state)), c.region))
        return tuple(finding for finding in found if _sayable(finding))

    # --- in words --------------------------------------------------------------------------

    def prompt(self, result: Result, wording: Wording) -> Prompt:
        """The sentence that tells it."""
        values = result.finding.values()
        said = wording.say(f"sums.{result.finding.say}", result.step, **{
            name: self._words(name, value, wording) for name, value in values.items()})
        whose = result.finding.region
        if not whose or not said.text:
            return said
        rests = wording.say("sums.region.known" if self._checklist.region == whose
                            else "sums.region.unknown" if not self._checklist.region
                            else "sums.region.other", region=self._words("region", whose, wording))
        return replace(said, text=f"{said.text} {rests.text}")

    def placed(
        self, prompts: list[Prompt], results: list[Result], wording: Wording
    ) -> list[Prompt]:
        """`prompts` with what was worked out: after the first, or before its step's challenge."""
        after = [self.prompt(result, wording) for result in results if not result.before]
        spoken = [*prompts[:1], *after, *prompts[1:]]
        for result in results:
            if result.before:
                place = next((i for i, prompt in enumerate(spoken) if prompt.key == "offer"
                              and prompt.about == result.step), len(spoken))
                spoken.insert(place, self.prompt(result, wording))
        return [prompt for prompt in spoken if prompt.text or prompt.tone]

    def _words(self, name: str, value: str | float, wording: Wording) -> str:
        if isinstance(value, str):
            return self._language.templates.get(f"sums.words.{value}", value)
        ending = name.rpartition("_")[2]
        if ending == "min":
            hours, minutes = divmod(round(abs(value)), 60)
            return wording.listed(self._reading(Fraction(part), unit) for part, unit in
                                  ((hours, "hours"), (minutes, "minutes"))
                                  if part or unit == "minutes" and not hours)
        if ending in _SPOKEN_IN:
            unit, step = _SPOKEN_IN[ending]
            told = in_system(unit, self._checklist.units)
            step = step if told == unit else STEPS.get(told, step)
            return self._reading(round(convert(Fraction(value), unit, told) / step) * step, told)
        return say_number(Fraction(round(value, 2)), self._language)

    def _reading(self, value: Fraction, unit: str) -> str:
        return say_reading(Reading(value, unit), self._language)
