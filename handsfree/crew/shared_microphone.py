"""One microphone for two operators: who speaks says their side first.

May import the crew, the engine's states and hearing's types.  "Outside done", "inside skip"; or the
side alone, and then the next utterance is theirs, as a reading or a note has to be.  What is said
without a side is nobody's.  Keys are the lead's.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf

from handsfree.checklist.model import SIDES
from handsfree.crew.crew import Crew, Partner
from handsfree.engine.state import Event, State
from handsfree.engine.together import Together
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection, normal
from handsfree.session.wording import Prompt


class SharedMicrophone:
    """Both of a crew's conversations, to the loop as if they were one."""

    def __init__(self, crew: Crew) -> None:
        self.crew = crew
        self.language = crew.lead.language
        self.wording = crew.lead.wording
        self.bands = crew.lead.bands
        self._names = {
            normal(self.wording.say(f"side.{side}").text): crew.partners[side] for side in SIDES}
        self._turn: Partner | None = None
        """Whose the next utterance is, once a side was called alone."""
        self._moment: tuple[Together, Partner | None] = (crew.both, None)

    @property
    def state(self) -> State:
        """The lead's."""
        return self.crew.lead.state

    @property
    def moment(self) -> object:
        """See `Conversation.moment`."""
        if self._moment[0] is not self.crew.both or self._moment[1] is not self._turn:
            self._moment = (self.crew.both, self._turn)
        return self._moment

    @property
    def over(self) -> bool:
        """Whether both have come to the end."""
        return all(one.over for one in self.crew.partners.values())

    @property
    def noting(self) -> bool:
        """Whether one of them dictates a note."""
        return any(one.noting for one in self.crew.partners.values())

    def drop_note(self) -> list[Prompt]:
        """See `Conversation.drop_note`, of both."""
        return [prompt for one in self.crew.partners.values() for prompt in one.drop_note()]

    def typed(self, said: str, t: float) -> list[Prompt]:
        """See `Conversation.typed`; the note is of who dictates it."""
        return [prompt for one in self.crew.partners.values() for prompt in one.typed(said, t)]

    def waiting(self, t: float) -> list[tuple[str, float]]:
        """See `Conversation.waiting`, of both."""
        return sorted((wait for one in self.crew.partners.values() for wait in one.waiting(t)),
                      key=lambda wait: wait[1])

    @property
    def wary(self) -> bool:
        """See `Conversation.wary`."""
        return self.crew.lead.wary

    @wary.setter
    def wary(self, wary: bool) -> None:
        for one in self.crew.partners.values():
            one.wary = wary

    def grammar(self) -> Grammar:
        """A side before all that it may say; after a side alone, all that it may say."""
        names = frozenset(self._names)
        if self._turn:
            own = self._turn.grammar()
            return replace(own, phrases=own.phrases | names)
        return Grammar(names | {
            f"{name} {phrase}" for name, one in self._names.items()
            for phrase in one.grammar().phrases})

    def finalisation_delay(self, text: str) -> float:
        """See `Conversation.finalisation_delay`; a side alone may go on."""
        one, words = self._addressed(text)
        return one.finalisation_delay(words) if one and words else inf

    @property
    def reads(self) -> bool:
        """See `Conversation.reads`."""
        return (self._turn or self.crew.lead).reads

    def wanted(self) -> Prompt:
        """See `Conversation.wanted`; without a side, that one is wanted first."""
        return self._turn.wanted() if self._turn else self.wording.say(
            "who speaks", tone="attention")

    def replies(self) -> list[str]:
        """See `Conversation.replies`."""
        return [*(self.crew.call(side).text for side in SIDES),
                *(text for one in self.crew.partners.values() for text in one.replies())]

    def hear(self, heard: Heard, t: float) -> list[Prompt]:
        """One utterance, to the side that it names."""
        lead = self.crew.lead
        if isinstance(heard, Rejection):
            one, words = self._addressed(heard.written)
            return (one or lead).hear(replace(heard, written=words if one else ""), t)
        if heard.engine == "keyboard":
            return lead.hear(heard, t)
        one, words = self._addressed(heard.text)
        if one is None:
            return [self.wording.say("who speaks", tone="attention")]
        if not words:
            self._turn = one
            return [Prompt("side", "", tone="listening")]
        self._turn = None
        return one.hear(replace(heard, text=words), t)

    def stopped(self, heard: Hypothesis, t: float) -> list[Prompt]:
        """It falls silent; whose word it was is not known, so nothing else comes of it, but that a
        note is none after all."""
        return self.drop_note()

    def take(self, event: Event, t: float) -> list[Prompt]:
        """A question of the loop's own, for both."""
        return [prompt for one in self.crew.partners.values()
                for prompt in self.crew.called(one.side, one.take(event, t))]

    def remind(self, t: float) -> list[Prompt]:
        """What either of them has to be told."""
        return [prompt for one in self.crew.partners.values()
                for prompt in one.remind(t)]

    def noted(self, t: float, audio: str, text: str = "") -> list[Prompt]:
        """The note that was being taken is complete."""
        one = next(one for one in self.crew.partners.values() if one.noting)
        return one.noted(t, audio, text)

    def _addressed(self, text: str) -> tuple[Partner | None, str]:
        """Whose words these are, and the words without the side."""
        said = normal(text)
        for name, one in self._names.items():
            if said == name:
                return one, ""
            if said.startswith(f"{name} "):
                return one, said[len(name) + 1:]
        return self._turn, said
