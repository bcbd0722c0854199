"""The synthesised operator of a rehearsal: another speaker than the program's own voice.

May import ``handsfree.speaking`` and what it imports.
"""

from __future__ import annotations

from types import TracebackType
from typing import Self

from handsfree.audio import Samples
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions


class OperatorVoice:
    """A `Voice` of its own engine process, so that it never waits for the program's prompts.

    With espeak-ng, variants ``m1`` to ``m8`` are men and ``f1`` to ``f5`` women; the program
    itself speaks without a variant.
    """

    def __init__(
        self, language: str = "en-us", variant: str = "m3", rate: int = 150, timeout: float = 10.0
    ) -> None:
        """Choose the speaker; the engine starts with the first `render`.

        Args:
            language: a voice of the engine, ``en-us``, ``en-gb-scotland``, ``ko``, …
            variant: the speaker, ``m3``, ``f2``, ….
            rate: words a minute as the engine counts them.
            timeout: seconds after which a render counts as hung.
        """
        self._voice = Pyttsx3Voice(VoiceOptions(language, variant, rate), timeout=timeout)

    @property
    def name(self) -> str:
        """What decides how this voice sounds."""
        return self._voice.name

    def render(self, text: str) -> Samples:
        """See `Voice.render`."""
        return self._voice.render(text)

    def close(self) -> None:
        """End the engine's process."""
        self._voice.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
