"""What may be said standing by, and what it asks for.

May import the language room, hearing's types and the YAML reader.  `languages/xx.standby.yaml` holds
the words.  A recogniser is given every phrase; typed words may besides be any statement that
`language.statements` understands, or a question made of one.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from importlib import resources
from itertools import product
from pathlib import Path

from handsfree.checklist.schema import Key
from handsfree.checklist.yaml_reader import Entry, read
from handsfree.errors import InputError
from handsfree.hearing.types import Grammar, normal
from handsfree.language.intents import Command, Note, Remind
from handsfree.language.loader import language_names
from handsfree.language.matcher import Expected, Matcher
from handsfree.language.model import Language
from handsfree.language.statements import Clauses, understand
from handsfree.language.words import asks

MANNER = frozenset({"slower", "faster", "shorter", "longer", "louder", "softer"})
ANSWERS = frozenset({"yes", "no", "confirm", "deny", "repeat"})

HEARD = ("out", "roll", "dark", "battery", "sun", "gas", "tank", "generator", "range", "clock",
         "compare", "next", "interview", "lists", "note", "help", "check", "sleep", "off")
"""Ids of the whole phrases."""

ANSWERED = frozenset(HEARD) - {"interview", "note", "sleep", "off"} | {"leave"}
"""Those that are questions: to answer one changes nothing."""

_LEAST_SOUNDS = 8
"""Letters of a call phrase: fewer come up in any talk."""

_KEYS = {
    "call": Key("texts", "What wakes it.", required=True),
    "heard": Key("map", "Whole phrases.", required=True),
    "start": Key("texts", "Before the name of a list.", required=True),
    "go on with": Key("texts", "Before the name of an unfinished list.", required=True),
    "go on": Key("texts", "The unfinished list.", required=True),
    "note this": Key("texts", "Before a note.", required=True),
    "being": Key("texts", "First words of questions.", required=True),
    "fillers": Key("texts", "Words that change nothing.", required=True),
    "instead": Key("map", "What is said instead where there are no keys.", required=True),
    "with a button": Key("map", "What is said instead where there is a button.", required=True),
    "said": Key("map", "What is said.", required=True),
}


@dataclass(frozen=True)
class Words:
    """A language's file."""

    call: tuple[str, ...]
    heard: Mapping[str, tuple[str, ...]]
    start: tuple[str, ...]
    go_on_with: tuple[str, ...]
    go_on: tuple[str, ...]
    note_this: tuple[str, ...]
    being: frozenset[str]
    fillers: tuple[str, ...]
    instead: Mapping[str, str]
    with_a_button: Mapping[str, str]
    said: Mapping[str, str]
    examples: tuple[str, ...]


@lru_cache(8)
def load_words(language: str) -> Words:
    """The words of a language; English where it has none of its own.

    Raises:
        AuthorError: the file is wrong.
    """
    folder = resources.files("handsfree") / "languages"
    path = Path(str(folder / f"{language}.standby.yaml"))
    if not path.is_file():
        path = Path(str(folder / "en.standby.yaml"))
    got = read(path).fields(_KEYS)
    heard = {name: value.texts() for name, _, value in got["heard"].pairs()}
    said = {name: value for name, _, value in got["said"].pairs()}
    if missing := set(HEARD) ^ set(heard):
        raise got["heard"].wrong(f"'{min(missing)}' is missing, or is not known here",
                                 "have exactly those that en.standby.yaml has")
    plain = {name: tuple(map(normal, texts)) for name, texts in heard.items()}
    return Words(
        _plain(got["call"]), plain, _around(got["start"]), _around(got["go on with"]),
        _plain(got["go on"]), _plain(got["note this"]), frozenset(_plain(got["being"])),
        _plain(got["fillers"]),
        {name: value.text() for name, _, value in got["instead"].pairs()},
        {name: value.text() for name, _, value in got["with a button"].pairs()},
        {name: value.text() for name, value in said.items() if name != "examples"},
        said["examples"].texts())


def _plain(entry: Entry) -> tuple[str, ...]:
    return tuple(map(normal, entry.texts()))


def _around(entry: Entry) -> tuple[str, ...]:
    """Patterns with "{}" for a name; it follows where none is given."""
    return tuple(text if "{}" in text else f"{text} {{}}" for text in entry.texts())


def languages() -> tuple[str, ...]:
    """Codes of the languages that have words for standing by."""
    folder = resources.files("handsfree") / "languages"
    return tuple(name for name in language_names() if (folder / f"{name}.standby.yaml").is_file())


