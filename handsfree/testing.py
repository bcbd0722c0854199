"""Doubles that we ship: a conversation in text, a log in memory, a clock turned by hand.

May import the session room and hearing's types; no audio.  For tests of checklists (ours and
yours) that need the whole conversation but no sound.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from handsfree.checklist.model import Checklist
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection
from handsfree.language.model import Language
from handsfree.rehearsal.operator import Operator
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.session.manner import Manner
from handsfree.session.opening import Started
from handsfree.session.wording import Prompt
from handsfree.storage.lines import Line


@dataclass
class MemoryLog:
    """A journal that only remembers; `lines` are as `journal.read` gives them."""

    lines: list[Line] = field(default_factory=list)
    n: int = 0

    def write(self, line: Line, t: float, who: str = "") -> None:
        """See `handsfree.storage.journal.Journal.write`."""
        self.n += 1
        line = replace(line, n=self.n, t=t, who=who or line.who)
        self.lines += [line, *line.led_to()]


@dataclass
class ManualClock:
    """A clock that moves when told to."""

    t: float = 0.0

    def __call__(self) -> float:
        return self.t

    def sleep(self, seconds: float) -> None:
        """Move it forward."""
        self.t += seconds


@dataclass
class ScriptedRecogniser:
    """A `Recogniser` that gives what it was told to, one answer an utterance."""

    answers: list[Heard]
    name: str = "scripted"
    grammars: list[Grammar] = field(default_factory=list)

    def expect(self, grammar: Grammar) -> None:
        """Remember what may be said."""
        self.grammars.append(grammar)

    def begin(self) -> None:
        """Nothing to forget."""

    def feed(self, samples: object) -> None:
        """Never certain early."""

    def finish(self) -> Heard:
        """The next answer."""
        return self.answers.pop(0) if self.answers else Rejection("unclear", 0.0, 0.0)

    def close(self) -> None:
        """Nothing is held."""


@dataclass
class Talk:
    """A conversation in text: (who, words) in order."""

    conversation: Conversation
    log: MemoryLog
    turns: list[tuple[str, str]] = field(default_factory=list)
    prompts: list[Prompt] = field(default_factory=list)

    def words_of(self, who: str) -> list[str]:
        """Everything that one side said."""
        return [words for speaker, words in self.turns if speaker == who]


def talk(
    checklist: Checklist,
    language: Language,
    script: Script | None = None,
    *,
    record: frozenset[str] | None = None,
    started: Started | None = None,
    manner: Manner | None = None,
    turns: int = 1000,
    talking: Callable[..., Conversation] = Conversation,
) -> Talk:
    """Let a script's operator and the program talk to the end, without sound.

    Every word is heard as it was said, provided that it may be said; anything else is rejected.
    With `started` the session is written to its journal, from what is on the rig's record there;
    else it begins from `record` and is only remembered.  `talking` makes the conversation.
    """
    memory = MemoryLog()
    log = started.log if started else memory
    script = script or Script()
    conversation = talking(checklist, language, log, now=lambda: script.moment(0.0),
                           manner=manner or Manner())
    operator = Operator(script, checklist, language)
    told = Talk(conversation, memory)
    if started:
        prompts = started.begin(conversation, 0.0, log)
    else:
        start = checklist.start_facts if record is None else record
        prompts = conversation.begin(start, 0.0, known=frozenset(checklist.facts))
    away = 0.0
    for turn in range(turns):
        for prompt in prompts:
            told.prompts.append(prompt)
            told.turns.append(("program", prompt.text or f"({prompt.tone})"))
            operator.hear(prompt)
        away, operator.gone = away + operator.gone, 0.0
        words = "" if conversation.over else operator.answer()
        if not words or operator.baffled:
            break
        told.turns.append(("operator", words))
        prompts = conversation.hear(Hypothesis(words, 1.0, 0.0, 0.0), turn + away)
    return told
