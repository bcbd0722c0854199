"""Asks a newcomer about a rig by voice: its kind, what differs from what is usual, its figures.

No audio and no clock.  May import this room, the draft of a rig file, the checklist's rig files, language,
hearing's types.  It is a `Conversation` without a checklist, so that the session's loop runs it like any
other.  Each answer is in the draft before the next question is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from math import inf
from pathlib import Path
from typing import Any

from handsfree.checklist.bounds import BOUNDS
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig, amount, system_of, written
from handsfree.checklist.schema import KINDS
from handsfree.engine.state import Event, Finish, Mode, State
from handsfree.hearing.early_finalisation import FIRM
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection, normal
from handsfree.language.intents import Command, Number, OtherUnit
from handsfree.language.matcher import Expected
from handsfree.language.model import Language
from handsfree.language.readings import Reading, say_reading
from handsfree.language.verbalising import say_number
from handsfree.language.words import asks
from handsfree.session.conversation import Conversation, Log
from handsfree.session.manner import COMMANDS as MANNER
from handsfree.session.understanding import WRITTEN
from handsfree.session.wording import Prompt, sentence
from handsfree.spelling import as_spelled
from handsfree.storage.rig_draft import CORDS, FIGURES, HIGHER, Draft, possible

BODIES = frozenset({"fifth wheel", "pop-up roof", "truck camper", "motorhome", "two legs"})
"""What the kind decides, or the cord: nobody is asked whether they have it as well."""

COUNTS = (2, 3, 4)
"""How many of a kind can be said."""

_COMMANDS = frozenset({"yes", "no", "confirm", "deny", "repeat", "help", "take_back", "pause", "finish", "detail"})

BREATH = 8
"""So many parts are named in one breath: seven, give or take two, can be kept in mind (Miller 1956)."""

Act = Callable[[], list[Prompt]]
"""What an answer does; what is said then."""


def kind_name(kind: Rig) -> str:
    """What the templates call a kind: its file's name without the number in front."""
    return Path(kind.file).stem.lstrip("0123456789").lstrip("-")


