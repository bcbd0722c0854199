"""Language files: YAML to ``Language``, with every mistake named by file and line.

Imports yaml, errors and this room's values.  The only file of the room that reads a disk.
"""

from __future__ import annotations

import re
from functools import lru_cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType

import yaml

from handsfree.errors import AuthorError, InputError
from handsfree.language.model import (
    COMMANDS,
    PREFIXES,
    SUFFIXES,
    Language,
    NumberWords,
    UnitWords,
)
from handsfree.language.words import normalise
from handsfree.language.yaml_entries import Entry, compose, did_you_mean
from handsfree.units import UNITS

ARPABET = frozenset(
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V"
    " W Y Z ZH".split()
)
"""The 39 sounds of the pronouncing dictionary, without stress."""

_TOP = {"name", "voice", "commands", "numbers", "units", "pronunciations", "templates"}
_NUMBERS = {
    "values", "multipliers", "fractions", "point", "minus", "joiner", "one", "fraction_of",
    "half_after", "several", "understood", "unit_links", "digits", "digit_point", "pairs", "joined",
    "bare_one", "tens_hyphen",
}  # fmt: skip


def language_names() -> tuple[str, ...]:
    """Codes of the languages that come with the program, sorted."""
    folder = resources.files("handsfree") / "languages"
    names = (item.name for item in folder.iterdir())
    return tuple(sorted(n[:-5] for n in names if re.fullmatch(r"[a-z]{2,3}\.yaml", n)))


def load_language(name: str | Path) -> Language:
    """The language with this code ("en"), or the one in the file at this path.

    Raises ``InputError`` where there is no such language, ``AuthorError`` where the file is
    wrong.
    """
    known = language_names()
    if str(name) in known:
        path = Path(str(resources.files("handsfree") / "languages" / f"{name}.yaml"))
    elif str(name).endswith(".yaml"):
        path = Path(name)
    else:
        raise InputError(
            f"There is no language '{name}'{did_you_mean(str(name), known)}; choose one of"
            f" {', '.join(known)}, or name a .yaml file."
        )
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(
            f"The language file {path} cannot be read ({error.strerror}); name a readable file."
        ) from error
    return _parsed(data, path.stem, str(path))


@lru_cache(maxsize=8)
def _parsed(data: bytes, code: str, file: str) -> Language:
    """Each file once for each content that it has; a language does not change."""
    return parse_language(data, code=code, file=file)


def parse_language(data: bytes, *, code: str, file: str) -> Language:
    """The language that the bytes of a file describe.  Raises ``AuthorError``."""
    top = Entry(compose(data, file), file, "the file").table(_TOP)
    for key in ("name", "commands", "numbers", "units"):
        if key not in top:
            raise AuthorError(
                f"'{key}' is missing", mend=f"add a '{key}:' entry", file=file, line=1
            )
    return Language(
        code=code,
        name=top["name"].text(),
        commands=_commands(top["commands"]),
        numbers=_numbers(top["numbers"]),
        units=_units(top["units"]),
        pronunciations=_pronunciations(top.get("pronunciations")),
        templates=_templates(top.get("templates")),
        voice=top["voice"].text() if "voice" in top else code,
    )


def _commands(entry: Entry) -> MappingProxyType[str, tuple[str, ...]]:
    keys = (*COMMANDS, *PREFIXES, *SUFFIXES)
    table = entry.table(keys)
    for key in keys:
        if key not in table:
            entry.fail(f"the command '{key}' has no wording", f"add '{key}: [...]'")
    owner: dict[str, str] = {}
    found: dict[str, tuple[str, ...]] = {}
    for key, value in table.items():
        found[key] = value.phrases()
        for phrase in found[key]:
            if phrase in owner:
                value.fail(
                    f"'{phrase}' means both '{owner[phrase]}' and '{key}'", "keep it in one"
                )
            owner[phrase] = key
    return MappingProxyType(found)


