"""An operator's script for a rehearsal: what they say besides the usual answers.

May import the YAML reader, the checklist model, the language room and errors.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from handsfree.checklist.model import Checklist
from handsfree.checklist.schema import Key
from handsfree.checklist.yaml_reader import Entry, did_you_mean, read
from handsfree.language.intents import Unknown
from handsfree.language.matcher import Expected, Matcher
from handsfree.language.model import COMMANDS, PREFIXES
from handsfree.session.expecting import on_this_rig

KEYS = {
    "title": Key("text", "What happens in it.", required=True),
    "checklist": Key("text", "Name of the checklist."),
    "stay": Key("texts", "Instead: checklists that are played in a row, on one record."),
    "after": Key("texts", "Checklists that were walked before it; they are not heard."),
    "rig": Key("text", "Name of the rig."),
    "newcomer": Key("flag", "Nothing is known of the trailer: how it stands is asked first."),
    "place": Key("text", "Where it plays."),
    "asked where": Key("flag", "Where it plays is asked first, and answered with 'place'."),
    "as last time": Key("flag", "Whether all is as last time, where that is asked; yes if not said."),
    "by heart": Key("flag", "The operator knows all of it that may be done by heart."),
    "shortest": Key("flag", "In the permitted order that walks least."),
    "variant": Key("text", "The operator's voice: m1 to m8, f1 to f5."),
    "pace": Key("number", "Words a minute."),
    "work": Key("number", "Seconds that a step takes the operator."),
    "clock": Key("text", "When it begins, as 2026-10-04T16:20-06:00."),
    "noise": Key("text", "wind, engine, rain, or a sound file."),
    "snr": Key("number", "Signal-to-noise ratio in decibels."),
    "answers": Key("map", "Site question: yes or no."),
    "readings": Key("map", "Step: what is read out, one after the other."),
    "at": Key("map", "Step: what is said there before the usual answer."),
    "again": Key("map", "The same, where a checklist of the stay is played once more."),
    "away": Key("map:number", "Step: hours away there, after 'hold on' and before 'carry on'."),
    "then": Key("texts", "What is said when the program asks whether to close."),
}


@dataclass(frozen=True)
class Script:
    """What the operator does differently from answering everything right at once."""

    title: str = "Everything as usual"
    checklist: str = "arrive"
    stay: tuple[str, ...] = ()
    """Checklists played in a row, on one record; empty for `checklist` alone."""
    after: tuple[str, ...] = ()
    """Checklists that were walked before, each to its end, as the script answers them."""
    rig: str = ""
    newcomer: bool = False
    """Nothing is on record: first it is asked how the trailer stands.  Else as on the road."""
    place: str = ""
    asked_where: bool = False
    """The place is said, not known beforehand."""
    as_last_time: bool = True
    """What is answered where it is asked whether all is as it was at this place."""
    by_heart: bool = False
    """The operator knows all of it that may be done by heart, and speaks and hears of it so."""
    shortest: bool = False
    variant: str = "m3"
    pace: int = 150
    work: float = 2.0
    clock: datetime | None = None
    """With its time zone; None where it does not matter."""
    noise: str = ""
    snr: float = 20.0
    answers: Mapping[str, bool] = field(default_factory=dict)
    readings: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    at: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    again: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """What `at` is when a checklist of the stay is played once more."""
    away: Mapping[str, float] = field(default_factory=dict)
    """Step -> hours that pass there while the program holds."""
    then: tuple[str, ...] = ()
    entries: Mapping[str, Entry] = field(default_factory=dict, repr=False)

    def moment(self, seconds: float) -> datetime | None:
        """When it is so long after the beginning; None if the script does not say when it plays."""
        return self.clock + timedelta(seconds=seconds) if self.clock else None


def load_script(path: Path) -> Script:
    """Read a script; `check_script` then holds it against a checklist.

    Raises:
        AuthorError: with file, line and mend.
    """
    entry = read(path)
    got = entry.fields(KEYS)
    usual = Script()

    def text(key: str) -> str:
        return got[key].text() if key in got else str(getattr(usual, key))

    def number(key: str) -> float:
        return got[key].number() if key in got else float(getattr(usual, key))

    return Script(
        title=text("title"), checklist=text("checklist"), rig=text("rig"),
        newcomer=got["newcomer"].flag() if "newcomer" in got else False,
        by_heart=got["by heart"].flag() if "by heart" in got else False,
        shortest=got["shortest"].flag() if "shortest" in got else False,
        stay=got["stay"].texts() if "stay" in got else (), place=text("place"),
        after=got["after"].texts() if "after" in got else (),
        asked_where="asked where" in got and got["asked where"].flag(),
        as_last_time="as last time" not in got or got["as last time"].flag(),
        variant=text("variant"), noise=text("noise"), pace=int(number("pace")),
        work=number("work"), snr=number("snr"),
        clock=_clock(got["clock"]) if "clock" in got else None,
        answers={name: value.flag() for name, _, value in _pairs(got, "answers")},
        readings={name: value.texts() for name, _, value in _pairs(got, "readings")},
        at={name: value.texts() for name, _, value in _pairs(got, "at")},
        again={name: value.texts() for name, _, value in _pairs(got, "again")},
        away={name: _hours(value) for name, _, value in _pairs(got, "away")},
        then=got["then"].texts() if "then" in got else (), entries=got)


def _hours(entry: Entry) -> float:
    hours = entry.number()
    if not 0 < hours <= 72:
        raise entry.wrong(f"{hours:g} hours cannot be waited for", "write more than 0, at most 72")
    return hours


def _clock(entry: Entry) -> datetime:
    try:
        clock = datetime.fromisoformat(entry.text())
    except ValueError:
        clock = datetime.min
    if clock.tzinfo is None:
        raise entry.wrong(f"'{entry.text()}' is no moment with its time zone",
                          "write it as 2026-10-04T16:20-06:00")
    return clock


def _pairs(got: dict[str, Entry], key: str) -> list[tuple[str, Entry, Entry]]:
    return list(got[key].pairs()) if key in got else []


def check_script(
    script: Script, checklist: Checklist, matcher: Matcher, traits: frozenset[str] = frozenset(),
    elsewhere: frozenset[str] = frozenset(),
) -> None:
    """Every step must exist, and every word be something that a phrase covers on a rig with
    these traits.  `elsewhere` are the steps of a stay's other checklists.

    Raises:
        AuthorError: with file, line and mend.
    """
    everything = Expected(
        commands=frozenset(COMMANDS) | frozenset(PREFIXES),
        responses={words: name for name, step in checklist.steps.items()
                   for words in step.responses}
        | {words: rule.id for rule in checklist.rules for words in rule.responses},
        steps={name: step.spoken_names for name, step in checklist.steps.items()
               if on_this_rig(checklist, step, traits)})
    for key in ("answers", "readings", "at", "again", "away"):
        for name, place, value in _pairs(dict(script.entries), key):
            step = checklist.steps.get(name)
            if step is None and name in elsewhere:
                continue  # an interview's words are listened to when they are said
            if step is None:
                raise place.wrong(
                    f"'{checklist.id}' has no step '{name}'"
                    f"{did_you_mean(name, list(checklist.steps))}", "correct the name")
            if key == "answers":
                if not step.question:
                    raise place.wrong(f"'{name}' is not a site question", "write it under 'at:'")
                continue
            if key == "away":
                continue
            if key == "readings" and not step.reading:
                raise place.wrong(f"'{name}' takes no reading", "write it under 'at:'")
            unit = step.reading.unit if step.reading else None
            for line in value.one_or_more():
                _covered(line, Expected(everything.commands, everything.responses,
                                        everything.steps, unit=unit), matcher)
    if "then" in script.entries:
        for line in script.entries["then"].one_or_more():
            _covered(line, everything, matcher)


def _covered(entry: Entry, everything: Expected, matcher: Matcher) -> None:
    meant = matcher.interpret(entry.text(), everything)
    if isinstance(meant, Unknown):
        hint = f"; the nearest is '{meant.suggestion}'" if meant.suggestion else ""
        raise entry.wrong(f"no phrase covers '{entry.text()}'{hint}",
                          "use a command, a response, a step's name or a reading")
