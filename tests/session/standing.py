"""An operator who looks at a trailer and answers truthfully how it stands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.checklist.rig_questions import Answers
from handsfree.hearing.types import Hypothesis
from handsfree.language.model import Language
from handsfree.session.interview import Interviewing, interview
from handsfree.session.settling import Unsettled, settle, unsettled
from handsfree.session.state_questions import CAMP, ROAD, StateQuestion, state_facts
from handsfree.session.state_questions_file import Core, load_state_questions
from handsfree.storage.paths import checklists_folder
from handsfree.testing import MemoryLog

CORE = load_state_questions(checklists_folder())


def truly(question: StateQuestion, world: frozenset[str], questions: Sequence[StateQuestion],
          core: Core = CORE) -> bool:
    """What somebody who sees the trailer answers; `world` are the facts that are so."""
    if question.id in (ROAD, CAMP):
        ending = "on the road" if question.id == ROAD else "set up"
        return all(literal.holds(world) for one in questions if one.id.endswith(ending)
                   for literal in one.yes)
    return all(literal.holds(world) for literal in question.yes)


def answered(
    questions: Sequence[StateQuestion], world: frozenset[str]
) -> tuple[frozenset[str], int]:
    """Ids that were answered with yes, and how many questions were asked."""
    yes: set[str] = set()
    count = 0
    for question in questions:
        if question.only_if.holds(yes):
            count += 1
            if truly(question, world, questions):
                yes.add(question.id)
    return frozenset(yes), count


def told_how_it_stands(checklist: Checklist, rig: Rig, language: Language, folder: Path,
                       world: frozenset[str]) -> int:
    """Let the program ask what is open, and write it down; how many questions it took."""
    asked = unsettled(CORE, checklist, rig, language, folder)
    if asked is None:
        return 0
    yes, count = answered(asked.questions, world)
    settle(CORE, asked, yes, folder)
    return count


def closed(world: Iterable[str], checklist: Checklist, rig: Rig) -> frozenset[str]:
    """The world, without what cannot be: what the rig has not, or what hangs on other things."""
    core, facts = CORE.of(checklist.several), state_facts(CORE, checklist, rig)
    so = {name for name in world if name in facts}
    so |= {name for name, fact in checklist.facts.items()
           if name in core.of_rig and name not in facts and fact.start}
    for _ in range(3):
        so -= {name for name, when in core.only_if.items() if name in facts and not when.holds(so)}
        for when, then in core.follows:
            if when.holds(so):
                so |= {literal.fact for literal in then if literal.wanted and literal.fact in facts}
    return frozenset(so)


class Looking:
    """Talks through an interview by voice, with words of its own where it has some."""

    def __init__(
        self, asked: Unsettled, language: Language, world: frozenset[str],
        words: Sequence[str] = (),
    ) -> None:
        self.language, self.world, self.words = language, world, list(words)
        self.questions = asked.questions
        made = interview(asked.questions, (), language, asked.why)
        self.log = MemoryLog()
        self.conversation = Interviewing(asked.questions, made, language, self.log)
        self.said: list[str] = []
        self.prompts = self.conversation.begin(frozenset(), 0.0)

    def run(self, most: int = 200) -> frozenset[str]:
        """To the end; ids that were answered with yes."""
        for _ in range(most):
            if self.conversation.over:
                break
            self.say(self.words.pop(0) if self.words else self._own())
        assert self.conversation.over
        return self.conversation.state.facts

    def say(self, words: str) -> None:
        """One utterance."""
        self.said.append(words)
        self.prompts = self.conversation.hear(Hypothesis(words, 1.0, 0.0, 0.0), 1.0)

    def _own(self) -> str:
        by_id = {question.id: question for question in self.questions}
        right = truly(by_id[self.conversation.state.at], self.world, self.questions)
        return self.language.commands["confirm" if right else "deny"][0]


def truthful(world: frozenset[str]):  # type: ignore[no-untyped-def]
    """An `Ask` of `cli_first` who sees this world."""

    def ask(questions, known, language, why="") -> Answers:  # type: ignore[no-untyped-def]
        return Answers(answered(questions, world)[0])

    return ask
