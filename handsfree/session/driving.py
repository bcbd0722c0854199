"""How a conversation drives the engine: alone here; for one of two operators see `crew`.

Pure.  May import the engine and the checklist model.
"""

from __future__ import annotations

from typing import Protocol

from handsfree.checklist.model import Checklist
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import Effect, Event, State


class Engine(Protocol):
    """One operator's side of what happens."""

    @property
    def state(self) -> State: ...

    def start(self, record: frozenset[str]) -> tuple[Effect, ...]:
        """Begin from what is on record."""
        ...

    def foreseen(self, event: Event) -> tuple[State, tuple[Effect, ...]]:
        """What an event would lead to."""
        ...

    def go(self, event: Event) -> tuple[Effect, ...]:
        """Let it happen."""
        ...

    def restore(self, state: State) -> None:
        """Go on from another state, as one that was rebuilt."""
        ...


class Alone:
    """The engine of one operator alone."""

    def __init__(self, checklist: Checklist) -> None:
        self._checklist = checklist
        self.state = State(frozenset(), ())

    def start(self, record: frozenset[str]) -> tuple[Effect, ...]:
        """See `Engine`."""
        self.state, effects = begin(self._checklist, record)
        return effects

    def foreseen(self, event: Event) -> tuple[State, tuple[Effect, ...]]:
        """See `Engine`."""
        return advance(self._checklist, self.state, event)

    def go(self, event: Event) -> tuple[Effect, ...]:
        """See `Engine`."""
        self.state, effects = self.foreseen(event)
        return effects

    def restore(self, state: State) -> None:
        """See `Engine`."""
        self.state = state
