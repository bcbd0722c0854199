"""What the program wants of a microphone and a loudspeaker.

Pure: Protocols only.
"""

from __future__ import annotations

from typing import Protocol

from handsfree.audio import Samples


class Microphone(Protocol):
    """Where sound comes from."""

    overflowed: bool
    """True when sound was lost since this was last set to False; the reader sets it back."""

    def read(self) -> Samples:
        """The next frame of `handsfree.audio.FRAME` samples; waits for it.

        Raises DeviceError when no more sound comes.
        """

    def close(self) -> None:
        """Give the device back."""


class Speaker(Protocol):
    """Where prompts go."""

    @property
    def playing(self) -> bool:
        """True while something is in the air."""

    def play(self, samples: Samples) -> None:
        """Start to play and return at once; what was playing is cut off.

        Raises DeviceError when the device is gone.
        """

    def stop(self) -> None:
        """Fall silent now."""

    def close(self) -> None:
        """Give the device back."""
