"""Everything that an utterance can mean: a closed set.

Pure (stdlib and this room's readings only).
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.language.readings import Reading, WrongUnit


@dataclass(frozen=True, slots=True)
class Command:
    """A command that is a whole phrase; ``id`` is one of ``model.COMMANDS``."""

    id: str


@dataclass(frozen=True, slots=True)
class GoTo:
    """Take this step next."""

    step_id: str


@dataclass(frozen=True, slots=True)
class TakeBackStep:
    """Take back the report of this step."""

    step_id: str


@dataclass(frozen=True, slots=True)
class Respond:
    """The response that the step asks for; ``response`` is the id from ``Expected.responses``."""

    response: str


@dataclass(frozen=True, slots=True)
class Number:
    """A reading.  More than one in ``readings`` means: ask which, never choose."""

    readings: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class OtherUnit:
    """A number with a unit that does not measure what was asked for."""

    wrong: WrongUnit


@dataclass(frozen=True, slots=True)
class Remind:
    """Speak up after this time; more than one of ``minutes`` means: ask which."""

    minutes: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class Maybe:
    """Words that may mean this command: ask first."""

    command: str


@dataclass(frozen=True, slots=True)
class NotHere:
    """Understood, but not what is wanted now; ``meaning`` is a command or one of `natural_wordings.ANSWERS`."""

    meaning: str


@dataclass(frozen=True, slots=True)
class Note:
    """A note that is dictated in the same breath."""

    text: str


@dataclass(frozen=True, slots=True)
class Both:
    """Two things in one breath, in this order: an answer, and something that answers nothing."""

    first: Command | Respond | Number
    then: Command | Note | Remind


@dataclass(frozen=True, slots=True)
class Unknown:
    """Nothing that may be said now; ``suggestion`` is the nearest phrase that may, or empty.

    A suggestion is for asking ("did you mean ...?").  It is never acted upon.
    """

    text: str
    suggestion: str = ""


Intent = (Command | GoTo | TakeBackStep | Respond | Number | OtherUnit | Remind | Maybe | NotHere
          | Note | Both | Unknown)
"""What ``Matcher.interpret`` returns."""
