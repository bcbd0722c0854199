"""Language files: YAML to ``Language``, with every mistake named by file and line.

Imports yaml, rapidfuzz (for "did you mean"), errors and this room's values.  The only file of
the room that reads a disk.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import NoReturn

import yaml
from rapidfuzz import process

from handsfree.errors import AuthorError, InputError
from handsfree.language.model import COMMANDS, PREFIXES, Language, NumberWords, UnitWords
from handsfree.language.units import UNITS
from handsfree.language.words import normalise

MOST_BYTES = 1_000_000
"""A language file larger than this is refused unread."""

MOST_LEVELS = 20
"""As is one whose lists and tables are nested deeper."""

ARPABET = frozenset(
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V"
    " W Y Z ZH".split()
)
"""The 39 sounds of the pronouncing dictionary, without stress."""

_TOP = {"name", "voice", "commands", "numbers", "units", "pronunciations", "templates"}
_NUMBERS = {
    "values", "multipliers", "fractions", "point", "minus", "joiner", "one", "fraction_of",
    "half_after", "understood", "unit_links", "digits", "digit_point", "pairs", "joined",
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
    return parse_language(data, code=path.stem, file=str(path))


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """" (did you mean 'x'?)" for the nearest of the known words, or nothing."""
    best = process.extractOne(word, sorted(known), score_cutoff=60)
    return f" (did you mean '{best[0]}'?)" if best else ""


def parse_language(data: bytes, *, code: str, file: str) -> Language:
    """The language that the bytes of a file describe.  Raises ``AuthorError``."""
    top = _Entry(_compose(data, file), file, "the file").table(_TOP)
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
        pronunciations=_pronunciations(top["pronunciations"]) if "pronunciations" in top else _NONE,
        templates=_templates(top["templates"]) if "templates" in top else _NONE,
        voice=top["voice"].text() if "voice" in top else code,
    )


_NONE: MappingProxyType[str, str] = MappingProxyType({})


class _Entry:
    """A YAML node together with what its place is called in a message."""

    def __init__(self, node: yaml.Node, file: str, place: str) -> None:
        self.node, self.file, self.place = node, file, place

    def fail(self, problem: str, mend: str) -> NoReturn:
        line = self.node.start_mark.line + 1
        raise AuthorError(problem, mend=mend, file=self.file, line=line)

    @property
    def empty(self) -> bool:
        return isinstance(self.node, yaml.ScalarNode) and self.node.value == ""

    def text(self) -> str:
        """A word or sentence, whatever YAML takes it for: `no` stays "no"."""
        if not isinstance(self.node, yaml.ScalarNode) or not self.node.value.strip():
            self.fail(f"{self.place} is not a text", "write one word or sentence there")
        return str(self.node.value)

    def words(self) -> str:
        """A text in normal form that is not empty."""
        words = normalise(self.text())
        if not words:
            self.fail(f"{self.place} has no word in it", "write the word as it is spoken")
        return words

    def form(self) -> str:
        """Words of a unit, with "{}" at most once, where the number goes."""
        before, gap, after = self.text().partition("{}")
        if not gap:
            return self.words()
        if not normalise(before) or not normalise(after) or "{" in after:
            self.fail(f"{self.place} has no words on both sides of one '{{}}'",
                      "write it as 'before {} after'")
        return f"{normalise(before)} {{}} {normalise(after)}"

    def yes_or_no(self) -> bool:
        value = self.node.value if isinstance(self.node, yaml.ScalarNode) else None
        if value not in ("true", "false"):
            self.fail(f"{self.place} is neither true nor false", "write true or false")
        return bool(value == "true")

    def list(self) -> list[_Entry]:
        """The entries of a list; a single text counts as a list of one."""
        if isinstance(self.node, yaml.SequenceNode):
            return [_Entry(n, self.file, f"entry {i} of {self.place}")
                    for i, n in enumerate(self.node.value, 1)]
        if isinstance(self.node, yaml.ScalarNode) and not self.empty:
            return [self]
        self.fail(f"{self.place} is not a list", "write a list such as [one, two]")

    def phrases(self) -> tuple[str, ...]:
        """A list of texts in normal form, at least one, none twice."""
        found: dict[str, None] = {}
        for entry in self.list():
            words = entry.words()
            if words in found:
                entry.fail(f"'{words}' stands twice in {self.place}", "keep one of them")
            found[words] = None
        if not found:
            self.fail(f"{self.place} is empty", "give at least one word or phrase")
        return tuple(found)

    def table(self, known: Iterable[str] | None = None) -> dict[str, _Entry]:
        """The entries of a mapping by key; every key must be a known one where these are given."""
        if not isinstance(self.node, yaml.MappingNode):
            self.fail(f"{self.place} is not a table of 'key: value' lines", "write it as one")
        known = set(known) if known is not None else None
        found: dict[str, _Entry] = {}
        for key_node, value in self.node.value:
            key_entry = _Entry(key_node, self.file, f"a key of {self.place}")
            key = key_entry.text()
            if key in found:
                key_entry.fail(f"'{key}' stands twice in {self.place}", "keep one of them")
            if known is not None and key not in known:
                key_entry.fail(
                    f"'{key}' is not known in {self.place}{did_you_mean(key, known)}",
                    f"use one of {', '.join(sorted(known))}",
                )
            found[key] = _Entry(value, self.file, f"'{key}'")
        return found

    def numbered(self, what: str) -> dict[int, _Entry]:
        """A table whose keys are whole numbers of at most seven digits."""
        found: dict[int, _Entry] = {}
        for key, entry in self.table().items():
            if not re.fullmatch(r"[0-9]{1,7}", key):
                entry.fail(f"'{key}' in {self.place} is not {what}", "write it in digits")
            found[int(key)] = entry
        return found


def _compose(data: bytes, file: str) -> yaml.Node:
    if len(data) > MOST_BYTES:
        raise AuthorError(
            f"the file has {len(data):,} bytes", mend=f"keep it under {MOST_BYTES:,}", file=file
        )
    try:
        text = data.decode("utf-8-sig")
        depth = 0
        for event in yaml.parse(text, Loader=yaml.SafeLoader):
            depth += isinstance(event, yaml.CollectionStartEvent)
            depth -= isinstance(event, yaml.CollectionEndEvent)
            if depth > MOST_LEVELS:
                raise AuthorError(
                    "lists and tables are nested too deep", mend="write them flat", file=file,
                    line=event.start_mark.line + 1,
                )
            if isinstance(event, yaml.AliasEvent):
                raise AuthorError(
                    f"'*{event.anchor}' is an alias", mend="write the words out in full",
                    file=file, line=event.start_mark.line + 1,
                )
        node = yaml.compose(text, Loader=yaml.SafeLoader)
    except UnicodeDecodeError as error:
        raise AuthorError(
            "this is not text in UTF-8", mend="save it in UTF-8", file=file,
            line=data[: error.start].count(b"\n") + 1,
        ) from error
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        raise AuthorError(
            f"this is not YAML ({error.problem or error.context})",
            mend="look at the line and the one above it", file=file,
            line=mark.line + 1 if mark else 1,
        ) from error
    except yaml.YAMLError as error:
        raise AuthorError(
            "the file holds a character that YAML forbids", mend="delete it", file=file, line=1
        ) from error
    if node is None:
        raise AuthorError("the file is empty", mend="start from en.yaml", file=file, line=1)
    return node


def _commands(entry: _Entry) -> MappingProxyType[str, tuple[str, ...]]:
    table = entry.table((*COMMANDS, *PREFIXES))
    for key in (*COMMANDS, *PREFIXES):
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


def _numbers(entry: _Entry) -> NumberWords:
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
        half_after=phrases("half_after"), unit_links=phrases("unit_links"),
        digits=MappingProxyType(digits), digit_point=digit_point,
        pairs=flag("pairs"), joined=flag("joined"), bare_one=flag("bare_one"),
        tens_hyphen=flag("tens_hyphen"),
    )  # fmt: skip


def _values(entry: _Entry) -> dict[int, tuple[str, ...]]:
    numbered = entry.numbered("a value")
    for n, e in numbered.items():
        if n >= 1000:
            e.fail(f"{n} is not below 1,000", "move it to 'multipliers'")
    return {n: numbered[n].phrases() for n in sorted(numbered)}


def _units(entry: _Entry) -> MappingProxyType[str, UnitWords]:
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


def _pronunciations(entry: _Entry) -> MappingProxyType[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for word, value in entry.table().items():
        for one in value.list():
            for sound in one.text().split():
                if sound not in ARPABET:
                    one.fail(
                        f"'{sound}' is not an ARPAbet sound{did_you_mean(sound, ARPABET)}",
                        "write sounds without stress, such as 'CH AA K S'",
                    )
        found[normalise(word)] = tuple(" ".join(one.text().split()) for one in value.list())
    return MappingProxyType(found)


def _templates(entry: _Entry) -> MappingProxyType[str, str]:
    found: dict[str, str] = {}
    open_tables: list[tuple[str, _Entry]] = [] if entry.empty else [("", entry)]
    while open_tables:
        prefix, table = open_tables.pop()
        for key, value in table.table().items():
            if isinstance(value.node, yaml.MappingNode):
                open_tables.append((f"{prefix}{key}.", value))
            else:
                found[f"{prefix}{key}"] = value.text()
    return MappingProxyType(found)
