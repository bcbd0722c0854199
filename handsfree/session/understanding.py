"""From what was heard to what it means for the engine: intents, confidence and readings as bands.

Pure.  May import the engine, the language and hearing types, `expecting`, the work room.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import NoneType

from handsfree.checklist.model import Checklist, Origin
from handsfree.engine import state as events
from handsfree.engine.state import Event, Mode, State
from handsfree.hearing.types import Heard, Rejection
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
from handsfree.language.matcher import Matcher
from handsfree.language.readings import Reading
from handsfree.language.statements import Clauses, is_evidence, leaving, ordered
from handsfree.language.statements import understand as understand_statement
from handsfree.session.bars import AT_EASE, at_ease
from handsfree.session.correctable import tellable, told_back
from handsfree.session.expecting import EVENTS, LEVEL_LENGTH, expected, plain_yes
from handsfree.work.levelling import angle

LONE = 0.15
"""So much more confidence a command of a single word needs."""


@dataclass(frozen=True)
class Bands:
    """Confidence at or above `certain` is acted on; from `unsure` on, asked about."""

    certain: float = 0.80
    unsure: float = 0.45

    def needed(self, words: str) -> float:
        """`certain` for these words: what people say to each other sounds like a command of one
        word now and then, like one of several words hardly ever."""
        return self.certain if " " in words else min(round(self.certain + LONE, 3), 0.98)


@dataclass(frozen=True)
class Meaning:
    """What an utterance comes to: an event for the engine, or a word to the session itself.

    `own` is a command that the session answers without the engine (time, note, slower …);
    `readings` are the values that a number may stand for; `other_unit` is the unit asked for.
    """

    event: Event | None = None
    own: str = ""
    readings: tuple[Reading, ...] = ()
    other_unit: str = ""
    verdict: str = "accepted"
    said: str = ""
    """How it is asked about, where that is not in the words that were heard."""
    text: str = ""
    """The note that was dictated in the same breath."""
    then: Meaning | None = None
    """What was said in the same breath, to be carried out next."""


_ASKABLE = (Mode.STEP, Mode.CLOSING, Mode.BLOCKED)
"""In the others only few words count, which change nothing or are answers to a question."""

_SURELY: Mapping[Mode, tuple[type[Event], ...]] = {
    **dict.fromkeys(_ASKABLE, (events.Done, events.Problem, events.Pause, events.Answer)),
    Mode.PAUSED: (events.Resume,), Mode.CONFIRM: (events.Deny,)}
"""What is done without asking where it was surely said in words that are no phrase of the moment."""

WRITTEN = 0.9
"""So sure that has to be.  Of 168 such sentences, those that had a meaning had the right one from 0.6 on."""

_READ_BACK = (events.Respond, events.Read, events.Unclear)
"""What is read back, and what does nothing."""


def understand(
    heard: Heard, checklist: Checklist, state: State, matcher: Matcher, bands: Bands,
    wary: bool = False, together: Callable[[float], float] = lambda confidence: confidence,
) -> Meaning:
    """What `heard` means in this state; `wary` asks about everything that is not read back anyway
    and was not typed.  `together` is the confidence in what is being asked about if a single word
    agrees to it with that confidence; see `bars.Doubt`."""
    if isinstance(heard, Rejection):
        return _of_written(heard, checklist, state, matcher, bands, wary) or Meaning(
            events.Unclear(heard.reason), verdict="rejected")
    if heard.confidence < bands.unsure:
        return Meaning(events.Unclear(), verdict="rejected")
    intent = matcher.interpret(heard.text, expected(checklist, state))
    if isinstance(intent, Unknown) and heard.engine == "keyboard" and state.mode in _ASKABLE and (
            told := _order(heard.text, checklist, state, matcher)
            or _correction(heard.text, checklist, state, matcher.language.code)):
        return told
    meaning = meaning_of(intent, checklist, state)
    if heard.own_words and not _own_words_count(meaning.event, checklist, state):
        return Meaning(own="wanted", verdict="rejected")
    if isinstance(intent, (Command, Maybe)) and meaning.event is not None:
        meaning = replace(meaning, said=matcher.language.commands[_name(intent)][0])
    sure = heard.confidence
    if (isinstance(meaning.event, events.Confirm) and " " not in heard.text and not wary
            and plain_yes(checklist, state)):
        sure = max(sure, together(sure))
    if sure < needed(heard.text, meaning, checklist, state, bands, matcher.language.code):
        return _doubt(meaning)
    if wary and heard.engine != "keyboard" and " " not in heard.text and (
            isinstance(meaning.event, events.Confirm)):
        return Meaning(own="wanted", verdict="rejected")  # a gust says yes
    if (wary and heard.engine != "keyboard" and state.mode in _ASKABLE
            and not isinstance(meaning.event, (*_READ_BACK, NoneType))):
        return _doubt(meaning)
    return meaning


def _own_words_count(event: Event | None, checklist: Checklist, state: State) -> bool:
    """Whether what was heard in words that are not listened for as they are counts: never as the response
    of a hold point, nor where something grave is confirmed."""
    return not isinstance(event, events.Respond) and (
        not isinstance(event, events.Confirm) or plain_yes(checklist, state))


def _of_written(
    heard: Rejection, checklist: Checklist, state: State, matcher: Matcher, bands: Bands, wary: bool
) -> Meaning | None:
    """What words that were no phrase of this moment, and were written down freely, may come to.

    A question that changes nothing is answered; an answer that does not count here is told what
    does; what is harmless is done where it was surely said, by the sounds too; the rest is asked
    about.  Never a response of a hold point, a reading or the confirmation of something grave: those
    have to be heard as what they are ("okay that's right" was once written "okay not right").
    """
    words = heard.written
    intent = matcher.interpret(words, expected(checklist, state))
    meant = meaning_of(intent, checklist, state)
    if isinstance(intent, Both):
        intent = intent.first
    if isinstance(intent, (NotHere, Respond)):
        return Meaning(own="wanted", verdict="rejected")
    if isinstance(intent, Maybe):
        said = matcher.language.commands[intent.command][0]
        return replace(meant, said=said)
    if not isinstance(intent, (Command, GoTo, TakeBackStep)):
        return None
    if isinstance(meant.event, events.Ask) or meant.own == "time":
        return meant
    sure = heard.sure >= max(WRITTEN, needed(words, meant, checklist, state, bands))
    if sure and not wary and (meant.event is None or type(meant.event) in _SURELY.get(state.mode, ()) or (
            isinstance(meant.event, events.Confirm) and plain_yes(checklist, state))):
        return meant
    if state.mode in (Mode.CONFIRM, Mode.ALARM):
        return Meaning(own="wanted", verdict="rejected")
    if meant.event is None or state.mode not in _ASKABLE:
        return None
    said = matcher.language.commands[intent.id][0] if isinstance(intent, Command) else words
    return Meaning(events.Unsure(meant.event), verdict="asked", said=said, then=meant.then)


def _clauses(checklist: Checklist, state: State) -> Mapping[str, Clauses]:
    """What can be said to be so on this rig."""
    return tellable([checklist], frozenset(
        name for name in state.facts & checklist.facts.keys()
        if checklist.facts[name].origin is Origin.TRAIT))


def _order(
    words: str, checklist: Checklist, state: State, matcher: Matcher
) -> Meaning | None:
    """An order in plain words ("unhitch now", "take the chains off") is to go to the one step that
    reports it: gone to, or refused with the reason, and never taken as done."""
    language, steps = matcher.language.code, expected(checklist, state).steps
    said = [words, *(" ".join(middle) for kind, middle in matcher.sayings.named(
        matcher.sayings.plain(words)) if kind == "go_to")]
    for order in said:
        ways = {*leaving(order, language)}
        named = {step for step, names in steps.items() if ways.intersection(names)}
        if not named:
            would = ordered(order, _clauses(checklist, state), language).facts
            named = {name for name in steps if would and all(
                fact in (checklist.steps[name].gives if so else checklist.steps[name].ends)
                for fact, so in would.items())}
        if len(named) == 1:
            return Meaning(events.GoTo(*named))
    return None


def _correction(
    words: str, checklist: Checklist, state: State, language: str
) -> Meaning | None:
    """One fact that a sentence says is so or not, to be asked about in the record's own words; never
    what only a look or a test can tell, nor what the step at hand has to be answered for."""
    clauses = _clauses(checklist, state)
    told = understand_statement(words, clauses, language)
    clause = told_back(told.facts, clauses)
    if len(told.facts) != 1 or is_evidence(clause, language):
        return None
    ((fact, so),) = told.facts.items()
    if _at_hand(fact, so, checklist, state):
        return Meaning(own="wanted", verdict="rejected")
    return Meaning(events.Unsure(events.Correct(fact, so)), verdict="asked", said=clause)


def _at_hand(fact: str, so: bool, checklist: Checklist, state: State) -> bool:
    """Whether it is what the step at hand is to report, and a hold point or a never rule hangs on it:
    that takes the step's own answer, not the same said in other words."""
    step = checklist.steps.get(state.at)
    if step is None or fact not in (step.gives if so else step.ends):
        return False
    return step.hold or any(fact in rule.when.names() for rule in checklist.all_rules)


