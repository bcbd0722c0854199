"""What an operator says is so of the rig: several facts in one sentence, or why it is not taken.

Pure but for reading its own data, `languages/xx.facts.yaml`.  May import this room, spelling and yaml.

A sentence is cut at its joins into parts.  A part has things ("the awning"), a way ("took in") and
maybe a not; every other word has to be a little one, or the sentence is refused.  Parts are then
put together in every way that English allows: "took in the awning and the step" has one way for two
things, "the slide is in and locked" two for one.  What can be read in two ways that differ is
refused, as is a question, a plan, a doubt, a part of a thing, and any word that is not known: a
false record is worse than one more question.

Keys of the data: `ways` are groups of verbs, particles and adjectives; `kinds` and `things` say which
ways make which fact so, or not so; `bases` are verbs as they stand after "did not"; `places` are
read as one word; `unclear` are names for several things.  An order says nothing of what is so: one that
begins with a base (`bases`), or stands in `orders` with what would then be said, is understood by `ordered`;
`leaving` are the ways to say that the truck pulls away.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from importlib import resources
from itertools import product
from typing import Any

import yaml
from rapidfuzz import fuzz, process

from handsfree.language.words import asks
from handsfree.spelling import AMERICAN

_LONGEST = 40
"""Words of a sentence that are read at all."""

_MOST_PARTS = 9

_SHORT = {"isn't": "is not", "aren't": "are not", "wasn't": "was not", "weren't": "were not",
          "haven't": "have not", "hasn't": "has not", "hadn't": "had not", "didn't": "did not",
          "don't": "do not", "won't": "will not", "can't": "can not", "i'm": "i am",
          "we're": "we are", "they're": "they are", "it's": "it is", "i've": "i have",
          "we've": "we have", "i'll": "i will", "we'll": "we will", "i'd": "i would", **AMERICAN}


@dataclass(frozen=True)
class Clauses:
    """How a fact is told: when it is so, and when it is not."""

    says: str
    otherwise: str = ""

    def of(self, so: bool) -> str:
        """The clause for one of the two."""
        return self.says if so else self.otherwise or f"it is not true that {self.says}"


@dataclass(frozen=True)
class Statement:
    """What was said: fact to whether it is so.  Empty with a `why` where it was not taken."""

    facts: Mapping[str, bool] = field(default_factory=dict)
    why: str = ""
    choices: tuple[str, ...] = ()
    """Names of which one could have been meant."""


@dataclass(frozen=True)
class _Row:
    """A thing of the data: which ways make its fact so, or not so."""

    names: frozenset[str]
    fact: str
    ways: Mapping[str, bool]
    implied: bool = False


@dataclass(frozen=True)
class _Data:
    """`xx.facts.yaml`, unfolded."""

    little: frozenset[str] = frozenset()
    starters: frozenset[str] = frozenset()
    openers: frozenset[str] = frozenset()
    subjects: frozenset[str] = frozenset()
    being: frozenset[str] = frozenset()
    joins: frozenset[str] = frozenset()
    too: frozenset[str] = frozenset()
    so_is: frozenset[str] = frozenset()
    nots: frozenset[str] = frozenset()
    not_done: frozenset[str] = frozenset()
    pronouns: frozenset[str] = frozenset()
    all_of: frozenset[str] = frozenset()
    refused: Mapping[str, str] = field(default_factory=dict)
    bases: Mapping[str, str] = field(default_factory=dict)
    places: frozenset[str] = frozenset()
    ways: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """Phrase to its ways."""
    no_contrary: frozenset[str] = frozenset()
    rows: tuple[_Row, ...] = ()
    unclear: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    looked_at: frozenset[str] = frozenset()
    orders: Mapping[str, str] = field(default_factory=dict)
    around_orders: frozenset[str] = frozenset()
    leaving: frozenset[str] = frozenset()


def understand(
    words: str, clauses: Mapping[str, Clauses], language: str = "en"
) -> Statement:
    """What a sentence says of the facts on record.

    Args:
        words: as typed or heard.
        clauses: the facts that can be on record of this rig, and how they are told.
        language: one without data understands the clauses themselves and no other words.

    Returns:
        At least one fact, or the reason why nothing was taken.  Never a guess.
    """
    if asks(words):
        return Statement(why=next(iter(_data(language).refused.values()), "that is a question"))
    told = _whole(words, clauses)
    if told:
        return told
    data = _data(language)
    found = _Reader(data, clauses).read(words)
    if found.facts and ordered(words, clauses, language).facts:
        verb = _bare(words, data)[0]
        return Statement(why=f"'{verb}' sounds like a plan or an order; say it when it is done, as in"
                             f" '{data.bases[verb]}'")
    return found


def ordered(words: str, clauses: Mapping[str, Clauses], language: str = "en") -> Statement:
    """What would be so if this were carried out: "take the chains off"; nothing for what is no order
    that begins with its verb, or one of the data's `orders`."""
    data = _data(language)
    bare = _bare(words, data)
    articles = ("the", "a", "an", "my", "our", "your")
    if report := data.orders.get(" ".join(word for word in bare if word not in articles)):
        return _Reader(data, clauses).read(report)
    if not bare or bare[0] not in data.bases or asks(words):
        return Statement()
    return _Reader(data, clauses).read(" ".join((data.bases[bare[0]], *bare[1:])))


