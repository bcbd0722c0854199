"""The keyboard as a second ear: single keys for commands, buttons, and typed words for the rest.

Standard library only.  Polled, never waited for; where there is no terminal it stays silent.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from types import TracebackType
from typing import Any, Protocol, Self

from handsfree.devices.keys import AS_BEFORE, ASK_FOR_RELEASES, PLAIN, Key, keys_in

_TYPE = ":"


class Talk(Protocol):
    """Whom a talk button is told to."""

    def pressed(self, tells: bool) -> None: ...

    def released(self) -> None: ...


class Keyboard:
    """A terminal's keys, while the context is open.

    `words` maps a key, by name or character, to the utterance that it stands for.  A digit, a minus or a colon starts a
    typed utterance, which ends with Enter.  `talk` is told of the keys named in `talking`.
    """

    def __init__(
        self, words: Mapping[str, str], talk: Talk | None = None,
        talking: frozenset[str] = frozenset(),
    ) -> None:
        self._words = {PLAIN.get(key, key): said for key, said in words.items()}
        self._talk, self._talking = talk, talking
        self._typed: str | None = None
        self._before: Any = None
        self._begun = ""
        self._asked = False

    def __enter__(self) -> Self:
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
        if self._asked:
            _write(AS_BEFORE)
        if self._before is not None:
            import termios

            termios.tcsetattr(sys.stdin, termios.TCSADRAIN, self._before)

    @property
    def typing(self) -> str | None:
        """The utterance that is being typed; None while none is."""
        return self._typed

    def poll(self) -> list[str]:
        """Utterances keyed in since the last call; '' for Escape, which means: stop talking."""
        if self._talking and self._before is not None and not self._asked:
            self._asked = True  # only now: a screen of its own begins after the keyboard does
            if os.environ.get("TERM", "") not in ("", "dumb", "linux"):
                _write(ASK_FOR_RELEASES)
        return self.receive(self._pressed())

    def receive(self, sent: str) -> list[str]:
        """What this comes to, as it was sent by a terminal.

        An escape character that nothing follows until the next call is the key Escape.
        """
        alone = self._begun == "\x1b" and not sent
        keys, self._begun = keys_in(self._begun + sent)
        if alone:
            keys, self._begun = [*keys, Key("escape", "\x1b")], ""
        said = (self.press(key) for key in keys)
        return [words for words in said if words is not None]

    def press(self, key: Key) -> str | None:
        """What one more key comes to: an utterance, '' for silence, None for nothing yet."""
        if key.name in self._talking and self._typed is None:
            if self._talk and key.up:
                self._talk.released()
            elif self._talk:
                self._talk.pressed(key.tells)
            return None
        if key.up:
            return None
        if self._typed is None:
            if key.text and (key.text == _TYPE or key.text.isdigit() or key.text == "-") and (
                    key.name not in self._words):
                self._typed = "" if key.text == _TYPE else key.text
                return None
            if key.name == "escape":
                return ""
            return self._words.get(key.name) or self._words.get(key.text.lower())
        if key.name == "enter":
            said, self._typed = self._typed, None
            return said
        if key.name == "escape":
            self._typed = None
        elif key.name == "backspace":
            self._typed = self._typed[:-1]
        else:
            self._typed += key.text
        return None

    def _pressed(self) -> str:
        if sys.platform == "win32":
            import msvcrt

            keys = ""
            while msvcrt.kbhit():
                letter = msvcrt.getwch()
                keys += _WINDOWS.get(msvcrt.getwch(), "") if letter in "\x00\xe0" else letter
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


_WINDOWS = {"I": "\x1b[5~", "Q": "\x1b[6~", "G": "\x1b[H", "O": "\x1b[F", "H": "\x1b[A",
            "P": "\x1b[B", "M": "\x1b[C", "K": "\x1b[D", "R": "\x1b[2~", "S": "\x1b[3~",
            **{chr(59 + number): f"\x1b[{code}~" for number, code in enumerate(
                (11, 12, 13, 14, 15, 17, 18, 19, 20, 21))}}
"""Second codes of keys without a character, as the sequences of other terminals."""


def _write(sequence: str) -> None:
    if sys.stdout is not None and sys.stdout.isatty():
        sys.stdout.write(sequence)
        sys.stdout.flush()
