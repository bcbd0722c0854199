"""The conversation between two checklists: asleep until it is called, then ready for a while.

May import this room, the session's conversation, the engine's states, hearing's types, language.
It is a `Conversation` without a checklist, so that the session's loop runs it like any other.  What
needs more than words (a list, the interview) is left in `order`, and the conversation is over.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import inf
from typing import Any, Protocol

from handsfree.checklist.model import Checklist
from handsfree.engine.state import Event, Finish, Mode, State
from handsfree.errors import HandsfreeError
from handsfree.hearing.early_finalisation import QUICK
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection
from handsfree.language.intents import Command, Note, Remind
from handsfree.language.model import Language
from handsfree.language.readings import Reading, say_reading
from handsfree.language.statements import is_evidence
from handsfree.session.conversation import Conversation, Log
from handsfree.session.correctable import told_back
from handsfree.session.reminders import Reminder
from handsfree.session.wording import Prompt
from handsfree.standby.answering import Answers, spoken_language
from handsfree.standby.phrases import (
    ANSWERED,
    MANNER,
    Between,
    Called,
    NoList,
    Phrases,
    Question,
    Questions,
    Request,
    Simple,
    Start,
    Told,
)
from handsfree.standby.wake_phrase import SURE
from handsfree.work.steps import ASKED

AWAKE = 25.0
"""Seconds that it listens for more than its call after the last word."""

PATIENT = 2
"""So often in a row it says what can be said; then it sleeps, and says so."""

EXAMPLES = 4
"""Things that can be said, named at a time."""


class Deeds(Protocol):
    """What is written down standing by.  Each raises HandsfreeError where it cannot be."""

    def correct(self, so: Mapping[str, bool]) -> None: ...

    def note(self, audio: str, text: str) -> None: ...

    def unproved(self, checklist: str) -> bool:
        """Whether a list was not proved since it was changed."""


@dataclass(frozen=True)
class Wanted:
    """What is to be carried out before it stands by again."""

    checklist: str = ""
    resume: bool = False
    interview: bool = False


@dataclass(frozen=True)
class _Pending:
    """A question of ours that is open."""

    kind: str
    """record, unfinished, clock or words."""
    facts: tuple[tuple[str, bool], ...] = ()
    checklist: str = ""
    words: str = ""


class StandbyConversation(Conversation):
    """Stands by for one rig."""

    def __init__(
        self, phrases: Phrases, answers: Answers, deeds: Deeds, language: Language, log: Log, *,
        clock_doubted: bool = False, button_calls: bool = False, **options: Any,
    ) -> None:
        """`clock_doubted`: the time of day has to be confirmed before it is told; `button_calls`:
        a key for "done" is a call here."""
        super().__init__(Checklist("", "", {}, {}, ()),
                         spoken_language(language, phrases.words), log, **options)
        self.state = State(frozenset(), (), mode=Mode.CLOSED)
        self.phrases, self.answers, self._deeds = phrases, answers, deeds
        self.asleep = True
        self.clock_doubted = clock_doubted
        self._button_calls = button_calls
        self.order: Wanted | None = None
        self.leaving = False
        """Asked to end for good."""
        self._clock_asked = False
        self._pending: _Pending | None = None
        self._sleeps: float | None = None
        self._lost = 0
        self._moment = object()
        self._last: list[Prompt] = []

    # --- what the loop asks ----------------------------------------------------------------------

    @property
    def over(self) -> bool:
        """Something is wanted, or it is asked to end."""
        return self.leaving or self.order is not None

    @property
    def moment(self) -> object:
        """Another object when it wakes or falls asleep."""
        return self._moment

    def grammar(self) -> Grammar:
        """What may be said now."""
        return self.phrases.asleep() if self.asleep else self.phrases.awake()

    def finalisation_delay(self, text: str) -> float:
        """Seconds of silence that `text` needs; the call waits for all of it."""
        if self.noting or self.asleep:
            return inf
        more = f"{text} "
        return inf if any(one.startswith(more) for one in self.grammar().phrases) else QUICK

    def replies(self) -> list[str]:
        """What will have to be said, to be made ready."""
        return [self.answers.say("yes").text]

    # --- sleeping and waking ---------------------------------------------------------------------

    def begin_anew(self, prompts: list[Prompt], *, awake: bool = False) -> list[Prompt]:
        """Stand by, saying this first."""
        self.order, self._pending, self._lost, self.noting = None, None, 0, False
        self._sleep(not awake)
        return prompts

    def _sleep(self, asleep: bool) -> None:
        self.asleep, self._moment, self._sleeps = asleep, object(), None

    def call(self) -> list[Prompt]:
        """It was called, by voice or by button."""
        self._pending, self._lost, self.noting = None, 0, False
        self._sleep(False)
        if self.clock_doubted and not self._clock_asked:
            self._clock_asked = True
            self._pending = _Pending("clock")
            return [self.answers.say("yes", tone="heard"), self.answers.clock_doubted()]
        return [self.answers.say("yes", tone="heard")]

    def remind(self, t: float) -> list[Prompt]:
        """What time brings while nobody speaks: a reminder, or sleep."""
        if self.noting:
            return []
        if due := self.reminders.take_due(t):
            return [self._reminder(due, t, "reminder")]
        if not self.asleep:
            if self._sleeps is None:
                self._sleeps = t + AWAKE
            elif t >= self._sleeps:
                self._pending = None
                self._sleep(True)
                return [Prompt("standby.asleep", "", tone="refused")]
        return []

    def _reminder(self, due: Reminder, t: float, key: str) -> Prompt:
        return self.answers.say("reminder", tone="attention", reading=self._minutes_of(due.minutes))

    def _minutes_of(self, minutes: Fraction) -> str:
        return say_reading(Reading(minutes, "minutes"), self.language)

    # --- hearing ---------------------------------------------------------------------------------

    def hear(self, heard: Heard, t: float) -> list[Prompt]:
        """One utterance."""
        if self._button_calls and heard.engine == "keyboard" and (
                getattr(heard, "text", "") in self.language.commands["done"]):
            return self.call()
        if self.asleep:
            called = not isinstance(heard, Rejection) and (
                heard.confidence >= SURE and self.phrases.understand(heard.text) == Called())
            return self.call() if called else []
        self._sleeps = None
        if isinstance(heard, Rejection):
            if heard.reason in ("noise", "too short"):
                return []
            return self._of_written(heard, t) or self._not_understood()
        if heard.confidence < self.bands.unsure:
            return self._not_understood()
        asked = self.phrases.understand(heard.text)
        if asked is None:
            return self._not_understood()
        if heard.confidence < self.bands.certain and not isinstance(asked, (Called, Command, Told)):
            self._pending = _Pending("words", words=heard.text)
            return [self.answers.say("did you say", words=heard.text, tone="attention")]
        if heard.confidence < self.bands.needed(heard.text) and isinstance(asked, Command):
            return [self._first_answer()] if self._pending else self._not_understood()
        if heard.own_words and self._pending and self._pending.kind == "record" and (
                asked in (Command("yes"), Command("confirm"))):
            return [self._first_answer()]  # the record is corrected in the words for it
        self._lost = 0
        told = self._carry_out(asked, t, typed=heard.engine == "keyboard")
        self._last = told or self._last
        return told

    def stopped(self, heard: Hypothesis, t: float) -> list[Prompt]:
        """It falls silent, and listens."""
        self._sleeps = None
        return []

    def _of_written(self, heard: Rejection, t: float) -> list[Prompt]:
        """What words that are no phrase of ours, and were written down freely, may come to: a question
        that changes nothing is answered, an order is asked about; what is so of the rig, where it was
        surely said, is read back as ever."""
        words = heard.written
        asked = self.phrases.understand(words) if words and self._pending is None else None
        if isinstance(asked, (Told, Between)) and heard.sure >= self.bands.needed(words):
            self._lost = 0
            self._last = self._carry_out(asked, t, typed=False)
            return self._last
        if isinstance(asked, Simple) and asked.id in ANSWERED or isinstance(asked, (Question, Questions)):
            self._lost = 0
            self._last = self._carry_out(asked, t, typed=False)
            return self._last
        taught = self.phrases.taught(asked)
        if not taught:
            return []
        self._pending = _Pending("words", words=taught)
        return [self.answers.say("did you say", words=taught, tone="attention")]

    def _not_understood(self) -> list[Prompt]:
        """What can be said instead; in the end it sleeps, so that a talk is not answered for ever."""
        if self._pending:
            self._lost += 1
            if self._lost <= PATIENT:
                return [self._first_answer()]
        self._pending = None
        self._lost += 1
        if self._lost > PATIENT:
            self._sleep(True)
            return [self.answers.say("sleep again", tone="attention")]
        key, start = ("not understood", 0) if self._lost == 1 else (
            "not understood again", EXAMPLES)
        if self.answers.known is None:  # there is nothing else that it could do
            return [self.answers.say("no rig", tone="attention")]
        return [self.answers.say(key, some=self.answers.some(EXAMPLES, start), tone="attention",
                                 list=self.answers.example_list())]

    def _first_answer(self) -> Prompt:
        return self.answers.say("confirm first", tone="attention")

    def _carry_out(self, asked: Request, t: float, typed: bool) -> list[Prompt]:
        pending, self._pending = self._pending, None
        if isinstance(asked, Command):
            return self._own(asked.id, pending, t, typed)
        if isinstance(asked, Called):
            return self.call()
        if isinstance(asked, Remind):
            return [self._remind(asked.minutes, t)]
        if isinstance(asked, Simple):
            return self._simple(asked.id)
        if self.answers.known is None:
            return [self.answers.say("no rig for that")]
        try:
            return self._about_rig(asked)
        except HandsfreeError as problem:
            return [self.answers.say("cannot", why=str(problem), tone="attention")]

    def _remind(self, readings: tuple[Reading, ...], t: float) -> Prompt:
        if len(readings) > 1:
            return self._which(readings)
        self.reminders.add(t, readings[0].value, "")
        return self.wording.say("reminder set", tone="heard",
                                reading=say_reading(readings[0], self.language))

    def _own(
        self, command: str, pending: _Pending | None, t: float, typed: bool
    ) -> list[Prompt]:
        if command in MANNER:
            self._pending = pending
            return [self._speak_otherwise(command, t)]
        if command == "repeat":
            self._pending = pending
            return list(self._last)
        if pending is None:
            return self._not_understood()
        if pending.kind == "record" and command == "yes" and not typed:
            self._pending = pending  # one short word may have been a gust
            return [self._first_answer()]
        return self._answered(pending, command in ("yes", "confirm"), t, typed)

    def _answered(
        self, pending: _Pending, yes: bool, t: float, typed: bool
    ) -> list[Prompt]:
        """A question of ours was answered."""
        if pending.kind == "clock":
            self.clock_doubted = not yes
            return [self.answers.say("clock believed" if yes else "clock not believed")]
        if pending.kind == "unfinished":
            return self._starting(pending.checklist, yes)
        if pending.kind == "words":
            asked = self.phrases.understand(pending.words) if yes else None
            if asked is not None:
                return self._carry_out(asked, t, typed)
            return [self.answers.say("yes", tone="heard")]
        if not yes:
            return [self.answers.say("left as it was")]
        return self._recorded(dict(pending.facts))

    def _recorded(self, so: dict[str, bool]) -> list[Prompt]:
        """Put on record what was said and confirmed."""
        known = self.answers.known
        assert known is not None
        try:
            self._deeds.correct(so)
        except HandsfreeError as problem:
            return [self.answers.say("cannot", why=str(problem), tone="attention")]
        told = self.answers.say("on record", clauses=told_back(so, known.clauses), tone="heard")
        return [*self.answers.danger(known.now()), told]

    # --- requests --------------------------------------------------------------------------------

    def _simple(self, name: str) -> list[Prompt]:
        answers = self.answers
        if name == "help":
            return [answers.say("help", some=answers.some(99))]
        if name == "sleep":
            self._sleep(True)
            return answers.good_night()
        if name == "off":
            self._sleep(True)
            return [Prompt("standby.asleep", "", tone="refused")]
        if name == "clock":
            return self._clock()
        if name == "check":
            return answers.check()
        if name == "interview":
            self.order = Wanted(interview=True)
            return [answers.say("how it stands" if answers.known else "begins")]
        if answers.known is None:
            return [answers.say("no rig for that")]
        if name == "note":
            self.noting = True
            return [answers.say("note")]
        if name == "dark":
            return answers.dark(not self.clock_doubted)
        if name in ASKED:
            return answers.lasting(name, not self.clock_doubted)
        told: dict[str, Callable[[], list[Prompt]]] = {
            "out": answers.out, "roll": answers.roll, "leave": answers.leave, "compare": answers.compared,
            "next": answers.next, "lists": lambda: [answers.lists()]}
        return told[name]()

    def _clock(self) -> list[Prompt]:
        if self.clock_doubted:
            self._pending = _Pending("clock")
            return [self.answers.clock_doubted()]
        return self.answers.clock(True)

    def _about_rig(self, asked: Request) -> list[Prompt]:
        if isinstance(asked, NoList):
            return [self.answers.say("no such list", tone="attention")]
        if isinstance(asked, Start):
            return self._start_list(asked)
        if isinstance(asked, Question):
            return self.answers.question(asked)
        if isinstance(asked, Questions):
            return [prompt for one in asked.each for prompt in self.answers.question(one)]
        if isinstance(asked, Note):
            self._deeds.note("", asked.text)
            return [self.answers.say("note kept", tone="heard")]
        if isinstance(asked, Between):
            names = [f"the {name}" for name in asked.choices]
            return [self.answers.say("which one", choices=", ".join(names),
                                     tone="attention")]
        assert isinstance(asked, Told)
        return [self._read_back(dict(asked.facts))]

    def _start_list(self, asked: Start) -> list[Prompt]:
        known = self.answers.known
        assert known is not None
        unfinished = known.now().unfinished
        if not asked.checklist and not unfinished:
            return [self.answers.say("nothing unfinished")]
        name = asked.checklist or unfinished
        resume = asked.go_on and name == unfinished
        if name == unfinished and not asked.go_on:
            self._pending = _Pending("unfinished", checklist=name)
            return [self.answers.say("go on with it", title=known.titled(name), tone="attention")]
        told = [self.answers.say("other unfinished", title=known.titled(unfinished))] if (
            unfinished and not resume) else []
        return [*told, *self._starting(name, resume)]

    def _starting(self, name: str, resume: bool) -> list[Prompt]:
        """The list is wanted; what is said before it begins."""
        known = self.answers.known
        assert known is not None
        told = [self.answers.say("going on", title=known.titled(name))] if resume else []
        if self._deeds.unproved(name):
            told.append(self.answers.say("unproved", tone="attention"))
        self.order = Wanted(name, resume=resume)
        return told

    def _read_back(self, so: dict[str, bool]) -> Prompt:
        """Ask before it is written."""
        known = self.answers.known
        assert known is not None
        clauses, facts = known.clauses, known.now().facts
        new = {fact: yes for fact, yes in so.items() if (fact in facts) is not yes
               or not known.now().settled(fact)}
        if not new:
            return self.answers.say("on record already", clauses=told_back(so, clauses))
        self._pending = _Pending("record", facts=tuple(new.items()))
        looked = any(is_evidence(clauses[fact].of(yes), self.language.code)
                     for fact, yes in new.items())
        return self.answers.say("put on record looked" if looked else "put on record",
                                clauses=told_back(new, clauses), tone="hold point")

    # --- what the loop tells ---------------------------------------------------------------------

    def noted(self, t: float, audio: str, text: str = "") -> list[Prompt]:
        """The note that was being taken is complete."""
        self.noting, self._sleeps = False, None
        try:
            self._deeds.note(audio, text)
        except HandsfreeError:
            return [self.answers.say("note lost", tone="attention")]
        return [self.answers.say("note kept", tone="heard")]

    def take(self, event: Event, t: float, **about: Any) -> list[Prompt]:
        """The loop's own events: the end, or what was said last once more."""
        if isinstance(event, Finish):
            self.leaving = True
            return [self.answers.say("good bye")]
        return list(self._last)

    def waiting(self, t: float) -> list[tuple[str, float]]:
        """Nothing waits here."""
        return []
