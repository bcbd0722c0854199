"""The loop: frames in, prompts out, one utterance at a time; the same live and in rehearsal.

May import the conversation, hearing's listener, the prompt cache's port and the device ports.
Half duplex: deaf while speaking and for a short tail after it, unless barge-in is asked for.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, seconds, silence
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Heard, Hypothesis
from handsfree.session.conversation import Conversation, Log
from handsfree.session.wording import Prompt, prompts_ahead

TAIL = 0.25
"""Seconds of deafness after the last prompt, while the room still rings."""

KEPT = 20.0
"""Seconds of sound kept in memory, from which a note can be cut."""


class Microphone(Protocol):
    """Where sound comes from; `read` waits for the next frame."""

    def read(self) -> Samples: ...


class Speaker(Protocol):
    """Where prompts go; `play` returns at once."""

    @property
    def playing(self) -> bool: ...

    def play(self, samples: Samples) -> None: ...

    def stop(self) -> None: ...


class Sounds(Protocol):
    """Texts and tones as samples, ready ahead of time where possible."""

    def get(self, text: str) -> Samples: ...

    def ahead(self, texts: Iterable[str]) -> None: ...

    def tone(self, kind: str) -> Samples: ...


@dataclass
class Watch:
    """What somebody who watches is told of: each prompt as it starts, each utterance heard."""

    prompt: Callable[[Prompt, float], None] = lambda prompt, t: None
    heard: Callable[[Heard, float], None] = lambda heard, t: None


class Session:
    """Runs a conversation over a microphone and a loudspeaker."""

    def __init__(
        self,
        conversation: Conversation,
        log: Log,
        listener: Listener,
        microphone: Microphone,
        speaker: Speaker,
        sounds: Sounds,
        clock: Callable[[], float],
        *,
        watch: Watch | None = None,
        barge_in: bool = False,
        keep_note: Callable[[Samples], str] = lambda samples: "",
        keys: Callable[[], list[str]] = list,
    ) -> None:
        """`keep_note` stores a note's sound and gives its name; `keys` polls the keyboard for
        utterances, an empty one of which stops the program's talking."""
        self.conversation = conversation
        self.listener = listener
        self._log = log
        self._microphone = microphone
        self._speaker = speaker
        self._sounds = sounds
        self._clock = clock
        self._watch = watch or Watch()
        self._barge_in = barge_in
        self._keep_note = keep_note
        self._keys = keys
        self._queue: deque[Prompt] = deque()
        self._speaking: tuple[Prompt, float] | None = None
        self._deaf_until = 0.0
        self._expecting: object = None
        self._kept: deque[Samples] = deque()
        self._kept_seconds = 0.0

    def run(self, opening: list[Prompt]) -> None:
        """Until the checklist is closed or finished for now, and the last word is spoken."""
        self._say(opening)
        while not (self.conversation.over and not self._queue and self._speaking is None):
            frame = self._microphone.read()
            self._keep(frame)
            self._talk()
            self._take_keys()
            heard = self._listen(frame)
            if heard is not None:
                self._take(heard)

    def _say(self, prompts: list[Prompt]) -> None:
        if not prompts:
            return
        self._queue.extend(prompts)
        step = self.conversation.state.at
        order = self.conversation.checklist.order
        if step in order:
            place = order.index(step)
            self._sounds.ahead(prompts_ahead(self.conversation.wording, order[place + 1:place + 3]))

    def _talk(self) -> None:
        """Start the next prompt when the last one has ended."""
        if self._speaker.playing:
            return
        now = self._clock()
        if self._speaking is not None:
            prompt, began = self._speaking
            self._log.write("spoke", now, sync=False, key=prompt.key, step=prompt.about,
                            text=prompt.text, seconds=round(now - began, 2),
                            **{"from": round(began, 3), "to": round(now, 3)})
            self._speaking = None
            self._deaf_until = now + TAIL
        if self._queue:
            prompt = self._queue.popleft()
            parts = [self._sounds.tone(prompt.tone), silence(0.1)] if prompt.tone else []
            if prompt.text:
                parts.append(self._sounds.get(prompt.text))
            self._speaker.play(np.concatenate(parts))
            self._speaking = (prompt, now)
            self._watch.prompt(prompt, now)

    def _listen(self, frame: Samples) -> Heard | None:
        talking = self._speaking is not None or bool(self._queue)
        deaf = not self._barge_in and (talking or self._clock() < self._deaf_until)
        if deaf and not self.listener.deaf:
            self.listener.mute()
        elif not deaf and self.listener.deaf:
            self.listener.unmute()
        if not deaf:
            grammar = self.conversation.grammar()
            if grammar != self._expecting:
                self.listener.expect(grammar)
                self._expecting = grammar
        return self.listener.feed(frame)

    def _take(self, heard: Heard) -> None:
        now = self._clock()
        self._watch.heard(heard, now)
        if self._barge_in and self._speaking is not None:
            self._speaker.stop()
            self._queue.clear()
        if self.conversation.noting:
            self._say(self.conversation.noted(now, self._keep_note(self._cut(heard))))
            return
        self._say(self.conversation.hear(heard, now))

    def _take_keys(self) -> None:
        for said in self._keys():
            now = self._clock()
            self._speaker.stop()
            self._queue.clear()
            if said:
                heard = Hypothesis(said, 1.0, now, now, engine="keyboard")
                self._watch.heard(heard, now)
                self._say(self.conversation.hear(heard, now))

    def _keep(self, frame: Samples) -> None:
        self._kept.append(frame)
        self._kept_seconds += seconds(frame)
        while self._kept_seconds > KEPT:
            self._kept_seconds -= seconds(self._kept.popleft())

    def _cut(self, heard: Heard) -> Samples:
        """The sound of the utterance that has just ended."""
        sound = np.concatenate(list(self._kept))
        back = round((self.listener.now - heard.start + 0.3) * SAMPLE_RATE)
        return sound[-min(back, len(sound)):]
