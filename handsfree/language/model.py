"""What one language file says, as frozen values.

Pure (stdlib only).  The loader makes these; everything else in this room reads them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

COMMANDS = (
    "done", "skip", "repeat", "detail", "why", "problem", "take_back", "remaining", "pause",
    "resume", "note", "time", "help", "finish", "yes", "no", "confirm", "deny", "cancel", "slower", "faster",
    "shorter", "longer", "louder", "softer", "by_heart", "step_by_step", "same", "status", "next",
    "operator_one", "operator_two", "operator_three",
)  # fmt: skip
"""Ids of the commands that are whole phrases."""

PREFIXES = ("go_to", "take_back_named", "remind")
"""Ids of the commands that start a phrase; a step's name, or a number of minutes, follows."""

SUFFIXES = ("now",)
"""Ids of the commands that end a phrase, after a step's name."""


@dataclass(frozen=True, eq=False)
class NumberWords:
    """The words of spoken numbers, and how they are put together.

    ``values`` maps a value below 1,000 to its forms; ``multipliers`` the same for 10, 100,
    1,000 ...; in both the first form is the one that we speak.  ``fractions`` maps a denominator
    to its forms, singular first, plural second.
    """

    values: Mapping[int, tuple[str, ...]]
    multipliers: Mapping[int, tuple[str, ...]]
    fractions: Mapping[int, tuple[str, ...]]
    point: tuple[str, ...]
    minus: tuple[str, ...]
    understood: Mapping[int, tuple[str, ...]]
    """Further forms of values, which are understood but never spoken."""
    digits: Mapping[int, str]
    """How each of 0 to 9 is spoken when digits are read out one by one."""
    digit_point: str
    """The point word in that style."""
    joiner: tuple[str, ...] = ()
    """"and" in "two and a half", and where people say "one hundred and five"."""
    one: tuple[str, ...] = ()
    """"a" in "a hundred", "a quarter"."""
    several: tuple[str, ...] = ()
    """Forms of `fractions` that stand only behind a number above one: "quarters"."""
    fraction_of: tuple[str, ...] = ()
    """Between denominator and numerator, where a language says the denominator first."""
    half_after: tuple[str, ...] = ()
    """"half" that follows a number directly, without a joiner."""
    unit_links: tuple[str, ...] = ()
    """Between a fraction and its unit: "of an" in "a quarter of an inch"."""
    pairs: bool = False
    """Groups are said side by side: "one eighteen" for 118."""
    joined: bool = False
    """Words of a number may be written together."""
    bare_one: bool = False
    """No "one" is said before a multiplier."""
    tens_hyphen: bool = False
    """"fifty-five" is written with a hyphen."""


@dataclass(frozen=True, eq=False)
class UnitWords:
    """How one unit is said.

    A form stands before or after its number; "{}" in it is where the number goes, if the unit is
    said on both sides.  A ``one`` that starts with a word of ``NumberWords.one`` ("eine minute")
    says the number itself, in its own gender.  ``also`` are forms that are understood but not
    spoken.  ``part`` follows a fraction below one ("of an inch"); units that have it are spoken
    in fractions, others in decimals.
    """

    one: str
    many: str
    also: tuple[str, ...] = ()
    part: str = ""

    @property
    def forms(self) -> tuple[str, ...]:
        """All forms, without doubles, the spoken ones first."""
        return tuple(dict.fromkeys((self.many, self.one, *self.also)))

    @property
    def pieces(self) -> frozenset[str]:
        """The words that can stand before or after a number."""
        return frozenset(p.strip() for form in self.forms for p in form.split("{}")) - {""}


@dataclass(frozen=True, eq=False)
class Language:
    """One language: everything that is heard or spoken in it.  Compared by identity.

    ``commands`` maps an id of ``COMMANDS``, ``PREFIXES`` or ``SUFFIXES`` to its wordings, the taught one first.
    ``pronunciations`` maps a word to its ARPAbet pronunciations.  ``templates`` maps a dotted id
    to a sentence with ``{fields}``.
    """

    code: str
    name: str
    commands: Mapping[str, tuple[str, ...]]
    numbers: NumberWords
    units: Mapping[str, UnitWords]
    pronunciations: Mapping[str, tuple[str, ...]]
    templates: Mapping[str, str]
    voice: str = ""
    """The voice engine's name for a voice of the language, such as "en-us"."""
