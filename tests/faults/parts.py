"""A whole session in memory: the real loop, a clock that counts frames, an operator at the keys."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from handsfree.audio import FRAME, SAMPLE_RATE, Samples, seconds, silence
from handsfree.checklist.model import Checklist
from handsfree.errors import DeviceError
from handsfree.hearing.endpointing import Endpointer
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Recogniser
from handsfree.language.model import Language
from handsfree.rehearsal.operator import Operator
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation, Log
from handsfree.session.fault_reports import FaultReports
from handsfree.session.loop import Session
from handsfree.session.ports import Policy, Ports, Watch
from handsfree.session.wording import Prompt
from handsfree.testing import ManualClock, ScriptedRecogniser


class Enough(Exception):
    """The test has seen enough."""


@dataclass
class Room:
    """Microphone and clock: each frame takes 20 ms; `events` happen when their time has come."""

    clock: ManualClock
    sound: Callable[[float], Samples] = lambda t: np.ones(FRAME, dtype=np.int16)
    gone: bool = False
    overflowed: bool = False
    opened: int = 0
    longest: float = 3600.0

    def open(self) -> Room:
        self.opened += 1
        if self.gone:
            raise DeviceError("no microphone was found; plug one in.")
        return self

    def read(self) -> Samples:
        self.clock.sleep(FRAME / SAMPLE_RATE)
        if self.clock() > self.longest:
            raise Enough
        if self.gone:
            raise DeviceError("the microphone gives no more sound; plug it in again.")
        return self.sound(self.clock())

    def close(self) -> None:
        pass


@dataclass
class Loudspeaker:
    """Plays on the clock."""

    clock: ManualClock
    gone: bool = False
    until: float = 0.0
    played: list[Samples] = field(default_factory=list)

    def open(self) -> Loudspeaker:
        if self.gone:
            raise DeviceError("no loudspeaker was found; plug one in.")
        return self

    @property
    def playing(self) -> bool:
        return not self.gone and self.clock() < self.until

    def play(self, samples: Samples) -> None:
        if self.gone:
            raise DeviceError("the loudspeaker is gone; plug it in again.")
        self.played.append(samples)
        self.until = self.clock() + seconds(samples)

    def stop(self) -> None:
        self.until = 0.0

    def close(self) -> None:
        pass


class QuickSounds:
    """A voice that says everything in a tenth of a second, and tones that differ from it."""

    def get(self, text: str) -> Samples:
        return silence(0.1)

    def ahead(self, texts: Iterable[str]) -> None:
        pass

    def tone(self, kind: str) -> Samples:
        return np.full(800, 7, dtype=np.int16)


@dataclass
class Stage:
    """Puts a session together, with an operator who answers by key when the program is silent."""

    checklist: Checklist
    language: Language
    log: Log
    script: Script = field(default_factory=Script)
    clock: ManualClock = field(default_factory=ManualClock)
    recogniser: Recogniser = field(default_factory=lambda: ScriptedRecogniser([]))
    detector: Callable[[Samples], float] = lambda chunk: 0.0
    happenings: dict[float, Callable[[], Any]] = field(default_factory=dict)
    """Time to what happens then."""
    mute_until: float = 0.0
    """The operator says nothing before."""
    pause: float = 0.5
    """Seconds between a prompt and the operator's answer."""
    prompts: list[tuple[float, Prompt]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.room = Room(self.clock)
        self.speaker = Loudspeaker(self.clock)
        self.troubles = FaultReports(self.clock)
        self.microphone: Any = self.room
        self.out: Any = self.speaker
        self.sounds: Any = QuickSounds()
        self.conversation: Conversation = None  # type: ignore[assignment]
        self.operator = Operator(self.script, self.checklist, self.language)
        self.mistakes: list[str] = []

    def play(self, begin: Callable[[Conversation], list[Prompt]] | None = None,
             **options: Any) -> Conversation:
        """Run to the end, or until `Enough`."""
        self.conversation = Conversation(self.checklist, self.language, self.log)
        policy = Policy(options.pop("barge_in", False), forgiving=True)
        session = Session(self.conversation, Ports(
            self.log, Listener(self.recogniser, Endpointer(self.detector)), self.microphone,
            self.out, self.sounds, self.clock, Watch(prompt=self._prompt), self._keys,
            troubles=self.troubles, **options), policy)
        try:
            first = begin(self.conversation) if begin else self.conversation.begin(
                self.checklist.start_facts, 0.0, known=frozenset(self.checklist.facts))
            session.run(first)
        except Enough:
            pass
        lines = getattr(self.log, "lines", ())
        self.mistakes = [line.trace for line in lines if line.what == "mistake"]
        return self.conversation

    def _prompt(self, prompt: Prompt, t: float) -> None:
        self.prompts.append((t, prompt))
        if prompt.key != "unclear":  # that was the room, not the operator, whose keys are clear
            self.operator.hear(prompt)
            self._last = t

    _last = 0.0

    def _keys(self) -> list[str]:
        for t in sorted(self.happenings):
            if t <= self.clock():
                self.happenings.pop(t)()
        if self.conversation.noting:
            return []  # a note is spoken
        if self.out.playing or self.clock() < max(self.mute_until, self._last + self.pause):
            return []
        words = "" if self.conversation.over else self.operator.answer()
        return [words] if words else []

    def keys_of(self) -> list[str]:
        """The keys of the prompts, in order."""
        return [prompt.key for _, prompt in self.prompts]
