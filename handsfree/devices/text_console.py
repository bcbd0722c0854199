"""A session without any sound: lines in, lines out, and a clock of its own.

Standard library, numpy and the sample format.  It is microphone, loudspeaker, keys and clock at
once.  From a pipe time runs as fast as the machine can: a line is given when the program has been
silent for a moment, and a line such as (600) lets so many seconds pass.  At a terminal it is the
time of the wall.  A sound file, or sound that comes through a pipe, may take the place of the lines.
"""

from __future__ import annotations

import os
import re
import select
import time
from collections.abc import Callable
from typing import TextIO

import numpy as np

from handsfree.audio import FRAME, SAMPLE_RATE, Samples

_SECONDS = FRAME / SAMPLE_RATE

_SILENT = 60
"""Frames without a prompt after which the program counts as having finished."""

_WAIT = re.compile(r"\((\d{1,7})\)")

_HISS: Samples = np.resize(np.array([16, 0, -16, 0], dtype=np.int16), FRAME)
"""A frame of a room in which nobody speaks (-69 dBFS): any fainter and the microphone would count as
covered, nothing but zeros as off."""


class TextConsole:
    """One operator who types."""

    def __init__(
        self, lines: TextIO | None, sound: Callable[[int], Samples] | None = None
    ) -> None:
        """`sound` gives so many samples, fewer at its end; what is left waits while the program speaks."""
        self._lines = lines
        self._sound = sound
        self._typed = lines is not None and lines.isatty()
        self._rest = ""
        self._frames = 0
        self._jumped = 0.0
        self._quiet = 0
        self._heard = False
        self._over = False
        self._began = time.monotonic()
        self.overflowed = False
        self.playing = False

    def clock(self) -> float:
        """Seconds since the beginning."""
        if self._typed:
            return time.monotonic() - self._began
        return self._frames * _SECONDS + self._jumped

    def read(self) -> Samples:
        """The next frame."""
        if self._typed:
            time.sleep(_SECONDS)
        self._frames += 1
        self._quiet += 1
        if self._sound is None or self._quiet < _SILENT and not self._heard:
            return _HISS
        self._heard = True
        piece = self._sound(FRAME)
        if len(piece) < FRAME:
            self._over = True
            return _HISS
        return piece

    def play(self, samples: Samples) -> None:
        """The program says something, which takes no time here."""
        self._quiet, self._heard = 0, False

    def stop(self) -> None:
        """Nothing sounds."""

    def close(self) -> None:
        """Nothing is held."""

    @property
    def ended(self) -> bool:
        """Whether there will be no more lines, and the program has answered the last."""
        return self._over and self._quiet >= _SILENT

    def poll(self) -> list[str]:
        """The next line, when there is one and it is its time."""
        if self._lines is None:
            return []
        if self._typed:
            return self._from_terminal()
        if self._over or self._quiet < _SILENT:
            return []
        self._quiet = 0
        line = self._lines.readline()
        if not line:
            self._over = True
            return []
        if wait := _WAIT.fullmatch(line.strip()):
            self._jumped += float(wait[1])
            return []
        return [line.strip()] if line.strip() else []

    def _from_terminal(self) -> list[str]:
        assert self._lines is not None
        if self._over or not select.select([self._lines], [], [], 0)[0]:
            return []
        piece = os.read(self._lines.fileno(), 4096).decode("utf-8", "replace")
        self._over = not piece
        *whole, self._rest = (self._rest + piece).split("\n")
        return [line.strip() for line in whole if line.strip()]
