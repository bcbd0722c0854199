"""Questions about a rig as a checklist, so that they are asked by voice like any other step.

Pure.  May import the checklist model and its first questions, the engine's state, the core,
language, conversation and wording.  A number is offered with its default first; only if that is
not right, it is read out.  How the trailer stands is asked by an `Interviewing` conversation, which
knows three phrases more, reads answers back as facts, and takes no short yes to a list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from handsfree.checklist.conditions import Condition, Literal, both
from handsfree.checklist.model import Checklist, Fact, Origin, Reading, Step, answered_fact
from handsfree.checklist.rig_questions import Answers, Question
from handsfree.engine.state import Answer, Event, Mode, Unsure
from handsfree.hearing.early_finalisation import FIRM
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection, normal
from handsfree.language.intents import Command
from handsfree.language.model import Language
from handsfree.language.readings import Reading as Value
from handsfree.language.readings import say_reading
from handsfree.language.words import asks
from handsfree.session.conversation import Conversation, Log
from handsfree.session.expecting import expected
from handsfree.session.state_questions import CAMP, ROAD, StateQuestion
from handsfree.session.wording import Prompt, Wording
from handsfree.storage import lines
from handsfree.storage.lines import Line


def interview(
    questions: Sequence[Question], known: Iterable[str], language: Language, why: str = ""
) -> Checklist:
    """The questions as a checklist; numbers in units that are not spoken keep their defaults.

    Args:
        known: traits that the rig has, as far as that was answered before.
        why: said first, instead of what is said before the questions about a rig file.
    """
    empty = Checklist("first-questions", "", {}, {}, ())
    say = Wording(empty, language).say
    facts: dict[str, Fact] = {name: Fact(name, Origin.TRAIT) for name in known}
    steps: dict[str, Step] = {}

    for core in questions:
        if isinstance(core, StateQuestion):  # whose conditions are over each other
            facts[core.id] = Fact(core.id, Origin.SITE, says=core.says or core.id,
                                  otherwise=core.otherwise)

    def ask(name: str, text: str, only_if: Condition) -> None:
        facts.setdefault(name, Fact(name, Origin.SITE, says=name))
        facts[answered_fact(name)] = Fact(answered_fact(name), Origin.ANSWERED, says=name)
        steps[name] = Step(name, text, only_if=only_if, question=True, gives=frozenset({name}))

    for question in questions:
        if isinstance(question, StateQuestion):
            ask(question.id, say("first.how").text if question.id == ROAD else question.text,
                question.only_if)
            continue
        mentioned = sorted(question.only_if.names())
        for name in mentioned:
            facts.setdefault(name, Fact(name, Origin.TRAIT))
        only_if = both(question.only_if, *(
            Literal(answered_fact(name)) for name in mentioned if name in steps))
        limit = question.limit
        if limit is None:
            ask(question.id, question.text, only_if)
        elif limit.unit in language.units:
            usual = say_reading(Value(Fraction(str(limit.default)), limit.unit), language)
            keep = _keep(question.id)
            ask(keep, say("first.take", ask=question.text, reading=usual).text, only_if)
            number = f"{question.id} number"
            steps[number] = Step(
                number, question.text, reading=Reading(limit.unit), only_if=both(
                    only_if, Literal(keep, False), Literal(answered_fact(keep))))
    return Checklist(
        id=empty.id, title=say("first.title").text, facts=facts, steps=steps, order=tuple(steps),
        says=why or say("first.says").text, closing=say("first.closing").text,
        language=language.code)


def answers(
    questions: Iterable[Question], facts: frozenset[str], told: Iterable[Line]
) -> Answers:
    """What was answered, from the facts at the end and the lines of the log."""
    read = {line.step: line.value for line in told if isinstance(line, lines.Reading)}
    asked = [question for question in questions if question.only_if.holds(facts)]
    return Answers(
        frozenset(question.id for question in asked
                  if question.limit is None and question.id in facts),
        {question.id: question.limit.default if _keep(question.id) in facts
         else read.get(f"{question.id} number", question.limit.default)
         for question in asked if question.limit})


def _keep(limit: str) -> str:
    return f"keep {limit}"


GO_ON = "go on"
"""Id of the one question after a session that was not finished."""


class Interviewing(Conversation):
    """Asks how the trailer stands."""

    def __init__(
        self, questions: Sequence[Question], checklist: Checklist, language: Language, log: Log,
        **options: Any,
    ) -> None:
        """`checklist` is what `interview` made of the questions."""
        super().__init__(checklist, language, log, **options)
        self.keep: Callable[[Mapping[str, bool]], None] = lambda answers: None
        """Told of all answers so far, whenever one is given or taken back."""
        self._core = {question.id: question for question in questions
                      if isinstance(question, StateQuestion)}
        say = self.wording.say
        yes, no = Answer(True), Answer(False)
        self._phrases: dict[str, tuple[Event, ...]] = {
            normal(say("first.say road").text): (yes,),
            normal(say("first.say camp").text): (no, yes),
            normal(say("first.say ask").text): (no, no)} if ROAD in self._core else {}

    @property
    def _choosing(self) -> bool:
        """Whether one of the three phrases may be said."""
        return self.state.at in (ROAD, CAMP) and self.state.mode is Mode.STEP

    def grammar(self) -> Grammar:
        """See `Conversation.grammar`."""
        found = super().grammar()
        return replace(found, phrases=found.phrases | set(self._phrases)) if (
            self._choosing) else found

    def wanted(self) -> Prompt:
        """See `Conversation.wanted`."""
        return self.wording.say("first.how", tone="attention") if self._choosing else super().wanted()

    def finalisation_delay(self, text: str) -> float:
        """See `Conversation.finalisation_delay`."""
        return FIRM if self._choosing and text in self._phrases else super().finalisation_delay(text)

    def hear(self, heard: Heard, t: float) -> list[Prompt]:
        """One utterance."""
        if isinstance(heard, Hypothesis) and heard.confidence >= self.bands.unsure:
            said = normal(heard.text)
            if self._choosing and said in self._phrases and not asks(heard.text):
                return self._chosen(heard, self._phrases[said], t)
            if self._short_yes(heard):
                self._heard(heard, t, "asked")
                return self.take(Unsure(Answer(True)), t, said=heard.text)
        if isinstance(heard, Rejection) and heard.written and self._at_a_list() and self._yes(heard.written):
            self._no_phrase(heard, t, "asked", heard.written)
            return self.take(Unsure(Answer(True)), t, said=heard.written)
        return super().hear(heard, t)

    def _chosen(self, heard: Hypothesis, answers: tuple[Event, ...], t: float) -> list[Prompt]:
        """All of it is read out afterwards, so that this needs no readback of its own."""
        if heard.confidence < self.bands.certain:
            self._heard(heard, t, "asked")
            return [self.wording.say("say again", tone="attention")]
        self._heard(heard, t, "accepted")
        if self.state.at == CAMP:  # the first question was answered with no: that stands
            answers = answers[1:] or (Answer(False),)
        prompts: list[Prompt] = []
        for answer in answers:
            prompts = self.take(answer, t)
        words = self.wording.say("first.noted", clause=heard.text).text
        return [replace(prompt, text=words if prompt.key == "answered yes" else "")
                if prompt.about in (ROAD, CAMP) else prompt for prompt in prompts]

    def _short_yes(self, heard: Hypothesis) -> bool:
        """To a list that was read out, by one word that may have been a gust, or in words of one's own:
        in others than those that are taught for a confirmation."""
        if not (self._at_a_list() and heard.engine != "keyboard" and heard.confidence >= self.bands.certain):
            return False
        return self._yes(heard.text) and (heard.own_words or "confirm" not in self.matcher.sayings.means(
            self.matcher.sayings.plain(heard.text)))

    def _at_a_list(self) -> bool:
        asked = self._core.get(self.state.at)
        return bool(asked and asked.listed) and self.state.mode is Mode.STEP

    def _yes(self, words: str) -> bool:
        meant = self.matcher.interpret(words, expected(self.checklist, self.state))
        return meant in (Command("yes"), Command("confirm"))

    def take(self, event: Event, t: float, **about: Any) -> list[Prompt]:
        """See `Conversation.take`; an answer is read back as the fact that it settles."""
        told = [self._told(prompt) for prompt in super().take(event, t, **about)]
        self.keep(self.answered)
        return told

    @property
    def answered(self) -> dict[str, bool]:
        """The answers so far, by question."""
        facts = self.state.facts
        return {name: name in facts for name in self.checklist.order if answered_fact(name) in facts}

    def go_on_with(self, answers: Mapping[str, bool], t: float) -> list[Prompt]:
        """Take the answers that were given before; the question that comes next, if they fit."""
        prompts: list[Prompt] = []
        while self.state.mode is Mode.STEP and self.state.at in answers:
            prompts = self.take(Answer(answers[self.state.at]), t)
        return [prompt for prompt in prompts if prompt.key not in ("answered yes", "answered no")]

    def begin(self, record: frozenset[str], t: float, **about: Any) -> list[Prompt]:
        """See `Conversation.begin`."""
        return [self._told(prompt) for prompt in super().begin(record, t, **about)]

    def _told(self, prompt: Prompt) -> Prompt:
        asked = self._core.get(prompt.about)
        if asked is None:
            return prompt
        if prompt.key in ("answered yes", "answered no") and asked.says:
            clause = asked.says if prompt.key == "answered yes" else asked.otherwise
            return replace(prompt, text=self.wording.say("first.noted", clause=clause).text)
        if prompt.key == "offer" and asked.listed:
            commands = self.language.commands
            hint = self.wording.say("hint.question").text
            agree = self.wording.say("first.agree", yes=commands["confirm"][0],
                                     no=commands["deny"][0]).text
            return replace(prompt, text=prompt.text.replace(hint, agree))
        if prompt.key == "offer" and asked.id == ROAD:
            hint = self.wording.say("hint.question").text
            return replace(prompt, text=prompt.text.replace(hint, "").strip())
        return prompt


class Brief(Interviewing):
    """Asks one thing without ado: nothing is written down that could be complete."""

    def take(self, event: Event, t: float, **about: Any) -> list[Prompt]:
        """See `Conversation.take`."""
        return [replace(prompt, text="", tone="heard") if prompt.key == "closed" else prompt
                for prompt in super().take(event, t, **about)]
