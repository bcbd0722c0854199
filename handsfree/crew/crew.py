"""Two operators in one session: a conversation each, on one state and one journal.

May import the session's conversation and the engine.  What one does and the other has to hear of
waits in the other's mail until they are free to listen; until then nothing that they say counts,
because it could only be about what they were told before.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from handsfree.checklist.model import SIDES, Checklist
from handsfree.engine import together
from handsfree.engine.state import Effect, Event, Offer, State
from handsfree.engine.together import Together, Told, partner, seen_from
from handsfree.hearing.types import Heard
from handsfree.language.model import Language
from handsfree.session.conversation import Conversation, Log, observations
from handsfree.session.wording import Prompt
from handsfree.storage import lines
from handsfree.storage.lines import Line


@dataclass
class Signed:
    """A journal in which every line says whose it is."""

    log: Log
    side: str

    def write(self, line: Line, t: float, who: str = "") -> None:
        """See `conversation.Log`."""
        self.log.write(line, t, who or self.side)


class Crew:
    """Both conversations, by side."""

    def __init__(
        self, checklist: Checklist, language: Language, log: Log,
        options: Mapping[str, Mapping[str, Any]] | None = None, *, calls: bool = False,
    ) -> None:
        """`options` are further arguments of `Conversation`, by side; with `calls` the side is
        called out before what is meant for it, because both hear one loudspeaker."""
        self.checklist = checklist
        nothing = State(frozenset(), ())
        self.both = Together((nothing, nothing))
        self._calls = calls
        self._last = ""
        self.partners = {
            side: Partner(self, side, seen_from(checklist, side), language, Signed(log, side),
                          **(options or {}).get(side, {}))
            for side in SIDES}
        for one in self.partners.values():  # readings and waits are common
            one.waits, one.working_out = self.lead.waits, self.lead.working_out
            one.ageing = self.lead.ageing

    @property
    def lead(self) -> Partner:
        """The one who begins the session."""
        return self.partners[SIDES[0]]

    def settle(self, both: Together, told: tuple[Told, ...], side: str) -> tuple[Effect, ...]:
        """Take over an outcome; returns what this side is told, the other gets mail."""
        self.both = both
        there = self.partners[partner(side)]
        there.told(tuple(effect for whom, effect in told if whom == there.side))
        return tuple(effect for whom, effect in told if whom == side)

    def call(self, side: str) -> Prompt:
        """What a side is called by."""
        return self.lead.wording.say(f"side.{side}")

    def called(self, side: str, prompts: list[Prompt]) -> list[Prompt]:
        """The same, with the side called out first if the other one was spoken to last."""
        if not self._calls or side == self._last or not any(prompt.text for prompt in prompts):
            return prompts
        self._last = side
        return [self.call(side), *prompts]

    def replay(self, record: frozenset[str], told: Sequence[Line]) -> None:
        """Bring back both states from a journal's events."""
        self.both, _ = together.begin(self.checklist, record)
        for line in told:
            if isinstance(line, lines.Event) and line.event is not None:
                self.both, _ = together.advance(
                    self.checklist, self.both, line.who or SIDES[0], line.event)


class Shared:
    """The engine as one of two drives it: a part of the common state."""

    def __init__(self, crew: Crew, side: str) -> None:
        self._crew = crew
        self._side = side

    @property
    def state(self) -> State:
        """This operator's part of it."""
        return self._crew.both.of(self._side)

    def start(self, record: frozenset[str]) -> tuple[Effect, ...]:
        """See `Engine`; for both."""
        return self._crew.settle(*together.begin(self._crew.checklist, record), self._side)

    def foreseen(self, event: Event) -> tuple[State, tuple[Effect, ...]]:
        """See `Engine`."""
        both, told = together.advance(self._crew.checklist, self._crew.both, self._side, event)
        return both.of(self._side), tuple(effect for whom, effect in told if whom == self._side)

    def go(self, event: Event) -> tuple[Effect, ...]:
        """See `Engine`; the other one gets mail."""
        outcome = together.advance(self._crew.checklist, self._crew.both, self._side, event)
        return self._crew.settle(*outcome, self._side)

    def restore(self, state: State) -> None:
        """See `Engine`; both go on from there."""
        self._crew.both, _ = together.joined(self._crew.checklist, state)


