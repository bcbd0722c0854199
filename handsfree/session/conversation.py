"""One conversation: what was heard in, what is to be spoken out, everything written down.

No audio and no clock: time arrives with each call.  May import the engine, language, wording,
understanding and the journal's port.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from math import inf
from typing import Any, Protocol

from handsfree.checklist.model import Checklist
from handsfree.engine.changes import Kind, expire
from handsfree.engine.choosing import awaited, open_steps
from handsfree.engine.state import (
    Alarm,
    Ask,
    Changed,
    Closed,
    Confirm,
    Due,
    Effect,
    Event,
    Expired,
    Failed,
    GoTo,
    Mode,
    Offer,
    Pause,
    Paused,
    Read,
    ReadBack,
    Refused,
    Reply,
    Reported,
    Resume,
    Say,
    Skipped,
    State,
    Suspended,
    Unclear,
    Unsure,
    WaitBegins,
    Waiting,
)
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection, normal
from handsfree.language.matcher import Matcher
from handsfree.language.model import PREFIXES, SUFFIXES, Language
from handsfree.language.readings import Reading, say_reading
from handsfree.session.bars import Doubt
from handsfree.session.calculations import Calculations
from handsfree.session.driving import Alone, Engine
from handsfree.session.evidence_age import EvidenceAge
from handsfree.session.expecting import OPERATORS, PSEUDONYMS, expected, likely
from handsfree.session.finalisation_delay import finalisation_delay
from handsfree.session.manner import BY_HEART, Manner, adjusted
from handsfree.session.manner import COMMANDS as MANNER
from handsfree.session.reminders import Reminder, Reminders
from handsfree.session.understanding import Bands, Meaning, understand
from handsfree.session.waits import Waits
from handsfree.session.wording import Prompt, Wording
from handsfree.storage import lines
from handsfree.storage.fold import fold
from handsfree.storage.lines import Line

TOLD = {"remaining": 4, "help": 12}
"""Questions that are answered by a list, and how many of it are told at most, with "and so many more"."""

AT_A_TIME = 8
"""So many of the rest are told when it is asked for."""

ToGo = tuple[int, str, Sequence[tuple[str, Mapping[str, str]]]]
"""Minutes still to go, the time of day then, and what to say with it: templates and values."""


class Log(Protocol):
    """Where lines go; see `journal.Journal.write`."""

    def write(self, line: Line, t: float, who: str = "") -> None: ...


class Conversation:
    """Holds the state, and turns what is heard into what is spoken."""

    practised = False
    """Whether some of the list may be done by heart here: see `by_heart`."""

    def __init__(
        self,
        checklist: Checklist,
        language: Language,
        log: Log,
        *,
        engine: Engine | None = None,
        bands: Bands | None = None,
        elapsed: Callable[[], float] = lambda: 0.0,
        manner: Manner | None = None,
        on_manner: Callable[[Manner], None] = lambda manner: None,
        left: Callable[[State], ToGo | None] = lambda state: None,
        now: Callable[[], datetime | None] = lambda: None,
        last_time: Mapping[str, Reading] | None = None,
    ) -> None:
        """`engine` is another than that of one operator alone; `left` gives the time still to go, if it can be told;
        `manner` is how to speak; `on_manner` is told when the operator wants it otherwise;
        `now` is the moment with its time zone, for the sums that need daylight; `last_time` are
        readings of last time, by step, for those that need not be exact."""
        self.checklist = checklist
        self.language = language
        self.matcher = Matcher(language)
        self.wording = Wording(checklist, language)
        self.bands = bands or Bands()
        self._engine: Engine = engine or Alone(checklist)
        self.manner = manner or Manner()
        self.wording.form = self.manner.form
        self._on_manner = on_manner
        self.reminders = Reminders()
        self.waits = Waits({name: step.wait.minutes for name, step in checklist.steps.items()
                            if step.wait})
        self.working_out = Calculations(checklist, language, now)
        self.noting = False
        """The next utterance is a note, whatever it says."""
        self.wary = False
        """Too loud to be sure of anything: whatever is not read back anyway is asked about."""
        self.ageing = EvidenceAge(checklist.evidence)
        self._last_time = last_time or {}
        self._together: bool | None = None
        """What is reported now was done by heart, so its time is not its own."""
        self._log = log
        self._elapsed = elapsed
        self._left = left
        self._reading: Reading | None = None
        self._asked = ""
        self._unsettled = Doubt()
        """In what is asked about."""
        self._ago = ""
        self._untold_yet: list[str] = []
        """What the last answer only counted."""
        self._strayed = 0
        """So many answers in a row were none to the yes-or-no question at hand."""
        self._note_on = ""
        """The step that the note is about, where another one has come since."""
        self._after_note: list[Prompt] = []
        self._after_the_note: tuple[Meaning, str] | None = None
        """The report, with its words, that ends the session once the note is taken."""
        self._then: Meaning | None = None
        """What was said in one breath with an answer that is being read back."""
        self._remarked: set[str] = set()
        """What was said of the forecast already."""

    # --- starting --------------------------------------------------------------------------

    def be_familiar(self, familiar: bool) -> None:
        """Whether this list was walked lately, so that its title is enough to open it."""
        self.wording.familiar = familiar

    def begin(self, record: frozenset[str], t: float, **about: Any) -> list[Prompt]:
        """A new session from what is on the rig's record; `about` goes into the first line."""
        effects = self._engine.start(record)
        c = self.checklist
        plan = tuple(
            lines.Planned(name, *c.steps[name].minutes,
                          c.steps[name].applicable.holds(self.state.facts))
            for name in c.order)
        then = self._observed(effects)
        results = self.working_out.results(then, self.state)
        self._log.write(lines.Begun(
            c.id, c.title, c.digest, self.language.code, record, plan,
            (*then, *(result.line() for result in results), *self._elsewhere()), **about), t)
        if any(isinstance(effect, Alarm) for effect in effects):  # its title can wait
            effects = tuple(effect for effect in effects if effect != Say(Reply.OPENING))
        return self._led_to(effects, self.working_out.placed(
            self.wording.prompts(effects), results, self.wording))

    def replay(
        self, record: frozenset[str], told: Sequence[Line], t: float = 0.0,
        now: datetime | None = None,
    ) -> None:
        """Bring back the state that a journal's events lead to; see `remember`."""
        self._engine.start(record)
        self.remember(told, t, now)
        for line in told:
            if isinstance(line, lines.Event) and line.event is not None:
                self._engine.go(line.event)

    def remember(
        self, told: Sequence[Line], t: float = 0.0, now: datetime | None = None
    ) -> None:
        """Bring back from a journal what is no part of the engine's state.

        Args:
            now: the time of day at `t`, with its zone; without it every wait is over.
        """
        self.reminders.replay(told)
        self.waits.replay(told, t, now)
        self.working_out.keep(told)
        if amount := fold(told).amount:
            self._reading = Reading(*amount)

    def resume(self, t: float) -> list[Prompt]:
        """Go on after a replay: the step is read again before any answer counts.

        A danger that stood when the session ended stands still: it is said, and answered.
        """
        if self.state.mode is Mode.ALARM:
            return self.take(Ask("repeat"), t)
        if self.state.mode not in (Mode.PAUSED, Mode.SUSPENDED, Mode.CLOSED):
            self.take(Pause(), t)  # a readback that was under way is void
        return self.take(Resume(), t)

    # --- the engine --------------------------------

    @property
    def state(self) -> State:
        """The engine's, as it is for this operator."""
        return self._engine.state

    @state.setter
    def state(self, state: State) -> None:
        self._engine.restore(state)

    def _observed(self, effects: tuple[Effect, ...]) -> list[Line]:
        return observations(effects, self.state)

    def _elsewhere(self) -> list[Line]:
        """What the last event led to for another operator, for the record."""
        return []

    # --- going on --------------------------------------------------------------------------

    @property
    def over(self) -> bool:
        """Closed, or finished for now."""
        return self.state.mode in (Mode.CLOSED, Mode.SUSPENDED)

    @property
    def moment(self) -> object:
        """Another object whenever something else may be said than before."""
        return self.state

    def grammar(self) -> Grammar:
        """What may be said now."""
        return self.matcher.grammar(expected(self.checklist, self.state))

    def finalisation_delay(self, text: str) -> float:
        """Seconds of silence that `text` needs before it is acted on (`hearing.early_finalisation`)."""
        if self.noting:
            return inf
        return finalisation_delay(text, self.checklist, self.state, self.matcher)

    def replies(self) -> list[str]:
        """What will have to be said to what is likely to be said next, to be made ready."""
        texts = []
        for event in likely(self.checklist, self.state):
            after, effects = self._engine.foreseen(event)
            wording = self.wording.copy()
            known = self._known(after)
            texts += [prompt.text for prompt in wording.prompts(effects, **known) if prompt.text]
        return texts

    def hear(self, heard: Heard, t: float) -> list[Prompt]:
        """One utterance."""
        if self.noting:
            return []
        meaning = understand(
            heard, self.checklist, self.state, self.matcher, self.bands, self.wary,
            lambda confidence: self._unsettled.together(confidence, t))
        self._mind_doubt(heard, meaning, t)
        if isinstance(heard, Rejection):
            told = meaning.own or meaning.event != Unclear(heard.reason)
            self._no_phrase(heard, t, meaning.verdict if told else "rejected", heard.written if told else None)
            if heard.reason in ("noise", "too short"):
                return []
        else:
            self._heard(heard, t, meaning.verdict)
        return self._asked_again(
            self.mean(meaning, t, said=meaning.said or getattr(heard, "text", "")), t)

    def _asked_again(self, prompts: list[Prompt], t: float) -> list[Prompt]:
        """From the second answer on that is none to a yes-or-no question, the question is said again."""
        strayed = [prompt.key for prompt in prompts] == ["answer yes or no"]
        self._strayed = self._strayed + 1 if strayed else 0
        return [*prompts, *self.take(Ask("repeat"), t)] if self._strayed > 1 else prompts

    def _mind_doubt(self, heard: Heard, meaning: Meaning, t: float) -> None:
        """What is asked about because it was not surely heard, and said again, is heard twice."""
        if self.state.mode is not Mode.CONFIRM:
            self._unsettled.forget()
        if isinstance(heard, Hypothesis) and isinstance(meaning.event, Unsure) and not self.wary:
            if self.state.mode is not Mode.CONFIRM:
                self._unsettled.begin(heard.confidence, t)
            elif isinstance(meaning.event.event, Confirm):
                self._unsettled.begin(self._unsettled.together(heard.confidence, t), t)

    def _heard(self, heard: Hypothesis, t: float, verdict: str) -> None:
        """Write down what was recognised, and what it was taken for."""
        self._log.write(lines.Heard(heard.text, round(heard.confidence, 3), verdict,
                                    begin=round(heard.start, 3), end=round(heard.end, 3)), t)

    def _no_phrase(self, heard: Rejection, t: float, verdict: str, written: str | None) -> None:
        """The same of what was no phrase: with the words that it was written as, if something came of them."""
        self._log.write(lines.Heard("", round(heard.confidence, 3), verdict, heard.reason, heard.best, written,
                                    begin=round(heard.start, 3), end=round(heard.end, 3)), t)

    def mean(self, meaning: Meaning, t: float, said: str = "") -> list[Prompt]:
        """Carry out what was meant, by voice or by key; after a list that was cut short, "tell me more"
        is the rest of it."""
        if meaning.event == Ask("detail") and self._untold_yet:
            told = self._untold_yet
            self._untold_yet = told[AT_A_TIME - 1:] if len(told) > AT_A_TIME else []
            return [self.wording.say("also", others=self.wording.listed(told, most=AT_A_TIME))]
        if not isinstance(meaning.event, Unclear):
            self._untold_yet = []
        prompts = self._as_meant(meaning, t, said)
        if isinstance(meaning.event, Ask) and meaning.event.about in TOLD:
            self._untold_yet = self._untold(meaning.event.about)
        return prompts

    def _as_meant(self, meaning: Meaning, t: float, said: str) -> list[Prompt]:
        if meaning.event is not None:
            at, then = self.state.at, meaning.then
            if self.state.mode is Mode.CONFIRM:  # what was said with the answer that is read back
                then = then or self._then
            if then and then.own == "note" and self._closes(meaning.event):
                return self._note_first(meaning, then, t, said)
            reading = meaning.readings[0] if meaning.readings else None
            prompts = self.take(meaning.event, t, reading=reading, said=said)
            self._then = then if self.state.mode is Mode.CONFIRM else None
            return self._go_on(then, prompts, at, t) if then else prompts
        if meaning.own == "wanted":
            if self.state.mode is Mode.ALARM:  # the danger before the words
                return self.take(Ask("repeat"), t)
            return [self.wanted()]
        if meaning.own == "time":
            minutes = max(0, round(self._elapsed() / 60))
            words = self._minutes(minutes)
            left = self._left(self.state)
            if left is None:
                return [self.wording.say("time", elapsed=words)]
            minutes_left, clock, remarks = left
            return [self.wording.say("time left", elapsed=words,
                                     left=self._minutes(minutes_left), clock=clock),
                    *self._remark(remarks)]
        if meaning.own == "same":
            return self._same_as_last_time(t, said)
        if meaning.own == "note":
            return self._begin_note(meaning.text, self.state.at, t)
        if meaning.own == "which number":
            return [self._which(meaning.readings)]
        if meaning.own == "other unit":
            unit = self.language.units.get(meaning.other_unit)
            return [self.wording.say("other unit", unit=unit.many if unit else "")]
        if meaning.own == "remind":
            return [self._remind(meaning.readings, t)]
        if meaning.own in OPERATORS:
            return [self._works(OPERATORS[meaning.own], t)]
        if meaning.own in MANNER and (self.practised or meaning.own not in BY_HEART):
            return [self._speak_otherwise(meaning.own, t)]
        return [self.wording.say("not here")]

    def _same_as_last_time(self, t: float, said: str) -> list[Prompt]:
        """The reading of last time at a step that need not be exact; it is told with its value, and
        judged, as if it had been said."""
        step = self.checklist.steps[self.state.at]
        assert step.reading is not None  # else it would not be listened for
        last = self._last_time.get(step.id)
        if last is None or last.unit != step.reading.unit:
            unit = self.language.units.get(step.reading.unit)
            return [self.wording.say("same unknown", step.id, tone="attention",
                                     unit=unit.many if unit else step.reading.unit)]
        return self.take(Read(step.reading.band(float(last.value))), t, reading=last, said=said)

    def _begin_note(self, text: str, step: str, t: float) -> list[Prompt]:
        """A note on a step: its words, where they came in the same breath, or what is said next."""
        self._note_on = step
        if text:
            return self.noted(t, "", text)
        self.noting = True
        at = self.checklist.steps.get(step)
        name = self.wording.name(at) if at else self.checklist.title
        return [self.wording.say("note", step, name=name)]

    def _closes(self, event: Event) -> bool:
        """Whether the session would be over with it, so that nothing could be noted afterwards."""
        return self._engine.foreseen(event)[0].mode is Mode.CLOSED

    def _note_first(self, meaning: Meaning, note: Meaning, t: float, said: str) -> list[Prompt]:
        """The last report of a session and a note in one breath: the note is kept before the end."""
        self._then, report = None, replace(meaning, then=None)
        told = self._begin_note(note.text, self.state.at, t)
        if self.noting:
            self._after_the_note = (report, said)
            return told
        return [*told, *self.mean(report, t, said)]

    def _go_on(self, then: Meaning, prompts: list[Prompt], at: str, t: float) -> list[Prompt]:
        """What was said in one breath with a report, if that has brought nothing in between.

        A note is about the step that was reported; what comes next is told when it is taken.
        """
        if self.state.mode is not Mode.STEP or self.state.at == at:
            return prompts
        if then.own == "note":
            noted = self._begin_note(then.text, at, t)
            if self.noting:
                self._after_note = prompts
                return noted
            return [*noted, *prompts]
        if isinstance(then.event, Ask) and then.event.about == "repeat":
            return prompts
        return [*prompts, *self.mean(then, t)]

    @property
    def reads(self) -> bool:
        """Whether a number is wanted now."""
        return expected(self.checklist, self.state).unit is not None

    def wanted(self) -> Prompt:
        """What may be answered here, for words that were understood and are no answer."""
        key, values = self._wanted()
        return self.wording.say(key, self.state.at, tone="attention", **values)

    def _wanted(self) -> tuple[str, dict[str, str]]:
        state = self.state
        step = self.checklist.steps.get(state.at)
        if state.mode is Mode.CONFIRM:
            return "confirm first", self._known(state)
        if state.mode is Mode.ALARM or state.broken:
            rule = next(r for r in self.checklist.rules if r.id == state.broken)
            return "needs its response", {"respond": rule.respond}
        if state.mode in (Mode.PAUSED, Mode.SUSPENDED):
            return "paused still", {"name": self._at_name()}
        if state.mode is Mode.CLOSING or step and step.question:
            return "answer yes or no", {}
        if state.mode is not Mode.STEP or step is None:
            return "not now", {}
        if step.hold:
            return "needs its response", {"respond": step.respond}
        if step.reading:
            unit = self.language.units.get(step.reading.unit)
            return "needs a reading", {"unit": unit.many if unit else step.reading.unit}
        return "wanted done", {"done": self.language.commands["done"][0],
                               "problem": self.language.commands["problem"][0]}

    def _works(self, number: int, t: float) -> Prompt:
        """Who works from now on, as they say themselves; never guessed from the voice."""
        self._log.write(lines.Operator(PSEUDONYMS[number - 1]), t)
        return self.wording.say("operator set", name=self.language.numbers.values[number][0])

    def _remark(self, remarks: Sequence[tuple[str, Mapping[str, str]]]) -> list[Prompt]:
        """What a forecast assumes and has noticed, each once in a session."""
        said = [self.wording.say(key, **values) for key, values in remarks]
        fresh = [prompt for prompt in said if prompt.text and prompt.text not in self._remarked]
        self._remarked |= {prompt.text for prompt in fresh}
        return fresh

    def _minutes(self, minutes: int) -> str:
        return say_reading(Reading(Fraction(minutes), "minutes"), self.language)

    def _remind(self, readings: tuple[Reading, ...], t: float) -> Prompt:
        if len(readings) > 1:
            return self._which(readings)
        reminder = self.reminders.add(t, readings[0].value, self.state.at)
        self._log.write(lines.Reminder(str(reminder.minutes), reminder.step), t)
        return self.wording.say("reminder set", tone="heard",
                                reading=say_reading(readings[0], self.language))

    def remind(self, t: float) -> list[Prompt]:
        """What time brings, at a fit moment: a step that was waited for, or a reminder.

        Nothing is said at a hold point, within a readback or an alarm; a wait may end there.
        """
        if not self.over and (prompts := self._grow_old(t)):
            return prompts
        over = "" if self.noting or self.over else self.waits.over(t, self._awaited())
        if over and (prompts := self.take(Due(over), t)):
            return prompts
        step = self.checklist.steps.get(self.state.at)
        fit = self.state.mode in (Mode.PAUSED, Mode.WAITING) or (
            self.state.mode is Mode.STEP and not (step and step.hold))
        if not fit or self.noting:
            return []
        due = self.reminders.take_due(t)
        return [self._reminder(due, t, "reminder")] if due else []

    def _reminder(self, due: Reminder, t: float, key: str) -> Prompt:
        self._log.write(lines.Reminded(str(due.minutes), due.step), t)
        step = self.checklist.steps.get(due.step)
        return self.wording.say(
            key, due.step, tone="attention",
            name=self.wording.name(step) if step else self.checklist.title,
            reading=say_reading(Reading(due.minutes, "minutes"), self.language))

    def _which(self, readings: tuple[Reading, ...]) -> Prompt:
        choices = self.wording.listed(say_reading(reading, self.language) for reading in readings)
        return self.wording.say("which number", choices=choices, tone="attention")

    def _speak_otherwise(self, command: str, t: float) -> Prompt:
        """Slower, shorter, louder …: from now on, and remembered."""
        before, self.manner = self.manner, adjusted(self.manner, command)
        if self.manner == before:
            return self.wording.say("manner.end")
        self.wording.form = self.manner.form
        self._log.write(
            lines.Manner(self.manner.rate, self.manner.louder, self.manner.form,
                         self.manner.by_heart), t)
        self._on_manner(self.manner)
        form = self.manner.form != before.form
        return self.wording.say(f"manner.{self.manner.form if form else command}")

    def take(
        self, event: Event, t: float, *, reading: Reading | None = None, said: str = ""
    ) -> list[Prompt]:
        """Give one event to the engine, write it down, and word what follows."""
        if reading is not None:
            self._reading = reading
        if isinstance(event, Unsure):
            self._asked = said
        if not isinstance(event, Expired):
            stale = self._grow_old(t)
            if stale:  # what was said was said to something that no longer stands
                return stale
        before = self.state
        if isinstance(event, Read) and reading is not None:
            event = self.working_out.judged(event, reading.value, before)
        effects = self._engine.go(event)
        then = self._observed(effects)
        if isinstance(event, Due):
            then.insert(0, lines.Due(event.step))
        for effect in effects:
            if isinstance(effect, WaitBegins):
                self.waits.begin(effect.step, t)
            elif isinstance(effect, Reported) and effect.kind is Kind.REPORT:
                self.ageing.seen(self.checklist.steps[effect.subject].gives, t)
        if isinstance(event, Confirm) and isinstance(before.pending, Read) and self._reading:
            then.insert(0, lines.Reading(before.at, self._reading.unit,
                                         float(self._reading.value), before.pending.band))
        self.working_out.keep(then)
        results = self.working_out.results(then, self.state)
        then += [*(result.line() for result in results), *self._elsewhere()]
        amount = lines.Amount(reading.value, reading.unit) if reading is not None else None
        self._log.write(lines.Event(event, before.at, amount, tuple(then), self._together), t)
        lost = [self._reminder(due, t, "reminder ends")
                for due in (self.reminders.take_all() if self.state.mode is Mode.CLOSED else [])]
        prompts = self.wording.prompts(
            effects, any(not result.before for result in results),
            any(result.warns and not result.before for result in results),
            **self._known(self.state), **self._known_of_waits(event, t))
        waiting = self.waiting(t)
        if waiting and isinstance(event, Ask) and event.about in ("remaining", "status"):
            prompts.append(self.wording.say("waits too", waits=self.wording.in_time(waiting)))
        return self._led_to(effects, [
            *lost, *self.working_out.placed(prompts, results, self.wording)])

    def _led_to(self, effects: tuple[Effect, ...], prompts: list[Prompt]) -> list[Prompt]:
        """What is spoken of them; see `by_heart` for another way to offer a step."""
        return prompts

    def _grow_old(self, t: float) -> list[Prompt]:
        """End what was looked at too long ago; the words, where they matter now.

        Coming back from a pause ends it all the same, and then says so.
        """
        if self.state.mode in (Mode.PAUSED, Mode.SUSPENDED):
            return []
        prompts: list[Prompt] = []
        for fact, minutes in self.ageing.over(t, self.state.facts):
            if expire(self.checklist, fact).guard.holds(self.state.facts):
                self._ago = self.wording.lasting(minutes)
                prompts += self.take(Expired(fact), t)
        return prompts

    def _awaited(self) -> frozenset[str]:
        """Steps whose wait this conversation ends."""
        return self.state.waits

    def waiting(self, t: float) -> list[tuple[str, float]]:
        """The steps whose wait is running, with the minutes still to go, soonest first."""
        left = [(name, self.waits.left(name, t)) for name in awaited(self.checklist, self.state)]
        return sorted(left, key=lambda one: one[1])

    def _known_of_waits(self, event: Event | None, t: float) -> dict[str, str]:
        known = {}
        if self.state.waits:
            known["waits"] = self.wording.in_time(self.waiting(t))
        if isinstance(event, GoTo) and event.step in self.state.waits:
            known["wait"] = self.wording.lasting(self.waits.left(event.step, t))
        return known

    def noted(self, t: float, audio: str, text: str = "") -> list[Prompt]:
        """The note that was being taken is complete."""
        self.noting = False
        self._log.write(lines.Note(self._note_on or self.state.at, audio, text), t)
        after, self._after_note, self._note_on = self._after_note, [], ""
        report, self._after_the_note = self._after_the_note, None
        return [self.wording.say("note kept"), *after, *(self.mean(report[0], t, report[1]) if report else [])]

    def typed(self, said: str, t: float) -> list[Prompt]:
        """While a note is awaited: words are the note, a command's key goes on without one."""
        if not self.noting:
            return []
        if normal(said) not in self.matcher.phrases(expected(self.checklist, self.state)):
            return self.noted(t, "", said)
        return self.drop_note()  # a key that was pressed before the next challenge answers nothing

    def stopped(self, heard: Hypothesis, t: float) -> list[Prompt]:
        """Somebody said "stop" or the like in the middle of a prompt, which has been cut off: a
        pause where there may be one."""
        held = self.drop_note()
        holds = "pause" in expected(self.checklist, self.state).commands
        self._heard(heard, t, "accepted" if holds else "rejected")
        return self.take(Pause(), t) if holds else held or [self.wanted()]

    def drop_note(self) -> list[Prompt]:
        """The next utterance is no note after all; what it held back, to be said now."""
        held, self._after_note = self._after_note, []
        self.noting, self._after_the_note, self._note_on = False, None, ""
        return held

    def _known(self, state: State) -> dict[str, str]:
        known = {"intent": self._asked, "ago": self._ago}
        if self._reading is not None:
            known["reading"] = say_reading(self._reading, self.language)
        rule = next((r for r in self.checklist.rules if r.id == state.broken), None)
        if rule:
            known["respond"] = rule.respond
        known["commands"] = self.wording.listed(self._commands(state), most=TOLD["help"])
        if state.pending is not None:
            readback, = self.wording.prompts((ReadBack(state.pending, state.at),), **known)
            known["asked"] = readback.text
        return known

    def _commands(self, state: State) -> list[str]:
        """What "help" tells, in order."""
        commands = sorted(expected(self.checklist, state).commands,
                          key=lambda name: (name in MANNER, name))
        return [self.language.commands[name][0] for name in commands
                if name not in (*PREFIXES, *SUFFIXES)]

    def _untold(self, asked: str) -> list[str]:
        """What an answer has only counted: "and thirty-nine more"."""
        steps = self.checklist.steps
        names = self._commands(self.state) if asked == "help" else [
            self.wording.name(steps[step]) for step in open_steps(self.checklist, self.state)]
        names = list(dict.fromkeys(names))
        return names[TOLD[asked] - 1:] if len(names) > TOLD[asked] else []

    def _at_name(self) -> str:
        step = self.checklist.steps.get(self.state.at)
        return self.wording.name(step) if step else self.checklist.title