def good_call(call: str, words: Words, language: Language) -> str:
    """The call phrase in normal form.

    Raises:
        InputError: it is too short, or something that is said for another purpose.
    """
    said = normal(call)
    taken = {normal(phrase.replace("{}", "")) for phrases in (
        *words.heard.values(), *language.commands.values(), words.start, words.go_on_with,
        words.go_on) for phrase in phrases}
    if said in taken:
        raise InputError(f"'{call}' cannot call it: it is a command; choose a call phrase that is"
                         " said for nothing else.")
    letters = unicodedata.normalize("NFD", said.replace(" ", ""))  # Korean ones, too, one by one
    if len(said.split()) < 2 or len(letters) < _LEAST_SOUNDS:
        raise InputError(f"'{call}' is too short for a call phrase; take two words or more, such"
                         f" as '{words.call[0]}'.")
    return said


# --- what is asked for ---------------------------------------------------------------------------

@dataclass(frozen=True)
class Start:
    """Begin or go on with a list; '' for the unfinished one."""

    checklist: str
    go_on: bool = False


@dataclass(frozen=True)
class Simple:
    """One of `HEARD`, or "leave": may we drive off, which is in no taught words."""

    id: str


@dataclass(frozen=True)
class Question:
    """Whether a fact is so, or not so."""

    fact: str
    so: bool


@dataclass(frozen=True)
class Questions:
    """One question about each of several things that were not told apart."""

    each: tuple[Question, ...]


@dataclass(frozen=True)
class Told:
    """What is said to be different on the rig."""

    facts: tuple[tuple[str, bool], ...]


@dataclass(frozen=True)
class Between:
    """A statement that could mean several things."""

    choices: tuple[str, ...]


@dataclass(frozen=True)
class Called:
    """The call phrase."""


@dataclass(frozen=True)
class NoList:
    """A list was asked for that is not there."""


Request = (Start | Simple | Command | Remind | Note | Question | Questions | Told | Between | Called | NoList)
"""What may be asked for; commands, reminders and notes are those of any conversation."""