class Partner(Conversation):
    """One of the two conversations."""

    def __init__(
        self, crew: Crew, side: str, checklist: Checklist, language: Language, log: Log,
        **options: Any,
    ) -> None:
        self._crew = crew
        self.side = side
        self.mail: list[Callable[[float], list[Prompt]]] = []
        """What has to be told, put into words when it is."""
        self.seen: list[Line] = []
        """What the other one's last word led to on this side, for the record."""
        super().__init__(checklist, language, log, engine=Shared(crew, side), **options)

    def told(self, effects: tuple[Effect, ...]) -> None:
        """What the other one's word means for this side."""
        offers = tuple(effect for effect in effects if isinstance(effect, Offer))
        told = observations(offers, self.state)  # the rest is the other one's to write down
        results = self.working_out.results(told, self.state)
        self.seen = [replace(line, who=self.side)
                     for line in (*told, *(result.line() for result in results))]
        if effects:
            self.mail.append(lambda t: self.working_out.placed(
                self.wording.prompts(effects, **self._known(self.state),
                                     **self._known_of_waits(None, t)), results, self.wording))

    @property
    def over(self) -> bool:
        """Closed, or finished for now, and told so."""
        return super().over and not self.mail

    def be_familiar(self, familiar: bool) -> None:
        """See `Conversation.be_familiar`; for both."""
        for one in self._crew.partners.values():
            one.wording.familiar = familiar

    def begin(self, record: frozenset[str], t: float, **about: Any) -> list[Prompt]:
        """A new session of both; only the lead begins it."""
        opening = super().begin(record, t, operators=SIDES, **about)
        return self._crew.called(self.side, opening)

    def replay(
        self, record: frozenset[str], told: Sequence[Line], t: float = 0.0,
        now: datetime | None = None,
    ) -> None:
        """See `Conversation.replay`; for both at once."""
        self._crew.replay(record, told)
        for side, one in self._crew.partners.items():
            own = tuple(line for line in told if (line.who or SIDES[0]) == side)
            one.remember(own, t, now)

    def resume(self, t: float) -> list[Prompt]:
        """Go on after a replay: both are told where they are."""
        there = self._crew.partners[partner(self.side)]
        mine = super().resume(t)
        there.mail = []
        told = Conversation.resume(there, t)
        there.mail = [lambda _: told]
        return self._crew.called(self.side, mine)

    def hear(self, heard: Heard, t: float) -> list[Prompt]:
        """One utterance; while there is mail it is too late for it."""
        return self._crew.called(self.side, self._post(t) or super().hear(heard, t))

    def remind(self, t: float) -> list[Prompt]:
        """The mail, or a reminder that is due."""
        return self._crew.called(self.side, self._post(t) or super().remind(t))

    def noted(self, t: float, audio: str, text: str = "") -> list[Prompt]:
        """See `Conversation.noted`."""
        return self._crew.called(self.side, super().noted(t, audio, text))

    def drop_note(self) -> list[Prompt]:
        """See `Conversation.drop_note`."""
        return self._crew.called(self.side, super().drop_note())

    def _post(self, t: float) -> list[Prompt]:
        mail, self.mail = self.mail, []
        return [prompt for told in mail for prompt in told(t)]

    def _awaited(self) -> frozenset[str]:
        return self.state.waits.intersection(self.checklist.offers)

    def _observed(self, effects: tuple[Effect, ...]) -> list[Line]:
        return [replace(seen, who=self.side) for seen in super()._observed(effects)]

    def _elsewhere(self) -> list[Line]:
        return self._crew.partners[partner(self.side)].seen
