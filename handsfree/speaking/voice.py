"""The port through which everything speaks: text in, samples out.

Pure: imports only the sample format.  The real voices are adapters in this room.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from handsfree.audio import Samples


class Voice(Protocol):
    """Anything that turns text into sound."""

    @property
    def name(self) -> str:
        """Everything that decides how this voice sounds, in one line: part of a cache's key."""
        ...

    def render(self, text: str) -> Samples:
        """The whole utterance as 16 kHz int16 mono, shape ``(n,)``.

        Blocks until it is rendered.  Empty or blank text gives no samples.

        Raises:
            DeviceError: the voice engine does not work, also after one restart.
            InputError: the engine has no voice for the language or variant asked for.
        """
        ...


@dataclass(frozen=True)
class VoiceOptions:
    """How a voice should sound."""

    language: str = "en"
    """A voice of the engine, such as ``en``, ``en-us``, ``ko``."""

    variant: str = ""
    """Another speaker of the same language (``m3``, ``f2``); empty for the plain one.

    Where the engine is not espeak-ng, the engine's own name of a voice."""

    rate: int = 165
    """Words a minute as the engine counts them."""

    volume: float = 1.0
    """0 (silent) to 1."""