def _numbers(entry: Entry) -> NumberWords:
    table = entry.table(_NUMBERS)
    for key in ("values", "multipliers", "fractions", "point", "minus"):
        if key not in table:
            entry.fail(f"'{key}' is missing in 'numbers'", f"add '{key}:'")
    values = _values(table["values"])
    understood = _values(table["understood"]) if "understood" in table else {}
    for n in range(10):
        if n not in values:
            table["values"].fail(f"the word for {n} is missing", f"add '{n}: [...]'")
    multipliers = table["multipliers"].numbered("a power of ten")
    for n, e in multipliers.items():
        if n < 10 or str(n).strip("0") != "1":
            e.fail(f"{n} is not a power of ten", "use 10, 100, 1000 and so on")
    fractions = table["fractions"].numbered("a denominator")
    for n, e in fractions.items():
        if n < 2:
            e.fail(f"{n} is no denominator", "use 2 and above")

    def phrases(key: str) -> tuple[str, ...]:
        return table[key].phrases() if key in table else ()

    def flag(key: str) -> bool:
        return table[key].yes_or_no() if key in table else False

    digits = {n: values[n][0] for n in range(10)}
    if "digits" in table:
        for n, e in table["digits"].numbered("a digit").items():
            if n > 9 or e.words() not in (*values[n], *understood.get(n, ())):
                e.fail(f"'{e.words()}' is not a word for {n}", "take one from 'values'")
            digits[n] = e.words()
    point = table["point"].phrases()
    digit_point = table["digit_point"].words() if "digit_point" in table else point[0]
    if digit_point not in point:
        table["digit_point"].fail(f"'{digit_point}' is not a point word", "take one from 'point'")
    return NumberWords(
        values=MappingProxyType(values), understood=MappingProxyType(understood),
        multipliers=MappingProxyType({n: multipliers[n].phrases() for n in sorted(multipliers)}),
        fractions=MappingProxyType({n: fractions[n].phrases() for n in sorted(fractions)}),
        point=point,
        minus=table["minus"].phrases(),
        joiner=phrases("joiner"), one=phrases("one"), fraction_of=phrases("fraction_of"),
        several=phrases("several"),
        half_after=phrases("half_after"), unit_links=phrases("unit_links"),
        digits=MappingProxyType(digits), digit_point=digit_point,
        pairs=flag("pairs"), joined=flag("joined"), bare_one=flag("bare_one"),
        tens_hyphen=flag("tens_hyphen"),
    )  # fmt: skip


def _values(entry: Entry) -> dict[int, tuple[str, ...]]:
    numbered = entry.numbered("a value")
    for n, e in numbered.items():
        if n >= 1000:
            e.fail(f"{n} is not below 1,000", "move it to 'multipliers'")
    return {n: numbered[n].phrases() for n in sorted(numbered)}


def _units(entry: Entry) -> MappingProxyType[str, UnitWords]:
    found: dict[str, UnitWords] = {}
    for key, value in entry.table(UNITS).items():
        table = value.table({"one", "many", "also", "part"})
        for needed in ("one", "many"):
            if needed not in table:
                value.fail(f"'{key}' does not say its form for '{needed}'", f"add '{needed}:'")
        also = tuple(e.form() for e in table["also"].list()) if "also" in table else ()
        part = table["part"].words() if "part" in table else ""
        found[key] = UnitWords(table["one"].form(), table["many"].form(), also, part)
    return MappingProxyType(found)


def _pronunciations(entry: Entry | None) -> MappingProxyType[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for word, value in (entry.table() if entry and not entry.empty else {}).items():
        for one in value.list():
            for sound in one.text().split():
                if sound not in ARPABET:
                    one.fail(
                        f"'{sound}' is not an ARPAbet sound{did_you_mean(sound, ARPABET)}",
                        "write sounds without stress, such as 'CH AA K S'",
                    )
        found[normalise(word)] = tuple(" ".join(one.text().split()) for one in value.list())
    return MappingProxyType(found)


def _templates(entry: Entry | None) -> MappingProxyType[str, str]:
    found: dict[str, str] = {}
    open_tables: list[tuple[str, Entry]] = [("", entry)] if entry and not entry.empty else []
    while open_tables:
        prefix, table = open_tables.pop()
        for key, value in table.table().items():
            if isinstance(value.node, yaml.MappingNode):
                open_tables.append((f"{prefix}{key}.", value))
            else:
                found[f"{prefix}{key}"] = value.text()
    return MappingProxyType(found)