def needed(
    text: str, meaning: Meaning, checklist: Checklist, state: State, bands: Bands, language: str = ""
) -> float:
    """The confidence with which `text`, which has this meaning here, is acted on; of a word of a
    language, less where nothing hangs on it (`bars`)."""
    if not _easy(meaning, checklist, state):
        bands = Bands(max(bands.certain, Bands().certain))
    if meaning.readings or isinstance(meaning.event, (*_READ_BACK, events.Deny)):
        return bands.certain  # a no to a readback changes nothing
    step = checklist.steps.get(state.at)
    if isinstance(meaning.event, events.Skip) and step and step.reading:
        text = ""  # among so many number words other people's talk sounds like a skip more easily
    usual = bands.needed(text)
    least = AT_EASE.get(language, {}).get(text, usual)
    if least < usual and at_ease(meaning.event, checklist, state):
        return min(usual, least + max(0.0, bands.certain - Bands().certain))
    return usual


def _easy(meaning: Meaning, checklist: Checklist, state: State) -> bool:
    """Whether an operator's own, lower threshold may count: nothing that settles a fact hangs on
    it."""
    step = checklist.steps.get(state.at)
    if state.mode is Mode.CONFIRM or state.broken or (step and step.hold):
        return False
    if isinstance(meaning.event, events.Done):
        return not (step and (step.gives or step.ends))
    return isinstance(meaning.event, (events.Ask, events.Skip, events.Pause, NoneType))