@dataclass(frozen=True)
class Phrases:
    """What may be said of one rig and its lists.

    lists: id to what it is called, the spoken name first.
    clauses: of the facts that can be on record.
    lacking: of those that cannot, since the rig has nothing of the kind; they are asked about.
    """

    words: Words
    language: Language
    call: tuple[str, ...]
    lists: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    clauses: Mapping[str, Clauses] = field(default_factory=dict)
    lacking: Mapping[str, Clauses] = field(default_factory=dict)

    def asleep(self) -> Grammar:
        """Nothing but the call."""
        return Grammar(frozenset(self.call))

    def awake(self) -> Grammar:
        """Everything, for a recogniser."""
        return Grammar(frozenset(self._all()), names=frozenset(self._names), between_lists=True,
                       means=lru_cache(maxsize=512)(self.understand))

    def _all(self) -> Iterator[str]:
        yield from self.call
        for phrases in self.words.heard.values():
            yield from phrases
        yield from self.words.go_on
        for name in self._names:
            yield name
            for around in (*self.words.start, *self.words.go_on_with):
                yield normal(around.replace("{}", name))
        for told in self.clauses.values():
            for so in (True, False):
                yield told.of(so)
        yield from self._asked
        yield from self._matcher.phrases(self._expected)

    @cached_property
    def _names(self) -> dict[str, str]:
        """Spoken name to list; one that two lists share is neither's."""
        found: dict[str, set[str]] = {}
        for checklist, names in self.lists.items():
            for name in names:
                found.setdefault(self._bare(name), set()).add(checklist)
        return {name: next(iter(ids)) for name, ids in found.items() if len(ids) == 1 and name}

    @cached_property
    def _matcher(self) -> Matcher:
        return Matcher(self.language)

    @property
    def _expected(self) -> Expected:
        return Expected(commands=MANNER | ANSWERS | {"remind"})

    def understand(self, text: str) -> Request | None:
        """What was asked for; None where it cannot be told."""
        said = normal(text)
        if said in self.call:
            return Called()
        for name, phrases in self.words.heard.items():
            if said in phrases:
                return Simple(name)
        if said in self.words.go_on:
            return Start("", go_on=True)
        found = self._list(said)
        if isinstance(found, Start):
            return found
        if (natural := self._natural(text)) is not None:
            return natural
        if found is not None:
            return found
        if note := next((said[len(lead) + 1:] for lead in self.words.note_this
                         if said.startswith(f"{lead} ")), ""):
            return Note(note)
        intent = self._matcher.interpret(text, self._expected)
        if isinstance(intent, (Command, Remind)):
            return intent
        return self._question(said) or self._statement(text)

    def taught(self, asked: Request | None) -> str:
        """An order in the words that are taught for it; '' for anything else."""
        if isinstance(asked, Simple):
            return self.words.heard[asked.id][0]
        if not isinstance(asked, Start):
            return ""
        if not asked.checklist:
            return self.words.go_on[0]
        around = (self.words.go_on_with if asked.go_on else self.words.start)[0]
        return normal(around.replace("{}", self.lists[asked.checklist][0]))

    def _natural(self, text: str) -> Simple | Start | None:
        """The same in words of one's own; None where they mean nothing, or two things."""
        sayings = self._matcher.sayings
        words = sayings.plain(text)
        meant = sayings.means(words, standing_by=True)
        if len(meant) == 1:
            return Start("", go_on=True) if meant[0] == "go on" else Simple(meant[0])
        names = {sayings.plain(name): checklist for name, checklist in self._names.items()}
        lists = {(names[name], kind != "start")
                 for kind, name in sayings.named(words, standing_by=True) if name in names}
        return Start(*lists.pop()) if len(lists) == 1 and not meant else None

    def _bare(self, text: str) -> str:
        """Without words that change nothing."""
        padded = f" {normal(text)} "
        for filler in self.words.fillers:
            padded = padded.replace(f" {filler} ", " ")
        return " ".join(padded.split())

    def _list(self, said: str) -> Start | NoList | None:
        names, bare = self._names, self._bare(said)
        if bare in names:
            return Start(names[bare])
        around = [(pattern.split("{}"), go_on) for go_on, some in (
            (True, self.words.go_on_with), (False, self.words.start)) for pattern in some]
        for (before, after), go_on in sorted(around, key=lambda one: -len(one[0][0] + one[0][1])):
            lead, end = normal(before), normal(after)
            if (inner := _between(bare, lead, end)) is not None:
                name = inner.removeprefix("the ")
                fit = next((names[one] for one in (name, f"the {name}") if one in names), None)
                return Start(fit, go_on) if fit is not None else NoList()
        return None

    def as_question(self, clause: str) -> str:
        """'is the gas open' of 'the gas is open'; '' for a clause without such a word."""
        words = normal(clause).split()
        for at, word in enumerate(words):
            if at and word in self.words.being:
                return " ".join([word, *words[:at], *words[at + 1:]])
        return ""

    @cached_property
    def _asked(self) -> dict[str, Question]:
        """What may be asked of the record, by its words."""
        asked = {normal(self.as_question(told.of(so))): Question(fact, so)
                 for fact, told in {**self.lacking, **self.clauses}.items() for so in (True, False)}
        asked.pop("", None)
        return asked

    def _question(self, said: str) -> Question | Questions | None:
        bare = self._bare(said)
        if bare in self._asked:
            return self._asked[bare]
        first, *rest = bare.split() or [""]
        if first not in self.words.being:
            return None
        for clauses in (self.clauses, self.lacking):
            found: set[tuple[str, bool]] = set()
            for at in range(1, len(rest) + 1):
                words = [*rest[:at], first, *rest[at:]]
                told = understand(" ".join(words), clauses, self.language.code)
                if len(told.facts) == 1:
                    found.update(told.facts.items())
                elif told.choices and (each := self._each(words, told.choices)):
                    return Questions(each)
            if found:
                return Question(*next(iter(found))) if len(found) == 1 else None
        return None

    def _each(self, words: list[str], choices: tuple[str, ...]) -> tuple[Question, ...]:
        """The question of each of several things that the words could mean: with its own name in them."""
        found: dict[str, bool] = {}
        for choice in map(str.split, choices):
            for end, at in product(range(1, len(choice)), range(len(words))):
                told = understand(" ".join([*words[:at], *choice[:end], *words[at:]]), self.clauses,
                                  self.language.code).facts
                found |= told if len(told) == 1 else {}
        return tuple(Question(fact, so) for fact, so in found.items())

    def _statement(self, text: str) -> Told | Between | Question | None:
        if asks(text):  # "the gas is open?"
            told = understand(normal(text), self.clauses, self.language.code)
            return Question(*next(iter(told.facts.items()))) if len(told.facts) == 1 else None
        told = understand(text, self.clauses, self.language.code)
        if told.facts:
            return Told(tuple(told.facts.items()))
        return Between(told.choices) if told.choices else None


def _between(said: str, lead: str, end: str) -> str | None:
    """What stands between two words; None where they are not there, or nothing is between."""
    lead, end = f"{lead} " if lead else "", f" {end}" if end else ""
    if not said.startswith(lead) or not said.endswith(end) or len(said) <= len(lead) + len(end):
        return None
    return said[len(lead):len(said) - len(end)]


def spoken_names(title: str, checklist: str, others: Iterable[str] = ()) -> tuple[str, ...]:
    """What a list is called: its name in plain words, its title, and what else it is called."""
    plain = normal(checklist.replace("-", " ").replace("_", " "))
    return tuple(dict.fromkeys((plain, normal(title), *map(normal, others))))