class RigInterview(Conversation):
    """Fills a draft."""

    def __init__(self, draft: Draft, language: Language, log: Log, **options: Any) -> None:
        super().__init__(Checklist("", "", {}, {}, ()), language, log, **options)
        self.state = State(frozenset(), (), mode=Mode.CLOSED)
        self.draft = draft
        self.given = draft.kept()
        self.complete = False
        self._broken_off = False
        self._moment = object()
        self._doubted: tuple[str, Act] | None = None
        """What may have been said, and what it would do."""
        self._undo: list[list[str]] = []
        """The parts as they were before each difference that was just told."""
        self._last: list[Prompt] = []
        self._heard_of: set[str] = set()
        """Parts that some rigs have besides, which were named before; the rest is asked about next."""
        self._naming: list[str] = []
        """The names so far of several of a kind that are asked for."""

    # --- what the loop asks ----------------------------------------------------------------------

    @property
    def over(self) -> bool:
        """All is answered, or the rest is left for another time."""
        return self.complete or self._broken_off

    @property
    def moment(self) -> object:
        """Another object with each question."""
        return self._moment

    @property
    def reads(self) -> bool:
        """Whether a number is wanted now."""
        return self._at in FIGURES

    @property
    def _at(self) -> str:
        return next(name for name in self.draft.order(self.given, more=True) if name not in self.given)

    def grammar(self) -> Grammar:
        """What may be said now."""
        found = self.matcher.grammar(self._expected)
        return replace(found, phrases=found.phrases | set(self._own()))

    @property
    def _expected(self) -> Expected:
        unit = self.draft.unit(self._at, self.given) if self.reads and self._doubted is None else None
        return Expected(commands=_COMMANDS | (MANNER - {"by_heart", "step_by_step"}), unit=unit)

    def finalisation_delay(self, text: str) -> float:
        """Seconds of silence that `text` needs."""
        more = f"{text} "
        longer = any(one.startswith(more) for one in self.grammar().phrases)
        return inf if longer or self.reads and text not in self._own() else FIRM

    def replies(self) -> list[str]:
        """Nothing is made ready: there are too many answers."""
        return []

    def remind(self, t: float) -> list[Prompt]:
        """Nothing comes with time."""
        return []

    def waiting(self, t: float) -> list[tuple[str, float]]:
        """Nothing waits here."""
        return []

    def stopped(self, heard: Hypothesis, t: float) -> list[Prompt]:
        """It falls silent, and listens."""
        return []

    # --- asking ----------------------------------------------------------------------------------

    def opening(self) -> list[Prompt]:
        """The first words."""
        count = len(self._answered())
        key = "opening" if not count else "going on one" if count == 1 else "going on"
        return [self._say(key, count=say_number(Fraction(count), self.language)), *self._ask()]

    def _answered(self) -> list[str]:
        return [name for name in self.draft.order(self.given, more=True) if name in self.given]

    def _ask(self) -> list[Prompt]:
        """The question at hand."""
        self._moment, self._doubted = object(), None
        at = self._at
        if at != "more":
            self._heard_of.clear()
        if at == "kind":
            asked = self._say("kind", kinds=self._either(self._kind_words(kind)[0] for kind in self.draft.kinds))
        elif at == "parts":
            asked = self._say("parts", kind=self._kind_words(self.draft.kind(self.given))[0],
                              parts=self._parts_said(self._parts))
        elif at == "more":
            asked = self._more()
        elif at == "cord":
            asked = self._say("cord", choices=self._either(self._amps(one) for one in CORDS))
        elif at == "right":
            asked = self._say("right", told=" ".join(self._told()), **self._answers_known())
        elif at in KINDS:
            self._naming = []
            asked = self._where(at)
        else:
            question, unit = self.draft.questions[at].text.partition(" Zero if")[0], self._unit_words(at)
            asked = self._say("figure" if unit not in question.lower() else "figure with its unit", ask=question,
                              unit=unit, unknown=self._ways("unknown")[0])
        self._last = [asked]
        return [asked]

    def _more(self) -> Prompt:
        """Asks for what it has besides, a breath of it; what most kinds have comes first."""
        left = self._besides()
        key = "others" if self._heard_of else "more"
        return self._say(key if len(left) <= BREATH else f"{key} and the rest", parts=self._parts_said(left[:BREATH]),
                         none=self._ways("none")[0], command=self.language.commands["detail"][0])

    def _besides(self) -> list[str]:
        """What some have besides and was not named yet."""
        lacking = sorted(self._lacking(), key=lambda name: -sum(name in kind.has for kind in self.draft.kinds))
        return [name for name in lacking if name not in self._heard_of]

    def _where(self, kind: str) -> Prompt:
        """Asks for the next of several of a kind."""
        free = [spot for spot in self._places() if spot not in self._naming]
        return self._say("where", things=self._several_said(kind), places=self._either(free[:4]),
                         number=say_number(Fraction(len(self._naming) + 1), self.language))

    def _places(self) -> dict[str, str]:
        """Where one of several can be, as it is said, and its name in the rig file."""
        told = [way.partition("=") for way in self._ways("places")]
        return {said.strip(): name.strip() or said.strip() for said, _, name in told}

    def _several_said(self, kind: str) -> str:
        """'two slide-outs'."""
        return f"{say_number(Fraction(self.given['several'][kind]), self.language)} {self._ways(kind)[0]}"

    def wanted(self) -> Prompt:
        """What may be answered here."""
        at = self._at
        if self._doubted is not None:
            return self._say("agree", **self._answers_known())
        if at == "parts":
            return self._say("differs", part=as_spelled(self._example()), **self._answers_known())
        return self._ask()[-1] if at != "right" else self._say("agree", **self._answers_known())

    def _answers_known(self) -> dict[str, str]:
        commands = self.language.commands
        return {"confirm": commands["confirm"][0], "deny": commands["deny"][0]}

    def _told(self) -> Iterator[str]:
        """All answers once more, as far as they are not what is usual."""
        given, kind = self.given, self.draft.kind(self.given)
        has, usual = set(self._parts) - {"two legs"}, kind.has & self.draft.traits.keys() - {"two legs"}
        yield sentence(self._kind_words(kind)[0].capitalize())
        for key, some in (("with", has - usual), ("without", usual - has)):
            if some:
                yield self._say(key, part=self._parts_said(sorted(some))).text
        said = {name: spot for spot, name in self._places().items()}
        for several in self.draft.several(given):
            names = self.wording.listed((said.get(name, name) for name in given[several]), most=99)
            yield self._say("several", things=self._ways(several)[0].capitalize(), names=names).text
        if "cord" in given:
            yield self._say("figure.cord", reading=self._amps(given["cord"])).text
        for name in FIGURES:
            if isinstance(given.get(name), float):
                yield self._say(f"figure.{name}", reading=self._in_words(name, given[name])).text
        if any(given.get(name, 0.0) is None for name in FIGURES):
            yield self._say("rest unknown").text

    # --- words -----------------------------------------------------------------------------------

    def _say(self, key: str, tone: str = "", **values: str) -> Prompt:
        return self.wording.say(f"rig.{key}", tone=tone, **values)

    def _ways(self, key: str) -> list[str]:
        """The wordings of something that may be said here."""
        return [one.strip() for one in self.language.templates[f"rig.say {key}"].split(";")]

    def _kind_words(self, kind: Rig) -> list[str]:
        return self._ways(f"kind {kind_name(kind)}")

    def _either(self, words: Iterable[str]) -> str:
        *some, last = words
        return f"{', '.join(some)} {self.language.templates['rig.or']} {last}"

    def _parts_said(self, names: Iterable[str]) -> str:
        """As one list, without what the kind's own name says."""
        told = BODIES.union(self._kind_words(self.draft.kind(self.given)))
        return self.wording.listed((as_spelled(name) for name in names if name not in told), most=99)

    def _unit_words(self, name: str) -> str:
        unit = self.draft.unit(name, self.given)
        return self.language.units[unit].many if unit in self.language.units else unit.replace("_", " ")

    def _in_words(self, name: str, value: float) -> str:
        """A figure, kept in its own unit, in words of the rig's system."""
        told = str(written(name, value, system_of(self.draft.has(self.given)))).partition(" ")[0]
        return say_reading(Reading(Fraction(told), self.draft.unit(name, self.given)), self.language)

    def _amps(self, amps: str) -> str:
        return say_reading(Reading(Fraction(amps), "amps"), self.language)

    # --- parts -----------------------------------------------------------------------------------

    @property
    def _parts(self) -> list[str]:
        """Those of the kind, with what was told to differ so far."""
        usual = self.draft.kind(self.given).has
        found: list[str] = self.given.get("parts") or self.given.get("so far") or [
            name for name in self.draft.traits if name in usual]
        return list(found)

    def _lacking(self) -> list[str]:
        has = set(self._parts)
        return [name for name in self.draft.traits if name not in has | BODIES and possible(name, has)]

    def _example(self) -> str:
        return next((name for name in reversed(self._parts) if name not in BODIES), "")

    def _differ(self, name: str, has: bool) -> list[Prompt]:
        """The rig has this part, or has it not."""
        self._undo.append(self._parts)
        parts = [one for one in self._parts if one != name] + ([name] if has else [])
        self._keep_parts([one for one in parts if possible(one, set(parts))])
        self._doubted = None
        key = "part with" if has else "part without"
        end = self._ways("none" if self._at == "more" else "all")[0]
        self._moment, self._last = object(), [self._say(key, part=as_spelled(name), end=end, tone="heard")]
        return self._last

    def _keep_parts(self, parts: list[str]) -> None:
        self.given["parts" if "parts" in self.given else "so far"] = parts
        self.draft.keep(self.given)

    # --- answering -------------------------------------------------------------------------------

    def _own(self) -> Mapping[str, Act]:
        """What may be said here besides commands and readings, and what it does."""
        found: dict[str, Act] = {normal(way): self._back for way in self._ways("back")}
        if self._doubted is not None:
            return found
        at = self._at
        if at == "kind":
            for place, kind in enumerate(self.draft.kinds, 1):
                for way in self._kind_words(kind):
                    found[normal(way)] = self._answering(place)
        elif at in ("parts", "more"):
            found |= {phrase: self._differing(name, has) for phrase, (name, has) in self._differences().items()}
            found |= {phrase: self._counting(kind, count) for phrase, (kind, count) in self._counts().items()}
            for way in self._ways("none" if at == "more" else "all"):
                found[normal(way)] = self._settle_parts
        elif at == "cord":
            for amps in CORDS:
                number = say_number(Fraction(amps), self.language)
                ways = (number, self._amps(amps), *(way.replace("{}", number) for way in self._ways("cord")))
                for way in ways:
                    found[normal(way)] = self._answering(amps)
            for way in self._ways("unknown"):
                found[normal(way)] = self._answering("50" if "two legs" in self._parts else "30")
        elif at in KINDS:
            found |= {normal(spot): self._placing(at, spot) for spot in self._places()}
        elif at != "right":
            for way in self._ways("unknown"):
                found[normal(way)] = lambda: self._figure(at, None)
        return found

    def _differences(self) -> dict[str, tuple[str, bool]]:
        """How it is said that a part is there, or is not, where that differs from what is noted so far."""
        has = set(self._parts)
        return {normal(way.replace("{}", as_spelled(name))): (name, name not in has)
                for name in self.draft.traits
                if name not in BODIES and (name in has or possible(name, has))
                for way in self._ways("without" if name in has else "with")}

    def _counts(self) -> dict[str, tuple[str, int]]:
        """How it is said that there are several of a kind."""
        has = set(self._parts)
        return {normal(way.replace("{}", f"{say_number(Fraction(count), self.language)} {things}")): (kind, count)
                for kind, trait in KINDS.items() if trait in self.draft.traits and possible(trait, has | {trait})
                for count in COUNTS for things in self._ways(kind) for way in self._ways("counted")}

    def _at_once(
        self, words: tuple[str, ...], told: Mapping[str, tuple[str, bool]]
    ) -> list[tuple[str, bool]]:
        """Several differences in one sentence, each told in one of these ways; none where a word is left over."""
        for end in range(len(words), 0, -1):
            if (one := " ".join(words[:end])) not in told:
                continue
            rest = words[end:]
            join = next((len(join) for join in self.matcher.sayings.joins if rest[:len(join)] == join), 0)
            if not rest or (others := self._at_once(rest[join:], told)):
                return [told[one], *(others if rest else ())]
        return []

    def _differ_all(self, differences: list[tuple[str, bool]]) -> list[Prompt]:
        """Each, as if it had been said alone."""
        told = [self._say("with" if has else "without", part=as_spelled(name))
                for name, has in differences[:-1]]
        for name, has in differences:
            self._differ(name, has)
        return [*told, *self._last]

    def _counting(self, kind: str, count: int) -> Act:
        return lambda: self._count(kind, count)

    def _count(self, kind: str, count: int) -> list[Prompt]:
        """There are so many of a kind; they are named later."""
        self.given["several"] = {**self.given.get("several", {}), kind: count}
        self.given.pop(kind, None)
        if KINDS[kind] not in self._parts:
            self._differ(KINDS[kind], True)
        self.draft.keep(self.given)
        self._doubted, self._moment = None, object()
        end = self._ways("none" if self._at == "more" else "all")[0]
        told = self._several_said(kind)
        self._last = [self._say("part counted", part=told[:1].upper() + told[1:], end=end, tone="heard")]
        return self._last

    def _placing(self, kind: str, place: str) -> Act:
        return lambda: self._place(kind, place)

    def _place(self, kind: str, place: str) -> list[Prompt]:
        """The next of several of a kind is there."""
        self._doubted, self._moment = None, object()
        if place not in self._naming:
            self._naming.append(place)
        if len(self._naming) == self.given["several"][kind]:
            places = self._places()
            return self._answer([places[spot] for spot in self._naming],
                                self.wording.listed(self._naming, most=99))
        self._last = [self._where(kind)]
        return self._last

    def _answering(self, value: Any) -> Act:
        return lambda: self._answer(value)

    def _differing(self, name: str, has: bool) -> Act:
        return lambda: self._differ(name, has)

    def _answer(self, value: Any, said: str = "") -> list[Prompt]:
        """The question at hand is answered; the draft first, then the next question."""
        at = self._at
        self.given[at] = value
        self._undo = []
        if at == "right":
            self.complete = True
            return [self._say("done")]
        self.draft.keep(self.given)
        told = Prompt("rig.noted", sentence(said[:1].upper() + said[1:]), tone="heard")
        return [told, *self._ask()]

    def _settle_parts(self) -> list[Prompt]:
        """What the rig has is told."""
        has = set(self._parts)
        good = [name for name in self._parts if possible(name, has)]
        if self._at == "more":
            self.given["parts"] = good
            return self._answer(True)
        self.given.pop("so far", None)
        return self._answer(good)

    def _back(self) -> list[Prompt]:
        """To the question before, or before the last difference or name."""
        if self._at in KINDS and self._naming:
            self._naming, self._doubted, self._moment = self._naming[:-1], None, object()
            self._last = [self._where(self._at)]
            return self._last
        if self._undo:
            self._keep_parts(self._undo.pop())
            return [Prompt("rig.noted", "", tone="heard"), *self._ask()]
        answered = self._answered()
        if not answered:
            return [self._say("first"), *self._ask()]
        dropped = {answered[-1]} | ({"so far"} if answered[-1] in ("kind", "parts") else set())
        self.given = {name: value for name, value in self.given.items() if name not in dropped}
        self.draft.keep(self.given)
        return [Prompt("rig.noted", "", tone="heard"), *self._ask()]

    def _figure(self, name: str, value: float | None) -> list[Prompt]:
        """A number of a placard, or that it is not known."""
        wrong = self.draft.wrong(name, value, self.given)
        if not wrong:
            return self._answer(value, "" if value is None else self._in_words(name, value))
        least, _ = self.draft.least(name, self.given)
        known = {"least": self._in_words(name, least) if HIGHER.get(name) else ""}
        if wrong == "above usual":
            known["usual"] = self._in_words(name, self.draft.limit(name).default)
        if wrong == "bounds":
            assert value is not None
            low, high = BOUNDS[name]
            known |= {"reading": self._in_words(name, value), "low": self._in_words(name, low),
                      "high": self._in_words(name, high)}
        return [self._say(f"wrong {wrong}", tone="attention", **known)]

    # --- hearing ---------------------------------------------------------------------------------

    def hear(self, heard: Heard, t: float) -> list[Prompt]:
        """One utterance."""
        if isinstance(heard, Rejection):
            if heard.reason in ("noise", "too short"):
                return []
            sure = heard.sure >= WRITTEN and " " in heard.written  # no gust says several words
            act = self._act(heard.written, t, typed=sure) if heard.written else None
            if act and sure and not self.reads:
                return act()
            return self._doubt(heard.written, act) if act else [self._unclear()]
        typed = heard.engine == "keyboard"
        act = self._act(heard.text, t, typed) if heard.confidence >= self.bands.unsure else None
        if act is None:
            return [self._unclear()]
        if heard.confidence < self.bands.needed(heard.text):
            return self._doubt(heard.text, act)
        return act()

    def _unclear(self) -> Prompt:
        return self.wording.say("unclear", tone="attention")

    def _doubt(self, words: str, act: Act) -> list[Prompt]:
        """Ask whether it was said; an answer to that question is never asked about in turn."""
        if self._doubted is not None:
            return [self._say("agree", **self._answers_known())]
        self._doubted, self._moment = (words, act), object()
        return [self._say("did you say", tone="attention", words=words)]

    def _act(self, text: str, t: float, typed: bool) -> Act | None:
        """What the words do here; None where they mean nothing."""
        said = normal(text)
        own = {} if asks(text) else self._own()
        if said in own:
            return own[said]
        intent = self.matcher.interpret(text, self._expected)
        if isinstance(intent, Number):
            return lambda: self._read(intent.readings)
        if isinstance(intent, OtherUnit):
            return lambda: [self.wording.say("other unit", unit=self._unit_words(self._at))]
        if isinstance(intent, Command):
            return lambda: self._command(intent.id, t, typed)
        if not asks(text) and self._doubted is None and self._at in ("parts", "more") and (
                found := self._at_once(tuple(said.split()), self._differences())):
            return lambda: self._differ_all(found)
        words = self.matcher.sayings.plain(text)
        plain = {self.matcher.sayings.plain(one): act for one, act in own.items()}
        if words in plain:
            return plain[words]
        return self._back if "back" in self.matcher.sayings.means(words) else None

    def _read(self, readings: tuple[Reading, ...]) -> list[Prompt]:
        if len(readings) > 1:
            return [self._which(readings)]
        at = self._at
        value = amount(f"{float(readings[0].value):g}", at, system_of(self.draft.has(self.given)))
        return self._figure(at, value)

    def _command(self, command: str, t: float, typed: bool) -> list[Prompt]:
        if command in MANNER:
            return [self._speak_otherwise(command, t)]
        if command == "finish":
            return self._leave()
        if command == "take_back":
            return self._back()
        if command == "pause":
            return [self._say("wait")]
        yes = command in ("yes", "confirm")
        if self._doubted is not None and command in ("yes", "no", "confirm", "deny"):
            (_, act), self._doubted, self._moment = self._doubted, None, object()
            return act() if yes else self._ask()
        if command == "repeat":
            return list(self._last)
        if command == "help":
            return [self.wanted()]
        at = self._at
        if at in ("parts", "right") and yes:
            if command == "yes" and not typed:  # one short word may have been a gust
                return [self._say("agree", **self._answers_known())]
            return self._settle_parts() if at == "parts" else self._answer(True)
        if at == "parts":
            return self._settle_parts() if self._undo else [self.wanted()]  # no: nothing else differs
        if command == "detail":
            if at == "more":
                self._heard_of.update(self._besides()[:BREATH])
                if not self._besides():
                    self._heard_of.clear()  # from the first on
            return self._ask()
        if at == "more" and not yes:
            return self._settle_parts()
        return self._back() if at == "right" else [self.wanted()]

    def take(self, event: Event, t: float, **about: Any) -> list[Prompt]:
        """The loop's own events: the end, or the question once more."""
        return self._leave() if isinstance(event, Finish) else list(self._last)

    def _leave(self) -> list[Prompt]:
        self._broken_off = True
        return [self._say("left")]