def _doubt(meaning: Meaning) -> Meaning:
    """The same, when it was not certain: ask first, or have it said again."""
    if meaning.own == "wanted":
        return meaning
    if meaning.event is None:
        return Meaning(events.Unclear(), verdict="rejected")
    if isinstance(meaning.event, (events.Ask, events.Unclear)):
        return meaning
    if isinstance(meaning.event, events.Unsure):
        return meaning
    return Meaning(events.Unsure(meaning.event), readings=meaning.readings, verdict="asked",
                   said=meaning.said, then=meaning.then)


def _name(intent: Command | Maybe) -> str:
    return intent.id if isinstance(intent, Command) else intent.command


def meaning_of(intent: Intent, checklist: Checklist, state: State) -> Meaning:
    """What an intent comes to in this state, were it certain."""
    if isinstance(intent, Command):
        return _command(intent.id, checklist, state)
    if isinstance(intent, Respond):
        return Meaning(events.Respond())
    if isinstance(intent, GoTo):
        return Meaning(events.GoTo(intent.step_id))
    if isinstance(intent, TakeBackStep):
        return Meaning(events.TakeBack(intent.step_id))
    if isinstance(intent, Number):
        if len(intent.readings) > 1:
            return Meaning(own="which number", readings=intent.readings)
        reading = _as_asked(intent.readings[0], checklist, state)
        return Meaning(judge(reading.value, checklist, state), readings=(reading,))
    if isinstance(intent, OtherUnit):
        return Meaning(own="other unit", other_unit=intent.wrong.wanted, verdict="rejected")
    if isinstance(intent, Remind):
        return Meaning(own="remind", readings=intent.minutes)
    if isinstance(intent, Maybe):
        meant = _command(intent.command, checklist, state)
        assert meant.event is not None
        return Meaning(events.Unsure(meant.event), verdict="asked")
    if isinstance(intent, NotHere):
        return Meaning(own="wanted", verdict="rejected")
    if isinstance(intent, Note):
        return Meaning(own="note", text=intent.text)
    if isinstance(intent, Both):
        return replace(meaning_of(intent.first, checklist, state),
                       then=meaning_of(intent.then, checklist, state))
    return Meaning(events.Unclear(), verdict="rejected")


def _command(name: str, checklist: Checklist, state: State) -> Meaning:
    step = checklist.steps.get(state.at)
    if name == "no" and state.mode is Mode.STEP and step and step.tests:
        return Meaning(events.Problem())
    if name in ("yes", "no", "confirm", "deny"):
        return Meaning(yes_or_no(name in ("yes", "confirm"), state))
    return Meaning(EVENTS[name]) if name in EVENTS else Meaning(own=name)


def yes_or_no(yes: bool, state: State) -> Event:
    """Yes or no: to a readback, or to a question."""
    if state.mode is Mode.CONFIRM:
        return events.Confirm() if yes else events.Deny()
    return events.Answer(yes)


def _as_asked(reading: Reading, checklist: Checklist, state: State) -> Reading:
    """The reading in the unit that the step asks for: an angle that was told in inches, to a tenth
    of a degree."""
    step = checklist.steps.get(state.at)
    if not (step and step.reading and step.reading.unit == "degrees" and reading.unit == "inches"):
        return reading
    degrees = angle(float(reading.value), checklist.numbers[LEVEL_LENGTH])
    return Reading(Fraction(round(10 * degrees), 10), "degrees")


def judge(value: Fraction, checklist: Checklist, state: State) -> Event:
    """A value at the step at hand, as a band."""
    reading = checklist.steps[state.at].reading
    assert reading is not None
    return events.Read(reading.band(float(value)))
