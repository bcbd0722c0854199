"""The keyboard as a second ear: single keys for commands, and typed words for everything else.

Standard library only.  Polled, never waited for; where there is no terminal it stays silent.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from types import TracebackType
from typing import Any

_ESCAPE = "\x1b"
_ENTER, _BACKSPACE, _TYPE = "\r\n", "\x7f\b", ":"


class Keyboard:
    """A terminal's keys, while the context is open.

    `words` maps a key to the utterance that it stands for.  A digit, a minus or a colon starts a
    typed utterance, which ends with Enter.
    """

    def __init__(self, words: Mapping[str, str]) -> None:
        self._words = words
        self._typed: str | None = None
        self._before: Any = None

    def __enter__(self) -> Keyboard:
        if sys.platform != "win32" and sys.stdin is not None and sys.stdin.isatty():
            import termios
            import tty

            self._before = termios.tcgetattr(sys.stdin)
            tty.setcbreak(sys.stdin.fileno())
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._before is not None:
            import termios

            termios.tcsetattr(sys.stdin, termios.TCSADRAIN, self._before)

    @property
    def typing(self) -> str | None:
        """The utterance that is being typed; None while none is."""
        return self._typed

    def poll(self) -> list[str]:
        """Utterances keyed in since the last call; '' for Escape, which means: stop talking."""
        said = (self.press(key) for key in self._pressed())
        return [words for words in said if words is not None]

    def press(self, key: str) -> str | None:
        """What one more key comes to: an utterance, '' for silence, None for nothing yet."""
        if self._typed is None:
            if key == _TYPE or key.isdigit() or key == "-":
                self._typed = "" if key == _TYPE else key
                return None
            return "" if key == _ESCAPE else self._words.get(key.lower())
        if key in _ENTER:
            said, self._typed = self._typed, None
            return said
        if key == _ESCAPE:
            self._typed = None
        elif key in _BACKSPACE:
            self._typed = self._typed[:-1]
        else:
            self._typed += key
        return None

    def _pressed(self) -> str:
        if sys.platform == "win32":
            import msvcrt

            keys = ""
            while msvcrt.kbhit():
                keys += msvcrt.getwch()
            return keys
        if self._before is None:
            return ""
        import select

        keys = ""
        while select.select([sys.stdin], [], [], 0)[0]:
            piece = os.read(sys.stdin.fileno(), 64).decode("utf-8", "replace")
            if not piece:
                break
            keys += piece
        return keys
