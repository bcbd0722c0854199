"""What people mean by words that are no taught phrase: fillers, politeness, other wordings.

Pure but for reading its own data, `languages/xx.sayings.yaml`.  May import this room.

Keys of the data: `together` are words that are one; `short` and `endings` spell contractions out;
`hesitations` are dropped anywhere, `before` and `after` at the ends; `groups` are used by the
patterns (see `wording_patterns`); `commands` are patterns by what they mean: a command of the language, or
one of `ANSWERS`. `named` are those that stand before and after a step's name or a number of
minutes. `response` says in which other words an answer of a hold point may be given: its own words
in their order, and only little words of the data between them. `reading` is what may stand around a
number. `joins` stand between two things that are said in one breath. `standing by` are patterns of
what is asked for between two lists, by the ids of `standby.phrases`, and `lists` what stands around
the name of one, by "start" and "go on with".

Nothing here is a guess: a sentence fits a pattern from its first word to its last, or means nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib import resources
from pathlib import Path

from handsfree.language.model import COMMANDS, PREFIXES, Language
from handsfree.language.wording_patterns import CLOSED, BadPattern, expression, fits, may_be_nothing
from handsfree.language.words import normalise
from handsfree.language.yaml_entries import Entry, compose

ANSWERS = ("acknowledged", "back", "blank", "judge")
"""Meanings that are no command: "okay", which only says that it was heard; "go back", which may mean
several things; "nothing", where a number is to be read; "is that good?"."""

_TOP = ("together", "closed", "quiet", "short", "endings", "hesitations", "before", "after",
        "groups", "commands", "named", "response", "reading", "breath", "joins", "openers", "standing by",
        "lists")  # fmt: skip
_SIDES = ("before", "after")
_OF_LISTS = ("start", "go on with")
_RESPONSE = ("be", "drop", "there", "participles", "when", "me", "before", "after", "heard", "heard be",
             "heard with be", "heard not")  # fmt: skip
_READING = ("before", "after", "zero", "heard", "like no")
_BE = ("one", "many", "before")
_LONGEST = 24
"""Words of a sentence that are looked at."""

_NEVER = r"(?!)"
"""An expression that nothing fits."""


@dataclass(frozen=True, eq=False)
class Sayings:
    """One language's; without data it understands nothing."""

    together: Mapping[str, str] = field(default_factory=dict)
    short: Mapping[str, str] = field(default_factory=dict)
    endings: Mapping[str, str] = field(default_factory=dict)
    hesitations: str = _NEVER
    edges: tuple[str, str] = (_NEVER, _NEVER)
    """What may stand before and after: once, or several times."""
    commands: Mapping[str, str] = field(default_factory=dict)
    """By what they mean, without the edges."""
    be: frozenset[str] = frozenset()
    drop: frozenset[str] = frozenset()
    participles: frozenset[str] = frozenset()
    closed: frozenset[str] = frozenset()
    """Words that ask, deny or put off; "<..>" takes none of them."""
    when: frozenset[str] = frozenset()
    """Words that say when: behind a verb they speak of what is only to be done."""
    response_before: str = _NEVER
    response_after: str = _NEVER
    me: str = _NEVER
    reading_before: str = _NEVER
    reading_after: str = _NEVER
    zero: Mapping[str, str] = field(default_factory=dict)
    joins: frozenset[tuple[str, ...]] = frozenset()
    leads: tuple[str, ...] = ()
    """What is listened for before the answer of a hold point."""
    leads_with_be: tuple[str, ...] = ()
    """The same, only where is or are can stand in it: so that a question sounds otherwise."""
    be_before: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    """Last word of an answer -> is and are, which may stand before it."""
    not_given: tuple[str, ...] = ()
    """Forms in which an answer is asked about or denied, with {first}, {be} and {last} in them."""
    number_leads: tuple[str, ...] = ()
    """What is listened for before a number."""
    breath: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """What is listened for as "done" and a command in one breath."""
    quiet: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """What is not listened for where a "number", or a "yes", may be said."""
    like_no: frozenset[str] = frozenset()
    """Number words that alone, after a reading was read back, are taken for a no."""
    openers: frozenset[tuple[str, ...]] = frozenset()
    around: tuple[tuple[str, str, str], ...] = ()
    """Order with a name in it, and what stands before and after the name."""
    standing_by: Mapping[str, str] = field(default_factory=dict)
    """As `commands`, between two lists."""
    lists: tuple[tuple[str, str, str], ...] = ()
    """As `around`, for the name of a list."""

    def knowing(self, commands: Mapping[str, Iterable[str]]) -> Sayings:
        """The same, which knows the taught wordings of the commands with fillers around them, too."""
        taught = {name: "|".join(f"{re.escape(' '.join(self.plain(phrase)))} " for phrase in phrases)
                  for name, phrases in commands.items() if name in COMMANDS}
        return replace(self, commands={
            name: f"(?:{self.commands.get(name, _NEVER)}|{taught.get(name, _NEVER)})"
            for name in dict.fromkeys((*self.commands, *taught))})

    def plain(self, text: str) -> tuple[str, ...]:
        """The words without contractions and hesitations."""
        words = []
        said = f"{normalise(text)} "
        for several, one in self.together.items():
            said = re.sub(rf"(?<!\S){re.escape(several)} ", f"{one} ", said)
        for word in said.split()[: _LONGEST + 1]:
            if word in self.short:
                words += self.short[word].split()
                continue
            ending = next((e for e in self.endings if word.endswith(e) and len(word) > len(e)), "")
            words.append(word.removesuffix(ending))
            words += self.endings[ending].split() if ending else []
        said = re.sub(self.hesitations, " ", " " + "".join(f"{word} " for word in words))
        return tuple(said.split())

    def means(self, words: tuple[str, ...], *, standing_by: bool = False) -> tuple[str, ...]:
        """Every meaning of the words, in the order of the data; between two lists it is another."""
        if not 0 < len(words) <= _LONGEST:
            return ()
        patterns = self.standing_by if standing_by else self.commands
        before, after = self.edges
        cores = [words[start:end] for start, end in _inner(words, f"(?:{before})*", f"(?:{after})*")]
        return tuple(name for name, pattern in patterns.items()
                     if any(fits(pattern, core) for core in cores))

    def responds(self, words: tuple[str, ...], response: str) -> bool:
        """Whether the words give this answer of a hold point: all of its own words in their order,
        and nothing that could take away from them."""
        if not 0 < len(words) <= _LONGEST:
            return False
        own = tuple(word for word in self.plain(response) if word not in self.be)
        return any(self._says(words[start:end], own) for start, end in _inner(
            words, self.response_before, self.response_after))

    def ways(self, response: str) -> tuple[str, ...]:
        """In which words the answer of a hold point is listened for, its own first."""
        own = normalise(response)
        words = tuple(own.split())
        plain = [own]
        bare = tuple(word for word in words if word not in self.be)
        if len(bare) > 1 and bare != words:
            plain.append(" ".join(bare))
        elif len(words) == 2 and words[-1] in self.be_before:
            one, many = self.be_before[words[-1]]
            be = many if words[0].endswith("s") else one
            plain.append(" ".join((words[0], be, words[1])))
        leads = (*self.leads, *(self.leads_with_be if len(plain) > 1 else ()))
        led = [f"{lead} {way}" for way in plain for lead in leads]
        return tuple(way for way in dict.fromkeys((*plain, *led))
                     if way == own or self.responds(self.plain(way), response))

    def denied(self, response: str) -> tuple[str, ...]:
        """In which words the answer of a hold point is asked about, or told not to be so: listened
        for, so that they are not taken for it."""
        words = tuple(normalise(response).split())
        bare = [word for word in words if word not in self.be]
        if len(bare) < 2:
            return ()
        one, many = self.be_before.get(bare[-1], ("", ""))
        be = next((word for word in words if word in self.be),
                  many if bare[-2].endswith("s") else one)
        fields = {"first": " ".join(bare[:-1]), "last": bare[-1], "be": be}
        return tuple(normalise(form.format(**fields)) for form in self.not_given
                     if be or "{be}" not in form)

    def _says(self, words: tuple[str, ...], own: tuple[str, ...]) -> bool:
        if self._straight(words, own):
            return True
        last = own[-1:]
        if last and last[0] in self.participles and len(own) > 1:
            at = next((at for at, word in enumerate(words) if word == last[0]), 0)
            rest = words[at + 1:]
            return fits(self.me, words[:at]) and bool(rest) and not self.when.intersection(rest) and (
                self._straight(rest, own[:-1]))
        return False

    def _straight(self, words: tuple[str, ...], own: tuple[str, ...]) -> bool:
        """`be` counts only behind the first of the own words: before it, it asks."""
        left, begun = list(own), False
        for word in words:
            if left and word == left[0]:
                left.pop(0)
                begun = True
            elif word not in self.drop and not (begun and word in self.be):
                return False
        return not left

    def edged(self, words: tuple[str, ...]) -> bool:
        """Whether a filler stands before or after them, such as "I think"."""
        before, after = self.edges
        return any(fits(before, words[:at]) or fits(after, words[at:])
                   for at in range(1, len(words)))

    def around_a_number(self, words: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        """What is left of the words without what may stand around a number, the longest first."""
        if 0 < len(words) <= _LONGEST:
            for start, end in _inner(words, self.reading_before, self.reading_after):
                yield words[start:end]

    def is_zero(self, words: tuple[str, ...], unit: str) -> bool:
        """Whether the words say nought of this unit: "dead level"."""
        return unit in self.zero and any(
            fits(self.zero[unit], words[start:end]) for start, end in _inner(
                words, self.reading_before, self.reading_after))

    def without_opener(self, words: tuple[str, ...]) -> tuple[str, ...]:
        """A note's words without the "that" before them."""
        return words[1:] if words[:1] in self.openers else words

    def named(
        self, words: tuple[str, ...], *, standing_by: bool = False
    ) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Orders with a name or a number in them: which, and the words that should be the name."""
        if len(words) > _LONGEST:
            return
        for kind, before, after in self.lists if standing_by else self.around:
            for end in range(len(words), 0, -1):
                if not fits(after, words[end:]):
                    continue
                for start in range(end):
                    if fits(before, words[:start]):
                        yield kind, words[start:end]

    def in_one_breath(
        self, words: tuple[str, ...]
    ) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
        """Every way of parting the words in two, without what joins them."""
        if len(words) > _LONGEST:
            return
        for at in range(1, len(words)):
            yield words[:at], words[at:]
            for join in self.joins:
                if words[at: at + len(join)] == join and at + len(join) < len(words):
                    yield words[:at], words[at + len(join):]


def _inner(
    words: tuple[str, ...], before: str, after: str
) -> Iterator[tuple[int, int]]:
    """Where to begin and end without what stands before and after, the longest first."""
    starts = [at for at in range(len(words)) if not at or fits(before, words[:at])]
    ends = [at for at in range(len(words), 0, -1) if at == len(words) or fits(after, words[at:])]
    yield from sorted(((s, e) for s in starts for e in ends if s < e), key=lambda p: p[0] - p[1])


@lru_cache(maxsize=8)
def sayings_of(language: Language) -> Sayings:
    """A language's; one without the file knows its taught wordings only."""
    path = Path(str(resources.files("handsfree") / "languages" / f"{language.code}.sayings.yaml"))
    own = Sayings()
    if re.fullmatch(r"[a-z]{2,3}", language.code) and path.is_file():
        own = parse_sayings(path.read_bytes(), str(path))
    return own.knowing(language.commands)


@lru_cache(maxsize=8)
def parse_sayings(data: bytes, file: str) -> Sayings:
    """The bytes of such a file.  Raises `AuthorError`, with file, line and mend."""
    top = Entry(compose(data, file), file, "the file").table(_TOP)
    together, short, endings = (_pairs(top.get(key)) for key in ("together", "short", "endings"))
    speller = Sayings(together, short, endings)
    closed = {CLOSED: _any(top["closed"], {}, speller)} if "closed" in top else {}
    groups = _groups(top.get("groups"), closed, speller)
    edges = [_any(top.get(key), groups, speller) for key in ("before", "after")]
    known = top["commands"].table({*COMMANDS, *ANSWERS}) if "commands" in top else {}
    commands = {name: _any(entry, groups, speller) for name, entry in known.items()}
    response = top["response"].table(_RESPONSE) if "response" in top else {}
    reading = top["reading"].table(_READING) if "reading" in top else {}

    def around(key: str, names: Iterable[str]) -> Iterator[tuple[str, str, str]]:
        for name, entry in (top[key].table({*names}) if key in top else {}).items():
            for place in entry.list():
                sides = place.table(_SIDES)
                before, after = (_any(sides.get(side), groups, speller, True) for side in _SIDES)
                yield name, f"{edges[0]}*?{before}", f"{after}{edges[1]}*?"

    fore = _any(response.get("before"), groups, speller)
    there = _any(response.get("there"), groups, speller)
    return Sayings(
        together=together, short=short, endings=endings,
        hesitations=rf"(?<= ){_any(top.get('hesitations'), {}, speller)}+",
        edges=(edges[0], edges[1]), commands=commands,
        closed=_words(top.get("closed")), be=_words(response.get("be")), drop=_words(response.get("drop")),
        participles=_words(response.get("participles")), when=_words(response.get("when")),
        response_before=f"(?:{fore})*(?:{there})?",
        response_after=f"{_any(response.get('after'), groups, speller)}*",
        me=_any(response.get("me"), groups, speller),
        reading_before=f"{_any(reading.get('before'), groups, speller)}*",
        reading_after=f"{_any(reading.get('after'), groups, speller)}*",
        zero={unit: _any(entry, groups, speller) for unit, entry in (
            reading["zero"].table() if "zero" in reading else {}).items()},
        around=tuple(around("named", PREFIXES)),
        lists=tuple(around("lists", _OF_LISTS)),
        standing_by={name: _any(entry, groups, speller) for name, entry in (
                         top["standing by"].table() if "standing by" in top else {}).items()},
        not_given=tuple(one.text() for one in (
            response["heard not"].list() if "heard not" in response else ())),
        leads=_phrases(response.get("heard")),
        leads_with_be=_phrases(response.get("heard with be")), number_leads=_phrases(reading.get("heard")),
        be_before=_be(response.get("heard be")),
        breath={name: entry.phrases() for name, entry in (
            top["breath"].table(COMMANDS) if "breath" in top else {}).items()},
        quiet={where: _words(entry) for where, entry in (
            top["quiet"].table(("number", "yes")) if "quiet" in top else {}).items()},
        like_no=_words(reading.get("like no")),
        openers=frozenset((word,) for word in _words(top.get("openers"))),
        joins=frozenset(tuple(speller.plain(entry.text())) for entry in (
            top["joins"].list() if "joins" in top else []) if normalise(entry.text())),
    )


def _pairs(entry: Entry | None) -> dict[str, str]:
    return {key: value.words() for key, value in (entry.table() if entry else {}).items()}


def _phrases(entry: Entry | None) -> tuple[str, ...]:
    return entry.phrases() if entry else ()


def _be(entry: Entry | None) -> dict[str, tuple[str, str]]:
    if entry is None:
        return {}
    table = entry.table(_BE)
    for key in _BE:
        if key not in table:
            entry.fail(f"'{key}' is missing in {entry.place}", f"add '{key}:'")
    forms = table["one"].words(), table["many"].words()
    return dict.fromkeys(table["before"].phrases(), forms)


def _words(entry: Entry | None) -> frozenset[str]:
    return frozenset(one.words() for one in entry.list()) if entry else frozenset()


def _groups(entry: Entry | None, closed: Mapping[str, str], speller: Sayings) -> dict[str, str]:
    found = dict(closed)
    for name, value in (entry.table() if entry else {}).items():
        try:
            found[name] = expression(_spelled(value.text(), speller), found)
        except BadPattern as problem:
            value.fail(str(problem), "mend the pattern")
    return found


def _spelled(pattern: str, speller: Sayings) -> str:
    """A pattern with its contractions spelled out, as what is heard is."""
    return re.sub(r"[^\s\[\]()|<>]+", lambda m: speller.short.get(m[0], m[0]), pattern.lower())


def _any(
    entry: Entry | None, groups: Mapping[str, str], speller: Sayings, may_be_empty: bool = False
) -> str:
    if entry is None:
        return f"(?:{_NEVER})"
    found = []
    for one in entry.list():
        try:
            spelled = _spelled(one.text(), speller)
            found.append(expression(spelled, groups))
            if not may_be_empty and may_be_nothing(spelled, groups):
                raise BadPattern(f"'{one.text()}' is no word at all where all is left out")
        except BadPattern as problem:
            one.fail(str(problem), "mend the pattern")
    return f"(?:{'|'.join(found)})"
