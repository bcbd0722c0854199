"""Work that an operator knows by heart is named and done; then its facts are read back together.

What comes next is worked out ahead: the state in which what is done by heart has been reported is
what the operator hears and answers.  Nothing of it counts, or is written down, before what was done
is read back and confirmed; then each step is reported in its order, by the event that it would have
been reported by alone.  May import the engine, conversation and wording.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from handsfree.checklist.model import Step
from handsfree.engine import by_heart
from handsfree.engine.advance import advance
from handsfree.engine.choosing import status
from handsfree.engine.state import (
    Answer,
    Ask,
    Confirm,
    Deny,
    Done,
    Due,
    Effect,
    Event,
    Expired,
    Failed,
    Finish,
    GoTo,
    Mode,
    Offer,
    Pause,
    Problem,
    Read,
    Refused,
    Reply,
    Respond,
    Say,
    Skip,
    Skipped,
    State,
    Status,
    Unclear,
    Unsure,
)
from handsfree.language.readings import Reading, say_reading
from handsfree.session.at_a_place import AtAPlace
from handsfree.session.conversation import Conversation
from handsfree.session.manner import BY_HEART
from handsfree.session.understanding import Meaning
from handsfree.session.wording import Prompt, sentence
from handsfree.storage import lines
from handsfree.storage.mastery import STAYS, Known

MOST = 7
"""So many facts are read back together at most: more are not kept in mind (Miller 1956: 7 ± 2)."""


@dataclass(frozen=True)
class Held:
    """A step that was done by heart, and what will report it."""

    step: str
    event: Event
    reading: Reading | None = None


@dataclass(frozen=True)
class Said:
    """What was answered at the step at hand, to count once what came before it is confirmed."""

    event: Event
    reading: Reading | None
    words: str


class ByHeart(Conversation):
    """A conversation with one operator who knows some of the list by heart."""

    practised = True

    def __init__(self, *args: Any, known: Known | None = None, **options: Any) -> None:
        """`known` is what the operator's own record shows to be known by heart; the rest is as for
        `Conversation`."""
        super().__init__(*args, **options)
        self._record = known or Known()
        self.mastered = self._record.steps
        self._held: list[Held] = []
        self._ahead: State | None = None
        self._said: Said | None = None
        self._challenge: list[Prompt] = []
        self._reporting = False
        """What was done by heart is being reported: nothing is offered until that is over."""
        self._named = False
        """A step was gone to by its name: that one is wanted for itself."""
        self._due_told: set[str] = set()
        """What has waited long enough, is told, and comes once what is done by heart is reported."""

    # --- what is so now ----------------------------------------------------------------------

    @property
    def state(self) -> State:
        """As the operator hears it: with what was done by heart, where that is under way."""
        return self._ahead or self._engine.state

    @state.setter
    def state(self, state: State) -> None:
        self._engine.restore(state)

    def _awaited(self) -> frozenset[str]:
        """See `Conversation`; a wait that begins with what is done by heart has not begun."""
        return self._engine.state.waits

    def replies(self) -> list[str]:
        """See `Conversation.replies`; nothing is made ready while work is done by heart."""
        return [] if self._ahead else super().replies()

    def begin(self, record: frozenset[str], t: float, **about: Any) -> list[Prompt]:
        """See `Conversation.begin`; whoever never chose is told what could be by heart, whoever
        works so, what is not."""
        prompts = super().begin(record, t, **about)
        if prompts[-1].key != "offer":
            return prompts
        names, missing = self._sections()
        if self.manner.by_heart and (missing or not names):
            prompts.insert(-1, self._told_known())
        elif names and self.manner.by_heart is None:
            prompts.insert(-1, self.wording.say("known by heart",
                                                names=self.wording.listed(names, most=9)))
        return prompts

    def _sections(self) -> tuple[list[str], list[str]]:
        """Parts of the list that are known by heart, and others that were done of late."""
        could = [step for name in self.checklist.order
                 if (step := self.checklist.steps[name]).by_heart]
        known = dict.fromkeys(step.section for step in could if step.id in self.mastered)
        others = self._record.others | self._record.steps
        return list(known), list(dict.fromkeys(
            step.section for step in could if step.id in others and step.section not in known))

    def _told_known(self) -> Prompt:
        """What is known by heart, and what is not, or why nothing is."""
        w, record = self.wording, self._record
        names, missing = self._sections()
        if names:
            return w.say("by heart known", names=w.listed(names, most=9),
                         missing=w.listed(missing, most=9))
        if record.away:
            return w.say("by heart none.away")
        if record.walks < STAYS:
            return w.say(f"by heart none.walks {record.walks}")
        return w.say("by heart none.slips")

    def mean(self, meaning: Meaning, t: float, said: str = "") -> list[Prompt]:
        """See `Conversation.mean`; by heart, or step by step, from the step at hand on."""
        prompts = super().mean(meaning, t, said)
        state = self._engine.state
        if meaning.own not in BY_HEART or state.mode is not Mode.STEP:
            return prompts
        if not BY_HEART[meaning.own] and self._ahead:
            self._forget()
            return [*prompts, *super().take(Ask("repeat"), t)]
        if BY_HEART[meaning.own] and not self._ahead:
            names, missing = self._sections()
            if missing or not names:
                prompts = [*(prompts if names else ()), self._told_known()]
            if not names:
                return prompts
            self._challenge = self._look_ahead(state, [])
            return [*prompts, *self._challenge]
        return prompts

    # --- offering ----------------------------------------------------------------------------

    def _led_to(self, effects: tuple[Effect, ...], prompts: list[Prompt]) -> list[Prompt]:
        for effect in effects:
            if isinstance(effect, (Failed, Refused, Skipped)):
                self._slipped(effect.step)
        last = effects[-1] if effects else None
        if (self._ahead or self._reporting or self._named or not self.manner.by_heart or not prompts
                or not isinstance(last, Offer) or last.again not in ("", "resumed")
                or prompts[-1].key != "offer"):
            return prompts
        found = self._look_ahead(self._engine.state, [])
        if not found:
            return prompts
        self._challenge = found
        return [*prompts[:-1], *found]

    def _look_ahead(self, state: State, held: list[Held]) -> list[Prompt]:
        """Go on by heart from `state`, with what is held so far; the words, none if there is none."""
        c = self.checklist
        steps, after, offer = by_heart.ahead(
            c, state, self.mastered, MOST - len(_told(c.steps[one.step] for one in held)))
        if not steps and not held and not self._holdable(state.at):
            return []
        self._held = [*held, *(Held(name, by_heart.report_of(c.steps[name])) for name in steps)]
        self._ahead = after
        return self._challenged([c.steps[name] for name in steps], offer or Offer(after.at))

    def _holdable(self, step: str) -> bool:
        return step in self.mastered and by_heart.may_be_held(self.checklist, self.checklist.steps[step])

    def _challenged(self, steps: list[Step], offer: Offer) -> list[Prompt]:
        """The work by its name, with its cautions in one breath; the step after it as ever.

        One step is said itself: its name would be no shorter.
        """
        w = self.wording
        last = w.offer(offer)
        cautions = list(dict.fromkeys(step.caution for step in steps if step.caution))
        if len(steps) > 1:
            named = w.listed(step.section for step in steps)
            lead = [w.say("by heart", names=named).text, *cautions]
        else:
            lead = [*cautions, *(step.do for step in steps)]
        text = " ".join(sentence(part) for part in (*lead, last.text) if part)
        told = self.working_out.results([lines.Offered(offer.step, offer.again)], self.state)
        return [*(self.working_out.prompt(result, w) for result in told),
                Prompt("offer", text, last.about, last.tone, last.hold)]

    # --- answering ---------------------------------------------------------------------------

    def take(
        self, event: Event, t: float, *, reading: Reading | None = None, said: str = ""
    ) -> list[Prompt]:
        """See `Conversation.take`."""
        self._named = isinstance(event, GoTo)
        if self._ahead is None:
            return super().take(event, t, reading=reading, said=said)
        if isinstance(event, Due) and (self._said or self._held):
            return self._due_after(event.step)
        if isinstance(event, (Due, Expired)):
            return self._meanwhile(event, t, said)
        if stale := self._grow_old(t):
            return stale
        if isinstance(event, (Ask, Unclear, Unsure)):
            return self._replied(event, t)
        if isinstance(event, (Answer, Done, Problem, Read, Respond, Skip)) and not self._said:
            return self._at_the_end(Said(event, reading, said), t)
        if self._said and isinstance(event, Confirm):
            return self._confirmed(t)
        if self._said and isinstance(event, Deny):
            return self._step_by_step(t)
        if self._said and not isinstance(event, (Pause, Finish)):
            return [self.wording.say("confirm first")]
        return self._meanwhile(event, t, said)

    def _due_after(self, step: str) -> list[Prompt]:
        """Its time has come.  What is done by heart is not cut in two by it: it comes once that is
        reported, and is told once, where nothing must be said for sure."""
        assert self._ahead is not None
        if self._said or self.checklist.steps[self._ahead.at].hold or step in self._due_told:
            return []
        self._due_told.add(step)
        return self.wording.prompts((Say(Reply.DUE, step),), **self._known(self._ahead))

    def _let_come(self, t: float) -> None:
        """What has waited long enough comes after the step at hand."""
        for step in sorted(self._awaited(), key=lambda step: self.waits.left(step, t)):
            if not self.waits.left(step, t):
                super().take(Due(step), t)
        self._due_told.clear()

    def _forget(self) -> None:
        """What was done by heart is not reported: it is offered again."""
        self._held, self._ahead, self._said = [], None, None

    def _replied(self, event: Event, t: float) -> list[Prompt]:
        """What changes nothing: asked, not caught, or not for certain."""
        assert self._ahead is not None
        told = Unclear() if isinstance(event, Unsure) else event
        self._log.write(lines.Event(told, self._engine.state.at), t)
        if isinstance(event, Unsure):
            return [self.wording.say("say again", tone="attention")]
        if isinstance(event, Ask) and event.about == "repeat":
            return [self._read_back()] if self._said else self._challenge[-1:]
        if isinstance(event, Ask) and event.about == "detail" and self._held:
            steps = [self.checklist.steps[one.step] for one in self._held]
            return [Prompt("detail", " ".join(sentence(step.do) for step in steps), steps[0].id)]
        return self.wording.prompts(advance(self.checklist, self._ahead, event)[1],
                                    **self._known(self._ahead))

    def _meanwhile(self, event: Event, t: float, words: str) -> list[Prompt]:
        """Something else: a break, another step, a wait or a look that is over.  What is done by
        heart goes on where it still may, and else is asked for again; nothing of it was reported."""
        held, ahead, said = self._held, self._ahead, self._said
        self._forget()
        at = self._engine.state.at
        prompts = super().take(event, t, said=words)
        state = self._engine.state
        if self._ahead or state.at != at or state.mode is not Mode.STEP:
            return prompts
        for one in held:
            before = state
            if state.at == one.step:
                state, _ = by_heart.reported(self.checklist, state, one.event)
            if state is before:
                return [*prompts, *super().take(Ask("repeat"), t)]
        assert ahead is not None
        if state.at != ahead.at:
            return [*prompts, *super().take(Ask("repeat"), t)]
        self._held, self._said = held, said
        self._ahead = by_heart.as_asked(state) if said else state
        return prompts

    def _at_the_end(self, said: Said, t: float) -> list[Prompt]:
        """An answer at the step after those that were done by heart."""
        ahead = self._ahead
        assert ahead is not None
        event = said.event
        if isinstance(event, Read) and said.reading is not None:
            event = self.working_out.judged(event, said.reading.value, ahead)
            said = Said(event, said.reading, said.words)
        if (isinstance(event, Read) and event.band == "within" and self._holdable(ahead.at)
                and (prompts := self._held_too(said, ahead))):
            return prompts
        steps = [self.checklist.steps[one.step] for one in self._held]
        if len(steps) < 2 and not (steps and (steps[0].respond or steps[0].reading)) or (
                not _told(steps)):  # an ordinary step was named, and would have been "done"
            return self._confirmed(t, said)
        self._said = said
        self._ahead = by_heart.as_asked(ahead)
        return [self._read_back()]

    def _held_too(self, said: Said, ahead: State) -> list[Prompt]:
        """A reading that is confirmed with the rest: the value, and what comes next; nothing where
        the rest is to be confirmed now."""
        assert said.reading is not None
        c = self.checklist
        told = lines.Reading(ahead.at, said.reading.unit, float(said.reading.value), "within")
        after, effects = by_heart.reported(c, ahead, said.event)
        held = [*self._held, Held(ahead.at, said.event, said.reading)]
        again = isinstance(effects[-1], Offer) and effects[-1].again
        if after is ahead or again or len(_told(c.steps[one.step] for one in held)) >= MOST or not (
                self._holdable(after.at)
                or after.at in self.mastered and c.steps[after.at].by_heart):
            return []
        self.working_out.keep([told])
        results = self.working_out.results([told], after)
        self._challenge = self._look_ahead(after, held)
        value = Prompt("done", sentence(say_reading(said.reading, self.language)), told.step, "heard")
        return [value, *(self.working_out.prompt(result, self.wording) for result in results),
                *self._challenge]

    def _read_back(self) -> Prompt:
        """What was done by heart, in the words of its responses."""
        steps = [self.checklist.steps[one.step] for one in self._held]
        read = {one.step: one.reading for one in self._held if one.reading}
        said = self._said
        if said and self._joins(said):
            assert said.reading is not None and self._ahead is not None
            at = self.checklist.steps[self._ahead.at]
            steps, read = [*steps, at], {**read, at.id: said.reading}
        values = {name: say_reading(value, self.language) for name, value in read.items()}
        alike = [value for value, often in Counter(values.values()).items() if often > 1]
        values = {name: f"{self.wording.name(self.checklist.steps[name])} {value}"
                  if value in alike else value for name, value in values.items()}
        parts = [values.get(step.id) or step.respond or self.wording.clauses(step.outcome)
                 for step in _told(steps)]
        words = self.wording.say("readback", respond=self.wording.listed(parts, most=MOST + 1))
        return Prompt("readback together", words.text, self._held[0].step, "hold point")

    def _joins(self, said: Said) -> bool:
        """Whether the answer at the end is read back with the rest: never of what hurts."""
        assert self._ahead is not None
        step = self.checklist.steps[self._ahead.at]
        return said.reading is not None and isinstance(said.event, Read) and not step.readback

    def _confirmed(self, t: float, said: Said | None = None) -> list[Prompt]:
        """Each step is reported in its order, then the answer at the end; the first that is refused
        ends it, and says why."""
        joins = self._said is not None and self._joins(self._said)
        said, held = said or self._said, self._held
        self._forget()
        assert said is not None
        prompts: list[Prompt] = []
        self._reporting = self._together = True
        try:
            for one in held:
                told = super().take(one.event, t, reading=one.reading)
                if one.reading and self._engine.state.mode is Mode.CONFIRM:
                    told = super().take(Confirm(), t)
                if status(self.checklist, self._engine.state, one.step) is not Status.DONE:
                    return [*prompts, *told]
                prompts += [prompt for prompt in told if prompt.key == "wait begins"]
            self._together = bool(held) or None
            self._let_come(t)
            self._reporting = joins
            told = super().take(said.event, t, reading=said.reading, said=said.words)
            self._reporting = False
            if joins and self._engine.state.mode is Mode.CONFIRM:
                told = super().take(Confirm(), t)
        finally:
            self._reporting, self._together = False, None
        return [*prompts, *told]

    def _slipped(self, step: str) -> None:
        """The part of the list that it belongs to is no longer known by heart."""
        steps = self.checklist.steps
        if step in steps and (section := steps[step].section):
            self.mastered = frozenset(
                name for name in self.mastered if steps[name].section != section)

    def _step_by_step(self, t: float) -> list[Prompt]:
        """Something was not so: from here on each step is asked for."""
        for one in self._held:
            self._slipped(one.step)
        first = self._held[0].step
        self._forget()
        self._log.write(lines.Event(Deny(), first, together=True), t)
        return [self.wording.say("step by step"), *super().take(Ask("repeat"), t)]


class Practised(AtAPlace, ByHeart):
    """Knows how it was here last time, and what the operator knows."""


def _told(steps: Iterable[Step]) -> list[Step]:
    """Those of which something is read back: an answer, a number, or what they changed."""
    return [step for step in steps if step.respond or step.reading or step.outcome]