def danger_first(prompts: Iterable[Prompt]) -> list[Prompt]:
    """The same, with every alarm before all else."""
    return sorted(prompts, key=lambda prompt: prompt.key != "alarm")


def observations(effects: tuple[Effect, ...], after: State) -> list[Line]:
    """What an event led to, for the record; the review reads these."""
    return [seen for effect in effects if (seen := _observed(effect, after)) is not None]


def _observed(effect: Effect, after: State) -> Line | None:
    match effect:
        case Changed(on, off):
            return lines.Changed(on, off)
        case Refused():
            return lines.Refused(effect.step, effect.rule, tuple(map(str, effect.missing)),
                                 effect.backstop)
        case Offer(step, again):
            return lines.Offered(step, again)
        case Alarm(rule):
            return lines.Alarm(rule)
        case WaitBegins(step):
            return lines.Waits(step)
        case Closed(left):
            return lines.Closed(tuple(left))
        case Reported(subject, kind):
            return lines.Reported(subject, kind.value)
        case Failed(step, band):
            return lines.Failed(step, band, dict(after.tries).get(step, 0))
        case Skipped(step):
            return lines.Skipped(step)
        case Waiting(steps):
            return lines.Waiting(tuple(steps))
        case Paused():
            return lines.Paused()
        case Suspended():
            return lines.Suspended()
    return None
