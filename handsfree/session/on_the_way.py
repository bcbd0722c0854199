"""A conversation in the order that walks least: once the operator leaves it, from where he stands.

No audio and no clock.  May import the conversation and the engine.  Where to go next is found by
whoever made the conversation; it is gone to by the ordinary `GoTo`, so that it is refused, written
down and replayed as one that was said.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from handsfree.engine.choosing import status
from handsfree.engine.state import Event, GoTo, Mode, Skip, State, Status
from handsfree.session.conversation import Conversation
from handsfree.session.wording import Prompt


class OnTheWay(Conversation):
    """Offers another step than the list's next one, where that is the shorter way; never by heart,
    when several steps are ahead of what is on record."""

    def __init__(
        self, *args: Any, on_the_way: Callable[[State], str] = lambda state: "", **options: Any
    ) -> None:
        """`on_the_way` gives the step to take next; '' where the list's own choice stands."""
        super().__init__(*args, **options)
        self._on_the_way = on_the_way
        self._off_order = False
        """He went to a step by name, or left one for later: the order was made for other."""

    def take(self, event: Event, t: float, **about: Any) -> list[Prompt]:
        """See `Conversation.take`."""
        before = self.state
        prompts = super().take(event, t, **about)
        after = self.state
        moved = after.mode is Mode.STEP and after.at != before.at
        self._off_order |= moved and isinstance(event, (GoTo, Skip))
        if self.manner.by_heart or not (self._off_order and moved) or isinstance(event, GoTo) or after.remedies or (
                status(self.checklist, after, after.at) is not Status.OPEN
                or self.checklist.steps[after.at].wait):  # what is due comes when it is
            return prompts
        step = self._on_the_way(after)
        if step in ("", after.at):
            return prompts
        more = super().take(GoTo(step), t)
        if self.state.at != step:
            return prompts
        return [prompt for prompt in prompts
                if not (prompt.key == "offer" and prompt.about == after.at)] + more
