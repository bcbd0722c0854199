"""What is said and heard, as language: phrases, numbers, units, likeness of sounds.

Pure but for ``loader``.
"""

from handsfree.language.intents import (
    Both,
    Command,
    GoTo,
    Intent,
    Maybe,
    Note,
    NotHere,
    Number,
    OtherUnit,
    Remind,
    Respond,
    TakeBackStep,
    Unknown,
)
from handsfree.language.loader import language_names, load_language
from handsfree.language.matcher import Expected, Matcher
from handsfree.language.model import COMMANDS, PREFIXES, SUFFIXES, Language
from handsfree.language.numbers import parse_number
from handsfree.language.readings import Reading, WrongUnit, parse_reading, say_reading
from handsfree.language.verbalising import say_number
from handsfree.units import UNITS, convert

__all__ = [
    "COMMANDS", "PREFIXES", "SUFFIXES", "UNITS", "Both", "Command", "Expected", "GoTo", "Intent",
    "Language", "Matcher", "Maybe", "NotHere", "Note", "Number", "OtherUnit", "Reading", "Remind",
    "Respond", "TakeBackStep", "Unknown",
    "WrongUnit", "convert", "language_names", "load_language", "parse_number", "parse_reading",
    "say_number", "say_reading",
]  # fmt: skip
