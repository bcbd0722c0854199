"""What a session is connected to, what it talks with, and what options decide about it.

Interfaces, frozen records and what only watches.  May import hearing's types and listener, fault reports, the log's
port, wording's prompts and the language.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from handsfree.audio import Samples
from handsfree.engine.state import Event, State
from handsfree.hearing.listening import Listener
from handsfree.hearing.noise_monitor import Surroundings
from handsfree.hearing.types import Grammar, Heard, Hypothesis
from handsfree.hearing.while_speaking import WhileSpeaking
from handsfree.language.model import Language
from handsfree.session.conversation import Log
from handsfree.session.fault_reports import FaultReports
from handsfree.session.push_to_talk import PushToTalk
from handsfree.session.shared_loudspeaker import SharedLoudspeaker
from handsfree.session.understanding import Bands
from handsfree.session.wording import Prompt, Wording

if TYPE_CHECKING:
    from handsfree.session.loop import Session


class Talk(Protocol):
    """Turns what is heard into what is spoken: one operator, one of two, or two on one microphone.

    See `Conversation` for each.
    """

    wary: bool

    @property
    def wording(self) -> Wording: ...

    @property
    def language(self) -> Language: ...

    @property
    def bands(self) -> Bands: ...

    @property
    def state(self) -> State: ...

    @property
    def moment(self) -> object: ...

    @property
    def over(self) -> bool: ...

    @property
    def noting(self) -> bool: ...

    @property
    def reads(self) -> bool: ...

    def grammar(self) -> Grammar: ...

    def finalisation_delay(self, text: str) -> float: ...

    def replies(self) -> list[str]: ...

    def wanted(self) -> Prompt: ...

    def waiting(self, t: float) -> list[tuple[str, float]]: ...

    def hear(self, heard: Heard, t: float) -> list[Prompt]: ...

    def stopped(self, heard: Hypothesis, t: float) -> list[Prompt]: ...

    def take(self, event: Event, t: float) -> list[Prompt]: ...

    def remind(self, t: float) -> list[Prompt]: ...

    def noted(self, t: float, audio: str, text: str = "") -> list[Prompt]: ...

    def typed(self, said: str, t: float) -> list[Prompt]: ...

    def drop_note(self) -> list[Prompt]: ...


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

    def ahead(self, texts: Iterable[str]) -> object: ...

    def tone(self, kind: str) -> Samples: ...


@dataclass
class Watch:
    """What somebody who watches is told of: each prompt as it starts, each utterance heard, the
    session before its first frame, and each frame after it was dealt with."""

    prompt: Callable[[Prompt, float], None] = lambda prompt, t: None
    heard: Callable[[Heard, float], None] = lambda heard, t: None
    began: Callable[[Session], None] = lambda session: None
    frame: Callable[[Samples, float], None] = lambda frame, t: None


@dataclass(frozen=True)
class Ports:
    """What a session is connected to."""

    log: Log
    listener: Listener
    microphone: Microphone
    speaker: Speaker
    sounds: Sounds
    clock: Callable[[], float]
    watch: Watch = field(default_factory=Watch)
    keys: Callable[[], list[str]] | None = None
    """Polls the keyboard for utterances; an empty one stops the program's talking."""
    button: PushToTalk | None = None
    """Where there is one, the microphone counts only while it says so."""
    under: Callable[[Grammar], WhileSpeaking] | None = None
    """Hears "stop" and the like while the program speaks; None where it cannot."""
    floor: tuple[SharedLoudspeaker, str] | None = None
    """Shared with the session of a second operator who hears the same loudspeaker; this one's
    side."""
    troubles: FaultReports | None = None
    """Told of, and tried to be mended."""
    surroundings: Surroundings = field(default_factory=Surroundings)
    keep_note: Callable[[Samples], str] = lambda samples: ""
    """Stores a note's sound and gives its name."""
    keep_utterance: Callable[[Samples], str] | None = None
    """The same for everything that is heard, where that is wished."""
    dictate: Callable[[Samples], str] = lambda samples: ""
    """Writes a note down, where the engine can."""
    loudness: Callable[[Samples, float], Samples] = lambda sound, floor_dbfs: sound
    """Fits a prompt to the noise floor around."""
    ended: Callable[[], bool] = lambda: False
    """Whether the session is to finish for now, as when the machine is shut down."""


@dataclass(frozen=True)
class Policy:
    """What may be decided about a session."""

    barge_in: bool = False
    """It listens while it speaks."""
    forgiving: bool = False
    """Even a mistake of the program is written down and gone on from."""


PLAIN = Policy()