def _bare(words: str, data: _Data) -> tuple[str, ...]:
    """An order's words without those before and after it."""
    bare = [*_plain(words)]
    while bare and bare[0] in data.around_orders:
        bare.pop(0)
    while bare and bare[-1] in data.around_orders:
        bare.pop()
    return tuple(bare)


def leaving(words: str, language: str = "en") -> frozenset[str]:
    """Every way to say that the truck pulls away, where the words are one of them."""
    data = _data(language)
    return data.leaving if " ".join(_bare(words, data)) in data.leaving else frozenset()


def is_evidence(clause: str, language: str = "en") -> bool:
    """Whether a clause says that somebody looked, tested or measured, so that a slip of the tongue
    or a wish must not put it on record."""
    words = _plain(clause)
    plain = f" {' '.join(words)} "
    for found in (one for one in _data(language).looked_at if f" {one} " in plain):
        if found.startswith("not ") or not {"not", "nobody"} & set(words):
            return True
    return False


@lru_cache(4096)
def _plain(text: str) -> tuple[str, ...]:
    """Words in small letters, short forms in full, joins as words of their own."""
    found: list[str] = []
    text = text.lower().replace("’", "'").replace("-", " ")
    for word in re.findall(r"[^\W_]+(?:'[^\W_]+)*|[,;.]", text):
        for piece in _SHORT.get(word, word).split():
            if piece.endswith("'s") and len(piece) > 2:
                found += [piece[:-2], "is"]
            else:
                found.append(piece)
    while found and found[-1] in (",", ";", "."):
        found.pop()
    return tuple(found)


def _whole(words: str, clauses: Mapping[str, Clauses]) -> Statement | None:
    """The sentence, if it is word for word the clause of one fact."""
    wanted = _plain(words)
    found = {(name, so) for name, told in clauses.items() for so in (True, False)
             if wanted and _plain(told.of(so)) == wanted}
    return Statement(dict(found)) if len(found) == 1 else None


def _unfolded(pattern: str) -> Iterator[str]:
    """'took/taken in' as 'took in' and 'taken in'."""
    for words in product(*(word.split("/") for word in pattern.split())):
        yield " ".join(words)


