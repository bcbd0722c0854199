"""Speaks a session's prompts, one after the other.

May import the ports, lines, wording's prompts and audio.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable

import numpy as np

from handsfree.audio import silence
from handsfree.session.ports import Ports
from handsfree.session.wording import Prompt
from handsfree.storage import lines

TAIL = 0.25
"""Seconds of deafness after the last prompt, while the room still rings."""


class Mouth:
    """What waits to be spoken, and what is being spoken."""

    def __init__(self, ports: Ports) -> None:
        self._ports = ports
        self._queue: deque[Prompt] = deque()
        self._speaking: tuple[Prompt, float] | None = None
        self._rings_until = 0.0

    @property
    def idle(self) -> bool:
        """Whether everything has been spoken."""
        return not self._queue and self._speaking is None

    @property
    def speaking(self) -> bool:
        """Whether a prompt has begun and is not written down as spoken."""
        return self._speaking is not None

    @property
    def alarming(self) -> bool:
        """Whether it is a danger that is being told."""
        return self._speaking is not None and self._speaking[0].key == "alarm"

    @property
    def to_be_heard(self) -> bool:
        """Whether the program would hear itself."""
        return not self.idle or self._ports.speaker.playing or (
            self._ports.clock() < self._rings_until)

    def say(self, prompts: Iterable[Prompt]) -> None:
        """Speak them when it is their turn."""
        self._queue.extend(prompts)

    def hush(self) -> None:
        """Stop, and forget what waits."""
        self._ports.speaker.stop()
        self._queue.clear()

    def forget(self, keys: Collection[str]) -> None:
        """Leave out what waits under these keys."""
        self._queue = deque(prompt for prompt in self._queue if prompt.key not in keys)

    def go_on(self, ready: bool) -> bool:
        """Start the next prompt when the last one has ended; whether one began.

        Args:
            ready: false where nothing may be begun yet.
        """
        ports = self._ports
        if ports.speaker.playing:
            return False
        now = ports.clock()
        if self._speaking is not None:
            self._end(*self._speaking, now)
        if not (self._queue and ready and self._may_talk()):
            return False
        prompt = self._queue.popleft()
        parts = [ports.sounds.tone(prompt.tone), silence(0.1)] if prompt.tone else []
        if prompt.text:
            parts.append(ports.sounds.get(prompt.text))
        ports.speaker.play(ports.loudness(np.concatenate(parts), ports.listener.floor_dbfs))
        self._speaking = (prompt, now)
        ports.watch.prompt(prompt, now)
        return True

    def _end(self, prompt: Prompt, began: float, now: float) -> None:
        self._ports.log.write(
            lines.Spoke(prompt.key, prompt.about, prompt.text, round(now - began, 2),
                        round(began, 3), round(now, 3)), now)
        self._speaking = None
        self._rings_until = now + TAIL
        if self._ports.floor and not self._queue:
            floor, side = self._ports.floor
            floor.leave(side)

    def _may_talk(self) -> bool:
        """Take the floor that is shared with another session, if there is one."""
        if self._ports.floor is None:
            return True
        floor, side = self._ports.floor
        if not floor.free(side):
            return False
        self._queue.extendleft(reversed(floor.take(side)))
        return True