@cache
def _data(language: str) -> _Data:
    """The language's file; without one, nothing but whole clauses is understood."""
    source = resources.files("handsfree") / "languages" / f"{language}.facts.yaml"
    if not source.is_file():
        return _Data()
    raw: dict[str, Any] = yaml.load(
        source.read_text("utf-8"), Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    ways: dict[str, set[str]] = {}
    for name, patterns in raw["ways"].items():
        for phrase in (one for pattern in patterns for one in _unfolded(pattern)):
            ways.setdefault(phrase, set()).add(name)
    rows = []
    for thing in raw["things"]:
        kind = raw["kinds"].get(thing.get("kind"), {})
        told = {way: so for key, so in (("so", True), ("not so", False))
                for way in (*kind.get(key, ()), *thing.get(key, ()))}
        rows.append(_Row(frozenset(name.lower() for name in thing["names"]), thing.get("fact", ""),
                         told, bool(thing.get("implied"))))

    def words(key: str) -> frozenset[str]:
        return frozenset(str(one).lower() for one in raw[key])

    return _Data(
        words("little"), words("starters"), words("openers"), words("subjects"),
        words("verbs of being"), words("joins"), words("too"), words("so is"),
        words("not"), words("not done"), words("it"), words("all of"),
        {word: why for why, some in raw["refused"].items() for word in some}, raw["bases"],
        words("places"), {phrase: frozenset(names) for phrase, names in ways.items()},
        words("no contrary"), tuple(rows),
        {name: tuple(one.lower() for one in some) for name, some in raw["unclear"].items()},
        words("looked at"), raw["orders"], words("around orders"), words("leaving"))


@dataclass
class _Part:
    """What stands between two joins."""

    things: list[str] = field(default_factory=list)
    way: list[str] = field(default_factory=list)
    nots: int = 0
    being: bool = False
    all_of: bool = False
    subject: bool = False
    in_scope: bool = False
    """Joined by no more than 'and' to something that was not done."""
    too: bool = False
    so_is: bool = False
    thing_first: bool = False

    @property
    def only_things(self) -> bool:
        """A name that takes its way from a neighbour."""
        return bool(self.things) and not self.way and not self.being and not self.nots


class _Refused(Exception):
    """Ends the reading with a reason."""

    def __init__(self, why: str, choices: tuple[str, ...] = ()) -> None:
        self.why, self.choices = why, choices
        super().__init__(why)


class _Reader:
    """Reads sentences about the facts of one rig."""

    def __init__(self, data: _Data, clauses: Mapping[str, Clauses]) -> None:
        data = _of_several(data, frozenset(clauses))
        self._data = data
        self._clauses = clauses
        own = _own_rows(tuple(clauses.items()), frozenset(row.fact for row in data.rows))
        self._rows = (*data.rows, *own)
        self._names = {name for row in self._rows for name in row.names} | {*data.unclear}
        self._ways = dict(data.ways)
        for row in own:
            for way in row.ways:
                self._ways[way] = self._ways.get(way, frozenset()) | {way}
        self._known = frozenset(word for phrase in self._ways for word in phrase.split())

    def read(self, words: str) -> Statement:
        try:
            found: dict[tuple[tuple[str, bool], ...], None] = {}
            why: _Refused | None = None
            for tokens in self._lexed(self._begun(_plain(words))):
                try:
                    for facts in self._meanings(self._parts(tokens)):
                        found.setdefault(tuple(sorted(facts.items())))
                except _Refused as problem:
                    why = why or problem
                if found:
                    break
            if len(found) == 1:
                return Statement(dict(next(iter(found))))
            if found:
                raise _Refused("that can be understood in two ways; say one thing at a time")
            raise why or _Refused("I do not know what that says of the rig")
        except _Refused as problem:
            return Statement(why=problem.why, choices=problem.choices)

    # --- words to parts -------------------------------------------------------------------------

    def _begun(self, words: tuple[str, ...]) -> tuple[str, ...]:
        """Without what only says that something comes, as in 'correction: …'."""
        for length in (2, 1):
            if " ".join(words[:length]) in self._data.starters:
                rest = words[length:]
                return rest[1:] if rest[:1] == (",",) else rest
        return words

    def _lexed(self, words: tuple[str, ...]) -> Iterator[list[tuple[str, str]]]:
        """(kind, text) of each unit, the longest first; a second reading cuts the names shorter,
        so that 'slide out' may be a slide that is out."""
        if not words or len(words) > _LONGEST:
            raise _Refused("there is nothing to put on record" if not words else
                           "that is a long sentence; say one thing at a time")
        yield self._units(words, longest=True)
        yield self._units(words, longest=False)

    def _units(self, words: tuple[str, ...], longest: bool) -> list[tuple[str, str]]:
        data = self._data
        tables = (("refused", data.refused), ("not done", data.not_done), ("so is", data.so_is),
                  ("too", data.too), ("place", data.places), ("name", self._names),
                  ("little", data.little), ("not", data.nots), ("join", data.joins),
                  ("it", data.pronouns))
        articles = ("the", "a", "an", "my", "our", "your")
        units: list[tuple[str, str]] = []
        at = 0
        while at < len(words):
            hits = []
            for length in range(min(7, len(words) - at), 0, -1):
                piece = words[at:at + length]
                plain = " ".join(w for w in piece if w not in articles) if length > 1 else piece[0]
                exact = " ".join(piece)
                for kind, table in tables:
                    text = plain if kind in ("place", "name") else exact
                    if text in table and not (length > 1 and piece[0] in articles
                                              and kind in ("place", "name")):
                        hits.append((length, kind, text))
            names = [hit for hit in hits if hit[1] == "name"]
            if hits and (longest or len(names) < 2 or hits[0][1] != "name"):
                length, kind, text = hits[0]
            elif names:
                length, kind, text = names[-1]
            else:
                length, kind, text = 1, "way", words[at]
            units.append((kind, text))
            at += length
        return units

    def _parts(self, units: list[tuple[str, str]]) -> list[_Part]:
        data = self._data
        first = next((text for _, text in units if text not in data.joins | data.openers), "")
        if first in data.being | {"did"}:
            raise _Refused(next(iter(data.refused.values()), ""))
        parts = [_Part()]
        last: list[str] = []
        done = False
        for kind, text in units:
            part = parts[-1]
            if kind == "refused":
                raise _Refused(data.refused[text])
            if kind == "join":
                if part.things or part.way or part.being:
                    last = part.things or last
                    parts.append(_Part(nots=part.nots if done and not part.way else 0,
                                       in_scope=done and bool(part.nots) and text in ("and", ",")))
                    done = False
            elif kind == "name":
                if part.things:
                    raise _Refused(f"I do not know what '{part.things[-1]} {text}' is")
                part.thing_first = part.thing_first or not part.way
                part.things.append(text)
            elif kind == "it":
                if not last:
                    raise _Refused(f"I do not know what '{text}' is; say it by its name")
                part.thing_first = part.thing_first or not part.way
                part.things += last
            elif kind in ("not", "not done"):
                part.nots += 1
                done = done or kind == "not done" or text in ("nobody", "no one", "never")
            elif kind in ("too", "so is"):
                part.too, part.so_is = True, part.so_is or kind == "so is"
            elif kind == "little":
                part.being = part.being or text in data.being
                part.subject = part.subject or text in data.subjects
                part.all_of = part.all_of or text in data.all_of
                done = done or text == "did"
            else:
                self._add_way(part, text, done)
        if not (parts[-1].things or parts[-1].way or parts[-1].being):
            parts.pop()
        if not parts:
            raise _Refused("there is nothing to put on record")
        if len(parts) > _MOST_PARTS:
            raise _Refused("that is a lot at once; say a few things at a time")
        return parts

    def _add_way(self, part: _Part, text: str, done: bool) -> None:
        for word in text.split():
            plain = self._data.bases.get(word, word) if done else word
            if plain not in self._known and word not in ("in", "on", "off", "at", "from", "under",
                                                         "onto", "into"):
                known = sorted(one for one in self._known | self._names if len(one) > 3)
                close = process.extractOne(word, known, scorer=fuzz.ratio, score_cutoff=75)
                if word in self._data.bases:
                    raise _Refused(f"'{word}' sounds like a plan or an order; say it when it is"
                                   f" done, as in '{self._data.bases[word]}'")
                raise _Refused(f"I do not know what '{word}' means here"
                               + (f" (did you mean '{close[0]}'?)" if close else ""))
            part.way.append(plain)

    # --- parts to meanings ----------------------------------------------------------------------

    def _meanings(self, parts: list[_Part]) -> Iterator[dict[str, bool]]:
        """Every way to put the parts together that says something, each thing once."""
        if any(part.nots > 1 for part in parts):
            raise _Refused("'not' stands there twice; say it plainly")
        if any(part.nots and part.all_of for part in parts):
            raise _Refused("I cannot tell whether that is all or some of them")
        if any(part.in_scope and part.way and not part.subject and not part.thing_first
               for part in parts):
            raise _Refused("I cannot tell how much of it was not done; say each by itself")
        why: list[_Refused] = []
        for groups in _groupings(len(parts)):
            try:
                facts: dict[str, bool] = {}
                for start, end in groups:
                    for group in self._group(parts, start, end):
                        for fact, so in group.items():
                            if facts.setdefault(fact, so) is not so:
                                raise _Refused("that says two things that cannot both be so")
                if facts:
                    yield facts
            except _Refused as problem:
                why.append(problem)
        if why:
            raise max(why, key=lambda one: (bool(one.choices), "on record" in one.why))

    def _group(self, parts: list[_Part], start: int, end: int) -> Iterator[dict[str, bool]]:
        """What parts that belong together say.

        Raises:
            _Refused: they do not belong together.
        """
        group = parts[start:end]
        first, last = group[0], group[-1]
        if len(group) == 1:
            yield from self._alone(parts, start)
            return
        middle = group[1:-1]
        apart = _Refused("I cannot tell which words belong together; say one thing at a time")
        if any(not part.only_things for part in middle):
            raise apart
        things = [name for part in group for name in part.things]
        if first.way and first.things and last.only_things and not first.thing_first:
            yield self._say(things, first.way, first.nots)  # took in the awning and the step
        elif first.only_things and last.way and last.thing_first and last.things:
            yield self._say(things, last.way, last.nots)  # the awning and the step are in
        elif (first.way and first.things and not first.thing_first and last.things and last.way
              and last.thing_first and not last.being and not last.nots):
            yield self._say(things, first.way + last.way, first.nots)  # took the awning, the step in
        elif (len(group) == 2 and first.way and not first.things and last.way and last.things
              and not last.thing_first and first.nots == last.nots):
            yield self._say(last.things, first.way, first.nots)  # unplugged and stowed the cord
            yield self._say(last.things, last.way, last.nots)
        elif len(group) == 2 and first.things and first.way and last.way and not last.things:
            yield self._say(first.things, first.way, first.nots)  # the slide is in and locked
            yield self._say(first.things, last.way, last.nots)
        elif len(group) == 2 and first.way and last.too and last.things and not last.way and (
                not first.nots and not last.nots and (last.so_is or not last.being)):
            yield self._say(first.things + last.things, first.way, 0)  # and so is the step
        else:
            raise apart

    def _alone(self, parts: list[_Part], at: int) -> Iterator[dict[str, bool]]:
        part = parts[at]
        if not part.way:
            name = part.things[0] if part.things else ""
            raise _Refused(f"say how it is with the {name}" if name
                           else "there is nothing to put on record")
        if part.things:
            yield self._say(part.things, part.way, part.nots)
            return
        yield self._say([], part.way, part.nots)

    def _say(self, things: list[str], way: list[str], nots: int) -> dict[str, bool]:
        """One way of some things."""
        phrase = " ".join(way)
        ways = self._ways.get(phrase)
        if not ways:
            raise _Refused(f"I do not know what '{phrase}' says"
                           + (f" of the {things[0]}" if things else ""))
        if nots and ways & self._data.no_contrary:
            raise _Refused(f"not {phrase} can be anything in between; say how it is")
        facts: dict[str, bool] = {}
        for name in things or [""]:
            for fact, so in self._of(name, phrase, ways).items():
                if facts.setdefault(fact, so is not bool(nots)) is not (so is not bool(nots)):
                    raise _Refused("that says two things that cannot both be so")
        return facts

    def _of(self, name: str, phrase: str, ways: frozenset[str]) -> dict[str, bool]:
        """Facts that a way makes so or not so of a thing."""
        if name in self._data.unclear:
            meant = [one for one in self._data.unclear[name] if self._possible(one)]
            if len(meant) != 1:
                raise _Refused(f"which one is '{name}'", tuple(meant or self._data.unclear[name]))
            name = meant[0]
        rows = [row for row in self._rows if (name in row.names if name else row.implied)]
        told = [row for row in rows if ways & row.ways.keys()]
        if not told:
            raise _Refused(f"'{phrase}' says nothing that stands on record"
                           + (f" of the {name}" if name else "; say of what"))
        facts = {row.fact: row.ways[min(ways & row.ways.keys())] for row in told if row.fact}
        missing = [fact for fact in facts if fact not in self._clauses]
        if missing:
            raise _Refused(f"nothing is on record of this rig about the {name or phrase}")
        return facts

    def _possible(self, name: str) -> bool:
        return any(row.fact in self._clauses for row in self._rows if name in row.names)


def _of_several(data: _Data, facts: frozenset[str]) -> _Data:
    """The things of a rig that has several of a kind: each by its own name, in the plural all.

    What names one, without saying which, is asked about.
    """
    rows: list[_Row] = []
    unclear = dict(data.unclear)
    for row in data.rows:
        end = f" {row.fact}"
        own = {fact.removesuffix(end): fact for fact in sorted(facts) if fact.endswith(end)}
        if row.fact in facts or not row.fact or len(own) < 2:
            rows.append(row)
            continue
        one = frozenset(name for name in row.names if not name.endswith("s"))
        every = row.names - one | {f"{name}s" for name in one}
        rows += [replace(row, names=every | {f"{item} {name}" for name in one}, fact=fact)
                 for item, fact in own.items()]
        unclear |= {name: tuple(f"{item} {min(one, key=len)}" for item in own) for name in one}
    return replace(data, rows=tuple(rows), unclear=unclear)


@lru_cache(8)
def _own_rows(
    clauses: tuple[tuple[str, Clauses], ...], covered: frozenset[str]
) -> tuple[_Row, ...]:
    """Things of an owner's own checklists, from the clauses: 'the X is P', otherwise 'the X is Q'."""
    form = re.compile(r"(?:the |your )?(.+?) (?:is|are) (.+)")
    rows = []
    for fact, told in clauses:
        if fact in covered:
            continue
        so, other = (form.fullmatch(" ".join(_plain(text))) for text in (told.says, told.otherwise))
        if not so or set(so[2].split()) & {"not", "and", "or"}:
            continue
        ways = {so[2]: True}
        if other and other[1] == so[1] and not other[2].startswith("not "):
            ways[other[2]] = False
        rows.append(_Row(frozenset({so[1]}), fact, ways))
    return tuple(rows)


def _groupings(count: int) -> Iterator[list[tuple[int, int]]]:
    """Every way to cut a row of parts into runs, as (start, end)."""
    for cuts in product((False, True), repeat=count - 1):
        ends = [at + 1 for at, cut in enumerate(cuts) if cut] + [count]
        yield list(zip([0, *ends[:-1]], ends, strict=True))
